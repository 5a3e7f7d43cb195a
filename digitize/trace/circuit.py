"""The circuit behind the drawing: a direct-current solution, healthy or with something wrong.

Nodal analysis (Kirchhoff's current law at every node, sparse), with diodes, relay contacts and fuses brought to a fixed
point: a diode conducts or blocks, a contact follows its coil, a fuse blows at twice its rating. A diagram has neither
lengths nor values, so every value is a documented default that a person can change (``Values``): what follows from them is
a prediction for comparison, never a measurement.

Wire resistance: size from ASTM B258 or mm² (``harness.checks_sizes``), annealed copper of 1/58 ohm mm²/m at 20 °C
(IEC 60028), times a length.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csc_array
from scipy.sparse.linalg import splu

from digitize.harness.checks_sizes import amperes, area_mm2
from digitize.harness.graph import Key
from digitize.harness.model import Component, Wire
from digitize.trace.network import AS_ALLOWED, CONSUMERS, GUESSED, Network, Pass, Positions

COPPER = 1 / 58
"""Resistivity of annealed copper at 20 °C, ohm mm²/m (IEC 60028)."""

LEAK = 1e-9
"""Conductance from every node to ground, S: so that a part nothing is joined to reads 0 V as on a real meter."""

EARTH = -1
"""The node everything is measured against: the body of the vehicle."""

MOST_ROUNDS = 40

UNPLUGGED = frozenset({"source", "load", "coil", "sender"})
"""What is off or unplugged while continuity is measured: a lamp or a coil in parallel would count as a way."""

NO_OHMS = 1e6
"""From here on nothing joins two points (own choice; the leak above alone gives 1e9)."""

LOAD_OHMS = {
    "lamp": 12.0, "motor": 1.5, "horn": 3.0, "heater": 1.0, "solenoid": 15.0, "coil": 3.0, "gauge": 60.0, "socket": 2.0,
    "sounder": 60.0, "speaker": 4.0,
}  # fmt: skip
"""Resistance of a load at work by its kind, ohm (own estimates for 12 V vehicles; a person can give better ones)."""


@dataclass(frozen=True, slots=True)
class Values:
    """What the drawing does not say. Resistances in ohm, lengths in m; ``lengths`` by wire id, ``ohms`` by part id.

    ``load_ohms``: of a load by its kind, where its own is not in ``ohms``.
    """

    battery_volts: float = 12.6
    battery_ohms: float = 0.01
    wire_metres: float = 1.0
    wire_mm2: float = 1.0
    terminal_ohms: float = 0.002
    switch_ohms: float = 0.01
    fuse_ohms: float = 0.005
    fuse_amperes: float = 20.0
    link_amperes: float = 80.0
    ground_ohms: float = 0.005
    diode_volts: float = 0.7
    diode_ohms: float = 0.05
    coil_ohms: float = 80.0
    pull_in_volts: float = 7.0
    drop_out_volts: float = 3.0
    sender_ohms: float = 30.0
    resistor_ohms: float = 2.0
    lengths: Mapping[str, float] = field(default_factory=dict)
    ohms: Mapping[str, float] = field(default_factory=dict)
    load_ohms: Mapping[str, float] = field(default_factory=lambda: LOAD_OHMS)

    def with_given(self, lengths: Mapping[str, float], ohms: Mapping[str, float]) -> Values:
        """The same with these lengths (m, by wire id) and resistances (ohm, by part id)."""
        return replace(self, lengths=lengths, ohms=ohms)


@dataclass(frozen=True, slots=True)
class Element:
    """A conductor between two nodes (``EARTH`` is one).

    ``kind``: ``wire``, ``connector``, ``switch``, ``contact``, ``coil``, ``fuse``, ``diode`` (``a`` is the anode), ``load``,
    ``sender``, ``resistance``, ``joined``, ``case``, ``ground`` or ``source`` (``a`` is the positive post). ``rest``: a
    contact that is closed at rest. ``rating``: a fuse's, A.
    """

    kind: str
    by: str
    a: int
    b: int
    ohms: float
    keys: tuple[Key, Key | None]
    rest: bool = False
    rating: float = 0.0


@dataclass(frozen=True, slots=True)
class Change:
    """What is wrong: elements that are ``open``, resistance ``added`` to an element, nodes ``shorted`` to earth (ohm)."""

    open: frozenset[int] = frozenset()
    added: tuple[tuple[int, float], ...] = ()
    shorted: tuple[tuple[int, float], ...] = ()

    def along_with(self, other: Change) -> Change:
        """Both at once."""
        return Change(self.open | other.open, self.added + other.added, self.shorted + other.shorted)


HEALTHY = Change()


@dataclass(frozen=True, slots=True)
class Solution:
    """Node voltages (V against earth, by node number), currents (A, from ``a`` to ``b``, by element), and states.

    ``settled``: False when relays kept switching (a buzzer): the values are then of the last round.
    """

    volts: NDArray[np.float64]
    amps: NDArray[np.float64]
    energized: frozenset[str]
    blown: frozenset[int]
    settled: bool


class Circuit:
    """A network with values, in one position of its switches."""

    def __init__(self, network: Network, values: Values | None = None, positions: Positions = AS_ALLOWED) -> None:
        self.network = network
        self.values = values or Values()
        self.nodes: dict[Key, int] = {}
        self.elements: list[Element] = []
        self.system = network.harness.conventions.get("gauge system") or _likely_system(network.harness.wires)
        self._gather(positions)
        self._a = np.array([e.a for e in self.elements], dtype=np.int64)
        self._b = np.array([e.b for e in self.elements], dtype=np.int64)
        a, b, both, each = self._a, self._b, self._b != EARTH, np.arange(len(self.nodes))
        self._places = (
            np.concatenate([a, b[both], a[both], b[both], each]), np.concatenate([a, b[both], b[both], a[both], each])
        )  # fmt: skip
        self._diodes = [i for i, e in enumerate(self.elements) if e.kind == "diode"]
        self._coils = [i for i, e in enumerate(self.elements) if e.kind == "coil"]
        coiled = {self.elements[i].by for i in self._coils}
        stated = {
            part for part, _ in positions.only
        }  # what a person says of a relay's contact stands, whatever its coil does
        self._contacts = [
            (i, e.by, e.rest) for i, e in enumerate(self.elements)
            if e.kind == "contact" and e.by in coiled and e.by not in stated
        ]  # fmt: skip
        self._ohms = np.array([e.ohms for e in self.elements])
        drops = {"source": self.values.battery_volts, "diode": self.values.diode_volts}
        self._forced = np.array([drops.get(e.kind, 0.0) for e in self.elements])
        self._fuses = [i for i, e in enumerate(self.elements) if e.kind == "fuse"]
        self._dead = np.array([e.kind in UNPLUGGED for e in self.elements], dtype=bool)
        self.consumers: dict[str, NDArray[np.int64]] = {
            part: np.array([i for i, e in enumerate(self.elements) if e.by == part and e.kind in {"load", "coil"}])
            for part in sorted({e.by for e in self.elements if e.kind in {"load", "coil"}})
        }
        self._met: dict[tuple[Change, frozenset[int], int, int], float] = {}

    def volts_at(self, solution: Solution, key: Key) -> float | None:
        """Voltage at a key, V; None for a key that is no conductor of the circuit."""
        n = self.nodes.get(key)
        return None if n is None else float(solution.volts[n])

    # building

    def _node(self, key: Key) -> int:
        return self.nodes.setdefault(key, len(self.nodes))

    def _add(
        self, kind: str, by: str, keys: tuple[Key, Key | None], ohms: float, rest: bool = False, rating: float = 0.0
    ) -> None:
        b = EARTH if keys[1] is None else self._node(keys[1])
        self.elements.append(Element(kind, by, self._node(keys[0]), b, max(ohms, 1e-5), keys, rest, rating))

    def _gather(self, positions: Positions) -> None:
        net, v = self.network, self.values
        done: set[tuple[frozenset[Key], str]] = set()
        stars: dict[str, list[Key]] = {}
        for key in sorted(net.passages):
            for p in net.passages[key]:
                pair = (frozenset((p.start, p.end)), f"{p.kind} {p.by}")
                if pair in done or not self._conducts(p, positions):
                    continue
                done.add(pair)
                self._passage(p, stars)
        for part, keys in stars.items():  # a load with many terminals: each to a common point inside
            own = list(dict.fromkeys(keys))
            for k in own:
                self._add("load", part, (k, (part, "inside")), self._load_ohms(net.graph.components[part]) / 2)
        for key in sorted(net.graph.grounds):
            kind = "case" if key[1] == "case" else "ground"
            if net.graph.components.get(key[0]) is None or kind == "case":
                self._add(kind, key[0], (key, None), v.ground_ohms)
        for c in net.harness.components:
            if c.kind == "battery":
                self._battery(c)
            elif c.kind in CONSUMERS and len(c.terminals) == 1 and not c.case_ground and not self._holds_fuses(c):
                # one wire and no earth drawn: such a load is earthed through its mounting (common practice, no source)
                self._add("load", c.id, ((c.id, c.terminals[0].id), (c.id, "case")), self._load_ohms(c))
                self._add("case", c.id, ((c.id, "case"), None), v.ground_ohms)

    def _holds_fuses(self, c: Component) -> bool:
        return any(other.parent == c.id for other in self.network.harness.components)

    def _battery(self, c: Component) -> None:
        net = self.network
        plus = sorted(k for k in net.feeds if k[0] == c.id)
        minus = sorted(k for k in net.graph.grounds if k[0] == c.id and k[1] != "case")
        minus = minus or sorted((c.id, t.id) for t in c.terminals if (c.id, t.id) not in net.feeds)
        if plus:
            self._add("source", c.id, (plus[0], minus[0] if minus else None), self.values.battery_ohms)
        if minus and not any(p.kind == "wire" for p in net.passages.get(minus[0], ())):
            self._add("ground", c.id, (minus[0], None), self.values.ground_ohms)

    def _conducts(self, p: Pass, positions: Positions) -> bool:
        """Whether the passage is an element: drawn, or the best guess there is, and closed by hand."""
        if p.kind == "same cavity" or (p.kind == "bar" and p.cost >= 2 * GUESSED):
            return False
        if p.kind in {"switch", "contact"} and p.cost >= GUESSED:
            stated = any(part == p.by for part, _ in positions.only)
            return stated and positions.passes(p)
        return positions.passes(p)

    def _passage(self, p: Pass, stars: dict[str, list[Key]]) -> None:
        v, keys = self.values, (p.start, p.end)
        if p.kind == "wire":
            self._add("wire", p.by, keys, self.wire_ohms(self.network.graph.wires[p.by]))
            return
        if p.kind == "gap":  # the best guess there is; a fault is never looked for in it
            self._add("joined", p.by, keys, v.terminal_ohms)
            return
        c = self.network.graph.components.get(p.by)
        if p.kind == "connector" or c is None:
            self._add("connector", p.by, keys, v.terminal_ohms)
        elif p.kind == "load":
            if len(c.terminals) > 2 or (len(c.terminals) == 2 and c.case_ground):
                stars.setdefault(c.id, []).extend(keys)
            else:
                self._add("load", c.id, keys, self._load_ohms(c))
        elif p.kind == "diode":
            if p.along:
                self._add("diode", c.id, keys, v.ohms.get(c.id, v.diode_ohms))
        elif p.kind in {"fuse", "bar"}:
            usual = v.link_amperes if c.kind == "fusible_link" else v.fuse_amperes
            self._add("fuse", c.id, keys, v.fuse_ohms, rating=amperes(c.rating) or usual)
        elif p.kind == "contact":
            labels = {x.upper() for t in c.terminals if t.id in {p.start[1], p.end[1]} for x in (t.id, t.label) if x}
            self._add("contact", c.id, keys, v.switch_ohms, rest="87A" in labels)
        else:
            given = {
                "coil": v.coil_ohms, "sender": v.sender_ohms, "resistance": v.resistor_ohms, "switch": v.switch_ohms,
                "case": v.terminal_ohms,
            }.get(p.kind, v.terminal_ohms)  # fmt: skip
            kind = p.kind if p.kind in {"coil", "sender", "resistance", "switch", "case"} else "joined"
            self._add(kind, c.id, keys, v.ohms.get(c.id, given))

    def _load_ohms(self, c: Component) -> float:
        return self.values.ohms.get(c.id, self.values.load_ohms.get(c.kind, 12.0))

    def wire_ohms(self, w: Wire) -> float:
        """Resistance of a wire: size as printed, length as given or the default."""
        size = None if w.parsed is None or w.parsed.gauge is None else area_mm2(w.parsed.gauge, self.system)
        return COPPER * self.values.lengths.get(w.id, self.values.wire_metres) / (size or self.values.wire_mm2)

    # solving

    def solve(self, change: Change = HEALTHY, near: Solution | None = None) -> Solution:
        """Voltages and currents with ``change``. Diodes settle first, then relays, then fuses, as they do in time.

        ``near``: a solution whose diode and relay states are tried first; it saves rounds where little changes.
        """
        v = self.values
        conducting = set(self._diodes) if near is None else {i for i in self._diodes if near.amps[i] > 0}
        energized: frozenset[str] = frozenset() if near is None else near.energized
        blown: frozenset[int] = frozenset()
        volts, amps = self._linear(change, conducting, energized, blown)
        for _ in range(MOST_ROUNDS):
            turned = {
                i for i in self._diodes
                if (i in conducting) != (self._across(volts, i) > self.values.diode_volts)
            }  # fmt: skip
            if turned:
                # one at a time when many want to turn: turning all at once can swing for ever
                conducting ^= turned if len(turned) <= 2 else {min(turned)}
                volts, amps = self._linear(change, conducting, energized, blown)
                continue
            pulled = frozenset(
                self.elements[i].by
                for i in self._coils
                if abs(self._across(volts, i))
                >= (v.drop_out_volts if self.elements[i].by in energized else v.pull_in_volts)
            )
            if pulled != energized:
                energized = pulled
                volts, amps = self._linear(change, conducting, energized, blown)
                continue
            over = frozenset(i for i in self._fuses if abs(amps[i]) > 2 * self.elements[i].rating) - blown
            if not over:
                return Solution(volts, amps, energized, blown, settled=True)
            blown |= over
            volts, amps = self._linear(change, conducting, energized, blown)
        return Solution(volts, amps, energized, blown, settled=False)

    def ohms_between(self, change: Change, solution: Solution, one: int, other: int) -> float:
        """Resistance between two nodes as a meter shows it with the battery off and the loads unplugged, ohm.

        ``EARTH`` is a node too. What ``solution`` says is blown stays blown; relays rest, and diodes do not conduct (a meter's
        voltage is too low, or its leads the wrong way round). Above ``NO_OHMS`` nothing is joined.
        """
        known = self._met.get((change, solution.blown, one, other))
        if known is not None:
            return known
        g, _ = self._conductances(change, set(), frozenset(), solution.blown)
        g = np.where(self._dead, 0.0, g)
        pushed = np.zeros(len(self.nodes))
        for node, amps in ((one, 1.0), (other, -1.0)):
            if node != EARTH:
                pushed[node] += amps
        volts = self._solved(change, g, pushed)
        at = [0.0 if n == EARTH else float(volts[n]) for n in (one, other)]
        self._met[change, solution.blown, one, other] = found = max(0.0, at[0] - at[1])
        return found

    def _across(self, volts: NDArray[np.float64], i: int) -> float:
        e = self.elements[i]
        return float(volts[e.a] - (0.0 if e.b == EARTH else volts[e.b]))

    def _linear(
        self, change: Change, conducting: set[int], energized: frozenset[str], blown: frozenset[int]
    ) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        g, forced = self._conductances(change, conducting, energized, blown)
        a, b = self._a, self._b
        both = b != EARTH
        # an element that forces ``forced`` volts from b to a pushes that much current through its own conductance
        pushed = np.zeros(len(self.nodes))
        np.add.at(pushed, a, g * forced)
        np.add.at(pushed, b[both], -(g * forced)[both])
        volts = self._solved(change, g, pushed)
        low = np.where(both, volts[np.maximum(b, 0)], 0.0)
        return volts, np.asarray(g * (volts[a] - low - forced), dtype=np.float64)

    def _solved(self, change: Change, g: NDArray[np.float64], pushed: NDArray[np.float64]) -> NDArray[np.float64]:
        """Node voltages for conductances ``g`` (S, by element) and currents ``pushed`` into the nodes (A)."""
        n = len(self.nodes)
        both = self._b != EARTH
        shorted = [(k, 1.0 / ohms) for k, ohms in change.shorted]
        data = np.concatenate([g, g[both], -g[both], -g[both], np.full(n, LEAK), np.array([x for _, x in shorted])])
        rows, columns = self._places
        if shorted:
            at = np.array([k for k, _ in shorted], dtype=np.int64)
            rows, columns = np.concatenate([rows, at]), np.concatenate([columns, at])
        matrix = csc_array((data, (rows, columns)), shape=(n, n))
        return np.asarray(splu(matrix, permc_spec="MMD_AT_PLUS_A").solve(pushed), dtype=np.float64)

    def _conductances(
        self, change: Change, conducting: set[int], energized: frozenset[str], blown: frozenset[int]
    ) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """(conductance of every element in this state, volts it forces from ``b`` to ``a``)."""
        ohms = self._ohms
        if change.added:
            ohms = ohms.copy()
            for i, more in change.added:
                ohms[i] += more
        g = 1.0 / ohms
        forced = self._forced
        resting = [i for i in self._diodes if i not in conducting]
        resting += [i for i, part, rest in self._contacts if (part in energized) == rest]
        for i in (*resting, *change.open, *blown):
            g[i] = 0.0
        return g, forced


def _likely_system(wires: Iterable[Wire]) -> str | None:
    """Sizes that no convention names: whole numbers up to 10 and above are AWG, sizes with a point mm² (own guess)."""
    sizes = {w.parsed.gauge for w in wires if w.parsed is not None and w.parsed.gauge is not None}
    if any("." in x or "," in x for x in sizes):
        return "mm2"
    return "awg" if any(x.isdigit() and int(x) >= 10 for x in sizes) else None
