"""Letters that wear left in bits belong to their line; bits of wires beside a line do not. Pictures are drawn here."""

import cv2
import numpy as np
import pytest

from tests.ink.test_lettering import blocks, letter, page, px


def bits(ink, *boxes):
    """Filled boxes, x0, y0, x1, y1 in mm."""
    for x0, y0, x1, y1 in boxes:
        cv2.rectangle(ink, px(x0, y0), tuple(v - 1 for v in px(x1, y1)), 255, -1)


def code(ink):
    """A code in the middle of a page; its box, mm."""
    return letter(ink, "46.06 1.5", (30, 30), high=2.1)


@pytest.mark.parametrize("behind", [True, False])
def test_a_letter_in_bits_at_an_end_of_a_code_is_of_it_and_so_is_the_one_beyond(behind):
    ink = page()
    x0, y0, x1, y1 = code(ink)
    one, other = (x1 + 0.6, x1 + 1.9) if behind else (x0 - 1.5, x0 - 2.8)
    for x in (one, other):
        bits(ink, (x, y0, x + 0.7, y0 + 0.7), (x + 0.1, y1 - 0.7, x + 0.9, y1))
    (found,) = blocks(ink, 0.6)
    expected = (x0, x1 + 2.8) if behind else (x0 - 2.8, x1)
    assert (found.box.x0, found.box.x1) == pytest.approx(expected, abs=0.15)


def test_a_letter_in_bits_behind_a_point_is_of_the_code():
    ink = page()
    _, y0, x1, y1 = code(ink)
    bits(
        ink, (x1 + 0.4, y1 - 0.3, x1 + 0.7, y1), (x1 + 1.3, y0, x1 + 2.0, y0 + 0.6), (x1 + 1.2, y1 - 1.2, x1 + 2.2, y1)
    )
    (found,) = blocks(ink, 0.6)
    assert found.box.x1 == pytest.approx(x1 + 2.2, abs=0.15)


def test_a_gauge_whose_first_figure_wore_in_two_is_of_its_code_with_the_whole_one_behind_it():
    """A space wide, as typewriters set them: the bits had kept the last figure from the code."""
    ink = page()
    x0, y0, x1, y1 = letter(ink, "J2FELT", (30, 30), high=2.1)
    bits(ink, (x1 + 1.8, y0, x1 + 2.5, y0 + 0.9), (x1 + 1.7, y1 - 0.8, x1 + 2.5, y1))
    last = letter(ink, "8", (x1 + 3.9, y1), high=y1 - y0)
    (found,) = blocks(ink, 0.6)
    assert (found.box.x0, found.box.x1) == pytest.approx((x0, last[2]), abs=0.2)


def test_bits_of_an_upright_wire_that_passes_a_code_are_no_letter_of_it():
    ink = page()
    _, y0, x1, _ = code(ink)
    bits(ink, *((x1 + 0.6, y0 + 1.15 * k, x1 + 1.0, y0 + 1.15 * k + 0.95) for k in range(-4, 6)))
    assert max(b.box.x1 for b in blocks(ink, 0.6) if b.angle == 0) == pytest.approx(x1, abs=0.15)


def test_bits_of_the_wire_that_a_code_interrupts_are_no_letter_of_it():
    ink = page()
    _, y0, x1, y1 = code(ink)
    middle = (y0 + y1) / 2
    bits(ink, (x1 + 0.6, middle - 0.2, x1 + 1.2, middle), (x1 + 0.7, middle + 0.1, x1 + 1.3, middle + 0.3))
    (found,) = blocks(ink, 0.6)
    assert found.box.x1 == pytest.approx(x1, abs=0.15)


def test_a_corner_of_a_wire_beside_a_stain_is_no_lettering():
    ink = page()
    corner = np.array([px(30, 20), px(30, 21.6), px(31.6, 23.3), px(50, 23.3)])
    cv2.polylines(ink, [corner], isClosed=False, color=255, thickness=7)
    bits(ink, (29.6, 23.8, 31.2, 24.3), (30, 24.2, 31.6, 24.6), (30.8, 23.7, 31.1, 23.8))
    assert not blocks(ink)


def test_long_bits_of_two_worn_wires_side_by_side_are_no_lettering():
    ink = page()
    code(ink)
    for x in (70.0, 75.0):
        bits(ink, (x, 10, x + 0.4, 16.6))
    assert all(b.box.x1 < 60 for b in blocks(ink))


def test_a_slash_in_bits_joins_letters_of_which_one_has_a_tail():
    ink = page()
    x0, _, x1, _ = letter(ink, "ag", (30, 30), high=2.6)
    bits(ink, (x1 + 1.7, 28.0, x1 + 2.2, 28.9), (x1 + 1.3, 29.2, x1 + 1.8, 30.1))
    last = letter(ink, "bn", (x1 + 3.2, 30), high=2.6)
    (found,) = blocks(ink, 0.6)
    assert (found.box.x0, found.box.x1) == pytest.approx((x0, last[2]), abs=0.2)


def test_a_small_letter_behind_a_dash_and_another_in_bits_is_of_the_code():
    ink = page()
    x0, _, x1, foot = letter(ink, "1.5 J7", (34, 30), high=2.6)
    bits(ink, (x0 - 1.3, foot - 1.2, x0 - 0.6, foot - 0.9))
    bits(ink, (x0 - 2.6, foot - 1.8, x0 - 1.8, foot - 1.2), (x0 - 2.5, foot - 0.5, x0 - 1.9, foot))
    first = letter(ink, "v", (x0 - 5.0, 30), high=2.6)
    (found,) = blocks(ink, 0.6)
    assert (found.box.x0, found.box.x1) == pytest.approx((first[0], x1), abs=0.2)
