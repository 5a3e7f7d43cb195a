"""Windings drawn as zigzags are parts, however many taps they have: wires end at them and are not joined by them.

A zigzag stands for a resistor (IEEE Std 315, section 2.1, from memory), in old drawings also for the winding of a transformer
or a reactor; one with taps is as long as the draughtsman liked and no symbol of one size.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import combinations, pairwise
from statistics import median

import networkx as nx
from shapely import LineString, MultiLineString, unary_union
from shapely import box as shapely_box

from digitize.harness.place import Box, Point, Polyline
from digitize.ink.state import Marks, Meeting, Stroke, Symbol
from digitize.wiring.loose import End
from digitize.wiring.nearby import Nearby

_LEG = (1.2, 16.0)
"""Length of a leg of a zigzag, mm."""
_SHARP = 62.0
"""Two legs make an angle of at most so many degrees: in a resistor 60, in a winding less."""
_EVEN = 1.7
"""The longest of the legs is at most so many times as long as the usual one, and the shortest as much shorter."""
_FEWEST = 6
"""So many legs make a zigzag; fewer may be letters."""
_ROUNDED = 0.7
"""A line turns where it strays so far from straight, mm: hands round the turns."""
_TIP = 1.3
"""Legs that meet do so within so much of their ends, mm: their inks run together before."""
_LEANS = 36.0
"""A leg leans at most so many degrees off straight across the zigzag."""
_PITCH, _REGULAR = (0.3, 2.0), 0.7
"""So far behind the one before, for the usual, this share of the legs stands."""
_RIM = 0.9
"""A winding reaches so far beyond the middles of its legs' inks, mm: sharp turns run on into a tip."""
_TOUCHES, _LEVEL = 1.5, 0.3
"""A part that stands so near in line, mm, and is as high within so much of its height, is the rest of the winding."""
_KINDS = ("resistor", "coil", "heater", "unknown")
"""What such a rest may have been taken for."""
_CRUMB = 0.3
"""What is left of a line is longer than this, mm."""
_CHANCE, _COIL = 0.5, 0.35


@dataclass(frozen=True, slots=True)
class _Leg:
    """A straight stretch of the stroke ``stroke`` from ``a`` to ``b`` (mm); ``ends``: the ends of the stroke it lies at."""

    stroke: int
    a: Point
    b: Point
    ends: tuple[End, ...]

    @property
    def length(self) -> float:
        """Length, mm."""
        return math.dist(self.a, self.b)


def with_windings(marks: Marks) -> Marks:
    """The marks in which each zigzag is one symbol, and the lines that come to it end at its box."""
    legs = [leg for k, stroke in enumerate(marks.strokes) for leg in _legs_of(k, stroke.points)]
    groups = _zigzags(legs, marks.meetings)
    if not groups:
        return marks
    windings = [Box.around([p for leg in group for p in (leg.a, leg.b)]).grown(_RIM) for group in groups]
    own = {leg.stroke for group in groups for leg in group}
    symbols = marks.symbols
    for box in windings:
        symbols = _with_symbol(symbols, box)
    return _cut(replace(marks, symbols=symbols), windings, own)


def _legs_of(k: int, points: Polyline) -> list[_Leg]:
    """The straight stretches of a line that may be legs."""
    turns = _straightened(points)
    out = []
    for n, (a, b) in enumerate(pairwise(turns)):
        ends = ((k, 0),) * (n == 0) + ((k, 1),) * (n == len(turns) - 2)
        leg = _Leg(k, a, b, ends)
        if _LEG[0] <= leg.length <= _LEG[1]:
            out.append(leg)
    return out


def _straightened(points: Polyline) -> list[Point]:
    """A line without the bends that stray less than ``_ROUNDED`` from straight (Douglas and Peucker)."""
    if len(points) < 3 or points[0] == points[-1]:
        return list(points)
    return [(float(x), float(y)) for x, y in LineString(points).simplify(_ROUNDED, preserve_topology=False).coords]


def _zigzags(legs: Sequence[_Leg], meetings: Sequence[Meeting]) -> list[list[_Leg]]:
    """Groups of legs that make a zigzag each, in their order along it."""
    joints: nx.Graph[int] = nx.Graph()
    joints.add_nodes_from(range(len(legs)))
    joints.add_edges_from((i, j) for i, j in _touching(legs, meetings) if _is_joint(legs[i], legs[j]))
    out = []
    for group in nx.connected_components(joints):
        found = _regular([legs[i] for i in group])
        if found is not None:
            out.append(found)
    return sorted(out, key=lambda g: g[0].a)


def _touching(legs: Sequence[_Leg], meetings: Sequence[Meeting]) -> Iterator[tuple[int, int]]:
    """Pairs of legs that follow each other in a line, or come to one meeting."""
    yield from ((i, i + 1) for i in range(len(legs) - 1) if legs[i].stroke == legs[i + 1].stroke)
    at_end = {end: i for i, leg in enumerate(legs) for end in leg.ends}
    for m in meetings:
        yield from combinations(sorted({at_end[e] for e in m.strokes if e in at_end}), 2)


def _is_joint(one: _Leg, other: _Leg) -> bool:
    """True for two legs that turn sharply into each other."""
    (p, a), (q, b) = min(
        (
            ((p, a), (q, b))
            for p, a in ((one.a, one.b), (one.b, one.a))
            for q, b in ((other.a, other.b), (other.b, other.a))
        ),
        key=lambda ends: math.dist(ends[0][0], ends[1][0]),
    )
    if math.dist(p, q) > _TIP or max(one.length, other.length) > _EVEN**2 * min(one.length, other.length):
        return False
    ux, uy, vx, vy = a[0] - p[0], a[1] - p[1], b[0] - q[0], b[1] - q[1]
    cosine = (ux * vx + uy * vy) / (one.length * other.length)
    return math.degrees(math.acos(max(-1.0, min(1.0, cosine)))) <= _SHARP


def _regular(legs: Sequence[_Leg]) -> list[_Leg] | None:
    """The legs of a group that are a zigzag's, in order; None when it is none."""
    if len(legs) < _FEWEST:
        return None
    upright = sum(abs(g.b[1] - g.a[1]) - abs(g.b[0] - g.a[0]) for g in legs) > 0
    along, across = (0, 1) if upright else (1, 0)
    steep = [
        g
        for g in legs
        if abs(g.b[along] - g.a[along]) <= math.tan(math.radians(_LEANS)) * abs(g.b[across] - g.a[across])
    ]
    if len(steep) < _FEWEST:
        return None
    usual = median(abs(g.b[across] - g.a[across]) for g in steep)
    even = [g for g in steep if usual / _EVEN <= abs(g.b[across] - g.a[across]) <= usual * _EVEN]
    even.sort(key=lambda g: g.a[along] + g.b[along])
    if len(even) < _FEWEST:
        return None
    steps = [(h.a[along] + h.b[along] - g.a[along] - g.b[along]) / 2 for g, h in pairwise(even)]
    pitch = median(steps)
    good = [_PITCH[0] * pitch <= step <= _PITCH[1] * pitch for step in steps]
    return even if sum(good) >= _REGULAR * len(good) else None


def _with_symbol(symbols: tuple[Symbol, ...], box: Box) -> tuple[Symbol, ...]:
    """``symbols`` with a winding in ``box``, and what of it was a symbol before in one with it."""
    parts = [s for s in symbols if s.kind in _KINDS and s.taught is None and _is_rest(box, s.box)]
    whole = Box.enclosing([box, *(s.box for s in parts)])
    known = max((s for s in parts if s.kind != "unknown"), key=lambda s: s.probability, default=None)
    one = (
        Symbol("resistor", whole, _CHANCE, alternatives=(("coil", _COIL),))
        if known is None
        else replace(known, box=whole)
    )
    return (*(s for s in symbols if s not in parts), one)


def _is_rest(box: Box, part: Box) -> bool:
    """True for a part that goes on where a winding ends, as high as it, or lies in it."""
    if box.holds(part.centre):
        return True
    near = box.grown(_TOUCHES).overlap(part) > 0
    upright = abs(part.centre[0] - box.centre[0]) < abs(part.centre[1] - box.centre[1])
    sides = ((box.x0, part.x0), (box.x1, part.x1)) if upright else ((box.y0, part.y0), (box.y1, part.y1))
    height = box.width if upright else box.height
    return near and all(abs(p - q) <= _LEVEL * height + _RIM for p, q in sides)


def _cut(marks: Marks, windings: Sequence[Box], own: Collection[int]) -> Marks:
    """``marks`` whose lines end where they come to one of ``windings``; ``own``: strokes that are legs of them."""
    strokes: list[Stroke] = []
    ends: dict[End, End] = {}
    near = Nearby(windings, windings)
    for k, stroke in enumerate(marks.strokes):
        tips = stroke.points[0], stroke.points[-1]
        there = [w for w in near.at(Box.around(stroke.points)) if k in own or any(w.holds(p) for p in tips)]
        for points in _outside(stroke.points, there):
            for at, side in ((0, 0), (-1, 1)):
                if points[at] == tips[at]:
                    ends[(k, side)] = (len(strokes), side)
            strokes.append(replace(stroke, points=points))
    meetings = []
    for m in marks.meetings:
        place = {i: ends[e] for i, e in enumerate(m.strokes) if e in ends}
        if len(place) == len(m.strokes):
            meetings.append(replace(m, strokes=tuple(place.values())))
        elif len(place) > 1:
            meetings.append(
                Meeting(m.at, "corner" if len(place) == 2 else "join", m.probability, tuple(place.values()))
            )
    return replace(marks, strokes=tuple(strokes), meetings=tuple(meetings))


def _outside(points: Polyline, boxes: Sequence[Box]) -> list[Polyline]:
    """The pieces of a line that lie outside of all ``boxes``."""
    if not boxes:
        return [points]
    left = LineString(points).difference(unary_union([shapely_box(b.x0, b.y0, b.x1, b.y1) for b in boxes]))
    pieces = left.geoms if isinstance(left, MultiLineString) else [left]
    return [tuple((float(x), float(y)) for x, y in p.coords) for p in pieces if not p.is_empty and p.length > _CRUMB]
