"""What a piece of ink looks like: the side of an outline and the bend of a cable are no letters, whatever is beside them."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from digitize.ink.lettering_pieces import cut_pieces
from digitize.ink.lettering_shapes import (
    are_frames,
    are_on_wires,
    are_passed_rings,
    are_sides,
    are_stout,
    enclosing,
    is_open_circle,
)
from digitize.sheet.state import PX_PER_MM
from tests.ink.test_lettering import blocks, corners, iou, letter, page, px


def told(ink, what, at):
    """Whether the piece at ``at``, mm, is told by ``what``."""
    pieces = cut_pieces(ink)
    x, y = px(*at)
    spot = y * ink.shape[1] + x
    return bool(what(pieces)[pieces.owner[np.flatnonzero(pieces.pixels == spot)[0]]])


def flag(ink, x0, x1, top, foot):
    cv2.rectangle(ink, px(x0, top), px(x1, foot), 255, 4)


@pytest.mark.parametrize("turned", [False, True])
def test_the_short_side_of_an_outline_with_what_hangs_on_it_is_told(turned: bool):
    ink = page()
    flag(ink, 20, 50, 20, 23.2)
    cv2.line(ink, px(50, 21.6), px(52, 21.6), 255, 4)
    cv2.circle(ink, px(53.2, 21.6), round(1.2 * PX_PER_MM), 255, 4)
    picture = np.ascontiguousarray(ink.T) if turned else ink
    pieces = cut_pieces(picture)
    sides = are_sides(pieces)
    ends = pieces.y1 if turned else pieces.x1
    beyond = np.flatnonzero(~pieces.free & (ends > 52 * PX_PER_MM))
    assert len(beyond) == 1
    assert sides[beyond].all()


def test_a_letter_that_touches_the_rules_above_and_below_is_no_side_of_an_outline():
    ink = page()
    for y in (20, 22.6):
        cv2.line(ink, px(10, y), px(90, y), 255, 4)
    cv2.line(ink, px(40, 20), px(40, 22.6), 255, 3)
    cv2.line(ink, px(40, 21.3), px(41.4, 21.3), 255, 3)
    cv2.line(ink, px(41.4, 20), px(41.4, 22.6), 255, 3)
    assert not are_sides(cut_pieces(ink)).any()


def test_a_one_at_the_end_of_an_oval_is_no_side_of_it():
    ink = page()
    cv2.ellipse(ink, px(40, 22), px(6.2, 1.75), 0, 0, 360, 255, 4)
    cv2.line(ink, px(20, 22), px(33.8, 22), 255, 4)
    cv2.line(ink, px(43.0, 22.9), px(43.3, 20.8), 255, 3)
    cv2.line(ink, px(43.3, 20.8), px(42.7, 21.3), 255, 3)
    pieces = cut_pieces(ink)
    assert ((pieces.x0 > 42 * PX_PER_MM) & (pieces.x1 < 44 * PX_PER_MM) & (pieces.height > 20)).any()
    assert not are_sides(pieces).any()


@pytest.mark.parametrize("short", [0.0, 0.7])
def test_a_bar_is_a_side_only_where_it_reaches_both_lines(short: float):
    ink = page()
    for y in (20, 23.2):
        cv2.line(ink, px(40, y), px(60, y), 255, 4)
    cv2.line(ink, px(40, 20 + short), px(40, 23.2 - short), 255, 4)
    cv2.line(ink, px(20, 21.6), px(40, 21.6), 255, 4)
    assert are_sides(cut_pieces(ink)).any() == (short == 0.0)


def test_letters_that_stand_on_a_broad_cable_are_no_sides_of_an_outline():
    ink = page()
    box = letter(ink, "25E2", (40, 30), high=2.1, thick=3)
    cv2.line(ink, px(10, box[3] + 0.5), px(90, box[3] + 0.5), 255, 14)
    assert not are_sides(cut_pieces(ink)).any()


def test_the_bend_of_a_battery_cable_is_told_and_a_bold_letter_that_touches_a_wire_is_not():
    ink = page()
    cv2.line(ink, px(10, 20), px(30, 20), 255, 14)
    cv2.ellipse(ink, px(30, 22), px(2, 2), 0, 270, 360, 255, 14)
    cv2.line(ink, px(32, 22), px(32, 40), 255, 14)
    box = letter(ink, "B", (50, 30), thick=6)
    cv2.line(ink, px(40, box[3] + 0.1), px(90, box[3] + 0.1), 255, 4)
    pieces = cut_pieces(ink)
    stout = are_stout(pieces)
    bend = ~pieces.free & (pieces.x1 < 36 * PX_PER_MM)
    bold = (pieces.x0 > 45 * PX_PER_MM) & (pieces.area > 100)
    assert stout[bend & (pieces.area > 60)].all()
    assert bend.any()
    assert bold.any()
    assert not stout[bold].any()


def test_a_small_letter_that_ran_full_in_its_outline_is_not_taken_for_a_bit_of_cable():
    ink = page()
    cv2.polylines(ink, [np.array([px(30, 20), px(34, 22), px(30, 24)])], True, 255, 4)
    cv2.line(ink, px(10, 22), px(30, 22), 255, 4)
    cv2.fillPoly(ink, [np.array([px(31.0, 22.8), px(31.5, 21.2), px(32.0, 22.8)])], 255)
    cv2.line(ink, px(32.0, 22.8), px(32.2, 23.0), 255, 2)
    pieces = cut_pieces(ink)
    within = (pieces.x0 > 30.4 * PX_PER_MM) & (pieces.x1 < 32.8 * PX_PER_MM) & (pieces.area > 60)
    assert within.sum() == 1
    assert not are_stout(pieces)[within].any()


CIRCLE = """
...#####...
..#.....#..
.#.......#.
#.........#
#.........#
#.........#
#.........#
#.........#
.#.......#.
..#.....#..
...#####...
"""


@pytest.mark.parametrize(
    ("drawn", "open_"),
    [
        (CIRCLE, True),
        (CIRCLE.replace("#.........#", "#..........", 1), False),  # a C
        (CIRCLE.replace("#.........#", "#....#....#"), False),  # a line runs through it
    ],
    ids=["circle", "gap", "crossed"],
)
def test_an_open_circle_closes_round_bare_paper(drawn: str, open_: bool):
    part = np.array([[c == "#" for c in row] for row in drawn.split()])
    assert is_open_circle(part) is open_


@pytest.mark.parametrize(
    ("radii", "crossed", "rings"),
    [
        (((30, 20), (18, 9)), True, 2),  # a grommet, with its wire through it
        (((30, 20), (18, 9)), False, 2),
        (((24, 24), (10, 13)), False, 1),  # an O in a circle
    ],
)
def test_the_inner_one_of_two_rings_is_no_letter(radii, crossed, rings):
    ink = np.zeros((240, 240), np.uint8)
    for r in radii:
        cv2.ellipse(ink, (120, 120), r, 0, 0, 360, 255, 3)
    if crossed:
        cv2.line(ink, (120, 10), (120, 230), 255, 3)
    pieces = cut_pieces(ink)
    assert int(enclosing(pieces).sum()) == rings


@pytest.mark.parametrize("turned", [False, True])
def test_an_outline_that_its_letter_touches_is_told_among_codes_and_large_letters_are_not(turned: bool):
    ink = page()
    letter(ink, "H2-18", (10, 22), high=1.7)
    cv2.rectangle(ink, px(26, 20.1), px(29.5, 22.1), 255, 3)
    cv2.line(ink, px(27, 20.1), px(28, 22.1), 255, 3)
    letter(ink, "B8D0 18PR", (34, 22), high=1.7)
    letter(ink, "B8DO0", (10, 40), high=3.4)
    picture = np.ascontiguousarray(ink.T) if turned else ink
    pieces = cut_pieces(picture)
    x0, y0 = (pieces.y0, pieces.x0) if turned else (pieces.x0, pieces.y0)
    (it,) = np.flatnonzero(are_frames(pieces))
    assert abs(x0[it] / PX_PER_MM - 26) < 0.3
    assert abs(y0[it] / PX_PER_MM - 20.1) < 0.3
    empty = cut_pieces(page())
    assert len(are_frames(empty)) == 0


@pytest.mark.parametrize(("high", "through", "found"), [(1.3, True, True), (1.3, False, False), (1.7, True, False)])
def test_a_lying_ring_that_a_line_runs_through_is_told(high: float, through: bool, found: bool):
    ink = page()
    cv2.ellipse(ink, px(40, 22), px(1.7, high), 0, 0, 360, 255, 3)
    cv2.line(ink, px(40.2, 8), px(39.8, 36), 255, 4)  # a little askew: so the ring is not cut with the line
    if not through:
        cv2.ellipse(ink, px(40, 22), px(1.5, high - 0.2), 0, 0, 360, 0, -1)
    pieces = cut_pieces(ink)
    assert not through or is_open_circle(pieces.picture(int(pieces.area.argmax())))
    assert are_passed_rings(pieces).any() == found


def test_the_inner_of_two_lying_rings_that_a_line_runs_through_is_told():
    ink = page()
    for size in ((1.7, 1.2), (3.0, 2.2)):
        cv2.ellipse(ink, px(40, 22), px(*size), 0, 0, 360, 255, 3)
    cv2.line(ink, px(40.2, 8), px(39.8, 36), 255, 4)
    pieces = cut_pieces(ink)
    assert [round(pieces.width[k] / PX_PER_MM, 1) for k in np.flatnonzero(are_passed_rings(pieces))] == [
        pytest.approx(3.6, abs=0.3)
    ]


@pytest.mark.parametrize("upright", [False, True])
@pytest.mark.parametrize(("sign", "stub", "found"), [
    ("square", 1.5, True),
    ("ring", 1.5, True),
    ("bar", 1.5, False),  # nothing is closed
    ("square", 0.3, False),  # hardly any wire: an O that a speck touches
    ("long", 1.5, False),
    ("one wire", 1.5, False),
])  # fmt: skip
def test_a_closed_outline_in_the_middle_of_a_short_wire_is_told(sign, stub, found, upright):
    ink = page()
    half = {"long": 3.0}.get(sign, 0.9)
    if sign == "ring":
        cv2.circle(ink, px(40, 22), round(0.9 * PX_PER_MM), 255, 3)
    elif sign == "bar":
        cv2.line(ink, px(40, 21), px(40, 23), 255, 3)
        half = 0
    else:
        cv2.rectangle(ink, px(40 - half, 21.1), px(40 + half, 22.9), 255, 3)
    for way in (1, -1)[: 1 if sign == "one wire" else 2]:
        cv2.line(ink, px(40 + way * half, 22), px(40 + way * (half + stub), 22), 255, 3)
    letter(ink, "B4A BN/VT", (10, 22.9), high=1.8)
    pieces = cut_pieces(np.ascontiguousarray(ink.T) if upright else ink)
    told = np.flatnonzero(are_on_wires(pieces))
    assert len(told) == found
    if found:
        start = pieces.y0[told[0]] if upright else pieces.x0[told[0]]
        assert start / PX_PER_MM == pytest.approx(40 - half - stub, abs=0.3)


@pytest.mark.parametrize("upright", [False, True])
@pytest.mark.parametrize("ring", [False, True], ids=["box", "an O behind a dash"])
def test_a_small_box_between_a_stub_and_a_long_wire_is_told_and_an_o_is_not(ring: bool, upright: bool):
    ink = page()
    if ring:
        cv2.circle(ink, px(40, 22), round(0.9 * PX_PER_MM), 255, 3)
    else:
        cv2.rectangle(ink, px(39.1, 21.1), px(40.9, 22.9), 255, 3)
    cv2.line(ink, px(38.3, 22), px(39.1, 22), 255, 3)
    cv2.line(ink, px(40.9, 22), px(75, 22), 255, 3)
    pieces = cut_pieces(np.ascontiguousarray(ink.T) if upright else ink)
    assert int(are_on_wires(pieces).sum()) == (0 if ring else 1)


def test_codes_on_both_sides_of_a_connector_no_larger_than_their_letters_are_two():
    ink = page()
    one = letter(ink, "B4A 18 BN/VT", (10, 23), high=1.8)
    x = one[2] + 0.6
    cv2.rectangle(ink, px(x + 2.5, 21.1), px(x + 4.4, 23), 255, 3)
    cv2.line(ink, px(x, 22), px(x + 2.5, 22), 255, 3)
    cv2.line(ink, px(x + 4.4, 22), px(x + 6.8, 22), 255, 3)
    other = letter(ink, "B4A 18 BN/VT", (x + 7.3, 23), high=1.8)
    found = blocks(ink)
    assert sorted(round(b.box.x0, 1) for b in found) == pytest.approx([one[0], other[0]], abs=0.2)


def test_a_lying_o_among_turned_letters_that_a_line_runs_through_is_no_ring():
    ink = page()
    for y in (18, 22, 26):
        cv2.ellipse(ink, px(40, y), px(1.7, 1.3), 0, 0, 360, 255, 3)
    cv2.line(ink, px(40.2, 8), px(39.8, 36), 255, 4)
    pieces = cut_pieces(ink)
    assert sum(is_open_circle(pieces.picture(k)) for k in range(len(pieces))) == 3
    assert not are_passed_rings(pieces).any()


def test_a_code_before_and_one_behind_a_connector_are_two_where_a_letter_touches_its_outline():
    ink = page()
    one = letter(ink, "H2-18PR", (10, 22), high=1.7)
    middle, x0 = (one[1] + one[3]) / 2, one[2] + 0.9
    cv2.rectangle(ink, px(x0, middle - 0.75), px(x0 + 3.5, middle + 0.75), 255, 3)
    letter(ink, "D", (x0 + 1.1, middle + 0.75), high=1.45)
    cv2.line(ink, px(x0 - 0.5, middle), px(x0, middle), 255, 3)
    cv2.line(ink, px(x0 + 3.5, middle), px(x0 + 5, middle), 255, 3)
    other = letter(ink, "H2-18BK", (x0 + 5.4, 22), high=1.7)
    found = blocks(ink)
    assert len(found) == 2
    for box in (one, other):
        assert max(iou(box, corners(b)) for b in found) > 0.8
