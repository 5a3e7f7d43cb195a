"""Stories of bringing pages in: a newcomer's first page, dropping and choosing files, progress, stopping."""

from __future__ import annotations

import base64
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from digitize.store.manual import Manual

from .browser import Person, Served
from .test_intake import picture

pytestmark = pytest.mark.browser


@pytest.fixture
def newcomer(page: Page, tmp_path: Path) -> Iterator[Person]:
    """Somebody in front of an empty manual."""
    path = tmp_path / "new.manual"
    Manual.create(path, "").close()
    server = Served(path, tmp_path / "server.log")
    somebody = Person(page)
    somebody.open(server.start())
    yield somebody
    server.stop()
    told = server.log.read_text()
    assert "Traceback" not in told, told
    assert somebody.faults == []


def drop(person: Person, files: dict[str, bytes]) -> None:
    """Files let go over the page, as the browser tells it."""
    listed = [[name, base64.b64encode(content).decode()] for name, content in files.items()]
    person.page.evaluate(
        """(files) => {
          const bag = new DataTransfer();
          for (const [name, text] of files) bag.items.add(new File([Uint8Array.from(atob(text), (c) => c.charCodeAt(0))], name));
          for (const type of ['dragover', 'drop']) document.querySelector('.bench').dispatchEvent(new DragEvent(type, {dataTransfer: bag, bubbles: true, cancelable: true}));
        }""",
        listed,
    )


def test_an_empty_manual_explains_itself_and_takes_its_first_pages(newcomer: Person):
    page = newcomer.page
    expect(page.locator("#welcome")).to_contain_text("This manual is empty")
    expect(page.locator("#map")).to_be_hidden()
    drop(newcomer, {"one.png": picture(), "junk.png": b"junk"})
    expect(page.locator("#handed li", has_text="one.png")).to_contain_text("1 page")
    expect(page.locator("#handed li.bad")).to_contain_text("junk.png")
    page.locator("#rights").fill("my own copy, for private use")
    page.locator("#read-pages").click()
    expect(page.locator("#run-words")).to_contain_text("Reading")
    expect(page.locator("#run-bar")).to_be_visible()
    expect(page.locator("#run-words")).to_contain_text("1 pages read", timeout=400_000)
    newcomer.key("Escape")
    expect(page.locator("#welcome")).to_be_hidden()
    expect(page.locator("#leaves button")).to_have_count(1)
    expect(page.locator("#map")).to_be_visible()
    expect(page.locator("#map canvas").first).to_be_attached()
    assert newcomer.ask("/desk/manual")["rights"] == "my own copy, for private use"


def test_pages_are_chosen_and_taken_out_again_with_keys_alone(newcomer: Person, tmp_path: Path):
    page = newcomer.page
    file = tmp_path / "a page.png"
    file.write_bytes(picture())
    page.on("filechooser", lambda _: None)  # the browser is told in good time to hand choosers over, not to show them
    newcomer.key("a")
    expect(page.locator("#choose-files")).to_be_focused()
    newcomer.settle()
    with page.expect_file_chooser() as chosen:
        newcomer.key("Enter")
    chosen.value.set_files(file)
    expect(page.locator("#handed li")).to_contain_text("1 page")
    expect(page.locator("#read-pages")).to_be_enabled()
    newcomer.key("Tab")
    assert page.evaluate("() => document.activeElement.ariaLabel") == "Take a page.png out"
    newcomer.key("Enter")
    expect(page.locator("#handed li")).to_have_count(0)
    expect(page.locator("#read-pages")).to_be_disabled()
    newcomer.key("Escape")
    expect(page.locator("#intake")).to_be_hidden()


def test_reading_is_stopped_and_nothing_is_lost(person: Person):
    page = person.page
    person.key("h")
    drop(person, {"page_09.png": picture()})
    page.locator("#read-pages").click()
    expect(page.locator("#run-words")).to_contain_text("Reading")
    page.locator("#stop-reading").click()
    expect(page.locator("#run-words")).to_contain_text("Stopped")
    expect(page.locator("#handed li")).to_contain_text("page_09.png")
    person.key("Escape")
    expect(page.locator("#leaves button")).to_have_count(2)
    assert len(person.ask("/desk/sheets/page_01/read")["wires"]) == 7


def test_a_file_that_is_too_large_or_there_already_is_told_before_it_is_sent(person: Person):
    drop(person, {"twice.png": picture()})
    expect(person.page.locator("#handed li")).to_contain_text("1 page")
    drop(person, {"twice.png": picture()})
    expect(person.page.locator("#handed li.bad")).to_contain_text("in the list already")
    person.page.evaluate("() => { window.deskLimit(10); }")
    drop(person, {"big.png": picture()})
    expect(person.page.locator("#handed li.bad", has_text="big.png")).to_contain_text("It is larger than")
