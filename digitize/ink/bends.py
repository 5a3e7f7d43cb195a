"""Bodies that are no part but a wire that turns: ink that is one thin line, in at one place and out at another.

A wire that makes a narrow U looks like the outline of a resistor to the detector, and the body then swallows it. A part
drawn without a closed outline (a zigzag, a coil, a pair of contacts) is either broken, or it branches, or it turns more
often than a wire does in so small a place.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from itertools import pairwise

import cv2
import numpy as np
from numpy.typing import NDArray

from digitize.harness.place import Box
from digitize.ink.state import Symbol
from digitize.ink.thinning import thin
from digitize.sheet.state import PX_PER_MM

DOUBTFUL, MANY_KINDS = 0.6, 3
"""Looked at are bodies that the detector believes in less, or that it could take for so many other kinds: it adds up the
chances of all kinds, so a shape that is a little like many parts counts as a sure find."""

_AROUND_OTHERS = 0.5
"""Paper around another body whose ink is that body's own, mm."""

_SPECK = 1.0
"""Pieces of line shorter than this are specks, mm."""

_SPUR = 0.6
"""Thinning leaves forks no longer than this at the ends of a line, mm."""

_AT_RIM = 1.2
"""A line leaves a body when it ends this near to its rim, or to the other body that hides the rim, mm."""

_OFF_STRAIGHT = 0.35
"""How far a line may stray from its straight pieces, mm."""

_MOST_PIECES = 3
"""A wire turns at most twice within a body: a U or a step (common practice, no source)."""

_STRAIGHT_ON = 12.0
"""Wires run level or upright within so many degrees; pieces shorter than a corner's rounding do not count."""

_CORNER = 0.8
"""A rounded or chamfered corner is no longer than this, mm."""


def is_bent_line(body: Symbol, ink: NDArray[np.uint8], others: Iterable[Symbol] = ()) -> bool:
    """True for a body of a doubtful kind, without a closed outline, whose ink is one line that runs through it, level and upright.

    Args:
        body: the body, sheet mm.
        ink: uint8 (H, W), 255 = ink without lettering, at PX_PER_MM.
        others: all bodies; the ink of those that reach into the box, but do not stand around it, is theirs.
    """
    doubtful = body.probability < DOUBTFUL or len(body.alternatives) >= MANY_KINDS
    if not doubtful or body.kind in ("connector", "ground", "fusible_link"):
        return False
    part, (left, top) = _cut(ink, body.box.grown(0.2))
    if min(part.shape) < 3:
        return False
    part = part.copy()
    hidden = np.zeros_like(part)
    for other in others:
        if other is not body and other.box.overlap(body.box) > 0 and not other.box.holds(body.box.centre):
            b = other.box.grown(_AROUND_OTHERS)
            rows, columns = _span(b.y0, b.y1, top), _span(b.x0, b.x1, left)
            hidden[rows, columns] = 255
    part[hidden > 0] = 0
    line = _one_line(thin(cv2.copyMakeBorder(part, 1, 1, 1, 1, cv2.BORDER_CONSTANT, value=0)))
    if line is None:
        return False
    away = cv2.distanceTransform(
        cv2.copyMakeBorder(255 - hidden, 1, 1, 1, 1, cv2.BORDER_CONSTANT, value=0), cv2.DIST_L2, 3
    )
    if any(away[y, x] > _AT_RIM * PX_PER_MM for x, y in (line[0], line[-1])):
        return False
    bends = cv2.approxPolyDP(np.array(line, np.int32)[:, None], _OFF_STRAIGHT * PX_PER_MM, closed=False)[:, 0]
    pieces = [
        (float(b[0] - a[0]), float(b[1] - a[1]))
        for a, b in pairwise(bends)
        if math.hypot(float(b[0] - a[0]), float(b[1] - a[1])) > _CORNER * PX_PER_MM
    ]
    return 1 < len(pieces) <= _MOST_PIECES and all(_is_straight_on(*p) for p in pieces)


def _cut(ink: NDArray[np.uint8], box: Box) -> tuple[NDArray[np.uint8], tuple[int, int]]:
    """The ink in a box, and the px (x, y) of its corner."""
    left, top = max(0, round(box.x0 * PX_PER_MM)), max(0, round(box.y0 * PX_PER_MM))
    return ink[top : round(box.y1 * PX_PER_MM), left : round(box.x1 * PX_PER_MM)], (left, top)


def _span(lo: float, hi: float, start: int) -> slice:
    return slice(max(0, round(lo * PX_PER_MM) - start), max(0, round(hi * PX_PER_MM) - start))


def _one_line(thinned: NDArray[np.uint8]) -> list[tuple[int, int]] | None:
    """The pixels (x, y) of the only line from end to end; None when there are several, or it branches or is closed.

    The longest of the shortest ways between two pixels is the line; what else is inked must lie beside it (a spur).
    """
    count, labels, stats, _ = cv2.connectedComponentsWithStats(thinned, connectivity=8)
    long = [k for k in range(1, count) if stats[k, cv2.CC_STAT_AREA] > _SPECK * PX_PER_MM]
    if len(long) != 1:
        return None
    wide = thinned.shape[1]
    spots = np.flatnonzero(labels == long[0])
    inked = set(spots.tolist())
    end = _way_to_farthest(inked, min(inked, key=lambda p: (p % wide, p)), wide)[-1]
    line = _way_to_farthest(inked, end, wide)
    reach = _SPUR * PX_PER_MM
    drawn = np.full(thinned.shape, 255, np.uint8)
    drawn.ravel()[line] = 0
    away = cv2.distanceTransform(drawn, cv2.DIST_L2, 3)
    if away.ravel()[spots].max() > reach:
        return None
    return [(p % wide, p // wide) for p in line]


def _way_to_farthest(inked: set[int], start: int, wide: int) -> list[int]:
    """A shortest way over ``inked`` from ``start`` to the pixel with the longest one; pixels as y * wide + x.

    No pixel of ``inked`` stands in the last column, so that none has a neighbour over the edge.
    """
    steps = (1, -1, wide, -wide, wide + 1, wide - 1, 1 - wide, -1 - wide)
    came = {start: start}
    todo = [start]
    for at in todo:
        for step in steps:
            q = at + step
            if q in inked and q not in came:
                came[q] = at
                todo.append(q)
    way = [todo[-1]]
    while way[-1] != start:
        way.append(came[way[-1]])
    return way[::-1]


def _is_straight_on(dx: float, dy: float) -> bool:
    turned = math.degrees(math.atan2(abs(dy), abs(dx)))
    return min(turned, 90.0 - turned) <= _STRAIGHT_ON
