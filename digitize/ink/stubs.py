"""Stubs of wires in front of codes that stand in their wires: short as they are, they are no spurs of thinning.

Where a wire begins at a join and its code interrupts it at once, next to nothing of it is drawn between the two. Thinning
rough ink makes spurs as short; but none of those points at the middle of a string's end.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from digitize.ink.linegraph import LineGraph
from digitize.ink.state import TextBlock
from digitize.sheet.state import PX_PER_MM

_LONG, _LETTERING = 3.0, 0.5
"""A string is a code, perhaps, when it is so many times as long as high and so surely lettering."""
_GAP, _GAP_HIGH = 1.0, 0.6
"""A stub ends at most so far from the code, mm, or in letter heights where that is more."""
_OFF = 0.25
"""It points so near to the middle of the code, in letter heights."""
_TOWARDS = 0.9
"""Cosine of the most that it slants."""
_LEAST = 0.5
"""It is at least so long, in its own widths: thinning moves the meeting towards it."""


@dataclass(frozen=True, slots=True)
class CodeEnd:
    """One end of a string: the middle of its rim, px; the way out of the string; its letter height, px."""

    at: tuple[float, float]
    way: tuple[float, float]
    height: float


def code_ends(texts: Sequence[TextBlock]) -> list[CodeEnd]:
    """Both ends of each of ``texts`` that is long enough to be a code."""
    out = []
    for text in texts:
        b, upright = text.box, bool(text.angle % 180)
        length, high = (b.height, b.width) if upright else (b.width, b.height)
        if text.probability < _LETTERING or length < _LONG * high:
            continue
        x, y = (b.x0 + b.x1) / 2, (b.y0 + b.y1) / 2
        for way in (-1.0, 1.0):
            at = (x, y + way * length / 2) if upright else (x + way * length / 2, y)
            out.append(
                CodeEnd((at[0] * PX_PER_MM, at[1] * PX_PER_MM), (0.0, way) if upright else (way, 0.0), high * PX_PER_MM)
            )
    return out


def stubs_at(graph: LineGraph, ends: Sequence[CodeEnd]) -> set[int]:
    """The free ends (nodes) of short edges that lead from a meeting to one of ``ends``."""
    found: set[int] = set()
    if not ends:
        return found
    at, way = np.array([e.at for e in ends]), np.array([e.way for e in ends])
    high = np.array([e.height for e in ends])
    reach = np.maximum(_GAP * PX_PER_MM, _GAP_HIGH * high)
    for node in sorted(graph.nodes):
        if graph.degree(node) != 1:
            continue
        ((edge, is_b),) = graph.arms[node]
        e = graph.edges[edge]
        other = e.a if is_b else e.b
        if graph.degree(other) < 3 or e.length < _LEAST * e.width or e.length > 2 * PX_PER_MM:
            continue
        tip, root = np.asarray(graph.nodes[node]), np.asarray(graph.nodes[other])
        towards = -(way @ (tip - root)) / max(1e-9, float(np.hypot(*(tip - root))))
        off = tip - at
        ahead = (off * way).sum(axis=1)
        aside = abs(off[:, 0] * way[:, 1] - off[:, 1] * way[:, 0])
        if ((towards >= _TOWARDS) & (ahead >= 0.0) & (ahead <= reach) & (aside <= _OFF * high)).any():
            found.add(node)
    return found
