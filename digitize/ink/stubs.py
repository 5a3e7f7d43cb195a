"""Stubs of wires in front of codes that stand in their wires: short as they are, they are no spurs of thinning and no dashes.

Where a wire begins at a join or a part and its code interrupts it at once, next to nothing of it is drawn between the two.
Thinning rough ink makes spurs as short; but none of those points at the middle of a string's end. A dash alone looks the
same; but none of those leads from a part to a code. And where the code stands right beside a dot there is no stub at all:
that the wire goes on behind the code's other end tells of it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from digitize.harness.place import Box
from digitize.ink.broken_lines import bars_of
from digitize.ink.linegraph import LineGraph
from digitize.ink.state import Dot, TextBlock
from digitize.sheet.runs import Patches
from digitize.sheet.state import PX_PER_MM

_LONG, _LETTERING = 3.0, 0.5
"""A string is a code, perhaps, when it is so many times as long as high and so surely lettering."""
_GAP, _GAP_HIGH = 1.0, 0.6
"""A stub ends at most so far from the code, mm, or in letter heights where that is more."""
_OFF = 0.25
"""It points so near to the middle of the code, in letter heights."""
_TOWARDS = 0.9
"""Cosine of the most that it slants."""
_LEAST = 0.7
"""It is at least so long, in its own widths: thinning moves the meeting towards it."""


_ARM, _SPLIT = 1.2, 2.0
"""The line that it leaves goes on at least so far, mm, both ways: the middle bar of an E leaves a stem. Thinning makes two
meetings of a crossing, so many widths apart at most."""
_INTO_DOT, _ALREADY = 0.3, 0.7
"""A code's end reaches into a dot by so much at most, mm; cosine to the way to the code from which on an arm is that wire."""
_TEE = 3
"""Where so many lines meet, a fourth may end at its code before it is seen."""
_BOW = 0.25
"""The bow of a cable right before its code lies off the code's middle by so much of the cable's width."""
_BEHIND = (-0.9, 3.0)
"""Behind the code's other end its wire begins so far off, mm."""
_AT_PART = 1.0
"""A stub that stands alone begins so near to the body of a part, mm."""


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
        arms = (graph.edges[i].length for i, _ in graph.arms[other] if i != edge)
        if any(_SPLIT * e.width < length < _ARM * PX_PER_MM for length in arms):
            continue
        tip, root = np.asarray(graph.nodes[node]), np.asarray(graph.nodes[other])
        towards = -(way @ (tip - root)) / max(1e-9, float(np.hypot(*(tip - root))))
        off = tip - at
        ahead = (off * way).sum(axis=1)
        aside = abs(off[:, 0] * way[:, 1] - off[:, 1] * way[:, 0])
        if ((towards >= _TOWARDS) & (ahead >= 0.0) & (ahead <= reach) & (aside <= _OFF * high)).any():
            found.add(node)
    return found


def lead_to_codes(graph: LineGraph, at_dots: Mapping[int, int], dots: Sequence[Dot], ends: Sequence[CodeEnd]) -> None:
    """Draw the stubs (into ``graph``) that are missing between a dot, or another meeting, and a code right beside it.

    The code stands in the wire that ends there, or that crosses the other line there. ``at_dots``: node → position in ``dots``;
    ``ends``: two by two, as ``code_ends`` gives them. A name beside a dot is no such code: no wire goes on behind it.
    """
    nodes = sorted(n for n in graph.nodes if graph.degree(n) == _TEE or (n in at_dots and graph.degree(n)))
    if not nodes or not ends:
        return
    at = np.array([graph.nodes[n] for n in nodes])
    wide = np.array([_width(graph, n) for n in nodes])
    rim = np.array([dots[at_dots[n]].diameter / 2 * PX_PER_MM if n in at_dots else 0.0 for n in nodes])
    rim = np.maximum(rim, wide / 2)
    free = np.array([graph.nodes[n] for n in sorted(graph.nodes) if graph.degree(n) == 1]).reshape(-1, 2)
    lo, hi = (v * PX_PER_MM for v in _BEHIND)
    for i, e in enumerate(ends):
        ahead, aside = _from(e, at)
        gap = ahead - rim
        reach = max(_GAP * PX_PER_MM, _GAP_HIGH * e.height)
        near = np.flatnonzero(
            (gap >= -_INTO_DOT * PX_PER_MM) & (gap <= reach) & (aside <= _OFF * e.height + _BOW * wide)
        )
        if not len(near):
            continue
        ahead, aside = _from(ends[i ^ 1], free)
        if not ((ahead >= lo) & (ahead <= hi) & (aside <= _OFF * e.height)).any():
            continue
        k = int(near[gap[near].argmin()])
        arms = [graph.edges[edge].from_node(nodes[k], at_b=is_b) for edge, is_b in graph.arms[nodes[k]]]
        if any(_leads(points, at[k], e.way, float(rim[k])) for points in arms):
            continue
        tip = (e.at[0] + e.way[0] * max(0.0, gap[k] / 2), e.at[1] + e.way[1] * max(0.0, gap[k] / 2))
        graph.add_edge(nodes[k], graph.add_node(tip), np.array([at[k], tip], np.float32), float(wide[k]))


def _width(graph: LineGraph, node: int) -> float:
    """The width of the thickest line that meets others at a node, px."""
    return max(graph.edges[edge].width for edge, _ in graph.arms[node])


def _from(end: CodeEnd, points: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """How far ``points`` (n, 2) lie ahead of an end of a code, and beside its line, px."""
    off, (x, y) = points - np.asarray(end.at), end.way
    return off[:, 0] * x + off[:, 1] * y, abs(off[:, 0] * y - off[:, 1] * x)


def _leads(points: NDArray[np.float32], at: NDArray[np.float64], way: tuple[float, float], rim: float) -> bool:
    """True when an arm of a dot leads against ``way``, out of the dot towards the code."""
    off = points[np.hypot(*(points - at).T) > rim]
    if not len(off):
        return False
    towards = off[0] - at
    return bool(-(towards[0] * way[0] + towards[1] * way[1]) > _ALREADY * np.hypot(*towards))


def stubs_at_parts(letters: Patches, bodies: Sequence[Box], ends: Sequence[CodeEnd]) -> NDArray[np.bool_]:
    """Which straight bars among what was taken for letters lead from the body of a part (boxes, mm) to one of ``ends``."""
    out = np.zeros(len(letters), np.bool_)
    if not ends or not bodies:
        return out
    for k in np.flatnonzero(bars_of(letters)):
        x0, y0, x1, y1 = (float(v[k]) for v in (letters.x0, letters.y0, letters.x1, letters.y1))
        level = x1 - x0 >= y1 - y0
        x, y = (x0 + x1) / 2, (y0 + y1) / 2
        tips = {-1.0: (x0, y) if level else (x, y0), 1.0: (x1, y) if level else (x, y1)}
        for e in ends:
            if level != bool(e.way[0]):
                continue
            (tx, ty), root = tips[-e.way[0] - e.way[1]], tips[e.way[0] + e.way[1]]
            ahead = (tx - e.at[0]) * e.way[0] + (ty - e.at[1]) * e.way[1]
            aside = abs(ty - e.at[1]) if level else abs(tx - e.at[0])
            if 0.0 <= ahead <= max(_GAP * PX_PER_MM, _GAP_HIGH * e.height) and aside <= _OFF * e.height:
                out[k] |= _is_at(root, bodies, _AT_PART) and not _is_at((tx, ty), bodies, 0.0)
    return out


def _is_at(at: tuple[float, float], bodies: Sequence[Box], off: float) -> bool:
    """True for a place, px, in one of ``bodies`` or at most ``off`` mm from it."""
    place = (at[0] / PX_PER_MM, at[1] / PX_PER_MM)
    return any(b.holds(place, off) for b in bodies)
