"""A thin character that stands alone gets the room of a character, on both sides alike."""

from __future__ import annotations

import pytest

from digitize.harness.place import Box
from digitize.reading.lone import NARROWEST, lone_box

STROKE = Box(10.0, 20.0, 10.3, 22.5)


@pytest.mark.parametrize("text", ["I", "1"])
def test_a_lone_stroke_is_boxed_as_a_character_about_its_middle(text: str) -> None:
    wide = lone_box(text, STROKE, 0)
    assert wide.width == pytest.approx(NARROWEST * 2.5)
    assert wide.centre == pytest.approx(STROKE.centre)
    assert (wide.y0, wide.y1) == (STROKE.y0, STROKE.y1)


def test_on_its_side_it_is_widened_along_the_other_axis() -> None:
    turned = Box(20.0, 10.0, 22.5, 10.3)
    for angle in (90, 270):
        assert lone_box("I", turned, angle).height == pytest.approx(NARROWEST * 2.5)
        assert lone_box("I", turned, angle).width == pytest.approx(2.5)


@pytest.mark.parametrize(
    ("text", "box"), [("-", Box(0, 0, 1.2, 0.3)), ("II", STROKE), ("W", Box(0, 0, 2.4, 2.5)), ("", STROKE)]
)
def test_signs_words_and_wide_letters_keep_their_boxes(text: str, box: Box) -> None:
    assert lone_box(text, box, 0) == box
