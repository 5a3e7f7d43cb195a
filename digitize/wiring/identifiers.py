"""Identifiers of connectors, grommets and grounds as they stand at signs, for all rules that tell a sign by its name."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

from digitize.harness.place import Box
from digitize.ink.state import Symbol
from digitize.legend.conventions import Conventions
from digitize.reading.state import ReadText


@dataclass(frozen=True, slots=True)
class Prefixes:
    """The letters that a manual states identifiers of its connectors, grommets and grounds to begin with; empty where it
    states none.
    """

    connectors: frozenset[str] = frozenset()
    grommets: frozenset[str] = frozenset()
    grounds: frozenset[str] = frozenset()


NO_PREFIXES = Prefixes()


def stated_prefixes(conventions: Conventions) -> Prefixes:
    """What ``conventions`` say of identifiers; letters that stand for two sorts of things tell neither."""
    grommets, grounds = ({p.upper() for p in (m.prefix,) if p} for m in (conventions.grommets, conventions.grounds))
    connectors = {p.upper() for p in conventions.connectors.prefixes}
    return Prefixes(
        frozenset(connectors - grommets - grounds),
        frozenset(grommets - connectors - grounds),
        frozenset(grounds - connectors - grommets),
    )


_FITS = 0.5
"""Chance, along the conventions' grammar of identifiers, above which a string is one."""
_REACH = 3.5
"""An identifier stands at most so far from its sign, mm."""
_OVERLAP = 0.6
"""It is at most so far in it, mm."""


def is_identifier(text: ReadText) -> bool:
    """True for a string that obeys the conventions' grammar of identifiers."""
    return sum(a.probability for a in text.of_kind("connector")) > _FITS


def letters_of(text: ReadText) -> str:
    """The letters that an identifier begins with; empty when it begins with none."""
    found = re.match(r"[A-Z]+", text.text.strip().upper())
    return found[0] if found else ""


def names(text: Box, box: Box) -> bool:
    """True when a string stands straight above, below or beside a box (both sheet mm), at most 3.5 mm from it.

    The foot of a Q and the rim of a sign, which its box leaves some room round, may overlap a little.
    """
    across = max(text.x0 - box.x1, box.x0 - text.x1)
    down = max(text.y0 - box.y1, box.y0 - text.y1)
    return min(across, down) < 0 and -_OVERLAP <= max(across, down) <= _REACH


def at_sign(sign: Symbol, ids: Sequence[ReadText]) -> list[ReadText]:
    """Those of ``ids`` that stand in a sign or right at it (``names``)."""
    return [t for t in ids if sign.box.holds(t.box.centre) or names(t.box, sign.box)]


def told(sign: Symbol, kind: str, sure: float) -> Symbol:
    """The sign as one of ``kind``, believed ``sure``; what it was taken for before is the alternative."""
    return replace(sign, kind=kind, heading=None, probability=sure, alternatives=((sign.kind, 1 - sure),))
