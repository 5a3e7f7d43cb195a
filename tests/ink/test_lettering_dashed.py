"""Dashed outlines: their corners are no figures, dashes that touch a letter are none of it, and real letters stay."""

import cv2
import numpy as np
import pytest

from digitize.ink.lettering import find_lettering
from digitize.ink.lettering_dashed import dashed_corners, off_dashes
from digitize.ink.lettering_lines import broken_lines
from digitize.ink.lettering_pieces import cut_pieces
from tests.ink.test_lettering import letter, page, px, sheet_of


def dashed_box(ink, x0, y0, x1, y1, dash=1.7, gap=0.8):
    """An outline of dashes that turn its right upper corner as one bent stroke, as a pen with a dash length draws it."""
    corner = np.array([px(x1 - 0.8, y0), px(x1, y0), px(x1, y0 + 1.9)], np.int32)
    cv2.polylines(ink, [corner], isClosed=False, color=255, thickness=4)
    x = x1 - 0.8 - gap
    while x - dash > x0:
        for y in (y0, y1):
            cv2.line(ink, px(x - dash, y), px(x, y), 255, 4)
        x -= dash + gap
    y = y0 + 1.9 + gap
    while y + dash < y1:
        for x in (x0, x1):
            cv2.line(ink, px(x, y), px(x, y + dash), 255, 4)
        y += dash + gap


def strings(ink):
    """Boxes, mm, of the lettering that is found, from 1 mm high and believed a little."""
    return [b.box for b in find_lettering(sheet_of(ink)).blocks if b.probability >= 0.1 and b.box.height > 1]


@pytest.mark.parametrize("touches", [False, True])
def test_a_terminals_letter_in_the_corner_of_a_dashed_outline_is_found_without_the_corner(touches: bool):
    ink = page()
    dashed_box(ink, 30, 20, 50, 38)
    for word, y in (("SWITCH", 12), ("LAMP", 52)):
        letter(ink, word, (30, y))
    top = 20.1 if touches else 20.45
    x0, _, x1, foot = letter(ink, "D", (46.8, top + 1.8), high=1.8)
    found = [b for b in strings(ink) if b.holds(((x0 + x1) / 2, top + 1))]
    assert len(found) == 1
    assert abs(found[0].x0 - x0) < 0.2
    assert abs(found[0].x1 - x1) < 0.2
    assert abs(found[0].y1 - foot) < 0.2


def test_a_real_one_behind_a_letter_stays_and_the_corner_behind_it_goes():
    ink = page()
    dashed_box(ink, 30, 20, 50, 38)
    for word, y in (("SWITCH", 12), ("LAMP", 52)):
        letter(ink, word, (30, y))
    x0, _, x1, _ = letter(ink, "A1", (45.4, 21.9), high=1.8)
    (found,) = [b for b in strings(ink) if b.holds(((x0 + x1) / 2, 21.1))]
    assert abs(found.x0 - x0) < 0.2
    assert abs(found.x1 - x1) < 0.2


def test_an_l_before_dashes_to_write_on_is_no_corner():
    ink = page()
    _, _, x1, foot = letter(ink, "TOTAL", (20, 30))
    for k in range(5):
        cv2.line(ink, px(x1 + 0.8 + 2.5 * k, foot - 0.15), px(x1 + 2.5 + 2.5 * k, foot - 0.15), 255, 4)
    pieces = cut_pieces(ink)
    broken = broken_lines(pieces)
    assert broken.any()
    assert not dashed_corners(pieces, broken).any()


def test_the_bar_of_a_t_behind_a_row_of_dashes_stays_with_it():
    ink = page()
    for k in range(4):
        cv2.line(ink, px(20 + 2.5 * k, 20), px(21.7 + 2.5 * k, 20), 255, 4)
    letter(ink, "T", (30, 22.4), thick=4)
    pieces = cut_pieces(ink)
    after, _ = off_dashes(pieces, broken_lines(pieces))
    assert len(after) == len(pieces)


def test_a_thick_corner_is_a_corner_whole():
    ink = page()
    for k in range(4):
        cv2.line(ink, px(20 + 2.5 * k, 20), px(21.7 + 2.5 * k, 20), 255, 5)
    corner = np.array([px(30, 20), px(30.9, 20), px(30.9, 22)], np.int32)
    cv2.polylines(ink, [corner], isClosed=False, color=255, thickness=6)
    pieces = cut_pieces(ink)
    after, broken = off_dashes(pieces, broken_lines(pieces))
    assert len(after) == len(pieces)
    assert broken.all()
