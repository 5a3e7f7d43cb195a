"""Small drawn pages with known geometry, and ways to spoil them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from digitize.sheet.state import Scan

Grey = NDArray[np.uint8]


@dataclass(frozen=True)
class DrawnPage:
    """A page drawn at ``per_mm`` px/mm: width, height and frame (x0, y0, x1, y1) in mm."""

    grey: Grey
    per_mm: float
    width: float
    height: float
    frame: tuple[float, float, float, float]


def draw_page(
    width: float = 210.0,
    height: float = 148.5,
    dpi: float = 200.0,
    frame: tuple[float, float, float, float] | None = (14.0, 14.0, 196.0, 130.0),
    *,
    double: bool = False,
    ticks: int = 0,
    wires: bool = True,
) -> DrawnPage:
    """A landscape page with a frame, a dozen lines at known places and some lettering."""
    q = dpi / 25.4
    page = np.full((round(height * q), round(width * q)), 235, np.uint8)

    def line(x0: float, y0: float, x1: float, y1: float, pen: float = 0.4) -> None:
        a, b = (round(x0 * q), round(y0 * q)), (round(x1 * q), round(y1 * q))
        cv2.line(page, a, b, 25, max(1, round(pen * q)))

    box = frame or (14.0, 14.0, 196.0, 130.0)
    x0, y0, x1, y1 = box
    if frame is not None:
        for a, b, c, d in ((x0, y0, x1, y0), (x1, y0, x1, y1), (x1, y1, x0, y1), (x0, y1, x0, y0)):
            line(a, b, c, d, 0.5)
        if double:
            o = 6.0
            for a, b, c, d in (
                (x0 - o, y0 - o, x1 + o, y0 - o),
                (x1 + o, y0 - o, x1 + o, y1 + o),
                (x1 + o, y1 + o, x0 - o, y1 + o),
                (x0 - o, y1 + o, x0 - o, y0 - o),
            ):
                line(a, b, c, d, 0.3)
            for i in range(1, ticks):
                x = x0 + (x1 - x0) * i / ticks
                line(x, y0 - o, x, y0, 0.3)
                line(x, y1, x, y1 + o, 0.3)
    if wires:
        for i in range(5):
            y = y0 + 12 + 18 * i
            line(x0 + 20, y, x0 + 70, y)
            line(x0 + 70, y, x0 + 70, y + 9)
            line(x0 + 70, y + 9, x1 - 30, y + 9)
            cv2.putText(
                page,
                f"R{i}4B 18 RED",
                (round((x0 + 25) * q), round((y - 1) * q)),
                cv2.FONT_HERSHEY_SIMPLEX,
                0.09 * q,
                25,
                max(1, round(0.25 * q)),
                cv2.LINE_AA,
            )
    return DrawnPage(page, q, width, height, box)


def turned(page: Grey, degrees: float, paper: int = 235) -> Grey:
    """The same picture turned about its middle, clockwise as seen, on a sheet large enough, filled with paper."""
    h, w = page.shape
    matrix = cv2.getRotationMatrix2D((w / 2 - 0.5, h / 2 - 0.5), -degrees, 1.0)
    return cv2.warpAffine(page, matrix, (w, h), flags=cv2.INTER_AREA, borderValue=paper)


def on_bed(page: Grey, corners_px: list[tuple[float, float]], size: tuple[int, int], bed: int) -> tuple[Grey, NDArray]:
    """The page laid on a scanner's bed (brightness ``bed``) with its corners at ``corners_px``; the matrix page → scan."""
    h, w = page.shape
    source = np.array([[-0.5, -0.5], [w - 0.5, -0.5], [w - 0.5, h - 0.5], [-0.5, h - 0.5]], np.float32)
    matrix = cv2.getPerspectiveTransform(source, np.array(corners_px, np.float32))
    out = cv2.warpPerspective(page, matrix, size, flags=cv2.INTER_AREA, borderValue=bed)
    noise = np.random.default_rng(7).normal(0, 2.0, out.shape)
    return np.clip(out + noise, 0, 255).astype(np.uint8), matrix


def scan_of(dpi: float | None = None) -> Scan:
    """A Scan that names no real file; flatten gets its pixels by hand."""
    return Scan("page_01", "page_01.png", 0, "0" * 64, dpi, "drawn for the test")


@pytest.fixture(name="draw_page")
def _draw_page() -> Callable[..., DrawnPage]:
    return draw_page


@pytest.fixture(name="turned")
def _turned() -> Callable[..., Grey]:
    return turned


@pytest.fixture(name="on_bed")
def _on_bed() -> Callable[..., tuple[Grey, NDArray]]:
    return on_bed


@pytest.fixture(name="scan_of")
def _scan_of() -> Callable[..., Scan]:
    return scan_of
