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
FOLLOWS_ON = 0.97
"""The same for each further row that is named by counting alone."""
ONE_WAY = 0.85
"""A page on which more than this share of the cavities is named in one way names all of them so (own choice)."""
PAGE_KIND = 0.8
"""Chance that a connector without any read name is named as the rest of the page is, from the first on (own choice)."""
HARDLY = 0.5
"""A name read with less chance than this gives way to the one that its neighbours leave for it (own choice)."""
PAGE = 0.3
"""A cavity of another connector of the page counts so much beside one of the same connector."""


def cavities_settled(entries: Sequence[ChartEntry]) -> tuple[ChartEntry, ...]:
    """The entries with every cavity name weighed against the others."""
    kinds = [[_kind(r.cavity.value) for r in e.rows] for e in entries]
    everywhere = [k for names in kinds for k in names]
    named = [k for k in everywhere if k is not None]
    page = next((k for k in ("letter", "figure") if named.count(k) > ONE_WAY * len(named)), None)
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
        out.append(replace(entry, rows=_in_order(_roomy(_once(rows)), page)))
    return tuple(out)


def _in_order(rows: Sequence[ChartRow], page: str | None) -> tuple[ChartRow, ...]:
    """Unread names take the place that the order leaves them: between read ones, before the first, after the last.

    ``page``: how the cavities of the page are named, for a connector of which no name was read.
    """
    rows = [_doubted(rows, k, page) for k in range(len(rows))]
    out = list(rows)
    k = 0
    while k < len(rows):
        if rows[k].cavity.value is not None:
            k += 1
            continue
        end = next((j for j in range(k, len(rows)) if rows[j].cavity.value is not None), len(rows))
        before = rows[k - 1].cavity if k else None
        after = rows[end].cavity if end < len(rows) else None
        ways = _chains(before.value if before else None, after.value if after else None, end - k, page)
        known = [c.probability for c in (before, after) if c is not None]
        loose = 0 if before is not None and after is not None else end - k  # nothing holds the far end of the order
        sure = FOLLOWS * min(known, default=PAGE_KIND) * FOLLOWS_ON**loose / max(1, len(ways))
        for i in range(k, end):
            if ways:
                name = ways[0][i - k]
                says = Evidence("order", name, sure, BY)
                seen = (*rows[i].cavity.evidence, says)
                out[i] = replace(rows[i], cavity=Claim(name, sure, (Alternative(name, sure),), seen))
        k = end
    return tuple(out)


def _doubted(rows: Sequence[ChartRow], k: int, page: str | None) -> ChartRow:
    """The row as one whose name is unread where the name is hardly read, and those around it leave one other name for it."""
    cavity = rows[k].cavity
    if cavity.value is None or cavity.probability >= HARDLY or not 0 < k < len(rows) - 1:
        return rows[k]
    before, after = rows[k - 1].cavity, rows[k + 1].cavity
    if before.value is None or after.value is None or min(before.probability, after.probability) < HARDLY:
        return rows[k]
    ways = _chains(before.value, after.value, 1, page)
    if len(ways) != 1 or ways[0][0] == cavity.value:
        return rows[k]
    return replace(rows[k], cavity=replace(cavity, value=None))


def _chains(before: str | None, after: str | None, count: int, page: str | None) -> list[tuple[str, ...]]:
    """The ways in which ``count`` names may follow on ``before`` (None: they open the table) and lead to ``after``.

    None for ``after``: nothing follows. The plainest way, which leaves out no letter, comes first.
    """
    if before is not None:
        starts = _steps(before)
    else:
        kind = _kind(after) if after is not None else page
        starts = {"letter": ("A",), "figure": ("1",)}.get(kind or "", ())
    ways: list[tuple[str, ...]] = [(s,) for s in starts]
    for _ in range(count - 1):
        ways = [(*way, name) for way in ways for name in _steps(way[-1])]
    return [way for way in ways if after is None or after in _steps(way[-1])]


def _steps(name: str) -> tuple[str, ...]:
    return tuple(sorted(_following(name)))


def _once(rows: Sequence[ChartRow]) -> list[ChartRow]:
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
    return kept


def _roomy(rows: Sequence[ChartRow]) -> list[ChartRow]:
    """The rows without those that say nothing and have the name that the order wants for the unread one beside them.

    The end of a worn rule is read as ``1`` or ``L``; the wires of the cavity stand in the row beside it.
    """
    names = [r.cavity.value for r in rows]
    empty = [r.a.value is None and r.b.value is None for r in rows]

    def fits(before: int, after: int) -> bool:
        """True when one name, and no more, has its place between two rows; -1 and the end stand for those of the table."""
        first = names[before] if before >= 0 else None
        last = names[after] if after < len(rows) else None
        return last is not None and bool(_chains(first, last, 1, None)) and not _chains(first, last, 2, None)

    dirt = set()
    for k in range(len(rows) - 1):
        if {empty[k], empty[k + 1]} == {True, False}:
            bare, full = (k, k + 1) if empty[k] else (k + 1, k)
            if names[bare] is not None and names[full] is None and fits(k - 1, k + 2):
                dirt.add(bare)
    return [r for k, r in enumerate(rows) if k not in dirt]


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
