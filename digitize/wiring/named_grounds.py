"""Small signs at the end of a single wire that a ground's name stands in or at: they are grounds, whatever they looked like.

Common practice, no source: grounds of a manual are named by one run of letters and a number, and an earth mark ends its
wire. In some manuals it is a circle round that name, which else looks like a connector.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace

from digitize.harness.place import Point
from digitize.ink.state import Marks, Symbol
from digitize.reading.state import ReadText
from digitize.wiring.identifiers import NO_PREFIXES, Prefixes, at_sign, is_identifier, letters_of, told
from digitize.wiring.loose import loose_ends

_LARGEST = 8.0
"""Longest side of such a sign, mm."""
_TOUCHES = 1.5
"""A wire ends this near to a sign, mm."""
_SIGNS = ("connector", "unknown")
_USUAL = 2
"""Where no manual states how grounds are named: so many grounds of one sort of names, and no connector, tell it."""
_SURE = 0.85


def with_named_grounds(marks: Marks, texts: Sequence[ReadText], stated: Prefixes = NO_PREFIXES) -> Marks:
    """The marks with such signs told; all others as they are. ``stated``: what the manual says of names."""
    ids = [t for t in texts if is_identifier(t)]
    if not ids:
        return marks
    ends = [e.at for e in loose_ends(marks)]  # lines that meet others beside a sign do not end there
    grounds, passed = Counter[str](), set[str]()
    for s in marks.symbols:
        own = {letters_of(t) for t in at_sign(s, ids)}
        if s.kind == "ground":
            grounds.update(own)
        elif s.kind in _SIGNS and _wires(ends, s) > 1:
            passed |= own
    usual = {letters for letters, count in grounds.items() if count >= _USUAL} - passed - stated.connectors

    def is_ground(s: Symbol) -> bool:
        if s.kind not in _SIGNS or s.taught is not None or max(s.box.width, s.box.height) > _LARGEST:
            return False
        own = {letters_of(t) for t in at_sign(s, ids)}
        return bool(own) and own <= (usual | stated.grounds) and _wires(ends, s) == 1

    return replace(marks, symbols=tuple(told(s, "ground", _SURE) if is_ground(s) else s for s in marks.symbols))


def _wires(ends: Sequence[Point], s: Symbol) -> int:
    """How many of the ends of lines (mm) lie at a sign."""
    return sum(s.box.holds(at, _TOUCHES) for at in ends)
