"""A slash that ran into the letters beside it is cut off them, and the line of lettering holds together."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from digitize.ink.lettering_pieces import cut_pieces
from digitize.ink.lettering_stuck import with_slashes_free
from tests.ink.test_lettering import blocks, letter, page, px


def code(
    *, before: float = 0.35, behind: float = 0.35, deep: float = 0.5, over: float | None = None
) -> tuple[np.ndarray, tuple[float, ...]]:
    """BK/VT, its slash so many mm from the letters beside it and so much deeper than they, up and down. Ink and box, mm.

    ``over``: how much it reaches over them, where that is not ``deep`` too.
    """
    ink = page()
    left = letter(ink, "BK", (20, 30))
    foot, top, x = left[3] + deep, left[1] - (deep if over is None else over), left[2] + before
    cv2.line(ink, px(x, foot), px(x + 1.4, top), 255, 3)
    fresh = page()
    right = letter(fresh, "VT", (30, 30))
    shift = px(x + 1.4 - 0.5 + behind, 0)[0] - px(right[0], 0)[0]
    ink |= np.roll(fresh, shift, axis=1)
    return ink, (left[0], top, right[2] + shift / 12, foot)


@pytest.mark.parametrize("upright", [False, True])
@pytest.mark.parametrize(
    ("before", "behind"), [(0.35, -0.1), (-0.1, 0.6), (-0.1, -0.1)], ids=["behind it", "before it", "on both sides"]
)
def test_letters_that_a_slash_ran_into_are_of_one_line(before: float, behind: float, upright: bool):
    ink, box = code(before=before, behind=behind)
    if upright:
        ink = np.ascontiguousarray(np.rot90(ink))
    pieces = cut_pieces(ink)
    free = with_slashes_free(pieces)
    assert len(free) > len(pieces)
    assert free.area.sum() == pieces.area.sum()
    assert (np.abs(free.slant) > 0.9).sum() == 1
    (found,) = (b for b in blocks(ink) if b.angle == (90 if upright else 0))
    length = found.box.height if upright else found.box.width
    assert length == pytest.approx(box[2] - box[0], abs=0.4)


def test_a_slash_that_hardly_reaches_over_its_letters_but_well_below_them_is_cut_off_too():
    pieces = cut_pieces(code(behind=-0.1, deep=0.6, over=0.0)[0])
    assert (np.abs(with_slashes_free(pieces).slant) > 0.9).sum() == 1


def test_a_slash_is_cut_off_letters_that_a_wire_leads_into():
    ink, box = code(behind=-0.1)
    top, middle, end = box[1] + 0.65, (box[1] + box[3]) / 2, box[2]
    cv2.line(ink, px(end - 2.4, top), px(end - 1.0, top), 255, 3)  # the V ran into the T
    cv2.line(ink, px(end - 0.9, middle), px(end + 12, middle + 0.8), 255, 3)
    pieces = cut_pieces(ink)
    assert (np.abs(with_slashes_free(pieces).slant) > 0.9).sum() == 1


@pytest.mark.parametrize("top", [True, False], ids=["letters at the line above", "letters at the line below"])
def test_a_slash_between_two_wires_that_ran_into_letters_at_one_of_them_is_cut_off(top: bool):
    ink, box = code(behind=-0.1, deep=0.7, over=-0.2)
    if not top:
        ink = np.ascontiguousarray(ink[::-1, ::-1])
        box = (120 - box[2], 60 - box[3], 120 - box[0], 60 - box[1])
    for y in (box[1], box[3]):
        cv2.line(ink, px(5, y), px(100, y), 255, 4)
    free = with_slashes_free(cut_pieces(ink))
    assert (free.slant < -0.85).sum() == 1


def test_a_spur_below_a_letter_is_of_the_letter_and_not_of_the_slash():
    """The letters hang on the wire above, and the slash reaches from there to the wire below."""
    ink, box = code(behind=-0.1, deep=0.7, over=-0.2)
    x, foot = round((box[2] - 3.25) * 12), round((box[3] - 0.7) * 12)
    ink[foot - 4 : foot + 2, x : x + 2] = 255
    for y in (box[1], box[3]):
        cv2.line(ink, px(5, y), px(100, y), 255, 4)
    free = with_slashes_free(cut_pieces(ink))
    (slash,) = np.flatnonzero(free.slant < -0.85)
    assert free.width[slash] < 1.7 * 12


def test_a_slash_with_a_broad_worn_foot_is_cut_off():
    ink, box = code(before=-0.1, behind=0.6, deep=0.6)
    row = round(box[3] * 12) - 4
    foot = int(np.flatnonzero(ink[row])[0])
    ink[row - 1 : row + 2, foot - 4 : foot] = 255
    assert (np.abs(with_slashes_free(cut_pieces(ink)).slant) > 0.9).sum() == 1


def test_the_rough_edge_of_a_slash_stays_with_it():
    ink, box = code(before=0.9, behind=-0.1, deep=0.6)
    row = round(box[3] * 12) - 5
    foot = int(np.flatnonzero(ink[row])[0])
    ink[row - 1 : row + 2, foot - 4 : foot] = 255
    free = with_slashes_free(cut_pieces(ink))
    (slash,) = np.flatnonzero(np.abs(free.slant) > 0.85)
    assert free.x0[slash] <= foot - 4
    assert free.area[slash] > 100


@pytest.mark.parametrize("text", ["AN", "VW", "MZ", "KX", "77", "BLK", "M4"])
def test_letters_that_ran_into_each_other_are_left_as_they_are(text: str):
    ink = page()
    x = 20.0
    for char in text:
        x = letter(ink, char, (x, 30))[2] - 0.35
    pieces = cut_pieces(ink)
    assert with_slashes_free(pieces) is pieces


def test_the_leaning_stem_of_a_four_is_no_slash():
    ink = page()
    box = letter(ink, "BK", (20, 30), high=3.0)
    top, foot, x = box[1], box[3], box[2] + 0.4
    cv2.line(ink, px(x + 1.2, foot), px(x + 2.1, top), 255, 3)
    strokes = [px(x + 1.8, top + 0.6), px(x, foot - 0.6), px(x + 1.2, foot - 0.6)]
    cv2.polylines(ink, [np.array(strokes, np.int32)], isClosed=False, color=255, thickness=3)
    pieces = cut_pieces(ink)
    assert with_slashes_free(pieces) is pieces


def test_a_slash_that_stands_free_is_left_as_it_is():
    pieces = cut_pieces(code(behind=0.7)[0])
    assert with_slashes_free(pieces) is pieces


def test_a_slash_no_deeper_than_its_letters_is_none_of_these():
    pieces = cut_pieces(code(behind=-0.1, deep=-0.1)[0])
    assert with_slashes_free(pieces) is pieces
