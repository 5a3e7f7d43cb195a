"""What is printed along the sides of a page is no edge of its paper."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from digitize.sheet.paper import find_paper


@pytest.mark.parametrize("dpi", [200, 300, 400, 600])
@pytest.mark.parametrize(
    "lines", [((12.6, 12.85),), ((11.62, 11.94), (12.63, 13.4))], ids=["one line", "a thin and a thick one"]
)
def test_a_border_printed_along_a_side_is_no_edge_of_paper_at_any_resolution(
    dpi: int, lines: tuple[tuple[float, float], ...]
):
    """A clean A4 page in its file: the scan ends where the paper does, and nothing but a border is drawn on it (from, to: mm)."""
    per_mm = dpi / 25.4
    grey = np.full((round(210 * per_mm), round(297 * per_mm)), 255, np.uint8)
    for first, last in lines:
        for inset, colour in ((first, 0), (last, 255)):
            x0, y0, x1, y1 = (round(v * per_mm) for v in (inset, inset, 297 - inset, 206.2 - inset))
            cv2.rectangle(grey, (x0, y0), (x1, y1), colour, -1)
    assert find_paper(grey).seen == (False, False, False, False)
