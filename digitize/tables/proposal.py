"""From legend pages to proposed conventions: circuit letters, colours, connector prefixes, each with its evidence."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

from digitize.harness.claim import Claim, Evidence
from digitize.tables.state import LegendLine, SheetTable


@dataclass(frozen=True, slots=True)
class ProposedLine:
    """One line for a conventions file, for a person to confirm. ``probability``: that key and meaning are read right."""

    key: str
    meaning: str
    probability: float
    evidence: tuple[Evidence, ...]


@dataclass(frozen=True, slots=True)
class Proposal:
    """What the legend pages of a manual say, in the order of the pages; ``examples`` are printed example codes.

    ``small_colours``: the abbreviations of the colours, in capitals here, are printed in small letters.
    """

    circuits: tuple[ProposedLine, ...]
    colours: tuple[ProposedLine, ...]
    connectors: tuple[ProposedLine, ...]
    abbreviations: tuple[ProposedLine, ...]
    examples: tuple[ProposedLine, ...]
    small_colours: bool = False


def propose_conventions(tables: Iterable[SheetTable]) -> Proposal:
    """All legend lines of ``tables`` by what they name; a key said twice keeps its surer line and both evidences."""
    lines = [line for table in tables for line in table.legend]
    return Proposal(
        circuits=_lines(lines, "circuit", r"[A-Z]{1,3}|\d{1,3}"),
        colours=_lines(lines, "colour", r"[A-Z]{1,10}(?:[-/ ][A-Z]{1,10})?|\d{1,2}"),
        connectors=_lines(lines, "connector", r"[A-Z]{1,4}|\d{1,3}"),
        abbreviations=_lines(lines, "other", r"[A-Z0-9./&-]{1,8}"),
        examples=_examples(lines),
        small_colours=_small_letters([line for line in lines if line.section == "colour"]),
    )


SMALL = 0.87
"""A string of letters without ascenders this much lower than its meaning in capitals is in small letters: their height is
0.65 to 0.78 of a capital's in usual faces (from memory), a capital's own varies by some hundredths."""
_LOW = frozenset("ACEMNORSUVWXZ")
"""Letters that are lower when small; readers of capitals name both alike. I and J are left out for their dots."""


def _small_letters(lines: Iterable[LegendLine]) -> bool:
    """True when the keys whose letters tell it are lower than their meanings: at least two, and three of four."""
    told = []
    for line in lines:
        key, meaning = _height(line.key), _height(line.meaning)
        letters = (line.key.value or "").upper()
        if letters and set(letters) <= _LOW and key and meaning:
            told.append(key < SMALL * meaning)
    return len(told) >= 2 and 4 * sum(told) >= 3 * len(told)


def _height(claim: Claim) -> float | None:
    """Height of the first string of a claim, mm."""
    return next((e.place.box.height for e in claim.evidence if e.place is not None), None)


def _lines(lines: Iterable[LegendLine], section: str, shape: str) -> tuple[ProposedLine, ...]:
    """Lines of one section whose key has the shape that such keys have."""
    found: dict[str, ProposedLine] = {}
    for line in lines:
        meaning = line.meaning.value
        # a key keeps the shape of its section: of its readings the likeliest that does is proposed
        shaped = [a for a in line.key.alternatives if re.fullmatch(shape, a.text.upper())]
        if line.section != section or meaning is None or not shaped:
            continue
        key, sure = shaped[0].text, shaped[0].probability
        new = ProposedLine(key, meaning, sure * line.meaning.probability, (*line.key.evidence, *line.meaning.evidence))
        old = found.get(key)
        if old is not None:
            surer = max(old, new, key=lambda p: p.probability)
            new = ProposedLine(surer.key, surer.meaning, surer.probability, (*old.evidence, *new.evidence))
        found[key] = new
    return tuple(found.values())


def _examples(lines: Iterable[LegendLine]) -> tuple[ProposedLine, ...]:
    """Lone strings with digits and letters in the section about codes."""
    out = []
    for line in lines:
        text = line.key.value
        if line.section != "code" or text is None or line.meaning.value is not None:
            continue
        if any(c.isdigit() for c in text) and any(c.isalpha() for c in text) and len(text) >= 3:
            out.append(ProposedLine(text, "", line.key.probability, line.key.evidence))
    return tuple(out)
