"""Checks of the manual's own tables against its drawings: connector chart and index."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from rapidfuzz.distance import Levenshtein

from digitize.harness.checks_kinds import Parse, finding
from digitize.harness.claim import Claim
from digitize.harness.graph import halves
from digitize.harness.model import Cavity, Connector, DrawnConnector, Finding, Harness, IndexEntry, PrintedText, Wire
from digitize.harness.place import Box, Place

SURE = 0.85
"""Both readings must be at least so sure, each by itself, before they may contradict each other."""
SURE_OF_ONE_LETTER = 0.98
LEAST_SEEN = 0.3
"""Less than this read on the drawing itself is no word against the chart, whatever else speaks for it."""
SURE_ROW = 0.5
"""A string in a cell of the chart must be read so surely to be missed."""
MOST_NAMED = 6
"""So many codes of such rows are named."""
SURE_ID = 0.9
MOST_ABSENT = 0.15
SURE_DRAWN = 0.5
"""That an oval with a sure id is a connector needs no more."""
SURE_ELSEWHERE = 0.5
"""A drawn name that reads as an index entry does is that part, even when each letter is not sure."""


def findings(harness: Harness, parse: Parse) -> Iterator[Finding]:
    """All findings about charts and index."""
    yield from _chart_rows(harness, parse)
    yield from _chart_and_drawing(harness)
    yield from _rows_of_nobody(harness)
    yield from _index(harness, parse)


# -- connector chart --------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Word:
    """What one side says of a code, and how surely."""

    text: str
    probability: float


def drawn_word(claim: Claim) -> _Word | None:
    """What the drawing alone says of a wire's code; None when nothing was read on the drawing."""
    return _word(claim, {"read", "edge", "repeat", "person"})


def _believed(claim: Claim) -> _Word | None:
    """What the drawing says, as sure as all evidence together makes it: the chart's own word counted against it."""
    seen = drawn_word(claim)
    if seen is None or seen.probability < LEAST_SEEN or claim.value != seen.text:
        return seen
    return _Word(seen.text, max(seen.probability, claim.probability))


def charted_word(claim: Claim) -> _Word | None:
    """What the chart alone says in a cell; None when nothing was read there."""
    return _word(claim, {"read", "chart", "person"})


def _word(claim: Claim, kinds: set[str]) -> _Word | None:
    """The surest string among evidence of ``kinds``, weighed by how far that evidence agrees."""
    missed: dict[str, float] = {}
    for e in claim.evidence:
        if e.kind in kinds:
            missed[e.says] = missed.get(e.says, 1.0) * (1.0 - e.probability)
    if not missed:
        return None
    text = min(missed, key=lambda t: (missed[t], t))
    others = [1.0 - m for t, m in missed.items() if t != text]
    return _Word(text, (1.0 - missed[text]) * (1.0 - max(others, default=0.0)))


def _chart_rows(harness: Harness, parse: Parse) -> Iterator[Finding]:
    at: dict[tuple[str, str], Wire] = {}
    for w in harness.wires:
        for e in w.ends:
            if e.node is not None and e.terminal is not None:
                at[e.node, e.terminal] = w
    for c in harness.connectors:
        rows = {r.label: r for r in c.cavities}
        for drawn in c.places:
            for (a, b), label in zip(halves(drawn), drawn.cavities, strict=False):
                row = rows.get(label or "")
                if row is None:
                    continue
                for terminal, says in ((a, row.a), (b, row.b)):
                    wire = at.get((drawn.id, terminal))
                    if wire is not None:
                        yield from _row_against_wire(c, drawn, row, says, wire, parse)


def _row_against_wire(
    c: Connector, drawn: DrawnConnector, row: Cavity, cell: Claim, wire: Wire, parse: Parse
) -> Iterator[Finding]:
    seen, says = _believed(wire.code), charted_word(cell)
    if seen is None or says is None or seen.text == says.text:
        return
    if min(seen.probability, says.probability, c.label.probability) < SURE or drawn.probability < SURE_DRAWN:
        return
    if any(a.text == says.text and a.probability > 0.5 for a in wire.code.alternatives[:1]):
        return  # all evidence together takes the chart's side: the drawing was misread
    one, other = parse(seen.text), parse(says.text)
    if one is None or other is None:
        return
    if Levenshtein.distance(seen.text, says.text) == 1 and min(seen.probability, says.probability) < SURE_OF_ONE_LETTER:
        return  # one letter more or less is sooner misread than misprinted
    same_id = (one.circuit, one.number, one.segment) == (other.circuit, other.number, other.segment)
    same_size = one.gauge == other.gauge
    if same_id and same_size:
        check, what = "chart-colour", "colour"
    elif same_id or (one.number is None and other.number is None):
        check, what = "chart-code", "size"
    elif same_size and (one.colour, one.tracer) == (other.colour, other.tracer):
        check, what = "chart-code", "circuit or segment"
    else:
        return  # nothing in common: rather the wrong row than a misprint
    places = [e.place for e in cell.evidence if e.place is not None and e.kind != "drawn"] + [drawn.place]
    yield finding(
        check,
        c.id,
        f"The chart prints {says.text} in cavity {row.label} of {c.id}, but the wire drawn there is {seen.text}: "
        f"the {what} differs.",
        f"Look at cavity {row.label} of {c.id} on the vehicle (battery disconnected, as its own manual says), or at "
        "the next connector on this circuit.",
        places,
        cavity=row.label,
    )


def _chart_and_drawing(harness: Harness) -> Iterator[Finding]:
    charted = [c for c in harness.connectors if c.cavities]
    if not charted:
        return
    drawn = [c for c in harness.connectors if c.places]
    absent = sum(not c.cavities for c in drawn)
    # A chart that lacks many was not read in full, or the manual charts only some.
    complete = absent <= max(1, MOST_ABSENT * len(drawn))
    for c in harness.connectors:
        if c.label.value is None or c.label.probability < SURE_ID:
            continue
        if c.cavities and not c.places:
            places = {e.place for r in c.cavities for half in (r.a, r.b) for e in half.evidence if e.place is not None}
            yield finding(
                "connector-not-drawn",
                c.id,
                f"The chart lists connector {c.id}, but no diagram page that was read shows it.",
                "Is a diagram page missing, or is its id misread where it is drawn?",
                sorted(places, key=_place_order)[:3],
            )
        elif complete and c.places and not c.cavities and max(d.probability for d in c.places) >= SURE_ID:
            yield finding(
                "connector-not-in-chart",
                c.id,
                f"Connector {c.id} is drawn, but the chart does not list it.",
                "Is a chart page missing, or is the id misread here?",
                [d.place for d in c.places],
            )


def _rows_of_nobody(harness: Harness) -> Iterator[Finding]:
    """Codes in rows of the chart that belong to no connector: the id above them was not read, or a cavity is named twice."""
    used: dict[str, list[Box]] = defaultdict(list)
    for c in harness.connectors:
        for e in (e for r in c.cavities for half in (r.a, r.b) for e in half.evidence):
            if e.place is not None:
                used[e.place.sheet].append(e.place.box)
    left: dict[str, list[PrintedText]] = defaultdict(list)
    for t in harness.texts:
        at = t.place.box.centre
        if t.role == "chart_code" and t.probability >= SURE_ROW and not any(b.holds(at) for b in used[t.place.sheet]):
            left[t.place.sheet].append(t)
    for sheet, texts in left.items():
        codes = list(dict.fromkeys(t.text for t in texts))
        named = ", ".join(codes[:MOST_NAMED]) + (f" and {len(codes) - MOST_NAMED} more" if codes[MOST_NAMED:] else "")
        yield finding(
            "chart-rows-of-nobody",
            sheet,
            f"Rows of the connector chart with {named} belong to no connector that could be read.",
            "Look at the id above them and at the cavity names on the scan: until it is known whose rows they are, "
            "nothing of them is used.",
            sorted((t.place for t in texts), key=_place_order),
        )


def _place_order(p: Place) -> tuple[str, float, float]:
    return (p.sheet, p.box.y0, p.box.x0)


# -- index ------------------------------------------------------------------------------------------------------------


def _index(harness: Harness, parse: Parse) -> Iterator[Finding]:
    stands: dict[str, list[Place]] = defaultdict(list)
    doubtful: dict[str, list[Place]] = defaultdict(list)
    listed: dict[str, set[str]] = defaultdict(set)
    for e in harness.index:
        if e.name.value is not None:
            listed[e.name.value] |= set(e.zones)
    for c in harness.components:
        if c.name.value is None:
            continue
        (stands if c.name.probability >= SURE_ELSEWHERE else doubtful)[c.name.value].append(c.place)
    for connector in harness.connectors:
        stands[connector.id] += [d.place for d in connector.places]
    borne = set(stands)
    table_sheets = {s.id for s in harness.sheets if s.kind != "diagram"}
    for t in _labels([t for t in harness.texts if t.place.sheet not in table_sheets]):
        doubtful[t.text].append(t.place)
        meant = t.text if t.text in listed else _without_strays(t.text, parse)
        if meant != t.text:
            doubtful[meant].append(t.place)
        if t.role == "name" and t.probability >= SURE_ELSEWHERE and meant in listed and meant not in borne:
            stands[meant].append(t.place)
    if not any(p.zone is not None and not p.zone_nominal for places in stands.values() for p in places):
        return
    for e in harness.index:
        if e.name.value is not None:
            yield from _index_line(e, stands, doubtful, listed[e.name.value])


def _without_strays(label: str, parse: Parse) -> str:
    """A label without what was read into it from beside it: marks of terminals and codes of wires."""
    words = label.split()
    kept = [w for w in words if len(w) > 1 and not w.isdigit() and parse(w) is None]
    return " ".join(kept) or label


def _labels(texts: Sequence[PrintedText]) -> Iterator[PrintedText]:
    """All strings of the drawings, and those that stand right under each other as one label of two or three lines.

    A label of which one line was taken for a part's name has the role ``name``.
    """
    by_sheet: dict[str, list[PrintedText]] = defaultdict(list)
    for t in texts:
        by_sheet[t.place.sheet].append(t)
    for here in by_sheet.values():
        below = {t: [u for u in here if _right_below(t.place, u.place)] for t in here if t.role != "code"}
        for t in here:
            yield t
            for u in below.get(t, ()):
                yield _over(t, u)
                for v in below.get(u, ()):
                    yield _over(_over(t, u), v)


def _over(upper: PrintedText, lower: PrintedText) -> PrintedText:
    """Two lines as one label, at the place of the lower one."""
    role = "name" if "name" in {upper.role, lower.role} else upper.role
    sure = min(upper.probability, lower.probability)
    return PrintedText(f"{upper.text} {lower.text}", role, lower.place, sure)


def _right_below(upper: Place, lower: Place) -> bool:
    a, b = upper.box, lower.box
    level = min(a.x1, b.x1) - max(a.x0, b.x0) > 0.3 * min(a.width, b.width)
    return level and -0.3 * a.height <= b.y0 - a.y1 <= 1.1 * a.height


def _index_line(
    e: IndexEntry, stands: Mapping[str, list[Place]], doubtful: Mapping[str, list[Place]], listed: set[str]
) -> Iterator[Finding]:
    name = e.name.value or ""
    if e.name.probability < SURE or e.probability < SURE:
        return
    here = [*stands.get(name, ()), *doubtful.get(name, ())]
    astray = [p for p in stands.get(name, ()) if not _zones(p) & listed]
    for zone in e.zones:
        if any(zone in _zones(p) for p in here):
            continue
        if astray:
            found = ", ".join(dict.fromkeys(p.zone or "?" for p in astray))
            yield finding(
                "index-zone",
                name,
                f"The index sends {name} to {zone}; no such label stands there, but one stands in {found}.",
                f"Look into zone {zone} on the scan for {name}; if it is not there, the index is wrong.",
                [e.place, *astray],
                extra=zone,
            )
        elif not here and not _cut_short(name, zone, stands, doubtful):
            yield finding(
                "index-not-drawn",
                name,
                f"The index sends {name} to {zone}, but that name was found on no diagram page.",
                f"Look into zone {zone} on the scan: the label there may be misread or missed.",
                [e.place],
                extra=zone,
            )


def _cut_short(name: str, zone: str, *drawn: Mapping[str, list[Place]]) -> bool:
    """Whether a longer name that begins so stands in the zone: then the index line was read only in part."""
    return any(
        label != name and label.startswith(name) and any(zone in _zones(p) for p in places)
        for labels in drawn
        for label, places in labels.items()
    )


def _zones(p: Place) -> set[str]:
    return {z for z in (p.zone, *p.zone_alternatives) if z is not None}
