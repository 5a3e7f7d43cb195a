"""The manual's own index as evidence: a name printed there, with the zone where the part is drawn.

Every drawn name and every (index name, zone) pair are matched at once, by how alike they read and whether the zone is
right. The name of the matched entry is then a second reading of the drawn name, and the drawn name a second
reading of the entry: a letter misread at one is put right by the other.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from rapidfuzz import fuzz

from digitize.harness.claim import Alternative, Claim, Evidence
from digitize.harness.model import Component, IndexEntry
from digitize.harness.place import Place
from digitize.sheet.state import SheetFacts
from digitize.tables.state import SheetTable
from digitize.wiring.binding_names import natural_key, place_on
from digitize.wiring.evidence import MOST_SURE, Lift, Reading, agreement, assign, marginals, pool, reading_of

ONE_NAME = 1e-6
"""Prior of one name: letters put together freely."""
IN_INDEX = 0.85
"""Chance that the name of a drawn part is in the index (common practice, no source)."""
ZONE_RIGHT = 0.96
"""Chance that the index gives a zone in which the part is drawn."""
SURE_MATCH = 0.8
"""A match this sure settles on which side of a zone's border a part is meant to stand."""
ZONES_MANY = 100.0
"""About so many zones a part could stand in."""
ALIKE = 60.0
"""Names less alike than this (0..100, ``rapidfuzz.fuzz.ratio``) are never compared further."""


KNOWN_WORD = 5.0
NEAR_TWINS = 0.05
"""Share of names that have a near-twin (left and right, front and rear) one letter away."""


@dataclass(frozen=True, slots=True)
class ReadLine:
    """A line of the index and what was read of its zones, one claim for each of ``entry.zones``."""

    entry: IndexEntry
    zones: tuple[Claim, ...]


@dataclass(frozen=True, slots=True)
class _Slot:
    """One zone of one line; ``which`` its position among the line's zones, ``line`` the line's among all."""

    entry: IndexEntry
    zone: str
    line: int
    which: int


def index_of(tables: Iterable[SheetTable], by: str) -> tuple[ReadLine, ...]:
    """All lines of all index pages, in the order of their names; lines of one name and page stay apart."""
    lines = []
    for table in tables:
        for line in table.index:
            if line.name.value is None:
                continue
            place = place_on(table.facts, line.box)
            zones = tuple(z for z in line.zones if z.value is not None)
            sure = min(math.prod(z.probability for z in line.zones), MOST_SURE)
            name = line.name
            if not name.evidence:
                name = replace(name, evidence=(Evidence("read", name.value or "", name.probability, by, place),))
            lines.append(ReadLine(IndexEntry(name, tuple(z.value or "" for z in zones), place, sure), zones))
    return tuple(sorted(lines, key=lambda line: _line_order(line.entry)))


def _line_order(e: IndexEntry) -> tuple[str, str, float, float, tuple[str, ...]]:
    return (e.name.value or "", e.place.sheet, e.place.box.y0, e.place.box.x0, e.zones)


@dataclass(frozen=True, slots=True)
class Settled:
    """Names of components by id, the index with its own names settled, and the zone that the index gives a component.

    ``zones`` holds only zones that the component's drawing touches, of matches that are at least ``SURE_MATCH``.
    """

    names: dict[str, Claim]
    index: tuple[IndexEntry, ...]
    zones: dict[str, str] = field(default_factory=dict)

    def placed(self, component: Component, sheets: Mapping[str, SheetFacts]) -> Component:
        """The component in the zone that the index prints for it, where its middle lies on that zone's border.

        Within 1.5 mm of a border the drawing alone does not say which side is meant; the index does.
        """
        told = self.zones.get(component.id)
        place = component.place
        if told is None or told == place.zone or place.sheet not in sheets:
            return component
        here, near = sheets[place.sheet].zones.zone_at(place.box.centre)
        if told not in near:
            return component
        others = tuple(sorted({*place.zone_alternatives, here or told} - {told}, key=natural_key))
        return replace(component, place=replace(place, zone=told, zone_alternatives=others))


def settle_names(components: Sequence[Component], index: Sequence[ReadLine], by: str) -> Settled:
    """Match drawn names with index lines, and let each put the other right. A name without a match stays as read."""
    slots = [
        _Slot(line.entry, zone, n, which)
        for n, line in enumerate(index)
        for which, zone in enumerate(line.entry.zones or ("",))
    ]
    named = [(c, r) for c in components if c.kind != "fuse" and (r := reading_of(c.name)) is not None]
    if not slots or not named:
        return Settled({}, tuple(line.entry for line in index))
    readings = [reading_of(line.entry.name) for line in index]
    lift = _known_words([c.name for c, _ in named] + [line.entry.name for line in index])
    weight = np.full((len(named), len(slots)), -50.0)
    for i, (c, reading) in enumerate(named):
        for j, slot in enumerate(slots):
            printed = readings[slot.line]
            if printed is not None and _alike(reading, printed):
                factor = _same_name(reading, printed) * _zone_factor(slot.zone, zones_touched(c.place))
                weight[i, j] = math.log(IN_INDEX * factor / len(slots) + 1e-12)
    names: dict[str, Claim] = {}
    zones: dict[str, str] = {}
    chance = marginals(weight)
    partners: dict[int, list[_Partner]] = {}
    for i, j in assign(weight):
        c, reading = named[i]
        slot = slots[j]
        printed = readings[slot.line]
        if weight[i, j] <= 0.0 or printed is None:
            continue
        sure = float(chance[i, j])
        says = Evidence(
            "index", f"{slot.entry.name.value} {slot.zone}".strip(), slot.entry.name.probability, by, slot.entry.place
        )
        names[c.id] = _mixed(c.name, [reading, printed], sure, lift, says)
        if sure >= SURE_MATCH and slot.zone in zones_touched(c.place):
            zones[c.id] = slot.zone
        partners.setdefault(slot.line, []).append(_Partner(c, reading, sure, slot.which))
    settled = (_line(line, readings[n], partners.get(n, []), lift, by) for n, line in enumerate(index))
    return Settled(names, tuple(sorted(settled, key=_line_order)), zones)


@dataclass(frozen=True, slots=True)
class _Partner:
    component: Component
    reading: Reading
    sure: float
    which: int


def _line(line: ReadLine, printed: Reading | None, drawn: list[_Partner], lift: Lift, by: str) -> IndexEntry:
    e = line.entry
    if printed is None or not drawn:
        return e
    best = max(drawn, key=lambda d: (d.sure, d.component.id))
    c = best.component
    says = Evidence("drawn", c.name.value or "", c.name.probability, by, c.place)
    zones = [Alternative(z.value or "", z.probability) for z in line.zones]
    for d in drawn:
        if d.which < len(zones):
            zones[d.which] = _zone(line.zones[d.which], zones_touched(d.component.place), d.sure)
    return replace(
        e,
        name=_mixed(e.name, [printed, best.reading], best.sure, lift, says),
        zones=tuple(z.text for z in zones),
        probability=min(math.prod(z.probability for z in zones), MOST_SURE),
    )


def _zone(claim: Claim, touched: frozenset[str], sure: float) -> Alternative:
    """A zone as read, or one in which the part is drawn where the reading may as well be that."""
    reading = reading_of(claim)
    if reading is None or not touched:
        return Alternative(claim.value or "", claim.probability)
    weights = {
        zone: reading.chance(zone) * (sure * _zone_factor(zone, touched) + 1.0 - sure)
        for zone in sorted({a.text for a in reading.alternatives} | touched)
    }
    total = sum(weights.values()) + reading.rest * (sure * (1.0 - ZONE_RIGHT) + 1.0 - sure)
    best = max(weights, key=lambda z: (weights[z], z))
    return Alternative(best, min(weights[best] / total, MOST_SURE))


def _mixed(own: Claim, together: list[Reading], sure: float, lift: Lift, says: Evidence) -> Claim:
    """``sure`` times what both readings say together, and else what was read here alone."""
    chances: dict[str, float] = {}
    for ranked, weight in ((pool(together, _one_name, lift), sure), (pool(together[:1], _one_name), 1.0 - sure)):
        for a in ranked:
            chances[a.text] = chances.get(a.text, 0.0) + weight * a.probability
    ranked = tuple(
        Alternative(t, min(p, MOST_SURE)) for t, p in sorted(chances.items(), key=lambda x: (-x[1], x[0])) if p > 1e-4
    )[:8]
    return Claim(ranked[0].text, ranked[0].probability, ranked, (*own.evidence, says))


def _one_name(_: str) -> float:
    return ONE_NAME


def _known_words(claims: Sequence[Claim]) -> Lift:
    """A word that stands in several names is a word; one that stands once may be a misreading."""
    count = Counter(word for c in claims for word in set((c.value or "").split()))
    return Lift(lambda text: math.prod(KNOWN_WORD if count[w] >= 3 else 1.0 for w in text.split()))


def _same_name(a: Reading, b: Reading) -> float:
    """Bayes factor for "one name", less where both are sure of different strings: there are many near-twins of names."""
    factor = agreement(a, b, _one_name)
    one, other = a.alternatives[0], b.alternatives[0]
    if one.text == other.text:
        return factor
    misread = 1.0 - one.probability * other.probability
    return factor * misread / (misread + NEAR_TWINS)


def _zone_factor(zone: str, touched: frozenset[str]) -> float:
    """Bayes factor of the zone for "the same part" against "any part"."""
    if not touched or not zone:
        return 1.0
    return ZONE_RIGHT * ZONES_MANY / len(touched) if zone in touched else 1.0 - ZONE_RIGHT


def _alike(a: Reading, b: Reading) -> bool:
    """Worth comparing letter by letter: much in common, or one is a piece of the other (its end was not read)."""
    pairs = [(x.text, y.text) for x in a.alternatives[:3] for y in b.alternatives[:3]]
    return any(fuzz.ratio(x, y) >= ALIKE or x in y or y in x for x, y in pairs)


def zones_touched(place: Place) -> frozenset[str]:
    """All zones that a drawing lies in or touches; empty where the page prints no grid."""
    if place.zone is None or place.zone_nominal:
        return frozenset()
    return frozenset((place.zone, *place.zone_alternatives))
