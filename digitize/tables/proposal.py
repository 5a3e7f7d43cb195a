"""From legend pages to proposed conventions: circuit letters, colours, connector prefixes, each with its evidence."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

from digitize.harness.claim import Evidence
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
    """What the legend pages of a manual say, in the order of the pages; ``examples`` are printed example codes."""

    circuits: tuple[ProposedLine, ...]
    colours: tuple[ProposedLine, ...]
    connectors: tuple[ProposedLine, ...]
    abbreviations: tuple[ProposedLine, ...]
    examples: tuple[ProposedLine, ...]


def propose_conventions(tables: Iterable[SheetTable]) -> Proposal:
    """All legend lines of ``tables`` by what they name; a key said twice keeps its surer line and both evidences."""
    lines = [line for table in tables for line in table.legend]
    return Proposal(
        circuits=_lines(lines, "circuit", r"[A-Z]{1,3}|\d{1,3}"),
        colours=_lines(lines, "colour", r"[A-Z]{1,10}(?:[-/ ][A-Z]{1,10})?"),
        connectors=_lines(lines, "connector", r"[A-Z]{1,4}|\d{1,3}"),
        abbreviations=_lines(lines, "other", r"[A-Z0-9./&-]{1,8}"),
        examples=_examples(lines),
    )


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
