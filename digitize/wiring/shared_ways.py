"""Two wires that run on one line for a short way: each leaves it where the other has just come in.

Drawn by hand nobody lets wires run over each other; where a program laid the lines on a grid, two corners that were given one
place overlap (common practice, no source). On paper that is a line with two tees close to each other. Where a sheet marks its
joins by dots and neither tee has one, nothing joins there.
"""

from __future__ import annotations

from dataclasses import replace

from digitize.harness.place import Point, length
from digitize.ink.state import Marks, Meeting, Stroke
from digitize.wiring.loose import End
from digitize.wiring.repairs import away, is_bare_tee, is_dotted, without_strokes

_LONGEST = 2.0
"""The way that both take is at most so long, mm."""
_DOTS, _MARKED = 2, 0.6
"""So many joins of the sheet carry a dot, and this share of them, these places aside."""
_ARM = 2.2
"""What leads there is at least so long, mm: less is a stroke of a letter or of a part …"""
_FREE = 6.0
"""… and at least so long where it leads to yet another tee without a dot: several of those are a part that nobody knew."""
_STRAIGHT = 0.8
"""Cosine of the angle within which a line goes straight on."""
_ASIDE = 0.5
"""A branch leaves the line at a right angle: the cosine of its angle to the line is less than this."""
_OVER = 1.5
"""Over how many mm the direction of an arm is taken."""


def with_shared_ways_parted(marks: Marks) -> Marks:
    """Marks in which such a pair of tees is two wires that pass each other, each with one corner."""
    tees = {end: k for k, m in enumerate(marks.meetings) if is_bare_tee(marks, m) for end in m.strokes}
    found: dict[int, tuple[int, int, tuple[End, End, End, End]]] = {}
    for n, stroke in enumerate(marks.strokes):
        one, other = tees.get((n, 0)), tees.get((n, 1))
        taken = {k for pair in found.values() for k in pair[:2]}
        if one is None or other is None or one == other or {one, other} & taken or length(stroke.points) > _LONGEST:
            continue
        first, second = (_arms(marks, marks.meetings[k], n, tees) for k in (one, other))
        if first is not None and second is not None:
            found[n] = (one, other, (*first, *second))
    dotted = sum(m.kind == "join" and is_dotted(marks, m) for m in marks.meetings)
    bare = len(set(tees.values())) - 2 * len(found)
    if not found or dotted < _DOTS or dotted < _MARKED * (dotted + bare):
        return marks
    meetings, strokes = list(marks.meetings), list(marks.strokes)
    for n, (one, _, arms) in found.items():
        p, q = strokes[n].points[0], strokes[n].points[-1]
        at = ((p[0] + q[0]) / 2, (p[1] + q[1]) / 2)
        for k, side in arms:
            strokes[k] = _led_to(strokes[k], side, at)
        meetings[one] = Meeting(at, "cross", 0.7, arms, ((0, 3), (1, 2)))
    parted = replace(marks, strokes=tuple(strokes), meetings=tuple(meetings))
    return without_strokes(parted, found, [k for k, m in enumerate(meetings) if any(n in found for n, _ in m.strokes)])


def _arms(marks: Marks, m: Meeting, shared: int, tees: dict[End, int]) -> tuple[End, End] | None:
    """The arm that goes on straight from stroke ``shared``, and the one that branches off; None when it is not so."""
    a, b = (end for end in m.strokes if end[0] != shared)
    on = away(marks, next(end for end in m.strokes if end[0] == shared), _OVER)
    ways = {end: away(marks, end, _OVER) for end in (a, b)}
    straight = {end: -(on[0] * u[0] + on[1] * u[1]) for end, u in ways.items()}
    along, aside = (a, b) if straight[a] >= straight[b] else (b, a)
    # the way that both take is so short that thinning slants it: the branch is held against the arm that goes on
    (u, v), (x, y) = ways[along], ways[aside]
    if straight[along] < _STRAIGHT or abs(u * x + v * y) > _ASIDE:
        return None
    for k, side in (along, aside):
        if length(marks.strokes[k].points) < (_FREE if (k, 1 - side) in tees else _ARM):
            return None
    return along, aside


def _led_to(stroke: Stroke, side: int, at: Point) -> Stroke:
    return replace(stroke, points=(*stroke.points, at) if side else (at, *stroke.points))
