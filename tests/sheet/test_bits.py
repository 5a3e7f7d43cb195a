"""Packed pictures grow and shrink as OpenCV's do (the reference), only quicker; nothing moves."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from digitize.sheet.bits import around, closed, grown, grown_back, opened, packed, set_in, shrunk, unpacked

MARGIN = 40
"""Paper around the pictures, px: what lies outside is ink to OpenCV when it shrinks, and paper here."""


def picture(seed: int, width: int, share: float) -> NDArray[np.uint8]:
    rng = np.random.default_rng(seed)
    mask = (rng.random((30, width)) < share).astype(np.uint8) * 255
    mask = cv2.morphologyEx(mask, cv2.MORPH_CLOSE, np.ones((2, 3), np.uint8))
    return np.pad(mask, MARGIN)


def window(length: int, axis: int) -> NDArray[np.uint8]:
    return np.ones((length, 1) if axis == 0 else (1, length), np.uint8)


PICTURES = st.builds(picture, st.integers(0, 10_000), st.integers(1, 150), st.sampled_from([0.05, 0.3, 0.7]))


@settings(deadline=None, max_examples=40)
@given(PICTURES)
def test_a_picture_comes_back_as_it_was(mask: NDArray[np.uint8]):
    assert np.array_equal(unpacked(packed(mask), mask.shape[1]), mask)


@settings(deadline=None, max_examples=40)
@given(PICTURES)
def test_the_pixels_that_are_set_come_in_reading_order(mask: NDArray[np.uint8]):
    """The reference is NumPy's own list of them."""
    rows, columns = set_in(packed(mask))
    assert np.array_equal(np.column_stack([rows, columns]), np.argwhere(mask))


@settings(deadline=None, max_examples=60)
@given(PICTURES, st.integers(1, 19), st.sampled_from([0, 1]))
def test_growing_and_shrinking_are_those_of_opencv(mask: NDArray[np.uint8], length: int, axis: int):
    def seen(bits) -> NDArray[np.uint8]:
        return unpacked(bits, mask.shape[1])

    bits, box = packed(mask), window(length, axis)
    first, last = (0, 0), (0, length - 1) if axis == 0 else (length - 1, 0)
    assert np.array_equal(seen(shrunk(bits, length, axis)), cv2.erode(mask, box, anchor=first))
    assert np.array_equal(seen(grown(bits, length, axis)), cv2.dilate(mask, box, anchor=last))
    assert np.array_equal(seen(grown_back(bits, length, axis)), cv2.dilate(mask, box, anchor=first))
    assert np.array_equal(seen(around(bits, length, axis)), cv2.dilate(mask, window(2 * length + 1, axis)))
    if length % 2:  # an even window has no middle, and OpenCV's result moves
        assert np.array_equal(seen(opened(bits, length, axis)), cv2.morphologyEx(mask, cv2.MORPH_OPEN, box))
        assert np.array_equal(seen(closed(bits, length, axis)), cv2.morphologyEx(mask, cv2.MORPH_CLOSE, box))


@pytest.mark.parametrize("axis", [0, 1])
@pytest.mark.parametrize("length", [2, 10])
def test_what_is_opened_or_closed_stays_in_its_place(axis: int, length: int):
    bar = np.zeros((60, 200), np.uint8)
    bar[20:40, 60:140] = 255
    for change in (opened, closed):
        assert np.array_equal(unpacked(change(packed(bar), length, axis), 200), bar)


@pytest.mark.parametrize("axis", [0, 1])
def test_beyond_the_rim_is_paper(axis: int):
    full = np.full((50, 70), 255, np.uint8)
    shrunken = unpacked(shrunk(packed(full), 4, axis), 70)
    kept = shrunken[:-3] if axis == 0 else shrunken[:, :-3]
    assert kept.all()
    assert not (shrunken[-3:] if axis == 0 else shrunken[:, -3:]).any()
