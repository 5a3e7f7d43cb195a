"""Ways of a connector that look like the one that was found are found with it; wires and other signs are not."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from digitize.harness.place import Box
from digitize.ink.alike_ways import with_alike_ways, with_named_signs, with_surer_signs
from digitize.ink.state import Symbol, TextBlock
from digitize.sheet.state import PX_PER_MM

SIGN = """
#......#......
##.....##.....
.##.....##....
..##.....##...
...##.....##..
....##.....##.
.....##.....##
....##.....##.
...##.....##..
..##.....##...
.##.....##....
##.....##.....
#......#......
"""
"""A pair of arrow heads, two pixels each; 13 rows, the wire at the seventh."""
HIGH, WIDE = 26, 28
LEFT = 200
FOUND = Symbol("connector", Box(LEFT / PX_PER_MM, 87 / PX_PER_MM, (LEFT + WIDE) / PX_PER_MM, 113 / PX_PER_MM), 0.9)


def sheet(*levels: int, signs: tuple[int, ...]) -> NDArray[np.uint8]:
    """40 x 30 mm of wires at ``levels`` (px), with a sign on those at the levels in ``signs``."""
    ink = np.zeros((360, 480), np.uint8)
    small = np.array([[255 * (c == "#") for c in row] for row in SIGN.split()], np.uint8)
    sign = cv2.resize(small, (WIDE, HIGH), interpolation=cv2.INTER_NEAREST)
    for y in levels:
        cv2.line(ink, (20, y), (460, y), 255, 3)
        if y in signs:
            ink[y - HIGH // 2 : y + HIGH // 2, LEFT : LEFT + WIDE] = sign
    return ink


def test_ways_below_each_other_that_look_alike_are_all_found_however_long_the_row():
    found = with_alike_ways((FOUND,), sheet(100, 150, 200, 260, signs=(100, 150, 200, 260)))
    middles = sorted(s.box.centre[1] * PX_PER_MM for s in found)
    assert middles == pytest.approx([100, 150, 200, 260], abs=3)
    assert {s.kind for s in found} == {"connector"}
    assert all(s.probability <= FOUND.probability for s in found)


def test_ways_beside_each_other_on_upright_wires_are_found_too():
    turned = Symbol("connector", Box(FOUND.box.y0, FOUND.box.x0, FOUND.box.y1, FOUND.box.x1), 0.9)
    found = with_alike_ways((turned,), np.ascontiguousarray(sheet(100, 150, signs=(100, 150)).T))
    assert sorted(s.box.centre[0] * PX_PER_MM for s in found) == pytest.approx([100, 150], abs=3)


def test_wires_that_run_below_a_way_are_no_ways():
    assert with_alike_ways((FOUND,), sheet(100, 130, 150, 200, signs=(100,))) == (FOUND,)


def test_a_sign_that_no_wire_runs_through_is_no_way():
    ink = sheet(100, 150, signs=(100, 150))
    ink[140:160, LEFT + WIDE :] = 0
    assert with_alike_ways((FOUND,), ink) == (FOUND,)


def test_what_was_found_already_is_not_found_twice():
    other = Symbol("diode", Box(FOUND.box.x0, 137 / PX_PER_MM, FOUND.box.x1, 163 / PX_PER_MM), 0.7)
    assert with_alike_ways((FOUND, other), sheet(100, 150, signs=(100, 150))) == (FOUND, other)


def test_a_doubtful_sign_is_no_pattern():
    doubtful = Symbol("connector", FOUND.box, 0.4)
    assert with_alike_ways((doubtful,), sheet(100, 150, signs=(100, 150))) == (doubtful,)


LONE = 300
"""Level of a wire with a sign that has no other beside it."""


def sure(*levels: int) -> tuple[Symbol, ...]:
    half = HIGH / 2
    left, right = LEFT / PX_PER_MM, (LEFT + WIDE) / PX_PER_MM
    return tuple(
        Symbol("connector", Box(left, (y - half) / PX_PER_MM, right, (y + half) / PX_PER_MM), 0.9) for y in levels
    )


def label(chance: float = 0.9, long: float = 5.0) -> TextBlock:
    """Lettering above the lone sign."""
    x, y = (LEFT + WIDE / 2) / PX_PER_MM, (LONE - HIGH / 2) / PX_PER_MM
    return TextBlock(0, Box(x - long / 2, y - 3.5, x + long / 2, y - 1.0), 0, chance)


ALL = (60, 110, 160, LONE)


def test_a_lone_sign_at_its_id_is_found_by_the_sure_ones_of_the_sheet():
    found = with_named_signs(sure(60, 110, 160), sheet(*ALL, signs=ALL), (label(),))
    assert len(found) == 4
    assert found[-1].kind == "connector"
    assert found[-1].box.centre[1] * PX_PER_MM == pytest.approx(LONE, abs=3)
    assert found[-1].probability <= 0.9


@pytest.mark.parametrize("text", [(), (label(chance=0.3),), (label(long=30.0),)], ids=["none", "doubtful", "long"])
def test_a_lone_sign_without_an_id_is_left_alone(text: tuple[TextBlock, ...]):
    assert len(with_named_signs(sure(60, 110, 160), sheet(*ALL, signs=ALL), text)) == 3


def test_two_signs_make_no_habit():
    assert len(with_named_signs(sure(60, 110), sheet(60, 110, LONE, signs=(60, 110, LONE)), (label(),))) == 2


def test_a_wire_that_runs_below_lettering_is_no_sign():
    assert len(with_named_signs(sure(60, 110, 160), sheet(*ALL, signs=(60, 110, 160)), (label(),))) == 3


def test_a_sign_of_another_form_is_not_taken_for_one():
    ink = sheet(*ALL, signs=(60, 110, 160))
    cv2.rectangle(ink, (LEFT, LONE - 13), (LEFT + WIDE, LONE + 13), 255, 3)
    assert len(with_named_signs(sure(60, 110, 160), ink, (label(),))) == 3


@pytest.mark.parametrize("upright", [False, True])
def test_a_doubtful_sign_that_looks_like_the_surest_is_as_sure_and_a_wire_is_not(upright: bool):
    ink = sheet(60, 120, 180, signs=(60, 120))
    surest, like, wire = (
        replace(sign, probability=p) for sign, p in zip(sure(60, 120, 180), (0.95, 0.4, 0.4), strict=True)
    )
    asked = (surest, like, wire)
    if upright:
        ink = np.ascontiguousarray(ink.T)
        asked = tuple(replace(s, box=s.box.swapped()) for s in asked)
    told = with_surer_signs(asked, ink)
    assert [s.box for s in told] == [s.box for s in asked]
    assert [s.probability for s in told] == pytest.approx([0.95, 0.95, 0.4], abs=0.06)
    assert with_surer_signs(asked[1:], ink) == asked[1:], "none is sure enough to be looked at"


@pytest.mark.parametrize("middle", [140, 141, 142, 143])
def test_the_next_sign_is_found_though_a_farther_one_is_more_alike(middle: int):
    ink = sheet(100, middle, 180, signs=(100, middle, 180))
    cv2.line(ink, (LEFT + 12, middle - 20), (LEFT + 12, middle + 20), 255, 2)  # a bar leads on from sign to sign
    found = with_alike_ways((FOUND,), ink)
    assert sorted(s.box.centre[1] * PX_PER_MM for s in found) == pytest.approx([100, middle, 180], abs=3)


@pytest.mark.parametrize("pitch", [38, 39, 40, 41])
def test_a_fine_sign_with_a_bar_through_it_is_told_pixel_by_pixel(pitch: int):
    """Arrow heads of two pixels: coarse pixels fall unlike on the next pair."""
    ink = np.zeros((300, 480), np.uint8)
    for y in (100, 100 + pitch):
        for a, b in ((20, 206), (218, 460)):
            cv2.line(ink, (a, y), (b, y), 255, 2)
        for x in (200, 210):
            cv2.polylines(
                ink, [np.array([(x, y - 9), (x + 8, y), (x, y + 9)], np.int32)], isClosed=False, color=255, thickness=2
            )
    cv2.line(ink, (206, 100 + pitch - 18), (206, 100 + pitch + 18), 255, 2)
    seen = Symbol("connector", Box(199 / 12, 90 / 12, 219 / 12, 110 / 12), 0.9)
    found = with_alike_ways((seen,), ink)
    assert [round(s.box.centre[1] * PX_PER_MM) for s in found] == pytest.approx([100, 100 + pitch], abs=3)


@pytest.mark.parametrize("upright", [False, True])
@pytest.mark.parametrize(("drawn", "told"), [
    ((60, 130, 200, 270), 0.93),  # 1 - 0.5 ** 4: not all of them are mistaken
    ((60, 130), 0.5),  # two may be
    ((60, 130, 200, -270), 0.87),  # a bare wire was seen as one, too
])  # fmt: skip
def test_doubtful_signs_that_all_look_alike_make_each_other_sure(drawn: tuple[int, ...], told: float, upright: bool):
    ink = sheet(*map(abs, drawn), signs=drawn)
    asked = tuple(
        Symbol("connector", Box(LEFT / 12, (abs(y) - 13) / 12, (LEFT + WIDE) / 12, (abs(y) + 13) / 12), 0.5)
        for y in drawn
    )
    if upright:
        ink, asked = np.ascontiguousarray(ink.T), tuple(replace(s, box=s.box.swapped()) for s in asked)
    found = [s.probability for s in with_surer_signs(asked, ink)]
    assert found == pytest.approx([told if y > 0 else 0.5 for y in drawn], abs=0.02)
