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


def grainy(*, line: tuple[float, float] | None = None, edge: float | None = None) -> np.ndarray:
    """A pale scan full of grain, at 300 dpi: a wire along the left side from and to (shares of it), or an edge (mm) of paper."""
    per_mm = 300 / 25.4
    grey = np.full((round(297 * per_mm), round(420 * per_mm)), 215.0)
    if edge is not None:
        grey[:, : round(edge * per_mm)] -= 22
    if line is not None:
        rows = slice(*(round(v * len(grey)) for v in line))
        grey[rows, round(25 * per_mm) :][:, : round(0.35 * per_mm)] = 120
    noise = cv2.GaussianBlur(np.random.default_rng(3).normal(0, 1, grey.shape), (0, 0), 5.0)
    return np.clip(cv2.GaussianBlur(grey, (0, 0), 2.0) + 6 * noise / noise.std(), 0, 255).astype(np.uint8)


def test_a_long_wire_near_the_side_of_a_grainy_scan_is_no_edge_of_its_paper():
    assert find_paper(grainy(line=(0.17, 0.86))).seen == (False, False, False, False)


def test_a_faint_edge_is_seen_in_such_grain():
    found = find_paper(grainy(edge=14))
    assert found.seen == (True, False, False, False)
    assert found.corners[[0, 3], 0] / 300 * 25.4 == pytest.approx([14, 14], abs=0.5)
