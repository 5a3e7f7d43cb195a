"""Fields that only lines make are no parts: where they cross in rows and columns, and where they close round a name.

Own choice: every line that enters a field of crossings on one side leaves it straight ahead on the other, both ways, and
runs through it unbroken; no part is drawn so. Nor does a part sit astride a side of another one: there, the side is its wire.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from digitize.ink.state import Symbol
from digitize.sheet.state import PX_PER_MM

_DOUBTFUL = 0.6
"""Bodies at least so probable are looked at no more."""
_LEAST = 2
"""So many lines at least run through each way."""
_BESIDE = (0.5, 1.0, 1.5)
"""Where outside the field its lines are looked for, mm: a hop may stand right at its rim."""
_AHEAD = 0.6
"""A line leaves the field within so much of the height at which it entered it, mm."""
_THICKEST = 1.4
"""The broadest line, mm."""
_WANDERS = 1.9
"""A hop carries a line so far off, mm (common practice, no source: hops have radii of 0.8 to 1.5 mm)."""
_UNBROKEN = 0.97
"""So much of a line's length within the field is ink."""

_SURE, _AT_RIMS = 0.8, ("connector", "sleeve", "grommet", "flag", "fuse", "diode")
"""A body at least so probable, of any other kind, has no part's side behind its middle …"""
_ASTRIDE, _ON = 2.0, 0.8
"""… when it is broader than this across the side, and its middle so near to it, mm."""

Mask = NDArray[np.uint8]


def is_crossed_field(body: Symbol, ink: Mask) -> bool:
    """True for a doubtful body that is nothing but lines which run through it both ways.

    Args:
        body: box in sheet mm; a taught one is never doubted.
        ink: uint8 (H, W) at PX_PER_MM, 255 = ink without lettering.
    """
    if body.probability >= _DOUBTFUL or body.taught is not None:
        return False
    b = body.box
    return _run_through(ink, (b.x0, b.x1), (b.y0, b.y1)) and _run_through(ink.T, (b.y0, b.y1), (b.x0, b.x1))


def is_ridden(body: Symbol, bodies: Sequence[Symbol]) -> bool:
    """True for a doubtful body that another, a sure one, sits astride: the middle of that one is on a side of its outline.

    Connectors and what lines pass through (a sleeve, a grommet) may stand at the rim of a part.
    """
    if body.probability >= _DOUBTFUL or body.taught is not None:
        return False
    b = body.box
    for other in bodies:
        o = other.box
        if other.probability < _SURE or other.kind in _AT_RIMS or max(o.width, o.height) > max(b.width, b.height) / 2:
            continue
        (x, y), level, upright = o.centre, b.x0 < o.x0 and o.x1 < b.x1, b.y0 < o.y0 and o.y1 < b.y1
        if level and o.height > _ASTRIDE and min(abs(y - b.y0), abs(y - b.y1)) <= _ON:
            return True
        if upright and o.width > _ASTRIDE and min(abs(x - b.x0), abs(x - b.x1)) <= _ON:
            return True
    return False


def _run_through(ink: Mask, along: tuple[float, float], across: tuple[float, float]) -> bool:
    """True when all level lines at a box's left side, two at least, go on to its right side, and none begins there."""
    x0, x1 = (round(v * PX_PER_MM) for v in along)
    y0, y1 = (max(0, round(v * PX_PER_MM)) for v in across)
    off = [round(d * PX_PER_MM) for d in _BESIDE]
    if x0 < max(off) or x1 + max(off) >= ink.shape[1]:
        return False
    for left in (_heights(ink[y0:y1, x0 - d]) for d in off):
        for right in (_heights(ink[y0:y1, x1 + d]) for d in off):
            if len(left) == len(right) >= _LEAST and all(
                abs(a - b) <= _AHEAD * PX_PER_MM for a, b in zip(left, right, strict=True)
            ):
                return all(_unbroken(ink, (x0, x1), y0 + (a + b) / 2) for a, b in zip(left, right, strict=True))
    return False


def _heights(column: Mask) -> list[float]:
    """The middles of the lines that cross a column, px from its top; nothing when one is too broad for a line."""
    edges = np.diff(np.concatenate([[0], (column > 0).astype(np.int8), [0]]))
    first, last = np.flatnonzero(edges == 1), np.flatnonzero(edges == -1)
    if len(first) and int((last - first).max()) > _THICKEST * PX_PER_MM:
        return []
    return [float(v) for v in (first + last - 1) / 2]


def _unbroken(ink: Mask, along: tuple[int, int], at: float) -> bool:
    """True when a line at about the height ``at``, px, is ink from end to end, hops and all."""
    wanders = round(_WANDERS * PX_PER_MM)
    band = ink[max(0, round(at) - wanders) : round(at) + wanders + 1, along[0] : along[1]] > 0
    return band.size > 0 and float(band.any(axis=0).mean()) >= _UNBROKEN
