"""Two corners that touch: a crossing whose middle a scratch, a fold or a bad copy took away slantwise."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import pairwise

from digitize.harness.place import Point, Polyline
from digitize.ink.state import Marks, Meeting

_APART = 1.0
"""Corners of two wires are drawn farther apart than this, mm (common practice, no source)."""

_CUT = 1.4
"""A worn corner is cut off over at most so much, mm."""

_LEG = 1.0
"""Over how many mm from the corner the direction of a leg is taken; a shorter leg is no leg."""

_RIGHT_ANGLE = 25.0
"""How far from a right angle a corner may be, and how far from straight what goes on across, degrees."""

_ASIDE = 0.5
"""How far beside each other the two halves of a line may lie, mm."""


@dataclass(frozen=True, slots=True)
class _Corner:
    """Where stroke ``stroke`` turns at a right angle.

    ``before``, ``after``: the legs, each from _LEG mm away to its foot at the corner; ``keeps``: the stroke's points up to
    and from the corner.
    """

    stroke: int
    at: Point
    before: tuple[Point, Point]
    after: tuple[Point, Point]
    keeps: tuple[Polyline, Polyline]


def crossed_where_corners_touch(marks: Marks) -> Marks:
    """Marks in which two corners that touch back to back, each leg in line with one of the other's, are a crossing.

    Nobody draws two wires so that their corners touch; a crossing that lost its middle along one diagonal looks so.
    """
    corners = sorted((c for k in range(len(marks.strokes)) for c in _corners(marks, k)), key=lambda c: c.at)
    taken: set[int] = set()
    strokes, meetings = list(marks.strokes), list(marks.meetings)
    for one, other in _near(corners):
        if {one.stroke, other.stroke} & taken or one.stroke == other.stroke or not _back_to_back(one, other):
            continue
        taken |= {one.stroke, other.stroke}
        at = ((one.at[0] + other.at[0]) / 2, (one.at[1] + other.at[1]) / 2)
        ends: list[tuple[int, int]] = []
        for corner in (one, other):
            first, rest = corner.keeps
            whole, new = strokes[corner.stroke], len(strokes)
            strokes[corner.stroke] = replace(whole, points=(*first, at))
            strokes.append(replace(whole, points=(at, *rest)))
            meetings = [_renumbered(m, (corner.stroke, 1), (new, 1)) for m in meetings]
            ends += [(corner.stroke, 1), (new, 0)]
        through = ((0, 2), (1, 3)) if _in_line(one.before, other.before) else ((0, 3), (1, 2))
        meetings.append(Meeting(at, "cross", 0.8, tuple(ends), through))
    return replace(marks, strokes=tuple(strokes), meetings=tuple(meetings)) if taken else marks


def _renumbered(m: Meeting, old: tuple[int, int], new: tuple[int, int]) -> Meeting:
    return replace(m, strokes=tuple(new if s == old else s for s in m.strokes)) if old in m.strokes else m


def _near(corners: list[_Corner]) -> Iterator[tuple[_Corner, _Corner]]:
    """Pairs of corners that may touch; ``corners`` from left to right."""
    for k, one in enumerate(corners):
        for other in corners[k + 1 :]:
            if other.at[0] - one.at[0] > _APART:
                break
            if math.dist(one.at, other.at) <= _APART:
                yield one, other


def _back_to_back(one: _Corner, other: _Corner) -> bool:
    straight = _in_line(one.before, other.after) and _in_line(one.after, other.before)
    return straight or (_in_line(one.before, other.before) and _in_line(one.after, other.after))


def _in_line(leg: tuple[Point, Point], other: tuple[Point, Point]) -> bool:
    """True when what comes in along ``leg`` goes on straight, out along ``other``."""
    (a, foot), (b, out) = leg, other
    u, v = (foot[0] - a[0], foot[1] - a[1]), (b[0] - out[0], b[1] - out[1])
    # worn legs slant: how far apart the halves lie is told where they come nearest, along the way both take
    way = (u[0] + v[0], u[1] + v[1])
    aside = abs(way[0] * (out[1] - foot[1]) - way[1] * (out[0] - foot[0])) / (math.hypot(*way) or 1.0)
    return _turn(u, v) <= _RIGHT_ANGLE and aside <= _ASIDE


def _turn(u: Point, v: Point) -> float:
    """By how much the way turns from ``u`` to ``v``, degrees."""
    return abs(math.degrees(math.atan2(u[0] * v[1] - u[1] * v[0], u[0] * v[0] + u[1] * v[1])))


def _corners(marks: Marks, k: int) -> Iterator[_Corner]:
    """Right-angled corners of a stroke; a corner cut in up to two short steps counts once, at the middle of the steps."""
    points, passed = marks.strokes[k].points, 0
    for i in range(1, len(points) - 1):
        for j in range(min(i + 2, len(points) - 2), i - 1, -1):
            found = _corner(k, points, i, j) if i > passed and math.dist(points[i], points[j]) <= _CUT else None
            if found is not None:
                passed = j
                yield found


def _corner(k: int, points: Polyline, i: int, j: int) -> _Corner | None:
    """The corner between vertices ``i`` and ``j`` (the same, or the two of a cut corner), None when there is none."""
    before, after = _along(points[: i + 1][::-1]), _along(points[j:])
    if before is None or after is None:
        return None
    u = (points[i][0] - before[0], points[i][1] - before[1])
    v = (after[0] - points[j][0], after[1] - points[j][1])
    if abs(_turn(u, v) - 90) > _RIGHT_ANGLE:
        return None
    # the corner as it was drawn, where the legs would meet: wear may have rounded both corners of a crossing
    cross = u[0] * v[1] - u[1] * v[0]
    on = ((points[j][0] - points[i][0]) * v[1] - (points[j][1] - points[i][1]) * v[0]) / cross
    at = (points[i][0] + u[0] * on, points[i][1] + u[1] * on)
    return _Corner(k, at, (before, points[i]), (after, points[j]), (points[:i], points[j + 1 :]))


def _along(points: Polyline) -> Point | None:
    """The point _LEG mm along a polyline, None when it is shorter."""
    left = _LEG
    for a, b in pairwise(points):
        step = math.dist(a, b)
        if step >= left:
            return (a[0] + (b[0] - a[0]) * left / step, a[1] + (b[1] - a[1]) * left / step)
        left -= step
    return None
