"""Two rows of letters that share a line stay two; letters that a line runs through stay whole."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from digitize.ink import lettering_bridges
from digitize.ink.lettering_pieces import cut_pieces
from digitize.sheet.runs import runs_of
from tests.ink.test_lettering import blocks, letter, page, px


def row(ink: np.ndarray, text: str, at: tuple[float, float]) -> tuple[float, float, float, float]:
    """Letters side by side; the box of them all, mm."""
    x, boxes = at[0], []
    for char in text:
        boxes.append(letter(ink, char, (x, at[1])))
        x = boxes[-1][2] + 0.6
    return (boxes[0][0], min(b[1] for b in boxes), boxes[-1][2], max(b[3] for b in boxes))


def rows(*, clear: float = 0.7) -> tuple[np.ndarray, float]:
    """BK/VT clear of the wire below it, but for its slash, and another row that hangs on that wire. Ink; where the slash ends."""
    ink = page()
    left = row(ink, "BK", (20, 30))
    foot = left[3] + clear
    x = left[2] + 0.5
    cv2.line(ink, px(x, foot), px(x + 1.6, left[1] - 0.3), 255, 3)
    row(ink, "VT", (x + 2.0, 30))
    fresh = page()
    below = letter(fresh, "H", (x - 0.3, 30))
    for other in (-6.0, -3.0, 2.5):
        letter(fresh, "H", (x + other, 30))
    ink |= np.roll(fresh, px(0, foot - below[1])[1], axis=0)
    cv2.line(ink, px(5, foot), px(100, foot), 255, 4)
    return ink, foot


@pytest.mark.parametrize("upright", [False, True])
def test_a_slash_that_reaches_a_wire_is_not_led_on_into_the_row_that_hangs_on_it(upright: bool):
    ink, foot = rows()
    if upright:
        ink = np.ascontiguousarray(ink.T)
    pieces = cut_pieces(ink)
    top, stop = (pieces.x0, pieces.x1) if upright else (pieces.y0, pieces.y1)
    assert not ((top < (foot - 1) * 12) & (stop > (foot + 1) * 12)).any()


def test_both_rows_are_found_as_they_are():
    found = [b.box for b in blocks(rows()[0], 0.6)]
    assert len(found) == 2


def test_letters_that_a_wire_runs_through_stay_whole():
    ink = page()
    box = row(ink, "HNEMH", (20, 30))
    middle = (box[1] + box[3]) / 2
    cv2.line(ink, px(5, middle), px(100, middle), 255, 4)
    pieces = cut_pieces(ink)
    whole = (pieces.y0 < (box[1] + 0.3) * 12) & (pieces.y1 > (box[3] - 0.3) * 12)
    assert whole.sum() >= 5


def test_a_letter_on_a_wire_stays_whole_where_no_other_row_is():
    ink = page()
    box = letter(ink, "H", (20, 30))
    middle = (box[1] + box[3]) / 2
    row(ink, "BK", (box[2] + 0.6, 30 - (box[3] - middle) - 0.9))
    cv2.line(ink, px(5, middle), px(100, middle), 255, 4)
    pieces = cut_pieces(ink)
    assert ((pieces.y0 < (box[1] + 0.3) * 12) & (pieces.y1 > (box[3] - 0.3) * 12) & (pieces.x0 < 21 * 12)).any()


def test_a_bit_of_a_letter_beside_a_stroke_is_no_row():
    """A ring on an upright wire, codes to its left and right: letters as high as it reach into where rows are looked for."""
    ink = np.zeros((120, 120), np.uint8)
    cv2.circle(ink, (60, 60), 9, 255, 6)
    for x in (34, 86):
        cv2.ellipse(ink, (x, 68), (7, 8), 0, 0, 360, 255, 3)
    removed = np.zeros_like(ink)
    removed[10:56, 57:63] = 255
    rest = ink.copy()
    lettering_bridges._apart(rest, removed, runs_of(rest & removed))
    assert np.array_equal(rest, ink)
