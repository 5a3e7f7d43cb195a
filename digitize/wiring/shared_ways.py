"""Two wires that run on one line for a short way: each leaves it where the other has just come in.

Drawn by hand nobody lets wires run over each other; where a program laid the lines on a grid, two corners that were given one
place overlap (common practice, no source). On paper that is a line with two tees close to each other. Where a sheet marks its
joins by dots and neither tee has one, nothing joins there.
"""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise

from digitize.harness.place import Point, Polyline
from digitize.ink.state import Marks, Meeting, Stroke
from digitize.wiring.loose import End
from digitize.wiring.repairs import away

_LONGEST = 2.0
"""The way that both take is at most so long, mm."""
_MARKED = 0.6
"""So surely the sheet draws its joins as dots."""
_ARM = 2.2
"""What leads there is at least so long, mm: less is a stroke of a letter or of a part …"""
_FREE = 6.0
"""… and at least so long where it leads to yet another tee without a dot: several of those are a part that nobody knew."""
_STRAIGHT = 0.8
"""Cosine of the angle within which a line goes straight on."""
_ASIDE = 0.5
"""A branch leaves at a right angle: the cosine of its angle to the line is less than this."""
_OVER = 1.5
"""Over how many mm the direction of an arm is taken."""


def with_shared_ways_parted(marks: Marks) -> Marks:
    """Marks in which such a pair of tees is two wires that pass each other, each with one corner."""
    if marks.habit is None or marks.habit.marked_joins < _MARKED:
        return marks
    tees = {end: k for k, m in enumerate(marks.meetings) if _is_bare_tee(marks, m) for end in m.strokes}
    meetings, strokes = list(marks.meetings), list(marks.strokes)
    gone: set[int] = set()
    used: set[int] = set()
    for n, stroke in enumerate(marks.strokes):
        one, other = tees.get((n, 0)), tees.get((n, 1))
        if one is None or other is None or one == other or {one, other} & used or _length(stroke.points) > _LONGEST:
            continue
        arms = [_arms(marks, marks.meetings[k], n, tees) for k in (one, other)]
        if arms[0] is None or arms[1] is None:
            continue
        used |= {one, other}
        gone.add(n)
        (a, b), (c, d) = arms[0], arms[1]
        p, q = stroke.points[0], stroke.points[-1]
        at = ((p[0] + q[0]) / 2, (p[1] + q[1]) / 2)
        for k, side in (a, b, c, d):
            strokes[k] = _led_to(strokes[k], side, at)
        meetings[one] = Meeting(at, "cross", 0.7, (a, b, c, d), ((0, 3), (1, 2)))
    if not gone:
        return marks
    number = {k: i for i, k in enumerate(k for k in range(len(strokes)) if k not in gone)}
    left = [m for m in meetings if not any(k in gone for k, _ in m.strokes)]
    return replace(
        marks,
        strokes=tuple(strokes[k] for k in number),
        meetings=tuple(replace(m, strokes=tuple((number[k], side) for k, side in m.strokes)) for m in left),
    )


def _is_bare_tee(marks: Marks, m: Meeting) -> bool:
    if m.kind != "join" or len(m.strokes) != 3 or len({k for k, _ in m.strokes}) != 3:
        return False
    dotted = any(math.dist(d.at, m.at) < 0.7 for d in marks.dots)
    return not dotted and not any(s.box.holds(m.at, 0.5) for s in marks.symbols)


def _arms(marks: Marks, m: Meeting, shared: int, tees: dict[End, int]) -> tuple[End, End] | None:
    """The arm that goes on straight from stroke ``shared``, and the one that branches off; None when it is not so."""
    a, b = (end for end in m.strokes if end[0] != shared)
    on = away(marks, next(end for end in m.strokes if end[0] == shared), _OVER)
    straight = {end: -(on[0] * u[0] + on[1] * u[1]) for end in (a, b) for u in [away(marks, end, _OVER)]}
    along, aside = (a, b) if straight[a] >= straight[b] else (b, a)
    if straight[along] < _STRAIGHT or abs(straight[aside]) > _ASIDE:
        return None
    for k, side in (along, aside):
        if _length(marks.strokes[k].points) < (_FREE if (k, 1 - side) in tees else _ARM):
            return None
    return along, aside


def _led_to(stroke: Stroke, side: int, at: Point) -> Stroke:
    return replace(stroke, points=(*stroke.points, at) if side else (at, *stroke.points))


def _length(points: Polyline) -> float:
    return sum(math.dist(p, q) for p, q in pairwise(points))
