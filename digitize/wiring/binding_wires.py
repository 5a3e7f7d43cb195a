"""Runs of single sheets become wires: two runs that meet at matched page-edge marks are one conductor."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from digitize.harness.claim import Claim
from digitize.harness.model import EdgePoint, PageLink, SheetPath, WireEnd
from digitize.harness.place import Box, Polyline
from digitize.wiring.binding_dots import PassedDots, chain_from, code_readings, passed_dots, pooled
from digitize.wiring.binding_names import middle, spot_ids
from digitize.wiring.edges import EdgeMatch, EdgePort, match_edges
from digitize.wiring.evidence import MOST_SURE, Prior
from digitize.wiring.state import EdgeMark, Run, RunEnd, SheetWiring

Local = tuple[str, str]


@dataclass(frozen=True, slots=True)
class Strand:
    """One conductor over one or many sheets, not yet with a code.

    ``runs``: its runs in order from the first end to the last, each with True when it is walked backwards;
    ``probability`` that both ends are right.
    """

    id: str
    ends: tuple[WireEnd, WireEnd]
    paths: tuple[SheetPath, ...]
    runs: tuple[tuple[Local, bool], ...]
    links: tuple[str, ...]
    grommets: tuple[str, ...]
    probability: float


@dataclass(frozen=True, slots=True)
class Joined:
    """All strands, all page-edge links, and the dots (by sheet and id on it) that turned out to be none."""

    strands: tuple[Strand, ...]
    links: tuple[PageLink, ...]
    passed: frozenset[Local] = frozenset()


def join_runs(
    sheets: Sequence[SheetWiring], id_of: Mapping[Local, str], prior: Prior, numbers: Mapping[str, int]
) -> Joined:
    """Match the page-edge marks and walk the runs from end to end.

    ``numbers`` gives each sheet's place in the manual. Every run is part of exactly one strand.
    """
    runs = {(s.facts.sheet, r.id): r for s in sheets for r in s.runs}
    at_mark = _runs_at_marks(sheets)
    passed = passed_dots(sheets, prior)
    ports, of_port = _ports(sheets, runs, at_mark, passed, prior, numbers)
    matches = match_edges(ports, prior)
    links, link_at, partner, link_probability = _links(sheets, ports, of_port, matches)
    walks = _walks(runs, at_mark, partner, passed)
    named = _named(walks, runs, numbers)
    strands = [
        _strand(walk, id_, runs, id_of, link_at, link_probability) for walk, id_ in named
    ]  # one strand a walk; ids are unique by construction
    return Joined(
        tuple(sorted(strands, key=lambda s: s.id)), tuple(sorted(links, key=lambda link: link.id)), passed.dots
    )


Walk = tuple[tuple[Local, bool], ...]


def _runs_at_marks(sheets: Sequence[SheetWiring]) -> dict[Local, tuple[Local, int]]:
    """The run and its end (0 or 1) at each edge mark. A mark with several runs keeps the first by id."""
    at: dict[Local, tuple[Local, int]] = {}
    for s in sheets:
        marks = {m.id for m in s.edges}
        for r in sorted(s.runs, key=_run_order):
            for i, end in enumerate(r.ends):
                if end.kind == "edge" and end.node in marks:
                    at.setdefault((s.facts.sheet, end.node), ((s.facts.sheet, r.id), i))
    return at


def _run_order(run: Run) -> tuple[Polyline, str]:
    return (min(run.points, run.points[::-1]), run.id)


def _ports(
    sheets: Sequence[SheetWiring],
    runs: Mapping[Local, Run],
    at_mark: Mapping[Local, tuple[Local, int]],
    passed: PassedDots,
    prior: Prior,
    numbers: Mapping[str, int],
) -> tuple[list[EdgePort], list[Local]]:
    diagram = {s.facts.sheet: i for i, s in enumerate(sorted(sheets, key=lambda s: numbers[s.facts.sheet]))}
    ports: list[tuple[EdgePort, Local]] = []
    for s in sheets:
        name = s.facts.sheet
        frame = s.facts.frame or Box(0.0, 0.0, s.facts.width, s.facts.height)
        for m, id_ in spot_ids(((m, m.at) for m in s.edges), name, "edge", lambda m: (m.at, m.edge, m.id)):
            there = at_mark.get((name, m.id))
            along = chain_from(there, passed) if there else []
            reading = pooled([r for x in along for r in code_readings(runs[x], s)], prior)
            names = _names(s, m, numbers[name])
            port = EdgePort(name, diagram[name], id_, m.edge, m.at, frame, reading, m.text, names)
            ports.append((port, (name, m.id)))
    ports.sort(key=lambda p: (p[0].number, p[0].mark))
    return [p for p, _ in ports], [local for _, local in ports]


def _names(sheet: SheetWiring, mark: EdgeMark, number: int) -> tuple[str, ...]:
    zone, others = sheet.facts.zones.zone_at(mark.at)
    label = () if sheet.facts.label is None else (sheet.facts.label.upper(),)
    zones = () if zone is None or sheet.facts.zones.nominal else (zone, *others)
    return (*label, str(number), *zones)


def _links(
    sheets: Sequence[SheetWiring], ports: Sequence[EdgePort], of_port: Sequence[Local], matches: Sequence[EdgeMatch]
) -> tuple[list[PageLink], dict[Local, str], dict[Local, Local], dict[str, float]]:
    facts = {s.facts.sheet: s.facts for s in sheets}

    def point(p: EdgePort) -> EdgePoint:
        return EdgePoint(p.sheet, p.edge, p.at, facts[p.sheet].zones.zone_at(p.at)[0])

    links: list[PageLink] = []
    link_at: dict[Local, str] = {}
    partner: dict[Local, Local] = {}
    probability: dict[str, float] = {}
    matched: set[int] = set()
    for m in matches:
        a, b = sorted((m.a, m.b))
        matched |= {a, b}
        id_ = f"link.{ports[a].mark}"
        probability[id_] = m.probability
        link_at[of_port[a]] = link_at[of_port[b]] = id_
        partner[of_port[a]], partner[of_port[b]] = of_port[b], of_port[a]
        links.append(PageLink(id_, Claim.unread(), point(ports[a]), point(ports[b]), m.probability))
    for i, p in enumerate(ports):
        if i not in matched:
            id_ = f"link.{p.mark}"
            link_at[of_port[i]] = id_
            links.append(PageLink(id_, Claim.unread(), point(p), None, 0.5))
    return links, link_at, partner, probability


def _walks(
    runs: Mapping[Local, Run],
    at_mark: Mapping[Local, tuple[Local, int]],
    partner: Mapping[Local, Local],
    passed: PassedDots,
) -> list[Walk]:
    """Chains of runs over matched marks and passed dots. A ring of runs is opened at its first run."""
    taken: set[Local] = set()
    walks: list[Walk] = []

    def onward(local: Local, end: int) -> tuple[Local, int] | None:
        """The run and the end of it that one enters when leaving ``local`` at ``end``."""
        if (local, end) in passed.through:
            return passed.through[local, end]
        e = runs[local].ends[end]
        if e.kind != "edge" or e.node is None:
            return None
        mark = (local[0], e.node)
        if at_mark.get(mark) != (local, end) or mark not in partner:
            return None
        return at_mark.get(partner[mark])

    def walk_from(local: Local, leave: int) -> list[tuple[Local, int]]:
        """(run, end it is entered at) for all runs reached by leaving ``local`` at ``leave``."""
        chain: list[tuple[Local, int]] = []
        here: tuple[Local, int] | None = onward(local, leave)
        while here is not None and here[0] not in taken:
            taken.add(here[0])
            chain.append(here)
            here = onward(here[0], 1 - here[1])
        return chain

    for local in sorted(runs):
        if local in taken:
            continue
        taken.add(local)
        after = walk_from(local, 1)
        before = walk_from(local, 0)
        walk = [(x, entered == 0) for x, entered in reversed(before)]
        walk = [*walk, (local, False), *((x, entered == 1) for x, entered in after)]
        walks.append(tuple(walk))
    return walks


def _named(walks: Sequence[Walk], runs: Mapping[Local, Run], numbers: Mapping[str, int]) -> list[tuple[Walk, str]]:
    """Each walk turned so that it starts at its first end (by sheet, x, y), with a stable id."""

    def far_end(entry: tuple[Local, bool], last: bool) -> tuple[int, float, float]:
        (sheet, _), back = entry
        at = runs[entry[0]].ends[1 if last != back else 0].at
        return (numbers[sheet], *at)

    by_sheet: dict[str, list[Walk]] = {}
    for walk in walks:
        turned = walk
        if far_end(walk[-1], last=True) < far_end(walk[0], last=False):
            turned = tuple((local, not back) for local, back in reversed(walk))
        by_sheet.setdefault(turned[0][0][0], []).append(turned)
    named: list[tuple[Walk, str]] = []
    for sheet, here in by_sheet.items():
        named += spot_ids(
            ((w, middle(runs[w[0][0]].points)) for w in here),
            sheet,
            "wire",
            lambda w: tuple(_points(runs[local], back) for local, back in w),
        )
    return named


def _points(run: Run, back: bool) -> Polyline:
    return run.points[::-1] if back else run.points


def _strand(
    walk: Walk,
    id_: str,
    runs: Mapping[Local, Run],
    id_of: Mapping[Local, str],
    link_at: Mapping[Local, str],
    link_probability: Mapping[str, float],
) -> Strand:
    (first, first_back), (last, last_back) = walk[0], walk[-1]
    ends = (
        _end(first[0], runs[first].ends[1 if first_back else 0], id_of),
        _end(last[0], runs[last].ends[0 if last_back else 1], id_of),
    )
    links: list[str] = []
    grommets: list[str] = []
    probability = 1.0
    for local, back in walk:
        run = runs[local]
        for end in run.ends[::-1] if back else run.ends:
            link = link_at.get((local[0], end.node)) if end.kind == "edge" and end.node is not None else None
            if link is not None and link not in links:
                links.append(link)
        passed = run.grommets[::-1] if back else run.grommets
        grommets += [id_of[local[0], g] for g in passed if (local[0], g) in id_of]
        probability *= run.probability
    for link in links:
        probability *= link_probability.get(link, 1.0)
    if None in {ends[0].node, ends[1].node}:
        # A wire that just stops is rarely drawn: the end is probably one that was not seen.
        probability *= 0.5
    return Strand(id_, ends, _paths(walk, runs), walk, tuple(links), tuple(grommets), min(probability, MOST_SURE))


def _paths(walk: Walk, runs: Mapping[Local, Run]) -> tuple[SheetPath, ...]:
    """One path for each run; runs that follow each other over a passed dot are one path."""
    paths: list[SheetPath] = []
    joined = False
    for local, back in walk:
        run = runs[local]
        points = _points(run, back)
        if joined:
            before = paths.pop().points
            points = (*before, *(points[1:] if points[0] == before[-1] else points))
        paths.append(SheetPath(local[0], points))
        joined = run.ends[0 if back else 1].kind == "splice"
    return tuple(paths)


def _end(sheet: str, end: RunEnd, id_of: Mapping[Local, str]) -> WireEnd:
    node = None if end.kind in {"open", "edge"} or end.node is None else id_of.get((sheet, end.node))
    terminal = None if node is None else "*" if end.kind == "splice" else end.terminal
    return WireEnd(node, terminal, sheet, end.at)
