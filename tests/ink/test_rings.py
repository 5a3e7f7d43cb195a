"""Promises about open circles on lines."""

import cv2
import numpy as np
import pytest

from digitize.harness.place import Box
from digitize.ink.dots import find_dots
from digitize.ink.rings import fill_rings, find_rings, is_met_across, is_met_at_corner, rings_before_codes, with_rings
from digitize.ink.state import Dot, TextBlock
from digitize.ink.thickness import thickness_of
from digitize.sheet.runs import runs_of
from digitize.sheet.state import PX_PER_MM


def lines(*paths: list[tuple[float, float]], width: int = 4) -> np.ndarray:
    ink = np.zeros((600, 900), np.uint8)
    for path in paths:
        points = (np.array(path) * PX_PER_MM).round().astype(np.int32)
        cv2.polylines(ink, [points], isClosed=False, color=255, thickness=width)
    return ink


def ring(ink: np.ndarray, x: float, y: float, radius: float, pen: int = 3) -> None:
    at = (round(x * PX_PER_MM), round(y * PX_PER_MM))
    cv2.circle(ink, at, round(radius * PX_PER_MM), 0, -1)
    cv2.circle(ink, at, round(radius * PX_PER_MM), 255, pen)


@pytest.mark.parametrize("radius", [0.5, 0.8, 1.2])
def test_an_open_circle_where_three_lines_meet_is_a_join(radius):
    ink = lines([(10, 25), (60, 25)], [(30, 25), (30, 45)])
    ring(ink, 30, 25, radius)
    (found,) = find_rings(ink)
    fill_rings(ink, (found,))
    assert found.arms == 3
    assert found.at == pytest.approx((30, 25), abs=0.2)
    assert ink[round(25 * PX_PER_MM), round(30 * PX_PER_MM)]
    (dot,) = with_rings((), (found,))
    assert dot.probability > 0.8


def test_a_small_rough_circle_is_none_the_less_one_though_its_hole_is_nearly_square():
    ink = lines([(10, 25), (60, 25)], [(30, 25), (30, 10)], width=7)
    cv2.circle(ink, (360, 300), 12, 255, -1)
    ink[294:307, 354:367] = 0
    for y, x in ((294, 354), (294, 366), (306, 354), (306, 366)):
        ink[y, x] = 255
    (found,) = find_rings(ink)
    assert found.arms == 3


@pytest.mark.parametrize("half", [8, 10, 12])
def test_a_small_square_in_a_wire_is_no_open_circle(half):
    ink = lines([(10, 25), (60, 25)], [(30, 25), (30, 10)])
    cv2.rectangle(ink, (360 - half, 300 - half), (360 + half, 300 + half), 255, -1)
    cv2.rectangle(ink, (364 - half, 304 - half), (356 + half, 296 + half), 0, -1)
    assert not find_rings(ink)


def test_an_open_circle_in_the_course_of_a_line_is_no_join():
    ink = lines([(10, 25), (60, 25)])
    ring(ink, 30, 25, 0.8)
    (found,) = find_rings(ink)
    assert found.arms == 2
    blob = Dot(found.at, 1.6, 0.9)
    assert not with_rings((blob,), (found,))


@pytest.mark.parametrize("flat", [True, False], ids=["level", "upright"])
@pytest.mark.parametrize("how", ["goes on", "ends", "stands higher"])
def test_an_open_circle_beside_a_code_behind_which_the_line_goes_on_has_an_arm_more(how, flat):
    ink = lines([(20, 5), (20, 45)], [(33, 25), (60, 25)] if how == "goes on" else [(45, 40), (60, 40)])
    ring(ink, 20, 25, 0.8)
    up = 2.0 if how == "stands higher" else 0.0
    code = Box(21.5, 24 - up, 32, 26 - up)
    if not flat:
        ink, code = np.ascontiguousarray(ink.T), Box(code.y0, code.x0, code.y1, code.x1)
    (found,) = rings_before_codes(find_rings(ink), [TextBlock(0, code, 0 if flat else 90, 0.9)], ink)
    assert found.arms == (3 if how == "goes on" else 2)


WAYS = {"a": (30, 10), "b": (30, 40), "l": (15, 25), "r": (45, 25)}


@pytest.mark.parametrize(
    ("ways", "across", "corner"),
    [("ab", True, False), ("la", False, True), ("br", False, True), ("lr", False, False), ("l", False, False)],
    ids=["above and below", "left and above", "below and right", "left and right", "left"],
)
def test_an_open_circle_beside_level_lettering_is_met_across_it_or_at_a_corner(ways, across, corner):
    ink = lines(*([(30, 25), WAYS[way]] for way in ways))
    alone = ink.copy()
    ring(ink, 30, 25, 1.0)
    cv2.circle(alone, (360, 300), 16, 0, -1)
    (found,) = find_rings(ink)
    assert is_met_across(ink, found, upright=True) == across
    assert is_met_at_corner(ink, found, alone) == corner
    turned = np.ascontiguousarray(ink.T)
    (found,) = find_rings(turned)
    assert is_met_across(turned, found, upright=False) == across
    assert is_met_at_corner(turned, found, np.ascontiguousarray(alone.T)) == corner


def test_a_round_letter_that_its_neighbour_and_a_wire_touch_is_no_corner():
    ink = lines([(30, 25), WAYS["b"]])
    alone = ink.copy()
    letter = lines([(30, 25), (33, 25)], [(33, 23), (33, 27)])
    ink |= letter
    ring(ink, 30, 25, 1.0)
    (found,) = find_rings(ink)
    assert not is_met_at_corner(ink, found, alone)


def test_a_double_circle_is_one_terminal():
    ink = lines([(10, 25), (60, 25)])
    ring(ink, 30, 25, 1.0)
    cv2.circle(ink, (360, 300), 4, 255, 2)
    rings = find_rings(ink)
    assert {r.arms for r in rings} == {2}


def test_paper_between_four_wires_is_no_ring():
    ink = lines([(10, 25), (60, 25)], [(10, 26.2), (60, 26.2)], [(30, 10), (30, 40)], [(31.2, 10), (31.2, 40)])
    before = ink.copy()
    assert not find_rings(ink)
    assert np.array_equal(ink, before)


def test_a_letter_that_stands_alone_is_no_ring():
    ink = lines([(10, 40), (60, 40)])
    ring(ink, 30, 25, 0.8)
    assert not find_rings(ink)


def test_a_filled_dot_stays_what_it_is():
    ink = lines([(10, 25), (60, 25)], [(30, 25), (30, 45)])
    cv2.circle(ink, (360, 300), 9, 255, -1)
    assert not find_rings(ink)
    assert len(find_dots(ink, thickness_of(ink, runs_of(ink)))) == 1
