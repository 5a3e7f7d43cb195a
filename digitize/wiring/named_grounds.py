"""Small signs at the end of a single wire that a ground's name stands in or at: they are grounds, whatever they looked like.

Common practice, no source: grounds of a manual are named by one run of letters and a number, and an earth mark ends its
wire. In some manuals it is a circle round that name, which else looks like a connector.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace

from digitize.ink.state import Marks, Symbol
from digitize.reading.state import ReadText
from digitize.wiring.identifiers import NO_PREFIXES, Prefixes, at_sign, is_identifier, letters_of, told

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
    grounds, passed = Counter[str](), set[str]()
    for s in marks.symbols:
        own = {letters_of(t) for t in at_sign(s, ids)}
        if s.kind == "ground":
            grounds.update(own)
        elif s.kind in _SIGNS and _wires(marks, s) > 1:
            passed |= own
    usual = {letters for letters, count in grounds.items() if count >= _USUAL} - passed - stated.connectors

    def is_ground(s: Symbol) -> bool:
        if s.kind not in _SIGNS or s.taught is not None or max(s.box.width, s.box.height) > _LARGEST:
            return False
        own = {letters_of(t) for t in at_sign(s, ids)}
        return bool(own) and own <= (usual | stated.grounds) and _wires(marks, s) == 1

    return replace(marks, symbols=tuple(told(s, "ground", _SURE) if is_ground(s) else s for s in marks.symbols))


def _wires(marks: Marks, s: Symbol) -> int:
    """How many lines end at a sign; those that meet others beside it do not end there."""
    near = s.box.grown(_TOUCHES)
    met = {end for m in marks.meetings for end in m.strokes}
    ends = ((k, side, stroke.points[-side]) for k, stroke in enumerate(marks.strokes) for side in (0, 1))
    return sum((k, side) not in met and near.holds(p) for k, side, p in ends)
