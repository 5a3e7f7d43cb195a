"""From a text with its ranked readings to a claim about a place where a certain kind of string is expected."""

from __future__ import annotations

import re
from collections.abc import Sequence

from digitize.harness.claim import Alternative, Claim, Evidence
from digitize.harness.place import Box, Place
from digitize.reading.state import ReadText
from digitize.sheet.state import SheetFacts

OUTSIDE = 0.03
"""How often a cell of a table holds a string that breaks the rules of its column (common practice, no source)."""
MOST = 6
"""Alternatives kept."""

DASHES = re.compile(r"^[-–—_.~=\s]+$")
NOTHING = frozenset({"NC", "N/C", "NOT USED", "UNUSED", "SPARE", "NONE", "VACANT", "BLANK", "OPEN"})


def union(boxes: Sequence[Box]) -> Box:
    """The smallest box around ``boxes`` (at least one)."""
    return Box(min(b.x0 for b in boxes), min(b.y0 for b in boxes), max(b.x1 for b in boxes), max(b.y1 for b in boxes))


def is_dash(text: ReadText) -> bool:
    """True for a printed dash or a word that says that nothing is there."""
    word = text.text.strip().upper()
    return bool(DASHES.match(word)) or word in NOTHING


def readings_as(text: ReadText, kind: str | None) -> tuple[Alternative, ...]:
    """Ranked readings of a string expected to be of ``kind`` (None: free), probabilities over all strings.

    A reading outside the grammar of ``kind`` stays possible with the weight OUTSIDE: Bayes' rule with the prior that the
    column keeps its rules except in OUTSIDE of its cells.
    """
    free = {a.text: a.probability for a in text.free}
    free.setdefault(text.text, text.probability)
    obeys = {a.text: a.probability for a in text.of_kind(kind)} if kind else {}
    if text.text in obeys and text.kind == kind:
        # how sure the reader is of the whole string, look-alikes weighed: more than its share of the plain search
        obeys[text.text] = max(obeys[text.text], text.probability)
    if not obeys:
        pairs = [(t, p if t != text.text else max(p, text.probability)) for t, p in free.items() if t]
        return _ranked(pairs)
    rest = max(0.0, 1.0 - sum({**free, **obeys}.values())) * OUTSIDE
    pairs = [*obeys.items(), *((t, p * OUTSIDE) for t, p in free.items() if t not in obeys)]
    whole = sum(p for _, p in pairs) + rest
    return _ranked([(t, p / whole) for t, p in pairs]) if whole > 0 else ()


def _ranked(pairs: Sequence[tuple[str, float]]) -> tuple[Alternative, ...]:
    best = sorted(pairs, key=lambda q: (-q[1], q[0]))[:MOST]
    return tuple(Alternative(t, min(p, 1.0)) for t, p in best)


def claim_of(facts: SheetFacts, texts: Sequence[ReadText], kind: str | None, by: str) -> Claim:
    """The claim of one cell that holds ``texts`` (left to right, then downwards; several when a string was found split).

    A dash says that nothing is there: None with the probability of the dash. No texts: unread.
    """
    if not texts:
        return Claim.unread(0.9)
    if len(texts) == 1 and is_dash(texts[0]):
        return Claim(None, texts[0].probability, (), (_seen(facts, texts, "-", texts[0].probability, by),))
    ranked = readings_as(texts[0], kind if len(texts) == 1 else None)
    for other in texts[1:]:
        more = readings_as(other, None)
        ranked = _ranked([(f"{a.text} {b.text}".strip(), a.probability * b.probability) for a in ranked for b in more])
    if not ranked or not ranked[0].text:
        return Claim(None, 0.0)
    best = ranked[0]
    return Claim(best.text, best.probability, ranked, (_seen(facts, texts, best.text, best.probability, by),))


def _seen(facts: SheetFacts, texts: Sequence[ReadText], says: str, probability: float, by: str) -> Evidence:
    readers = "+".join(dict.fromkeys(r for t in texts for r in t.readers))
    return Evidence(
        "read", says, probability, f"{by} {readers}".strip(), Place(facts.sheet, union([t.box for t in texts]))
    )


def joined(first: Claim, second: Claim, glue: str) -> Claim:
    """Two claims about neighbouring parts of one string as one claim."""
    if first.value is None or second.value is None:
        return second if first.value is None else first
    left = first.alternatives or (Alternative(first.value, first.probability),)
    right = second.alternatives or (Alternative(second.value, second.probability),)
    ranked = _ranked([(a.text + glue + b.text, a.probability * b.probability) for a in left for b in right])
    return Claim(ranked[0].text, ranked[0].probability, ranked, (*first.evidence, *second.evidence))
