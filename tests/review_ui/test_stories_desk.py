"""Stories of the whole desk: keys alone for what is one part or two, page edges, findings, progress, touch, large pages."""

from __future__ import annotations

from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, Route, expect

from fixtures.small_harness import SCAN_PX_PER_MM
from fixtures.small_manual import build_manual

from .browser import Person, Served

pytestmark = pytest.mark.browser
K = SCAN_PX_PER_MM


def part(person: Person, part_id: str) -> dict | None:
    read = person.ask("/desk/sheets/page_01/read")
    return next((c for c in read["components"] if c["id"] == part_id), None)


def test_two_parts_become_one_with_keys_alone(person: Person):
    person.key("h")
    person.settle()
    person.key("m")
    person.walk_to(25 * K, 30 * K)
    person.key(" ")
    person.says("Holding BATTERY")
    person.walk_to(75 * K, 30 * K)
    person.key(" ")
    person.says("one part with BATTERY")
    assert part(person, "fuse7") is None
    person.key("Escape")
    person.key("z")
    person.says("Taken back")
    assert part(person, "fuse7") is not None


def test_a_part_is_divided_with_keys_alone(person: Person):
    person.key("h")
    person.settle()
    person.key("d")
    person.walk_to(150 * K, 81 * K)
    person.key(" ")
    person.walk_to(160 * K, 99 * K)
    person.key(" ")
    expect(person.page.locator("#part-title")).to_have_text("A part of its own")
    assert person.page.evaluate("() => document.activeElement.id") == "part-kind"
    person.type("switch")
    person.key("Tab")
    person.type("DIMMER")
    person.key("Enter")
    person.says("two parts, one of them DIMMER")
    assert {c["text"] for c in person.ask("/desk/sheets/page_01/read")["components"]} >= {"DIMMER", "PARK LAMP LH"}


def test_a_page_edge_is_parted_and_gets_its_partner_again(person: Person):
    person.key("h")
    person.settle()
    person.click_scan(195 * K, 60 * K)
    expect(person.page.locator("#slip h2")).to_have_text("Page edge")
    person.page.get_by_role("button", name="Part the two edges").click()
    person.says("has no partner")
    assert [e["other"] for e in person.ask("/desk/sheets/page_01/read")["edges"]] == [None]
    for _ in range(20):  # the question about this edge comes up, with the other lone edge as an answer
        if person.page.locator("#card .choices button", has_text="page_02").count():
            break
        person.key("s")
    choice = person.page.locator("#card .choices button", has_text="page_02").first
    person.key(choice.get_attribute("data-choice") or "")
    person.says("goes on at page_02")
    assert [e["other"] for e in person.ask("/desk/sheets/page_01/read")["edges"]] == ["page_02"]


def test_a_finding_is_accepted_with_a_reason_that_is_kept(person: Person, served: Served):
    assert person.question() == "Finding"
    before = person.ask("/desk/doubts")["total"]
    person.page.locator("#typed").fill("spare wire, ends behind the trim")
    person.page.get_by_role("button", name="Accept").click()
    person.says("spare wire, ends behind the trim")
    served.stop()
    person.open(served.start())
    assert person.ask("/desk/doubts")["total"] < before
    assert "spare wire" in person.page.locator("#undo").get_attribute("title")


def test_a_sheet_is_done_and_the_progress_of_the_manual_is_seen(person: Person, served: Served):
    expect(person.page.locator("#settled")).to_have_attribute("title", "0 of 2 sheets are done")
    person.page.locator("#sheet-done").click()
    person.says("is done")
    expect(person.page.locator("#settled")).to_have_attribute("title", "1 of 2 sheets are done")
    expect(person.page.locator("#leaves .leaf-done")).to_have_count(1)
    served.stop()
    person.open(served.start())
    expect(person.page.locator("#leaves .leaf-done")).to_have_count(1)
    person.key("z")
    person.says("Taken back")
    expect(person.page.locator("#leaves .leaf-done")).to_have_count(0)


def test_a_question_that_comes_late_does_not_take_the_view_away(person: Person):
    held: list[Route] = []
    person.bring_question("L7 1.0 GN-WH")
    person.settle()
    asked = person.page.locator("#card h2").inner_text(), person.page.locator("#card .why").inner_text()
    person.page.route("**/desk/doubts*", lambda route: held.append(route))  # noqa: PLW0108  the library marks its handlers
    person.key("2")
    person.says("L1 1.0 GN-WH")
    person.key("h")  # meanwhile the person looks at the whole sheet
    person.page.wait_for_function("() => !window.deskMoving()")
    where = person.page.evaluate("() => window.deskPixel(0, 0)")
    assert held
    for route in held:
        route.continue_()
    person.page.unroute("**/desk/doubts*")
    expect(person.page.locator("#card .why")).not_to_have_text(asked[1])
    person.settle()
    assert person.page.evaluate("() => window.deskPixel(0, 0)") == pytest.approx(
        where, abs=3
    )  # the last of its own way
    person.key("q")  # and goes there when it suits
    person.settle()
    assert person.page.evaluate("() => window.deskPixel(0, 0)") != pytest.approx(where, abs=30)


def test_what_another_window_corrects_shows_up_without_a_reload(person: Person, served: Served, browser: Browser):
    page = browser.new_page()
    other = Person(page)
    other.open(served.url)
    person.bring_question("L7 1.0 GN-WH")
    person.key("2")
    person.says("L1 1.0 GN-WH")
    expect(page.locator("#undo")).to_have_attribute("title", "Take back: wire code “L7 1.0 GN-WH” is “L1 1.0 GN-WH”")
    assert other.faults == []
    page.close()


EACH_FRAME = """() => {
  window.frames_seen = [];
  const look = () => {
    window.frames_seen.push(String(window.deskPixel(100, 100)));
    requestAnimationFrame(look);
  };
  look();
}"""
"""Writes down where the map stands in every frame: when a key takes effect is the browser's to say, on a busy machine late."""


def test_with_reduced_motion_the_map_jumps(browser: Browser, served: Served):
    context = browser.new_context(viewport={"width": 1280, "height": 800}, reduced_motion="reduce")
    person = Person(context.new_page())
    person.open(served.url)
    person.page.evaluate(EACH_FRAME)
    before = person.page.evaluate("() => String(window.deskPixel(100, 100))")
    person.key("h")
    person.settle()
    after = person.page.evaluate("() => String(window.deskPixel(100, 100))")
    assert after != before
    frames = person.page.evaluate("() => window.frames_seen")
    assert frames.count(before) > 0
    assert set(frames) == {before, after}, "the map stood nowhere in between"
    context.close()


def test_a_tablet_is_worked_by_touch(browser: Browser, served: Served):
    context = browser.new_context(viewport={"width": 820, "height": 1180}, has_touch=True)
    person = Person(context.new_page())
    person.open(served.url)
    person.page.locator("#map").press("h")
    person.settle()
    person.page.touchscreen.tap(*person.pixel(160 * K, 60 * K))
    expect(person.page.locator("#slip .value")).to_have_text("L6 0.8 BN")
    person.page.locator("#tool-cut").tap()
    person.says("Click a wire")
    person.settle()
    person.page.touchscreen.tap(*person.pixel(150 * K, 60 * K))
    person.says("is cut")
    person.page.locator("#undo").tap()
    person.says("Taken back")
    assert person.faults == []
    context.close()


def test_a_click_made_before_a_tool_is_taken_is_not_the_tools(person: Person):
    person.key("h")
    person.settle()
    person.click_scan(160 * K, 60 * K)
    person.key("c")  # within the quarter of a second in which the map still waits for a second click
    person.says("Click a wire")
    person.settle()
    assert person.wire("w4") is not None
    expect(person.page.locator("#undo")).to_be_disabled()
    person.click_scan(150 * K, 60 * K)
    person.says("is cut")


def test_a_quick_hand_is_not_told_that_somebody_else_was_faster(person: Person):
    person.key("h")
    person.settle()
    person.click_scan(160 * K, 60 * K)
    for code in ("L6 0.8 GN", "L6 0.8 RD", "L6 0.8 BK"):
        person.settle()
        person.key("r")
        person.page.keyboard.press("Control+a")
        person.type(code)
        person.key("Enter")
        person.says(code)
    for _ in range(3):
        person.key("z")
    expect(person.page.locator("#undo")).to_be_disabled()
    person.settle()
    assert person.page.locator("#clash").is_hidden()
    assert person.page.locator("#trouble").is_hidden()
    assert person.wire("w4")["text"] == "L6 0.8 BN"
    for _ in range(3):
        person.key("y")
    expect(person.page.locator("#redo")).to_be_disabled()
    assert person.wire("w4")["text"] == "L6 0.8 BK"


def test_a_page_of_124_megapixels_is_looked_at(page: Page, tmp_path: Path):
    path = build_manual(tmp_path, px_per_mm=66.7)
    server = Served(path, tmp_path / "server.log")
    person = Person(page)
    try:
        person.open(server.start())
        ground = person.ask("/desk/sheets/page_01/ground")
        assert ground["width"] * ground["height"] > 124e6
        person.key("h")
        person.settle()
        person.click_scan(160 * 66.7, 60 * 66.7)
        expect(page.locator("#slip .value")).to_have_text("L6 0.8 BN")
        page.mouse.wheel(0, -1500)
        person.settle()
        assert page.evaluate("() => window.deskTilesFailed()") == 0
    finally:
        server.stop()
    assert person.faults == []
