"""Letters that the bend of a wire caught are of their code, and the bend stays a wire. Pictures are drawn here."""

from dataclasses import replace

import cv2
import numpy as np
import pytest

from digitize.ink.lettering import find_lettering
from digitize.ink.lettering_caught import with_caught_letters
from digitize.ink.lettering_lines import Line
from digitize.ink.lettering_pieces import cut_pieces
from digitize.sheet.state import PX_PER_MM
from tests.ink.test_lettering import blocks, letter, page, px, sheet_of


def bend(ink, start, *, down=True, left=True):
    """A wire that begins level at ``start`` (mm) and turns off in an arc of 2 mm."""
    x, y = start
    way, turn = (-1 if left else 1), (1 if down else -1)
    centre = px(x + way * 0.6, y + turn * 2)
    angles = {(True, True): (180, 270), (False, True): (270, 360), (True, False): (90, 180), (False, False): (0, 90)}
    cv2.line(ink, px(x, y), px(x + way * 0.6, y), 255, 4)
    cv2.ellipse(ink, centre, (24, 24), 0, *angles[(left, down)], 255, 4)
    cv2.line(ink, px(x + way * 2.6, y + turn * 2), px(x + way * 2.6, y + turn * 12), 255, 4)


@pytest.mark.parametrize("upright", [False, True])
@pytest.mark.parametrize("left", [True, False])
def test_a_letter_that_a_bend_touches_is_of_its_code(left, upright):
    ink = page(120, 120)
    box = letter(ink, "P4B 10 YEL" if left else "10 YEL P4B", (40, 60), high=2.0)
    bend(ink, (box[0] + 0.1 if left else box[2] - 0.1, box[1] + 1.0), left=left)
    if upright:
        ink = np.ascontiguousarray(ink.T[::-1])
    (found,) = blocks(ink, 0.6)
    b = found.box
    along = (120 - b.y1, 120 - b.y0) if upright else (b.x0, b.x1)
    assert along == pytest.approx((box[0], box[2]), abs=0.35)
    glyphs = find_lettering(sheet_of(ink)).glyphs
    inked = np.flatnonzero(glyphs.any(axis=1 if upright else 0)) / PX_PER_MM
    assert np.ptp(inked) == pytest.approx(box[2] - box[0], abs=0.4)  # the arc is none of it


def test_the_end_of_a_flag_with_the_corner_of_a_wire_on_it_is_no_letter():
    ink = page()
    box = letter(ink, "0.75 B4 C", (40, 30), high=2.0)
    x = box[2] + 0.5
    for points in (
        ((box[0] - 5, box[1] - 0.6), (x, box[1] - 0.6)),
        ((box[0] - 5, box[3] + 0.6), (x, box[3] + 0.6)),
        ((x, box[1] - 0.6), (x, box[3] + 0.6)),
    ):
        cv2.line(ink, px(*points[0]), px(*points[1]), 255, 4)
    cv2.polylines(
        ink, [np.array([px(x, box[1] + 1.2), px(x + 1.2, box[1] + 0.1), px(x + 20, box[1] + 0.1)])], False, 255, 4
    )
    (found,) = (b for b in blocks(ink, 0.6) if b.box.width > 5)
    assert found.box.x1 == pytest.approx(box[2], abs=0.15)


def test_a_stretch_of_a_wire_as_long_as_letters_are_high_is_none_of_an_upright_code_that_ends_there():
    ink = page(120, 120)
    box = letter(ink, "2.0 YEL D2", (40, 60), high=2.5)
    ink = np.ascontiguousarray(ink.T[::-1])  # now it reads upwards and ends at y = 120 - box[2]
    y = 120 - box[2] - 0.8
    cv2.line(ink, px(box[1] + 0.1, y), px(box[3] - 0.3, y), 255, 4)
    x, up = px(box[3] - 0.3, y)
    cv2.ellipse(ink, (x, up - 20), (20, 20), 0, 0, 90, 255, 4)
    cv2.line(ink, (x + 20, up - 20), (x + 20, up - 200), 255, 4)
    (found,) = blocks(ink, 0.6)
    assert found.box.y0 == pytest.approx(120 - box[2], abs=0.3)


def test_an_open_circle_with_a_bend_at_it_is_no_letter_of_the_code_beside_it():
    ink = page()
    box = letter(ink, "B2B 21 1", (40, 30), high=2.0)
    x, y = box[0] - 1.5, (box[1] + box[3]) / 2
    cv2.circle(ink, px(x, y), 8, 255, 3)
    cv2.line(ink, px(x, y + 0.7), px(x, y + 1.8), 255, 4)
    cv2.ellipse(ink, px(x - 2, y + 1.8), (24, 24), 0, 0, 90, 255, 4)
    cv2.line(ink, px(x - 2, y + 3.8), px(x - 20, y + 3.8), 255, 4)
    (found,) = (b for b in blocks(ink, 0.6) if b.box.width > 5)
    assert found.box.x0 == pytest.approx(box[0], abs=0.15)


def test_the_half_of_an_open_circle_that_lines_left_is_no_letter_of_the_code_beside_it():
    ink = page()
    box = letter(ink, "19.04D VT", (40, 30), high=2.2)
    x, y = box[0] - 1.9, (box[1] + box[3]) / 2
    cv2.circle(ink, px(x, y), 12, 255, 4)
    for points in (((5, y), (x - 1.1, y)), ((x, y - 1.1), (x, y - 4.5)), ((x, y + 1.1), (x, y + 25))):
        cv2.line(ink, px(*points[0]), px(*points[1]), 255, 5)
    cv2.ellipse(ink, px(x + 1, y - 4.5), (12, 12), 0, 180, 270, 255, 5)  # so short a way before the bend is no line
    cv2.line(ink, px(x + 1, y - 5.5), px(x + 30, y - 5.5), 255, 5)
    (found,) = (b for b in blocks(ink, 0.6) if b.box.width > 5)
    assert found.box.x0 == pytest.approx(box[0], abs=0.15)


def test_a_piece_that_is_nothing_but_a_letter_is_not_cut_in_two():
    ink = page()
    letter(ink, "180 B", (40, 30), high=2.1)
    pieces = cut_pieces(ink)
    order = np.argsort(pieces.x0)
    free = np.ones(len(pieces), np.bool_)
    free[order[-1]] = False
    first = [int(k) for k in order[:-1]]
    box = (pieces.x0[first].min(), pieces.x1[first].max(), pieces.y0[first].min(), pieces.y1[first].max())
    worn = Line(0, tuple(first), tuple(first), *map(float, box), 20.0, 1.0)  # of most of its letters less is left
    same, lines = with_caught_letters(replace(pieces, free=free), [worn], np.ones(len(pieces), np.bool_))
    assert len(same) == len(pieces)
    assert lines == [worn]


def test_a_letter_that_ran_nearly_full_on_its_wire_is_still_one():
    ink = page()
    box = letter(ink, "18 BLU", (40, 30), high=2.6, thick=6)
    cv2.line(ink, px(20, box[3] + 0.2), px(90, box[3] + 0.2), 255, 6)
    x, y = px(box[0], box[1])
    cv2.circle(ink, (x + 76, y + 20), 4, 255, -1)  # the lower eye of the B
    (found,) = blocks(ink, 0.6)
    assert (found.box.x0, found.box.x1) == pytest.approx((box[0], box[2]), abs=0.2)


def ran_together(ink, at, high, tail=0.9):
    """A slash whose foot stands on a wire ``tail`` mm below, a V and a T that touch at their tops, ``high`` mm; returns where they end."""
    x, top = at
    foot = top + high
    for a, b in (
        ((x, foot + tail), (x + 0.9, top)),
        ((x + 0.9, top), (x + 1.4, top)),
        ((x + 1.4, top), (x + 2.2, foot)), ((x + 2.2, foot), (x + 3.0, top)),
        ((x + 3.0, top), (x + 4.6, top)), ((x + 3.8, top), (x + 3.8, foot)),
    ):  # fmt: skip
        cv2.line(ink, px(*a), px(*b), 255, 3)
    cv2.line(ink, px(x - 20, foot + tail + 0.1), px(x + 20, foot + tail + 0.1), 255, 4)
    return x + 4.6


@pytest.mark.parametrize("tail", [0.5, 0.9])
def test_letters_that_ran_together_and_into_the_wire_below_are_of_their_code(tail):
    ink = page(120, 120)
    box = letter(ink, "P4B 10 TN", (40, 60), high=2.0)
    end = ran_together(ink, (box[2] + 0.5, box[1] + 0.1), box[3] - box[1] - 0.2, tail)
    (found,) = blocks(ink, 0.6)
    assert (found.box.x0, found.box.x1) == pytest.approx((box[0], end), abs=0.3)
    glyphs = find_lettering(sheet_of(ink)).glyphs
    assert not (ink & ~glyphs)[px(0, box[1] - 1)[1] : px(0, box[3])[1]].any()


def test_a_wire_that_turns_off_behind_a_caught_letter_is_no_letter():
    ink = page(120, 120)
    box = letter(ink, "P4B 10 TN", (40, 60), high=2.0)
    x, top = box[2] + 0.5, box[1] + 0.1
    ran_together(ink, (x, top), box[3] - box[1] - 0.2)
    cv2.ellipse(ink, px(x + 4.6, top + 2), (24, 24), 0, 270, 360, 255, 3)
    cv2.line(ink, px(x + 6.6, top + 2), px(x + 6.6, top + 14), 255, 3)
    glyphs = find_lettering(sheet_of(ink)).glyphs
    assert not glyphs[:, px(x + 3.5, 0)[0] :].any()


@pytest.mark.parametrize("upright", [False, True])
def test_a_slash_within_a_code_that_a_bend_above_it_caught_is_of_its_code(upright: bool):
    ink = page(120, 120)
    left = letter(ink, "D2 BRN", (30, 60), high=2.0)
    x = left[2] + 0.5
    right = letter(ink, "ORG", (x + 1.5, 60), high=2.0)
    high, low = left[1] - 0.3, left[3] + 0.5
    cv2.line(ink, px(x + 1.3, high - 0.4), px(x - 0.1, low), 255, 3)
    cv2.line(ink, px(left[0], low + 0.1), px(right[2], low + 0.1), 255, 4)
    cv2.ellipse(ink, px(x - 0.5, high - 4), (48, 48), 0, 0, 90, 255, 4)
    cv2.line(ink, px(x + 3.5, high - 4), px(x + 3.5, high - 20), 255, 4)
    cv2.line(ink, px(x - 0.5, high), px(left[0], high), 255, 4)
    ink = np.ascontiguousarray(ink.T[::-1]) if upright else ink
    glyphs = find_lettering(sheet_of(ink)).glyphs
    glyphs = np.ascontiguousarray(glyphs[::-1].T) if upright else glyphs
    (a, y0), (b, y1) = px(x, left[1] + 0.2), px(x + 1.3, left[3] - 0.2)
    assert (glyphs[y0:y1, a:b] > 0).any(axis=1).all()
    assert not glyphs[: px(0, high - 0.3)[1]].any(), "the bend is no letter"
