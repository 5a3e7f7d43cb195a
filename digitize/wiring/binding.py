"""Binding: all sheets and tables of one manual become one harness.

The model. What a manual says of one fact is pooled by naive Bayes with a chance that a reading is about something else
(``evidence``: Dawid and Skene 1979, Genest and Zidek 1986). Which things are the same is settled for all at once, by the
assignment with the greatest sum of log Bayes factors (Kuhn, "The Hungarian method for the assignment problem", *Naval
Research Logistics Quarterly* 2, 1955; ``scipy.optimize.linear_sum_assignment``), and each pair's chance by belief
propagation (Bayati and Nair 2006): page-edge marks with each other (``edges``), drawings of connectors and their pairs of
terminals with chart rows (``evidence_chart``), chart entries with drawn ids (``evidence_entries``), names with index lines
and zones (``evidence_index``). Nothing is matched greedily.

The order of the steps: objects of the sheets get stable ids; page-edge marks are matched and runs joined to wires; the
connector chart settles connector ids, fills cavities and adds its word on codes; the codes of each wire are pooled from
everything that speaks of it, then once more with what the manual's habits make likely; tables of short keys explain
them; words that stand again and again and the index settle names; the checks look for what does not fit. The order in
which sheets are handed over never matters.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from digitize.harness.checks import find_all
from digitize.harness.claim import Alternative, Claim, Evidence
from digitize.harness.model import (
    NO_RIGHTS_NOTE,
    Connector,
    DrawnGrommet,
    Grommet,
    Harness,
    PageLink,
    PrintedText,
    SheetNote,
    Splice,
    Wire,
)
from digitize.harness.place import Box
from digitize.legend.conventions import Conventions
from digitize.sheet.state import SheetFacts
from digitize.tables.state import SheetTable
from digitize.wiring.binding_dots import code_reading
from digitize.wiring.binding_names import natural_key, place_on
from digitize.wiring.binding_objects import Objects, connectors_of, grommets_of, objects_of
from digitize.wiring.binding_pairs import paired
from digitize.wiring.binding_wires import Joined, Strand, join_runs
from digitize.wiring.evidence import Lift, Reading, claim_from, pool, reading_of
from digitize.wiring.evidence_chart import (
    Chart,
    ChartEvidence,
    cells_after_wires,
    chart_of,
    chart_reading,
    read_chart,
    settle_labels,
    turn,
)
from digitize.wiring.evidence_codes import CodeSense
from digitize.wiring.evidence_entries import named_by_drawing
from digitize.wiring.evidence_index import Settled, index_of, settle_names
from digitize.wiring.evidence_manual import habit_lifts
from digitize.wiring.evidence_trust import weighed
from digitize.wiring.evidence_words import Words
from digitize.wiring.short_keys import ShortKeys, explained, short_keys
from digitize.wiring.state import RunCode, SheetWiring

BY = "binding 1"
"""Stage and version in the evidence that binding adds."""


SAME_ID_BELONGS = 0.999
"""Chance that a drawn code belongs to a wire whose chart row has the same circuit, number and segment."""


LEAST_CHANCE = 1e-4
"""A printed text is put right by what its wire is called only where it could be read so with at least this chance."""


@dataclass(frozen=True, slots=True)
class EvidenceUsed:
    """Which evidence beyond the drawing itself is used; switched off only to measure the lift of each."""

    chart: bool = True
    index: bool = True
    habits: bool = True
    repeats: bool = True


ALL_EVIDENCE = EvidenceUsed()


def bind(
    sheets: Sequence[SheetWiring],
    tables: Sequence[SheetTable],
    conventions: Conventions | None = None,
    rights: str = "",
    order: Sequence[str] = (),
    used: EvidenceUsed = ALL_EVIDENCE,
    *,
    weigh: bool = True,
) -> Harness:
    """One harness from all sheets of a manual.

    ``order``: ids of all sheets in manual order (failed ones too, so that numbers stay); without it they are ordered by
    their names, numbers as numbers. ``weigh`` False leaves the probability that something is there as the sheets gave it.
    Every run becomes part of exactly one wire. Raises ValueError when two sheets have
    one id.
    """
    stated = conventions or Conventions()
    numbers = _numbers(sheets, tables, order)
    sheets = sorted(sheets, key=lambda s: numbers[s.facts.sheet])
    tables = sorted(tables, key=lambda t: numbers[t.facts.sheet])
    facts = {f.sheet: f for f in (*(s.facts for s in sheets), *(t.facts for t in tables))}
    codes = CodeSense(stated)
    listed = chart_of(tables if used.chart else ())
    sheets = [paired(s, listed, codes.prior) for s in sheets]
    objects = objects_of(sheets)
    joined = join_runs(sheets, objects.id_of, codes.prior, numbers)
    readings = _own_readings(joined.strands, sheets, used)
    chart = _read_chart(objects, joined.strands, readings, listed, codes)
    claims = _code_claims(joined.strands, readings, chart, codes, used)
    chart = replace(
        chart, connectors=cells_after_wires(chart.connectors, chart.halves, _called(joined.strands, claims), codes, BY)
    )
    index = index_of(tables, BY)
    parts = objects.components
    if used.habits:
        words = Words.of([*(c.name for c in parts if c.kind != "fuse"), *(line.entry.name for line in index)])
        parts = tuple(replace(c, name=words.respelled(c.name)) if c.kind != "fuse" else c for c in parts)
        index = tuple(replace(line, entry=replace(line.entry, name=words.respelled(line.entry.name))) for line in index)
    settled = settle_names(parts, index, BY) if used.index else Settled({}, tuple(line.entry for line in index))
    components = tuple(settled.placed(replace(c, name=settled.names.get(c.id, c.name)), facts) for c in parts)
    grommets = grommets_of(objects.drawn_grommets, objects.labels)
    wires = _wires(joined, claims, chart.turned, grommets, codes, short_keys(sheets, tables))
    harness = Harness(
        rights=rights or stated.rights or NO_RIGHTS_NOTE,
        sheets=_notes(facts, numbers),
        components=components,
        connectors=_turned(chart),
        splices=_counted(objects, wires, joined),
        grommets=_passed(grommets, wires, joined),
        grounds=objects.grounds,
        wires=wires,
        links=_coded_links(joined, claims),
        index=settled.index,
        texts=_texts(sheets, tables, _settled_texts(sheets, objects, chart.connectors, joined, claims)),
        conventions=conventions_as_words(stated),
    )
    if weigh:
        harness = weighed(harness)
    return replace(harness, findings=find_all(harness, codes.parse))


def _numbers(sheets: Sequence[SheetWiring], tables: Sequence[SheetTable], order: Sequence[str]) -> dict[str, int]:
    names = [*(s.facts.sheet for s in sheets), *(t.facts.sheet for t in tables)]
    twice = sorted({n for n in names if names.count(n) > 1})
    if twice:
        raise ValueError(f"two sheets have the id {twice[0]}")
    rest = sorted(set(names) - set(order), key=natural_key)
    return {name: i for i, name in enumerate((*order, *rest), start=1)}


def _own_readings(
    strands: Sequence[Strand], sheets: Sequence[SheetWiring], used: EvidenceUsed
) -> dict[str, list[Reading]]:
    """For each wire the codes printed along it, with the kind of each: read here, at a page edge, or a repeat."""
    by_id = {s.facts.sheet: s for s in sheets}
    runs = {(s.facts.sheet, r.id): r for s in sheets for r in s.runs}
    out: dict[str, list[Reading]] = {}
    for strand in strands:
        found: list[Reading] = []
        for local, back in strand.runs:
            along = sorted(runs[local].codes, key=_code_order, reverse=back)
            for code in along:
                reading = code_reading(code.claim, code.belongs, by_id[local[0]], code.box)
                if reading is None:
                    continue
                kind = "edge" if code.near_edge is not None else "repeat" if found else "read"
                kept = tuple(replace(e, kind=kind) if e.kind == "read" else e for e in reading.evidence)
                if not kept and code.claim.value is not None:
                    place = place_on(by_id[local[0]].facts, code.box)
                    kept = (Evidence(kind, code.claim.value, code.claim.probability, BY, place),)
                found.append(replace(reading, evidence=kept))
        if not used.repeats:
            found = sorted(found, key=lambda r: -r.belongs * r.alternatives[0].probability)[:1]
        out[strand.id] = found
    return out


def _code_order(code: RunCode) -> tuple[float, float, float, str]:
    return (code.along, code.box.x0, code.box.y0, code.claim.value or "")


def _read_chart(
    objects: Objects,
    strands: Sequence[Strand],
    readings: Mapping[str, list[Reading]],
    chart: Chart,
    codes: CodeSense,
) -> ChartEvidence:
    ends: dict[tuple[str, str], Reading | None] = {}
    for s in strands:
        ranked = pool(readings[s.id], codes.prior, codes.lift())
        for end in s.ends:
            if end.node is not None and end.terminal is not None:
                ends[end.node, end.terminal] = Reading(ranked, 1.0) if ranked else None
    chart = named_by_drawing(chart, objects.drawn_connectors, objects.labels, ends, codes, BY)
    labels = settle_labels(objects.drawn_connectors, objects.labels, chart, ends, codes, BY)
    connectors = connectors_of(objects.drawn_connectors, labels, codes.conventions)
    return read_chart(connectors, chart, ends, codes, BY)


def _called(strands: Sequence[Strand], claims: Mapping[str, Claim]) -> dict[tuple[str, str], Reading | None]:
    """What each wire is called, by the terminals it ends at."""
    return {
        (e.node, e.terminal): reading_of(claims[s.id], kept=())
        for s in strands
        for e in s.ends
        if e.node is not None and e.terminal is not None
    }


def _code_claims(
    strands: Sequence[Strand],
    readings: Mapping[str, list[Reading]],
    chart: ChartEvidence,
    codes: CodeSense,
    used: EvidenceUsed,
) -> dict[str, Claim]:
    """The code of each wire from all that speaks of it."""
    at = {(e.node, e.terminal): s.id for s in strands for e in s.ends}
    everything = {s.id: list(readings[s.id]) for s in strands}
    for half in chart.halves:
        wire = at.get((half.drawn, half.terminal))
        reading = chart_reading(half, BY)
        if wire is not None and reading is not None:
            everything[wire] = [_belonging(r, reading, codes) for r in everything[wire]] + [reading]
    plain = codes.lift()
    claims = {id_: claim_from(found, codes.prior, plain) for id_, found in everything.items()}
    lifts: Mapping[str, Lift] = habit_lifts(strands, claims, codes) if used.habits else {}
    return claims | {id_: claim_from(everything[id_], codes.prior, lift) for id_, lift in lifts.items()}


def _belonging(drawn: Reading, chart: Reading, codes: CodeSense) -> Reading:
    """A drawn code that names the same circuit, number and segment as the chart is surely about this wire."""
    if not codes.same_id(drawn.alternatives[0].text, chart.alternatives[0].text):
        return drawn
    return replace(drawn, belongs=max(drawn.belongs, SAME_ID_BELONGS))


def _wires(
    joined: Joined,
    claims: Mapping[str, Claim],
    turned: frozenset[str],
    grommets: Sequence[Grommet],
    codes: CodeSense,
    keys: ShortKeys,
) -> tuple[Wire, ...]:
    grommet_of = {d.id: g.id for g in grommets for d in g.places}
    other = {"a": "b", "b": "a"}
    wires = []
    for s in joined.strands:
        first, last = (
            replace(e, terminal=other.get(e.terminal[:1], e.terminal[:1]) + e.terminal[1:])
            if e.node in turned and e.terminal
            else e
            for e in s.ends
        )
        claim = claims[s.id]
        parsed = None if claim.value is None else codes.parse(claim.value)
        said = None if claim.value is None else keys.on(claim.value, [p.sheet for p in s.paths])
        if said is not None and claim.value is not None and claim.value not in codes.conventions.keys:
            parsed, more = explained(parsed, claim.value, said, codes.conventions, BY)
            claim = replace(claim, evidence=(*claim.evidence, more))
        passed = tuple(dict.fromkeys(grommet_of[g] for g in s.grommets if g in grommet_of))
        wires.append(Wire(s.id, claim, parsed, (first, last), s.paths, s.probability, passed, s.links))
    return tuple(sorted(wires, key=lambda w: w.id))


def _counted(objects: Objects, wires: Sequence[Wire], joined: Joined) -> tuple[Splice, ...]:
    """Splices with the number of wire ends that were found to meet there; without the dots that are none."""
    met = Counter(e.node for w in wires for e in w.ends)
    none = {objects.id_of[dot] for dot in joined.passed}
    return tuple(replace(s, degree=met[s.id]) for s in objects.splices if s.id not in none)


def _turned(chart: ChartEvidence) -> tuple[Connector, ...]:
    return tuple(
        replace(c, places=tuple(turn(d) if d.id in chart.turned else d for d in c.places)) for c in chart.connectors
    )


def _passed(grommets: Sequence[Grommet], wires: Sequence[Wire], joined: Joined) -> tuple[Grommet, ...]:
    """Grommets with the wire that passes each drawing; a drawing that two wires pass keeps the first by id."""
    by_drawing: dict[str, str] = {}
    known = {w.id for w in wires}
    for s in sorted(joined.strands, key=lambda s: s.id):
        for g in s.grommets:
            if s.id in known:
                by_drawing.setdefault(g, s.id)

    def passing(d: DrawnGrommet) -> DrawnGrommet:
        return replace(d, wire=by_drawing.get(d.id))

    return tuple(replace(g, places=tuple(passing(d) for d in g.places)) for g in grommets)


def _coded_links(joined: Joined, claims: Mapping[str, Claim]) -> tuple[PageLink, ...]:
    code = {link: claims[s.id] for s in joined.strands for link in s.links}
    return tuple(replace(link, code=code.get(link.id, link.code)) for link in joined.links)


def _notes(facts: Mapping[str, SheetFacts], numbers: Mapping[str, int]) -> tuple[SheetNote, ...]:
    ordered = sorted(facts.values(), key=lambda f: numbers[f.sheet])
    return tuple(SheetNote(f.sheet, numbers[f.sheet], f.kind, f.title, f.label, f.width, f.height) for f in ordered)


Spot = tuple[str, Box]

LEAST_SAID = 0.01
"""What is less likely than this to be printed is not said to be: turns of a coil, hatching, specks."""


def _settled_texts(
    sheets: Sequence[SheetWiring],
    objects: Objects,
    connectors: Sequence[Connector],
    joined: Joined,
    claims: Mapping[str, Claim],
) -> dict[Spot, Alternative]:
    """What codes and connector ids printed on the diagrams say after binding, by sheet and box."""
    settled: dict[Spot, Alternative] = {}
    runs = {(s.facts.sheet, r.id): r for s in sheets for r in s.runs}
    for strand in joined.strands:
        claim = claims[strand.id]
        for local, _ in strand.runs:
            for code in runs[local].codes:
                own = reading_of(code.claim, code.belongs)
                # Only as far as it can be the same string: another wire's code may stand too near.
                if own is not None and claim.value is not None and own.chance(claim.value) > LEAST_CHANCE:
                    settled[local[0], code.box] = Alternative(claim.value, claim.probability)
    for c in connectors:
        for d in c.places:
            for e in objects.labels[d.id].evidence:
                if e.kind == "read" and e.place is not None and c.label.value is not None:
                    settled[d.place.sheet, e.place.box] = Alternative(c.label.value, c.label.probability)
    return settled


def _texts(
    sheets: Sequence[SheetWiring], tables: Sequence[SheetTable], settled: Mapping[Spot, Alternative]
) -> tuple[PrintedText, ...]:
    found = []
    for s in sheets:
        for t in s.texts:
            now = settled.get((s.facts.sheet, t.box), Alternative(t.text, t.probability))
            if t.text and now.probability >= LEAST_SAID:
                found.append(PrintedText(now.text, t.role, place_on(s.facts, t.box), now.probability))
    found += [
        PrintedText(t.text, t.role, place_on(s.facts, t.box), t.probability)
        for s in tables
        for t in s.texts
        if t.text and t.probability >= LEAST_SAID
    ]
    return tuple(
        sorted(found, key=lambda t: (t.place.sheet, t.place.box.y0, t.place.box.x0, t.text, t.role, t.probability))
    )


def conventions_as_words(c: Conventions) -> dict[str, str]:
    """What the harness keeps of the conventions: key → words, e.g. ``colour RED`` → ``red``."""
    words: dict[str, str] = {}
    if c.vehicle:
        words["vehicle"] = c.vehicle
    if c.code.pattern:
        words["code pattern"] = " | ".join(c.code.pattern)
    if c.gauges.system:
        words["gauge system"] = c.gauges.system
    words |= {f"gauge {size}": f"{size} {c.gauges.system or ''}".strip() for size in c.gauges.sizes}
    for kind, table in (("circuit", c.circuits), ("colour", c.colours), ("prefix", c.connectors.prefixes)):
        words |= {f"{kind} {key}": meaning for key, meaning in sorted(table.items())}
    return words


__all__ = ["ALL_EVIDENCE", "BY", "EvidenceUsed", "bind", "conventions_as_words"]
