"""A sign alone that touches a wire is lettering when it winds as figures do; what is a bit of a wire is not."""

from __future__ import annotations

import cv2
import pytest

from tests.ink.test_lettering import blocks, letter, page, px


def touching(sign: str, *, at_top: bool = True, others: str = "4417 4711"):
    """A sign that touches a wire with its top or its foot, below lettering of its height. Ink and the sign's box."""
    ink = page()
    letter(ink, others, (30, 20), high=1.6, thick=2)  # what the wire covers of the sign is gone
    x0, y0, x1, y1 = letter(ink, sign, (36, 40), high=1.8, thick=2)
    y = y0 - 0.1 if at_top else y1 + 0.1
    cv2.line(ink, px(10, y), px(70, y), 255, 4)
    return ink, (x0, y0, x1, y1)


def signs(ink, box):
    x, y = (box[0] + box[2]) / 2, (box[1] + box[3]) / 2
    return [b for b in blocks(ink, 0.5) if b.box.holds((x, y)) and b.box.width < 4]


@pytest.mark.parametrize("sign", ["5", "3", "S", "B", "E"])
@pytest.mark.parametrize("at_top", [True, False])
def test_a_sign_that_winds_is_lettering_though_it_touches_a_wire(sign: str, at_top: bool):
    assert len(signs(*touching(sign, at_top=at_top))) == 1


@pytest.mark.parametrize("sign", ["1", "L", "U"])
def test_a_bit_of_a_wire_that_hangs_on_one_is_none(sign: str):
    assert not signs(*touching(sign))


def test_where_no_other_lettering_is_as_high_nothing_is_said():
    assert not signs(*touching("5", others="-"))
