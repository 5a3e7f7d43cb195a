"""A row of letters is no sign, whatever it looks like; a sign with letters in it stays. Pictures are drawn here."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from digitize.harness.place import Box
from digitize.ink.lettering import Lettering
from digitize.ink.state import Symbol, TextBlock
from digitize.ink.words_as_signs import is_word, parted_at_signs, without_signs
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


@pytest.mark.parametrize(("sure", "chance", "high", "kept"), [
    (0.99, 0.7, 6.5, False),
    (0.6, 0.7, 6.5, True),  # a doubtful earth mark
    (0.99, 0.95, 6.5, True),  # sure lettering
    (0.99, 0.7, 1.8, True),  # no larger than the mark
])  # fmt: skip
def test_an_earth_mark_with_its_bent_wire_is_no_letter(sure: float, chance: float, high: float, kept: bool):
    mark = Box(10.2, 15.1, 14.0, 16.5)
    wired = Box(10, 16.6 - high, 14.2, 16.6)
    glyphs = np.zeros((300, 300), np.uint8)
    glyphs[round(wired.y0 * 12) : round(wired.y1 * 12), 120:170] = 255
    glyphs[210:230, 120:170] = 255  # its name below
    name = TextBlock(1, Box(10, 17.5, 14.2, 19.2), 0, 0.98)
    found = without_signs(Lettering((TextBlock(0, wired, 0, chance), name), glyphs), [Symbol("ground", mark, sure)])
    assert [(t.id, t.box) for t in found.blocks] == ([(0, wired), (1, name.box)] if kept else [(0, name.box)])
    assert bool(found.glyphs[:200].any()) is kept
    assert found.glyphs[210:230, 120:170].all()


@pytest.mark.parametrize(("sign", "sure", "end"), [
    (Box(17.5, 9.6, 21.5, 13), 0.95, 14.0),  # a push behind a code
    (Box(17.5, 9.6, 21.5, 13), 0.5, 21.3),  # doubtful
    (Box(17.5, 9.9, 21.5, 12.1), 0.95, 21.3),  # as low as the letters: a word that looked like a coil
    (Box(14.3, 9.6, 21.5, 13), 0.95, 21.3),  # letters stand right before it
    (Box(8, 9.6, 21.5, 13), 0.95, 21.3),  # all of it lies within
    (Box(17.5, 9.6, 27, 13), 0.95, 21.3),  # only the lead of what comes behind
])  # fmt: skip
def test_a_line_of_lettering_ends_before_the_sign_whose_strokes_looked_like_its_last_letters(sign, sure, end):
    glyphs = np.zeros((300, 400), np.uint8)
    glyphs[120:144, 120:168] = 255  # letters to 14 mm
    glyphs[120:144, 212:255] = 255  # a knob and its bar
    code = TextBlock(0, Box(10, 10, 21.3, 12), 0, 0.98)
    found = parted_at_signs(Lettering((code,), glyphs), [Symbol("switch", sign, sure)])
    assert found.blocks[0].box.x1 == pytest.approx(end, abs=0.1)
    assert found.glyphs[120:144, 120:168].all()
    assert bool(found.glyphs[:, 212:].any()) is (end > 20)
