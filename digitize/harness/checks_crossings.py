"""Two lines that cross and change their codes there: a dot on the crossing was missed.

A line that passes another without joining it keeps its code. Where four conductors meet at a dot, each has a code of its
own; read without the dot they are two wires, and along each of them two codes are printed, one on either side of the
crossing. One such line may have its neighbour's code; that both lines of one crossing have, and just there, is no accident.
"""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import combinations, pairwise
from statistics import fmean

from digitize.harness.checks_kinds import Parse, finding
from digitize.harness.edits_find import nearest
from digitize.harness.model import Finding, Harness, Wire
from digitize.harness.place import Box, Place, Point, Polyline

SURE_CODE = 0.9
"""So surely each of the codes must stand at its line."""
CODE_REACH = 6.0
"""How far from the line of its wire a code may be printed, mm (that of ``checks_absent``)."""
TOGETHER = 3.0
"""Crossings of the same two lines within this, mm, are one (own choice: less than the pitch of parallel wires)."""
DOT = 1.0
"""Half the side of the place that a finding shows, mm."""

_Id = tuple[str | None, str | None, str | None]


@dataclass(frozen=True, slots=True)
class _Line:
    """A wire's line on one sheet, with the ids printed along it: (mm from its start, id)."""

    wire: Wire
    points: Polyline
    ids: tuple[tuple[float, _Id], ...]


_Change = tuple[str, int]
"""A change of codes along a line: the wire's id, and between which two of the places where codes stand (0: the first two)."""


def findings(harness: Harness, parse: Parse) -> Iterator[Finding]:
    """Crossings at which both lines change their codes; each change has one crossing, the one that explains most others."""
    by_sheet: dict[str, list[_Line]] = defaultdict(list)
    for wire in harness.wires:
        for sheet, line in _lines(wire, parse):
            by_sheet[sheet].append(line)
    for sheet, lines in sorted(by_sheet.items()):
        meet: dict[tuple[_Change, _Change], list[Point]] = defaultdict(list)
        for one, other in combinations(sorted(lines, key=lambda line: line.wire.id), 2):
            if one.wire.id != other.wire.id:
                for at in _crossings(one.points, other.points):
                    first, second = _change(one, at), _change(other, at)
                    if first is not None and second is not None:
                        meet[first, second].append(at)
        wires = {line.wire.id: line.wire for line in lines}
        for first, second in _one_each(meet):
            yield _told(sheet, wires[first[0]], wires[second[0]], _spots(meet[first, second]))


def _one_each(pairs: Iterable[tuple[_Change, _Change]]) -> list[tuple[_Change, _Change]]:
    """Pairs in which every change stands once at most: those of changes with the fewest others to go with come first."""
    left, chosen = sorted(pairs), []
    while left:
        count = Counter(change for pair in left for change in pair)
        best = min(left, key=lambda pair: (*sorted((count[pair[0]], count[pair[1]])), pair))
        chosen.append(best)
        left = [pair for pair in left if not set(pair) & set(best)]
    return sorted(chosen)


def _told(sheet: str, one: Wire, other: Wire, spots: list[Point]) -> Finding:
    first, second = (w.code.value or "a wire without a code" for w in (one, other))
    return finding(
        "codes-change-at-crossing",
        one.id,
        f"{first} crosses {second}, and beyond the crossing other codes are printed along both lines.",
        "Look at the scan there: a dot that joins the two was missed.",
        [Place(sheet, Box(x - DOT, y - DOT, x + DOT, y + DOT), None) for x, y in spots],
        extra=f"{other.id} {spots[0][0]:.0f} {spots[0][1]:.0f}",
    )


def _lines(wire: Wire, parse: Parse) -> Iterator[tuple[str, _Line]]:
    """Lines of a wire along which two codes stand, each read surely."""
    said: dict[str, list[tuple[Box, _Id]]] = defaultdict(list)
    for e in wire.code.evidence:
        code = parse(e.says) if e.place is not None and e.probability >= SURE_CODE else None
        if code is not None and e.place is not None and code.number is not None:
            said[e.place.sheet].append((e.place.box, (code.circuit, code.number, code.segment)))
    for path in wire.paths:
        here = []
        for box, id_ in said.get(path.sheet, ()):
            away, along = _along(path.points, box.centre)
            if away <= CODE_REACH:
                here.append((along, id_))
        if len({id_ for _, id_ in here}) > 1:
            yield path.sheet, _Line(wire, path.points, tuple(sorted(here, key=lambda h: h[0])))


def _along(line: Polyline, at: Point) -> tuple[float, float]:
    """(mm from the line, mm from its start to the nearest point of it)."""
    best, walked = (math.inf, 0.0), 0.0
    for a, b in pairwise(line):
        long = math.dist(a, b)
        away, foot = nearest((a, b), at)[0], 0.0
        if long > 0.0:
            foot = ((at[0] - a[0]) * (b[0] - a[0]) + (at[1] - a[1]) * (b[1] - a[1])) / long
        if away < best[0]:
            best = (away, walked + min(max(foot, 0.0), long))
        walked += long
    return best


def _spots(crossings: list[Point]) -> list[Point]:
    """One point for crossings of two wavering lines that lie together; where the lines touch most often comes first."""
    groups: list[list[Point]] = []
    for at in crossings:
        near = next((g for g in groups if math.dist(g[0], at) <= TOGETHER), None)
        if near is None:
            groups.append([at])
        else:
            near.append(at)
    groups.sort(key=len, reverse=True)
    return [(fmean(x for x, _ in g), fmean(y for _, y in g)) for g in groups]


def _change(line: _Line, at: Point) -> _Change | None:
    """The change of codes that ``at`` lies between; None where the ids before it and behind it have one in common."""
    along = _along(line.points, at)[1]
    before = [id_ for mm, id_ in line.ids if mm < along]
    behind = [id_ for mm, id_ in line.ids if mm >= along]
    if not before or not behind or set(before) & set(behind):
        return None
    return line.wire.id, len(before) - 1


def _crossings(one: Polyline, other: Polyline) -> Iterator[Point]:
    for a, b in pairwise(one):
        for c, d in pairwise(other):
            at = _crossing(a, b, c, d)
            if at is not None:
                yield at


def _crossing(a: Point, b: Point, c: Point, d: Point) -> Point | None:
    """Where the stretches a-b and c-d cross; None where they do not, or run side by side."""
    u, v = (b[0] - a[0], b[1] - a[1]), (d[0] - c[0], d[1] - c[1])
    over = u[0] * v[1] - u[1] * v[0]
    if abs(over) < 1e-9:
        return None
    s = ((c[0] - a[0]) * v[1] - (c[1] - a[1]) * v[0]) / over
    t = ((c[0] - a[0]) * u[1] - (c[1] - a[1]) * u[0]) / over
    return (a[0] + s * u[0], a[1] + s * u[1]) if 0.0 <= s <= 1.0 and 0.0 <= t <= 1.0 else None
