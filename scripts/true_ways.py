"""Ways traced on a true harness, held against the shortest ways that networkx finds in the same truth.

The truth is in the neutral layout (``fixtures.heldout``). A way counts as right when it ends where it should, every step of it
is a conductor of the truth, and no way that current can take is shorter: a diode passes along its arrow only, and nothing
passes a load. A sender earths what hangs on it (common practice, no source), which the truth's own ways leave out. ``same``: it is the very way the truth names; two ways may be equally short, and the truth's own may run
against a diode.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise, permutations
from typing import Any

import networkx as nx

from digitize.harness.graph import Key
from digitize.harness.model import Harness
from digitize.trace.follow import Circuits
from digitize.trace.state import Way

INSIDE = 0.01
"""What a step inside a part counts beside a wire's 1: the layout's own measure."""

NEAR = 0.5
"""Ways count as equally short when they run over equally many wires; what lies inside parts does not matter."""


@dataclass(frozen=True, slots=True)
class Ways:
    """Loads of one section, and how many are followed to the nearest fuse, to ground, and to a feed in a full trace.

    ``same_fuse`` and ``same_ground``: of those, over the very parts the truth names. ``wrong``: what is not right, in words.
    """

    loads: int
    fuse: int
    ground: int
    feed: int
    same_fuse: int
    same_ground: int
    wrong: tuple[str, ...]


def ways_of(harness: Harness, data: dict[str, Any]) -> Ways:
    """Follow every load that the truth ``data`` follows, on ``harness`` made of it."""
    circuits = Circuits(harness)
    loads = {c["id"] for c in data["components"] if c["load"]}
    cased = {c["id"] for c in data["components"] if c["case_ground"]}
    grounds = {(g["id"], "1") for g in data["grounds"]}
    fuses = {(c["id"], "2") for c in data["components"] if c["kind"] == "fuse"}
    to_fuse, to_ground = _graph(data, against=True), _graph(data, against=False)
    tally = {"fuse": 0, "ground": 0, "feed": 0, "same_fuse": 0, "same_ground": 0}
    wrong = []
    for t in data["traces"]:
        load = t["load"]
        barred = loads | {g for g, _ in grounds}
        way = circuits.trace(load, "fuse").ways[0]
        right = _as_short(way, to_fuse, load, fuses, barred)
        tally["fuse"] += right
        tally["same_fuse"] += way.found and _passed(way) == set(t["to_fuse"])
        way = circuits.trace(load, "ground").ways[0]
        if load in cased:
            grounded = same = not way.found or way.keys[-1][1] == "case"
        else:
            grounded = _as_short(way, to_ground, load, grounds, loads)
            told = {n.removesuffix(".case") for n in t["to_ground"]}
            same = _passed(way) == told if way.found else len(told) < 2
        tally["ground"] += grounded
        tally["same_ground"] += same
        fed = any(w.goal == "feed" and w.found for w in circuits.trace(load).ways)
        tally["feed"] += fed
        missed = [what for what, done in (("fuse", right), ("ground", grounded), ("feed", fed)) if not done]
        wrong += [f"{t['name'] or load}: {', '.join(missed)}"] if missed else []
    return Ways(len(data["traces"]), wrong=tuple(wrong), **tally)


def _passed(way: Way) -> set[str]:
    return {node for node, _ in way.keys}


def _as_short(way: Way, g: nx.DiGraph, load: str, goals: set[Key], barred: set[str]) -> bool:
    """Whether ``way`` is one of the shortest from any terminal of ``load`` to a goal."""
    inner = g.subgraph([k for k in g if k[0] not in barred or k[0] == load or k in goals])
    starts = {k for k in inner if k[0] == load}
    reached = nx.multi_source_dijkstra_path_length(inner, starts, weight="weight") if starts else {}
    shortest = min((far for k, far in reached.items() if k in goals), default=None)
    if shortest is None or not way.found:
        return (shortest is None) == (not way.found)
    keys = [(f"{n}.case", "1") if t == "case" else (n, t) for n, t in way.keys]
    if not all(inner.has_edge(a, b) for a, b in pairwise(keys)):
        return False
    return bool(sum(inner[a][b]["weight"] for a, b in pairwise(keys)) <= shortest + NEAR)


def _graph(data: dict[str, Any], *, against: bool) -> nx.DiGraph:
    """The conductors of a truth to walk with the current, or ``against`` it: diodes lead one way, all others both."""
    splices = {s["id"] for s in data["splices"]}
    diodes = {
        d["component"]: (d["cathode"], d["anode"]) if against else (d["anode"], d["cathode"]) for d in data["diodes"]
    }
    g = nx.DiGraph()

    def key(node: str, terminal: str) -> Key:
        return (node, "*") if node in splices else (node, terminal)

    def join(a: Key, b: Key, weight: float) -> None:
        if weight < g.get_edge_data(a, b, {"weight": 2.0})["weight"]:
            g.add_edge(a, b, weight=weight)

    for w in data["wires"]:
        a, b = (key(e["node"], e["terminal"]) for e in w["ends"])
        join(a, b, 1.0)
        join(b, a, 1.0)
    for (one, mine), (two, other) in data["internal_links"]:
        if one == two and one in diodes:
            join((one, diodes[one][0]), (one, diodes[one][1]), INSIDE)
            continue
        join(key(one, mine), key(two, other), INSIDE)
        join(key(two, other), key(one, mine), INSIDE)
    for c in data["components"] if not against else ():
        for one, other in permutations([t["id"] for t in c["terminals"] if c["kind"] == "sensor"], 2):
            join((c["id"], one), (c["id"], other), INSIDE)
    return g
