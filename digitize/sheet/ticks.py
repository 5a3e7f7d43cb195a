"""Marks on the frame at the borders of the zones: bars across a double frame, or short strokes outside a single one."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from digitize.harness.place import Box
from digitize.sheet.state import PX_PER_MM

_SINGLE_MM = 1.4
"""Shortest stroke outside a single frame that counts as a mark, beyond ``_CLEAR_MM``."""

_CLEAR_MM = 0.7
"""Left out beside a rule: half a thick pen and what it blurs."""

_NARROW_MM = 3.0
"""Two lines nearer than this are a double rule without room for labels."""

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


def _strip(frame: Box, border: Box | None, side: str) -> tuple[float, float]:
    """From where to where, measured outward from the frame's line, marks of one side are looked for, mm."""
    if border is None:
        return _CLEAR_MM, _CLEAR_MM + _SINGLE_MM
    gap = {
        "top": frame.y0 - border.y0,
        "bottom": border.y1 - frame.y1,
        "left": frame.x0 - border.x0,
        "right": border.x1 - frame.x1,
    }[side]
    if gap < _NARROW_MM:  # a double rule, or no strip on this side: marks stand outside both lines
        return max(gap, 0.0) + _CLEAR_MM, max(gap, 0.0) + _CLEAR_MM + _SINGLE_MM
    return _CLEAR_MM, gap - _CLEAR_MM


def _marks(ink: NDArray[np.uint8], frame: Box, border: Box | None, side: str) -> list[float]:
    """Places of marks along one side, mm."""
    near, far = _strip(frame, border, side)
    level = side in {"top", "bottom"}
    a, b = (frame.x0, frame.x1) if level else (frame.y0, frame.y1)
    line = {"top": frame.y0, "bottom": frame.y1, "left": frame.x0, "right": frame.x1}[side]
    c, d = (line - far, line - near) if side in {"top", "left"} else (line + near, line + far)
    picture = ink if level else ink.T
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
