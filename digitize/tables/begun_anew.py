"""Connectors of a chart whose heading was not known as one: their cavities are counted from the first on again.

The id above a connector's rows may be too worn to look like one, and its line then seems to be one more row of the
connector before, or nothing at all. No connector has two first cavities.
"""

from __future__ import annotations

from collections.abc import Sequence
from collections.abc import Set as AbstractSet
from dataclasses import replace
from itertools import pairwise

from digitize.harness.claim import Claim
from digitize.tables.claims import union
from digitize.tables.state import ChartEntry, ChartRow

FIRST = ("1", "A")
"""Cavities are counted from one of these on."""
PARTLY = 0.5
"""How far what was read of such a heading is believed (own choice)."""
APART = 1.6
"""Without a line for its heading a connector begins so many row heights below the one before."""


def parted_where_begun_anew(entries: Sequence[ChartEntry]) -> tuple[ChartEntry, ...]:
    """The entries, each parted before a row that counts from the first cavity on again; the heading is what says no code there.

    At the top of a column, too, rows that seem to go on with the connector before may be headed by an id of their own.
    """
    out: list[ChartEntry] = []
    for entry in entries:
        rest: ChartEntry | None = entry
        while rest is not None:
            name = None if _has_own_id(rest) else rest.connector.value
            before = [e for e in out if name is not None and e.connector.value == name]
            whole, rest = _parted(rest, {r.cavity.value for e in before for r in e.rows if _says_a_code(r)})
            out += [whole] if whole is not None else []
    return tuple(out)


def _parted(entry: ChartEntry, begun: AbstractSet[str | None]) -> tuple[ChartEntry | None, ChartEntry | None]:
    """The entry up to where its cavities begin anew, and what follows; None for what there is not.

    ``begun``: the cavities that its connector had before.
    """
    rows = entry.rows
    for k, row in enumerate(rows):
        name = row.cavity.value
        if name not in FIRST or not _says_a_code(row) or not _goes_on(rows[k:], name):
            continue
        counted = [j for j in range(k) if rows[j].cavity.value == name and _says_a_code(rows[j])]
        if not counted and name not in begun:
            continue
        head, least = k, counted[0] + 1 if counted else 0
        while head > least and not _says_a_code(rows[head - 1]):
            head -= 1
        if head == k and k > 0 and not _far_below(rows, k):
            continue
        return _without(entry, rows[:head]) if head else None, _headed(rows[head:k], rows[k:], entry)
    return entry, None


def _has_own_id(entry: ChartEntry) -> bool:
    """True when the id stands at the entry's own rows: it does not merely go on with the connector before."""
    return any(e.place is not None and entry.box.holds(e.place.box.centre, 0.5) for e in entry.connector.evidence)


def _says_a_code(row: ChartRow) -> bool:
    """True for a row in one half of which a figure stands, as in all codes of wires."""
    return any(any(c.isdigit() for c in half.value or "") for half in (row.a, row.b))


def _goes_on(rows: Sequence[ChartRow], first: str) -> bool:
    """True when the row behind ``first`` may be the second cavity: not one of two figures whose first was lost."""
    after = rows[1].cavity.value if len(rows) > 1 else None
    return after in (None, first, chr(ord(first) + 1)) or not after.isalnum() or not _says_a_code(rows[1])


def _far_below(rows: Sequence[ChartRow], k: int) -> bool:
    """True when there is room for a heading above row ``k``."""
    steps = [b.box.centre[1] - a.box.centre[1] for a, b in pairwise(rows[:k])]
    here = rows[k].box.centre[1] - rows[k - 1].box.centre[1]
    return bool(steps) and here > APART * max(steps)


def _without(entry: ChartEntry, rows: Sequence[ChartRow]) -> ChartEntry:
    """The entry with its first rows only."""
    gone = [r.box for r in entry.rows[len(rows) :]]
    top = min(b.y0 for b in gone)
    return replace(entry, rows=tuple(rows), box=replace(entry.box, y1=max(min(top, entry.box.y1), rows[-1].box.y1)))


def _headed(head: Sequence[ChartRow], rows: Sequence[ChartRow], before: ChartEntry) -> ChartEntry:
    """The entry of ``rows``: of its id and its place what was read of the line ``head``."""
    known = next((r.cavity for r in head if r.cavity.value is not None), Claim.unread(PARTLY))
    place = next((half for r in head for half in (r.a, r.b) if half.value is not None), Claim.unread(0.9))
    if known.value is not None:
        known = replace(
            known,
            probability=known.probability * PARTLY,
            alternatives=tuple(replace(a, probability=a.probability * PARTLY) for a in known.alternatives),
        )
    return ChartEntry(known, place, before.half_names, tuple(rows), union([r.box for r in (*head, *rows)]))
