"""What stands at the ends of a code is its own where it is lettering: small letters, before a dash or a little off the line."""

import cv2
import numpy as np
import pytest

from tests.ink.test_lettering import blocks, letter, page, px


@pytest.mark.parametrize("off", [0.0, 0.1, 0.2])
def test_a_small_letter_whose_foot_is_a_little_off_the_line_is_not_cut_from_its_code(off):
    ink = page()
    first = letter(ink, "g", (20, 30), high=2.1)
    letter(ink, "n", (21.9, 30 - off), high=2.1)
    cv2.line(ink, px(24.1, 29.1), px(25.3, 29.1), 255, 4)
    rest = letter(ink, "0.75-H1C", (25.7, 30), high=2.1)
    (found,) = blocks(ink, 0.6)
    assert (found.box.x0, found.box.x1) == pytest.approx((first[0], rest[2]), abs=0.2)


def test_a_small_letter_before_a_dash_is_not_cut_from_a_code_as_the_number_of_a_terminal():
    ink = page()
    first = letter(ink, "n", (20, 30), high=2.1)
    cv2.line(ink, px(first[2] + 0.35, 29.1), px(first[2] + 1.7, 29.1), 255, 4)
    rest = letter(ink, "1.5-H3", (first[2] + 2.2, 30), high=2.1)
    (found,) = blocks(ink, 0.6)
    assert (found.box.x0, found.box.x1) == pytest.approx((first[0], rest[2]), abs=0.2)


@pytest.mark.parametrize("at_end", [False, True])
def test_a_letter_that_ran_full_at_an_end_of_a_code_is_of_it(at_end):
    ink = page()
    box = letter(ink, "84.14 1.5", (30, 30), high=2.1)
    x = box[2] + 0.5 if at_end else box[0] - 1.6
    full = (x, box[1], x + 1.1, box[3])
    cv2.rectangle(ink, px(full[0], full[1]), tuple(v - 1 for v in px(full[2], full[3])), 255, -1)
    (found,) = blocks(ink)
    assert (found.box.x0, found.box.x1) == pytest.approx((min(box[0], full[0]), max(box[2], full[2])), abs=0.15)


def test_a_blob_beside_a_code_that_is_not_level_with_it_is_none_of_its_letters():
    ink = page()
    box = letter(ink, "84.14 1.5", (30, 30), high=2.1)
    cv2.rectangle(ink, px(box[0] - 1.6, box[1] + 0.5), px(box[0] - 0.5, box[3] + 0.4), 255, -1)
    assert min(b.box.x0 for b in blocks(ink, 0.6)) == pytest.approx(box[0], abs=0.15)


@pytest.mark.parametrize("radii", [(11, 13), (13, 15)], ids=["the stub alone", "the stub and half a dot in one"])
def test_a_dot_at_the_end_of_the_wire_behind_a_code_is_no_pair_of_letters(radii):
    ink = page()
    box = letter(ink, "46.06 BR-GE", (20, 30), high=2.1)
    middle, x = (box[1] + box[3]) / 2, box[2] + 3.2
    cv2.line(ink, px(x, 10), px(x, 50), 255, 9)
    cv2.ellipse(ink, px(x, middle), radii, 0, 0, 360, 255, -1)
    cv2.line(ink, px(box[2] + 0.8, middle), px(x - 1.6, middle), 255, 9)
    assert max(b.box.x1 for b in blocks(ink, 0.6) if b.box.width > 5) == pytest.approx(box[2], abs=0.2)


@pytest.mark.parametrize("x", [-1.9, 2.1])
def test_an_open_circle_on_a_wire_beside_a_code_is_no_letter_of_it(x):
    ink = page()
    box = letter(ink, "X14C 04 1", (30, 30), high=2.0)
    at = box[0] + x if x < 0 else box[2] + x
    middle = (box[1] + box[3]) / 2
    for y in (8, 50):
        cv2.line(ink, px(at, y), px(at, middle + (1 if y > middle else -1)), 255, 4)
    cv2.circle(ink, px(at, middle), 11, 255, 3)
    (found,) = blocks(ink, 0.6)
    assert (found.box.x0, found.box.x1) == pytest.approx((box[0], box[2]), abs=0.15)


@pytest.mark.parametrize("upright", [False, True])
def test_an_open_circle_with_stubs_of_its_lines_is_no_letter_of_the_code_that_begins_at_it(upright):
    ink = page(120, 120)
    box = letter(ink, "23.06B YE", (40, 60), high=2.2)
    x, y = box[0] - 2.2, (box[1] + box[3]) / 2
    cv2.circle(ink, px(x, y), 12, 255, 4)
    cv2.line(ink, px(x, 10), px(x, y - 1.1), 255, 6)
    cv2.line(ink, px(x, y + 1.1), px(x, y + 1.5), 255, 6)  # of two of its lines there is no more than this
    cv2.line(ink, px(x + 1.1, y), px(x + 1.5, y), 255, 6)
    (found,) = blocks(np.ascontiguousarray(ink.T[::-1]) if upright else ink, 0.6)
    assert (120 - found.box.y1 if upright else found.box.x0) == pytest.approx(box[0], abs=0.15)


@pytest.mark.parametrize("apart", [1.5, 2.2])
def test_a_worn_figure_behind_a_colon_is_of_the_code(apart):
    ink = page()
    box = letter(ink, "Z3D", (30, 30), high=2.0)
    for y in (box[3] - 0.3, box[3] - 1.2):
        cv2.circle(ink, px(box[2] + apart / 2, y), 2, 255, -1)
    x = box[2] + apart
    cv2.rectangle(ink, px(x, box[1] + 0.2), px(x + 0.3, box[3] - 0.15), 255, -1)
    (found,) = blocks(ink, 0.6)
    assert found.box.x1 == pytest.approx(x + 0.3, abs=0.15)


@pytest.mark.parametrize("apart", [2.6, 0.6])
def test_a_bit_of_wire_from_line_to_line_before_a_code_is_of_it_only_where_it_stands_close(apart):
    ink = page()
    box = letter(ink, "S3H 16 BRN", (30, 30), high=2.4)
    x, foot = box[0] - apart, box[3] + 0.3
    cv2.line(ink, px(6, foot), px(80, foot), 255, 4)  # the code stands above this wire
    cv2.line(ink, px(x, foot), px(x, box[1]), 255, 4)
    cv2.line(ink, px(x, box[1]), px(6, box[1]), 255, 4)
    (found,) = [b for b in blocks(ink) if b.box.x1 > 40]
    assert found.box.x0 == pytest.approx(box[0] if apart > 2 else x, abs=0.3)


def test_the_lead_of_a_switch_is_no_letter_beside_its_contact():
    ink = page()
    letter(ink, "PRESSURE SWITCH", (20, 14), high=2.4)
    for x in (30.0, 30.9):
        cv2.line(ink, px(x, 20), px(x, 21.8), 255, 4)
    cv2.line(ink, px(30.9, 20.9), px(36.4, 20.9), 255, 4)
    assert all(b.box.x1 < 31.5 for b in blocks(ink) if b.box.y0 > 16)


def test_a_word_whose_worn_letters_ran_together_is_one_all_the_same():
    ink = page()
    box = letter(ink, "CHARGE", (20, 14), high=2.4)
    middle = (box[1] + box[3]) / 2
    cv2.line(ink, px(box[0] + 0.2, middle), px(box[0] + 6.6, middle), 255, 3)
    letter(ink, "LAMP", (20, 20), high=2.4)
    (found,) = [b for b in blocks(ink) if b.box.y0 < 15]
    assert (found.box.x0, found.box.x1) == pytest.approx((box[0], box[2]), abs=0.2)
