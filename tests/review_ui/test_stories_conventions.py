"""Stories of the conventions: read, corrected with effect on all readings at once, refused when wrong, taken back."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from .browser import Person, Served
from .conftest import PageClient
from .test_intake import wait_for_run


def test_a_wrong_file_is_refused_with_every_fault_and_changes_nothing(desk: PageClient):
    before = desk.get("/desk/conventions")
    answer = desk.decide({"do": "conventions", "text": 'vehicle = 3\n[colours]\nRD = "red"\n[nonsense]\n'})
    assert answer.status_code == 422
    error = answer.json()["error"]
    assert error["kind"] == "conventions_wrong"
    assert "line 1" in error["what"]
    assert "nonsense" in error["what"]
    assert desk.get("/desk/conventions") == before
    assert desk.get("/desk/intake")["run"] is None
    checked = desk.post("/desk/conventions/check", {"text": "= 3"})
    assert checked.status_code == 422
    assert desk.post("/desk/conventions/check", {"text": 'vehicle = "FERNWAY"'}).json() == {"fits": True}


def test_two_people_cannot_overwrite_each_others_conventions(desk: PageClient):
    text = desk.get("/desk/conventions")["text"]
    revision = desk.get("/desk/manual")["revision"]
    assert desk.decide({"do": "conventions", "text": text + "\n# mine\n"}, revision).status_code == 200
    stale = desk.decide({"do": "conventions", "text": text + "\n# theirs\n"}, revision)
    assert stale.status_code == 409
    assert desk.get("/desk/conventions") == {"text": text + "\n# mine\n", "source": "corrected"}
    wait_for_run(desk)


@pytest.fixture
def demo_desk(page: Page, demo_manual: Path, tmp_path: Path) -> Iterator[Person]:
    """The demo manual as it was read, at the desk."""
    path = tmp_path / "demo.manual"
    shutil.copy(demo_manual, path)
    server = Served(path, tmp_path / "server.log")
    somebody = Person(page)
    somebody.open(server.start())
    yield somebody
    server.stop()
    told = server.log.read_text()
    assert "Traceback" not in told, told
    assert somebody.faults == []


@pytest.mark.browser
def test_conventions_are_corrected_with_effect_on_all_readings_and_taken_back(demo_desk: Person):
    """A colour is taken out of the table: codes with it are read as something else or doubted; taken back, all is as before."""
    person, page = demo_desk, demo_desk.page
    sheet = person.ask("/desk/manual")["sheets"][0]["id"]

    def codes() -> dict[str, str]:
        return {w["id"]: w["text"] for w in person.ask(f"/desk/sheets/{sheet}/read")["wires"]}

    before = codes()
    person.key("k")
    text = page.locator("#book-text")
    expect(text).to_be_focused()
    good = text.input_value()
    text.fill(good.replace("[colours]", "[colours"))
    expect(page.locator("#book-faults")).to_have_attribute("data-fits", "no")
    page.locator("#book-use").click()
    expect(page.locator("#book")).to_be_visible()
    kept = [line for line in good.splitlines() if not line.startswith(("example", "BK", "RD"))]
    text.fill("\n".join(kept))
    expect(page.locator("#book-faults")).to_contain_text("The file is right")
    page.locator("#book-use").click()
    expect(page.locator("#book")).to_be_hidden()
    expect(page.locator("#says")).to_contain_text("All pages are decoded again", timeout=400_000)
    expect(page.locator("#running")).to_be_hidden()
    changed = codes()
    assert changed != before
    person.key("z")
    person.says("Taken back")
    expect(page.locator("#says")).to_contain_text("All pages are decoded again", timeout=400_000)
    assert codes() == before
