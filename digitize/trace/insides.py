"""What lies inside relays and switches where the page was not read there: coil and contact, and a switch's common terminal.

A harness holds where wires meet a part, seldom what is drawn within it. Which two terminals of a relay are its coil is
weighed for every way to pair them, by three things that a person looks at too: where the terminals stand (coil and contact
are mostly drawn straight across the symbol, or with both ends side by side), what they are numbered (DIN 72552: 85 and 86
are the coil, 30, 87, 87a and 87b contacts; the coil's plain numbers come before the contact's: common practice, no source),
and what their wires lead to: a coil lies between a feed and ground or what switches to ground, a contact between a feed and
a load. The weights are own estimates; the best pairing is told with its share of all of them, and never as drawn.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from itertools import combinations

from digitize.harness.graph import (
    COIL,
    CONTACTS,
    LOADS,
    PROTECTION,
    SWITCHES,
    Conductors,
    Hop,
    Key,
    drawn_joints,
)  # fmt: skip
from digitize.harness.model import Component, Terminal

USING = (LOADS | {"module"}) - {"sensor"}
"""Kinds that a relay's contact feeds; a starter's solenoid switch and a control unit are among them."""

TOLD = 0.7
"""From this share on a pairing is taken for the relay's inside; below ``LEAST`` any two terminals may belong together."""

LEAST = 0.4

MOST = 0.95
"""A pairing that nobody read is never believed more than this (own choice)."""

CASE = "case"

STRAIGHT = 0.25
"""Two terminals stand straight across when they are offset by at most this share of the symbol's side (own choice)."""

ACROSS, BESIDE, ASLANT = 1.0, 0.5, 0.1
"""Weights of a pair by how its two ends stand."""

OTHERWISE = 0.02
"""Weight of a terminal that its DIN designation says is something else."""

CONTROL = frozenset({"S", "50"})
"""What the fed end of a coil is called on starter and horn relays (50: DIN 72552; S: common practice, no source)."""

SECOND = 0.5
"""Weight of a contact that takes a switched feed: mostly the coil has that one, the contact the battery's (common practice, no source)."""

SWAPPED, MIXED = 0.3, 0.1
"""Weights of numbers: the coil has the contact's; one of each in both pairs."""

SWITCHED = 0.9
"""Weight of an end that is fed over a switch only."""

UNKNOWN, HARDLY = 0.3, 0.05
"""Weights of an end whose wire leads to nothing that was read, and to what such an end never leads to."""


@dataclass(frozen=True, slots=True)
class Inside:
    """What is taken for the inside of one relay.

    Attributes:
        coil: the two ends of its coil, terminal ids or ``case``.
        contacts: pairs of terminal ids that its contacts join.
        chance: share of this pairing among all (0..1).
        why: what speaks for it, in words.
    """

    coil: frozenset[str]
    contacts: frozenset[frozenset[str]]
    chance: float
    why: str


def relays_inside(graph: Conductors) -> dict[str, Inside]:
    """The likeliest inside of every relay that neither draws nor designates it; only those told by ``LEAST`` or more."""
    found = {}
    for c in graph.components.values():
        inside = _relay(c, graph) if c.kind == "relay" and _not_said(c) else None
        if inside is not None and inside.chance >= LEAST:
            found[c.id] = inside
    return found


def commons(graph: Conductors) -> dict[str, str]:
    """The common terminal, the moving contact's, of every switch with three terminals or more of which it can be told."""
    found = {}
    for c in graph.components.values():
        if c.kind == "switch" and len(c.terminals) > 2 and not drawn_joints(c):
            common = _common(c, graph)
            if common is not None:
                found[c.id] = common
    return found


def _not_said(c: Component) -> bool:
    return not drawn_joints(c) and not all(_says(t) & (COIL | CONTACTS) for t in c.terminals)


def _says(t: Terminal) -> set[str]:
    return {x.upper() for x in (t.id, t.label) if x}


# what the wires lead to


@dataclass(frozen=True, slots=True)
class _Leads:
    """What a terminal's wires lead to, outside its own part: over conductors alone, or only through a switch or sender."""

    fed: bool
    earthed: bool
    using: bool
    module: bool
    switched_feed: bool
    switched_earth: bool
    anything: bool

    @property
    def supply(self) -> float:
        """How well it serves as the end that is fed (0..1)."""
        if self.earthed:
            return HARDLY
        return 1.0 if self.fed else SWITCHED if self.switched_feed else HARDLY if self.anything else UNKNOWN

    @property
    def source(self) -> float:
        """As the end of a contact that is fed."""
        return self.supply * (SECOND if self.supply == SWITCHED else 1.0)

    @property
    def control(self) -> float:
        """As the end of a coil that is earthed, or earthed by what switches it."""
        if self.earthed:
            return 1.0
        if self.fed:
            return HARDLY
        return (
            1.0
            if self.switched_earth
            else 0.6
            if self.module
            else HARDLY
            if self.using or self.switched_feed
            else UNKNOWN
        )

    @property
    def output(self) -> float:
        """As the end of a contact that feeds something."""
        if self.earthed or self.fed:
            return HARDLY
        return 1.0 if self.using and not self.module else 0.6 if self.using else UNKNOWN


def _leads(c: Component, t: Terminal, graph: Conductors) -> _Leads:
    def alone(hop: Hop) -> bool:
        return hop.by != c.id and hop.kind in {"wire", "connector", "joined", "protection"}

    def switched(hop: Hop) -> bool:
        if hop.by == c.id:
            return False
        by = graph.components.get(hop.by)
        through = by is not None and by.kind in (SWITCHES - {"relay"}) | {"sensor"}
        return alone(hop) or (through and hop.kind in {"switch", "case", "load"})

    start = [(c.id, t.id)]
    direct = graph.reach(start, alone)
    further = graph.reach(start, switched)
    kinds = {graph.components[k[0]].kind for k in direct if k[0] in graph.components and k[0] != c.id}
    return _Leads(
        fed=_feeds(direct, graph), earthed=bool(graph.grounds & set(direct)), using=bool(kinds & USING),
        module="module" in kinds and not kinds & (USING - {"module"}), switched_feed=_feeds(further, graph),
        switched_earth=bool(graph.grounds & set(further)), anything=len(direct) > 1,
    )  # fmt: skip


def _feeds(reached: Mapping[Key, Hop | None], graph: Conductors) -> bool:
    return any(
        k in graph.feeds or (k[0] in graph.components and graph.components[k[0]].kind in PROTECTION) for k in reached
    )


# relays


def _relay(c: Component, graph: Conductors) -> Inside | None:
    if not 3 <= len(c.terminals) <= 5:
        return None
    ends = {t.id: _leads(c, t, graph) for t in c.terminals}
    pairings = list(_pairings(c))
    weights = [
        (_of_wires(*pair, ends), _of_numbers(c, *pair), _of_places(c, *pair)) for pair in pairings
    ]  # fmt: skip
    products = [math.prod(w) for w in weights]
    best = max(range(len(pairings)), key=lambda i: products[i])
    why = [
        words
        for i, words in enumerate(("where their wires lead", "their numbers", "where they stand at the symbol"))
        if weights[best][i] == max(w[i] for w in weights) > 2 * min(w[i] for w in weights)
    ]
    coil, contacts = pairings[best]
    return Inside(coil, contacts, min(MOST, products[best] / sum(products)), " and ".join(why) or "the kind of part")


def _pairings(c: Component) -> Iterator[tuple[frozenset[str], frozenset[frozenset[str]]]]:
    """Every (coil, contacts) that the terminals allow.

    Three terminals: coil and contact share one, or the coil's other end is the case, where that is earthed. Five: a
    change-over contact, of which the common terminal is not told.
    """
    ids = [t.id for t in c.terminals]
    if c.case_ground:
        for one in ids if len(ids) in {3, 4} else ():
            rest = [t for t in ids if t != one]
            yield frozenset((one, CASE)), frozenset(frozenset(p) for p in combinations(rest, 2))
    for coil in combinations(ids, 2):
        rest = [t for t in ids if t not in coil]
        if len(ids) == 3:
            for shared in coil:
                yield frozenset(coil), frozenset({frozenset((shared, rest[0]))})
        else:
            yield frozenset(coil), frozenset(frozenset(p) for p in combinations(rest, 2))


def _of_wires(coil: frozenset[str], contacts: frozenset[frozenset[str]], ends: Mapping[str, _Leads]) -> float:
    if CASE in coil:
        (fed,) = coil - {CASE}
        turns = ends[fed].supply
    else:
        one, other = (ends[t] for t in sorted(coil))
        turns = max(one.supply * other.control, other.supply * one.control)
    passed = 0.0
    for pair in contacts:
        one, other = (ends[t] for t in sorted(pair))
        # a contact on the earth side is rarer: what it earths is fed already
        passed = max(
            passed, one.source * other.output, other.source * one.output,
            0.4 * one.control * other.output, 0.4 * other.control * one.output,
        )  # fmt: skip
    return max(turns, HARDLY**2) * max(passed, HARDLY**2)


def _of_numbers(c: Component, coil: frozenset[str], contacts: frozenset[frozenset[str]]) -> float:
    switched = {t for pair in contacts for t in pair}
    weight = 1.0
    numbers: dict[str, int] = {}
    for t in c.terminals:
        says = _says(t)
        if says & CONTROL and t.id not in coil:
            weight *= SWAPPED
        if (says & COIL and t.id not in coil) or (says & CONTACTS and t.id not in switched):
            weight *= OTHERWISE
        if t.label is not None and t.label.isdigit() and not says & (COIL | CONTACTS):
            numbers[t.id] = int(t.label)
    if len(numbers) < len(c.terminals) or len(c.terminals) < 4 or CASE in coil:
        return weight
    low = sorted(numbers.values())
    mine = sorted(numbers[t] for t in coil)
    return weight * (1.0 if mine == low[:2] else SWAPPED if mine == low[-2:] else MIXED)


def _of_places(c: Component, coil: frozenset[str], contacts: frozenset[frozenset[str]]) -> float:
    if CASE in coil or len(c.terminals) != 4:
        return 1.0
    at = {t.id: t for t in c.terminals}
    weight = 1.0
    for pair in (coil, *contacts):
        one, other = (at[t] for t in sorted(pair))
        weight *= _standing(c, one, other)
    return weight


def _standing(c: Component, one: Terminal, other: Terminal) -> float:
    sides = {side_of(c, one), side_of(c, other)}
    if len(sides) == 1:
        return BESIDE
    box = c.place.box
    if sides == {"left", "right"}:
        return ACROSS if abs(one.at[1] - other.at[1]) <= STRAIGHT * (box.y1 - box.y0) else ASLANT
    if sides == {"up", "down"}:
        return ACROSS if abs(one.at[0] - other.at[0]) <= STRAIGHT * (box.x1 - box.x0) else ASLANT
    return ASLANT


def side_of(c: Component, t: Terminal) -> str:
    """The side of its symbol that a terminal stands at, ``left right up down``: the one it lies farthest out of, else is nearest to."""
    box, (x, y) = c.place.box, t.at
    out = {"left": box.x0 - x, "right": x - box.x1, "up": box.y0 - y, "down": y - box.y1}
    return max(out, key=lambda s: out[s])


# switches


def _common(c: Component, graph: Conductors) -> str | None:
    """The terminal that stands alone at its side, across from all others, unless the feed comes in at one of those;
    else the only one that is fed, where none of the others is earthed: a switch with its own earth turns more than one way.
    """
    ends = {t.id: _leads(c, t, graph) for t in c.terminals}
    fed = [t for t, e in ends.items() if e.fed]
    sides: dict[str, list[str]] = {}
    for t in c.terminals:
        sides.setdefault(side_of(c, t), []).append(t.id)
    alone = [ids[0] for ids in sides.values() if len(ids) == 1]
    if len(sides) == 2 and len(alone) == 1:
        return alone[0] if not fed or alone[0] in fed else None
    if len(fed) == 1 and not any(e.earthed for e in ends.values()):
        return fed[0]
    return None


def left_open(graph: Conductors, told: Mapping[str, str], stated: Iterable[tuple[str, str]]) -> tuple[str, ...]:
    """What positions leave open, a sentence for each switch.

    Args:
        graph: the conductors.
        told: ``commons`` of it.
        stated: (part, terminal) that it stands at.
    """
    notes = []
    for part, terminal in stated:
        c = graph.components[part]
        if c.kind != "switch" or len(c.terminals) < 3 or drawn_joints(c):
            continue
        name, at = c.name.value or part, next((t.label for t in c.terminals if t.id == terminal), None) or terminal
        if part not in told:
            notes.append(
                f"which terminal of {name} is the common one was not read: {at} is taken as joined with all others"
            )
        elif told[part] == terminal:
            notes.append(
                f"{at} is taken for the common terminal of {name}, which every position joins: say the terminal that it "
                "stands at"
            )  # fmt: skip
    return tuple(notes)
