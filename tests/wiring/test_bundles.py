"""Wires that run into a taped bundle come out where their codes say, else in order; nothing else is a sleeve."""

from __future__ import annotations

import cv2
import pytest

from digitize.ink.sleeves import find_sleeves
from fixtures.small_page import Page, codes, ends

A, B, C = "A1 18 RD", "B2 18 GN", "C3 18 BK"


@pytest.mark.parametrize("hatched", [True, False], ids=["hatched", "filled"])
def test_wires_come_out_of_a_sleeve_where_their_codes_say(hatched: bool):
    wiring = page_of(hatched, [A, B, C], [C, A, B]).understood()
    assert ends(wiring) == [("LEFT 0", "RIGHT 1"), ("LEFT 1", "RIGHT 2"), ("LEFT 2", "RIGHT 0")]
    assert sorted(map(tuple, codes(wiring))) == [(A, A), (B, B), (C, C)]
    assert all(r.probability > 0.7 for r in wiring.runs)


def page_of(hatched: bool, left: list[str], right: list[str]) -> Page:
    """Three wires run into a sleeve 6 mm broad at its left end and three come out at its right end."""
    page = Page().sleeve(45, 35, 75, 41, hatched=hatched)
    for n in range(3):
        y = 36.2 + 1.8 * n
        level = 24 + 14 * n
        page.part("module", 10, level - 3, 18, level + 3).part("lamp", 102, level - 3, 110, level + 3)
        page.text(f"LEFT {n}", 14, level - 5, "word").text(f"RIGHT {n}", 106, level - 5, "word")
        bend = 40 - (2.0 if n == 1 else 0.0)
        page.line((18, level), (bend, level), (bend, y), (45, y)).line(
            (75, y), (120 - bend, y), (120 - bend, level), (102, level)
        )
        if left[n]:
            page.text(left[n], 28, level - 1.6)
        if right[n]:
            page.text(right[n], 92, level - 1.6)
    return page


def test_wires_without_codes_go_on_in_order_and_are_said_to_be_doubtful():
    wiring = page_of(True, ["", "", ""], ["", "", ""]).understood()
    assert ends(wiring) == [(f"LEFT {n}", f"RIGHT {n}") for n in range(3)]
    assert all(r.probability < 0.65 for r in wiring.runs)


def test_one_code_on_two_wires_is_matched_in_order_with_less_trust():
    wiring = page_of(True, [A, A, B], [A, B, A]).understood()
    assert ends(wiring) == [("LEFT 0", "RIGHT 0"), ("LEFT 1", "RIGHT 2"), ("LEFT 2", "RIGHT 1")]
    sure = {tuple(c.claim.value for c in r.codes): r.probability for r in wiring.runs}
    assert sure[B, B] > sure[A, A]


def test_an_end_whose_code_comes_out_nowhere_stays_open():
    wiring = page_of(True, [A, B, C], [A, B, "D4 18 WH"]).understood()
    kinds = sorted(e.kind for r in wiring.runs for e in r.ends)
    assert kinds.count("open") == 2
    assert ("LEFT 0", "RIGHT 0") in ends(wiring)


def test_a_wire_that_passes_across_a_sleeve_goes_on():
    page = page_of(True, [A, B, C], [A, B, C])
    page.part("horn", 56, 10, 64, 16).part("motor", 56, 66, 64, 72)
    page.text("HORN", 70, 13, "word").text("FAN", 70, 69, "word")
    page.line((60, 16), (60, 35)).line((60, 41), (60, 66))
    wiring = page.understood()
    assert ("FAN", "HORN") in ends(wiring)
    assert ("LEFT 0", "RIGHT 0") in ends(wiring)


def test_a_filled_bar_where_no_codes_agree_is_an_unknown_part():
    wiring = page_of(False, [A, B, C], ["D4 18 WH", "E5 18 WH", "F6 18 WH"]).understood()
    assert [p.kind for p in wiring.places if p.kind == "unknown"] == ["unknown"]
    assert all(e.kind == "place" for r in wiring.runs for e in r.ends)


def test_parallel_wires_boxes_dots_and_heavy_cables_are_no_sleeves():
    page = Page()
    for k in range(8):
        page.line((20, 20 + 2 * k), (100, 20 + 2 * k))
    page.line((20, 50), (100, 50), width=1.4).part("module", 30, 55, 60, 62).dot(50, 50)
    cv2.rectangle(page.ink, (840, 660), (960, 740), 255, -1)
    page.line((60, 58), (70, 58)).line((60, 60), (70, 60)).line((80, 58), (90, 58)).line((80, 60), (90, 60))
    inside = page.ink[72:888, 72:1368]
    assert find_sleeves(inside) == ()


def test_a_sleeve_is_found_upright_too_with_its_box():
    page = Page().sleeve(50, 15, 55, 60)
    for y, side in ((15, -1), (60, 1)):
        for x in (51, 52.5, 54):
            page.line((x, y), (x, y + side * 6))
    (sleeve,) = find_sleeves(page.ink[72:888, 72:1368])
    box = sleeve.box
    assert (box.x0 + 6, box.y0 + 6, box.x1 + 6, box.y1 + 6) == pytest.approx((50, 15, 55, 60), abs=1.5)
