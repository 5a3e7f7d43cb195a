"""The connector chart as evidence: which connector is drawn, which cavity each pair of terminals is, what code is there.

A chart row and a pair of terminals are the same cavity with a Bayes factor from the codes on both halves and from a
cavity number printed on the drawing. All pairs of one connector, over all sheets, are matched to its rows at once. A
matched row is then one more reading of the codes of the wires that end there, believed as far as the match is believed
and as far as charts are right at all.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from digitize.harness.claim import Alternative, Claim, Evidence
from digitize.harness.model import Cavity, Connector, DrawnConnector
from digitize.harness.place import Place
from digitize.tables.state import ChartEntry, ChartRow, SheetTable
from digitize.wiring.binding_names import place_on
from digitize.wiring.binding_objects import part_of
from digitize.wiring.evidence import Lift, Reading, agreement, assign, claim_from, marginals, reading_of
from digitize.wiring.evidence_codes import CodeSense

CHART_ERRS = 0.01
"""Chance that one chart cell disagrees with the drawing (common practice, no source)."""
SAME_ID = 30.0
"""Bayes factor for one cavity when only size or colour differ: a misprint or a misreading of the rest."""
DASH_BUT_DRAWN = 0.05
CAVITIES_PRINT_FEW = 1 / 20
"""Prior of one cavity label."""
CONNECTORS_PRINT_MANY = 1e-3
"""Prior of one connector id."""
SURE_LABEL = 0.98
"""A label read so surely, and in the chart, needs no look at the wires around it."""
LEAST_ALIKE = 1e-6
"""An id of the chart that a drawn one could be with less chance than this is another connector's."""
SURELY_PRINTED = 0.99
"""A cell read so surely is printed so: what is drawn otherwise makes a finding, not another reading."""
SURE_CELL = 0.8
"""A chart cell less sure than this is weighed again when the wires are known."""
UNREAD = "?"
"""No id of a connector begins so."""
WORN = 0.01
"""Chance that the first or last sign of an id has worn away (common practice, no source)."""
STUCK = 0.001
"""The same for a drawn id, less, for it takes an id away that was read."""
IN_CHART = 0.95
"""Chance that a drawn connector is in the chart, once there is a chart."""


@dataclass(frozen=True, slots=True)
class Chart:
    """All chart pages: for each connector id its rows, with the place of each."""

    entries: Mapping[str, ChartEntry]
    places: Mapping[str, Place]
    rows: Mapping[str, tuple[tuple[ChartRow, Place], ...]]


@dataclass(frozen=True, slots=True)
class HalfMatch:
    """One half of one cavity found on the drawing.

    ``half`` is ``a`` or ``b`` of the chart row, ``says`` the chart's word for it, ``probability`` that row and pair of terminals are the same cavity.
    """

    connector: str
    drawn: str
    terminal: str
    cavity: str
    half: str
    says: Claim
    place: Place
    probability: float


@dataclass(frozen=True, slots=True)
class ChartEvidence:
    """What the chart gives: connectors with cavities filled, drawings to turn round, and readings for wires' ends."""

    connectors: tuple[Connector, ...]
    turned: frozenset[str]
    halves: tuple[HalfMatch, ...]


def chart_of(tables: Iterable[SheetTable]) -> Chart:
    """Put the entries of all chart pages together; an entry that goes on elsewhere adds its rows.

    One whose id was not read stands under a makeshift that begins with UNREAD, until the drawings name it or it is left out.
    """
    entries: dict[str, ChartEntry] = {}
    places: dict[str, Place] = {}
    rows: dict[str, list[tuple[ChartRow, Place]]] = defaultdict(list)
    last: str | None = None
    for table in tables:
        for k, entry in enumerate(table.chart):
            name = entry.connector.value
            if name is None and k == 0:
                # rows at the top of a page, before any id, go on with the last entry of the page before
                name = last if last is not None and _goes_on(rows[last], entry) else None
            if name is None:
                name = f"{UNREAD}{len(entries)}"
            last = name
            first = entries.get(name)
            if first is None:
                entries[name] = entry
                places[name] = place_on(table.facts, entry.box)
            elif first.location.value is None and entry.location.value is not None:
                entries[name] = replace(first, location=entry.location)
            known = {r.cavity.value for r, _ in rows[name]}
            rows[name] += [(r, place_on(table.facts, r.box)) for r in entry.rows if r.cavity.value not in known]
    return Chart(entries, places, {k: tuple(v) for k, v in rows.items()})


def _goes_on(before: Sequence[tuple[ChartRow, Place]], entry: ChartEntry) -> bool:
    """True when the cavities of an entry without an id may follow those of the one before: none is named twice."""
    names = {row.cavity.value for row, _ in before}
    return all(row.cavity.value not in names for row in entry.rows)


Ends = Mapping[tuple[str, str], Reading | None]
"""(drawn connector id, terminal) → the code of the wire that ends there; absent: no wire ends there."""


def settle_labels(
    drawn: Sequence[DrawnConnector], labels: Mapping[str, Claim], chart: Chart, ends: Ends, codes: CodeSense, by: str
) -> dict[str, Claim]:
    """Labels of the drawings after the chart has spoken; without a chart they stay as read."""
    if not chart.entries:
        return {d.id: labels[d.id] for d in drawn}
    settled = {}
    for d in drawn:
        reading = reading_of(labels[d.id])
        if reading is None:
            settled[d.id] = labels[d.id]
            continue
        reading = _perhaps_worn(reading, chart.entries)
        near = {n for n in chart.entries if reading.chance(n) > LEAST_ALIKE}
        plain = max((reading.chance(n) for n in near), default=0.0) > SURE_LABEL
        content = {n: 1.0 if plain else content_factor(d, chart.rows[n], ends, codes) for n in near}
        usual = IN_CHART / len(chart.entries) / CONNECTORS_PRINT_MANY

        def likelier(s: str, content: dict[str, float] = content, usual: float = usual) -> float:
            return usual * content[s] if s in content else 1.0 - IN_CHART

        lift = Lift(likelier, 1.0 - IN_CHART, tuple(sorted(near)))
        claim = claim_from([reading], lambda _: CONNECTORS_PRINT_MANY, lift)
        if claim.value in near:
            says = Evidence("chart", claim.value or "", 1.0 - CHART_ERRS, by, chart.places[claim.value or ""])
            claim = replace(claim, evidence=(*claim.evidence, says))
        settled[d.id] = claim
    return settled


def parts_left(id_: str) -> set[str]:
    """What is left of an id whose first or last sign wore away, or stuck to the outline round it."""
    return {id_[1:], id_[:-1]} - {""}


def _perhaps_worn(reading: Reading, ids: Iterable[str]) -> Reading:
    """The reading with those ``ids`` among its alternatives of which only a part may have been read."""
    read = {a.text: a.probability for a in reading.alternatives}
    more = {n: STUCK * max(read.get(part, 0.0) for part in parts_left(n)) for n in ids if len(n) > 1 and n not in read}
    worn = tuple(Alternative(n, p) for n, p in sorted(more.items()) if p > LEAST_ALIKE)
    return replace(reading, alternatives=(*reading.alternatives, *worn)) if worn else reading


def content_factor(d: DrawnConnector, rows: Sequence[tuple[ChartRow, Place]], ends: Ends, codes: CodeSense) -> float:
    """How well the codes around a drawing fit the rows of one connector: mean Bayes factor, held within 1/50 … 1000."""
    product = 1.0
    for i, (a, b) in enumerate(pairs_of(d)):
        ways = [
            max(_pair_factor(d, i, a, b, row, ends, codes), _pair_factor(d, i, b, a, row, ends, codes))
            for row, _ in rows
        ]
        product *= sum(ways) / len(ways) if ways else 1.0
    return min(max(product, 0.02), 1000.0)


def pairs_of(d: DrawnConnector) -> list[tuple[str, str]]:
    """Terminal ids of a drawing in pairs (a1, b1), (a2, b2) …"""
    numbers = sorted({t.id[1:] for t in d.terminals if t.id[:1] in "ab" and t.id[1:].isdigit()}, key=int)
    return [(f"a{n}", f"b{n}") for n in numbers]


def _pair_factor(d: DrawnConnector, i: int, a: str, b: str, row: ChartRow, ends: Ends, codes: CodeSense) -> float:
    printed = d.cavities[i] if i < len(d.cavities) else None
    cavity = 1.0
    if printed is not None:
        reading = reading_of(row.cavity)
        same = reading.chance(printed) if reading is not None else CAVITIES_PRINT_FEW
        cavity = 0.97 * same / CAVITIES_PRINT_FEW + 0.03
    return cavity * _half_factor((d.id, a), row.a, ends, codes) * _half_factor((d.id, b), row.b, ends, codes)


def _half_factor(end: tuple[str, str], says: Claim, ends: Ends, codes: CodeSense) -> float:
    row = reading_of(says)
    if end not in ends:
        return 0.5 if row is not None else 1.0
    drawn = ends[end]
    if row is None:
        return DASH_BUT_DRAWN if drawn is not None else 0.5
    if drawn is None:
        return 1.0
    near = SAME_ID if codes.same_id(drawn.alternatives[0].text, row.alternatives[0].text) else 0.05
    return (1.0 - CHART_ERRS) * agreement(drawn, row, codes.prior) + CHART_ERRS * near


def read_chart(connectors: Sequence[Connector], chart: Chart, ends: Ends, codes: CodeSense, by: str) -> ChartEvidence:
    """Match every connector's pairs of terminals to its chart rows, and tell what follows."""
    out: list[Connector] = [
        Connector(
            name,
            entry.connector,
            (),
            _rows_as_cavities(chart.rows[name], codes, by),
            entry.half_names,
            entry.location.value,
            part_of(name, codes.conventions),
        )
        for name, entry in chart.entries.items()
        if name not in {c.id for c in connectors}
    ]
    turned: set[str] = set()
    halves: list[HalfMatch] = []
    for c in connectors:
        entry = chart.entries.get(c.id)
        if entry is None:
            out.append(c)
            continue
        rows = chart.rows[c.id]
        here, matched = _match(c, rows, ends, codes, turned)
        halves += matched
        cavities = _rows_as_cavities(rows, codes, by)
        out.append(
            replace(here, cavities=cavities, half_names=entry.half_names, location=entry.location.value),
        )
    out = [_settled_cells(c, [h for h in halves if h.connector == c.id], ends, codes, by) for c in out]
    out.sort(key=lambda c: c.id)
    return ChartEvidence(tuple(out), frozenset(turned), tuple(halves))


def _settled_cells(c: Connector, halves: Sequence[HalfMatch], ends: Ends, codes: CodeSense, by: str) -> Connector:
    """Chart cells after the drawing has spoken: a misread cell is put right, a misprint that is read surely stays."""
    if not halves:
        return c
    places = {d.id: d.place for d in c.places}
    rows = {r.label: r for r in c.cavities}
    for h in halves:
        row, drawn = rows.get(h.cavity), ends.get((h.drawn, h.terminal))
        cell = None if row is None else row.a if h.half == "a" else row.b
        printed = None if cell is None else reading_of(cell)
        if row is None or cell is None or printed is None or drawn is None:
            continue
        top = drawn.alternatives[0]
        says = Evidence("drawn", top.text, top.probability, by, places.get(h.drawn))
        other = replace(drawn, belongs=h.probability * (1.0 - CHART_ERRS), evidence=(says,))
        settled = claim_from([printed, other], codes.prior, codes.lift())
        if cell.probability >= SURELY_PRINTED and settled.value != cell.value:
            settled = replace(cell, evidence=settled.evidence)
        rows[h.cavity] = replace(row, a=settled) if h.half == "a" else replace(row, b=settled)
    return replace(c, cavities=tuple(rows[r.label] for r in c.cavities))


def cells_after_wires(
    connectors: Sequence[Connector], halves: Sequence[HalfMatch], wires: Ends, codes: CodeSense, by: str
) -> tuple[Connector, ...]:
    """Doubtful cells once more, when all that speaks of the wires at their cavities has been heard.

    ``wires``: what each wire that ends at a terminal is called now. A cell that is read surely stays as printed.
    """
    doubtful = {
        (c.id, r.label, half)
        for c in connectors
        for r in c.cavities
        for half, cell in (("a", r.a), ("b", r.b))
        if cell.value is not None and cell.probability < SURE_CELL
    }
    again = [h for h in halves if (h.connector, h.cavity, h.half) in doubtful]
    return tuple(
        _settled_cells(_as_read(c, mine), mine, wires, codes, by)
        if (mine := [h for h in again if h.connector == c.id])
        else c
        for c in connectors
    )


def _as_read(c: Connector, halves: Sequence[HalfMatch]) -> Connector:
    """The connector with the cells of ``halves`` as the chart was read, before anything else was heard."""
    rows = {r.label: r for r in c.cavities}
    for h in halves:
        cell = h.says
        rows[h.cavity] = replace(rows[h.cavity], a=cell) if h.half == "a" else replace(rows[h.cavity], b=cell)
    return replace(c, cavities=tuple(rows[r.label] for r in c.cavities))


def _rows_as_cavities(rows: Sequence[tuple[ChartRow, Place]], codes: CodeSense, by: str) -> tuple[Cavity, ...]:
    return tuple(
        Cavity(r.cavity.value or "?", _printed(r.a, p, codes, by), _printed(r.b, p, codes, by)) for r, p in rows
    )


def _printed(claim: Claim, place: Place, codes: CodeSense, by: str) -> Claim:
    """A chart cell as a claim with its place; a code that fits no pattern is kept as it was read."""
    if claim.value is None or claim.evidence:
        return claim
    fits = 1.0 if codes.parse(claim.value) is not None else 0.5
    return replace(claim, evidence=(Evidence("chart", claim.value, claim.probability * fits, by, place),))


def _match(
    c: Connector, rows: Sequence[tuple[ChartRow, Place]], ends: Ends, codes: CodeSense, turned: set[str]
) -> tuple[Connector, list[HalfMatch]]:
    pairs = [(d, i, a, b) for d in c.places for i, (a, b) in enumerate(pairs_of(d))]
    if not pairs or not rows:
        return c, []
    straight = np.array([[_log(_pair_factor(d, i, a, b, row, ends, codes)) for row, _ in rows] for d, i, a, b in pairs])
    crossed = np.array([[_log(_pair_factor(d, i, b, a, row, ends, codes)) for row, _ in rows] for d, i, a, b in pairs])
    # A drawing may show the chart's first half at its own second side: each drawing as a whole is turned or not.
    weight = straight.copy()
    for d in c.places:
        mine = [k for k, p in enumerate(pairs) if p[0] is d]
        if crossed[mine].max(axis=1).sum() > straight[mine].max(axis=1).sum() + math.log(20.0):
            weight[mine] = crossed[mine]
            turned.add(d.id)
    # Without any knowledge each of the rows is as likely.
    weight = weight - math.log(len(rows)) + math.log(IN_CHART / (1.0 - IN_CHART))
    chosen = dict(assign(weight))
    chance = marginals(weight)
    cavities = {d.id: list(d.cavities) for d in c.places}
    matched: list[HalfMatch] = []
    for k, r in chosen.items():
        d, i, a, b = pairs[k]
        row, place = rows[r]
        sure = float(chance[k, r])
        label = row.cavity.value
        if label is None:
            continue
        if sure >= 0.5 and i < len(cavities[d.id]):
            cavities[d.id][i] = label
        if d.id in turned:
            a, b = b, a
        for half, terminal, says in (("a", a, row.a), ("b", b, row.b)):
            matched.append(HalfMatch(c.id, d.id, terminal, label, half, says, place, sure))
    places = tuple(replace(d, cavities=tuple(cavities[d.id])) for d in c.places)
    return replace(c, places=places), matched


def chart_reading(half: HalfMatch, by: str) -> Reading | None:
    """A matched chart cell as one more reading of the code of the wire that ends there."""
    if half.says.value is None:
        return None
    sure = half.says.probability * half.probability
    kept = (Evidence("chart", half.says.value, sure, by, half.place),)
    alternatives = half.says.alternatives or (Alternative(half.says.value, half.says.probability),)
    return Reading(alternatives, half.probability * (1.0 - CHART_ERRS), kept)


def turn(d: DrawnConnector) -> DrawnConnector:
    """The same drawing with its halves named the other way round."""
    other = {"a": "b", "b": "a"}
    terminals = tuple(replace(t, id=other.get(t.id[:1], t.id[:1]) + t.id[1:]) for t in d.terminals)
    return replace(d, terminals=tuple(sorted(terminals, key=lambda t: t.id)))


def _log(x: float) -> float:
    return math.log(x + 1e-9)
