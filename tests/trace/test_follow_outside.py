"""Following a circuit held against networkx, an independent library, and against what must always be true."""

from __future__ import annotations

import sys
import time
from dataclasses import replace
from itertools import pairwise

import networkx as nx
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from digitize.trace.follow import Circuits, trace
from digitize.trace.network import Network
from digitize.trace.state import Trace, Way
from fixtures.demo import demo_manual
from fixtures.perfect import truth_to_harness
from fixtures.truth import Truth

from . import circuits as c


def way(t: Trace, goal: str) -> Way:
    return next(w for w in t.ways if w.goal == goal)


def passed(w: Way) -> list[str]:
    return [leg.id for leg in w.legs]


# against the outside world: networkx on the drawn truth


@pytest.fixture(scope="module")
def demo() -> Truth:
    return demo_manual()[0].truth


def independent(truth: Truth) -> nx.DiGraph:
    """The conductors of a drawn manual, straight from its truth: wires 1, passages 0.01, nothing through loads."""
    g = nx.DiGraph()

    def joined(a, b, weight: float) -> None:
        g.add_edge(a, b, weight=weight)
        g.add_edge(b, a, weight=weight)

    for w in truth.wires:
        joined(*((e.node, e.terminal) for e in w.ends), 1.0)
    for part in truth.components:
        for a, b in part.joined if not part.load and part.kind != "diode" else ():
            joined((part.id, a), (part.id, b), 0.01)
    for j in truth.connectors:
        for n in range(1, len(j.cavities) + 1):
            joined((j.id, f"a{n}"), (j.id, f"b{n}"), 0.01)
    return g


def test_every_load_of_the_demo_manual_is_followed_as_networkx_says(demo: Truth) -> None:
    """networkx's Dijkstra on the truth is the outside check: same length, and every hop a conductor of the truth."""
    g = independent(demo)
    circuits = Circuits(truth_to_harness(demo))
    loads = {x.id for x in demo.components if x.load}
    battery = next((x.id, "+") for x in demo.components if x.kind == "battery")
    bars: dict[tuple[str, str], list[tuple[str, str]]] = {}
    for x in demo.components:
        for node, terminal, mine in x.links:
            bars.setdefault((x.id, mine), []).append((node, terminal))
    checked = 0
    for load in loads:
        for w in circuits.trace(load).ways:
            if w.goal != "feed":
                continue
            start = w.keys[0]
            inner = g.subgraph([k for k in g if k[0] not in loads or k == start])
            to_fuses = nx.single_source_dijkstra_path_length(inner, start, weight="weight")
            fused = {f: far for f, far in to_fuses.items() if f in bars}
            assert w.found == bool(fused or battery in to_fuses), (load, w.missing)
            if not w.found:
                continue
            assert all(g.has_edge(a, b) for a, b in pairwise(w.keys)), load
            ours = sum(g[a][b]["weight"] for a, b in pairwise(w.keys))
            assert ours == pytest.approx(to_fuses[w.keys[-1]]), load
            if battery not in to_fuses:  # no way but over the bar of a fuse block: the nearest fuse is the right one
                nearest = min(far for f, far in fused.items() if f[0] != start[0])
                assert ours == pytest.approx(nearest), load
            checked += 1
    assert checked >= 40


def test_every_ground_of_the_demo_manual_is_as_near_as_networkx_says(demo: Truth) -> None:
    g = independent(demo)
    circuits = Circuits(truth_to_harness(demo))
    loads = {x.id for x in demo.components if x.load}
    cases = {
        (x.id, x.terminals[0].id) for x in demo.components if x.case_ground and len(x.terminals) == 1 and not x.load
    }
    grounds = {(gr.id, "1") for gr in demo.grounds if gr.case_of is None} | cases
    checked = 0
    for load in loads:
        for w in circuits.trace(load).ways:
            if w.goal != "ground" or not w.found or any(leg.kind in {"sender", "diode", "load"} for leg in w.legs):
                continue
            keys = w.keys[:-1] if w.keys[-1][1] == "case" else w.keys
            inner = g.subgraph([k for k in g if k[0] not in loads or k == keys[0]])
            lengths = nx.single_source_dijkstra_path_length(inner, keys[0], weight="weight")
            assert sum(g[a][b]["weight"] for a, b in pairwise(keys)) == pytest.approx(lengths[keys[-1]])
            assert lengths[keys[-1]] == pytest.approx(min(far for k, far in lengths.items() if k in grounds))
            checked += 1
    assert checked >= 10


# invariants


@st.composite
def random_harness(draw):
    kinds = [
        "lamp",
        "switch",
        "fuse",
        "diode",
        "sensor",
        "relay",
        "unknown",
        "module",
        "resistor",
        "battery",
        "starter_solenoid",
    ]
    parts = [
        c.part(
            f"c{i}", draw(st.sampled_from(kinds)), *"1234"[: draw(st.integers(1, 4))], name=f"N{draw(st.integers(0, 5))}",
            case_ground=draw(st.booleans()), heading=draw(st.sampled_from([None, "left", "right", "up"])),
        )
        for i in range(draw(st.integers(1, 7)))
    ]  # fmt: skip
    spots = [f"{p.id}.{t.id}" for p in parts for t in p.terminals] + ["s0", "s1", "g0.1", "k@0.a1", "k@0.b1", ""]
    wires = [
        c.wire(f"w{i}", draw(st.sampled_from(spots)), draw(st.sampled_from(spots)), probability=draw(st.floats(0.01, 1)))
        for i in range(draw(st.integers(0, 12)))
    ]  # fmt: skip
    return c.harness(
        parts, wires, [c.connector("K0", c.oval("k@0"))], [c.splice("s0"), c.splice("s1")], [c.ground("g0")]
    )  # fmt: skip


@settings(deadline=None, max_examples=150)
@given(random_harness(), st.sampled_from(["all", "feed", "ground", "fuse"]))
def test_hops_are_joined_end_to_end_and_end_where_they_say(h, goal: str) -> None:
    circuits = Circuits(h)
    net = circuits.network
    for p in h.components:
        t = circuits.trace(p.id, goal)
        for w in (*t.ways, *(w for k in t.controls for w in k.ways)):
            ends = [(leg.start.id, leg.start.terminal) for leg in w.legs] + [(w.ends.id, w.ends.terminal)]
            assert ends == list(w.keys)
            assert all((a.end.id, a.end.terminal) == (b.start.id, b.start.terminal) for a, b in pairwise(w.legs))
            assert len(set(w.keys)) == len(w.keys), "no way passes one point twice"
            if w.found and w.goal == "ground":
                assert w.keys[-1] in net.graph.grounds
            assert w.found == (not w.missing)
            assert 0 <= w.probability <= 1


@settings(deadline=None, max_examples=60)
@given(random_harness())
def test_the_cost_of_every_way_is_networkx_s_shortest(h) -> None:
    """networkx (outside check) on the same passages."""
    net = Network(h)
    for goal, ends in (("ground", net.graph.grounds), ("source", net.feeds)):
        g = nx.DiGraph()
        g.add_nodes_from(ends)
        for key, out in net.passages.items():
            for p in out if key not in net.graph.grounds | net.feeds else ():
                blocked = p.kind in {"load", "coil"} or (goal == "source" and p.kind in {"sender", "case"})
                if not blocked and (p.along if goal == "ground" else p.back):
                    old = g.get_edge_data(p.end, p.start, {"weight": float("inf")})["weight"]
                    g.add_edge(p.end, p.start, weight=min(old, p.cost))
        want = nx.multi_source_dijkstra_path_length(g, set(ends), weight="weight") if ends else {}
        got = net.table(goal).cost
        assert set(got) == set(want)
        assert all(got[k] == pytest.approx(want[k]) for k in got)


@settings(deadline=None, max_examples=60)
@given(random_harness(), st.randoms(use_true_random=False))
def test_the_order_of_things_in_a_harness_does_not_matter(h, random) -> None:
    mixed = replace(
        h, wires=tuple(random.sample(h.wires, len(h.wires))), components=tuple(random.sample(h.components, len(h.components)))
    )  # fmt: skip
    for p in h.components:
        assert trace(h, p.id) == trace(mixed, p.id)


def large(n: int):
    """A ladder of ``n`` wires over splices with loads hung on it, fed at one end and earthed at the other."""
    rungs = n // 3
    lamps = [c.part(f"l{i}", "lamp", "1", "2", name=f"LAMP {i}") for i in range(rungs)]
    wires = [c.wire("feed", "bat.+", "f7.1"), c.wire("w", "f7.2", "s0")]
    wires += [c.wire(f"a{i}", f"s{i}", f"s{i + 1}") for i in range(rungs - 1)]
    wires += [c.wire(f"b{i}", f"s{i}", f"l{i}.1") for i in range(rungs)]
    wires += [c.wire(f"d{i}", f"l{i}.2", f"g{i % 50}.1") for i in range(rungs)]
    return c.harness(
        [c.BATTERY, c.FUSE, *lamps], wires, splices=[c.splice(f"s{i}") for i in range(rungs)], grounds=[c.ground(f"g{i}") for i in range(50)],
    )  # fmt: skip


def test_a_trace_in_ten_thousand_wires_takes_twenty_milliseconds(slowness: float):
    circuits = Circuits(large(10_000))
    circuits.trace("l0")  # builds the tables
    took = []
    for i in (5, 40, 77, 120, 160):
        began = time.process_time()
        t = circuits.trace(f"l{i}")
        took.append(time.process_time() - began)
        assert way(t, "source").found
    measured = 3.0 if "coverage" in sys.modules else 1.0  # counting lines slows pure Python down
    assert min(took) <= 0.02 * measured * slowness, (took, slowness)
