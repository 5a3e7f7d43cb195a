"""Worn lettering that hangs on a wire, or ran together, is found as lettering. Pictures are drawn here, in px at 12 px/mm."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from digitize.ink.lettering_lines import in_direction
from digitize.ink.lettering_pieces import cut_pieces
from digitize.ink.lettering_shapes import are_sides, are_stout, have_holes
from digitize.ink.lettering_slash import overhanging
from digitize.ink.lettering_stuck import with_slashes_free
from digitize.sheet.state import PX_PER_MM
from tests.ink.test_lettering import blocks, letter, page, px


def hanging(*, deep: float = 0.5) -> tuple[np.ndarray, tuple[float, ...]]:
    """BK/VT that hangs on a wire by all its letters, the slash stuck to the K and so much deeper than they. Ink and box, mm."""
    ink = page()
    left = letter(ink, "BK", (20, 30))
    top, foot, x = left[1] - 0.1, left[3] + deep, left[2] - 0.15
    cv2.line(ink, px(x, foot), px(x + 1.4, top), 255, 3)
    fresh = page()
    right = letter(fresh, "VT", (30, 30))
    ink |= np.roll(fresh, px(x + 1.7, 0)[0] - px(right[0], 0)[0], axis=1)
    end = x + 1.7 + right[2] - right[0]
    cv2.line(ink, px(8, top), px(60, top), 255, 4)
    return ink, (left[0], top, end, foot)


@pytest.mark.parametrize("turns", [0, 1])
@pytest.mark.parametrize("standing", [False, True])
def test_a_slash_that_ran_into_a_letter_is_told_where_both_hang_or_stand_on_a_wire(turns: int, standing: bool):
    ink, _ = hanging()
    ink = np.ascontiguousarray(np.rot90(ink, turns + (2 if standing else 0)))
    pieces = cut_pieces(ink)
    free = with_slashes_free(pieces)
    assert len(free) == len(pieces) + 1
    assert free.area.sum() == pieces.area.sum()
    (found,) = (k for k in range(len(free)) if abs(free.slant[k]) > 0.9 and free.area[k] > 60)
    assert not free.free[found], "it hangs on the wire as it did"
    assert free.ends[found].sum() == 1


def test_a_code_with_such_a_slash_is_one_block():
    ink, box = hanging()
    (found,) = blocks(ink)
    assert (found.box.x0, found.box.x1) == pytest.approx((box[0], box[2]), abs=0.4)


def test_where_letters_on_a_wire_are_all_of_one_depth_nothing_is_cut():
    pieces = cut_pieces(hanging(deep=-0.2)[0])
    assert with_slashes_free(pieces) is pieces


def full(ink: np.ndarray, x: float, top: float, high: float = 3.0) -> None:
    """A letter that ran full: its strokes are half as broad as it is high."""
    cv2.rectangle(ink, px(x, top), px(x + 0.45 * high, top + high), 255, -1)
    cv2.rectangle(ink, px(x, top + 0.4 * high), px(x + 0.7 * high, top + 0.6 * high), 255, -1)


@pytest.mark.parametrize("turns", [0, 1])
def test_a_letter_that_ran_full_beside_others_on_their_wire_is_no_bit_of_a_cable(turns: int):
    ink = page()
    box = letter(ink, "HE", (20, 30), high=3.0)
    full(ink, box[2] + 0.5, box[1], box[3] - box[1])
    cv2.line(ink, px(8, box[1] - 0.1), px(60, box[1] - 0.1), 255, 4)
    alone = page()
    full(alone, 20, 27.0)
    cv2.line(alone, px(8, 26.9), px(60, 26.9), 255, 4)
    assert not are_stout(cut_pieces(np.ascontiguousarray(np.rot90(ink, turns)))).any()
    assert are_stout(cut_pieces(np.ascontiguousarray(np.rot90(alone, turns)))).any()


def test_a_dot_as_high_as_the_letters_beside_it_is_no_letter():
    ink = page()
    box = letter(ink, "HE", (20, 30), high=3.0)
    high = box[3] - box[1]
    cv2.circle(ink, px(box[2] + 0.8 + high / 2, box[1] + high / 2), round(high / 2 * PX_PER_MM), 255, -1)
    cv2.line(ink, px(8, box[1] - 0.1), px(60, box[1] - 0.1), 255, 4)
    pieces = cut_pieces(ink)
    assert are_stout(pieces)[pieces.x0 > px(box[2], 0)[0]].all()


def test_what_a_line_leads_on_from_beside_letters_is_a_bit_of_a_cable():
    ink = page()
    box = letter(ink, "HE", (20, 30), high=3.0)
    full(ink, box[2] + 0.5, box[1], box[3] - box[1])
    cv2.line(ink, px(8, box[1] - 0.1), px(60, box[1] - 0.1), 255, 4)
    pieces = cut_pieces(ink)
    last = int(pieces.x0.argmax())
    assert not are_stout(pieces)[last]
    pieces.ends[last, 1] = True
    assert are_stout(pieces)[last]


@pytest.mark.parametrize("hole", [True, False])
def test_a_filled_piece_between_lines_is_a_letter_where_paper_is_left_in_it(hole: bool):
    ink = page()
    cv2.rectangle(ink, px(20, 27), px(21.8, 30), 255, -1)
    for x in (20, 21.8):
        cv2.circle(ink, px(x, 28.3), 3, 0, -1)
    if hole:
        cv2.circle(ink, px(20.9, 29.1), 3, 0, -1)
    cv2.line(ink, px(8, 27), px(60, 27), 255, 4)
    pieces = cut_pieces(ink)
    asked = pieces.area > 200
    assert asked.sum() == 1
    assert have_holes(pieces, asked).any() == hole
    assert in_direction(pieces, 0, asked).letter.any() == hole


def joined(text: str, high: float = 3.6) -> tuple[np.ndarray, tuple[float, float]]:
    """A word whose letters all ran into each other; ink, and where it begins and ends, mm."""
    ink = page()
    x = 20.0
    for char in text:
        x = letter(ink, char, (x, 30), high=high)[2] - 0.35
    return ink, (20.0, x + 0.35)


@pytest.mark.parametrize("turns", [0, 1])
def test_a_word_in_one_piece_is_lettering_though_the_bars_of_two_letters_are_a_long_run(turns: int):
    ink, _ = joined("THROTTLE")
    ink = np.ascontiguousarray(np.rot90(ink, turns))
    pieces = cut_pieces(ink)
    assert not pieces.lines.any()
    assert pieces.free.all()


def test_a_box_and_a_line_with_teeth_are_no_words():
    ink = page()
    cv2.rectangle(ink, px(20, 20), px(40, 23), 255, 4)
    x = np.arange(20, 40, 1.5)
    teeth = np.array([px(a, 40 if k % 2 else 43) for k, a in enumerate(x)])
    cv2.polylines(ink, [teeth], isClosed=False, color=255, thickness=3)
    cv2.line(ink, px(10, 43), px(20, 43), 255, 3)
    assert cut_pieces(ink).lines.any()
    assert not (cut_pieces(ink).free & (cut_pieces(ink).width > 10 * PX_PER_MM)).any()


def test_a_rough_edge_beyond_the_wire_is_no_stroke_of_the_letter_below():
    ink = page()
    box = letter(ink, "HNH", (20, 30), high=2.4)
    cv2.line(ink, px(8, box[1]), px(60, box[1]), 255, 3)
    edge = px(0, box[1])[1] - 4
    ink[edge : edge + 2, px((box[0] + box[2]) / 2, 0)[0] - 9 :][:, :5] = 255
    pieces = cut_pieces(ink)
    assert (pieces.y0[pieces.height > PX_PER_MM] > edge + 3).all()


def field(ink: np.ndarray, wire: float) -> None:
    """A field below a wire that hops at its end, with a deep bay: its hull reaches over the wire."""
    outline = [
        (20, wire), (42, wire), (43, wire - 1), (45, wire - 1), (46, wire), (48, wire), (48, wire + 12), (44, wire + 12),
        (44, wire + 4), (24, wire + 4), (24, wire + 12), (20, wire + 12),
    ]  # fmt: skip
    cv2.polylines(ink, [np.array([px(*p) for p in outline])], isClosed=True, color=255, thickness=4)


def test_letters_that_stand_on_the_wire_over_a_field_keep_their_feet():
    ink = page()
    box = letter(ink, "BRGU", (26, 30), high=2.4)
    wire = box[3] + 0.05
    cv2.line(ink, px(20, wire), px(42, wire), 255, 4)
    before = cut_pieces(ink)
    field(ink, wire)
    pieces = cut_pieces(ink)
    letters = (pieces.y0 < px(0, box[1] + 0.5)[1]) & (pieces.x0 > px(25, 0)[0]) & (pieces.x1 < px(38, 0)[0])
    assert letters.sum() == 4
    assert pieces.area[letters].sum() == pytest.approx(before.area.sum(), rel=0.02)


@pytest.mark.parametrize("long", [28.0, 6.0])
def test_a_field_beside_a_wire_that_goes_by_is_no_label_but_a_body_that_stands_on_it_is(long: float):
    ink = page()
    cv2.line(ink, px(8, 30), px(70, 30), 255, 4)
    side = [px(20 + long, 30), px(20 + 0.9 * long, 35), px(20 + 0.1 * long, 35), px(20, 30)]
    cv2.polylines(ink, [np.array(side)], isClosed=False, color=255, thickness=4)
    x, y = px(20 + 0.05 * long, 32.5)
    assert bool(cut_pieces(ink).lines[y, x]) == (long < 20)


@pytest.mark.parametrize("turns", [0, 3])
def test_the_hop_of_a_wire_beyond_the_end_of_a_flag_is_no_letter_in_it(turns: int):
    ink = page(120, 120)
    box = letter(ink, "LG14 H4J", (30, 60), high=2.2)
    end, middle, r = box[2] + 0.7, (box[1] + box[3]) / 2, (box[3] - box[1]) / 2
    cv2.rectangle(ink, px(box[0] - 0.6, box[1] - 0.5), px(end, box[3] + 0.5), 255, 3)
    x = end + 0.7 + r
    cv2.line(ink, px(end, middle), px(end + 20, middle), 255, 3)
    cv2.ellipse(ink, px(x, middle), px(r, r), 0, 90, 270, 255, 4)
    cv2.line(ink, px(x, middle + r), px(x, 100), 255, 4)
    cv2.line(ink, px(x, middle - r), px(x, middle - r - 1.2), 255, 4)
    cv2.ellipse(ink, px(x + 2, middle - r - 1.2), px(2, 2), 0, 180, 270, 255, 4)
    cv2.line(ink, px(x + 2, middle - r - 3.2), px(100, middle - r - 3.2), 255, 4)
    (found,) = (
        b.box for b in blocks(np.ascontiguousarray(np.rot90(ink, turns)), 0.6) if max(b.box.width, b.box.height) > 6
    )
    assert max(found.width, found.height) == pytest.approx(box[2] - box[0], abs=0.3)


def test_the_side_of_a_flag_is_one_though_the_outline_of_a_connector_stands_beside_it():
    ink = page()
    for y in (20, 23):
        cv2.line(ink, px(40, y), px(60, y), 255, 4)
    cv2.line(ink, px(40, 20), px(40, 23), 255, 4)
    cv2.line(ink, px(39.0, 10), px(39.0, 26), 255, 7)
    assert are_sides(cut_pieces(ink)).any()


def test_a_slash_reaches_farther_over_the_letters_where_lettering_leans():
    u0, u1 = np.array([0.0, 15.0, 38.0]), np.array([20.0, 53.0, 83.0])
    v0, v1 = np.array([5.0, 0.0, 5.0]), np.array([27.0, 32.0, 27.0])
    assert overhanging(np.array([False, True, False]), (u0, u1, v0, v1), np.array([[0, 1], [1, 2]]))[0].all()
    farther = u0 - np.array([0.0, 0.0, 3.0])
    assert not overhanging(np.array([False, True, False]), (farther, u1, v0, v1), np.array([[0, 1], [1, 2]]))[0].any()


@pytest.mark.parametrize("alike", [True, False])
def test_three_pieces_that_hang_on_a_wire_are_a_code_where_other_lettering_is_as_high(alike: bool):
    ink = page()
    x = 20.0
    for word in ("PR", "4", "OG"):
        for char in word:
            box = letter(ink, char, (x, 30))
            x = box[2] - 0.35
        x += 1.4
    cv2.line(ink, px(8, box[1] - 0.1), px(60, box[1] - 0.1), 255, 4)
    letter(ink, "OTHER NAMES", (60, 50), high=2.5 if alike else 4.5)
    found = [b for b in blocks(ink) if b.box.y0 < 35]
    assert bool(found) == alike


def test_a_bit_of_the_outline_under_a_code_is_no_comma_of_it():
    ink = page()
    box = letter(ink, "F1C 18 GRA", (20, 30))
    cv2.rectangle(ink, px(30, box[3] + 0.1), px(30.3, box[3] + 0.35), 255, -1)
    (found,) = blocks(ink)
    assert found.box.y1 == pytest.approx(box[3], abs=0.09)
