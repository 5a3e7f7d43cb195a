"""A row of letters is no sign, whatever it looks like; a sign with letters in it stays. Pictures are drawn here."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from digitize.harness.place import Box
from digitize.ink.state import Symbol
from digitize.ink.words_as_signs import is_word
from digitize.sheet.runs import patches_of, runs_of

BOX = Box(10, 10, 15, 12)


def row(*, heights: tuple[float, ...] = (2, 2, 2, 2), turned: bool = False) -> np.ndarray:
    """Letters 0.8 mm broad side by side on one foot line, the ink of the lettering of a sheet."""
    ink = np.zeros((300, 300), np.uint8)
    for k, high in enumerate(heights):
        x = round((10.1 + 1.2 * k) * 12)
        ink[round((12 - high) * 12) : 144, x : x + 10] = 255
    return np.ascontiguousarray(ink.T) if turned else ink


def word(letters: np.ndarray, lines: np.ndarray | None = None, box: Box = BOX, taught: str | None = None) -> bool:
    lines = np.zeros_like(letters) if lines is None else lines
    return is_word(Symbol("capacitor", box, 0.99, taught=taught), lines, patches_of(runs_of(letters)))


def test_a_row_of_letters_is_a_word():
    assert word(row())
    assert word(row(turned=True), box=Box(10, 10, 12, 15))


def test_what_has_lines_in_it_is_a_sign():
    lines = np.zeros((300, 300), np.uint8)
    cv2.rectangle(lines, (121, 121), (178, 142), 255, 2)
    assert not word(row(), lines)


@pytest.mark.parametrize("heights", [(2, 2), (2, 1, 2, 1), (1, 1, 1, 1)], ids=["two", "uneven", "small"])
def test_two_strokes_plates_and_small_letters_in_a_sign_are_no_word(heights: tuple[float, ...]):
    assert not word(row(heights=heights))


def test_a_sign_that_was_taught_stays():
    assert not word(row(), taught="lesson")
