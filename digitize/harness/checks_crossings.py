"""Two lines that cross and change their codes there: a dot on the crossing was missed.

A line that passes another without joining it keeps its code. Where four conductors meet at a dot, each has a code of its
own; read without the dot they are two wires, and along each of them two codes are printed, one on either side of the
crossing. One such line may have its neighbour's code; that both lines of one crossing have, and just there, is no accident.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator
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


def findings(harness: Harness, parse: Parse) -> Iterator[Finding]:
    """Crossings at which both lines change their codes."""
    by_sheet: dict[str, list[_Line]] = defaultdict(list)
    for wire in harness.wires:
        for sheet, line in _lines(wire, parse):
            by_sheet[sheet].append(line)
    for sheet, lines in sorted(by_sheet.items()):
        for one, other in combinations(lines, 2):
            if one.wire.id != other.wire.id:
                yield from _changes(sheet, one, other)


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
            yield path.sheet, _Line(wire, path.points, tuple(here))


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


def _changes(sheet: str, one: _Line, other: _Line) -> Iterator[Finding]:
    spots = _spots(
        [
            at
            for at in _crossings(one.points, other.points)
            if all(_parted(line, _along(line.points, at)[1]) for line in (one, other))
        ]
    )
    if not spots:
        return
    first, second = (line.wire.code.value or "a wire without a code" for line in (one, other))
    yield finding(
        "codes-change-at-crossing",
        one.wire.id,
        f"{first} crosses {second}, and beyond the crossing other codes are printed along both lines.",
        "Look at the scan there: a dot that joins the two was missed.",
        [Place(sheet, Box(x - DOT, y - DOT, x + DOT, y + DOT), None) for x, y in spots],
        extra=other.wire.id,
    )


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


def _parted(line: _Line, at: float) -> bool:
    """True when the ids before ``at`` (mm from the line's start) are others than those behind it, and both are there."""
    before = {id_ for along, id_ in line.ids if along < at}
    behind = {id_ for along, id_ in line.ids if along >= at}
    return bool(before) and bool(behind) and not before & behind


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
