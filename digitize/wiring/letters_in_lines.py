"""Strokes that lie in what was read as a code or a name are letters of it that ran into a wire, and no wires.

Letters that touch a wire hang together with it and are followed as lines. The reader sees them beside the rest of their string
and reads them with it (``reading.whole``): then they are known for what they are. A letter hangs on its wire at one place; what
leads from one place to another is a stretch of the wire, close though its code may stand to it.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import networkx as nx
import numpy as np

from digitize.harness.place import Box, Polyline
from digitize.ink.state import Marks, Meeting
from digitize.reading.state import ReadText
from digitize.wiring.nearby import Nearby
from digitize.wiring.repairs import without_strokes

_SURE, _FEWEST = 0.9, {"code": 5, "word": 4}
"""Strings at least so probable and so long, in characters, are asked."""
_RIM, _OUT = 0.2, 1.0
"""A letter reaches so far beyond the box of its code, mm, and no end of it farther than that: a slash down to the wire."""
_END = 0.5
"""So near to an end of its string, mm, and beyond it, what meets a stroke may be a wire that begins there."""
_INSIDE = 0.75
"""Share of a stroke that lies in the box."""


def without_letters(marks: Marks, texts: Sequence[ReadText]) -> Marks:
    """The marks without such strokes; what they met goes on without them."""
    gone: set[int] = set()
    near = Nearby(range(len(marks.strokes)), [Box.around(s.points) for s in marks.strokes])
    met: dict[int, list[int]] = {}
    for n, m in enumerate(marks.meetings):
        for k, _ in m.strokes:
            met.setdefault(k, []).append(n)
    for t in texts:
        if t.probability >= _SURE and len(t.text) >= _FEWEST.get(t.kind, len(t.text) + 1):
            inside = {k for k in near.at(t.box.grown(_OUT)) if _lies_in(marks.strokes[k].points, t.box)}
            there = [marks.meetings[n] for n in sorted({n for k in inside for n in met.get(k, ())})]
            gone |= {k for group in _together(there, inside) if _hangs(there, group, t) for k in group}
    return without_strokes(marks, gone) if gone else marks


def _together(meetings: Sequence[Meeting], strokes: set[int]) -> list[set[int]]:
    """Those of ``strokes`` that meet each other, directly or over others of them."""
    met: nx.Graph[int] = nx.Graph()
    met.add_nodes_from(strokes)
    for m in meetings:
        met.add_edges_from(pairwise([k for k, _ in m.strokes if k in strokes]))
    return list(nx.connected_components(met))


def _hangs(meetings: Sequence[Meeting], group: set[int], text: ReadText) -> bool:
    """True for strokes that meet others at one place above or below their string, or nowhere; before and behind it wires begin.

    Within its box they meet a wire that was led into the letter.
    """
    at = [m.at for m in meetings if {k for k, _ in m.strokes} & group and not {k for k, _ in m.strokes} <= group]
    box = text.box
    level = [box.x0 <= x <= box.x1 if text.angle % 180 else box.y0 <= y <= box.y1 for x, y in at]
    inner = [
        box.y0 + _END < y < box.y1 - _END if text.angle % 180 else box.x0 + _END < x < box.x1 - _END for x, y in at
    ]
    return len(at) <= 1 and all(i or not v for i, v in zip(inner, level, strict=True))


def _lies_in(points: Polyline, box: Box) -> bool:
    """True for a line that lies in a string, but for a tip of it."""
    if not all(box.holds(p, _OUT) for p in points):
        return False
    places = np.vstack([np.linspace(a, b, 12) for a, b in pairwise(points)])
    weight = np.repeat([np.hypot(b[0] - a[0], b[1] - a[1]) for a, b in pairwise(points)], 12)
    within = np.array([box.holds((x, y), _RIM) for x, y in places])
    return bool(weight.sum() > 0 and (weight * within).sum() >= _INSIDE * weight.sum())
