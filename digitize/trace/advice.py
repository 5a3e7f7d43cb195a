"""From what a person says is lit, dark, measured and switched to suspects, the next check and figures to compare with."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field

from digitize.errors import CalledWrongly, NotFound
from digitize.harness.graph import Key
from digitize.trace.cautions import cautions_for, hands_off
from digitize.trace.circuit import Circuit, Values
from digitize.trace.faults import (
    Continuous,
    Fault,
    Ranking,
    Reads,
    Statement,
    Suspect,
    Works,
    power_share,
    rank,
    rank_pairs,
)
from digitize.trace.figures import Figure, figures_for
from digitize.trace.follow import Circuits
from digitize.trace.insides import left_open
from digitize.trace.network import Positions
from digitize.trace.next_check import Check, next_check, reachable
from digitize.trace.state import Caution
from digitize.trace.stated import why_unfed
from digitize.trace.told import printable, told_apart

SETTLED = 0.95
"""From this probability one suspect is named as the fault to look for, and no further check is proposed (own choice)."""

SHOWN = 12
ALWAYS_SHOWN = 3
LEAST_SHOWN = 0.005
"""At most and at least so many suspects are listed; one less likely than this only contradicts what was told."""

BODY = frozenset({"body", "chassis"})
"""What a person may call the metal that everything is earthed to, as one side of a continuity check."""


@dataclass(frozen=True, slots=True)
class Told:
    """What the person at the vehicle knows, in the words they typed.

    Attributes:
        works: loads that work.
        dark: loads that do not.
        volts: (place, reading in V against the body).
        joined: (place, place, True for continuity and False for none); one place may be ``body``.
        stand: (switch, position), as ``Circuits.positions`` took them.
        lengths: (wire, metres).
        watts: (load, its rated power at 12 V in W).
    """

    works: Sequence[str] = ()
    dark: Sequence[str] = ()
    volts: Sequence[tuple[str, float]] = ()
    joined: Sequence[tuple[str, str, bool]] = ()
    stand: Sequence[tuple[str, str]] = ()
    lengths: Sequence[tuple[str, float]] = ()
    watts: Sequence[tuple[str, float]] = ()

    def sentences(self, name: Callable[[str], str] = str) -> tuple[str, ...]:
        """All of it, a sentence each; ``name`` says how a place that was typed is told."""
        found = [f"{n} stands at {p}" for n, p in self.stand]
        found += [f"{n} works" for n in self.works]
        found += [f"{n} does not work" for n in self.dark]
        found += [f"{name(n)} reads {v:g} V against the body" for n, v in self.volts]
        found += [
            f"{'continuity' if yes else 'no continuity'} between {name(a)} and {name(b)}" for a, b, yes in self.joined
        ]
        found += [f"wire {n} is {m:g} m long" for n, m in self.lengths]
        found += [f"{n} is rated {w:g} W at 12 V" for n, w in self.watts]
        return tuple(found)


@dataclass(frozen=True, slots=True)
class Advice:
    """What is likely wrong and what to measure next.

    ``notes``: what the statements left open; ``told_something`` False when none of them can tell anything. ``about``: the
    parts that were named as dark or working, the dark ones first. ``hands_off``: what was told is of a circuit that is to be
    left alone, so that no check is proposed.
    """

    ranking: Ranking
    check: Check | None
    cautions: tuple[Caution, ...]
    notes: tuple[str, ...]
    circuits: Circuits
    told_something: bool = True
    told: Told = field(default_factory=Told)
    figures: tuple[Figure, ...] = ()
    about: tuple[str, ...] = ()
    hands_off: bool = False


def shown_suspects(advice: Advice) -> tuple[Suspect, ...]:
    """The suspects that are listed, likeliest first; none while nothing can be concluded."""
    return _listed(advice.ranking) if advice.told_something else ()


def _listed(ranking: Ranking) -> tuple[Suspect, ...]:
    first = ranking.suspects[:SHOWN]
    return tuple(s for i, s in enumerate(first) if i < ALWAYS_SHOWN or s.probability >= LEAST_SHOWN)


def advise(circuits: Circuits, told: Told, positions: Positions, values: Values | None = None) -> Advice:
    """Suspects and the next check.

    Args:
        circuits: the harness.
        told: what the person knows.
        positions: how the switches stand while all of it holds.
        values: better values than the defaults; lengths and watts that were told go over them.

    Raises:
        NotFound: a name is not in the manual.
        CalledWrongly: a name means several things, is no load, or a place is no point of the circuit.
    """
    values = _given(circuits, told, values or Values())
    circuit = Circuit(circuits.network, values, positions)
    parts = [
        *((_load(circuits, circuit, n), False) for n in told.dark),
        *((_load(circuits, circuit, n), True) for n in told.works),
    ]
    both = {p for p, works in parts if works} & {p for p, works in parts if not works}
    if both:
        name = circuits.stop((min(both), "")).name
        raise CalledWrongly(f"{name} is said to work and not to work.", "Say one of the two.")
    statements: list[Statement] = [Works(p, w) for p, w in parts]
    statements += [Reads(_point(circuits, circuit, place), v) for place, v in told.volts]
    statements += [
        Continuous(_side(circuits, circuit, one), _side(circuits, circuit, other), yes)
        for one, other, yes in told.joined
    ]
    if not statements:
        raise CalledWrongly(
            "Nothing was said about what works and what does not.",
            "Give --dark, --works, --volts, --continuity or --no-continuity.",
        )
    ranking = rank(circuit, statements)
    if ranking.suspects[0].fault is None:
        ranking = rank_pairs(ranking, statements)
    notes = [
        why_unfed(circuits, positions, values, part)
        for part, _ in parts if power_share(circuit, ranking.healthy, ranking.healthy, part) is None
    ]  # fmt: skip
    unfed = len(notes) == len(statements)
    notes += left_open(circuits.network.graph, circuits.network.commons, positions.only)
    said = {s.key for s in statements if isinstance(s, Reads)}
    best = ranking.suspects[0]
    about = tuple(dict.fromkeys(part for part, _ in parts))
    keys = [k for s in statements for k in _keys_of(s)]
    alone = hands_off(_texts(circuits, about, keys))
    check = None
    if not unfed and not alone and (best.fault is None or best.probability < SETTLED):
        check = next_check(ranking, [p for p in _to_measure(circuits, ranking) if p not in said])
    keys += [] if unfed else [f.key for s in _listed(ranking) for f in _single(s)]
    keys += [] if check is None else [check.key]
    return Advice(
        ranking, check, cautions_for(_texts(circuits, about, keys)), tuple(notes), circuits, not unfed, told,
        figures_for(circuit, ranking.healthy, about, {n for n, _ in _wires(circuits, told)}), about, alone,
    )  # fmt: skip


def _keys_of(statement: Statement) -> tuple[Key, ...]:
    """The points of the circuit that a statement is about, besides the loads that it names."""
    if isinstance(statement, Reads):
        return (statement.key,)
    if isinstance(statement, Continuous):
        return tuple(k for k in (statement.one, statement.other) if k is not None)
    return ()


def _single(suspect: Suspect) -> tuple[Fault, ...]:
    """The faults that a suspect is made of."""
    return () if suspect.fault is None else suspect.fault.parts or (suspect.fault,)


def _to_measure(circuits: Circuits, ranking: Ranking) -> list[Key]:
    """Every point that may be proposed to be measured: none of a circuit that is to be left alone."""
    return [p for p in reachable(ranking) if not hands_off(_texts(circuits, (), (p,)))]


def _texts(circuits: Circuits, about: Iterable[str], keys: Iterable[Key]) -> Iterable[str]:
    """Everything a caution may be called for by: the parts named, the places, and the circuits of both in words."""
    net = circuits.network
    at = list(keys)
    for part in about:
        c = net.graph.components[part]
        yield from (c.name.value or "", c.kind)
        at += [(part, t.id) for t in c.terminals]
    for key in at:
        stop = circuits.stop(key)
        yield from (stop.name, stop.kind)
        yield from (circuits.words(p.by) for p in net.passages.get(key, ()) if p.kind == "wire")


def _given(circuits: Circuits, told: Told, values: Values) -> Values:
    """``values`` with the lengths and loads that the person gave."""
    ohms = dict(values.ohms)
    for name, watts in told.watts:
        part = _one(circuits, name)
        if part not in circuits.network.graph.components:
            raise CalledWrongly(f"{name!r} is no load.", "Give the power of a lamp, a motor or another load.")
        ohms[part] = RATED_VOLTS**2 / watts
    return values.with_given({**values.lengths, **dict(_wires(circuits, told))}, ohms)


RATED_VOLTS = 12.0
"""What the rated power of a part for a 12 V vehicle is taken at (common practice, no source)."""


def _wires(circuits: Circuits, told: Told) -> Iterable[tuple[str, float]]:
    for name, metres in told.lengths:
        wires = [s.id for s in circuits.starts.meant_by(name).starts if s.id in circuits.network.graph.wires]
        if not wires:
            raise CalledWrongly(f"{name!r} is no wire.", "Name a wire by its printed code or its id.")
        yield from ((w, metres / len(wires)) for w in wires)


def _one(circuits: Circuits, name: str) -> str:
    starts = circuits.starts.meant_by(name).starts
    if len(starts) > 1:
        raise CalledWrongly(
            f"{name!r} may mean {len(starts)} things.", f"Say which: {told_apart(circuits.candidates(starts))}."
        )
    return starts[0].id


def _load(circuits: Circuits, circuit: Circuit, name: str) -> str:
    part = _one(circuits, name)
    if part not in circuit.consumers:
        raise CalledWrongly(f"{name!r} is nothing that works or stays dark.", "Name a lamp, a motor or another load.")
    return part


def _side(circuits: Circuits, circuit: Circuit, place: str) -> Key | None:
    return None if place.strip().casefold() in BODY else _point(circuits, circuit, place)


def _told_point(circuits: Circuits, key: Key) -> str:
    """A point as it can be typed, with what tells it from the others of its part: the wires that come in there."""
    wires = circuits.network.graph.wires
    codes = [wires[p.by].code.value or p.by for p in circuits.network.passages.get(key, ()) if p.kind == "wire"]
    beside = f" ({', '.join(printable(c) for c in codes)})" if codes else ""
    return f"{key[0]}.{key[1]}{beside}"


def _point(circuits: Circuits, circuit: Circuit, place: str) -> Key:
    node, _, terminal = place.strip().rpartition(".")
    for key in ((node, terminal), (place.strip(), "*")):
        if key in circuit.nodes:
            return key
    starts = circuits.starts.meant_by(place).starts
    keys = [k for s in starts for k in s.keys if k in circuit.nodes]
    if not keys:
        raise NotFound(
            f"{place!r} is no point of the circuit that was read.", "Name a terminal, a splice or a connector's half."
        )
    if len(keys) > 1:
        raise CalledWrongly(
            f"{place!r} has {len(keys)} points to measure at.",
            f"Say which: {', '.join(_told_point(circuits, k) for k in keys[:8])}.",
        )
    return keys[0]
