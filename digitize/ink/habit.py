"""How a sheet draws meetings: joins as dots, rings or nothing; crossings plain or with hops. Inferred before any is decided.

A draughtsman keeps to one way on a sheet (common practice, no source). What speaks for each way is counted over the whole
sheet and gives the habit a chance; single meetings are then weighed with it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from digitize.harness.place import Box, Point
from digitize.ink.dots import MeetingView
from digitize.ink.hops import bulge
from digitize.ink.linegraph import LineGraph
from digitize.ink.meetings import direction, opposite
from digitize.ink.rings import Ring
from digitize.ink.state import Dot, Habit
from digitize.sheet.state import to_mm

_FEWEST_RINGS = 3
"""So many rings of like size make a habit; fewer are holes that wear or lettering left."""
_LIKE = 0.35
"""Rings whose radius is within this share of the usual one are alike."""
_PRIOR_HOPS = 0.3
_FLAT, _ROUND = 0.15, 0.3
"""A line that passes a meeting straight strays no more than the first from its chord, mm; one that hops over it more than
the second (``ink.hops`` has the geometry)."""
_SURE_DOT, _CHANCE_DOTS = 0.9, 1.5
"""Blobs on corners, and doubtful ones, are thick ink as often as dots. So many of the others are as likely wear as dots: three
of them make it twice as likely that joins of the sheet have one."""
_AT_FRAME = 5.0
"""The head of an arrow over the edge lies so near to the border, mm (common practice, no source)."""
_WEIGHT, _MOST = 0.8, 4.0
"""What one crossing's shape weighs, and all of them together at most: logarithms of odds."""


def ring_habit(dots: Sequence[Dot], rings: Sequence[Ring]) -> float:
    """Chance 0..1 that this sheet draws its joins as open circles.

    Rings in which lines meet or that lines pass count when they are of like size; filled dots speak against them.
    """
    radii = sorted(r.radius for r in rings if r.arms >= 2)
    if len(radii) < _FEWEST_RINGS:
        return 0.0
    usual = radii[len(radii) // 2]
    alike = sum(abs(r / usual - 1) <= _LIKE for r in radii)
    if alike < max(_FEWEST_RINGS, 0.5 * len(radii)):
        return 0.0
    return alike / (alike + sum(d.probability > 0.9 for d in dots))


def habit_of(
    graph: LineGraph,
    at_dots: dict[int, int],
    rings: float,
    seen: MeetingView | None,
    dots: Sequence[Dot] = (),
    frame: Box | None = None,
) -> Habit:
    """The habit of a sheet from its mended line graph, before any meeting is decided.

    Args:
        graph: lines and where they meet, px.
        at_dots: nodes that dots (or joining rings) mark.
        rings: from ``ring_habit``.
        seen: tells hops from plain crossings where their shape does not.
        dots: those that ``at_dots`` counts.
        frame: the border of the drawing, mm; blobs right at it may be the heads of arrows that lead over the edge.
    """
    hops = plain = 0.0
    tees = 0
    for node, at in graph.nodes.items():
        if node in at_dots:
            continue
        degree = graph.degree(node)
        tees += degree == 3
        if degree == 4:
            shape = _shape(graph, node) or _seen_as(seen, to_mm(*at))
            hops += shape == "hop"
            plain += shape == "plain"
    told = max(-_MOST, min(_MOST, _WEIGHT * (hops - plain)))
    odds = math.log(_PRIOR_HOPS / (1 - _PRIOR_HOPS)) + told
    inland = [n for n, k in at_dots.items() if frame is None or not dots or frame.grown(-_AT_FRAME).holds(dots[k].at)]
    marked = len(inland)
    sure = sum(graph.degree(n) > 2 and dots[at_dots[n]].probability > _SURE_DOT for n in inland) if dots else 0
    hopping = 1 / (1 + math.exp(-odds))
    return Habit(hopping, rings, (marked + 1.0) / (marked + tees + 2.0), sure / (sure + _CHANCE_DOTS))


def _shape(graph: LineGraph, node: int) -> str | None:
    """``hop`` where one of two lines bulges round the meeting, ``plain`` where both pass it straight, None if unclear."""
    arms = sorted(graph.arms[node])
    through, _ = opposite([direction(graph, node, e, is_b=is_b, inner=0.15, outer=0.8) for e, is_b in arms])
    bulges = [bulge(graph, node, arms[i], arms[j]) for i, j in through]
    if len(bulges) < 2 or any(b is None for b in bulges):
        return None
    least, most = sorted(b for b in bulges if b is not None)
    if most <= _FLAT:
        return "plain"
    return "hop" if least <= _FLAT and most >= _ROUND else None


def _seen_as(seen: MeetingView | None, at: Point) -> str | None:
    if seen is None:
        return None
    hop, flat = (seen.probability(what, at, 0.8) for what in ("hop", "plain"))
    return "hop" if hop > max(0.5, flat) else "plain" if flat > max(0.5, hop) else None
