"""Stories: what was read as two parts is one, and the other way round."""

from __future__ import annotations

from pathlib import Path

import pytest
from playwright.sync_api import expect

from fixtures.small_harness import SCAN_PX_PER_MM

from .browser import Person
from .conftest import PageClient

K = SCAN_PX_PER_MM


def part(desk: PageClient | Person, part_id: str):
    path = "/desk/sheets/page_01/read"
    read = desk.ask(path) if isinstance(desk, Person) else desk.get(path)
    return next((c for c in read["components"] if c["id"] == part_id), None)


def test_parts_are_merged_and_split_by_orders_and_that_is_taken_back(desk: PageClient):
    answer = desk.decide({"do": "merge_parts", "target": "battery", "other": "fuse7"})
    assert answer.status_code == 200
    assert {"battery", "fuse7"} <= set(answer.json()["touched"])
    assert part(desk, "fuse7") is None
    desk.post("/desk/undo", {"group": answer.json()["undo"]["group"]})
    assert part(desk, "fuse7") is not None
    box = [[150 * K, 83 * K], [157 * K, 97 * K]]
    order = {"do": "split_part", "target": "lampL", "sheet": "page_01", "box": box, "kind": "switch", "name": "DIMMER"}
    answer = desk.decide(order)
    assert answer.status_code == 200
    assert desk.wire("w7")["ends"][0]["node"].startswith("hand-p-")


@pytest.mark.parametrize(("order", "status"), [
    ({"do": "merge_parts", "target": "battery", "other": "nothing"}, 404),
    ({"do": "merge_parts", "target": "battery", "other": "lampR"}, 422),
    ({"do": "split_part", "target": "lampL", "sheet": "page_02", "box": [[1, 1], [9, 9]], "kind": "lamp"}, 422),
    ({"do": "split_part", "target": "lampL", "sheet": "page_01", "box": [[1, 1], [9, 9]], "kind": "lamp"}, 422),
    ({"do": "split_part", "target": "lampL", "sheet": "page_01", "box": [[1, 1], [9, 9]], "kind": "connector"}, 400),
])  # fmt: skip
def test_what_cannot_be_done_is_refused_and_changes_nothing(desk: PageClient, order: dict, status: int):
    before = desk.get("/desk/sheets/page_01/read")
    answer = desk.decide(order)
    assert answer.status_code == status, answer.text
    assert set(answer.json()["error"]) == {"kind", "what", "advice", "more"}
    assert desk.get("/desk/sheets/page_01/read") == before


@pytest.mark.browser
def test_two_clicks_make_one_part_of_two(person: Person, tmp_path: Path):
    person.key("h")
    person.settle()
    person.key("m")
    person.says("Click the part that stays")
    person.page.screenshot(path=tmp_path / "merge.png")
    person.click_scan(120 * K, 110 * K)
    person.says("There is no part at this point")
    person.click_scan(25 * K, 30 * K)
    person.says("Holding BATTERY")
    person.click_scan(75 * K, 30 * K)
    person.says("one part with BATTERY")
    assert part(person, "fuse7") is None
    assert [e["node"] for e in person.wire("w1")["ends"]] == ["battery", "battery"]
    person.key("z")
    person.says("Taken back")
    assert part(person, "fuse7") is not None


@pytest.mark.browser
def test_a_part_is_divided_by_a_box(person: Person):
    person.key("h")
    person.settle()
    person.key("d")
    person.click_scan(150 * K, 81 * K)
    person.click_scan(160 * K, 99 * K)
    expect(person.page.locator("#part-title")).to_have_text("A part of its own")
    person.page.locator("#part-kind").select_option("switch")
    person.page.locator("#part-name").fill("DIMMER")
    person.key("Enter")
    person.says("two parts, one of them DIMMER")
    ends = [e["node"] for e in person.wire("w7")["ends"]]
    assert ends[0].startswith("hand-p-")
    assert ends[1] == "g1"
    person.click_scan(155 * K, 85 * K)
    person.key("Escape")
    person.click_scan(155 * K, 85 * K)
    expect(person.page.locator("#slip .value")).to_have_text("DIMMER")


@pytest.mark.browser
def test_a_box_beside_every_part_divides_nothing(person: Person):
    person.key("h")
    person.settle()
    person.key("d")
    person.click_scan(15 * K, 110 * K)
    person.click_scan(30 * K, 120 * K)
    person.says("lies on no part")
    expect(person.page.locator("#part")).not_to_be_visible()
