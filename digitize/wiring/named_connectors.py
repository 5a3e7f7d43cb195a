"""Small signs straight on a wire that a connector's identifier stands at: they are connectors, whatever they look like.

Common practice, no source: identifiers of connectors and of grommets differ in their letters, parts are named in words, and
an earth mark ends its wire. So a sign that nothing else tells, and that a wire passes straight, is a connector when such
an identifier stands at it; so is what looked like a part but has no name in words, if it is a plain box or the manual states
that identifiers of connectors begin so; and so is what was taken for a grommet and is named like the connectors.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from digitize.harness.place import Point
from digitize.ink.state import Marks, Symbol
from digitize.reading.state import ReadText
from digitize.sheet.state import PX_PER_MM
from digitize.wiring.identifiers import NO_PREFIXES, Prefixes, at_sign, is_identifier, letters_of, told
from digitize.wiring.named_grommets import ends_at, is_passed_by_any, ways_through
from digitize.wiring.trails import Trail

_LARGEST, _LARGEST_ROUND = 9.0, 16.0
"""Longest side of such a sign, mm; and of one that nothing else tells and that stands round its identifier, or that may be a
connector by its looks."""
_WAY = 9.0
"""A sign of several ways, each with a wire straight through, is so long for each of them at most, mm."""
_LOOKED = 0.2
"""Chance of a connector that the looks of a sign leave, from which on it may be as large."""
_UNTOLD, _DOUBTFUL = ("unknown", "module"), 0.6
"""Kinds that say nothing about a sign; and the chance below which no other kind does."""
_WORD = 3
"""A part's name has so many letters at least."""
_RIM, _CLOSED = 0.2, 0.9
"""So near to its rim, in its smaller sides, a box has ink all along, but for a little of it."""
_NAMED = ("connector", "grommet", "ground")
_USUAL = 2
"""So many times as many connectors as grommets carry names of one sort: then the grommets among them are connectors."""
_KEEP = ("connector", "ground", "fuse", "diode", "sleeve", "flag")
"""Kinds that are told by more than a name."""
_SURE = 0.8


def with_named_connectors(
    marks: Marks, texts: Sequence[ReadText], stated: Prefixes = NO_PREFIXES, trails: Sequence[Trail] | None = None
) -> Marks:
    """The marks with such signs told; all others as they are. ``stated``: what the manual says of names.

    ``trails``: the wires as they were followed, where that is done: a sign that only they told (``sieve``) is drawn in
    lines itself.
    """
    ids = [t for t in texts if is_identifier(t)]
    if not ids:
        return marks
    named = {k: {letters_of(t) for t in at_sign(s, ids)} for k, s in enumerate(marks.symbols) if s.kind in _NAMED}
    of = {kind: Counter(n for k, own in named.items() if marks.symbols[k].kind == kind for n in own) for kind in _NAMED}
    # what most signs with a name of this sort are
    plugs = {n for n, count in of["connector"].items() if count >= max(_USUAL, _USUAL * of["grommet"][n])}
    plugs |= stated.connectors
    others = (set(of["grommet"]) | set(of["ground"])) - plugs

    taken = [t for s in marks.symbols if s.kind in _NAMED for t in at_sign(s, ids)]
    words = [t for t in texts if t.kind == "word" and _is_in_words(t.text) and not is_identifier(t)]

    def stops_at(k: int, s: Symbol) -> list[Point]:
        if trails is None:
            return ends_at(marks, s)
        return [stop.at for t in trails for stop in t.stops if stop.kind == "body" and stop.what == k]

    def is_connector(k: int, s: Symbol) -> bool:
        untold = s.kind in _UNTOLD or s.kind == "grommet" or s.probability < _DOUBTFUL
        signs = at_sign(s, ids)
        looked_so = any(kind == "connector" and p >= _LOOKED for kind, p in s.alternatives)
        largest = (
            _LARGEST_ROUND if looked_so or (untold and any(s.box.holds(t.box.centre) for t in signs)) else _LARGEST
        )
        if s.kind in _KEEP or s.taught is not None:
            return False
        own = {letters_of(t) for t in signs}
        ways = ways_through(stops_at(k, s), s.box)
        if max(s.box.width, s.box.height) > max(largest, _WAY * ways) or (ways > 1 and not (untold or own <= plugs)):
            return False  # a box of relays has as many wires on both sides
        # a part has a name in words, and the identifier at it may be another sign's; where the manual does not state what
        # identifiers of connectors look like, it is no plain box either
        if not untold and (at_sign(s, words) or any(t in taken for t in signs)):
            return False
        if not untold and not own <= stated.connectors and not _is_boxed(s, marks.sheet.ink):
            return False
        return len(own) == 1 and (own <= plugs if s.kind == "grommet" else not own & others)

    def stands_on_wire(k: int, s: Symbol) -> bool:
        if s.kind == "grommet" and {letters_of(t) for t in at_sign(s, ids)} <= stated.connectors:
            return is_passed_by_any(marks, s)  # a bit of its cavity's number may lie at it
        return ways_through(stops_at(k, s), s.box) > 0

    return replace(
        marks,
        symbols=tuple(
            told(s, "connector", _SURE) if is_connector(k, s) and stands_on_wire(k, s) else s
            for k, s in enumerate(marks.symbols)
        ),
    )


def _is_in_words(text: str) -> bool:
    """True for what may name a part; two codes that ran together, and are none for that, hold letters and figures in one."""
    mixed = any(any(c.isdigit() for c in w) and any(c.isalpha() for c in w) for w in re.split(r"[^A-Za-z0-9]+", text))
    return len(text) >= _WORD and not mixed


def _is_boxed(s: Symbol, ink: NDArray[np.uint8]) -> bool:
    """True for a sign that is closed in on all four sides."""
    b = s.box
    x0, y0, x1, y1 = (round(v * PX_PER_MM) for v in (b.x0, b.y0, b.x1, b.y1))
    drawn = ink[max(0, y0) : y1, max(0, x0) : x1] > 0
    rim = max(1, round(_RIM * min(drawn.shape)))
    sides = drawn[:rim].any(axis=0), drawn[-rim:].any(axis=0), drawn[:, :rim].any(axis=1), drawn[:, -rim:].any(axis=1)
    return drawn.size > 0 and min(float(side.mean()) for side in sides) >= _CLOSED
