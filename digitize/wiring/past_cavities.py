"""A letter that stands on a wire right beside a part, as that of a cavity does: the wire goes on to the part, not into the letter.

Between letter and part the wire is often too short to be a line of its own, and in worn copies the letter hangs together with
it. The ink tells: straight on, it reaches the part unbroken.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from digitize.harness.place import Box, Point, Polyline
from digitize.ink.state import Marks
from digitize.sheet.state import PX_PER_MM
from digitize.wiring.loose import End
from digitize.wiring.repairs import without_strokes

_LETTER = 4.5
"""What hangs there is no longer and no higher than this, mm: a letter and what it touches."""
_PIECES = 8
"""A letter falls into so many strokes at most."""
_ASIDE = 0.7
"""It leads at least so far off the line of the wire, mm."""
_LEG = 1.0
"""The wire comes straight for so long at least, mm."""
_STRAIGHT = 0.97
"""Cosine of the angle by which it may be off level or upright."""
_BEFORE = 3.4
"""The letter begins at most so far before the part, mm."""
_WIDE = 0.2
"""So far beside its line the wire's ink may lie, mm."""
_TAKEN = 0.9
"""Another line ends there already when it ends so near, mm."""


def past_cavities(marks: Marks) -> Marks:
    """The marks in which such wires end at their parts; the strokes of the letters are gone."""
    at = {end: n for n, m in enumerate(marks.meetings) for end in m.strokes}
    strokes = list(marks.strokes)
    gone: set[int] = set()
    apart: set[int] = set()
    for k in range(len(marks.strokes)):
        for side in (0, 1):
            if k in gone:
                break
            points = strokes[k].points if side else strokes[k].points[::-1]
            hung = _hung(marks, at, (k, side))
            led = None if hung is None or hung & gone else _led_on(marks, points, hung, k)
            if hung is not None and led is not None:
                strokes[k] = replace(strokes[k], points=led if side else led[::-1])
                gone |= hung
                apart |= {at[(k, side)]} if (k, side) in at else set()
    return (
        without_strokes(replace(marks, strokes=tuple(strokes)), gone, apart)
        if strokes != list(marks.strokes)
        else marks
    )


def _hung(marks: Marks, at: dict[End, int], end: End) -> set[int] | None:
    """The strokes that hang at an end and what hangs at them; None when they come back to its own stroke, or are many."""
    found: set[int] = set()
    todo = [end]
    while todo:
        here = todo.pop()
        if here not in at:
            continue
        for k, side in marks.meetings[at[here]].strokes:
            if (k, side) == here or (k, side) == end:
                continue
            if k == end[0]:
                return None
            if k not in found:
                found.add(k)
                todo.append((k, 1 - side))
        if len(found) > _PIECES:
            return None
    return found


def _led_on(marks: Marks, points: Polyline, hung: set[int], own: int) -> Polyline | None:
    """The line that comes along ``points``, straight on to the part behind the letter into which it turns off; None for none."""
    for n in range(len(points) - 1, 1, -1):
        rest, off = points[:n], points[n - 1 :]
        tail = Box.around([*off, *(p for k in hung for p in marks.strokes[k].points)])
        if max(tail.width, tail.height) > _LETTER:
            return None
        (x, y), (u, v) = rest[-1], rest[-2]
        long = math.dist((x, y), (u, v))
        if long < _LEG:
            continue
        way = ((x - u) / long, (y - v) / long)
        if max(abs(way[0]), abs(way[1])) < _STRAIGHT:
            continue
        level = abs(way[0]) > abs(way[1])
        aside = max(abs(q[1] - y) if level else abs(q[0] - x) for q in off)
        if aside < _ASIDE:
            continue
        end = _behind(marks, (x, y), way, level=level)
        taken = {own, *hung}
        free = end is not None and not any(
            math.dist(tip, end) < _TAKEN
            for k, s in enumerate(marks.strokes)
            if k not in taken
            for tip in (s.points[0], s.points[-1])
        )
        return (*rest, end) if end is not None and free else None
    return None


def _behind(marks: Marks, tip: Point, way: Point, *, level: bool) -> Point | None:
    """Where the ink that goes straight on from ``tip`` reaches a part."""
    x, y = tip
    for s in marks.symbols:
        b = s.box if level else s.box.swapped()
        along, across = (x, y) if level else (y, x)
        ahead = way[0] if level else way[1]
        side = b.x0 if ahead > 0 else b.x1
        gap = (side - along) * (1 if ahead > 0 else -1)
        if not (0 < gap <= _BEFORE and b.y0 <= across <= b.y1):
            continue
        ink = marks.sheet.ink if level else marks.sheet.ink.T
        first, last = (round(v * PX_PER_MM) for v in sorted((along, side)))
        rows = slice(max(0, round((across - _WIDE) * PX_PER_MM)), round((across + _WIDE) * PX_PER_MM) + 1)
        if bool(np.asarray(ink[rows, first:last] > 0).any(axis=0).all()):
            return (side, across) if level else (across, side)
    return None
