"""Which positions of switches to state so that what a person says of a load tells something."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING

from digitize.trace.circuit import Circuit, Values
from digitize.trace.faults import power_share
from digitize.trace.network import GUESSED, Network, Positions
from digitize.trace.told import where

if TYPE_CHECKING:
    from digitize.trace.follow import Circuits
    from digitize.trace.state import Leg, Trace


def why_unfed(circuits: Circuits, positions: Positions, values: Values, part: str) -> str:
    """Why a statement about a load tells nothing, and what to state of the switches so that it does.

    What is proposed has been tried: with it, current reaches the load in the healthy circuit.
    """
    net = circuits.network
    name = net.graph.components[part].name.value or part
    told = f"as the switches stand, no current would reach {name} in a healthy circuit as it was read"
    trace = circuits.trace(part)
    legs = list(_switched(trace))
    wanted = _wanted(net, legs, positions)
    if wanted:
        kept = tuple(p for p in positions.only if p[0] not in wanted)
        tried = Positions(
            positions.off - set(wanted), tuple(sorted((*kept, *((p, t) for p, t in wanted.items() if t))))
        )
        circuit = Circuit(net, values, tried)
        healthy = circuit.solve()
        if power_share(circuit, healthy, healthy, part) is not None:
            said = " ".join(f'--position "{_asked(circuits, p)}={_position(net, p, t)}"' for p, t in wanted.items())
            other = wanted.keys() & (positions.off | {p for p, _ in positions.only})
            turned = (
                "; it would with other positions, for instance"
                if other
                else ": say how the switches on its way stand, for instance"
            )
            return f"{told}{turned} {said}"
    unread = next((leg for leg in legs if leg.kind == "contact" and leg.id not in net.insides and not leg.sure), None)
    if unread is not None:
        relay = circuits.stop((unread.id, unread.start.terminal))
        return (
            f"{told}: which terminals of {relay.name or 'the relay'} ({where(relay.spot)}) are its coil and its contact was "
            "not read, so no position helps; look at the page there, and measure at its terminals (--volts)"
        )
    lost = "way to ground" if all(w.found for w in trace.ways if w.goal != "ground") else "feed"
    return f"{told}: follow it with the trace command to see where its {lost} ends"


def _switched(trace: Trace) -> Iterator[Leg]:
    """Every switch and contact on the ways of a load, and on those of the coils that its contacts need."""
    for way in (*trace.ways, *(w for c in trace.controls for w in c.ways)):
        yield from (leg for leg in way.legs if way.found and leg.kind in {"switch", "contact"})


def _wanted(net: Network, legs: list[Leg], positions: Positions) -> dict[str, str]:
    """By switch the terminal to state, "" for ``on``: of those that count as open, or that stand otherwise."""
    found: dict[str, str] = {}
    for leg in legs:
        ends = {leg.start.terminal, leg.end.terminal}
        p = next(
            p for p in net.passages[leg.id, leg.start.terminal]
            if p.by == leg.id and p.end[1] == leg.end.terminal and p.kind == leg.kind
        )  # fmt: skip
        guessed = p.cost >= GUESSED and not any(part == leg.id for part, _ in positions.only)
        if positions.passes(p) and not guessed:
            continue
        other = ends - {net.commons.get(leg.id, "")}
        needed = p.cost >= GUESSED or any(part == leg.id for part, _ in positions.only)
        found.setdefault(leg.id, (leg.start.terminal if len(other) == 2 else min(other)) if needed else "")
    return found


def _position(net: Network, part: str, terminal: str) -> str:
    """What a position is called: ``on`` where any will do, and the terminal's id where two have its label."""
    if not terminal:
        return "on"
    labels: Mapping[str, str | None] = {t.id: t.label for t in net.graph.components[part].terminals}
    mine = labels[terminal]
    return mine if mine and list(labels.values()).count(mine) == 1 else terminal


def _asked(circuits: Circuits, part: str) -> str:
    """A word that means only this part: its name, or its id where another is called so too."""
    name = circuits.network.graph.components[part].name.value or part
    return name if [s.id for s in circuits.starts.meant_by(name).starts] == [part] else part
