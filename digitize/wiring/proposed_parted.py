"""Codes whose size and colour are written together: which figure belongs to the size, and which is a letter of the colour.

``18OR`` is read as ``180R`` as easily; the cut is then one place too far right. The manual's own tables tell: the size
without its last figure stands often, and that figure's look-alike and the rest make a colour that a legend lists, or that
stands often elsewhere.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import replace

from digitize.legend.code_statistics import CodeWay

LETTER_OF = {"0": "O", "1": "I", "2": "Z", "5": "S", "6": "G", "8": "B"}
"""Figures that are read for a letter, and the letter (common practice, no source)."""
OFTENER = 2
"""The shorter size must stand so many times as often as the longer one (own choice)."""


def parted_right(ways: Iterable[CodeWay], colours: Sequence[str]) -> tuple[CodeWay, ...]:
    """The ways with such strings put right; ``colours``: those that a legend lists."""
    return tuple(_parted(w, frozenset(colours)) if "{gauge}{colour}" in w.pattern else w for w in ways)


def _parted(way: CodeWay, listed: frozenset[str]) -> CodeWay:
    sizes, colours = way.values("gauge"), way.values("colour")
    seen = []
    for read, pairs in way.seen:
        string = read
        fields = dict(pairs)
        size, colour = fields.get("gauge", ""), fields.get("colour", "")
        moved = LETTER_OF.get(size[-1:], "") + colour
        shorter = size[:-1]
        whole = moved in listed or (not listed and colours[moved] > colours[colour])
        if shorter and len(moved) > len(colour) and colour not in listed and whole and _likelier(sizes, shorter, size):
            at = read.index(size + colour)
            string = read[:at] + shorter + moved + read[at + len(size) + len(colour) :]
            fields |= {"gauge": shorter, "colour": moved}
        seen.append((string, tuple(fields.items())))
    return replace(way, seen=tuple(seen))


def _likelier(sizes: Counter[str], shorter: str, size: str) -> bool:
    return sizes[shorter] >= OFTENER * sizes[size]
