"""The harness as a graph of conductors: what is joined to what, and by what.

A *key* is (id of a node, terminal on it): a component's terminal, a side of a connector drawing, a splice (``*``), a
ground (``1``), the case of a component that is earthed there (``case``). A hop leads from one key to another by a wire,
through a connector, or through a component; what a component does to current between two of its terminals is told by
its kind, since the page shows no more. A hop says whether it is closed at rest, only closed when something is switched,
a load, or a one-way path; the caller chooses what to walk.

Terminal designations follow DIN 72552 where a relay prints them (85/86 coil; 30, 87, 87a contacts; some lists take 87 as
the common contact, so every pair of contacts counts as a switched path).
"""

from __future__ import annotations

from collections import defaultdict, deque
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from itertools import combinations

from digitize.harness.model import Component, Connector, DrawnConnector, Harness, Terminal, Wire

Key = tuple[str, str]
"""(node id, terminal)."""

LOADS = frozenset(
    {
        "coil", "gauge", "heater", "horn", "lamp", "motor", "sensor", "socket", "solenoid", "sounder", "speaker",
        "starter_solenoid",
    },
)  # fmt: skip
"""Kinds that use or measure current between their terminals."""

PROTECTION = frozenset({"fuse", "fusible_link", "circuit_breaker"})
SWITCHES = frozenset({"switch", "thermal_contact", "relay"})
RESISTANCES = frozenset({"resistor", "variable_resistor"})

FEED_LABELS = frozenset({"+", "B+", "30", "BAT", "BATT"})
GROUND_LABELS = frozenset({"-", "−", "–", "B-", "31", "E", "GND", "EARTH"})

ABOVE = "^"
"""Marks a terminal of the part one sits in: a fuse joined ``("2", "^t5")`` hangs on terminal ``t5`` of its block."""

COIL = frozenset({"85", "86"})
CONTACTS = frozenset({"30", "87", "87A", "87B"})


@dataclass(frozen=True, slots=True)
class Hop:
    """One step from ``start`` to ``end``.

    Attributes:
        kind: ``wire``, ``connector``, ``joined`` (inside a part), ``protection``, ``switch``, ``load``, ``resistance``,
            ``diode``, ``case`` (to the earthed case) or ``inside`` (a part whose inside nobody drew).
        by: id of the wire, connector drawing or component that makes the step.
        open: True when current may not pass against this direction of the hop (a diode walked from cathode to anode).
        sure: False when the page does not show the path and only the part's kind suggests it.
    """

    start: Key
    end: Key
    kind: str
    by: str
    open: bool = False
    sure: bool = True


@dataclass(frozen=True, slots=True)
class Conductors:
    """All hops by the key they start from, in a fixed order; which keys are feeds and which are ground."""

    hops: Mapping[Key, tuple[Hop, ...]]
    feeds: frozenset[Key]
    grounds: frozenset[Key]
    wires: Mapping[str, Wire] = field(default_factory=dict)
    components: Mapping[str, Component] = field(default_factory=dict)

    def reach(self, starts: Iterable[Key], passes: Callable[[Hop], bool]) -> dict[Key, Hop | None]:
        """All keys reached from ``starts`` over hops that ``passes`` lets through, each with the hop it was reached by.

        Breadth first, so that the way back is a shortest one; the starts have None.
        """
        reached: dict[Key, Hop | None] = dict.fromkeys(sorted(starts))
        todo = deque(reached)
        while todo:
            for hop in self.hops.get(todo.popleft(), ()):
                if hop.end not in reached and passes(hop):
                    reached[hop.end] = hop
                    todo.append(hop.end)
        return reached

    @staticmethod
    def way(reached: Mapping[Key, Hop | None], end: Key) -> list[Hop]:
        """The hops from a start to ``end``, in order. Raises KeyError when ``end`` was not reached."""
        way = []
        hop = reached[end]
        while hop is not None:
            way.append(hop)
            hop = reached[hop.start]
        return way[::-1]


def conductors(harness: Harness) -> Conductors:
    """The graph of ``harness``. An end of a wire that joins nothing becomes a key of its own: (wire id, ``end0``)."""
    hops: list[Hop] = []
    for wire in harness.wires:
        hops += _both(end_key(wire, 0), end_key(wire, 1), "wire", wire.id)
    for connector in harness.connectors:
        for drawn in connector.places:
            for a, b in halves(drawn):
                hops += _both((drawn.id, a), (drawn.id, b), "connector", drawn.id)
    by_id = {c.id: c for c in harness.components}
    for component in harness.components:
        hops += inside(component, by_id)
    table: dict[Key, list[Hop]] = defaultdict(list)
    for hop in sorted(hops, key=lambda h: (h.start, h.end, h.kind, h.by)):
        table[hop.start].append(hop)
    grounds = {(g.id, "1") for g in harness.grounds}
    feeds = set()
    for c in harness.components:
        if c.case_ground:
            grounds.add((c.id, "case"))
        if c.kind in {"battery", "alternator"}:
            feeds |= {(c.id, t.id) for t in c.terminals if _is_feed(c, t)}
            grounds |= {(c.id, t.id) for t in c.terminals if _says(t) & GROUND_LABELS}
    return Conductors(
        {k: tuple(v) for k, v in table.items()},
        frozenset(feeds),
        frozenset(grounds),
        {w.id: w for w in harness.wires},
        by_id,
    )


def end_key(wire: Wire, which: int) -> Key:
    """The key at one end (0 or 1) of a wire."""
    end = wire.ends[which]
    return (wire.id, f"end{which}") if end.node is None else (end.node, end.terminal or "*")


def halves(drawn: DrawnConnector) -> list[tuple[str, str]]:
    """Pairs of terminals that face each other: (a1, b1), (a2, b2) …"""
    ids = {t.id for t in drawn.terminals}
    numbers = sorted({i[1:] for i in ids if i[:1] in {"a", "b"}}, key=lambda n: (len(n), n))
    return [(f"a{n}", f"b{n}") for n in numbers]


def drawn_in(connectors: Iterable[Connector]) -> dict[str, tuple[Connector, DrawnConnector]]:
    """Connector and drawing by the drawing's id."""
    return {d.id: (c, d) for c in connectors for d in c.places}


def inside(c: Component, others: Mapping[str, Component]) -> list[Hop]:
    """Hops through one component. What is drawn as joined is sure; the rest is what its kind usually does."""
    hops: list[Hop] = []
    block = others.get(c.parent or "")
    stated = False
    for a, b in drawn_joints(c):
        one, other = joint(c, a, block), joint(c, b, block)
        if one is not None and other is not None:
            hops += _both(one, other, "protection" if c.kind in PROTECTION else "joined", c.id)
            stated = stated or one[0] != other[0]
    ids = [t.id for t in c.terminals]
    if c.case_ground:
        for t in ids:
            hops += _both((c.id, t), (c.id, "case"), "load" if c.kind in LOADS else "case", c.id, sure=False)
    if c.kind in PROTECTION and block is not None and not stated:
        # A fuse in a block has one terminal of its own; its other side is one of the block's bars.
        for t in ids if len(ids) == 1 else ():
            for bar in block.terminals:
                hops += _both((c.id, t), (block.id, bar.id), "protection", c.id, sure=len(block.terminals) == 1)
    drawn = {frozenset(pair) for pair in drawn_joints(c)}
    if c.kind == "fuse_block":
        return hops
    for one_end, other_end in combinations(c.terminals, 2):
        if frozenset((one_end.id, other_end.id)) not in drawn:
            hops += _through(c, one_end, other_end)
    return hops


def drawn_joints(c: Component) -> tuple[tuple[str, str], ...]:
    """The pairs of terminals that are joined inside ``c`` both ways: none in a diode, whose line is its arrow."""
    return () if c.kind == "diode" else c.joined


def joint(c: Component, terminal: str, block: Component | None) -> Key | None:
    """The key that one side of a joint of ``c`` stands for: its own, or behind ``ABOVE`` one of ``block``, in which it sits.

    None when the block, or that terminal of it, is not there.
    """
    if not terminal.startswith(ABOVE):
        return c.id, terminal
    above = terminal.removeprefix(ABOVE)
    known = block is not None and any(t.id == above for t in block.terminals)
    return (block.id, above) if block is not None and known else None


def _through(c: Component, one: Terminal, other: Terminal) -> list[Hop]:
    a, b = (c.id, one.id), (c.id, other.id)
    two = len(c.terminals) == 2
    if c.kind == "diode":
        anode, cathode = _diode(c, one, other)
        if anode is None or cathode is None:
            return _both(a, b, "diode", c.id, sure=False)
        return [
            Hop((c.id, anode), (c.id, cathode), "diode", c.id),
            Hop((c.id, cathode), (c.id, anode), "diode", c.id, open=True),
        ]
    if c.kind in PROTECTION:
        return _both(a, b, "protection", c.id, sure=two)
    if c.kind == "relay":
        says, says_too = _says(one), _says(other)
        if says & COIL and says_too & COIL:
            return _both(a, b, "load", c.id)
        if (says & COIL and says_too & CONTACTS) or (says & CONTACTS and says_too & COIL):
            return []
        return _both(a, b, "switch", c.id, sure=bool(says & CONTACTS and says_too & CONTACTS))
    if c.kind in SWITCHES:
        return _both(a, b, "switch", c.id, sure=two)
    if c.kind in RESISTANCES:
        return _both(a, b, "resistance", c.id, sure=two)
    if c.kind in LOADS:
        return _both(a, b, "load", c.id, sure=two)
    if c.kind in {"battery", "capacitor"}:
        return []
    return _both(a, b, "inside", c.id, sure=False)


def _diode(c: Component, one: Terminal, other: Terminal) -> tuple[str | None, str | None]:
    """(anode, cathode): the arrow points from anode to cathode, so along ``heading`` the anode comes first."""
    axis = {"right": (0, 1), "left": (0, -1), "down": (1, 1), "up": (1, -1)}.get(c.heading or "")
    if axis is None:
        return None, None
    along, sign = axis
    ahead = (other.at[along] - one.at[along]) * sign
    if ahead == 0:
        return None, None
    return (one.id, other.id) if ahead > 0 else (other.id, one.id)


def _both(a: Key, b: Key, kind: str, by: str, *, sure: bool = True) -> list[Hop]:
    return [Hop(a, b, kind, by, sure=sure), Hop(b, a, kind, by, sure=sure)]


def _says(t: Terminal) -> set[str]:
    return {s.upper() for s in (t.id, t.label) if s}


def _is_feed(c: Component, t: Terminal) -> bool:
    says = _says(t)
    if says & GROUND_LABELS:
        return False
    if c.kind == "alternator":
        return bool(says & (FEED_LABELS | {"B"}))
    # A battery with one wire drawn, or without signs at its posts: any post may be the feed.
    return bool(says & FEED_LABELS) or not any(_says(x) & (FEED_LABELS | GROUND_LABELS) for x in c.terminals)
