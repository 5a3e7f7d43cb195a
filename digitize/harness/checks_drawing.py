"""Checks of the drawing itself: page edges, ends, splices, codes."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping

from digitize.harness.checks_kinds import Parse, finding
from digitize.harness.graph import Conductors, conductors, end_key
from digitize.harness.model import Finding, Harness, PageLink, Wire
from digitize.harness.place import Box, Place, Point

SURE = 0.9
LEAST_LIKELY = 0.05
"""A line without a code that is so unlikely a wire is asked about as such, not for where it stops."""
SURE_OF_UNKNOWN = 0.7
"""Less is asked of a code that the legend does not know: that it is unknown has already made it doubtful."""


def findings(harness: Harness, parse: Parse) -> Iterator[Finding]:
    """All findings about edges, ends, splices and codes."""
    yield from _edges(harness)
    yield from _ends(harness)
    yield from _splices(harness)
    yield from _codes(harness, parse)
    yield from _twice(harness)


def spot(sheet: str, at: Point, half: float = 2.0) -> Place:
    """A small place around a point whose zone is not known."""
    return Place(sheet, Box(at[0] - half, at[1] - half, at[0] + half, at[1] + half))


def place_of(wire: Wire) -> Place:
    """Where the code of a wire is printed, else a box at its first end."""
    for e in wire.code.evidence:
        if e.place is not None and e.kind in {"read", "edge", "repeat"}:
            return e.place
    return spot(wire.ends[0].sheet, wire.ends[0].at)


def _edges(harness: Harness) -> Iterator[Finding]:
    for link in harness.links:
        if link.b is None:
            yield _alone(link)


def _alone(link: PageLink) -> Finding:
    code = link.code.value or "a wire without a readable code"
    zone = f" (zone {link.a.zone})" if link.a.zone else ""
    edge = "an arrow" if link.a.edge == "arrow" else f"the {link.a.edge} edge"
    return finding(
        "edge-without-partner",
        link.id,
        f"{code} leaves the page at {edge}{zone}, and no other page takes it up.",
        "Is the next page missing, or is the code misread at one of the two edges?",
        [spot(link.a.sheet, link.a.at)],
    )


def _ends(harness: Harness) -> Iterator[Finding]:
    open_edges = [(link.a.sheet, link.a.at) for link in harness.links if link.b is None]
    for w in harness.wires:
        if w.code.value is None and w.probability < LEAST_LIKELY:
            continue
        for i, end in enumerate(w.ends):
            if end.node is not None or (end.sheet, end.at) in open_edges:
                continue
            yield finding(
                "dangling-end",
                w.id,
                f"{w.code.value or 'A wire without a code'} stops in the open.",
                "Look at the scan there: a joint, a symbol or the rest of the line may have been missed.",
                [spot(end.sheet, end.at)],
                extra=f"end {i + 1}",
            )


def _splices(harness: Harness) -> Iterator[Finding]:
    count: dict[str, int] = defaultdict(int)
    for w in harness.wires:
        for e in w.ends:
            if e.node is not None:
                count[e.node] += 1
    for s in harness.splices:
        if count[s.id] < 3:
            yield finding(
                "splice-too-small",
                s.id,
                f"Only {count[s.id]} conductor(s) meet at this dot; a splice joins three or more.",
                "Look at the scan there: a line may have been missed, or the dot is none.",
                [s.place],
            )


_TABLES = (("colour", "colour"), ("tracer", "colour"), ("gauge", "gauge"), ("circuit", "circuit"))


def _codes(harness: Harness, parse: Parse) -> Iterator[Finding]:
    tables: dict[str, set[str]] = {
        kind: {
            k.removeprefix(f"{kind} ") for k in harness.conventions if k.startswith(f"{kind} ") and k != "gauge system"
        }
        for kind in ("colour", "gauge", "circuit")
    }
    for w in harness.wires:
        if w.code.value is None or w.code.probability < SURE_OF_UNKNOWN:
            continue
        code = parse(w.code.value)
        if code is None:
            continue
        for part, kind in _TABLES:
            value = getattr(code, part)
            if value is not None and tables[kind] and value not in tables[kind]:
                yield finding(
                    f"unknown-{kind}",
                    w.id,
                    f"{w.code.value}: the legend lists no {kind} {value}.",
                    f"Is {value} misread, or is it missing from the conventions?",
                    [place_of(w)],
                    extra=value,
                )
        if code.tracer is not None and code.tracer == code.colour:
            yield finding(
                "tracer-is-main-colour",
                w.id,
                f"{w.code.value}: main colour and tracer are both {code.colour}.",
                "Look at the code on the scan: one of the two is misread or misprinted.",
                [place_of(w)],
            )


def _twice(harness: Harness) -> Iterator[Finding]:
    """One code on wires that nothing joins: codes that name a wire by number only (a bare colour may well repeat)."""
    by_code: dict[str, list[Wire]] = defaultdict(list)
    for w in harness.wires:
        named = w.parsed is not None and w.parsed.number is not None
        if named and w.code.value is not None and w.code.probability >= SURE and w.probability >= 0.8:
            by_code[w.code.value].append(w)
    repeated = {code: wires for code, wires in by_code.items() if len(wires) > 1}
    if not repeated:
        return
    graph = conductors(harness)
    for code, wires in sorted(repeated.items()):
        apart = _apart(graph, wires)
        if len(apart) > 1:
            yield finding(
                "one-code-two-conductors",
                code,
                f"{code} stands on {len(apart)} wires that nothing on the pages joins.",
                "Is a joint or a page edge missing between them, or is one of the codes misread?",
                [place_of(w) for w in apart],
            )


def _apart(graph: Conductors, wires: list[Wire]) -> list[Wire]:
    """One wire of each group that hangs together by wires, splices, connectors and what is drawn as joined."""
    reps: list[Wire] = []
    reached: Mapping[tuple[str, str], object] = {}
    for w in sorted(wires, key=lambda w: w.id):
        if any(end_key(w, i) in reached for i in (0, 1)):
            continue
        reps.append(w)
        more = graph.reach([end_key(w, 0)], lambda hop: hop.kind in {"wire", "connector", "joined"})
        reached = {**reached, **more}
    return reps
