"""Figures to compare with, where a length or a load is given: voltage lost in a wire, and fuse against wire.

Guidance only. The formula for the size of a conductor, CM = K · I · L / E with K = 10.75 ohm·circular mils per foot, and the
allowance of 3 % are those of a published marine wire table (its worked example: 10 A, 21 ft, 3 % of 12 V needs 6,271 circular
mils); so are the allowable currents (105 °C insulation, outside engine spaces; ``harness.checks_sizes``).
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass

from digitize.harness.checks_sizes import CIRCULAR_MIL_MM2, amperes, area_mm2, most_amperes
from digitize.harness.graph import Key
from digitize.harness.model import Wire
from digitize.trace.circuit import Circuit, Solution

K = 10.75
"""Ohm · circular mils per foot of copper wire, as the marine table has it."""

FOOT = 0.3048
"""Metres."""

ALLOWED = 0.03
"""Share of the nominal voltage that may be lost in a circuit that matters (the same table)."""

NOMINAL = 12.0
"""V; what shares are told of."""

SOURCE = "a published marine wire table: CM = 10.75 · amperes · feet / volts lost, 3 % of 12 V; 105 °C insulation"


@dataclass(frozen=True, slots=True)
class Figure:
    """One figure: ``says`` in a sentence, ``fits`` False where it is beyond the handbook value; ``subject`` is an id."""

    subject: str
    says: str
    fits: bool


def circular_mils_needed(current: float, metres: float, volts_lost: float) -> float:
    """Size of a copper conductor, circular mils, for ``current`` A over ``metres`` (there and back) losing ``volts_lost`` V.

    Raises ValueError unless ``volts_lost`` is above 0.
    """
    if volts_lost <= 0:
        raise ValueError("no conductor loses nothing")
    return K * current * (metres / FOOT) / volts_lost


def figures_for(
    circuit: Circuit, healthy: Solution, parts: Sequence[str], measured: Collection[str]
) -> tuple[Figure, ...]:
    """Figures of the healthy circuit as it is switched.

    Args:
        circuit: with the lengths and loads that were given.
        healthy: its solution.
        parts: loads that were spoken of; their fuses are held against their wires, and what arrives at them is told.
        measured: ids of the wires whose length was given.
    """
    found = [*_lost(circuit, healthy, measured)]
    for part in parts if measured else ():
        found += _arriving(circuit, healthy, part)
    for part in parts:
        found += _fuses(circuit, healthy, part)
    return tuple({(f.subject, f.says): f for f in found}.values())


def _lost(circuit: Circuit, healthy: Solution, measured: Collection[str]) -> Iterator[Figure]:
    """Voltage lost in every wire whose length is known."""
    for i, e in enumerate(circuit.elements):
        if e.kind != "wire" or e.by not in measured:
            continue
        w = circuit.network.graph.wires[e.by]
        current, metres = abs(float(healthy.amps[i])), circuit.values.lengths[e.by]
        lost = current * e.ohms
        size = _mils(circuit, w)
        said = f"wire {w.code.value or w.id}, {metres:g} m at {current:.1f} A: {lost:.2f} V lost ({lost / NOMINAL:.1%} of 12 V)"
        if size is None:
            yield Figure(w.id, f"{said}; its size was not read, 1 mm² was taken", lost <= ALLOWED * NOMINAL)
            continue
        need = circular_mils_needed(current, metres, ALLOWED * NOMINAL)
        fits = size >= need
        yield Figure(
            w.id,
            f"{said}; for 3 % it needs {need:,.0f} circular mils and has {size:,.0f}{'' if fits else ': too thin'}",
            fits,
        )


def _arriving(circuit: Circuit, healthy: Solution, part: str) -> Iterator[Figure]:
    """What a load gets of the battery's voltage."""
    mine = [i for i in circuit.consumers.get(part, ()) if abs(float(healthy.amps[i])) > 1e-3]
    if len(mine) != 1:
        return
    e = circuit.elements[mine[0]]
    gets = abs(float(healthy.amps[mine[0]])) * e.ohms
    lost = circuit.values.battery_volts - gets
    name = circuit.network.graph.components[part].name.value or part
    yield Figure(
        part, f"{name} draws {abs(float(healthy.amps[mine[0]])):.1f} A and gets {gets:.1f} V of {circuit.values.battery_volts:g} V: "
        f"{lost:.2f} V ({lost / NOMINAL:.1%} of 12 V) lost in wires and contacts together, at usual values for what was not given", True,
    )  # fmt: skip


def _fuses(circuit: Circuit, healthy: Solution, part: str) -> Iterator[Figure]:
    """Every fuse that feeds a load against its rating, its current and the thinnest wire between."""
    net = circuit.network
    for key in ((part, t.id) for t in net.graph.components[part].terminals):
        way = net.table("source").way(key) or ()
        system = net.harness.conventions.get("gauge system")
        wires: list[Wire] = []
        for p in way:
            if p.kind == "wire":
                wires.append(net.graph.wires[p.by])
            elif p.kind in {"fuse", "bar"}:
                yield from _fuse(circuit, healthy, p.by, p.start, wires, system)
                break


def _fuse(
    circuit: Circuit, healthy: Solution, fuse: str, key: Key, wires: Iterable[Wire], system: str | None
) -> Iterator[Figure]:
    c = circuit.network.graph.components[fuse]
    rating = amperes(c.rating)
    limits = [
        (limit, w) for w in wires
        if w.parsed is not None and w.parsed.gauge is not None and (limit := most_amperes(w.parsed.gauge, system)) is not None
    ]  # fmt: skip
    if rating is None:
        return
    here = [abs(float(healthy.amps[i])) for i, e in enumerate(circuit.elements) if e.by == fuse and key in e.keys]
    name = f"{c.kind.replace('_', ' ')} {c.name.value or ''}".strip()
    flows = max(here, default=0.0)
    if flows > 0.0:
        over = flows > rating
        yield Figure(
            fuse, f"{name}, {rating:g} A, carries {flows:.1f} A as the switches stand{': more than it is rated' if over else ''}",
            not over,
        )  # fmt: skip
    if limits:
        limit, thinnest = min(limits, key=lambda pair: (pair[0], pair[1].id))
        over = rating > limit
        yield Figure(
            fuse, f"{name}, {rating:g} A; the thinnest wire behind it, {thinnest.code.value or thinnest.id}, may carry "
            f"{limit:g} A{': the fuse is too large for it' if over else ''}", not over,
        )  # fmt: skip


def _mils(circuit: Circuit, w: Wire) -> float | None:
    if w.parsed is None or w.parsed.gauge is None:
        return None
    area = area_mm2(w.parsed.gauge, circuit.system)
    return None if area is None else area / CIRCULAR_MIL_MM2
