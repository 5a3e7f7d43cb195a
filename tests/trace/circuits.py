"""Small circuits typed by hand for the tests of tracing."""

from __future__ import annotations

from digitize.harness.claim import Claim
from digitize.harness.model import (
    Component,
    Connector,
    DrawnConnector,
    EdgePoint,
    Ground,
    Harness,
    PageLink,
    SheetNote,
    Splice,
    Terminal,
    Wire,
    WireCode,
    WireEnd,
)
from digitize.harness.place import Box, Place

SHEETS = tuple(SheetNote(f"p{n}", n, "diagram", None, f"WD-{n}", 400, 280) for n in (1, 2, 3))


def place(sheet: str = "p1", zone: str = "C5", x: float = 10.0) -> Place:
    return Place(sheet, Box(x, 10, x + 8, 18), zone)


def part(
    id_: str, kind: str, *terminals: str, name: str | None = None, sheet: str = "p1", zone: str = "C5", **more
) -> Component:
    made = tuple(Terminal(t, (10.0 * i, 0.0), t) for i, t in enumerate(terminals))
    return Component(id_, kind, Claim(name or id_.upper(), 0.97), place(sheet, zone), made, 0.99, **more)


def wire(
    id_: str, a: str, b: str, code: str | None = None, probability: float = 0.97, sheets=("p1", "p1"),
    links: tuple[str, ...] = (), grommets: tuple[str, ...] = (), parsed: WireCode | None = None,
) -> Wire:  # fmt: skip
    """``a``/``b``: ``node.terminal``, ``node`` alone for a splice, "" for an open end."""
    ends = []
    for said, sheet in zip((a, b), sheets, strict=True):
        node, _, terminal = said.partition(".")
        ends.append(WireEnd(node or None, (terminal or "*") if node else None, sheet, (1.0, 2.0)))
    claim = Claim.unread() if code is None else Claim(code, 0.96)
    return Wire(id_, claim, parsed, (ends[0], ends[1]), (), probability, grommets, links)


def splice(id_: str, sheet: str = "p1", zone: str = "C6") -> Splice:
    return Splice(id_, place(sheet, zone), (3.0, 3.0), 3, 0.95)


def ground(id_: str, sheet: str = "p1", zone: str = "D9") -> Ground:
    return Ground(id_, Claim(id_.upper(), 0.9), place(sheet, zone), (5.0, 5.0), 0.95)


def oval(
    id_: str, ways: int = 1, cavities: tuple[str | None, ...] = ("A",), sheet: str = "p1", zone: str = "B3"
) -> DrawnConnector:
    terminals = tuple(Terminal(f"{h}{n}", (0, 0)) for n in range(1, ways + 1) for h in "ab")
    return DrawnConnector(id_, place(sheet, zone), terminals, cavities, 0.98)


def connector(label: str, *drawn: DrawnConnector, **more) -> Connector:
    return Connector(label, Claim(label, 0.98), drawn, **more)


def link(id_: str, one: tuple[str, str, str], other: tuple[str, str, str] | None) -> PageLink:
    """``one``/``other``: sheet, edge, zone."""
    a, b = (None if e is None else EdgePoint(e[0], e[1], (0.0, 5.0), e[2]) for e in (one, other))
    assert a is not None
    return PageLink(id_, Claim("code", 0.9), a, b, 0.92)


def harness(parts=(), wires=(), connectors=(), splices=(), grounds=(), links=(), **more) -> Harness:
    return Harness(
        "my own copy", SHEETS, tuple(parts), tuple(connectors), tuple(splices), (), tuple(grounds), tuple(wires),
        tuple(links), **more,
    )  # fmt: skip


BATTERY = part("bat", "battery", "+", "-", name="BATTERY")
FUSE = part("f7", "fuse", "1", "2", name="7", rating="15A")
LAMP = part("lamp", "lamp", "1", "2", name="SIDE LAMP")


def lit_lamp(**more) -> Harness:
    """Battery, fuse 7, a switch, a splice to a second lamp, a connector, the lamp, ground."""
    return harness(
        [BATTERY, FUSE, part("sw", "switch", "1", "2", name="LAMP SWITCH"), LAMP, part("other", "lamp", "1", name="PLATE LAMP", case_ground=True)],
        [
            wire("w1", "bat.+", "f7.1", "P1 10 RED"), wire("w2", "f7.2", "sw.1", "L1 16 BLU"), wire("w3", "sw.2", "s1", "L2 16 BLU"),
            wire("w4", "s1", "k@1.a1", "L2A 18 BLU"), wire("w5", "k@1.b1", "lamp.1", "L2A 18 GRN"), wire("w6", "s1", "other.1", "L2B 18 BLU"),
            wire("w7", "lamp.2", "g1.1", "E1 18 BLK"), wire("w8", "bat.-", "g2.1", "E2 4 BLK"),
        ],
        [connector("K14", oval("k@1"), location="BEHIND LEFT LAMP", part="front")], [splice("s1")], [ground("g1"), ground("g2")],
        **more,
    )  # fmt: skip
