"""A trace as text for a terminal: cautions first, then every way, hop by hop."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Iterator, Sequence

from digitize.trace.state import Branch, Candidate, Fitting, Leg, Spot, Stop, Trace, Way

WIDTH = 110
"""Columns that long sentences are wrapped to."""

CHECK = "check on the page"
DOUBT = "DOUBTFUL, check on the page"

GOAL_HEADS = {
    "feed": "To its feed",
    "source": "From the fuse on to the source",
    "fuse": "To the nearest fuse",
    "ground": "To ground",
}


def trace_as_text(trace: Trace) -> str:
    """The whole trace; control characters in printed names are replaced, so nothing read can move the cursor."""
    return "\n".join(_lines(trace)) + "\n"


def _lines(trace: Trace) -> Iterator[str]:
    if trace.candidates:
        yield from _choice(trace)
        yield ""
        yield from _cautions(trace)
        yield from _rights(trace)
        return
    assert trace.start is not None, "a trace without a start has candidates"
    yield f"{stop_name(trace.start)}, {where(trace.start.spot)}"
    yield from (line for n in trace.notes for line in _wrapped(printable(n), "  note: "))
    yield ""
    yield from _cautions(trace)
    for way in trace.ways:
        yield ""
        yield from _way(way, "")
    for control in trace.controls:
        yield ""
        yield f"{printable(control.name) or control.id} must be energized for its contact to close:"
        if not control.ways:
            yield "  the way of its coil is not drawn, or was not read"
        for way in control.ways:
            yield from _way(way, "  ")
    if trace.serves:
        yield ""
        yield from _wrapped("Serves: " + ", ".join(printable(n) for n in trace.serves), "")
    if any(leg.check for way in trace.ways for leg in way.legs):
        yield ""
        yield from _wrapped(
            f"'{CHECK}': no person has confirmed this hop yet. '{DOUBT}': it was read with less than 90% certainty, or is "
            "only likely from the kind of part.",
            "",
        )
    yield from _rights(trace)


def _cautions(trace: Trace) -> Iterator[str]:
    yield "Cautions"
    for c in trace.cautions:
        yield from _wrapped(c.text, "  ! ")


def _rights(trace: Trace) -> Iterator[str]:
    if trace.rights:
        yield f"Rights: {printable(trace.rights)}"


def _choice(trace: Trace) -> Iterator[str]:
    yield f"{printable(trace.asked)!r} may mean {len(trace.candidates)} things; ask again with the word at the left:"
    rows = [candidate_row(c) for c in trace.candidates]
    wide = [max(len(r[i]) for r in rows) for i in range(3)]
    for r in rows:
        yield "  " + "  ".join((*(x.ljust(w) for x, w in zip(r[:3], wide, strict=True)), r[3]))


def told_apart(candidates: Sequence[Candidate], most: int = 8) -> str:
    """Some of the candidates in one line: what to ask with, and what it is."""
    return ", ".join(
        f"{ask} ({name}, {place})" for ask, _, name, place in (candidate_row(c) for c in candidates[:most])
    )


def candidate_row(c: Candidate) -> tuple[str, str, str, str]:
    """What to ask with, kind, name and place of a candidate."""
    return printable(c.ask), c.kind.replace("_", " "), printable(c.name) or "(unnamed)", where(c.spot)


def way_head(way: Way) -> str:
    """What a way leads to, with its length: ``To its feed: fuse 6 - 4 wires, 1 page turn, 92% sure``."""
    counts = [f"{way.wires} wire{'s' * (way.wires != 1)}"]
    connectors = sum(leg.kind == "connector" for leg in way.legs)
    if connectors:
        counts.append(f"{connectors} connector{'s' * (connectors != 1)}")
    turns = way.page_turns
    counts.append("no page turn" if not turns else f"{turns} page turn{'s' * (turns != 1)}")
    counts.append(f"{way.probability:.0%} sure")
    head = GOAL_HEADS[way.goal]
    if not way.found:
        return f"{head}: NOT FOUND"
    cased = way.legs and way.legs[-1].end.terminal == "case"
    goal = f"the case of {stop_name(way.ends)}" if cased else stop_name(way.ends)
    return f"{head}: {goal}, {where(way.ends.spot)} - {', '.join(counts)}"


def _way(way: Way, indent: str) -> Iterator[str]:
    yield f"{indent}{way_head(way)}"
    if way.missing:
        yield from _wrapped(printable(way.missing), f"{indent}  ")
        if way.legs:
            yield f"{indent}  As far as one gets:"
    yield from (line for n in way.notes for line in _wrapped(printable(n), f"{indent}  note: "))
    rows = [_row(leg) for leg in way.legs]
    wide = [max((len(r[i]) for r in rows), default=0) for i in range(4)]
    branches: dict[tuple[str, str], list[Branch]] = {}
    for b in way.branches:
        branches.setdefault((b.at.id, b.at.terminal), []).append(b)
    for n, (leg, row) in enumerate(zip(way.legs, rows, strict=True), 1):
        yield f"{indent}{n:>4}  " + "  ".join((*(c.ljust(w) for c, w in zip(row[:4], wide, strict=True)), row[4]))
        for detail in details(leg):
            yield from _wrapped(detail, f"{indent}        ")
        for b in branches.get((leg.end.id, leg.end.terminal), ()):
            yield from _wrapped(branch_line(b), f"{indent}        + ")


def _row(leg: Leg) -> tuple[str, str, str, str, str]:
    zones = [leg.start.spot.zone or "?", leg.end.spot.zone or "?"]
    way = zones[0] if zones[0] == zones[1] else f"{zones[0]} -> {zones[1]}"
    kind = {"wire": "wire", "connector": "connector", "gap": "gap"}.get(leg.kind, "part")
    return kind, printable(leg.printed or "") or "(nothing read)", printable(leg.words), way, sureness(leg)


def sureness(leg: Leg) -> str:
    """How sure a hop is and what to do about it."""
    sure = f"{math.floor(100 * min(leg.probability, leg.code_probability) + 1e-9)}%"  # 99.6% is not certain
    if leg.doubtful:
        return f"{sure} {DOUBT}"
    return f"{sure} {CHECK}" if leg.check else f"{sure} confirmed"


def details(leg: Leg) -> list[str]:
    """Everything else about a hop, a sentence each: cavity and place of a connector, grommets, page turns, notes."""
    told = []
    if leg.fitting is not None:
        told.append(fitting_line(leg.fitting))
    if leg.grommets:
        told.append(f"passes grommet{'s' * (len(leg.grommets) > 1)} {', '.join(printable(g) for g in leg.grommets)}")
    told += [
        f"turn to page {printable(t.enter.page_name)}{_zone(t.enter)} (leaves page {printable(t.leave.page_name)}{_zone(t.leave)})"
        for t in leg.turns
    ]  # fmt: skip
    return [*told, *(printable(n) for n in leg.notes)]


def fitting_line(f: Fitting) -> str:
    """The cavity, what the chart says of both halves, and where the connector sits."""
    said = [f"cavity {printable(f.cavity)}" if f.cavity else "cavity not known"]
    halves = [
        f"{printable(name or half)}: {printable(code)}"
        for half, (name, code) in zip(("one half", "other half"), f.halves, strict=True) if code
    ]  # fmt: skip
    if halves:
        said.append(", ".join(halves))
    place = ", ".join(printable(w) for w in (f.location, f.part) if w)
    if place:
        said.append(f"sits: {place}")
    return "; ".join(said)


def branch_line(b: Branch) -> str:
    """Where paths part, over which wire, and to what."""
    at = "here" if b.at.kind == "splice" else f"at {stop_name(b.at)}"
    to = ", ".join(printable(n) for n in b.reaches) or "nothing that was read"
    more = f" and {b.more} more" if b.more else ""
    return f"parts {at}: {printable(b.printed or '') or 'a wire without a code'} to {to}{more}"


def stop_name(stop: Stop) -> str:
    """A stop for people: its printed name and kind, a fuse with its rating and block."""
    about = f" ({printable(stop.about)})" if stop.about else ""
    kind = stop.kind.replace("_", " ")
    name = printable(stop.name)
    if stop.kind == "fuse":
        bare = f"fuse {name}" if name and "FUSE" not in name.upper() else name or "a fuse without a number"
        return bare + about
    if not name:
        return f"a {kind}" if stop.kind != "alternator" else "an alternator"
    return name if kind.upper() == name.upper() else f"{name} ({kind})"


def where(spot: Spot) -> str:
    """``page 3, zone C5``; says so when the page prints no grid."""
    if not spot.sheet:
        return "place not known"
    return f"page {printable(spot.page_name)}{_zone(spot)}"


def _zone(spot: Spot) -> str:
    return "" if not spot.zone else f", zone {printable(spot.zone)}{' (no grid printed)' if spot.nominal else ''}"


def printable(text: str) -> str:
    """``text`` on one line, fit for a terminal: what is not printed (control characters, line ends) becomes a space."""
    return " ".join("".join(c if c.isprintable() else " " for c in text).split())


def _wrapped(text: str, lead: str) -> Sequence[str]:
    return textwrap.wrap(text, WIDTH, initial_indent=lead, subsequent_indent=" " * len(lead)) or [lead.rstrip()]
