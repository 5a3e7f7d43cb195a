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
from digitize.wiring.loose import LooseEnd, loose_ends
from digitize.wiring.trails import Trail

_LARGEST = 8.0
"""Longest side of such a sign, mm."""
_TOUCHES = 1.5
"""A wire ends this near to a sign, mm."""
_SIGNS = ("connector", "unknown")
_USUAL = 2
"""Where no manual states how grounds are named: so many grounds of one sort of names, and no connector, tell it."""
_SURE = 0.85
_AS_LIKELY = 0.8
"""What looks as much like a ground as like what it was taken for, and ends a single wire, is one by any name of its own."""


def with_named_grounds(
    marks: Marks, texts: Sequence[ReadText], stated: Prefixes = NO_PREFIXES, trails: Sequence[Trail] | None = None
) -> Marks:
    """The marks with such signs told; all others as they are. ``stated``: what the manual says of names.

    ``trails``: the wires as they were followed, where that is done: a sign that only they told (``sieve``) is drawn in
    lines itself.
    """
    ids = [t for t in texts if is_identifier(t)]
    if not ids:
        return marks
    ends = loose_ends(marks)  # lines that meet others beside a sign do not end there
    spans = [(s.points[0], s.points[-1]) for s in marks.strokes]

    def wires(k: int, s: Symbol) -> int:
        if trails is None:
            return _wires(ends, spans, s)
        return sum(stop.kind == "body" and stop.what == k for t in trails for stop in t.stops)

    grounds, passed, parts = Counter[str](), set[str](), set[str]()
    for k, s in enumerate(marks.symbols):
        own = {letters_of(t) for t in at_sign(s, ids)}
        if s.kind == "ground":
            grounds.update(own)
        elif own and wires(k, s) > 1:
            (passed if s.kind in _SIGNS else parts).update(own)
    usual = {letters for letters, count in grounds.items() if count >= _USUAL} - passed - stated.connectors

    def is_ground(k: int, s: Symbol) -> bool:
        if s.kind == "ground" or s.taught is not None or max(s.box.width, s.box.height) > _LARGEST:
            return False
        own = {letters_of(t) for t in at_sign(s, ids)}
        if own and dict(s.alternatives).get("ground", 0.0) >= _AS_LIKELY * s.probability:
            return not own & (passed | parts | stated.connectors) and wires(k, s) == 1
        # a part is named by other letters than grounds are; a round sign or a box may be anything
        told_by = usual | stated.grounds if s.kind in _SIGNS else (usual | stated.grounds) - parts
        return bool(own) and own <= told_by and wires(k, s) == 1

    return replace(
        marks, symbols=tuple(told(s, "ground", _SURE) if is_ground(k, s) else s for k, s in enumerate(marks.symbols))
    )


def _wires(ends: Sequence[LooseEnd], spans: Sequence[tuple[Point, Point]], s: Symbol) -> int:
    """How many of the ends of lines lie at a sign; ``spans``: both ends of each line. A line that is all there is its own."""
    at = [e for e in ends if s.box.holds(e.at, _TOUCHES)]
    return sum(not all(s.box.holds(p, _TOUCHES) for p in spans[e.end[0]]) for e in at)
