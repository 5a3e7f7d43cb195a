"""Drawing a page at another scale puts everything in its place."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from digitize.sheet.warp import halved, warp_shrunk
from digitize.sheet.warp import shrunk as shrunk_to

WIDTH_MM, HEIGHT_MM = 40.0, 30.0


def middle_of_the_ink(picture: np.ndarray) -> tuple[float, float]:
    ink = 255.0 - picture
    ys, xs = np.indices(picture.shape)
    return float((ink * xs).sum() / ink.sum()), float((ink * ys).sum() / ink.sum())


@settings(max_examples=40, deadline=None)
@given(
    per_mm=st.floats(5.0, 26.0),
    x=st.floats(4.0, WIDTH_MM - 4.0),
    y=st.floats(4.0, HEIGHT_MM - 4.0),
    odd=st.integers(0, 3),
)
def test_a_spot_of_a_scan_that_is_far_too_fine_stands_where_it_stood(
    per_mm: float, x: float, y: float, odd: int
) -> None:
    """Also where the scan was halved once or twice, and rows and columns were left over."""
    scan = np.full((round(HEIGHT_MM * per_mm) + odd, round(WIDTH_MM * per_mm) + odd), 255, np.uint8)
    at = np.array([x, y]) * per_mm - 0.5
    cv2.circle(scan, tuple(np.round(at * 16).astype(int).tolist()), round(0.8 * per_mm * 16), 0, -1, cv2.LINE_AA, 4)
    matrix = np.array([[per_mm, 0, -0.5], [0, per_mm, -0.5], [0, 0, 1.0]])  # sheet mm → scan px
    source = shrunk_to(scan, matrix, WIDTH_MM, HEIGHT_MM, 4.0)
    flat = warp_shrunk(source, matrix, WIDTH_MM, HEIGHT_MM, 4.0)
    assert source[0].shape[0] <= scan.shape[0]
    assert middle_of_the_ink(flat) == pytest.approx((x * 4.0 - 0.5, y * 4.0 - 0.5), abs=0.12)


def test_a_halved_picture_has_the_mean_of_four_pixels_in_each() -> None:
    grey = np.array([[0, 100, 10, 10, 7], [100, 200, 10, 10, 7], [255, 255, 0, 0, 7]], np.uint8)
    assert halved(grey).tolist() == [[100, 10]]
