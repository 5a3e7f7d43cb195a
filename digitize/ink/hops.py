"""Hops told from plain crossings by their shape, and what a plain crossing means on a sheet that hops.

Where a draughtsman lets lines hop over each other and marks no joins, two lines that cross without a hop are joined
(*Lessons in Electric Circuits*, volume V, of older drawings): that is what the hops are for.
"""

from __future__ import annotations

import numpy as np

from digitize.ink.linegraph import LineGraph
from digitize.ink.state import Habit
from digitize.sheet.state import PX_PER_MM

_NEAR, _LEAST = 1.2, 0.7
"""How far along two opposite arms their shape is looked at, mm, and how far at least. Hops of 0.8 to 2 mm radius bulge
0.3 mm and more over that (geometry of a circle); the next corner is seldom so near."""
_FLAT = 0.15
"""A line that passes the meeting straight strays no more than this from its chord, mm: half a pen."""
_BOWED = 0.35
"""A line that hops strays from its chord by this much, mm."""
HOPPING, _HARDLY_DOT = 0.8, 0.8
"""How sure a sheet's hops must be, and how doubtful a dot, for the shape of a meeting to say more than its blob."""
_SURE = 0.5
"""Chance of a join from which on a plain crossing is taken for one."""


def bulge(graph: LineGraph, node: int, one: tuple[int, bool], other: tuple[int, bool]) -> float | None:
    """How far a meeting lies off the chord of two arms that go on into each other, mm; None when the arms are too short.

    ``one``, ``other``: (edge id, True when its end b lies at the node), as in ``LineGraph.arms``.
    """
    points = [graph.edges[edge].from_node(node, at_b=is_b) for edge, is_b in (one, other)]
    along = [np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(p, axis=0).T))]) for p in points]
    reach = min(_NEAR * PX_PER_MM, *(float(a[-1]) for a in along))
    if reach < _LEAST * PX_PER_MM:
        return None
    a, b = (
        np.array([np.interp(reach, s, p[:, 0]), np.interp(reach, s, p[:, 1])])
        for s, p in zip(along, points, strict=True)
    )
    at = np.asarray(graph.nodes[node])
    chord = float(np.hypot(*(b - a)))
    if chord < 1.0:
        return None
    return abs(float((b - a)[0] * (at - a)[1] - (b - a)[1] * (at - a)[0])) / chord / PX_PER_MM


def hopped(
    graph: LineGraph,
    node: int,
    pairs: list[tuple[tuple[int, bool], tuple[int, bool]]],
    dot: float,
    habit: Habit,
) -> float | None:
    """Chance 0.5..1 that a blob on a meeting is the crest of a hop, thick where the line passes under it; None when it is a dot.

    ``pairs``: as for ``plain_join``; ``dot``: how far the blob is believed to be a dot. On a sheet that hops, one line that
    bows over another that goes straight on outweighs a blob that is hardly one: no one bows a line up to a dot.
    """
    if habit.hops < HOPPING or dot > _HARDLY_DOT:
        return None
    bulges = [bulge(graph, node, one, other) for one, other in pairs]
    if len(bulges) != 2 or any(b is None for b in bulges):
        return None
    least, most = sorted(b for b in bulges if b is not None)
    return max(0.5, 1 - dot / 2) if least <= _FLAT and most >= _BOWED else None


def plain_join(
    graph: LineGraph, node: int, pairs: list[tuple[tuple[int, bool], tuple[int, bool]]], habit: Habit
) -> float | None:
    """Chance 0.5..1 that a crossing without a dot is a join because it was drawn without a hop; None when it is none.

    ``pairs``: the two pairs of arms that go on into each other; ``habit``: the more joins carry dots, the less it says.
    """
    chance = habit.hops * (1 - max(habit.marked_joins, habit.dotted))
    if chance <= _SURE:
        return None
    bulges = [bulge(graph, node, one, other) for one, other in pairs]
    return chance if all(b is not None and b <= _FLAT for b in bulges) else None
