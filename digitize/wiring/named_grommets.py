"""Small signs on a wire that a grommet's name stands beside: they are grommets, whatever they looked like.

Common practice, no source: all grommets of a manual are named by one run of letters and a number, which nothing else
carries; a wire goes straight through. So a ring taken for a lamp is a grommet when its name is one.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import combinations

from digitize.harness.place import Box, Point
from digitize.ink.state import Marks, Symbol
from digitize.reading.state import ReadText
from digitize.wiring.identifiers import NO_PREFIXES, Prefixes, at_sign, is_identifier, letters_of, told

_LARGEST = 6.0
"""Longest side of a grommet's sign, mm."""
_TOUCHES, _IN_LINE = 1.5, 0.8
"""A wire ends this near to a sign, and goes on this near in line with itself behind it, mm."""
_LIKELY = 0.3
"""From this chance on, a sign whose name is no connector's is a grommet though the sheet has no other."""
_KEEP = ("connector", "ground", "fuse", "diode", "grommet", "sleeve", "flag")
"""Kinds that are told from grommets by more than a ring."""
_SURE = 0.85


def with_named_grommets(marks: Marks, texts: Sequence[ReadText], stated: Prefixes = NO_PREFIXES) -> Marks:
    """The marks with such signs told; all others as they are. ``stated``: what the manual says of names."""
    ids = [t for t in texts if is_identifier(t)]
    if not ids:
        return marks
    grommets = {letters_of(t) for s in marks.symbols if s.kind == "grommet" for t in at_sign(s, ids)}
    connectors = {letters_of(t) for s in marks.symbols if s.kind == "connector" for t in at_sign(s, ids)}

    def is_grommet(s: Symbol) -> bool:
        if s.kind in _KEEP or s.taught is not None or max(s.box.width, s.box.height) > _LARGEST:
            return False
        named = {letters_of(t) for t in at_sign(s, ids)}
        if len(named) != 1 or named & connectors:
            return False
        likely = dict(s.alternatives).get("grommet", 0.0) >= _LIKELY
        return (likely or bool(named & (grommets | stated.grommets))) and is_passed(marks, s)

    return replace(marks, symbols=tuple(told(s, "grommet", _SURE) if is_grommet(s) else s for s in marks.symbols))


def is_passed(marks: Marks, s: Symbol) -> bool:
    """True when two lines end at a sign, straight on into each other, and no other does."""
    return is_between(ends_at(marks, s), s.box)


def is_passed_by_any(marks: Marks, s: Symbol) -> bool:
    """True when two of the lines that end at a sign go straight on into each other, whatever else lies there."""
    return any(is_between(pair, s.box) for pair in combinations(ends_at(marks, s), 2))


def ways_through(ends: Sequence[Point], box: Box) -> int:
    """How many wires go straight through a sign, each on into another: 0 where an end of a line (mm) has none right across."""
    left = list(ends)
    count = 0
    while left:
        one = left.pop()
        other = next((p for p in left if is_between((one, p), box)), None)
        if other is None:
            return 0
        left.remove(other)
        count += 1
    return count


def ends_at(marks: Marks, s: Symbol) -> list[Point]:
    """Where the lines (mm) end that reach a sign."""
    near = s.box.grown(_TOUCHES)
    return [p for stroke in marks.strokes for p in (stroke.points[0], stroke.points[-1]) if near.holds(p)]


def is_between(ends: Sequence[Point], box: Box) -> bool:
    """True when a sign stands between just two ends of lines (mm) that go straight on into each other."""
    if len(ends) != 2:
        return False
    (xa, ya), (xb, yb) = ends
    x, y = box.centre
    level = abs(ya - yb) <= _IN_LINE and (xa - x) * (xb - x) < 0
    return level or (abs(xa - xb) <= _IN_LINE and (ya - y) * (yb - y) < 0)
