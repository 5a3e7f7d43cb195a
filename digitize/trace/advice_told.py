"""What to tell the person at the vehicle: suspects in words, the next check with its place, and what the meter should read."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Sequence

from digitize.harness.graph import Key, end_key
from digitize.trace.advice import Advice, shown_suspects
from digitize.trace.faults import Fault, Suspect
from digitize.trace.follow import Circuits
from digitize.trace.next_check import EFFORT, Check, shown
from digitize.trace.strip import View, views_at
from digitize.trace.told import WIDTH, printable, stop_name, where

LIKELY = 0.01
"""Suspects less probable than this are not counted when a check's outcome is told."""

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

CONTINUITY = (
    "Continuity is measured with the battery disconnected and the loads in between unplugged: what stays plugged in is a way "
    "of its own for the meter. A diode passes in one direction only."
)

USUAL = (
    "Voltages follow from usual values for loads, lengths and contacts, not from this vehicle: compare, do not trust."
)

GUIDANCE = "Guidance from a published marine wire table, for a healthy circuit; the vehicle's own manual decides."

NOTHING_YET = "Nothing can be concluded yet."
NO_CHECK = "No further voltage check tells the suspects apart: inspect the first ones of the list."
LEFT_ALONE = (
    "No check is proposed: this is a circuit to be left alone. Do not measure, unplug or feed anything in it; hand it to a "
    "licensed workshop."
)
TWICE = "something else, or more than one fault"


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


def told_lines(advice: Advice) -> tuple[str, ...]:
    """What was told, a sentence each; a point that was typed as an id is named as it is called on the page."""
    nodes = advice.ranking.circuit.nodes

    def name(place: str) -> str:
        node, _, terminal = place.rpartition(".")
        key = (node, terminal) if (node, terminal) in nodes else (place, "*")
        return point_words(advice.circuits, key) if key in nodes else printable(place)

    return tuple(printable(s) for s in advice.told.sentences(name))


def views_shown(advice: Advice) -> tuple[View, ...]:
    """What a sheet shows of the scan: the point of the next check; without one the place of the likeliest fault."""
    best = advice.ranking.suspects[0].fault
    key = advice.check.key if advice.check is not None else None if best is None else best.key
    return () if key is None else views_at(advice.circuits.network, key, advice.circuits.stop(key).spot)


def suspect_words(circuits: Circuits, s: Suspect) -> str:
    """A suspect in a sentence."""
    return TWICE if s.fault is None else fault_words(circuits, s.fault)


def predicted(advice: Advice, s: Suspect) -> str:
    """What the meter would read at the next check if this suspect is the fault; "" when it predicts nothing."""
    if advice.check is None or s.solution is None:
        return ""
    volts = advice.ranking.circuit.volts_at(s.solution, advice.check.key)
    return (
        "" if volts is None else f"{abs(volts) if abs(volts) < 0.05 else volts:.1f} V, {shown(advice.ranking, volts)}"
    )


def check_place(check: Check) -> str:
    """How to give the reading back: the place as ``--volts`` takes it."""
    return f"{check.key[0]}.{check.key[1]}" if check.key[1] != "*" else check.key[0]


def without_check(advice: Advice) -> str:
    """What is said in place of a next check."""
    return LEFT_ALONE if advice.hands_off else NO_CHECK


def nothing_yet(advice: Advice) -> str:
    """What is said while nothing can be concluded."""
    return f"{NOTHING_YET} {LEFT_ALONE}" if advice.hands_off else NOTHING_YET


def effort_words(check: Check) -> str:
    """What it takes to get there, relative to a fuse."""
    if check.effort == EFFORT["connector unplaced"]:
        return "hard to reach as far as is known: the chart gives this connector no place"
    if check.effort >= EFFORT["splice"]:
        return "hard to reach: a splice lies inside the loom; look for a bare point beside it, never pierce insulation"
    return "quick to reach" if check.effort <= EFFORT["fuse"] else "some effort to reach"


def readings_lines(advice: Advice) -> list[tuple[str, str, str]]:
    """The readings a check may show: (what with its volts, how likely, what it leaves)."""
    check = advice.check
    if check is None:
        return []
    likely = {s.fault.id for s in advice.ranking.suspects if s.fault is not None and s.probability >= LIKELY}
    rows = []
    for r in check.readings:
        low, high = (abs(v) if abs(v) < 0.05 else v for v in r.volts)
        span = f"{low:.1f} V" if high - low < 0.15 else f"{low:.1f} to {high:.1f} V"
        left = len(likely.intersection(r.suspects))
        rows.append((f"{r.shows} ({span})", percent(r.probability), f"leaves {left} of {len(likely)} likely suspects"))
    return rows


def advice_as_text(advice: Advice) -> str:
    """For the terminal: cautions, what was told, suspects, the next check, figures."""
    circuits = advice.circuits
    lines = ["Cautions"]
    for c in advice.cautions:
        lines += _wrapped(c.text, "  ! ")
    lines += ["", "Told"]
    for said in told_lines(advice):
        lines += _wrapped(said, "  - ")
    for n in advice.notes:
        lines += _wrapped(printable(n), "note: ")
    if not advice.told_something:
        return "\n".join([*lines, "", *_wrapped(nothing_yet(advice), "")]) + "\n"
    lines += ["", "Faults that would explain it, likeliest first"]
    lines += [f"  {percent(s.probability):>5}  {suspect_words(circuits, s)}" for s in shown_suspects(advice)]
    more = len(advice.ranking.suspects) - len(shown_suspects(advice))
    if more > 0:
        lines.append(f"         and {more} less likely ones")
    lines.append("")
    if advice.check is None:
        lines += _wrapped(without_check(advice), "")
    else:
        lines += _check_lines(advice, advice.check)
    if advice.figures:
        lines += ["", "Figures to compare with"]
        for f in advice.figures:
            lines += _wrapped(printable(f.says), "  - " if f.fits else "  ! ")
        lines += _wrapped(GUIDANCE, "  ")
    lines.append("")
    if advice.told.joined:
        lines += _wrapped(CONTINUITY, "")
    lines += _wrapped(USUAL, "")
    if circuits.harness.rights:
        lines.append(f"Rights: {printable(circuits.harness.rights)}")
    return "\n".join(lines) + "\n"


def _check_lines(advice: Advice, check: Check) -> list[str]:
    lines = [f"Next check: {point_words(advice.circuits, check.key)}", f"  {effort_words(check)}"]
    lines += _wrapped(HOW, "  ")
    lines += [f"  {what}, {chance}: {leaves}" for what, chance, leaves in readings_lines(advice)]
    lines.append("  What it reads for the likeliest:")
    for s in [s for s in shown_suspects(advice) if s.fault is not None][:6]:
        lines += _wrapped(f"{predicted(advice, s)}: {suspect_words(advice.circuits, s)}", "    ")
    lines.append(f'  Then say what it read: --volts "{check_place(check)}=READING"')
    return lines


def _wrapped(text: str, lead: str) -> Sequence[str]:
    return textwrap.wrap(text, WIDTH, initial_indent=lead, subsequent_indent=" " * len(lead))


def percent(p: float) -> str:
    """``12%``; ``<1%`` for what is not impossible."""
    return "<1%" if p < 0.01 else f"{math.floor(100 * p + 0.5)}%"
