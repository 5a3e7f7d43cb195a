"""Small circuits typed by hand and large ones made by rule, for ``scripts/bench ask`` and the tests of fault reasoning."""

from __future__ import annotations

from collections.abc import Iterable

from digitize.harness.claim import Claim
from digitize.harness.model import (
    Component,
    Connector,
    DrawnConnector,
    Ground,
    Harness,
    SheetNote,
    Splice,
    Terminal,
    Wire,
    WireEnd,
)
from digitize.harness.place import Box, Place

SHEET = SheetNote("p1", 1, "diagram", None, None, 400, 280)
HERE = Place("p1", Box(10, 10, 18, 18), "C5")


def part(id_: str, kind: str, terminals: str, rating: str | None = None, heading: str | None = None) -> Component:
    """``terminals``: their names, parted by spaces; drawn from left to right."""
    made = tuple(Terminal(t, (10.0 * i, 0.0), t) for i, t in enumerate(terminals.split()))
    return Component(id_, kind, Claim(id_.upper(), 1.0), HERE, made, 1.0, rating=rating, heading=heading)


def wires(*pairs: str) -> tuple[Wire, ...]:
    """``"a.1 b.2"``: a wire from terminal 1 of a to terminal 2 of b; a node alone is a splice."""
    made = []
    for n, pair in enumerate(pairs):
        ends = []
        for said in pair.split():
            node, _, terminal = said.partition(".")
            ends.append(WireEnd(node, terminal or "*", "p1", (0.0, 0.0)))
        made.append(Wire(f"w{n}", Claim(f"L{n}", 1.0), None, (ends[0], ends[1]), (), 1.0))
    return tuple(made)


def harness(
    parts: Iterable[Component], joined: tuple[Wire, ...], splices: Iterable[str] = (), grounds: Iterable[str] = (),
    ovals: Iterable[str] = (),
) -> Harness:  # fmt: skip
    """A harness on one sheet; ``ovals``: connectors of one cavity."""
    connectors = []
    for name in ovals:
        halves = (Terminal("a1", (0.0, 0.0)), Terminal("b1", (1.0, 0.0)))
        connectors.append(
            Connector(
                name, Claim(name, 1.0), (DrawnConnector(f"{name}@1", HERE, halves, ("A",), 1.0),), (), None, "DASH"
            )
        )
    return Harness(
        "invented", (SHEET,), tuple(parts), tuple(connectors),
        tuple(Splice(s, HERE, (0.0, 0.0), 3, 1.0) for s in splices), (),
        tuple(Ground(g, Claim(g.upper(), 1.0), HERE, (0.0, 0.0), 1.0) for g in grounds), joined,
    )  # fmt: skip


BATTERY = part("bat", "battery", "+ -")


def small_circuits() -> dict[str, Harness]:
    """Circuits small enough to try every order of checks."""
    fuse = part("f1", "fuse", "1 2", "15A")
    lamp, other = part("lamp", "lamp", "1 2"), part("other", "lamp", "1 2")
    return {
        "one lamp behind a switch and a connector": harness(
            [BATTERY, fuse, part("sw", "switch", "1 2"), lamp],
            wires("bat.+ f1.1", "f1.2 sw.1", "sw.2 k@1.a1", "k@1.b1 lamp.1", "lamp.2 g1.1", "bat.- g2.1"),
            grounds=["g1", "g2"], ovals=["k"],
        ),
        "two lamps that part at a splice": harness(
            [BATTERY, fuse, part("sw", "switch", "1 2"), lamp, other],
            wires(
                "bat.+ f1.1", "f1.2 sw.1", "sw.2 s1", "s1 lamp.1", "s1 k@1.a1", "k@1.b1 other.1", "lamp.2 g1.1", "other.2 g2.1",
                "bat.- g3.1",
            ),
            splices=["s1"], grounds=["g1", "g2", "g3"], ovals=["k"],
        ),
        "a horn over a relay": harness(
            [
                BATTERY, fuse, part("r", "relay", "30 87 85 86"), part("sw", "switch", "1 2"), part("horn", "horn", "1 2"),
            ],
            wires(
                "bat.+ f1.1", "f1.2 s1", "s1 r.30", "s1 r.86", "r.85 sw.1", "sw.2 g1.1", "r.87 horn.1", "horn.2 g2.1", "bat.- g3.1",
            ),
            splices=["s1"], grounds=["g1", "g2", "g3"],
        ),
        "two feeds that a diode keeps apart": harness(
            [BATTERY, fuse, part("f2", "fuse", "1 2", "10A"), part("d", "diode", "1 2", heading="right"), lamp, other],
            wires("bat.+ s0", "s0 f1.1", "s0 f2.1", "f1.2 lamp.1", "f1.2 d.1", "d.2 s1", "s1 other.1", "lamp.2 g1.1", "other.2 g1.1", "bat.- g2.1"),
            splices=["s0", "s1"], grounds=["g1", "g2"],
        ),
    }  # fmt: skip


def ladder(count: int) -> Harness:
    """About ``count`` wires over splices with lamps hung on them, fed at one end."""
    rungs = count // 3
    lamps = [part(f"l{i}", "lamp", "1 2") for i in range(rungs)]
    joined = ["bat.+ f1.1", "f1.2 s0", *(f"s{i} s{i + 1}" for i in range(rungs - 1))]
    joined += [f"s{i} l{i}.1" for i in range(rungs)] + [f"l{i}.2 g{i % 50}.1" for i in range(rungs)]
    return harness(
        [BATTERY, part("f1", "fuse", "1 2", "500A"), *lamps], wires(*joined), [f"s{i}" for i in range(rungs)],
        [f"g{i}" for i in range(50)],
    )  # fmt: skip
