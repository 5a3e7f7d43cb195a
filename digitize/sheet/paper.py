"""Where the paper lies in the scan: black scanner borders, a page laid askew, a photo taken at an angle."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

_WORK_SIDE = 1000
"""Long side of the small picture searched; about 2.4 px/mm on an A3 page, edges come out to a tenth of that."""


@dataclass(frozen=True, slots=True, eq=False)
class Paper:
    """The page's outline in the scan.

    Attributes:
        corners: (4, 2) scan px: top left, top right, bottom right, bottom left; may lie outside the scan.
        seen: for left, top, right, bottom: True when an edge of paper was seen, False when the scan simply ends there.
    """

    corners: NDArray[np.float64]
    seen: tuple[bool, bool, bool, bool]

    @property
    def width(self) -> float:
        """Mean length of the top and bottom sides, px."""
        c = self.corners
        return float(np.linalg.norm(c[1] - c[0]) + np.linalg.norm(c[2] - c[3])) / 2

    @property
    def height(self) -> float:
        """Mean length of the left and right sides, px."""
        c = self.corners
        return float(np.linalg.norm(c[3] - c[0]) + np.linalg.norm(c[2] - c[1])) / 2


def find_paper(grey: NDArray[np.uint8]) -> Paper:
    """The outline of the page in a scan (H, W). Sides without a dark surround are the scan's own sides."""
    height, width = grey.shape
    scale = min(1.0, _WORK_SIDE / max(height, width))
    small = cv2.resize(grey, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA) if scale < 1 else grey
    outside = _outside(small)
    h, w = small.shape
    sx, sy = width / w, height / h
    lines = [
        _side(outside, "left"),
        _side(outside, "top"),
        _side(outside, "right"),
        _side(outside, "bottom"),
    ]
    seen = tuple(line is not None for line in lines)
    left = lines[0] or (-0.5, 0.0)
    top = lines[1] or (-0.5, 0.0)
    right = lines[2] or (w - 0.5, 0.0)
    bottom = lines[3] or (h - 0.5, 0.0)
    corners = np.array(
        [_meet(left, top), _meet(right, top), _meet(right, bottom), _meet(left, bottom)], dtype=np.float64
    )
    corners = (corners + 0.5) * (sx, sy) - 0.5
    if not _is_page(corners, width, height):
        whole = np.array([[0, 0], [width, 0], [width, height], [0, height]], dtype=np.float64) - 0.5
        return Paper(whole, (False, False, False, False))
    return Paper(corners, (seen[0], seen[1], seen[2], seen[3]))


def _outside(small: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """255 where a dark surround of the page reaches the border of the picture; thin lines that reach it do not count."""
    h, w = small.shape
    paper = float(np.percentile(small[h // 5 : h - h // 5, w // 5 : w - w // 5], 60))
    dark = np.asarray(small < 0.5 * paper, dtype=np.uint8)
    padded = cv2.copyMakeBorder(dark, 3, 3, 3, 3, cv2.BORDER_CONSTANT, value=1)
    padded = cv2.morphologyEx(padded, cv2.MORPH_OPEN, np.ones((5, 5), np.uint8), borderValue=1)
    cv2.floodFill(padded, None, (0, 0), 255)
    return np.asarray((padded[3:-3, 3:-3] == 255) * 255, dtype=np.uint8)


def _side(outside: NDArray[np.uint8], side: str) -> tuple[float, float] | None:
    """A side as (c, m): x = c + m y for left and right, y = c + m x for top and bottom; None when no surround is seen."""
    field = {
        "left": outside,
        "right": outside[:, ::-1],
        "top": outside.T,
        "bottom": outside[::-1].T,
    }[side]
    rows, depth = field.shape
    inside = field == 0
    first = np.argmax(inside, axis=1).astype(np.float64)
    at = np.arange(rows)
    use = inside.any(axis=1) & (first < 0.35 * depth) & (at > 0.08 * rows) & (at < 0.92 * rows)
    if use.sum() < 0.3 * rows or np.mean(first[use] > 1) < 0.6:
        return None
    c, m = _robust_line(at[use].astype(np.float64), first[use] - 0.5)
    if side in {"right", "bottom"}:
        return depth - 1 - c, -m
    return c, m


def _robust_line(t: NDArray[np.float64], v: NDArray[np.float64]) -> tuple[float, float]:
    """V = c + m t, by least squares with the far points taken out step by step (torn corners, holes, dirt)."""
    keep = np.ones(len(t), dtype=bool)
    c, m = float(np.median(v)), 0.0
    start = np.polyfit(t[:: max(1, len(t) // 50)], v[:: max(1, len(t) // 50)], 1)
    if np.median(np.abs(v - np.polyval(start, t))) < np.median(np.abs(v - c)):
        c, m = float(start[1]), float(start[0])
    for _ in range(6):
        residual = np.abs(v - c - m * t)
        limit = max(1.0, 2.5 * float(np.median(residual)))
        keep = residual <= limit
        if keep.sum() < 8:
            break
        m_, c_ = np.polyfit(t[keep], v[keep], 1)
        c, m = float(c_), float(m_)
    return c, m


def _meet(upright: tuple[float, float], level: tuple[float, float]) -> tuple[float, float]:
    """Where x = c + m y meets y = d + n x."""
    (c, m), (d, n) = upright, level
    x = (c + m * d) / (1 - m * n)
    return x, d + n * x


def _is_page(corners: NDArray[np.float64], width: int, height: int) -> bool:
    """Convex, large, and no side more than a third out of the right angle."""
    area = cv2.contourArea(corners.astype(np.float32))
    return bool(cv2.isContourConvex(corners.astype(np.float32).reshape(-1, 1, 2))) and area > 0.25 * width * height
