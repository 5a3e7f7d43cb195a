"""A connector chart page: ids, places, halves and the wire in every cavity.

Ruled tables are read cell by cell, unruled ones by the columns in which codes stand under each other. A page may hold one
small table for each connector, or one large table in which a connector's id stands only in its first row.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise

import numpy as np

from digitize.harness.claim import Alternative, Claim
from digitize.harness.place import Box
from digitize.reading.state import ReadText
from digitize.sheet.state import SheetFacts
from digitize.tables import wording
from digitize.tables.claims import claim_of, is_dash, joined, union
from digitize.tables.layout import Row, Rules, clusters, letter_height, level_texts, rows_of, tables_of, without_bits
from digitize.tables.pins import cut_from_one
from digitize.tables.state import ChartEntry, ChartRow

BY = "tables"
ID_SHAPE = re.compile(r"^[(\[]?[A-Z]{1,4}[- .]?\d{1,4}[A-Z]?[)\]]?$")
CARRIED_ON = 0.7
"""Chance that rows without an id of their own belong to the connector before them."""
NARROW = 0.6
"""A column of cavities is at most this share of a column of wires wide (common practice, no source)."""
HEAD_REACH = 4.0
"""An id names the ruled table below it when it stands at most so many letter heights above (common practice, no source)."""

Role = str
"""``code``, ``dash``, ``id``, ``cavity`` or ``words``: what a text of a chart looks like."""


def role_of(text: ReadText) -> Role:
    """What a text looks like by itself."""
    word = text.text.strip()
    if is_dash(text):
        return "dash"
    code = mass(text, "code")
    mixed = len(word) > 4 and any(c.isdigit() for c in word) and any(c.isalpha() for c in word)
    if code >= 0.5 or (code >= 0.2 and mixed) or (text.kind == "code" and len(word) > 3):
        return "code"
    if mass(text, "connector") >= 0.5 or ID_SHAPE.match(word.upper()):
        return "id"
    if len(word) <= 3 and word.isalnum():
        return "cavity"
    return "words"


def mass(text: ReadText, kind: str) -> float:
    """Chance that the text is of ``kind`` at all."""
    return sum(a.probability for a in text.of_kind(kind))


@dataclass(slots=True)
class _Entry:
    """An entry in the making."""

    id_texts: list[ReadText] = field(default_factory=list)
    place: list[ReadText] = field(default_factory=list)
    names: tuple[str, str] | None = None
    rows: list[ChartRow] = field(default_factory=list)
    carried: Claim | None = None


def read_chart(facts: SheetFacts, texts: Sequence[ReadText], rules: Rules) -> tuple[ChartEntry, ...]:
    """All entries of a chart page, down the columns, left to right. Rows before any id get an unread connector."""
    level = without_bits(level_texts(texts))
    entries: list[_Entry] = []
    for box, inside in _regions(level, rules):
        entries += _region(facts, inside, rules, entries[-1] if entries else None, box)
    return tuple(e for e in (_finished(facts, e) for e in entries) if e is not None)


def _regions(texts: Sequence[ReadText], rules: Rules) -> list[tuple[Box, list[ReadText]]]:
    """Ruled tables with what stands in them; the rest of the page by the columns in which ids or codes start."""
    left = list(texts)
    out: list[tuple[Box, list[ReadText]]] = []
    for box in tables_of(rules):
        inside = [t for t in left if box.holds(t.box.centre, 0.5)]
        if sum(role_of(t) in {"code", "dash"} for t in inside) >= 1 and len(inside) >= 3:
            inside = [*_head_above(box, inside, left), *inside]
            out.append((union([box, *(t.box for t in inside)]), inside))
            left = [t for t in left if t not in inside]
    codes = [t for t in left if role_of(t) == "code"]
    ids = [t for t in left if role_of(t) == "id"]
    # stray codes are a table too when they are many, or stand right below an id: a table whose rules are worn
    headed = any(
        i.box.x0 - 5.0 <= c.box.x0 <= i.box.x0 + 60.0 and 0.0 < c.box.y0 - i.box.y1 < 8.0 * i.box.height
        for c in codes
        for i in ids
    )
    if len(codes) >= max(2, 0.15 * sum(len(i) for _, i in out)) or headed:
        out += [(union([t.box for t in part]), part) for part in _columns(left)]
    return sorted(out, key=lambda r: (round(r[0].x0 / 12), r[0].y0))


def _head_above(box: Box, inside: Sequence[ReadText], texts: Sequence[ReadText]) -> list[ReadText]:
    """The lines from an id that stands close above a ruled table down to the table, when the table names no id itself."""
    # the first letters of a worn code look like an id, but a cavity stands before them
    if any(role_of(row.texts[0]) == "id" and row.texts[0].box.x0 < box.centre[0] for row in rows_of(inside)):
        return []
    tall = letter_height(inside)
    above = [
        t
        for t in texts
        if box.x0 - tall <= t.box.centre[0] <= box.x1 + tall and -0.4 * tall <= box.y0 - t.box.y1 <= HEAD_REACH * tall
    ]
    ids = [t for t in above if role_of(t) == "id"]
    if not ids:
        return []
    head = max(ids, key=lambda t: (round(t.box.y1 / tall), -t.box.x0))
    return [t for t in above if t.box.centre[1] >= head.box.centre[1] - tall]


def _columns(texts: Sequence[ReadText]) -> list[list[ReadText]]:
    """Split an unruled page into its columns of entries: each starts where ids stand under each other."""
    rows = rows_of(texts)
    ids, cavities = [], []
    for row in rows:
        for k, t in enumerate(row.texts):
            # an id opens a column when no cavity or code of the same line stands close before it
            if role_of(t) == "id" and (k == 0 or t.box.x0 - row.texts[k - 1].box.x1 > 3 * t.box.height):
                ids.append(t.box.x0)
            short = len(t.text.strip()) <= 3 and role_of(t) != "dash"  # a dash is a half without a wire
            if short and k + 1 < len(row.texts) and role_of(row.texts[k + 1]) in {"code", "dash"}:
                cavities.append(t.box.x0)
    common = [x for x, n in clusters(ids, 4.0) if n >= 2]
    for x, n in clusters(cavities, 4.0):
        near = [i for i in ids if abs(i - x) < 10.0]
        if n >= 2 and not any(abs(c - x) < 20.0 for c in common) and not _one_list(rows, common, x):
            common.append(min([x, *near]))
    common = sorted(common) or [min((t.box.x0 for t in texts), default=0.0)]
    edges = [x - 2.5 for x in common]
    edges[0] = min(edges[0], min(t.box.x0 for t in texts) - 1)
    parts: list[list[ReadText]] = [[] for _ in edges]
    for t in texts:
        k = int(np.searchsorted(edges, t.box.x0, side="right")) - 1
        parts[max(0, k)].append(t)
    return [p for p in parts if p]


def _one_list(rows: Sequence[Row], ids: Sequence[float], cavities: float) -> bool:
    """True when the cavities at x ``cavities`` go on the lines that the ids of one column begin: id, place, cavity, wires.

    ``ids``: x of the columns of ids. In tables for each connector an id heads its table, on a line of its own.
    """
    left = max((x for x in ids if x < cavities), default=None)
    if left is None:
        return False
    begun = gone_on = 0
    for row in rows:
        if any(abs(t.box.x0 - left) < 4.0 and role_of(t) == "id" for t in row.texts):
            begun += 1
            there = [t for t in row.texts if abs(t.box.x0 - cavities) < 4.0 and role_of(t) != "id"]
            gone_on += any(len(t.text.strip()) <= 3 for t in there)
    return 2 * gone_on > begun


def _region(
    facts: SheetFacts, texts: Sequence[ReadText], rules: Rules, before: _Entry | None, box: Box
) -> list[_Entry]:
    """The entries of one table or column."""
    rows = rows_of(texts)
    half_columns = _half_columns(texts, rules, box)
    entries: list[_Entry] = []
    now: _Entry | None = None
    pending: tuple[str, str] | None = None
    for row in rows:
        if _is_heading(row):
            names = _half_names(row, half_columns)
            if now is None or now.rows:
                pending = names
            else:
                now.names = names
            continue
        cavity, halves, others = _parted(row, half_columns)
        ids = [t for t in others if role_of(t) == "id"]
        if not halves:
            if ids:
                parts = _id_parts(ids[0], others)
                now = _Entry(id_texts=parts, place=[t for t in others if t not in parts], names=pending)
                entries.append(now)
            elif now is not None and not now.rows and now.id_texts:
                now.place += others if cavity is None else [cavity, *others]
            continue
        # in a row of wires an id has a column of its own; what stands in the cavity's cell is dirt
        ids = [t for t in ids if cavity is None or _apart(t, cavity, rules)]
        if ids and (now is None or ids[0].text not in {t.text for t in now.id_texts} or not now.rows):
            now = _Entry(id_texts=ids[:1], place=[t for t in others if t is not ids[0]], names=pending)
            entries.append(now)
        elif now is None:
            now = _carried_on(facts, before)
            entries.append(now)
        elif others and now.rows and not ids:
            now.place += others
        now.rows.append(_row(facts, row, cavity, halves))
    return entries


def _apart(text: ReadText, cavity: ReadText, rules: Rules) -> bool:
    gap = cavity.box.x0 - text.box.x1
    if cut_from_one(text, cavity):
        return True
    return gap > 2 * cavity.box.height or rules.between(text.box.centre[1], text.box.x1 - 0.5, cavity.box.x0 + 0.5)


def _id_parts(first: ReadText, texts: Sequence[ReadText]) -> list[ReadText]:
    """An id that was found in pieces, left to right: short texts that follow it as closely as letters do."""
    parts = [first]
    for t in sorted(texts, key=lambda t: t.box.x0):
        last = parts[-1]
        if (
            0 <= t.box.x0 - last.box.x1 < 0.6 * last.box.height
            and len(t.text.strip()) <= 2
            and t.text.strip().isalnum()
        ):
            parts.append(t)
    return parts


def _carried_on(facts: SheetFacts, before: _Entry | None) -> _Entry:
    """The entry of a column that starts in the middle of a connector."""
    if before is None:
        return _Entry(carried=Claim(None, 0.5))
    claim = before.carried or claim_of(facts, before.id_texts, "connector", BY)
    return _Entry(carried=replace(claim, probability=claim.probability * CARRIED_ON), names=before.names)


def _is_heading(row: Row) -> bool:
    """Column headings: cavity words or names of halves, and no wire code."""
    if any(role_of(t) == "code" for t in row.texts):
        return False
    texts = [t.text for t in row.texts]
    cavity = any(wording.all_say(t, wording.CAVITY_WORDS) for t in texts)
    halves = sum(wording.says(t, wording.HALF_WORDS) for t in texts)
    return (cavity and halves >= 1) or halves >= 2


@dataclass(frozen=True, slots=True)
class _Halves:
    """Where the two columns of codes start and end, mm; equal when the chart has only one."""

    a: tuple[float, float]
    b: tuple[float, float]
    single: bool


def _half_columns(texts: Sequence[ReadText], rules: Rules, box: Box) -> _Halves | None:
    """The columns of codes: cells between upright rules, or where codes stand under each other."""
    cells = [t for t in texts if role_of(t) in {"code", "dash"}]
    if not cells:
        return None
    tall = letter_height(texts)
    high = 0.45 * box.height
    upright = [x for x, y0, y1 in rules.upright if min(y1, box.y1) - max(y0, box.y0) > high]
    bounds = [x for x, _ in clusters([x for x in upright if box.x0 - 1 <= x <= box.x1 + 1], 1.0)]
    if len(bounds) >= 3:
        spans = list(pairwise(bounds))
        filled = [(a, b) for a, b in spans if sum(a <= t.box.centre[0] <= b for t in cells) >= max(1, 0.2 * len(cells))]
        # codes tell which columns are the halves: a dash in a cavity's column is what is left of a rule
        with_codes = [
            (a, b) for a, b in filled if any(role_of(t) == "code" and a <= t.box.centre[0] <= b for t in cells)
        ]
        filled = with_codes if len(with_codes) >= 2 else filled
        if len(filled) >= 2 and _is_for_cavities(filled[0], filled[1], cells):
            filled = filled[1:]
        if len(filled) >= 2:
            return _Halves(filled[0], filled[1], single=False)
        if len(filled) == 1:
            return _Halves(filled[0], filled[0], single=True)
    starts = [(x, n) for x, n in clusters([t.box.x0 for t in cells], 1.5 * tall) if n >= 0.2 * len(cells)]
    if not starts:
        starts = clusters([t.box.x0 for t in cells], 1.5 * tall)[:1]
    if len(starts) > 2:
        # codes tell where a column is; a dash alone may be what is left of a rule
        full = [x for x, _ in clusters([t.box.x0 for t in cells if role_of(t) == "code"], 1.5 * tall)]
        kept = [(x, n) for x, n in starts if any(abs(x - c) < 1.5 * tall for c in full)]
        starts = kept if len(kept) >= 2 else starts
    if len(starts) > 2:
        first, second = ((x - tall, y - tall) for (x, _), (y, _) in pairwise(starts[:3]))
        starts = starts[1:] if _is_for_cavities(first, second, cells) else starts
    edge = max(t.box.x1 for t in texts) + tall
    if len(starts) == 1:
        return _Halves((starts[0][0] - tall, edge), (starts[0][0] - tall, edge), single=True)
    a, b = starts[0][0], starts[1][0]
    end = starts[2][0] - tall if len(starts) > 2 else min(edge, _words_beyond(texts, b, tall))
    return _Halves((a - tall, b - tall), (b - tall, end), single=False)


def _words_beyond(texts: Sequence[ReadText], x: float, tall: float) -> float:
    """Where a column of words (places, remarks) begins right of the last column of codes, which starts at ``x`` mm."""
    codes = [t.box.x1 for t in texts if role_of(t) == "code" and abs(t.box.x0 - x) < 1.5 * tall]
    words = [
        t.box.x0 for t in texts if role_of(t) == "words" and t.box.x0 > max(codes, default=float("inf")) + 0.4 * tall
    ]
    return min(words, default=float("inf")) - 0.4 * tall


def _is_for_cavities(first: tuple[float, float], second: tuple[float, float], cells: Sequence[ReadText]) -> bool:
    """True for a narrow first column of short names where codes are short too: a wire's key looks like a cavity's name."""
    inside = [t.text.strip() for t in cells if first[0] <= t.box.centre[0] <= first[1]]
    narrow = first[1] - first[0] < NARROW * (second[1] - second[0])
    return narrow and bool(inside) and all(len(t) <= 3 for t in inside)


def _parted(row: Row, halves: _Halves | None) -> tuple[ReadText | None, dict[str, list[ReadText]], list[ReadText]]:
    """A row's cavity, what stands in each half, and the rest. No halves: the row is no row of cavities."""
    if halves is None:
        return None, {}, list(row.texts)
    a, b, rest = [], [], []
    for t in row.texts:
        x = t.box.centre[0]
        if halves.a[0] <= x < halves.a[1]:
            a.append(t)
        elif not halves.single and halves.b[0] <= x <= halves.b[1]:
            b.append(t)
        else:
            rest.append(t)
    codes = [t for t in (*a, *b) if role_of(t) in {"code", "dash"}]
    if not codes and any(role_of(t) == "id" for t in rest):
        return None, {}, list(row.texts)
    before = [t for t in rest if t.box.x1 <= halves.a[0] + 1.5]
    short = [t for t in before if len(t.text.strip()) <= (3 if role_of(t) == "code" else 4) and role_of(t) != "dash"]
    cavity = short[-1] if short else None
    alone = cavity is not None and len(row.texts) == 1 and role_of(cavity) == "cavity"
    if not codes and not alone and not (cavity is not None and role_of(cavity) == "cavity" and (a or b)):
        return None, {}, list(row.texts)
    found = {"a": _clean(a)} if halves.single else {"a": _clean(a), "b": _clean(b)}
    return cavity, found, [t for t in rest if t is not cavity]


def _clean(texts: list[ReadText]) -> list[ReadText]:
    """What a cell of codes holds without the dirt around it: single characters beside a code, several dashes."""
    if any(role_of(t) == "code" for t in texts):
        tall = max(t.box.height for t in texts if role_of(t) == "code")
        return [
            t
            for t in texts
            if role_of(t) == "code" or (len(t.text.strip()) > 1 and not is_dash(t) and t.box.height > 0.6 * tall)
        ]
    dashes = [t for t in texts if is_dash(t)]
    words = [t for t in texts if len(t.text.strip()) > 1 and not is_dash(t)]
    if dashes and not words:
        return [max(dashes, key=lambda t: t.box.width)]
    return words


def _row(facts: SheetFacts, row: Row, cavity: ReadText | None, halves: dict[str, list[ReadText]]) -> ChartRow:
    kind = "number" if cavity is not None and cavity.text.strip().isdigit() else None
    first = claim_of(facts, [cavity] if cavity is not None else [], kind, BY)
    a = claim_of(facts, halves.get("a", []), "code", BY)
    # a chart with a single column of wires says the same of both halves
    b = claim_of(facts, halves["b"], "code", BY) if "b" in halves else a
    return ChartRow(first, a, b, row.box)


def _half_names(row: Row, halves: _Halves | None) -> tuple[str, str] | None:
    if halves is None or halves.single:
        return None
    a = " ".join(t.text for t in row.texts if halves.a[0] <= t.box.centre[0] < halves.a[1])
    b = " ".join(t.text for t in row.texts if halves.b[0] <= t.box.centre[0] <= halves.b[1])
    return (a, b) if a and b else None


def _finished(facts: SheetFacts, e: _Entry) -> ChartEntry | None:
    if not e.rows and not e.id_texts:
        return None
    place = [t for t in e.place if not wording.CONTINUED.fullmatch(t.text.strip())]
    location = Claim.unread(0.9)
    for t in place:
        location = joined(location, claim_of(facts, [t], None, BY), " ")
    connector = e.carried if e.carried is not None else claim_of(facts, e.id_texts, "connector", BY)
    if connector.value is not None:
        same = tuple(Alternative(_bare(x.text), x.probability) for x in connector.alternatives)
        connector = replace(connector, value=_bare(connector.value), alternatives=same)
    boxes = [t.box for t in (*e.id_texts, *place)] + [r.box for r in e.rows]
    return ChartEntry(connector, location, e.names, tuple(e.rows), union(boxes))


def _bare(name: str) -> str:
    """An id without the brackets around it and the spaces between its pieces."""
    return re.sub(r"[()\[\]]|\s+(?=\w)", "", name).strip()
