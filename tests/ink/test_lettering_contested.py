"""Lines of lettering side by side: what stands between them parts them, and what one takes is not lost to the other."""

import cv2
import numpy as np
import pytest

from digitize.ink.lettering import _settled
from digitize.ink.lettering_lines import Line
from digitize.sheet.state import PX_PER_MM
from tests.ink.test_lettering import blocks, letter, page, px


def spaced(ink, text, x, y, step=3.0):
    """Wide lettering, letter by letter; returns its box in mm."""
    boxes = [letter(ink, c, (x + step * k, y), high=2.2) for k, c in enumerate(text)]
    return boxes[0][0], min(b[1] for b in boxes), boxes[-1][2], boxes[0][3]


@pytest.mark.parametrize(("splice", "down"), [(True, 50), (True, 60), (False, 0)])
def test_a_splice_between_two_codes_on_one_wire_parts_them(splice, down):
    ink = page()
    first = spaced(ink, "B5B11", 20, 30)
    second = spaced(ink, "B5C11", first[2] + 3.4, 30)
    x, y = (first[2] + second[0]) / 2, (first[1] + first[3]) / 2
    if splice:
        at = px(x, y)
        cv2.circle(ink, at, 8, 255, -1)
        cv2.line(ink, (at[0] - 12, at[1]), (at[0] + 12, at[1]), 255, 4)
        bend = (at[0] + 4, at[1] + 8 + down)
        cv2.polylines(ink, [np.array([(at[0] + 4, at[1] + 8), bend, (bend[0] + 300, bend[1])])], False, 255, 5)
    found = sorted(b.box.x0 for b in blocks(ink, 0.6) if b.box.width > 5)
    assert found == pytest.approx([first[0], second[0]] if splice else [first[0]], abs=0.3)


@pytest.mark.parametrize("gap", [8, 10, 16])
def test_a_dash_between_a_code_and_something_much_higher_joins_nothing(gap):
    ink = page()
    code = letter(ink, "25-E1", (20, 30), high=2.4)
    y = round((code[1] + code[3]) / 2 * PX_PER_MM)
    x = round(code[2] * PX_PER_MM)
    ink[y - 1 : y + 2, x + gap : x + gap + 18] = 255  # the sign of a pole, then the plates of a battery
    at = x + gap + 28
    ink[y - 35 : y + 35, at : at + 4] = 255
    ink[y - 18 : y + 18, at + 22 : at + 28] = 255
    ink[y - 1 : y + 2, at : at + 22] = 255
    (found,) = (b for b in blocks(ink, 0.6) if b.box.width > 5)
    assert found.box.y1 == pytest.approx(code[3], abs=0.3)


def test_a_code_of_small_letters_a_dash_and_figures_is_one_line():
    ink = page()
    box = letter(ink, "ws-25-E1", (20, 30), high=2.4)
    (found,) = (b for b in blocks(ink, 0.6) if b.box.width > 3)
    assert (found.box.x0, found.box.x1) == pytest.approx((box[0], box[2]), abs=0.2)


@pytest.mark.parametrize("last", [False, True])
def test_what_a_better_line_left_of_a_long_one_is_no_line_of_its_own_before_it_was_looked_at_again(last):
    level = Line(0, (0, 1, 2, 3, 4), (0, 1, 2, 3, 4), 0.0, 100.0, 0.0, 20.0, 20.0, 9.0)
    upright = Line(90, (4, 5, 6, 7, 8), (4, 5, 6, 7, 8), 0.0, 100.0, 90.0, 110.0, 20.0, 5.0)
    single = Line(0, (7,), (7,), 90.0, 110.0, 60.0, 80.0, 20.0, 2.0)
    other = Line(0, (9, 10), (9, 10), 200.0, 240.0, 0.0, 20.0, 20.0, 1.0)
    usable = np.ones(11, np.bool_)
    found = _settled([single, other, upright, level], usable, np.full(20, 20.0), last=last)
    assert [level in found, upright in found, single in found, other in found] == [True, False, last, True]
    assert usable.tolist() == [False] * 5 + [True, True, not last, True] + [False] * 2
