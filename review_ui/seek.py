"""Go to a zone, a name, a code, a connector or a sheet by typing."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from rapidfuzz import fuzz, process

from digitize.harness.model import Harness
from digitize.harness.place import Box
from digitize.sheet.state import SheetFacts
from digitize.sheet.zones import Band, reference
from review_ui.doubts import code_spots

MOST = 30
"""Places shown for one search."""

NEAR = 78
"""Least likeness (rapidfuzz ratio, 0..100) of a name that is offered when nothing holds what was typed (own choice)."""


@dataclass(frozen=True, slots=True)
class Sight:
    """Something to go to: ``box`` in mm on ``sheet``."""

    kind: str
    id: str
    text: str
    sheet: str
    box: Box
    zone: str | None = None


def seek(harness: Harness, facts: Iterable[SheetFacts], typed: str) -> list[Sight]:
    """What fits ``typed``, best first: a zone, then what starts with it, what holds it, else what is like it."""
    asked = _plain(typed)
    if not asked:
        return []
    zones = list(_zones(facts, asked))
    known = list(_sights(harness))
    words = [_plain(s.text) for s in known]
    starts = [s for s, w in zip(known, words, strict=True) if w.startswith(asked)]
    holds = [s for s, w in zip(known, words, strict=True) if asked in w and not w.startswith(asked)]
    found = [*zones, *starts, *holds]
    if not found:
        like = process.extract(asked, words, scorer=fuzz.ratio, score_cutoff=NEAR, limit=MOST)
        found = [known[i] for _, _, i in like]
    return found[:MOST]


def _plain(text: str) -> str:
    return " ".join(text.casefold().split())


def _zones(facts: Iterable[SheetFacts], asked: str) -> Iterator[Sight]:
    for sheet in facts:
        for row in sheet.zones.rows:
            for column in sheet.zones.columns:
                name = reference(column.label, row.label)
                if name.casefold() == asked:
                    yield Sight("zone", f"{sheet.sheet}:{name}", name, sheet.sheet, _cell(column, row), name)


def _cell(column: Band, row: Band) -> Box:
    return Box(column.start, row.start, column.end, row.end)


def _sights(harness: Harness) -> Iterator[Sight]:
    for note in harness.sheets:
        page = Box(0, 0, note.width, note.height)
        for text in (note.id, note.title, note.label and f"page {note.label}"):
            if text:
                yield Sight("sheet", note.id, text, note.id, page)
    for part in harness.components:
        if part.name.value:
            yield Sight("component", part.id, part.name.value, part.place.sheet, part.place.box, part.place.zone)
    for connector in harness.connectors:
        for p in connector.places:
            if connector.label.value:
                yield Sight("connector", p.id, connector.label.value, p.place.sheet, p.place.box, p.place.zone)
    for ground in harness.grounds:
        if ground.label.value:
            yield Sight(
                "ground", ground.id, ground.label.value, ground.place.sheet, ground.place.box, ground.place.zone
            )
    for grommet in harness.grommets:
        for d in grommet.places:
            if grommet.label.value:
                yield Sight("grommet", grommet.id, grommet.label.value, d.place.sheet, d.place.box, d.place.zone)
    for wire in harness.wires:
        if wire.code.value and wire.paths:
            sheet, box = code_spots(wire)[0]
            yield Sight("wire", wire.id, wire.code.value, sheet, box)
