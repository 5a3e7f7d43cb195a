"""On a sheet of many flags an outline as high as they are is one too, though none of its letters was told from it."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from digitize.harness.place import Box
from digitize.ink.flags import FLAG, find_flags, whole_labels
from digitize.ink.flags_bare import bare_flags
from digitize.ink.state import Symbol, TextBlock
from tests.ink.test_flags import MM, page

USUAL = 3.25
OTHERS = tuple(Symbol(FLAG, Box(5.0, 40.0 + 6 * k, 25.0, 40.0 + 6 * k + USUAL), 0.9) for k in range(4))


def worn() -> NDArray[np.uint8]:
    """A flag on a wire whose letters touch both its long sides."""
    ink = page()
    for x in range(11 * MM, 29 * MM, 18):
        cv2.line(ink, (x, 9 * MM), (x + 10, 12 * MM), 255, 4)
    return ink


@pytest.mark.parametrize("upright", [False, True])
def test_an_outline_as_high_as_the_flags_of_its_sheet_is_a_flag_though_no_lettering_was_seen_in_it(upright: bool):
    ink = np.ascontiguousarray(worn().T) if upright else worn()
    (flag,) = bare_flags(ink, OTHERS, ())
    box = flag.box.swapped() if upright else flag.box
    assert (box.x0, box.y0, box.x1, box.y1) == pytest.approx((10, 9, 30, 12), abs=0.3)


def test_where_flags_are_no_habit_or_are_of_another_height_it_is_none():
    assert not bare_flags(worn(), OTHERS[:3], ())
    higher = tuple(Symbol(FLAG, Box(f.box.x0, f.box.y0, f.box.x1, f.box.y0 + 4.0), 0.9) for f in OTHERS)
    assert not bare_flags(worn(), higher, ())


@pytest.mark.parametrize(
    "spoil",
    [
        lambda ink: ink.__setitem__((slice(None), slice(29 * MM, 32 * MM)), 0),
        lambda ink: ink.__setitem__((slice(9 * MM + 3, 12 * MM - 2), slice(11 * MM, 29 * MM)), 0),
        lambda ink: (
            ink.__setitem__((slice(None), slice(0, 10 * MM - 2)), 0)
            or ink.__setitem__((slice(None), slice(30 * MM + 3, None)), 0)
        ),
    ],
    ids=["open at an end", "empty", "without a wire"],
)
def test_an_outline_that_is_open_empty_or_on_no_wire_is_none(spoil):
    ink = worn()
    spoil(ink)
    assert not bare_flags(ink, OTHERS, ())


def test_a_piece_of_what_is_drawn_in_a_part_is_none_and_what_was_taken_for_a_part_is_one():
    around = Symbol("alternator", Box(4, 4, 36, 16), 0.9)
    assert not bare_flags(worn(), OTHERS, (around,))
    assert bare_flags(worn(), OTHERS, (Symbol("resistor", Box(10, 9, 30, 12), 0.9),))


def test_the_flags_that_are_known_are_not_found_again():
    known = Symbol(FLAG, Box(9.9, 8.9, 30.1, 12.1), 0.9)
    assert not bare_flags(worn(), (*OTHERS, known), ())


@pytest.mark.parametrize("upright", [False, True])
def test_such_a_flag_has_a_block_of_lettering_to_be_read_instead_of_its_strokes(upright: bool):
    flag = Symbol(FLAG, Box(9.9, 8.9, 30.1, 12.1), 0.9)
    strokes = TextBlock(0, Box(14, 9.2, 14.6, 11.8), 0, 0.3)
    if upright:
        flag, strokes = Symbol(FLAG, flag.box.swapped(), 0.9), TextBlock(0, strokes.box.swapped(), 90, 0.3)
    outside = TextBlock(1, Box(32, 32, 40, 35), 0, 0.9)
    texts = whole_labels((strokes, outside), (flag,), np.zeros((600, 600), np.uint8))
    assert [(t.id, t.angle) for t in texts] == [(0, 0), (1, 90 if upright else 0)]
    assert texts[0].box == outside.box
    assert flag.box.grown(-0.3).holds(texts[1].box.centre)
    assert texts[1].box.overlap(flag.box.grown(-0.6)) == pytest.approx(
        flag.box.grown(-0.6).width * flag.box.grown(-0.6).height
    )


@pytest.mark.parametrize("worn_end", [False, True])
def test_the_dot_of_a_splice_right_behind_a_flag_is_no_end_of_it(worn_end: bool):
    ink = page()
    cv2.circle(ink, (10 * MM - 11, round(10.5 * MM)), 14, 255, -1)
    if worn_end:
        for first, last in ((113, 115), (118, 123), (138, 140)):
            ink[first:last, 10 * MM - 4 : 10 * MM + 5] = 0
    block = TextBlock(0, Box(10.8, 9.6, 29.2, 11.4), 0, 0.95)
    (flag,) = find_flags(ink, np.zeros_like(ink), (block,))
    assert flag.box.x0 == pytest.approx(10, abs=0.3)
