"""Signs of single ways that a broken line links are the ways of one connector.

Common practice, no source: where every way of a connector has a sign of its own, a line of dashes leads from each sign to
the next, and the connector's identifier stands above the first. Signs with an identifier of their own are left alone.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import cv2
import numpy as np
from numpy.typing import NDArray

from digitize.harness.place import Box
from digitize.ink.state import Symbol, TextBlock
from digitize.sheet.state import PX_PER_MM

_LARGEST = 6.0
"""Longest side of the sign of a single way, mm."""
_IN_LINE = 0.5
"""How far one sign may stand aside of the next, mm."""
_ALIKE = 0.2
"""Signs differ in size by at most this share."""
_APART = (0.4, 6.0)
"""Paper between two signs of one connector, mm (own choice: rows are drawn 3 to 8 mm apart)."""
_DASH = (0.4, 0.6)
"""A dash is at least so long and at most so broad, mm."""
_RIM = 0.3
"""Ink so near to a sign is its own, mm."""

Mask = NDArray[np.uint8]


def with_linked_ways(symbols: tuple[Symbol, ...], ink: Mask, texts: Sequence[TextBlock]) -> tuple[Symbol, ...]:
    """The symbols (sheet mm) with linked signs joined to one connector each, as sure as the surest of its signs.

    Args:
        symbols: what was found on the sheet.
        ink: uint8 (H, W) at PX_PER_MM, 255 = all ink of the sheet.
        texts: the lettering; what stands between two signs is the identifier of the second.
    """
    signs = [
        s for s in symbols if s.kind == "connector" and s.taught is None and max(s.box.width, s.box.height) <= _LARGEST
    ]
    named = [t.box for t in texts if t.probability > 0.5 and max(t.box.width, t.box.height) > 2.0]
    taken: set[int] = set()
    joined: list[Symbol] = []
    for upright in (False, True):
        drawn = ink.T if upright else ink
        words = [b.swapped() if upright else b for b in named]
        free = [(k, s.box.swapped() if upright else s.box) for k, s in enumerate(signs) if k not in taken]
        for row in _rows(sorted(free, key=lambda f: (f[1].y0, f[1].x0)), drawn, words):
            own = [signs[k] for k in row]
            best = max(own, key=lambda s: s.probability)
            joined.append(replace(best, box=Box.enclosing([s.box for s in own])))
            taken |= set(row)
    gone = {signs[k] for k in taken}
    return (*(s for s in symbols if s not in gone), *joined)


def _rows(signs: Sequence[tuple[int, Box]], ink: Mask, words: Sequence[Box]) -> list[list[int]]:
    """Numbers of the signs, from top to bottom, of every column of at least two that are linked."""
    rows: list[list[tuple[int, Box]]] = []
    for k, box in signs:
        row = next((r for r in rows if are_linked(r[-1][1], box, ink, words)), None)
        if row is None:
            rows.append([(k, box)])
        else:
            row.append((k, box))
    return [[k for k, _ in row] for row in rows if len(row) > 1]


def are_linked(upper: Box, lower: Box, ink: Mask, words: Sequence[Box]) -> bool:
    """True when a dash stands between two signs that are alike, the second straight below the first."""
    gap = lower.y0 - upper.y1
    if not _APART[0] <= gap <= _APART[1] or abs(upper.centre[0] - lower.centre[0]) > _IN_LINE:
        return False
    if (
        abs(upper.width - lower.width) > _ALIKE * upper.width
        or abs(upper.height - lower.height) > _ALIKE * upper.height
    ):
        return False
    between = Box(min(upper.x0, lower.x0), upper.y1, max(upper.x1, lower.x1), lower.y0)
    if any(w.overlap(between) > 0 and upper.y1 < w.centre[1] < lower.y0 for w in words):
        return False
    x0, x1 = (max(0, round(v * PX_PER_MM)) for v in (between.x0, between.x1))
    y0, y1 = round((between.y0 + _RIM) * PX_PER_MM), round((between.y1 - _RIM) * PX_PER_MM)
    part = ink[max(0, y0) : y1, x0:x1]
    if not part.size:
        return False
    count, _, stats, _ = cv2.connectedComponentsWithStats(np.ascontiguousarray(part), connectivity=8)
    least = min(_DASH[0] * PX_PER_MM, 0.5 * part.shape[0])
    wide, high = stats[1:count, cv2.CC_STAT_WIDTH], stats[1:count, cv2.CC_STAT_HEIGHT]
    # what runs from one sign to the other without a break is the wire between two connectors
    dash = (high >= least) & (high < part.shape[0]) & (wide <= _DASH[1] * PX_PER_MM) & (high > wide)
    return bool(dash.any())
