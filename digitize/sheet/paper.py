"""Where the paper lies in the scan: black scanner borders, a page laid askew, a photo taken at an angle."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import median_filter

_WORK_SIDE = 1500
"""Long side of the small picture searched; about 3.6 px/mm on an A3 page, edges come out to a tenth of that. What is a line's
own width and what a shadow's is told at this scale: at half of it a hairline of print looks like an edge of paper."""

_EDGE_BAND = 0.1
"""An edge of paper on a light lid is looked for in this outer share of the scan."""

_EDGE_SUPPORT = 0.85
"""Share of the rows in which it must show, of those where it lies within the scan ..."""

_EDGE_CLEAR = 0.8
"""... and where it does not, it is the grain of the scan that shows: so much of what grain leaves must be the edge's."""

_EDGE_ROWS = 0.5
"""... which must be this share of all rows."""


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

    @property
    def slant(self) -> float:
        """How much opposite sides differ in length, as a share: 0 for a page seen squarely."""
        c = self.corners
        top, bottom = np.linalg.norm(c[1] - c[0]), np.linalg.norm(c[2] - c[3])
        left, right = np.linalg.norm(c[3] - c[0]), np.linalg.norm(c[2] - c[1])
        return float(max(abs(top - bottom) / max(top, bottom), abs(left - right) / max(left, right)))


def find_paper(grey: NDArray[np.uint8]) -> Paper:
    """The outline of the page in a scan (H, W). Sides without a dark surround are the scan's own sides."""
    height, width = grey.shape
    small, sx, sy = _small(grey)
    h, w = height / sy, width / sx
    lines = [_side(small, name) or _faint_side(small, name) for name in ("left", "top", "right", "bottom")]
    seen = tuple(line is not None for line in lines)
    left = lines[0] or _beside(lines[2], -0.5, h)
    top = lines[1] or _beside(lines[3], -0.5, w)
    right = lines[2] or _beside(lines[0], w - 0.5, h)
    bottom = lines[3] or _beside(lines[1], h - 0.5, w)
    corners = np.array(
        [_meet(left, top), _meet(right, top), _meet(right, bottom), _meet(left, bottom)], dtype=np.float64
    )
    corners = (corners + 0.5) * (sx, sy) - 0.5
    if not _is_page(corners, width, height):
        whole = np.array([[0, 0], [width, 0], [width, height], [0, height]], dtype=np.float64) - 0.5
        return Paper(whole, (False, False, False, False))
    return Paper(corners, (seen[0], seen[1], seen[2], seen[3]))


def _small(grey: NDArray[np.uint8]) -> tuple[NDArray[np.uint8], float, float]:
    """The scan with its long side at most ``_WORK_SIDE``, and how many of its px go to one of that, across and down.

    First by a whole number, which is four times as quick as by a broken one; a last row or column may be left out there.
    """
    whole = max(1, max(grey.shape) // _WORK_SIDE)
    h, w = grey.shape[0] // whole, grey.shape[1] // whole
    small = grey
    if whole > 1 and min(h, w) > 0:
        small = np.asarray(
            cv2.resize(grey[: h * whole, : w * whole], (w, h), interpolation=cv2.INTER_AREA), dtype=np.uint8
        )
    scale = min(1.0, _WORK_SIDE / max(small.shape))
    if scale < 1:
        small = np.asarray(cv2.resize(small, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA), dtype=np.uint8)
    return small, whole * w / small.shape[1], whole * h / small.shape[0]


def _facing(picture: NDArray[np.uint8], side: str) -> NDArray[np.uint8]:
    """The picture turned so that ``side`` is at column 0 and depth runs along the rows."""
    turned = {"left": picture, "right": picture[:, ::-1], "top": picture.T, "bottom": picture[::-1].T}
    return np.ascontiguousarray(turned[side])


def _turned_back(line: tuple[float, float], side: str, depth: int) -> tuple[float, float]:
    """A line found in ``_facing`` as (c, m) of the picture itself."""
    c, m = line
    return (depth - 1 - c, -m) if side in {"right", "bottom"} else (c, m)


def _side(small: NDArray[np.uint8], side: str) -> tuple[float, float] | None:
    """A side as (c, m): x = c + m y for left and right, y = c + m x for top and bottom; None when no surround is seen.

    Row by row, the paper a little way in is compared with what lies at the scan's border: light may fall unevenly along
    the side. Between the two there must be a step, not the slow shade of a book's spine.
    """
    field = cv2.blur(_facing(small, side), (3, 3))
    rows, depth = field.shape
    rim = max(2, depth // 120)
    paper = np.percentile(field[:, round(0.12 * depth) : round(0.32 * depth)], 60, axis=1)
    around = np.median(field[:, :rim], axis=1)
    paper, around = (median_filter(v, size=31, mode="nearest") for v in (paper, around))
    bright = np.asarray(field > ((paper + around) / 2)[:, None], dtype=np.uint8)
    lasting = cv2.erode(bright, np.ones((1, 7), np.uint8), anchor=(0, 0), borderValue=1)
    first = np.argmax(lasting, axis=1)
    at = np.arange(rows)
    rise = field[at, np.minimum(first + 5, depth - 1)].astype(float) - field[at, np.maximum(first - 5, 0)]
    step = (around < 0.8 * paper) & lasting.any(axis=1) & (rise > 0.4 * (paper - around))
    use = step & (first > 1) & (first < 0.35 * depth) & (at > 0.08 * rows) & (at < 0.92 * rows)
    if use.sum() < 0.3 * rows:
        return None
    line = _robust_line(at[use].astype(np.float64), first[use] - 0.5)
    off = np.abs(first[use] - 0.5 - line[0] - line[1] * at[use])
    if np.mean(off < 4) < 0.6:
        return None
    return _turned_back(line, side, depth)


def _faint_side(small: NDArray[np.uint8], side: str) -> tuple[float, float] | None:
    """The same for paper on a light lid: the outermost straight step or hairline along the whole side, no drawn rule.

    The gradient is clipped, so that what counts is in how many rows an edge shows and not how strong it is.
    """
    field = _facing(small, side)
    rows, depth = field.shape
    width = int(_EDGE_BAND * depth)
    if width < 12 or rows < 60:
        return None
    band = cv2.GaussianBlur(np.ascontiguousarray(field[:, :width]), (3, 5), 0).astype(np.float32)
    gradient = np.zeros_like(band)
    gradient[:, 2:-2] = np.abs(band[:, 4:] - band[:, :-4])
    noise = float(np.median(gradient[:, 2:-2])) + 0.5
    clipped = cv2.dilate(np.minimum(gradient / (5 * noise), 1.0), np.ones((1, 3), np.uint8))
    y = np.arange(round(0.06 * rows), round(0.94 * rows), 3)
    most = int(np.ceil(0.05 * rows / 2)) + 1
    # the edge may leave the scan on one side of a page laid askew: what lies outside counts nothing
    below = np.zeros((len(y) + 1, width + 2 * most), np.float32)
    below[1:, most + 2 : most + width - 2] = clipped[y, 2 : width - 2]
    np.cumsum(below, axis=0, out=below)
    places = np.arange(width)
    best = np.zeros(width)
    slope_at = np.zeros(width)
    for m in np.linspace(-0.05, 0.05, 41):
        shift = np.round(m * (y - rows / 2)).astype(int)
        # rows shifted alike stand together: what they hold is the difference of two sums
        starts = np.concatenate([[0], np.flatnonzero(np.diff(shift)) + 1, [len(y)]])
        columns = (most + shift[starts[:-1]])[:, None] + places
        total = (below[starts[1:, None], columns] - below[starts[:-1, None], columns]).sum(axis=0)
        order = np.sort(shift)
        rows_in = np.searchsorted(order, width - 2 - places, "left") - np.searchsorted(order, 2 - places, "left")
        support = np.where(rows_in >= _EDGE_ROWS * len(y), total / np.maximum(rows_in, 1), 0.0)
        better = support > best
        best[better], slope_at[better] = support[better], m
    grain = float(np.median(best[2:-2]))
    least = max(_EDGE_SUPPORT, grain + _EDGE_CLEAR * (1 - grain))
    strong = np.flatnonzero(best[2:-2] >= least) + 2
    if not len(strong):
        return None
    group = strong[strong <= strong[0] + 10]
    group = group[best[group] >= best[group].max() - 0.02]
    centre = int(group[len(group) // 2])
    line_x = centre + slope_at[centre] * (y - rows / 2)
    y = y[(line_x >= 2) & (line_x < width - 2)]
    line_x = centre + slope_at[centre] * (y - rows / 2)
    near = np.clip(np.round(line_x).astype(int)[:, None] + np.arange(-6, 7), 0, width - 1)
    weight = gradient[y[:, None], near] ** 2
    c, m = _robust_line(y.astype(np.float64), (weight * near).sum(axis=1) / (weight.sum(axis=1) + 1e-6))
    if _is_drawn(field, y, c + m * y):
        return None
    return _turned_back((c, m), side, depth)


def _is_drawn(field: NDArray[np.uint8], y: NDArray[np.int64], x: NDArray[np.float64]) -> bool:
    """True when the line is a pen's, or a line of print: dark, with the same paper on both its sides, or broken.

    The paper beside it is judged by the brightest of its two sides, for a second line may run close by.
    """
    at = np.round(x).astype(int)[:, None] + np.arange(-9, 10)
    rows = field[y[:, None], np.clip(at, 0, field.shape[1] - 1)].astype(float)
    profile = np.median(rows, axis=0)
    before, after = float(profile[:6].max()), float(profile[-6:].max())
    bright = max(before, after, 1.0)
    level = abs(after - before) < 0.06 * bright
    dark = 1 - float(profile[5:-5].min()) / bright
    if level and dark > 0.3:
        return True
    # an edge of paper shows alike all along the side; print is black here and bare there
    low, high = np.percentile(rows[:, 5:-5].min(axis=1), (10, 90))
    return bool(level and high - low > max(0.4 * bright, float(np.ptp(profile))))


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


def _beside(opposite: tuple[float, float] | None, border: float, length: float) -> tuple[float, float]:
    """A side that the scan cut off: at the scan's border in its middle, parallel to the opposite side when that was seen."""
    if opposite is None:
        return border, 0.0
    return border - opposite[1] * length / 2, opposite[1]


def _meet(upright: tuple[float, float], level: tuple[float, float]) -> tuple[float, float]:
    """Where x = c + m y meets y = d + n x."""
    (c, m), (d, n) = upright, level
    x = (c + m * d) / (1 - m * n)
    return x, d + n * x


def _is_page(corners: NDArray[np.float64], width: int, height: int) -> bool:
    """Convex, large, and no side more than a third out of the right angle."""
    area = cv2.contourArea(corners.astype(np.float32))
    return bool(cv2.isContourConvex(corners.astype(np.float32).reshape(-1, 1, 2))) and area > 0.25 * width * height
