"""Where the reading has a gap and a way probably goes on: two loose ends of one code, or a loose end that just misses a part.

Nothing here is drawn for sure: every passage over a gap is marked doubtful and dear, so that it is taken only where no
drawn way leads on. The lengths are on paper and our own choice.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, replace

from digitize.harness.graph import Key, end_key
from digitize.harness.model import Component, Harness, Terminal, Wire, WireEnd
from digitize.harness.place import Box, Point

NEAR = 2.5
"""A loose end this near to a part, a connector or a dot probably belongs to it, mm."""

SURE_CODE = 0.8
"""Both loose ends must carry their code this surely."""

LEAST_LIKELY = 0.5
"""A line without a code that is less likely a wire leads nowhere; a loose end alone makes the ends of any wire unlikely."""

LOOSE_END = "its loose end"
"""What the terminal is called that a part gets for a loose end beside it."""

COMPLETE_WITH_TWO = frozenset(
    {
        "lamp", "motor", "horn", "heater", "solenoid", "sounder", "speaker", "resistor", "variable_resistor", "diode", "fuse",
        "fusible_link", "circuit_breaker", "battery", "capacitor", "coil", "thermal_contact",
    }
)  # fmt: skip
"""Kinds that have no third terminal as a rule (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Gap:
    """A gap between two keys. ``wire``: the wire whose loose end it starts from; ``why``: what speaks for it, in words."""

    one: Key
    other: Key
    wire: str
    why: str


def over_gaps(harness: Harness) -> tuple[Harness, tuple[Gap, ...]]:
    """(``harness`` with a terminal more on every part that a loose end just misses, all gaps)."""
    loose = [
        (w, i, end)
        for w in harness.wires
        for i, end in enumerate(w.ends)
        if end.node is None and (_coded(w) or w.probability >= LEAST_LIKELY)
    ]
    if not loose:
        return harness, ()
    found = list(_of_one_code(loose))
    joined = {g.one for g in found} | {g.other for g in found}
    wired: dict[str, set[str]] = defaultdict(set)
    for w in harness.wires:
        for e in w.ends:
            if e.node is not None:
                wired[e.node].add(e.terminal or "*")
    added: dict[str, list[Terminal]] = defaultdict(list)
    for w, i, end in loose:
        if end_key(w, i) in joined:
            continue
        gap = _beside(harness, w, i, end, wired, added)
        if gap is not None:
            found.append(gap)
    parts = tuple(
        replace(c, terminals=(*c.terminals, *added[c.id])) if c.id in added else c for c in harness.components
    )
    return replace(harness, components=parts), tuple(found)


def _coded(w: Wire) -> bool:
    return w.code.value is not None and w.code.probability >= SURE_CODE


def _of_one_code(loose: list[tuple[Wire, int, WireEnd]]) -> Iterator[Gap]:
    """Pairs of loose ends that alone in the manual carry one code: a piece of that wire was missed between them."""
    by_code: dict[str, list[tuple[Wire, int, WireEnd]]] = defaultdict(list)
    for w, i, end in loose:
        if w.code.value is not None and _coded(w):
            by_code[w.code.value].append((w, i, end))
    for code, ends in sorted(by_code.items()):
        if len(ends) != 2 or ends[0][0].id == ends[1][0].id:
            continue
        (one, i, a), (other, k, b) = ends
        far = f"{math.dist(a.at, b.at):.0f} mm on" if a.sheet == b.sheet else "on another page"
        why = f"the line stops here and {code} begins anew {far}; no other loose end carries this code"
        yield Gap(end_key(one, i), end_key(other, k), one.id, why)


def _beside(
    harness: Harness, w: Wire, i: int, end: WireEnd, wired: dict[str, set[str]], added: dict[str, list[Terminal]]
) -> Gap | None:
    """The gap between a loose end and the nearest thing that it just misses; None when it misses nothing."""
    other = w.ends[1 - i].node
    near: list[tuple[float, str, Key]] = [
        (math.dist(s.at, end.at), "a join", (s.id, "*"))
        for s in harness.splices
        if s.place.sheet == end.sheet and s.id != other
    ]
    for connector in harness.connectors:
        for d in connector.places:
            free = [t for t in d.terminals if t.id not in wired[d.id]]
            if d.place.sheet == end.sheet and free and d.id != other:
                t = min(free, key=lambda t: math.dist(t.at, end.at))
                near.append(
                    (math.dist(t.at, end.at), f"connector {connector.label.value or 'without an id'}", (d.id, t.id))
                )
    for c in harness.components:
        if c.place.sheet == end.sheet and c.id != other and _lacks_a_wire(c, wired[c.id]):
            free = [t for t in c.terminals if t.id not in wired[c.id] and math.dist(t.at, end.at) <= NEAR]
            name = free[0].id if free else f"loose{len(added[c.id]) + 1}"
            near.append((distance(c.place.box, end.at), c.name.value or f"a {c.kind.replace('_', ' ')}", (c.id, name)))
    far, name, key = min(near, default=(math.inf, "", ("", "")))
    if far > NEAR:
        return None
    if key[1].startswith("loose"):
        added[key[0]].append(Terminal(key[1], end.at, LOOSE_END))
    wired[key[0]].add(key[1])
    return Gap(end_key(w, i), key, w.id, f"the line stops {far:.1f} mm before {name}")


def _lacks_a_wire(c: Component, wired: set[str]) -> bool:
    """Whether a part may have one more wire than was read."""
    if c.kind in {"fuse_block", "unknown"}:
        return False
    return c.kind not in COMPLETE_WITH_TWO or len(wired) + c.case_ground < 2


def distance(box: Box, at: Point) -> float:
    """How far a point lies outside a box, mm; 0 inside."""
    return math.hypot(max(box.x0 - at[0], 0.0, at[0] - box.x1), max(box.y0 - at[1], 0.0, at[1] - box.y1))
