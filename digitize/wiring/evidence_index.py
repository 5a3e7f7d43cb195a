"""The manual's own index as evidence: a name printed there, with the zone where the part is drawn.

Every drawn name and every (index name, zone) pair are matched at once, by how alike they read and whether the zone is
right. The name of the matched entry is then one more thing that is known of the drawn name: a misread letter is put
right by it, and a zone that fits makes a doubtful reading sure.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from rapidfuzz import fuzz

from digitize.harness.claim import Claim, Evidence
from digitize.harness.model import Component, IndexEntry
from digitize.harness.place import Place
from digitize.tables.state import SheetTable
from digitize.wiring.binding_names import place_on
from digitize.wiring.evidence import MOST_SURE, Lift, Reading, assign, claim_from, reading_of

ONE_NAME = 1e-6
"""Prior of one name: letters put together freely."""
IN_INDEX = 0.85
"""Chance that the name of a drawn part is in the index (common practice, no source)."""
ZONE_RIGHT = 0.96
"""Chance that the index gives a zone in which the part is drawn."""
ZONES_MANY = 100.0
"""About so many zones a part could stand in."""
ALIKE = 60.0
"""Names less alike than this (0..100, ``rapidfuzz.fuzz.ratio``) are never compared further."""


@dataclass(frozen=True, slots=True)
class _Slot:
    name: Claim
    zone: str
    place: Place


def index_of(tables: Iterable[SheetTable], by: str) -> tuple[IndexEntry, ...]:
    """All lines of all index pages, in the order of their names; lines of one name and page stay apart."""
    entries = []
    for table in tables:
        for line in table.index:
            if line.name.value is None:
                continue
            place = place_on(table.facts, line.box)
            zones = tuple(z.value for z in line.zones if z.value is not None)
            sure = math.prod(z.probability for z in line.zones)
            name = line.name
            if not name.evidence:
                name = replace(name, evidence=(Evidence("read", name.value or "", name.probability, by, place),))
            entries.append(IndexEntry(name, zones, place, min(sure, MOST_SURE)))
    return tuple(
        sorted(entries, key=lambda e: (e.name.value or "", e.place.sheet, e.place.box.y0, e.place.box.x0, e.zones))
    )


def settle_names(
    components: Sequence[Component],
    index: Sequence[IndexEntry],
    by: str,
) -> dict[str, Claim]:
    """The names of components after the index has spoken, by component id; absent where it says nothing."""
    slots = [_Slot(e.name, z, e.place) for e in index for z in (e.zones or ("",))]
    named = [(c, r) for c in components if c.kind != "fuse" and (r := reading_of(c.name)) is not None]
    if not slots or not named:
        return {}
    weight = np.full((len(named), len(slots)), -50.0)
    chances = np.zeros_like(weight)
    for i, (c, reading) in enumerate(named):
        for j, slot in enumerate(slots):
            chance = _chance(reading, slot.name.value or "")
            if chance > 1e-12:
                chances[i, j] = chance
                factor = IN_INDEX * chance / ONE_NAME * _zone_factor(slot.zone, zones_touched(c.place)) / len(slots)
                weight[i, j] = math.log(factor + 1e-12)
    settled = {}
    for i, j in assign(weight):
        if weight[i, j] <= 0.0:
            continue
        c, reading = named[i]
        slot = slots[j]
        settled[c.id] = _settled(reading, slot, slots, zones_touched(c.place), by)
    return settled


def _settled(reading: Reading, slot: _Slot, slots: Sequence[_Slot], zones: frozenset[str], by: str) -> Claim:
    name = slot.name.value or ""
    usual = IN_INDEX / len(slots) / ONE_NAME
    printed = {s.name.value for s in slots}

    def likelier(text: str) -> float:
        if text == name:
            return usual * _zone_factor(slot.zone, zones) * slot.name.probability + 1.0 - IN_INDEX
        return usual * 0.3 if text in printed else 1.0 - IN_INDEX

    claim = claim_from([reading], lambda _: ONE_NAME, Lift(likelier, 1.0 - IN_INDEX, (name,)))
    if claim.value != name:
        return claim
    says = Evidence("index", f"{name} {slot.zone}".strip(), slot.name.probability, by, slot.place)
    return replace(claim, evidence=(*claim.evidence, says))


def _zone_factor(zone: str, touched: frozenset[str]) -> float:
    """Bayes factor of the zone for "the same part" against "any part"."""
    if not touched or not zone:
        return 1.0
    return ZONE_RIGHT * ZONES_MANY / len(touched) if zone in touched else 1.0 - ZONE_RIGHT


def _chance(reading: Reading, name: str) -> float:
    """``Reading.chance``, skipped for names that have little in common."""
    best = max(fuzz.ratio(a.text, name) for a in reading.alternatives[:3])
    return reading.chance(name) if best >= ALIKE else 0.0


def zones_touched(place: Place) -> frozenset[str]:
    """All zones that a drawing lies in or touches; empty where the page prints no grid."""
    if place.zone is None or place.zone_nominal:
        return frozenset()
    return frozenset((place.zone, *place.zone_alternatives))
