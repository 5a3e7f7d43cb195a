"""Which single fault explains what the person at the vehicle sees, ranked with probabilities.

Every hypothesis is a change of the circuit (``circuit.Change``); its voltages are solved, and each statement is as likely as
that solution makes it. How often each kind of part fails is a documented guess (``WEIGHTS``: common practice, no source): it
only orders what the statements leave open.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from digitize.harness.graph import Key
from digitize.trace.circuit import EARTH, HEALTHY, Change, Circuit, Element, Solution

SHORT_OHMS = 0.02
"""A wire that touches the body, ohm."""

CORRODED_OHMS = {"connector": 8.0, "ground": 8.0, "case": 8.0, "switch": 8.0, "contact": 8.0}
"""Resistance that a bad contact adds, ohm: enough to dim or stop a lamp (own estimate)."""

WEIGHTS = {
    "load open": 6.0, "ground bad": 4.0, "case bad": 4.0, "connector open": 3.0, "connector bad": 3.0, "switch open": 2.5,
    "contact open": 2.5, "fuse open": 2.5, "switch bad": 1.0, "contact bad": 1.0, "coil open": 1.5, "wire open": 1.5,
    "splice open": 1.5, "ground open": 2.0, "case open": 2.0, "wire shorted": 0.7, "sender open": 1.5, "resistance open": 1.5,
    "diode open": 1.0, "joined open": 0.5, "source open": 0.5,
}  # fmt: skip
"""How often each kind fails, relative to each other (common practice, no source)."""

UNKNOWN = "something else"
UNKNOWN_WEIGHT = 0.02
"""Share of the hypothesis that none of the listed faults is the right one."""

PAIRED = 40
"""Single faults that pairs are made of."""

PAIR_SHARE = 0.02
"""How much rarer two faults at once are than the product of their weights says (own estimate)."""

MISTAKEN = 0.02
"""Chance that a statement is simply wrong."""

SURE_OHMS = 1.0
"""Up to this resistance everybody calls it continuity (own choice; long leads alone make some tenths of an ohm)."""

BAD_OHMS = 50.0
"""From this resistance on nobody does: continuity testers beep up to some tens of ohms (common practice, no source)."""

DARK_SHARE, WORKS_SHARE = 0.1, 0.6
"""Share of its healthy power below which a load is called dark, and above which it works (own choice)."""

FLOWS = 1e-3
"""A: an element that carries less in the healthy circuit explains nothing by being open."""

LIVE = 1.0
"""V: a wire with less than this in the healthy circuit explains nothing by touching the body."""


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing that may be wrong. ``kind``: a key of ``WEIGHTS``; ``by``: the wire, connector drawing, part or splice.

    ``kind`` ``pair`` has the two single faults in ``parts``.
    """

    id: str
    kind: str
    by: str
    key: Key
    change: Change
    weight: float
    parts: tuple[Fault, ...] = ()


@dataclass(frozen=True, slots=True)
class Works:
    """A load works (``works`` True), or is dark, silent, still."""

    part: str
    works: bool


@dataclass(frozen=True, slots=True)
class Reads:
    """A voltmeter between a point and the body reads ``volts``."""

    key: Key
    volts: float


@dataclass(frozen=True, slots=True)
class Continuous:
    """Between two points there is continuity, or none: battery off, the loads in between unplugged. None: the body."""

    one: Key | None
    other: Key | None
    joined: bool


Statement = Works | Reads | Continuous


@dataclass(frozen=True, slots=True)
class Suspect:
    """A fault with its probability after the statements, and the solution it predicts (None: ``something else``)."""

    fault: Fault | None
    probability: float
    solution: Solution | None


@dataclass(frozen=True, slots=True)
class Ranking:
    """All suspects, most probable first; ``healthy`` is the circuit without a fault."""

    circuit: Circuit
    healthy: Solution
    suspects: tuple[Suspect, ...]

    def leading(self, share: float = 0.9) -> tuple[Suspect, ...]:
        """The fewest suspects that together have ``share`` of the probability."""
        out: list[Suspect] = []
        total = 0.0
        for s in self.suspects:
            out.append(s)
            total += s.probability
            if total >= share:
                break
        return tuple(out)


def hypotheses(circuit: Circuit, healthy: Solution) -> list[Fault]:
    """Every single fault that could change anything in the circuit as it is switched, in a fixed order."""
    found: dict[str, Fault] = {}
    for i, e in enumerate(circuit.elements):
        flows = abs(float(healthy.amps[i])) > FLOWS
        for kind, change in _of(circuit, i, e, healthy, flows):
            weight = WEIGHTS.get(kind, 1.0)
            fault = Fault(f"{kind} {e.by} {e.keys[0][1]}", kind, e.by, e.keys[0], change, weight)
            found.setdefault(fault.id, fault)
    for s in sorted(circuit.network.splices):
        key = (s, "*")
        wires = frozenset(i for i, e in enumerate(circuit.elements) if e.kind == "wire" and key in e.keys)
        if any(abs(float(healthy.amps[i])) > FLOWS for i in wires):
            found[f"splice open {s}"] = Fault(
                f"splice open {s}", "splice open", s, key, Change(open=wires), WEIGHTS["splice open"]
            )
    return [found[k] for k in sorted(found)]


def _of(circuit: Circuit, i: int, e: Element, healthy: Solution, flows: bool) -> Iterable[tuple[str, Change]]:
    if flows:
        yield f"{e.kind} open", Change(open=frozenset({i}))
        if e.kind in CORRODED_OHMS:
            yield f"{e.kind} bad", Change(added=((i, CORRODED_OHMS[e.kind]),))
    if e.kind == "wire" and abs(circuit.volts_at(healthy, e.keys[0]) or 0.0) > LIVE:
        yield "wire shorted", Change(shorted=((e.a, SHORT_OHMS),))


def rank(
    circuit: Circuit,
    statements: Sequence[Statement],
    faults: Sequence[Fault] | None = None,
    known: Ranking | None = None,
) -> Ranking:
    """Suspects after the statements.

    Args:
        circuit: in the position of its switches in which the statements were made.
        statements: everything known, in any order.
        faults: the hypotheses; all of ``hypotheses`` when left out.
        known: an earlier ranking of the same circuit, whose solutions are used again.
    """
    if known is not None:
        healthy = known.healthy
        solved = [(s.fault, s.solution) for s in known.suspects if s.fault is not None and s.solution is not None]
    else:
        healthy = circuit.solve()
        chosen = hypotheses(circuit, healthy) if faults is None else faults
        solved = [(f, circuit.solve(f.change, near=healthy)) for f in chosen]
    return _weighed(circuit, healthy, solved, statements)


def _weighed(
    circuit: Circuit, healthy: Solution, solved: Sequence[tuple[Fault, Solution]], statements: Sequence[Statement]
) -> Ranking:
    """The probabilities: weight times likelihood, over everything that was considered."""
    total = sum(f.weight for f, _ in solved if not f.parts) or 1.0
    fits = _likelihoods(circuit, healthy, solved, statements)
    weighed: list[tuple[float, Fault | None, Solution | None]] = [
        (f.weight / total * float(fit), f, s) for (f, s), fit in zip(solved, fits, strict=True)
    ]
    # what is not listed predicts nothing: every statement is as likely as not
    weighed.append((UNKNOWN_WEIGHT * 0.5 ** len(statements), None, None))
    everything = sum(w for w, _, _ in weighed)
    suspects = [Suspect(f, w / everything, s) for w, f, s in weighed]
    suspects.sort(key=lambda s: (-s.probability, "~" if s.fault is None else s.fault.id))
    return Ranking(circuit, healthy, tuple(suspects))


def rank_pairs(known: Ranking, statements: Sequence[Statement]) -> Ranking:
    """Suspects with pairs of faults among them, for statements that no single fault explains.

    The pairs are made of the ``PAIRED`` singles that explain most statements by themselves; each pair is solved anew.
    """
    circuit, healthy = known.circuit, known.healthy
    singles = [(s.fault, s.solution) for s in known.suspects if s.fault is not None and s.solution is not None]

    told = sum(_likelihoods(circuit, healthy, singles, [one]) > 0.5 for one in statements)
    explained = np.broadcast_to(told, len(singles))
    order = sorted(range(len(singles)), key=lambda i: (-explained[i], -singles[i][0].weight, singles[i][0].id))
    chosen = [singles[i] for i in order[:PAIRED]]
    solved = list(singles)
    for (one, _), (other, _) in combinations(chosen, 2):
        if one.by != other.by:
            both = Fault(
                f"{one.id} + {other.id}", "pair", one.by, one.key, one.change.along_with(other.change),
                one.weight * other.weight * PAIR_SHARE, (one, other),
            )  # fmt: skip
            solved.append((both, circuit.solve(both.change, near=healthy)))
    return _weighed(circuit, healthy, solved, statements)


def _likelihoods(
    circuit: Circuit, healthy: Solution, solved: Sequence[tuple[Fault, Solution]], statements: Sequence[Statement]
) -> NDArray[np.float64]:
    """How likely a person says all of ``statements``, for each fault."""
    product = np.ones(len(solved))
    if not solved or not statements:
        return product
    amps = np.stack([s.amps for _, s in solved])
    volts = np.stack([s.volts for _, s in solved])
    for statement in statements:
        if isinstance(statement, Works):
            right = _working(circuit, healthy, amps, statement)
        elif isinstance(statement, Reads):
            right = _reading(circuit, volts, statement)
        else:
            right = np.array([chance_of_continuity(circuit, f.change, s, statement) for f, s in solved])
        product *= MISTAKEN + (1 - 2 * MISTAKEN) * right
    return product


def _working(circuit: Circuit, healthy: Solution, amps: NDArray[np.float64], statement: Works) -> NDArray[np.float64]:
    """How likely a person says so, by the share of its healthy power that a load gets; ``amps``: a row for each fault.

    0.5 for a load that gets nothing in the healthy circuit as it is switched: the statement then tells nothing.
    """
    usual = _power(circuit, healthy.amps, statement.part)
    if usual is None or usual < FLOWS**2:
        return np.full(len(amps), 0.5)
    share = (amps[:, circuit.consumers[statement.part]] ** 2).sum(axis=1) / usual
    works = np.clip((share - DARK_SHARE) / (WORKS_SHARE - DARK_SHARE), 0.0, 1.0)
    return np.asarray(works if statement.works else 1 - works, dtype=np.float64)


def _power(circuit: Circuit, amps: NDArray[np.float64], part: str) -> float | None:
    mine = circuit.consumers.get(part)
    return None if mine is None else float((amps[mine] ** 2).sum())


def power_share(circuit: Circuit, healthy: Solution, s: Solution, part: str) -> float | None:
    """The share of its healthy power that a load gets; None for one that gets nothing in the healthy circuit either."""
    usual, now = _power(circuit, healthy.amps, part), _power(circuit, s.amps, part)
    return None if usual is None or now is None or usual < FLOWS**2 else now / usual


def chance_of_continuity(circuit: Circuit, change: Change, s: Solution, statement: Continuous) -> float:
    """How likely a person says so, by the resistance between the points: up to ``SURE_OHMS`` yes, from ``BAD_OHMS`` on no.

    Between them a meter that beeps and a person who reads ohms may differ. 0.5 where a point is none of the circuit.
    """
    nodes = [EARTH if k is None else circuit.nodes.get(k) for k in (statement.one, statement.other)]
    if nodes[0] is None or nodes[1] is None:
        return 0.5
    ohms = circuit.ohms_between(change, s, nodes[0], nodes[1])
    yes = math.log(BAD_OHMS / max(ohms, SURE_OHMS)) / math.log(BAD_OHMS / SURE_OHMS)
    yes = min(1.0, max(0.0, yes))
    return yes if statement.joined else 1 - yes


def _reading(circuit: Circuit, volts: NDArray[np.float64], statement: Reads) -> NDArray[np.float64]:
    node = circuit.nodes.get(statement.key)
    if node is None:
        return np.full(len(volts), 0.5)
    # a meter, a battery and contacts as they are: a tenth of the battery's voltage is no surprise
    spread = 0.1 * circuit.values.battery_volts
    return np.asarray(np.exp(-0.5 * ((volts[:, node] - statement.volts) / spread) ** 2), dtype=np.float64)


__all__ = ["HEALTHY", "Fault", "Ranking", "Reads", "Statement", "Suspect", "Works", "hypotheses", "rank"]
