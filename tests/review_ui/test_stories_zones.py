"""Stories of the zone lines: dragged or moved by keys, an edit like any other, with the zones of everything after it."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from fixtures.small_harness import SCAN_PX_PER_MM

from .browser import Person, Served
from .conftest import PageClient

K = SCAN_PX_PER_MM


def zones(desk: PageClient, sheet: str = "page_01") -> dict[str, str]:
    read = desk.get(f"/desk/sheets/{sheet}/read")
    return {d["id"]: d["zone"] for kind in ("components", "connectors", "splices") for d in read[kind]}


def test_a_line_moved_by_order_moves_zones_and_is_taken_back(desk: PageClient):
    before = zones(desk)
    assert before["s1"] == "A3"
    order = {"do": "zone_line", "sheet": "page_01", "axis": "across", "line": 2, "at": [115 * K, 560]}
    done = desk.decide(order).json()
    assert done["anew"]
    assert "between columns 2 and 3" in done["says"]
    assert zones(desk)["s1"] == "A2"
    ground = desk.get("/desk/sheets/page_01/ground")["zones"]["columns"]
    assert ground[1]["end"] == pytest.approx(115 * K, abs=1)
    assert desk.get("/desk/seek", words="A3")["found"][0]["box"][0] == pytest.approx(115 * K, abs=1)
    desk.post("/desk/undo", {"group": desk.get("/desk/manual")["undo"]["group"]})
    assert zones(desk) == before
    assert desk.get("/desk/sheets/page_01/read")["zones"]["columns"][1]["end"] == pytest.approx(100 * K, abs=1)


def test_a_line_past_its_neighbour_is_refused(desk: PageClient):
    order = {"do": "zone_line", "sheet": "page_01", "axis": "down", "line": 1, "at": [800, 90 * K]}
    answer = desk.decide(order)
    assert answer.status_code == 422
    assert "neighbour" in answer.json()["error"]["what"]


@pytest.mark.browser
def test_a_zone_line_is_dragged_and_taken_back(person: Person):
    person.key("h")
    person.settle()
    person.key("l")
    grip = person.page.get_by_role("slider", name="Line between column 2 and 3")
    box = grip.bounding_box()
    assert box is not None
    person.page.mouse.move(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    person.page.mouse.down()
    target = person.pixel(115 * K, 0)[0]
    person.page.mouse.move(target, box["y"] + 40, steps=10)
    person.page.mouse.up()
    person.says("between columns 2 and 3 is moved")
    person.key("Escape")
    person.page.mouse.move(*person.pixel(108 * K, 20 * K))
    expect(person.page.locator("#where")).to_have_text("Zone A2")
    person.key("z")
    person.says("Taken back")
    person.page.mouse.move(*person.pixel(109 * K, 21 * K))
    expect(person.page.locator("#where")).to_have_text("Zone A3")


@pytest.mark.browser
def test_a_zone_line_is_moved_with_keys_and_kept_over_a_restart(person: Person, served: Served):
    person.key("h")
    person.settle()
    person.key("l")
    for _ in range(6):  # five lines across come first, then the first line between rows
        person.key("Tab")
    assert person.page.evaluate("() => document.activeElement.ariaLabel") == "Line between row A and B"
    for _ in range(2):
        person.key("Shift+ArrowUp")
    person.key("ArrowUp")
    person.key("Enter")
    person.says("between rows A and B is moved")
    assert person.page.evaluate("() => document.activeElement.ariaLabel") == "Line between row A and B"
    served.stop()
    person.open(served.start())
    rows = person.ask("/desk/sheets/page_01/read")["zones"]["rows"]
    assert rows[0]["end"] == pytest.approx((37.5 - 10.5) * K, abs=1)
