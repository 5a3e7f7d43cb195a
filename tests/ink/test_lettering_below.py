"""A cavity's letter that ran into the id above it is a sign of its own; the tail of a small letter stays with it."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from digitize.ink.lettering_below import with_signs_below_free
from digitize.ink.lettering_pieces import cut_pieces
from tests.ink.test_lettering import blocks, letter, page, px

Box = tuple[float, float, float, float]


def named(*, wire: bool = True, name: str = "F204", code: str | None = None) -> tuple[NDArray[np.uint8], Box, Box]:
    """An id, 3 mm, and an H, 1.8 mm, that touches its last figure from below, on a wire. Ink and the boxes of both."""
    ink = page()
    x0, y0, x1, y1 = letter(ink, name, (30, 30), high=3.0)
    top = y1 - 0.3
    sign = (x1 - 0.9, top, x1 + 0.5, top + 1.8)
    for a, b in (((sign[0], top), (sign[0], sign[3])), ((sign[2], top), (sign[2], sign[3]))):
        cv2.line(ink, px(*a), px(*b), 255, 3)
    cv2.line(ink, px(sign[0], top + 0.9), px(sign[2], top + 0.9), 255, 3)
    if wire:
        cv2.line(ink, px(10, sign[3] + 0.5), px(110, sign[3] + 0.5), 255, 4)
    if code:
        letter(ink, code, (sign[2] + 1.5, sign[3] - 0.1), high=2.4)
    return ink, (x0, y0, x1, y1), sign


def test_a_sign_that_ran_into_the_id_above_it_is_cut_off_at_the_ids_foot():
    ink, own, sign = named()
    pieces = cut_pieces(ink)
    free = with_signs_below_free(pieces)
    assert len(free) == len(pieces) + 1
    assert free.y0[-1] == pytest.approx(own[3] * 12, abs=2)
    assert free.y1[-1] == pytest.approx(sign[3] * 12, abs=3)
    assert free.y1[:-1].max() == pytest.approx(own[3] * 12, abs=2)


def test_an_id_is_no_line_with_the_code_on_the_wire_below_it():
    ink, own, _ = named(code="H3 BLACK")
    found = [b.box for b in blocks(ink, 0.6)]
    assert any(abs(b.x1 - own[2]) < 1.0 and abs(b.y1 - own[3]) < 0.3 for b in found)
    assert not any(b.x0 < own[2] - 4 and b.x1 > own[2] + 6 for b in found)


def test_without_a_wire_below_nothing_is_cut():
    pieces = cut_pieces(named(wire=False)[0])
    assert with_signs_below_free(pieces) is pieces


@pytest.mark.parametrize("word", ["Plug", "gauge", "(44y"])
def test_the_tail_of_a_small_letter_stays_with_it(word: str):
    ink = page()
    box = letter(ink, word, (30, 30), high=3.0)
    cv2.line(ink, px(10, box[3] + 0.5), px(110, box[3] + 0.5), 255, 4)
    pieces = cut_pieces(ink)
    assert len(with_signs_below_free(pieces)) == len(pieces)


def test_a_slash_that_reaches_below_its_line_is_no_sign():
    ink = page()
    _, _, x1, y1 = letter(ink, "BLK", (30, 30), high=2.4)
    cv2.line(ink, px(x1 + 0.4, y1 + 0.9), px(x1 + 2.4, y1 - 2.3), 255, 3)
    cv2.line(ink, px(10, y1 + 1.6), px(110, y1 + 1.6), 255, 4)
    pieces = cut_pieces(ink)
    assert len(with_signs_below_free(pieces)) == len(pieces)


def test_a_page_without_letters_comes_back_as_it_is():
    pieces = cut_pieces(page())
    assert with_signs_below_free(pieces) is pieces
