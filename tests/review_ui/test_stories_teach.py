"""Stories of teaching: a symbol is boxed once and found elsewhere, with confidence; it can be forgotten again."""

from __future__ import annotations

import time

import pytest
from playwright.sync_api import expect

from fixtures.small_harness import SCAN_PX_PER_MM

from .browser import Person
from .conftest import PageClient

K = SCAN_PX_PER_MM
LAMP = [[142.8 * K, 82.8 * K], [157.2 * K, 97.2 * K]]


def teach(kind: str = "lamp") -> dict:
    return {"do": "part", "sheet": "page_01", "box": LAMP, "kind": kind, "name": None, "teach": True}


def test_a_taught_symbol_is_looked_for_on_the_other_sheets(desk: PageClient):
    done = desk.decide(teach())
    assert done.status_code == 200
    until = time.monotonic() + 400
    found: list[dict] = []
    while time.monotonic() < until and not any(f["sheet"] == "page_02" for f in found):
        run = desk.get("/desk/intake")["run"]
        found = run["found"]
        if run["state"] != "running":
            break
        time.sleep(0.2)
    there = next(f for f in found if f["sheet"] == "page_02")
    x0, y0, x1, y1 = there["mm"]
    assert (x0 + x1) / 2 == pytest.approx(120, abs=2)
    assert (y0 + y1) / 2 == pytest.approx(60, abs=2)
    assert there["zone"] == "B3"
    assert 0.5 < there["probability"] <= 1


def test_a_lesson_is_named_at_its_part_and_forgotten(desk: PageClient):
    desk.decide(teach())
    lesson = desk.get("/desk/thing", id="lampL")["lesson"]
    assert lesson is not None
    assert desk.decide({"do": "forget", "target": lesson}).status_code == 200
    assert desk.get("/desk/thing", id="lampL")["lesson"] is None


def test_an_empty_box_teaches_nothing(desk: PageClient):
    answer = desk.decide(teach() | {"box": [[20 * K, 120 * K], [30 * K, 130 * K]]})
    assert answer.status_code == 422
    assert desk.get("/desk/intake")["run"] is None


@pytest.mark.browser
def test_a_symbol_is_boxed_and_taught_with_the_mouse(person: Person):
    person.key("g")  # near enough for a box that is true to a tenth of a millimetre
    person.type("park lamp lh")
    person.key("Enter")
    person.settle()
    person.key("b")
    person.click_scan(*LAMP[0])
    person.click_scan(*LAMP[1])
    page = person.page
    page.locator("#part-kind").select_option("lamp")
    page.locator("#part-teach").check()
    page.locator("#part button", has_text="Use").click()
    person.says("lamp")
    expect(page.locator("#found-list button", has_text="page 2").first).to_contain_text("%", timeout=400_000)
    page.locator("#found-list button", has_text="page 2").first.click()
    person.settle()
    expect(page.locator("#leaves button[aria-current]")).to_contain_text("REAR")
