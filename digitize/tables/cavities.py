"""Cavity names of a chart as one another's evidence: a chart counts its cavities in letters or in figures, and in order.

Bayes' rule over each name's own readings: the prior is how the other cavities of the connector, and of the page, are
named, and whether the name follows on the one before it. A letter and a figure of one look (``I`` and ``1``, ``A`` and a
worn ``4``) are told apart only so.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from string import ascii_uppercase

from digitize.harness.claim import Alternative, Claim, Evidence
from digitize.tables.state import ChartEntry, ChartRow

BY = "tables"
LOOK_ALIKES = ("0O", "0D", "1I", "1L", "2Z", "4A", "5S", "6G", "7T", "8B")
MISTAKEN = 0.01
"""Chance that a sure reading is its look-alike; what a reader trained on running text gets wrong (own choice)."""
FOLLOWS, ELSEWHERE = 0.8, 0.02
"""Chance that a cavity is named right after the one before it, and that it is any other one of about ten."""
PAGE = 0.3
"""A cavity of another connector of the page counts so much beside one of the same connector."""


def cavities_settled(entries: Sequence[ChartEntry]) -> tuple[ChartEntry, ...]:
    """The entries with every cavity name weighed against the others."""
    kinds = [[_kind(r.cavity.value) for r in e.rows] for e in entries]
    everywhere = [k for names in kinds for k in names]
    out = []
    for entry, names in zip(entries, kinds, strict=True):
        rows: list[ChartRow] = []
        for k, row in enumerate(entry.rows):
            own = [*(_kind(r.cavity.value) for r in rows), *names[k + 1 :]]
            others = {
                kind: own.count(kind) + PAGE * (everywhere.count(kind) - names.count(kind))
                for kind in ("letter", "figure")
            }
            before = rows[-1].cavity.value if rows else None
            rows.append(replace(row, cavity=_weighed(row.cavity, others, before, first=not rows)))
        out.append(replace(entry, rows=_between(_once(rows))))
    return tuple(out)


def _between(rows: tuple[ChartRow, ...]) -> tuple[ChartRow, ...]:
    """An unread name between two read ones is the one name that follows the first and is followed by the second."""
    out = list(rows)
    for k in range(1, len(rows) - 1):
        before, after = rows[k - 1].cavity, rows[k + 1].cavity
        if rows[k].cavity.value is not None or before.value is None or after.value is None:
            continue
        fits = [name for name in sorted(_following(before.value)) if after.value in _following(name)]
        if fits:
            sure = FOLLOWS * min(before.probability, after.probability) / len(fits)
            says = Evidence("order", fits[0], sure, BY)
            seen = (*rows[k].cavity.evidence, says)
            out[k] = replace(rows[k], cavity=Claim(fits[0], sure, (Alternative(fits[0], sure),), seen))
    return tuple(out)


def _once(rows: Sequence[ChartRow]) -> tuple[ChartRow, ...]:
    """A second row of one name that says nothing is dirt beside a table, no cavity."""
    says = {r.cavity.value for r in rows if r.a.value is not None or r.b.value is not None}
    seen: set[str | None] = set()
    kept = []
    for row in rows:
        name = row.cavity.value
        empty = row.a.value is None and row.b.value is None
        if not (empty and name is not None and (name in says or name in seen)):
            kept.append(row)
        seen.add(name)
    return tuple(kept)


def _kind(name: str | None) -> str | None:
    if name is None or not name.strip().isalnum():
        return None
    return "letter" if name.strip().isalpha() else "figure" if name.strip().isdigit() else None


def _weighed(claim: Claim, others: dict[str, float], before: str | None, *, first: bool) -> Claim:
    if claim.value is None or len(claim.value.strip()) > 2 or sum(others.values()) < 1.0:
        return claim
    read = {a.text.strip(): a.probability for a in claim.alternatives} or {claim.value.strip(): claim.probability}
    for text, p in list(read.items()):
        for pair in LOOK_ALIKES:
            if text in set(pair):
                other = pair.replace(text, "")
                read[other] = max(read.get(other, 0.0), p * MISTAKEN)
    total = sum(others.values()) + 1.0
    weights = {}
    for text, p in read.items():
        kind = _kind(text)
        named = (others[kind] + 0.5) / total if kind else 0.1
        wanted = _following(before) if before is not None else {"A", "1"} if first else set()
        weights[text] = p * named * (FOLLOWS if text in wanted else ELSEWHERE)
    whole = sum(weights.values())
    if whole <= 0:
        return claim
    # what no reading holds stays as likely as it was
    held = min(1.0, sum(read.values()))
    ranked = tuple(
        Alternative(t, min(0.999, held * w / whole))
        for t, w in sorted(weights.items(), key=lambda q: (-q[1], q[0]))[:6]
    )
    return replace(claim, value=ranked[0].text, probability=ranked[0].probability, alternatives=ranked)


def _following(name: str) -> set[str]:
    """The names that may come next: the next figure or letter; ``I`` and ``O`` are often left out."""
    if name.isdigit():
        return {str(int(name) + 1)}
    if len(name) != 1 or name not in ascii_uppercase:
        return set()
    rest = ascii_uppercase[ascii_uppercase.index(name) + 1 :]
    return set(rest[: 2 if rest[:1] in {"I", "O", "Q"} else 1])
