"""Marks on the frame at the borders of the zones: bars across a double frame, or short strokes outside a single one."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from digitize.harness.place import Box
from digitize.sheet.state import PX_PER_MM

_SINGLE_MM = 2.0
"""Shortest stroke outside a single frame that counts as a tick."""

_SAME_MM = 1.2
"""Marks on opposite sides closer than this are one border."""


def find_ticks(ink: NDArray[np.uint8], frame: Box, border: Box | None) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """X of the marks along the top and bottom, y of those along the left and right, sheet mm, rising.

    ``ink`` is the flat ink image; ``border`` the outer line of a double frame or None.
    """
    top = _marks(ink, frame, border, "top")
    bottom = _marks(ink, frame, border, "bottom")
    left = _marks(ink, frame, border, "left")
    right = _marks(ink, frame, border, "right")
    return _both(top, bottom), _both(left, right)


def _marks(ink: NDArray[np.uint8], frame: Box, border: Box | None, side: str) -> list[float]:
    """Places of marks along one side, mm."""
    outer = border or Box(
        frame.x0 - _SINGLE_MM - 1, frame.y0 - _SINGLE_MM - 1, frame.x1 + _SINGLE_MM + 1, frame.y1 + _SINGLE_MM + 1
    )
    clear = 0.7
    if side == "top":
        a, b, c, d = frame.x0, frame.x1, outer.y0 + clear, frame.y0 - clear
    elif side == "bottom":
        a, b, c, d = frame.x0, frame.x1, frame.y1 + clear, outer.y1 - clear
    elif side == "left":
        a, b, c, d = frame.y0, frame.y1, outer.x0 + clear, frame.x0 - clear
    else:
        a, b, c, d = frame.y0, frame.y1, frame.x1 + clear, outer.x1 - clear
    picture = ink if side in {"top", "bottom"} else ink.T
    height, width = picture.shape
    x0, x1 = (round(max(0.0, v) * PX_PER_MM) for v in (a, b))
    y0, y1 = (round(max(0.0, v) * PX_PER_MM) for v in (c, d))
    band = picture[max(0, y0) : min(height, y1), max(0, x0) : min(width, x1)] > 0
    if band.shape[0] < 4 or band.shape[1] < 10:
        return []
    # a mark may lean by a px or two: neighbours count together
    spread = band.copy()
    spread[:, 1:] |= band[:, :-1]
    spread[:, :-1] |= band[:, 1:]
    full = spread.mean(axis=0) >= 0.92
    marks = []
    edges = np.flatnonzero(np.diff(np.concatenate([[0], full.astype(np.int8), [0]])))
    for start, stop in zip(edges[::2], edges[1::2], strict=True):
        if stop - start <= 1.4 * PX_PER_MM:
            marks.append((x0 + (start + stop) / 2) / PX_PER_MM)
    return [m for m in marks if a + 2.0 < m < b - 2.0]


def _both(first: list[float], second: list[float]) -> tuple[float, ...]:
    """Marks of two opposite sides as one list; the mean where both show one."""
    marks = sorted([*first, *second])
    merged: list[list[float]] = []
    for mark in marks:
        if merged and mark - merged[-1][-1] <= _SAME_MM:
            merged[-1].append(mark)
        else:
            merged.append([mark])
    return tuple(float(np.mean(group)) for group in merged)
