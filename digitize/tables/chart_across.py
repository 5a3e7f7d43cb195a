"""Connector tables that run across: the cavities stand side by side in the first line, each half of the connector below.

Found by their headings alone, ruled or not: a word for cavities opens a line of nothing but cavity names, and the line
right below opens with a word under it and holds codes or dashes.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from digitize.harness.claim import Claim
from digitize.reading.state import ReadText
from digitize.sheet.state import SheetFacts
from digitize.tables import wording
from digitize.tables.chart import HEAD_REACH, role_of
from digitize.tables.claims import claim_of, joined, union
from digitize.tables.layout import Row, letter_height, rows_of, without_bits
from digitize.tables.state import ChartEntry, ChartRow

BY = "tables"
_LINE = 3.0
"""The next line of a table follows within so many letter heights (common practice, no source)."""
_LOW = 0.45
"""What is lower than so many letters, and no dash, is a speck, and no line of its own between two of a table."""
_LONGEST = 3
"""No name of a cavity has more characters."""


def charts_across(facts: SheetFacts, texts: Sequence[ReadText]) -> tuple[tuple[ChartEntry, ...], list[ReadText]]:
    """The entries of all tables that run across, in reading order, and the texts that belong to none of them."""
    tall = letter_height(texts)
    rows = rows_of(without_bits([t for t in texts if t.box.height >= _LOW * tall or role_of(t) == "dash"]))
    entries: list[ChartEntry] = []
    used: set[int] = set()
    for k, row in enumerate(rows):
        heads = [i for i, t in enumerate(row.texts) if wording.all_say(t.text, wording.CAVITY_WORDS)]
        for i, end in pairwise([*heads, len(row.texts)]):
            # a dash there is what wear left of a letter, or dirt
            cavities = [t for t in row.texts[i + 1 : end] if role_of(t) != "dash"]
            if not cavities or not all(_is_cavity(t) for t in cavities):
                continue
            halves = _halves(row.texts[i], cavities, rows[k + 1 :], tall)
            if not halves:
                continue
            name, place = _named(row.texts[i], cavities, rows[:k], tall)
            used |= {id(t) for t in (row.texts[i], *cavities, *name, *place)}
            used |= {id(t) for _, _, line in halves for t in line}
            entries.append(_entry(facts, name, place, cavities, halves))
    return tuple(entries), [t for t in texts if id(t) not in used]


def _is_cavity(text: ReadText) -> bool:
    word = text.text.strip()
    return len(word) <= _LONGEST and word.isalnum()


_Half = tuple[ReadText, list[ReadText], list[ReadText]]
"""The heading of a line, its codes and dashes, and all that stands in it: what is left of a worn code may look like an id."""


def _halves(head: ReadText, cavities: Sequence[ReadText], below: Sequence[Row], tall: float) -> list[_Half]:
    """The one or two lines under the names of cavities; empty for no table."""
    found: list[_Half] = []
    y, end = head.box.centre[1], _right_end(head, cavities, below, tall)
    for row in below:
        if row.y - y > _LINE * tall or len(found) == 2:
            break
        mine = [t for t in row.texts if head.box.x0 - 1.5 * tall <= t.box.x0 < end]
        cells = [t for t in mine[1:] if role_of(t) in {"code", "dash"}]
        if not mine or abs(mine[0].box.x0 - head.box.x0) > 1.5 * tall:
            continue  # bits of worn letters between two lines
        if role_of(mine[0]) in {"code", "dash"} or not cells:
            break
        found.append((mine[0], cells, mine))
        y = row.y
    return found if any(role_of(t) == "code" for _, cells, _ in found for t in cells) else []


def _right_end(head: ReadText, cavities: Sequence[ReadText], below: Sequence[Row], tall: float) -> float:
    """Where the next table beside this one begins, mm: at the next heading of halves on the lines below."""
    last = cavities[-1].box
    starts = [
        t.box.x0
        for row in below
        if 0 < row.y - head.box.centre[1] <= 2 * _LINE * tall
        for t in row.texts
        if t.box.x0 > last.x0 - tall and role_of(t) == "words" and wording.says(t.text, wording.HALF_WORDS)
    ]
    return min(starts, default=float("inf"))


def _named(
    head: ReadText, cavities: Sequence[ReadText], above: Sequence[Row], tall: float
) -> tuple[list[ReadText], list[ReadText]]:
    """The id right above the table, and the place that stands after it; both empty where there is none."""
    for row in reversed(above):
        if head.box.y0 - row.box.y1 > HEAD_REACH * tall:
            break
        ids = [t for t in row.texts if role_of(t) == "id"]
        own = [t for t in ids if head.box.x0 - 2 * tall <= t.box.x0 <= cavities[-1].box.x1]
        if own:
            following = min((t.box.x0 for t in ids if t.box.x0 > own[0].box.x0), default=float("inf"))
            return own[:1], [t for t in row.texts if own[0].box.x0 < t.box.x0 < following]
    return [], []


def _entry(
    facts: SheetFacts, name: list[ReadText], place: list[ReadText], cavities: Sequence[ReadText], halves: list[_Half]
) -> ChartEntry:
    columns = [_by_cavity(cavities, cells) for _, cells, _ in halves]
    rows = []
    for k, cavity in enumerate(cavities):
        kind = "number" if cavity.text.strip().isdigit() else None
        sides = [claim_of(facts, column[k], "code", BY) for column in columns]
        box = union([cavity.box, *(t.box for column in columns for t in column[k])])
        rows.append(ChartRow(claim_of(facts, [cavity], kind, BY), sides[0], sides[-1], box))
    location = Claim.unread(0.9)
    for t in place:
        location = joined(location, claim_of(facts, [t], None, BY), " ")
    heads = (halves[0][0].text, halves[1][0].text) if len(halves) == 2 else None
    box = union([*(t.box for t in (*name, *place)), *(r.box for r in rows)])
    return ChartEntry(claim_of(facts, name, "connector", BY), location, heads, tuple(rows), box)


def _by_cavity(cavities: Sequence[ReadText], cells: Sequence[ReadText]) -> list[list[ReadText]]:
    """What stands under each cavity: set in the middle of the column as its name is, or from the same left edge."""
    out: list[list[ReadText]] = [[] for _ in cavities]
    for t in cells:
        off = [min(abs(t.box.centre[0] - c.box.centre[0]), abs(t.box.x0 - c.box.x0)) for c in cavities]
        out[off.index(min(off))].append(t)
    return out
