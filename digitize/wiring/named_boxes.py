"""Small boxes with cavity numbers in them whose printed name is a connector's identifier: they are connectors."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from digitize.harness.place import Box
from digitize.ink.state import Marks, Symbol
from digitize.reading.state import ReadText
from digitize.wiring.identifiers import is_identifier, names


def with_named_boxes(marks: Marks, texts: Sequence[ReadText]) -> Marks:
    """The marks in which every box that may be a connector, and that an identifier names, is one.

    Common practice, no source: a connector's box carries its identifier right above, below or beside it.
    """
    ids = [t.box for t in texts if is_identifier(t)]
    if not ids:
        return marks
    return replace(marks, symbols=tuple(_told(s, ids) for s in marks.symbols))


def _told(symbol: Symbol, ids: Sequence[Box]) -> Symbol:
    chance = dict(symbol.alternatives).get("connector")
    if symbol.kind != "unknown" or chance is None or not any(names(b, symbol.box) for b in ids):
        return symbol
    sure = 0.5 + 0.5 * chance
    return replace(symbol, kind="connector", probability=sure, alternatives=(("unknown", 1 - sure),))
