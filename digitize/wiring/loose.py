"""Loose ends: ends of strokes at which no other stroke meets them, and how two of them can lie to each other."""

from __future__ import annotations

import math
from dataclasses import dataclass

from digitize.harness.place import Point, Polyline
from digitize.ink.state import Marks

End = tuple[int, int]
"""(stroke, 0 for its first or 1 for its last point)."""


@dataclass(frozen=True, slots=True)
class LooseEnd:
    """A loose end: where, and the unit vectors in which its line would go on: over its last 2 mm, over its last 0.7 mm."""

    end: End
    at: Point
    out: Point
    tip: Point


@dataclass(frozen=True, slots=True)
class Bridge:
    """Two loose ends that are one line. ``over`` is ``text``, ``grommet`` or ``gap``; ``what`` the text's or body's number."""

    a: End
    b: End
    over: str
    what: int | None
    probability: float


def loose_ends(marks: Marks) -> list[LooseEnd]:
    """All loose ends of the strokes, in order."""
    met = {end for m in marks.meetings for end in m.strokes}
    out = []
    for k, stroke in enumerate(marks.strokes):
        for side in (0, 1):
            if (k, side) not in met:
                points = stroke.points if side else stroke.points[::-1]
                out.append(LooseEnd((k, side), points[-1], heading(points), heading(points, 0.7)))
    return out


def heading(points: Polyline, over: float = 2.0) -> Point:
    """Unit vector in which a polyline leaves its last point, from its last ``over`` mm."""
    tip = points[-1]
    back = points[0]
    walked = 0.0
    for p, q in zip(reversed(points[:-1]), reversed(points[1:]), strict=True):
        step = math.dist(p, q)
        if walked + step >= over and step > 0:
            t = (over - walked) / step
            back = (q[0] + (p[0] - q[0]) * t, q[1] + (p[1] - q[1]) * t)
            break
        walked += step
    n = math.dist(back, tip) or 1.0
    return ((tip[0] - back[0]) / n, (tip[1] - back[1]) / n)


def cut_back(points: Polyline, by: float) -> Polyline:
    """The polyline without its last ``by`` mm; a single point when nothing is left."""
    for n in range(len(points) - 1, 0, -1):
        step = math.dist(points[n - 1], points[n])
        if step > by:
            t = by / step
            (x, y), (u, v) = points[n], points[n - 1]
            return (*points[:n], (x + (u - x) * t, y + (v - y) * t))
        by -= step
    return points[:1]


def facing(e: LooseEnd, f: LooseEnd, aside: float) -> bool:
    """True when two ends look at each other along one line, at most ``aside`` mm apart across it."""
    dx, dy = f.at[0] - e.at[0], f.at[1] - e.at[1]
    along = dx * e.out[0] + dy * e.out[1]
    across = abs(dx * e.out[1] - dy * e.out[0])
    against = e.out[0] * f.out[0] + e.out[1] * f.out[1]
    return along > -0.2 and across <= aside and against < -0.85
