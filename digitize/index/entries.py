"""What can be found in a harness: one entry for each thing at each place where it is drawn or printed."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass

from digitize.harness.folding import folded
from digitize.harness.model import Connector, Harness, PrintedText, SheetNote, Wire
from digitize.harness.place import Box, Place

FRAME = frozenset({"zone", "zone_label"})
"""Roles of the labels of the grid; they are found by asking for a zone."""

LETTERED_WITHIN = 20.0
"""How far a name is lettered from what it names, mm (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Entry:
    """One thing at one place.

    Attributes:
        kind: ``component`` kinds as the model has them (``lamp``, ``relay`` …), ``connector``, ``cavity`` (a chart row),
            ``wire``, ``splice``, ``ground``, ``grommet``, ``sheet``, ``index entry`` or ``text``.
        id: the object's id; "" for a printed text that belongs to nothing.
        text: the name, code or string as printed; "" when it has none.
        sheet: the sheet's id; "" when the thing is drawn nowhere.
        zone: the map reference; for an index entry all zones it names. "" when unknown.
        nominal: the page prints no grid and the zone is our own division.
        box: where on the sheet, mm; None when unknown.
        probability: chance that ``text`` is right, 0..1.
        about: more words it can be found by: place in the vehicle, a relation to other things.
    """

    kind: str
    id: str
    text: str
    sheet: str
    zone: str
    box: Box | None
    probability: float
    zones: tuple[str, ...] = ()
    nominal: bool = False
    about: str = ""


def entries_of(harness: Harness) -> tuple[Entry, ...]:
    """All entries in manual order: by kind of thing, then as the harness lists them, printed texts last."""
    sheets = {s.id: s for s in harness.sheets}
    named = [*_sheets(harness), *_parts(harness), *_connectors(harness), *_wires(harness), *_index(harness, sheets)]
    known: dict[tuple[str, str], list[Entry]] = defaultdict(list)
    for e in named:
        known[folded(e.text), e.sheet].append(e)
    told = [
        _at("text", "", t.text, t.place, t.probability, t.role.replace("_", " "))
        for t in harness.texts
        if t.role not in FRAME and not any(_same_print(e, t) for e in known[folded(t.text), t.place.sheet])
    ]
    return (*named, *told)


def _same_print(e: Entry, t: PrintedText) -> bool:
    """Whether a printed text is what the entry was read from: near it, or a row of the same table."""
    if e.box is None or e.kind in {"index entry", "cavity", "sheet"}:
        return True
    (x0, y0), (x1, y1) = e.box.centre, t.place.box.centre
    return math.hypot(x1 - x0, y1 - y0) <= LETTERED_WITHIN + (e.box.width + e.box.height) / 2


def _at(kind: str, id_: str, text: str | None, place: Place, probability: float, about: str = "") -> Entry:
    zones = () if place.zone is None else (place.zone, *place.zone_alternatives)
    return Entry(
        kind, id_, text or "", place.sheet, place.zone or "", place.box, probability, zones, place.zone_nominal, about
    )


def _sheets(harness: Harness) -> Iterator[Entry]:
    for s in harness.sheets:
        page = Box(0.0, 0.0, s.width, s.height)
        yield Entry("sheet", s.id, s.title or s.id, s.id, "", page, 1.0, about=f"page {s.label or s.number} {s.kind}")


def _parts(harness: Harness) -> Iterator[Entry]:
    names = {c.id: c.name.value or "" for c in harness.components}
    for c in harness.components:
        sure = min(c.probability, c.name.probability)
        about = " ".join(x for x in (names.get(c.parent or "", ""), c.rating or "") if x)
        yield _at(c.kind, c.id, c.name.value, c.place, sure, about)
    for s in harness.splices:
        yield _at("splice", s.id, None, s.place, s.probability)
    for g in harness.grounds:
        yield _at("ground", g.id, g.label.value, g.place, min(g.probability, g.label.probability))
    for m in harness.grommets:
        for d in m.places:
            yield _at("grommet", m.id, m.label.value, d.place, min(d.probability, m.label.probability))


def _connectors(harness: Harness) -> Iterator[Entry]:
    for k in harness.connectors:
        where = " ".join(w for w in (k.location, k.part) if w)
        for d in k.places:
            yield _at("connector", k.id, k.label.value, d.place, min(d.probability, k.label.probability), where)
        if not k.places:
            yield _nowhere("connector", k.id, k.label.value, k.label.probability, f"{where} not drawn".strip())
        yield from _cavities(k)


def _cavities(k: Connector) -> Iterator[Entry]:
    """Chart rows: a code that stands only in the chart must be found too."""
    for cavity in k.cavities:
        for claim in dict.fromkeys((cavity.a, cavity.b)):
            if claim.value is not None:
                about = f"cavity {cavity.label} of {k.label.value or k.id}"
                seen = next((e.place for e in claim.evidence if e.place is not None), None)
                if seen is None:
                    yield _nowhere("cavity", k.id, claim.value, claim.probability, about)
                else:
                    yield _at("cavity", k.id, claim.value, seen, claim.probability, about)


def _nowhere(kind: str, id_: str, text: str | None, probability: float, about: str) -> Entry:
    return Entry(kind, id_, text or "", "", "", None, probability, about=about)


def _wires(harness: Harness) -> Iterator[Entry]:
    for w in harness.wires:
        seen = _seen(w)
        for place in seen:
            yield _at("wire", w.id, w.code.value, place, w.code.probability)
        if not seen and w.code.value is not None:
            end = w.ends[0]
            spot = Box(end.at[0], end.at[1], end.at[0], end.at[1])
            yield Entry("wire", w.id, w.code.value, end.sheet, "", spot, w.code.probability)


def _seen(w: Wire) -> list[Place]:
    """The places its code is printed at; a wire without a code is found from its ends, not by itself."""
    if w.code.value is None:
        return []
    own = folded(w.code.value)
    drawn = [e for e in w.code.evidence if e.place is not None and e.kind != "chart"]
    agreeing = [e for e in drawn if folded(e.says) == own] or drawn
    return list(dict.fromkeys(e.place for e in agreeing if e.place is not None))


def _index(harness: Harness, sheets: dict[str, SheetNote]) -> Iterator[Entry]:
    for e in harness.index:
        sure = min(e.probability, e.name.probability)
        sheet = e.place.sheet if e.place.sheet in sheets else ""
        yield Entry(
            "index entry", "", e.name.value or "", sheet, " ".join(e.zones), e.place.box, sure, e.zones,
            about="in the manual's own index",
        )  # fmt: skip
