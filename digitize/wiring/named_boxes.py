"""Small boxes with cavity numbers in them whose printed name is a connector's identifier: they are connectors."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from digitize.harness.place import Box
from digitize.ink.state import Marks, Symbol
from digitize.reading.state import ReadText

_REACH = 3.5
"""An identifier stands at most so far from its box, mm."""
_FITS = 0.5
"""Chance, along the conventions' grammar of identifiers, above which a string is one."""


def with_named_boxes(marks: Marks, texts: Sequence[ReadText]) -> Marks:
    """The marks in which every box that may be a connector, and that an identifier names, is one.

    Common practice, no source: a connector's box carries its identifier right above, below or beside it.
    """
    ids = [t.box for t in texts if sum(a.probability for a in t.of_kind("connector")) > _FITS]
    if not ids:
        return marks
    return replace(marks, symbols=tuple(_told(s, ids) for s in marks.symbols))


def _told(symbol: Symbol, ids: Sequence[Box]) -> Symbol:
    chance = dict(symbol.alternatives).get("connector")
    if symbol.kind != "unknown" or chance is None or not any(names(b, symbol.box) for b in ids):
        return symbol
    sure = 0.5 + 0.5 * chance
    return replace(symbol, kind="connector", probability=sure, alternatives=(("unknown", 1 - sure),))


def names(text: Box, box: Box) -> bool:
    """True when a string stands straight above, below or beside a box (both sheet mm), at most 3.5 mm from it."""
    across = max(text.x0 - box.x1, box.x0 - text.x1)
    down = max(text.y0 - box.y1, box.y0 - text.y1)
    return min(across, down) < 0 <= max(across, down) <= _REACH
