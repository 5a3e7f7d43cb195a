"""Small signs straight on a wire that a connector's identifier stands at: they are connectors, whatever they look like.

Common practice, no source: identifiers of connectors and of grommets differ in their letters, parts are named in words, and
an earth mark ends its wire. So a sign that nothing else tells, and that a wire passes straight, is a connector when such
an identifier stands at it; so is what was taken for a grommet and is named like the connectors.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace

from digitize.ink.state import Marks, Symbol
from digitize.reading.state import ReadText
from digitize.wiring.identifiers import at_sign, is_identifier, letters_of, told
from digitize.wiring.named_grommets import is_between, is_passed
from digitize.wiring.trails import Trail

_LARGEST = 6.0
"""Longest side of such a sign, mm."""
_UNTOLD, _DOUBTFUL = ("unknown", "module"), 0.6
"""Kinds that say nothing about a sign; and the chance below which no other kind does."""
_NAMED = ("connector", "grommet", "ground")
_USUAL = 2
"""So many times as many connectors as grommets carry names of one sort: then the grommets among them are connectors."""
_KEEP = ("connector", "ground", "fuse", "diode", "sleeve", "flag")
"""Kinds that are told by more than a name."""
_SURE = 0.8


def with_named_connectors(marks: Marks, texts: Sequence[ReadText], trails: Sequence[Trail] | None = None) -> Marks:
    """The marks with such signs told; all others as they are.

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
    others = (set(of["grommet"]) | set(of["ground"])) - plugs

    def is_connector(s: Symbol) -> bool:
        untold = s.kind in _UNTOLD or s.kind == "grommet" or s.probability < _DOUBTFUL
        if s.kind in _KEEP or not untold or s.taught is not None or max(s.box.width, s.box.height) > _LARGEST:
            return False
        own = {letters_of(t) for t in at_sign(s, ids)}
        return len(own) == 1 and (own <= plugs if s.kind == "grommet" else not own & others)

    def stands_on_wire(k: int, s: Symbol) -> bool:
        if trails is None:
            return is_passed(marks, s)
        return is_between(
            [stop.at for t in trails for stop in t.stops if stop.kind == "body" and stop.what == k], s.box
        )

    return replace(
        marks,
        symbols=tuple(
            told(s, "connector", _SURE) if is_connector(s) and stands_on_wire(k, s) else s
            for k, s in enumerate(marks.symbols)
        ),
    )
