"""Outlines that wires make by chance are no parts: round a code, round a name, or where two of them cross at a corner.

The outline of a part ends in itself at its corners, and wires meet it between them (common practice, no source). Own choice:
the corners tell, whatever the detector believes, for a name inside such a loop makes it sure of a part.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from digitize.harness.place import Box
from digitize.ink.bodies import fitted, has_round_outline
from digitize.ink.state import Symbol
from digitize.sheet.state import PX_PER_MM

Mask = NDArray[np.uint8]

_FRAMED = ("module", "relay", "fuse_block", "unknown")
"""Kinds that are drawn with an upright frame when they are as large as this:"""
_ROOMY = 7.0
"""least side, mm; smaller parts stand so near to other wires that a corner says little."""

_AROUND = (1.3, 2.1)
"""How far round a corner both lines are followed, mm: a flag may stand soon after it; a hop that stands on it is so broad."""
_CORE, _NEAR, _LINE = 0.4, 0.6, 1.4
"""The corner's own ink reaches so far; a line goes out so near to the height of its side, and is no broader, mm."""
_INSIDE = 0.25
"""The middle of an outline lies so far within the box of a body, mm."""

_DOUBTFUL, _OPEN, _BESIDE = 0.8, 6.0, 0.8
"""A body less probable than this is no frame when one of its sides has a hole longer than this, mm: looked for so far beside it.
Dashes, wires that hide a few, and names across a side leave less."""


def are_wires_crossing(body: Symbol, ink: Mask) -> bool:
    """True for a "part" with a frame two sides of which cross each other at a corner and go on, or with a side left open.

    Args:
        body: box in sheet mm, as seen: the outline is looked for at its sides. A taught one is never doubted.
        ink: uint8 (H, W) at PX_PER_MM, 255 = ink without lettering.
    """
    if body.kind not in _FRAMED or min(body.box.width, body.box.height) < _ROOMY or body.taught is not None:
        return False
    b = fitted(body, ink).box
    if body.probability < _DOUBTFUL and _widest_hole(b, ink) > _OPEN:
        return True
    corners = [(x, y, dx, dy) for x, dx in ((b.x0, -1), (b.x1, 1)) for y, dy in ((b.y0, -1), (b.y1, 1))]
    return any(_cross_on(ink, x - dx * _INSIDE, y - dy * _INSIDE, dx, dy) for x, y, dx, dy in corners)


def _widest_hole(b: Box, ink: Mask) -> float:
    """The longest stretch of a side of a body's box without ink, mm."""
    sides = [(ink, (b.x0, b.x1), at) for at in (b.y0, b.y1)] + [(ink.T, (b.y0, b.y1), at) for at in (b.x0, b.x1)]
    widest = 0
    for picture, ends, at in sides:
        rows = slice(max(0, round((at - _BESIDE) * PX_PER_MM)), round((at + _BESIDE) * PX_PER_MM) + 1)
        bare = ~picture[rows, max(0, round(ends[0] * PX_PER_MM)) : round(ends[1] * PX_PER_MM)].any(axis=0)
        edges = np.flatnonzero(np.diff(np.concatenate([[False], bare, [False]]).astype(np.int8)))
        widest = max([widest, *(edges[1::2] - edges[::2]).tolist()])
    return widest / PX_PER_MM


def _cross_on(ink: Mask, x: float, y: float, dx: int, dy: int) -> bool:
    """True when the ink at a corner (x, y), mm, goes straight on out of it level towards ``dx`` and upright towards ``dy``."""
    column, row, core, near = (round(v * PX_PER_MM) for v in (x, y, _CORE, _NEAR))
    for reach in (round(v * PX_PER_MM) for v in _AROUND):
        if min(column, row) < reach or column + reach >= ink.shape[1] or row + reach >= ink.shape[0]:
            return False
        part = (ink[row - reach : row + reach + 1, column - reach : column + reach + 1] > 0).astype(np.uint8)
        _, labels = cv2.connectedComponents(part, connectivity=8)
        own = labels[reach - core : reach + core + 1, reach - core : reach + core + 1]
        joined = np.isin(labels, own[own > 0])
        rims = (joined[:, -1 if dx > 0 else 0], joined[-1 if dy > 0 else 0])
        if all(_line_at(rim, reach, near) for rim in rims):
            return True
    return False


def _line_at(rim: NDArray[np.bool_], middle: int, near: int) -> bool:
    """True when a line crosses ``rim``, pixels of one row or column, within ``near`` px of its ``middle``."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], rim, [False]]).astype(np.int8)))
    return any(
        first <= middle + near and last > middle - near and last - first <= _LINE * PX_PER_MM
        for first, last in zip(edges[::2], edges[1::2], strict=True)
    )


_RUNS_ON = (0.35, 1.3)
"""Where beyond a corner of its box the side of a connector has no ink, and a wire that turns there has, mm."""
_ROUND, _OVAL = 1.6, 3.0
"""An oval no longer than this in its breadth, and so broad at least, mm, is told from the wires round a code by its outline."""
_SIDE = (0.3, 1.0)
"""How far outside and inside the edge of a box the line of its side may lie, mm."""


def is_loop_of_wires(body: Symbol, ink: Mask) -> bool:
    """True for a "connector" whose outline goes on at two corners at least: wires that close round a code.

    ``ink``: uint8 (H, W), 255 = ink without lettering. A connector's outline ends in itself, and wires meet it between its
    corners. What passes close by an oval is no side of it.
    """
    b = body.box
    least, most = sorted((b.width, b.height))
    if body.kind != "connector" or (_OVAL <= least >= most / _ROUND and has_round_outline(b, ink)):
        return False
    flat = [_inked(ink, (b.x0, b.x1), y, inward, b.height) for y, inward in ((b.y0, 1), (b.y1, -1))]
    upright = [_inked(ink.T, (b.y0, b.y1), x, inward, b.width) for x, inward in ((b.x0, 1), (b.x1, -1))]
    return sum(flat) + sum(upright) >= 2


def _inked(ink: Mask, ends: tuple[float, float], at: float, inward: int, across: float) -> int:
    """Beyond how many ends of a level side (at height ``at``, mm) its line goes on.

    ``across``: from this side to the opposite one, mm; the wire into the middle of a small connector is not its side.
    """
    low, high = sorted((at - inward * _SIDE[0], at + inward * min(_SIDE[1], 0.25 * across)))
    rows = slice(max(0, round(low * PX_PER_MM)), round(high * PX_PER_MM))
    near, far = _RUNS_ON
    count = 0
    for a, b in ((ends[0] - far, ends[0] - near), (ends[1] + near, ends[1] + far)):
        part = ink[rows, max(0, round(a * PX_PER_MM)) : max(0, round(b * PX_PER_MM))] > 0
        # a line along the strip, not one that crosses it
        count += bool(part.size and part.any(axis=0).mean() > 0.9 and part.mean() < 0.9)
    return count
