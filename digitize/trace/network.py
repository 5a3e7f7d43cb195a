"""The harness as a network to walk: what can be passed, which way current may go, and at what cost.

``harness.graph`` gives the hops that the page shows or a part's kind suggests. Here every hop gets the meaning a trace
needs (a switch is passed when it is on, a sender earths a warning lamp, a load ends the way), the directions in which
current may take it, and a cost: 1 for a wire plus -log of the chance that it was read right, next to nothing inside parts.
A hop that the page does not show costs so much more than any wire that it is only taken when nothing drawn leads on.
"""

from __future__ import annotations

import heapq
import math
from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from digitize.harness.graph import (
    COIL,
    LOADS,
    PROTECTION,
    RESISTANCES,
    SWITCHES,
    Conductors,
    Hop,
    Key,
    conductors,
    drawn_in,
    drawn_joints,
    inside,
)
from digitize.harness.model import Component, Connector, DrawnConnector, Ground, Harness, Splice
from digitize.trace.gaps import Gap, over_gaps
from digitize.trace.insides import TOLD, Inside, commons, relays_inside

INSIDE = 0.01
"""Cost of passing a part or a connector: far below a wire, so that ways are counted in wires."""

LATER = 1e5
"""Cost of ending at an alternator: it feeds only while the engine runs, so a battery is looked for first."""

GUESSED = 1000.0
"""Cost of a hop that is not drawn: more than any number of wires one would follow."""

COMMON_TOLD = 0.9
"""How far a switch's common terminal is believed that is only told by its place or its feed (own estimate)."""

CONSUMERS = LOADS - {"sensor", "starter_solenoid"}
"""Kinds that a way never passes: current is used there. A sensor earths what it serves, a starter solenoid has contacts."""

CLOSED_BOXES = frozenset({"alternator", "battery", "capacitor", "module"})
"""Kinds whose inside is only passed where it is drawn."""


@dataclass(frozen=True, slots=True)
class Pass:
    """One passage between two keys, in the direction it is walked.

    Attributes:
        kind: ``wire``, ``connector``, ``same cavity`` (one cavity drawn twice), ``switch``, ``contact`` (of a relay or
            solenoid), ``coil``, ``fuse``, ``resistance``, ``diode``, ``joined``, ``case``, ``sender``, ``load``, ``bar``
            (from a fuse to a bar of its block), ``gap`` (over a gap of the reading) or ``inside``.
        along: current may flow from ``start`` to ``end``.
        back: current may flow from ``end`` to ``start``.
        sure: drawn on the page; False when only the part's kind suggests it.
        chance: how likely it is where it is not drawn (0..1), as far as that was weighed.
    """

    start: Key
    end: Key
    kind: str
    by: str
    cost: float
    along: bool = True
    back: bool = True
    sure: bool = True
    chance: float = 1.0


@dataclass(frozen=True, slots=True)
class Positions:
    """How switches, keys, relays and doors stand: what is ``shut`` (no current passes).

    ``off``: parts none of whose switched ways is closed. ``only``: for a part, the terminal that is joined with the others
    it can reach (a key in one position). A part in neither is taken as closed in every way the page allows: a trace shows
    the ways that can be.
    """

    off: frozenset[str] = frozenset()
    only: tuple[tuple[str, str], ...] = ()

    def passes(self, p: Pass) -> bool:
        """Whether the passage is closed; only switched ones can be open."""
        if p.kind not in {"switch", "contact"}:
            return True
        if p.by in self.off:
            return False
        wanted = [t for part, t in self.only if part == p.by]
        return not wanted or p.start[1] in wanted or p.end[1] in wanted


AS_ALLOWED = Positions()


@dataclass(frozen=True, slots=True)
class Table:
    """For every key the cost of its cheapest way to a goal, and the first passage of it (None at a goal)."""

    cost: Mapping[Key, float]
    step: Mapping[Key, Pass | None]

    def way(self, start: Key) -> list[Pass] | None:
        """The passages from ``start`` to the goal, in order; None when there is no way."""
        if start not in self.cost:
            return None
        way: list[Pass] = []
        step = self.step[start]
        while step is not None:
            way.append(step)
            step = self.step[step.end]
        return way


@dataclass
class Network:
    """A harness ready to be traced. Building it costs one pass over the harness; tables are made when first asked for.

    ``harness``: as given, but parts that a loose end just misses have a terminal for it (``gaps``).
    """

    harness: Harness
    gaps: tuple[Gap, ...] = field(init=False)
    graph: Conductors = field(init=False)
    passages: dict[Key, list[Pass]] = field(init=False)
    feeds: frozenset[Key] = field(init=False)
    fuses: frozenset[Key] = field(init=False)
    generators: frozenset[Key] = field(init=False)
    drawn: dict[str, tuple[Connector, DrawnConnector]] = field(init=False)
    splices: dict[str, Splice] = field(init=False)
    grounds: dict[str, Ground] = field(init=False)
    insides: dict[str, Inside] = field(init=False)
    commons: dict[str, str] = field(init=False)
    _tables: dict[tuple[str, Positions], Table] = field(init=False, default_factory=dict)

    def __post_init__(self) -> None:
        """Work out all passages."""
        self.harness, self.gaps = over_gaps(self.harness)
        h = self.harness
        self.graph = conductors(h)
        self.drawn = drawn_in(h.connectors)
        self.splices = {s.id: s for s in h.splices}
        self.grounds = {g.id: g for g in h.grounds}
        self.fuses = frozenset((c.id, t.id) for c in h.components if c.kind == "fuse" for t in c.terminals)
        self.feeds = self._live_posts()
        self.generators = frozenset(k for k in self.feeds if self.graph.components[k[0]].kind == "alternator")
        self.insides, self.commons = relays_inside(self.graph), commons(self.graph)
        self.passages = defaultdict(list)
        found = [*self._outside(), *self._over_gaps(), *self._through_parts()]
        for p in sorted(found, key=lambda p: (p.start, p.end, p.kind, p.by)):
            self.passages[p.start].append(p)

    def _live_posts(self) -> frozenset[Key]:
        """The posts that feed: where a battery prints no signs, not the one that a cable leads from to ground."""
        found = self.graph.feeds
        earthed = set()
        for k in found:
            joined = self.graph.reach([k], lambda h: h.kind in {"wire", "connector"})
            if self.graph.grounds & set(joined):
                earthed.add(k)
        several = {k for k in earthed if any(k[0] == other[0] and other not in earthed for other in found)}
        return found - several

    def table(self, goal: str, positions: Positions = AS_ALLOWED) -> Table:
        """Cheapest ways from everywhere to the nearest ``source``, ``feed``, ``fuse`` or ``ground``; made once for each.

        ``feed``: a source, a fuse reached from its load's side, or a bar of a fuse block. ``fuse``: any fuse, from any side.
        """
        made = self._tables.get((goal, positions))
        if made is None:
            made = self._tables[goal, positions] = self._make(goal, positions)
        return made

    def _make(self, goal: str, positions: Positions) -> Table:
        """Dijkstra outward from all goals at once, against the direction of walking."""
        blocks = {c.parent for c in self.harness.components if c.kind == "fuse"}
        bars = {
            (c.id, t.id)
            for c in self.harness.components
            if c.kind == "fuse_block" or c.id in blocks
            for t in c.terminals
        }
        goals = {
            "source": self.feeds,
            "feed": self.feeds | self.fuses | bars,
            "fuse": self.fuses,
            "ground": self.graph.grounds,
        }[goal]
        into: dict[Key, list[Pass]] = defaultdict(list)
        for key, out in self.passages.items():
            ends_here = key in self.graph.grounds or key in self.feeds - self.generators
            for p in out:
                if not ends_here and walked(p, goal) and positions.passes(p):
                    into[p.end].append(p)
        cost: dict[Key, float] = {}
        step: dict[Key, Pass | None] = {}
        # of two fuses equally many wires away, the one nearer to the source: it is likelier to lie before what was asked for
        known = self.table("source", positions).cost if goal == "fuse" else {}
        todo: list[tuple[float, Key, int, Pass | None]] = [
            (LATER if key in self.generators else min(0.5, INSIDE * known.get(key, 0.0)), key, -1, None)
            for key in sorted(goals)
        ]
        heapq.heapify(todo)
        made = 0
        while todo:
            far, key, _, by = heapq.heappop(todo)
            if key in cost:
                continue
            cost[key], step[key] = far, by
            for p in into.get(key, ()):
                if p.start not in cost:
                    made += 1
                    heapq.heappush(todo, (far + p.cost, p.start, made, p))
        return Table(cost, step)

    def _outside(self) -> Iterator[Pass]:
        """Wires, connectors, and one cavity drawn in several places."""
        chances = {d.id: d.probability for k in self.harness.connectors for d in k.places}
        for hops in self.graph.hops.values():
            for hop in hops:
                if hop.kind == "wire":
                    yield Pass(hop.start, hop.end, "wire", hop.by, 1.0 + _doubt(self.graph.wires[hop.by].probability))
                elif hop.kind == "connector":
                    yield Pass(hop.start, hop.end, "connector", hop.by, INSIDE + _doubt(chances[hop.by]))
        for k in self.harness.connectors:
            same: dict[tuple[str, str], list[Key]] = defaultdict(list)
            for d in k.places:
                for n, cavity in enumerate(d.cavities, 1):
                    for half in "ab" if cavity else "":
                        same[cavity or "", half].append((d.id, f"{half}{n}"))
            for keys in same.values():
                for one in keys:
                    for other in keys:
                        if one != other:
                            yield Pass(one, other, "same cavity", other[0], INSIDE + GUESSED, sure=False)

    def _over_gaps(self) -> Iterator[Pass]:
        """Both ways over every gap of the reading, as dear as a guess about a part."""
        for g in self.gaps:
            yield Pass(g.one, g.other, "gap", g.wire, INSIDE + GUESSED, sure=False)
            yield Pass(g.other, g.one, "gap", g.wire, INSIDE + GUESSED, sure=False)

    def _through_parts(self) -> Iterator[Pass]:
        by_id = self.graph.components
        blocks = {c.parent for c in self.harness.components if c.kind == "fuse"}
        for c in self.harness.components:
            if c.id in blocks and c.kind in CONSUMERS:
                continue  # what fuses sit in is no load, whatever its symbol was taken for
            yield from part_passages(c, by_id, self.insides.get(c.id), self.commons.get(c.id))
            if self._in_line(c):
                one, other = ((c.id, t.id) for t in c.terminals)
                yield Pass(one, other, "inside", c.id, INSIDE + GUESSED, sure=False)
                yield Pass(other, one, "inside", c.id, INSIDE + GUESSED, sure=False)

    def _in_line(self, c: Component) -> bool:
        """A module with two wires, neither of which is earthed: it can only do something by what passes through it.

        So a flasher unit is drawn as a plain box; a box with a feed and an earth is a load of its own (common practice, no
        source).
        """
        if c.kind != "module" or c.case_ground or c.joined or len(c.terminals) != 2:
            return False
        around = [
            self.graph.reach([(c.id, t.id)], lambda h: h.kind in {"wire", "connector", "joined"}) for t in c.terminals
        ]
        return (
            all(len(r) > 1 and not self.graph.grounds & set(r) for r in around)
            and (c.id, c.terminals[1].id) not in around[0]
        )


def walked(p: Pass, goal: str) -> bool:
    """Whether a way to this goal may take the passage. To a feed one walks against the current, to ground with it."""
    if p.kind in {"load", "coil"}:
        return False
    if goal == "ground":
        return p.along
    return p.back and p.kind not in {"sender", "case"} and not (goal == "feed" and p.kind == "bar")


def part_passages(
    c: Component, others: Mapping[str, Component], weighed: Inside | None = None, common: str | None = None
) -> Iterator[Pass]:
    """The passages through one part, in both directions.

    Args:
        c: the part.
        others: all parts by id.
        weighed: what was taken for a relay's inside; only that is passed then.
        common: the terminal of a switch that all of its positions join; no two others are joined past it.
    """
    hops = inside(c, others)
    drawn = {t for pair in drawn_joints(c) for t in pair}
    unjoined = [t.id for t in c.terminals if t.id not in drawn]
    coil_known = any({t.id.upper(), (t.label or "").upper()} & COIL for t in c.terminals)
    nearest = _nearest_bar(c, others)
    for hop in hops:
        kind, sure = _meaning(c, hop)
        if kind is None or (kind == "switch" and common is not None and common not in {hop.start[1], hop.end[1]}):
            continue
        if weighed is not None:
            kind = _weighed(weighed, frozenset({hop.start[1], hop.end[1]}))
            if kind is not None:
                told = weighed.chance >= TOLD and (kind == "coil" or len(weighed.contacts) == 1)
                cost = INSIDE + (_doubt(weighed.chance) if told else GUESSED)
                yield Pass(hop.start, hop.end, kind, hop.by, cost, sure=False, chance=weighed.chance)
            continue
        if drawn and c.kind in SWITCHES and not hop.sure and kind not in {"case", "coil"}:
            if c.kind == "relay" and not coil_known and {hop.start[1], hop.end[1]} == set(unjoined):
                kind, sure = "coil", True  # the contacts are drawn, so the two that are left are the coil
            else:
                continue
        cost = INSIDE if sure else INSIDE + GUESSED
        if kind == "bar" and not sure and nearest not in {hop.start, hop.end}:
            cost += GUESSED  # drawn farther away than another bar: the worse guess
        one_way = kind == "diode" and hop.sure
        yield Pass(
            hop.start, hop.end, kind, hop.by, cost,
            along=not (one_way and hop.open), back=not (one_way and not hop.open), sure=sure,
            chance=1.0 if sure or kind not in {"switch", "contact"} else _of_any_two(len(c.terminals), common),
        )  # fmt: skip


def _of_any_two(terminals: int, common: str | None) -> float:
    """The chance that a switch or relay joins two of its ``terminals`` of which nothing was read: one of them is the common."""
    return COMMON_TOLD if common is not None else min(1.0, 2 / terminals)


def _weighed(inside: Inside, pair: frozenset[str]) -> str | None:
    return "coil" if pair == inside.coil else "contact" if pair in inside.contacts else None


def _nearest_bar(c: Component, others: Mapping[str, Component]) -> Key | None:
    """The terminal of its block that a fuse is drawn nearest to: bars stand beside their fuses (common practice, no source)."""
    block = others.get(c.parent or "")
    if block is None or not block.terminals or not c.terminals:
        return None
    x, y = c.terminals[0].at
    return block.id, min(block.terminals, key=lambda t: (math.hypot(t.at[0] - x, t.at[1] - y), t.id)).id


def _meaning(c: Component, hop: Hop) -> tuple[str | None, bool]:
    """What a hop through a part is to a trace, and whether the page shows it; None: nothing passes there."""
    two = len(c.terminals) == 2
    if hop.end[1] == "case" or hop.start[1] == "case":
        if c.kind == "starter_solenoid":
            return (None if {hop.start[1], hop.end[1]} & {t for pair in c.joined for t in pair} else "coil"), True
        if c.kind in CONSUMERS:
            return "load", len(c.terminals) == 1
        return ("sender" if c.kind == "sensor" else "case"), len(c.terminals) == 1
    if hop.kind == "protection":
        return ("bar" if hop.start[0] != hop.end[0] else "fuse"), hop.sure
    if hop.kind == "joined":
        return _joined(c), True
    if hop.kind == "load":
        return _using(c, hop, two)
    if hop.kind == "switch":
        return ("contact" if c.kind == "relay" else "switch"), hop.sure
    if hop.kind == "inside":
        return (None, False) if c.kind in CLOSED_BOXES or not two else ("inside", False)
    return hop.kind, hop.sure


def _joined(c: Component) -> str:
    if c.kind in CONSUMERS:
        return "load"
    if c.kind in SWITCHES:
        return "contact" if c.kind == "relay" else "switch"
    if c.kind in PROTECTION:
        return "fuse"
    if c.kind in RESISTANCES:
        return "resistance"
    return {"sensor": "sender", "starter_solenoid": "contact"}.get(c.kind, "joined")


def _using(c: Component, hop: Hop, two: bool) -> tuple[str | None, bool]:
    if c.kind == "relay":
        return "coil", hop.sure
    if c.kind == "sensor":
        return "sender", two
    if c.kind == "starter_solenoid" and not c.joined:
        labels = {t.id: (t.label or t.id).upper() for t in c.terminals}
        if not {labels[hop.start[1]], labels[hop.end[1]]} & {"S", "50"}:
            return "contact", False
    return ("coil" if c.kind == "starter_solenoid" else "load"), hop.sure


def _doubt(probability: float) -> float:
    return -math.log(min(1.0, max(probability, 1e-6)))
