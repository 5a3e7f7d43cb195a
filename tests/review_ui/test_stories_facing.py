"""Stories of two sheets side by side, like two leaves of a road map."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from fixtures.small_harness import SCAN_PX_PER_MM, small_harness
from review_ui.overleaf import crossings

from .browser import Person
from .conftest import PageClient

K = SCAN_PX_PER_MM


def test_a_sheet_tells_where_it_goes_on(desk: PageClient):
    told = desk.get("/desk/sheets/page_01/overleaf")["crossings"]
    assert [(c["link"], c["side"], c["there"]["sheet"]) for c in told] == [("l1", "right", "page_02")]
    assert told[0]["here"]["at"] == [195 * K - 0.5, 60 * K - 0.5]
    assert told[0]["there"]["at"] == [5 * K - 0.5, 60 * K - 0.5]
    back = desk.get("/desk/sheets/page_02/overleaf", of="w4")["crossings"]
    assert [(c["side"], c["there"]["sheet"]) for c in back] == [("left", "page_01")]
    assert desk.get("/desk/sheets/page_02/overleaf", of="w1")["crossings"] == []
    assert desk.http.get("/desk/sheets/page_77/overleaf").status_code == 404


def test_a_sheet_that_cannot_be_shown_is_no_place_to_go_on():
    assert crossings(small_harness(), "page_01", None, lambda _sheet: None) == []


def test_a_lone_page_edge_is_told_with_the_one_that_is_most_like_it(desk: PageClient):
    desk.decide({"do": "partner", "target": "l1", "partner": None})
    told = desk.get("/desk/sheets/page_01/overleaf", of="l1")
    assert told["crossings"] == []
    assert [(c["link"], c["side"], c["there"]["sheet"], c["there"]["edge"]) for c in told["lone"]] == [
        ("l1", "right", "page_02", "left")
    ]
    assert desk.get("/desk/sheets/page_01/overleaf", of="w1")["lone"] == []


def parted(person: Person) -> None:
    person.key("h")
    person.settle()
    person.click_scan(195 * K, 60 * K)
    person.page.get_by_role("button", name="Part the two edges").click()
    person.says("has no partner")
    person.settle()


def partners(person: Person) -> list[str | None]:
    return [e["other"] for e in person.ask("/desk/sheets/page_01/read")["edges"]]


@pytest.mark.browser
def test_a_thread_is_drawn_from_a_page_edge_to_the_one_on_the_other_sheet(person: Person):
    parted(person)
    assert partners(person) == [None]
    person.key("n")
    person.says("P pairs two edges")
    person.settle()
    person.key("p")
    start, goal = person.pixel(195 * K, 60 * K), person.facing_pixel(5 * K, 60 * K)
    person.page.mouse.move(*start)
    person.page.mouse.down()
    person.page.mouse.move(goal[0] - 4, goal[1] + 30, steps=5)
    expect(person.page.locator("#thread")).to_be_visible()
    person.page.mouse.up()
    person.says("There is no lone page edge at this point")
    assert partners(person) == [None]
    person.page.mouse.move(*start)
    person.page.mouse.down()
    person.page.mouse.move(*goal, steps=5)
    person.page.mouse.up()
    person.says("goes on at page_02")
    assert partners(person) == ["page_02"]
    expect(person.page.locator("#thread")).to_be_hidden()
    person.settle()
    person.page.mouse.click(*start)
    person.says("goes on at page 2, LIGHTING, REAR already")
    person.key("Escape")
    person.key("z")
    person.says("Taken back")
    assert partners(person) == [None]


@pytest.mark.browser
def test_page_edges_are_paired_with_keys_alone(person: Person):
    parted(person)
    person.key("Escape")
    person.key("p")
    person.says("arrow keys and Space")
    person.key("ArrowDown")
    person.says("1 of 1 without a partner")
    person.key(" ")
    person.says("Beside it: page 2, LIGHTING, REAR. Now the edge where it goes on")
    person.settle()
    person.key("ArrowDown")
    person.says("1 of 1 without a partner")
    person.key(" ")
    person.says("goes on at page_02")
    assert partners(person) == ["page_02"]


@pytest.mark.browser
def test_two_sheets_lie_side_by_side_with_their_edges_at_one_height(person: Person):
    person.key("h")
    person.settle()
    person.click_scan(160 * K, 60 * K)
    person.key("n")
    person.says("page 2, LIGHTING, REAR")
    person.settle()
    expect(person.page.locator("#facing-name")).to_have_text("page 2, LIGHTING, REAR")
    mine, theirs = person.pixel(195 * K, 60 * K), person.facing_pixel(5 * K, 60 * K)
    assert mine[1] == pytest.approx(theirs[1], abs=2)
    assert 0 < theirs[0] - mine[0] < 60, "the two page edges meet"
    # whatever is done to one sheet is done to the other: the wheel and a drag keep the height
    person.page.mouse.move(mine[0] - 60, mine[1])
    person.page.mouse.wheel(0, -300)
    person.settle()
    person.page.mouse.down()
    person.page.mouse.move(mine[0] - 60, mine[1] + 70, steps=20)
    person.page.wait_for_timeout(400)
    person.page.mouse.up()
    person.settle()
    mine, theirs = person.pixel(195 * K, 60 * K), person.facing_pixel(5 * K, 60 * K)
    assert mine[1] == pytest.approx(theirs[1], abs=2)
    far = person.facing_pixel(25 * K, 60 * K)[0] - theirs[0]
    assert far == pytest.approx(mine[0] - person.pixel(175 * K, 60 * K)[0], abs=2), "and the size is one"


@pytest.mark.browser
def test_with_two_sheets_open_one_key_turns_the_leaf(person: Person):
    person.key("h")
    person.settle()
    person.click_scan(160 * K, 60 * K)
    person.key("n")
    person.settle()
    person.key("o")
    person.settle()
    expect(person.page.locator("#leaves button[aria-current]")).to_contain_text("REAR")
    expect(person.page.locator("#slip .value")).to_have_text("L6 0.8 BN")
    expect(person.page.locator("#pair")).to_have_attribute("data-side", "left")
    mine, theirs = person.pixel(5 * K, 60 * K), person.facing_pixel(195 * K, 60 * K)
    assert mine[1] == pytest.approx(theirs[1], abs=2)
    assert 0 < mine[0] - theirs[0] < 60
    person.key("n")
    expect(person.page.locator("#facing")).to_be_hidden()


@pytest.mark.browser
def test_a_thing_on_the_second_sheet_can_be_looked_at_and_is_drawn_anew_after_an_edit(person: Person):
    person.key("h")
    person.settle()
    person.click_scan(160 * K, 60 * K)
    person.page.locator("#beside").click()
    person.settle()
    person.page.mouse.click(*person.facing_pixel(30 * K, 60 * K))
    expect(person.page.locator("#slip .value")).to_have_text("L6 0.8 BN")
    person.key("r")
    person.page.keyboard.press("Control+a")
    person.type("L6 0.8 GN")
    person.key("Enter")
    person.says("L6 0.8 GN")
    person.settle()
    person.page.mouse.move(*person.facing_pixel(32 * K, 60 * K))
    expect(person.page.locator("#facing-tip")).to_contain_text("L6 0.8 GN")
