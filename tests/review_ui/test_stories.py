"""Stories at the real desk: real server, Debian's chromium, real mouse and keys."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from digitize.store.manual import Manual
from fixtures.small_harness import SCAN_PX_PER_MM, claim, small_harness
from fixtures.small_manual import build_manual

from .browser import Person, Served

pytestmark = pytest.mark.browser
K = SCAN_PX_PER_MM


def test_the_page_opens_with_the_scan_the_reading_and_a_question(person: Person):
    page = person.page
    expect(page.locator("#manual-name")).to_have_text("MARLOW 9 (invented)")
    expect(page.locator("#leaves button")).to_have_count(2)
    expect(page.locator("#card h2")).to_be_visible()
    assert page.evaluate("() => document.querySelectorAll('#map canvas').length") > 0
    assert page.evaluate("() => window.deskTilesFailed()") == 0


def test_the_wheel_zooms_and_a_drag_pans(person: Person):
    before = person.pixel(800, 560)
    box = person.page.locator("#map").bounding_box()
    assert box is not None
    middle = (box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    person.page.mouse.move(*middle)
    person.page.mouse.down()
    person.page.mouse.move(middle[0] + 90, middle[1] + 60, steps=30)
    person.page.wait_for_timeout(400)  # held still, so that the map does not glide on
    person.page.mouse.up()
    person.settle()
    after = person.pixel(800, 560)
    assert after[0] - before[0] == pytest.approx(90, abs=5)
    assert after[1] - before[1] == pytest.approx(60, abs=5)
    near = person.pixel(900, 560)[0] - person.pixel(800, 560)[0]
    person.page.mouse.wheel(0, -400)
    person.settle()
    assert person.pixel(900, 560)[0] - person.pixel(800, 560)[0] > 1.3 * near


def test_the_margins_name_the_zone_under_the_pointer(person: Person):
    person.key("h")
    person.settle()
    person.page.mouse.move(*person.pixel(100 * K, 50 * K))
    expect(person.page.locator("#where")).to_have_text("Zone B3")
    expect(person.page.locator("#columns .band.here")).to_have_text("3")


def test_hostile_lettering_stays_text(page: Page, tmp_path: Path):
    harness = small_harness()
    nasty = [
        "<script>document.title='broken'</script>",
        "<img src=x onerror=document.title='broken'>",
        "\u202egnp.eliforp",
        "A" * 10_000,
    ]
    parts = tuple(
        replace(c, name=claim(t, 0.3, (t + "2", 0.2))) for c, t in zip(harness.components, nasty, strict=True)
    )
    path = build_manual(tmp_path, replace(harness, components=parts))
    with Manual.open(path) as manual:
        manual.set_setting("vehicle", "<b onclick=alert(1)>vehicle</b>")
    server = Served(path, tmp_path / "server.log")
    somebody = Person(page)
    somebody.open(server.start())
    try:
        for text in nasty:
            somebody.page.locator("#seek-words").fill(text[:150])
            expect(somebody.page.locator("#seek-found li").first).to_contain_text(text[:60])
            somebody.page.locator("#seek-words").press("Enter")
            somebody.settle()
            expect(somebody.page.locator("#slip .value")).to_contain_text(text[:60])
        assert "broken" not in page.title()
        assert page.locator("#slip script, #card script, #slip img, .value img").count() == 0
        assert page.evaluate("() => document.documentElement.scrollWidth <= window.innerWidth")
    finally:
        server.stop()
    assert somebody.faults == []


def test_go_to_a_connector_by_typing_selects_it(person: Person):
    person.key("g")
    person.type("c101")
    expect(person.page.locator("#seek-found li")).to_have_count(2)
    person.key("ArrowDown")
    person.key("Enter")
    person.settle()
    expect(person.page.locator("#leaves button[aria-current]")).to_contain_text("REAR")
    expect(person.page.locator("#slip .value")).to_have_text("C101")


def test_a_wire_is_followed_overleaf_with_one_key(person: Person):
    person.key("h")
    person.settle()
    person.click_scan(160 * K, 60 * K)
    expect(person.page.locator("#slip .value")).to_have_text("L6 0.8 BN")
    person.key("o")
    person.settle()
    expect(person.page.locator("#leaves button[aria-current]")).to_contain_text("REAR")
    expect(person.page.locator("#slip .value")).to_have_text("L6 0.8 BN")


def test_a_whole_session_with_keys_alone(person: Person):
    """No mouse at all: answer every question, mark the sheet as done by tabbing to its button."""
    for _ in range(30):
        kind = person.question()
        if kind == "No open question":
            break
        if kind == "Finding":
            person.key("t")
            person.type("spare wire")
            person.key("Enter")
        else:
            person.key("1") if person.page.locator("#card [data-choice='1']").count() else person.key("u")
        person.settle()  # the next question is there
    assert person.question() == "No open question"
    for _ in range(60):
        person.key("Tab")
        if person.page.evaluate("() => document.activeElement.id") == "sheet-done":
            break
    person.key("Enter")
    expect(person.page.locator("#sheet-done")).to_have_attribute("aria-pressed", "true")
    expect(person.page.locator("#leaves .leaf-done")).to_have_count(1)


def test_resting_on_a_thing_tells_what_it_is(person: Person):
    person.key("h")
    person.settle()
    person.page.mouse.move(*person.pixel(95 * K, 30 * K))
    expect(person.page.locator("#tip")).to_have_text("Wire L7 1.0 GN-WH, doubtful")
    person.page.mouse.move(*person.pixel(110 * K, 30 * K))
    expect(person.page.locator("#tip")).to_contain_text("3 wires meet")
    person.page.mouse.move(*person.pixel(20 * K, 120 * K))
    expect(person.page.locator("#tip")).to_be_hidden()


def test_fading_shows_scan_or_reading(person: Person):
    slider = person.page.locator("#fade")
    slider.fill("0")
    assert person.page.evaluate("() => window.deskFade()") == [1, 0]
    slider.fill("100")
    assert person.page.evaluate("() => window.deskFade()") == [0, 1]


@pytest.mark.parametrize("way", ["text", "zoom"])
def test_at_night_and_at_twice_the_size_everything_can_be_reached(person: Person, way: str):
    person.page.locator("#lamp").click()
    assert person.page.evaluate("() => document.documentElement.dataset.lamp") == "night"
    if way == "text":
        person.page.evaluate("() => { document.documentElement.style.fontSize = '200%'; }")
    else:
        person.page.set_viewport_size({"width": 640, "height": 400})  # what 200 % zoom leaves of 1280 x 800
    person.settle()
    for name in ("undo", "sheet-done", "tool-wire", "skip", "map"):
        target = person.page.locator(f"#{name}")
        target.scroll_into_view_if_needed()
        expect(target).to_be_in_viewport()
    box = person.page.locator("#map").bounding_box()
    assert box is not None
    assert min(box["width"], box["height"]) > 150


def test_every_control_has_a_name(person: Person):
    person.key("h")
    person.settle()
    person.click_scan(50 * K, 30 * K)
    expect(person.page.locator("#slip")).to_be_visible()
    nameless = person.page.evaluate(
        """() => [...document.querySelectorAll('button, input, img, [role]:not([role=status])')].filter((e) => e.offsetParent !== null).filter((e) => {
            const label = e.labels && e.labels.length ? e.labels[0].textContent : '';
            return !(e.getAttribute('aria-label') || label || e.alt || e.textContent.trim());
        }).map((e) => e.outerHTML.slice(0, 120))"""
    )
    assert nameless == []


def test_help_lists_every_key(person: Person):
    person.key("?")
    expect(person.page.locator("#help")).to_contain_text("take the last correction back")
    expect(person.page.locator("#help")).to_contain_text("wide dots")
    person.key("Escape")
    expect(person.page.locator("#help")).to_be_hidden()


def test_a_desk_that_is_gone_is_told_and_nothing_is_lost(person: Person, served: Served):
    person.bring_question("L7 1.0 GN-WH")
    served.stop()
    person.key("2")
    expect(person.page.locator("#trouble")).to_contain_text("does not answer")
    person.faults.clear()
