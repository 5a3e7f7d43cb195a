"""Leaders: thin lines that lead from a note to what it speaks of are no wires.

Leaders are drawn at an angle to the lines of the drawing, so that they are not taken for one of them (ISO 128-22, leader
lines, from memory). A wire may run askew, and a wire may end at a note (``TO BATTERY``), but on a sheet of level and upright
wires none does both.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

from digitize.harness.place import Box, Point, Polyline, length
from digitize.ink.state import Marks
from digitize.wiring.trails import Trail

_ALONG, _ABOUT = 0.75, 12.0
"""Wires are drawn level and upright on a sheet where this share of their length is so within so many degrees: by hand, and round
their corners, they stray."""
_ASKEW = 5.0
"""A leader slants by more degrees."""
_STRAIGHT = 1.1
"""A leader is at most so many times as long as its ends are apart."""
_LENGTH = (2.5, 60.0)
"""Its length, mm."""
_AT_NOTE = 3.5
"""It begins so near to the note, mm."""
_LETTERING, _NOTE = 0.5, 4.0
"""A note is lettering at least so probable and so long, mm."""


def leaders_among(marks: Marks, trails: Sequence[Trail]) -> set[int]:
    """Positions of the trails that are leaders.

    ``trails`` are all lines of the sheet, the lettering of ``marks`` holds the notes. The head of an arrow on a wire looks like
    a dot: what leads there is a leader all the same.
    """
    notes = [t.box for t in marks.texts if t.probability >= _LETTERING and max(t.box.width, t.box.height) >= _NOTE]
    if not notes or not _is_square(trails):
        return set()
    return {
        k
        for k, t in enumerate(trails)
        if _LENGTH[0] <= length(t.points) <= 2 * _LENGTH[1] and (_leads(t, notes) or _forks(t, notes))
    }


def _is_square(trails: Sequence[Trail]) -> bool:
    """True where wires are drawn level and upright."""
    whole = along = 0.0
    for t in trails:
        for a, b in pairwise(t.points):
            whole += math.dist(a, b)
            along += math.dist(a, b) if _slant(a, b) <= _ABOUT else 0.0
    return whole > 0 and along >= _ALONG * whole


def _slant(a: Point, b: Point) -> float:
    """By how many degrees, 0..45, a line from a to b is off level or upright."""
    turn = math.degrees(math.atan2(b[1] - a[1], b[0] - a[0])) % 90
    return min(turn, 90 - turn)


def _leads(trail: Trail, notes: Sequence[Box]) -> bool:
    """True for a slanting line from a note to a part or to another line."""
    ends = list(zip(trail.stops, (trail.points[0], trail.points[-1]), strict=True))
    return _is_leg(trail.points) and any(
        stop.kind == "open" and target.kind in {"body", "join"} and _is_at(at, notes)
        for (stop, at), (target, _) in (ends, ends[::-1])
    )


def _forks(trail: Trail, notes: Sequence[Box]) -> bool:
    """True for two slanting lines that part at a note, each to a part of its own."""
    first, last = trail.stops
    if first.kind != "body" or last.kind != "body" or first.what == last.what:
        return False
    return any(
        _is_at(trail.points[k], notes) and _is_leg(trail.points[: k + 1]) and _is_leg(trail.points[k:])
        for k in range(1, len(trail.points) - 1)
    )


def _is_leg(points: Polyline) -> bool:
    """True for a straight line askew that is as long as a leader."""
    whole = length(points)
    return (
        _LENGTH[0] <= whole <= _LENGTH[1]
        and whole <= _STRAIGHT * math.dist(points[0], points[-1])
        and _slant(points[0], points[-1]) > _ASKEW
    )


def _is_at(at: Point, notes: Sequence[Box]) -> bool:
    return any(n.holds(at, _AT_NOTE) for n in notes)
