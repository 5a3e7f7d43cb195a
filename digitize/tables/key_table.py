"""Tables of short keys: on many older pages a wire carries only a letter or number, and a table says size and colour.

Such a table stands on the drawing itself or on a page of its own, ruled or not, in one or more blocks side by side. It is
known by its shape: short keys under each other, each once, and right of each the same sort of thing: a size, a colour, or
both (common practice, no source).
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

from digitize.harness.claim import Alternative, Claim
from digitize.harness.place import Box
from digitize.legend.colour_words import named_colours, short_colours
from digitize.reading.state import ReadText
from digitize.sheet.state import SheetFacts
from digitize.tables import wording
from digitize.tables.claims import claim_of, union
from digitize.tables.layout import clusters, letter_height, level_texts, rows_of
from digitize.tables.state import KeyLine

BY = "tables"
LEAST_ROWS = 4
"""Fewer rows are no table (own choice)."""
REACH = 30.0
"""A cell stands at most so far right of the one before it, mm (common practice, no source)."""
STEP = 4.0
"""Rows follow each other within so many letter heights (common practice, no source)."""
HEADINGS = (
    "NO",
    "NO.",
    "KEY",
    "CODE",
    "WIRE",
    "CABLE",
    "NUMBER",
    "GAUGE",
    "SIZE",
    "COLOUR",
    "COLOR",
    "TRACER",
    "COLOURS",
)
KEY = re.compile(r"[A-Z]{1,2}|\d{1,3}[A-Z]?")
SIZE = re.compile(
    r"(?P<size>\d{1,3}(?:[.,]\d{1,2})?|\d{1,3}/[.,]?\d{1,4})\s?(?:AWG|GA(?:UGE)?\.?|SAE|MM2?|SQ\.? ?MM)?", re.IGNORECASE
)


@dataclass(frozen=True, slots=True)
class _Row:
    key: ReadText
    size: tuple[ReadText, str] | None
    colour: tuple[tuple[ReadText, ...], str, str | None, bool] | None
    cells: tuple[ReadText, ...]

    @property
    def box(self) -> Box:
        return union([self.key.box, *(c.box for c in self.cells)])


@dataclass(frozen=True, slots=True)
class KeyTable:
    """The lines of one table, all around it the box, and which texts (by their block) stand in it."""

    lines: tuple[KeyLine, ...]
    box: Box
    blocks: frozenset[int]


def find_key_tables(facts: SheetFacts, texts: Sequence[ReadText]) -> tuple[KeyTable, ...]:
    """All tables of short keys on a page, top to bottom."""
    level = level_texts(texts)
    if len(level) < 2 * LEAST_ROWS:
        return ()
    rows = [row for line in rows_of(level) for row in _rows_in(line.texts)]
    found = []
    for x, n in clusters([r.key.box.centre[0] for r in rows], 1.5):
        if n < LEAST_ROWS:
            continue
        column = [r for r in rows if abs(r.key.box.centre[0] - x) <= 3.0]
        for block in _blocks(column, letter_height(level)):
            table = _table(facts, block, level)
            if table is not None:
                found.append(table)
    return tuple(sorted(found, key=lambda t: (t.box.y0, t.box.x0)))


def _rows_in(texts: Sequence[ReadText]) -> list[_Row]:
    """Every short string of one line with the size and colour that follow it."""
    out = []
    for k, text in enumerate(texts):
        if KEY.fullmatch(text.text.strip().upper()) is None:
            continue
        cells: list[ReadText] = []
        end = text.box.x1
        for other in texts[k + 1 :]:
            if other.box.x0 - end > REACH or len(cells) == 4:
                break
            cells.append(other)
            end = other.box.x1
        row = _row(text, cells)
        if row is not None:
            out.append(row)
    return out


def _row(key: ReadText, cells: Sequence[ReadText]) -> _Row | None:
    size: tuple[ReadText, str] | None = None
    colour: tuple[tuple[ReadText, ...], str, str | None, bool] | None = None
    used: list[ReadText] = []
    for cell in cells:
        text = cell.text.strip()
        plain = SIZE.fullmatch(text)
        named = named_colours(text)
        short = short_colours(text) if named is None else None
        if plain is not None and size is None:
            size = (cell, plain["size"])
        elif named is not None and colour is None:
            colour = ((cell,), *named, True)
        elif named is not None and colour is not None and colour[2] is None and named[1] is None:
            colour = ((*colour[0], cell), colour[1], named[0], True)
        elif short is not None and colour is None and size is not None:
            colour = ((cell,), *short, False)
        elif colour is None and size is None and (both := _both(text)) is not None:
            size, colour = (cell, both[0]), ((cell,), both[1], both[2], both[3])
        else:
            break
        used.append(cell)
    if colour is None or (size is None and not colour[3]):
        return None
    return _Row(key, size, colour, tuple(used))


def _both(text: str) -> tuple[str, str, str | None, bool] | None:
    """Size and colour that were found as one text."""
    first, _, rest = text.partition(" ")
    size = SIZE.fullmatch(first)
    if size is None or not rest:
        return None
    named = named_colours(rest)
    colour = named or short_colours(rest)
    return None if colour is None else (size["size"], *colour, named is not None)


def _blocks(column: Sequence[_Row], tall: float) -> list[list[_Row]]:
    """Rows that follow each other closely."""
    out: list[list[_Row]] = []
    for row in sorted(column, key=lambda r: r.key.box.centre[1]):
        if out and row.key.box.centre[1] - out[-1][-1].key.box.centre[1] <= STEP * tall:
            out[-1].append(row)
        else:
            out.append([row])
    return [b for b in out if len(b) >= LEAST_ROWS]


def _table(facts: SheetFacts, rows: Sequence[_Row], texts: Sequence[ReadText]) -> KeyTable | None:
    """The table that the rows make; None when their keys are of many sorts or repeat, as in a list of something else."""
    digits = [r for r in rows if r.key.text.strip()[:1].isdigit()]
    letters = [r for r in rows if not r.key.text.strip()[:1].isdigit()]
    sort = max(digits, letters, key=len)
    kept = _each_once(sort)
    if sort is letters and not any(r.size for r in sort):
        return None  # colours and their letters: a list of abbreviations
    if len(kept) < max(LEAST_ROWS, 0.7 * len(rows)):
        return None
    box = union([r.box for r in kept])
    heads = _heads(box, texts, letter_height(texts))
    blocks = {t.block for t in heads} | {r.key.block for r in rows} | {c.block for r in rows for c in r.cells}
    whole = union([box, *(t.box for t in heads)])
    return KeyTable(tuple(_line(facts, r) for r in kept), whole, frozenset(blocks))


def _each_once(rows: Sequence[_Row]) -> list[_Row]:
    """Of rows with one key the one that was read best: a key names one sort of wire."""
    best: dict[str, _Row] = {}
    for row in rows:
        name = row.key.text.strip().upper()
        if name not in best or row.key.probability > best[name].key.probability:
            best[name] = row
    return [r for r in rows if best[r.key.text.strip().upper()] is r]


def _heads(box: Box, texts: Sequence[ReadText], tall: float) -> list[ReadText]:
    """Heading words right above the table."""
    return [
        t
        for t in texts
        if box.x0 - 8.0 <= t.box.centre[0] <= box.x1 + 8.0
        and -0.2 * tall <= box.y0 - t.box.y1 <= 3.5 * tall
        and wording.says(t.text, HEADINGS)
    ]


def _line(facts: SheetFacts, row: _Row) -> KeyLine:
    gauge, colour, tracer = Claim.unread(0.9), Claim.unread(0.9), Claim.unread(0.9)
    if row.size is not None:
        gauge = _part(claim_of(facts, [row.size[0]], None, BY), row.size[1])
    if row.colour is not None:
        whole = claim_of(facts, list(row.colour[0]), None, BY)
        colour = _part(whole, row.colour[1])
        tracer = _part(whole, row.colour[2]) if row.colour[2] is not None else tracer
    key = claim_of(facts, [row.key], None, BY)
    return KeyLine(_part(key, row.key.text.strip().upper()), gauge, colour, tracer, row.box)


def _part(whole: Claim, text: str) -> Claim:
    return replace(whole, value=text, alternatives=(Alternative(text, whole.probability),))
