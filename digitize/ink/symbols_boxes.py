"""Boxes of symbols moved to the drawn outline, on the pixels of the sheet."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
from numpy.typing import NDArray

from digitize.harness.place import Box
from digitize.ink.state import Symbol
from digitize.sheet.ranked import percentile
from digitize.sheet.state import PX_PER_MM

_REACH = 0.9
"""A side is looked for this far, mm, to both sides of where the net put it."""

_MORE = 0.35
"""The outline's outermost row or column has at least this much more ink, mm, than the wires that reach it."""
_PIECE, _SPECK = 0.2, 1.2
"""The largest piece of ink of a symbol is so long, in the shorter side of its box, however its strokes are broken; or it is a
dash, longer than a speck, mm."""


def is_drawn(symbol: Symbol, ink: NDArray[np.uint8]) -> bool:
    """False where there is nothing in the box of a symbol but specks: the net saw its shape in the grain of the paper.

    ``ink``: uint8 (H, W) at PX_PER_MM, 255 where ink.
    """
    b = symbol.box
    rows = slice(max(0, round(b.y0 * PX_PER_MM)), max(0, round(b.y1 * PX_PER_MM)))
    columns = slice(max(0, round(b.x0 * PX_PER_MM)), max(0, round(b.x1 * PX_PER_MM)))
    part = ink[rows, columns]
    if not part.size:
        return False
    _, _, pieces, _ = cv2.connectedComponentsWithStats(part, connectivity=8)
    sides = pieces[1:, [cv2.CC_STAT_WIDTH, cv2.CC_STAT_HEIGHT]]
    return bool(sides.max(initial=0) >= min(_SPECK, _PIECE * min(b.width, b.height)) * PX_PER_MM)


def refined(symbol: Symbol, grey: NDArray[np.uint8]) -> Symbol:
    """The symbol with each side of its box moved to the outermost ink of the body; left alone where that is unclear.

    ``grey``: uint8 (H, W) at PX_PER_MM, paper near 255.
    """
    box = symbol.box
    x0 = _side(grey, box, axis=0, first=True)
    x1 = _side(grey, box, axis=0, first=False)
    y0 = _side(grey, box, axis=1, first=True)
    y1 = _side(grey, box, axis=1, first=False)
    if x1 - x0 < 0.4 or y1 - y0 < 0.4:
        return symbol
    return replace(symbol, box=Box(x0, y0, x1, y1))


def _side(grey: NDArray[np.uint8], box: Box, *, axis: int, first: bool) -> float:
    """Where the body ends on one side, mm; the box's own edge when nothing clear is there."""
    if axis == 1:
        grey, box = grey.T, Box(box.y0, box.x0, box.y1, box.x1)
    edge = box.x0 if first else box.x1
    sign = -1 if first else 1
    reach = min(_REACH, 0.35 * box.width)
    out, into = edge + sign * _REACH, edge - sign * reach
    lo, hi = (out, into) if first else (into, out)
    c0, c1 = max(0, round(lo * PX_PER_MM)), min(grey.shape[1], round(hi * PX_PER_MM))
    r0, r1 = max(0, round((box.y0 - 0.3) * PX_PER_MM)), min(grey.shape[0], round((box.y1 + 0.3) * PX_PER_MM))
    if c1 - c0 < 4 or r1 - r0 < 3:
        return edge
    part = grey[r0:r1, c0:c1].astype(np.float32)
    paper = percentile(part, 90)
    dark = float(part.min())
    if paper - dark < 40:
        return edge
    ink = part < (paper + dark) / 2
    if not first:
        ink = ink[:, ::-1]
    # rows that are dark from the outside inward all along are wires reaching the body; what stands beside them counts
    from_outside = np.asarray(ink[:, :3]).all(axis=1, keepdims=True)
    run = np.logical_and.accumulate(from_outside & ink, axis=1)
    body = (ink & ~run).sum(axis=0) / PX_PER_MM
    need = min(_MORE, 0.25 * box.height)
    good = body >= need
    # the body may begin where ink begins after paper, seen from outside; letters near by begin farther off
    begins = np.nonzero(good[1:] & ~good[:-1])[0] + 1
    if not len(begins):
        return edge
    aim = (edge * PX_PER_MM - c0) if first else (c1 - edge * PX_PER_MM)
    at = int(begins[np.argmin(np.abs(begins - aim))])
    return float((c0 + at) if first else (c1 - at)) / PX_PER_MM
