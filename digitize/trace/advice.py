"""What to tell the person at the vehicle: suspects in words, the next check with its place, and what the meter should read."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from digitize.errors import CalledWrongly, NotFound
from digitize.harness.graph import Key, end_key
from digitize.trace.cautions import cautions_for
from digitize.trace.circuit import Circuit, Values
from digitize.trace.faults import Fault, Ranking, Reads, Statement, Suspect, Works, power_share, rank, rank_pairs
from digitize.trace.follow import Circuits
from digitize.trace.network import Positions
from digitize.trace.next_check import Check, next_check, reachable
from digitize.trace.state import Caution
from digitize.trace.told import WIDTH, printable, stop_name, where

FORMAT = "digitize-fault-1"
SHOWN = 12
LIKELY = 0.01
"""Suspects less probable than this are not counted when a check's outcome is told."""

SETTLED = 0.95
"""From this probability one suspect is named as the fault to look for, and no further check is proposed (own choice)."""

FAULT_WORDS = {
    "wire open": "wire {name} is broken",
    "wire shorted": "wire {name} touches the body or another earthed part",
    "connector open": "a terminal of connector {name} has backed out or is broken",
    "connector bad": "a terminal of connector {name} is loose or corroded",
    "splice open": "a splice has come apart",
    "fuse open": "{name} is blown or its clips make no contact",
    "ground bad": "ground {name} makes bad contact",
    "ground open": "ground {name} makes no contact",
    "case bad": "the earth of {name} through its case is bad",
    "case open": "the earth of {name} through its case is missing",
    "switch open": "{name} does not close",
    "switch bad": "a contact of {name} is burnt or corroded",
    "contact open": "the contact of {name} does not close",
    "contact bad": "the contact of {name} is burnt or corroded",
    "coil open": "the coil of {name} is open",
    "load open": "{name} is burnt out or open inside",
    "sender open": "{name} is open inside",
    "resistance open": "{name} is open inside",
    "diode open": "{name} does not conduct",
    "joined open": "the joint inside {name} is open",
    "source open": "{name} gives nothing: flat, or a post is loose",
}

HOW = (
    "Set the meter to DC volts. Black lead on clean metal of the body or the battery's negative post, red lead on the point, "
    "probing from the back of a connector; leave everything connected and switched as you stated. A test lamp is no "
    "substitute on electronic circuits."
)


@dataclass(frozen=True, slots=True)
class Advice:
    """What is likely wrong and what to measure next.

    ``notes``: what the statements left open; ``told_something`` False when none of them can tell anything.
    """

    ranking: Ranking
    check: Check | None
    cautions: tuple[Caution, ...]
    notes: tuple[str, ...]
    circuits: Circuits
    told_something: bool = True


def advise(
    circuits: Circuits, works: Sequence[str], dark: Sequence[str], volts: Sequence[tuple[str, float]],
    positions: Positions, values: Values | None = None,
) -> Advice:  # fmt: skip
    """Suspects and the next check.

    Args:
        circuits: the harness.
        works: names of loads that work.
        dark: names of loads that do not.
        volts: (place, reading in V against the body).
        positions: how the switches stand while all of this holds.
        values: better values than the defaults.

    Raises:
        NotFound: a name is not in the manual.
        CalledWrongly: a name means several things, is no load, or a place is no point of the circuit.
    """
    circuit = Circuit(circuits.network, values, positions)
    parts = [
        *((_load(circuits, circuit, n), True) for n in works),
        *((_load(circuits, circuit, n), False) for n in dark),
    ]
    statements: list[Statement] = [Works(p, w) for p, w in parts]
    statements += [Reads(_point(circuits, circuit, place), v) for place, v in volts]
    if not statements:
        raise CalledWrongly("Nothing was said about what works and what does not.", "Give --dark, --works or --volts.")
    ranking = rank(circuit, statements)
    if ranking.suspects[0].fault is None:
        ranking = rank_pairs(ranking, statements)
    notes = []
    for part, _ in parts:
        if power_share(circuit, ranking.healthy, ranking.healthy, part) is None:
            name = circuits.network.graph.components[part].name.value or part
            notes.append(
                f"as the switches stand, no current would reach {name} in a healthy circuit as it was read: say how they "
                "stand with --position, or follow it with the trace command"
            )
    unfed = len(notes) == len(parts) and bool(parts)
    said = {s.key for s in statements if isinstance(s, Reads)}
    best = ranking.suspects[0]
    told = None
    if not unfed and (best.fault is None or best.probability < SETTLED):
        told = next_check(ranking, [p for p in reachable(ranking) if p not in said])
    names = [
        p.name.value or "" for p in circuits.network.graph.components.values() if p.id in {part for part, _ in parts}
    ]
    kinds = [p.kind for p in circuits.network.graph.components.values() if p.id in {part for part, _ in parts}]
    return Advice(ranking, told, cautions_for([*names, *kinds]), tuple(notes), circuits, told_something=not unfed)


def _load(circuits: Circuits, circuit: Circuit, name: str) -> str:
    starts = circuits.starts.meant_by(name).starts
    if len(starts) > 1:
        raise CalledWrongly(
            f"{name!r} may mean {len(starts)} things.", f"Say which: {', '.join(s.ask for s in starts[:8])}."
        )
    if not any(e.by == starts[0].id and e.kind in {"load", "coil"} for e in circuit.elements):
        raise CalledWrongly(f"{name!r} is nothing that works or stays dark.", "Name a lamp, a motor or another load.")
    return starts[0].id


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
            f"Say which: {', '.join(f'{k[0]}.{k[1]}' for k in keys[:8])}.",
        )
    return keys[0]


# in words


def fault_words(circuits: Circuits, fault: Fault) -> str:
    """A fault in a sentence, with where it sits."""
    if fault.parts:
        return "two faults: " + "; and ".join(fault_words(circuits, f) for f in fault.parts)
    net = circuits.network
    stop = circuits.stop(fault.key)
    if fault.by in net.graph.wires:
        w = net.graph.wires[fault.by]
        ends = " and ".join(stop_name(circuits.stop(end_key(w, n))) for n in (0, 1))
        name = f"{w.code.value or 'without a code'} between {ends}"
    elif fault.by in net.drawn:
        connector, d = net.drawn[fault.by]
        n = int(fault.key[1][1:]) - 1
        cavity = d.cavities[n] if n < len(d.cavities) else None
        name = f"{connector.label.value or connector.id}{f', cavity {cavity}' if cavity else ''}"
        name += f" ({connector.location})" if connector.location else ""
    elif fault.by in net.grounds:
        name = stop.name or "without a label"
    else:
        name = stop_name(stop) if fault.by == fault.key[0] else fault.by
        if fault.by in net.graph.components and fault.by != fault.key[0]:
            name = net.graph.components[fault.by].name.value or fault.by
    said = FAULT_WORDS.get(fault.kind, "{name}: " + fault.kind).format(name=printable(name))
    return f"{said} - {where(stop.spot)}"


def point_words(circuits: Circuits, key: Key) -> str:
    """A point to measure at: part and terminal, or connector, cavity, half and place in the vehicle."""
    net = circuits.network
    stop = circuits.stop(key)
    if key[0] in net.drawn:
        connector, d = net.drawn[key[0]]
        n = int(key[1][1:]) - 1
        cavity = d.cavities[n] if n < len(d.cavities) else None
        half = None if connector.half_names is None else connector.half_names[key[1].startswith("b")]
        wires = [p.by for p in net.passages.get(key, ()) if p.kind == "wire"]
        code = net.graph.wires[wires[0]].code.value if wires else None
        said = [f"connector {connector.label.value or connector.id}", cavity and f"cavity {cavity}", half,
                code and f"the side of wire {code}", connector.location]  # fmt: skip
        return f"{printable(', '.join(x for x in said if x))} - {where(stop.spot)}"
    terminal = "" if key[1] == "*" or key[0] in net.grounds else f", terminal {printable(key[1])}"
    return f"{stop_name(stop)}{terminal} - {where(stop.spot)}"


def advice_as_text(advice: Advice) -> str:
    """For the terminal: cautions, suspects, the next check."""
    circuits = advice.circuits
    lines = ["Cautions"]
    for c in advice.cautions:
        lines += textwrap.wrap(c.text, WIDTH, initial_indent="  ! ", subsequent_indent="    ")
    for n in advice.notes:
        lines += textwrap.wrap(printable(n), WIDTH, initial_indent="note: ", subsequent_indent="      ")
    if not advice.told_something:
        return "\n".join([*lines, "", "Nothing can be concluded yet."]) + "\n"
    lines += ["", "Faults that would explain it, likeliest first"]
    lines += [f"  {_percent(s.probability):>5}  {_suspect(circuits, s)}" for s in advice.ranking.suspects[:SHOWN]]
    more = len(advice.ranking.suspects) - SHOWN
    if more > 0:
        lines.append(f"         and {more} less likely ones")
    lines.append("")
    if advice.check is None:
        lines.append("No further voltage check tells the suspects apart: inspect the first ones of the list.")
    else:
        likely = {s.fault.id for s in advice.ranking.suspects if s.fault is not None and s.probability >= LIKELY}
        lines += _check_lines(circuits, advice.check, likely)
    lines.append("")
    lines += textwrap.wrap(
        "Voltages follow from usual values for loads, lengths and contacts, not from this vehicle: compare, do not trust.",
        WIDTH,
    )
    if circuits.harness.rights:
        lines.append(f"Rights: {printable(circuits.harness.rights)}")
    return "\n".join(lines) + "\n"


def _check_lines(circuits: Circuits, check: Check, likely: set[str]) -> list[str]:
    ask = f"{check.key[0]}.{check.key[1]}" if check.key[1] != "*" else check.key[0]
    lines = [f"Next check: {point_words(circuits, check.key)}"]
    lines += textwrap.wrap(HOW, WIDTH, initial_indent="  ", subsequent_indent="  ")
    for r in check.readings:
        low, high = r.volts
        span = f"{low:.1f} V" if high - low < 0.15 else f"{low:.1f} to {high:.1f} V"
        left = len(likely.intersection(r.suspects))
        lines.append(f"  {r.shows} ({span}), {_percent(r.probability)}: leaves {left} of {len(likely)} likely suspects")
    lines.append(f'  Then say what it read: --volts "{ask}=READING"')
    return lines


def _suspect(circuits: Circuits, s: Suspect) -> str:
    return "something else, or more than one fault" if s.fault is None else fault_words(circuits, s.fault)


def _percent(p: float) -> str:
    return "<1%" if p < 0.01 else f"{math.floor(100 * p + 0.5)}%"


def advice_as_json(advice: Advice) -> dict[str, Any]:
    """The same for programs."""
    circuits = advice.circuits

    def spot(key: Key) -> dict[str, Any]:
        s = circuits.stop(key).spot
        return {"sheet": s.sheet, "page": s.page, "zone": s.zone, "at": s.at}

    check = advice.check
    return {
        "format": FORMAT,
        "rights": circuits.harness.rights,
        "cautions": [{"id": c.id, "text": c.text} for c in advice.cautions],
        "notes": list(advice.notes),
        "suspects": [
            {
                "fault": None if s.fault is None else s.fault.id,
                "kind": None if s.fault is None else s.fault.kind,
                "by": None if s.fault is None else s.fault.by,
                "words": _suspect(circuits, s),
                "probability": round(s.probability, 5),
                **({} if s.fault is None else spot(s.fault.key)),
            }
            for s in (advice.ranking.suspects if advice.told_something else ())
        ],
        "next_check": None if check is None else {
            "point": list(check.key),
            "words": point_words(circuits, check.key),
            "how": HOW,
            "information_bits": round(check.information, 4),
            "effort": check.effort,
            "readings": [
                {"shows": r.shows, "volts": [round(v, 2) for v in r.volts], "probability": round(r.probability, 4),
                 "suspects": list(r.suspects)}
                for r in check.readings
            ],
            **spot(check.key),
        },
    }  # fmt: skip
