from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from digitize.harness.claim import Claim
from digitize.harness.graph import SWITCHES, conductors, end_key, halves, inside
from digitize.harness.model import (
    Component,
    Connector,
    DrawnConnector,
    Ground,
    Harness,
    Terminal,
    Wire,
    WireEnd,
)
from digitize.harness.place import Box, Place

SPOT = Place("page_1", Box(0, 0, 8, 8))
UNREAD = Claim.unread()


def part(id_: str, kind: str, *terminals: str, heading: str | None = None, **more) -> Component:
    made = tuple(Terminal(t, (10.0 * i, 0.0), t) for i, t in enumerate(terminals))
    return Component(id_, kind, UNREAD, SPOT, made, 0.99, heading=heading, **more)


def wire(id_: str, a: str, b: str) -> Wire:
    ends = []
    for said in (a, b):
        node, _, terminal = said.partition(".")
        ends.append(WireEnd(node or None, terminal or None, "page_1", (0.0, 0.0)))
    return Wire(id_, UNREAD, None, (ends[0], ends[1]), (), 0.99)


def harness(components=(), wires=(), connectors=(), grounds=()) -> Harness:
    return Harness("", (), tuple(components), tuple(connectors), (), (), tuple(grounds), tuple(wires))


def kinds(c: Component, a: str, b: str) -> set[tuple[str, bool]]:
    return {(h.kind, h.open) for h in inside(c, {c.id: c}) if (h.start[1], h.end[1]) == (a, b)}


def test_wires_connectors_and_a_closed_part_make_one_way():
    drawn = DrawnConnector("k@1", SPOT, (Terminal("a1", (0, 0)), Terminal("b1", (1, 0))), (None,), 0.99)
    h = harness(
        [part("bat", "battery", "+", "-"), part("fuse", "fuse", "1", "2"), part("lamp", "lamp", "1", case_ground=True)],
        [wire("w1", "bat.+", "fuse.1"), wire("w2", "fuse.2", "k@1.a1"), wire("w3", "k@1.b1", "lamp.1")],
        [Connector("K1", UNREAD, (drawn,))],
    )
    graph = conductors(h)
    assert graph.feeds == {("bat", "+")}
    assert graph.grounds == {("bat", "-"), ("lamp", "case")}
    reached = graph.reach(graph.feeds, lambda _: True)
    assert [hop.kind for hop in graph.way(reached, ("lamp", "case"))] == [
        "wire", "protection", "wire", "connector", "wire", "load",
    ]  # fmt: skip
    assert ("lamp", "case") not in graph.reach(graph.feeds, lambda hop: hop.kind != "protection")


def test_halves_of_a_connector_face_each_other_in_pairs():
    terminals = tuple(Terminal(t, (0, 0)) for t in ("a1", "b1", "a2", "b2", "a10", "b10"))
    assert halves(DrawnConnector("k", SPOT, terminals, (), 0.9)) == [("a1", "b1"), ("a2", "b2"), ("a10", "b10")]


def test_an_end_that_joins_nothing_has_a_key_of_its_own():
    loose = wire("w1", "lamp.1", "")
    assert end_key(loose, 1) == ("w1", "end1")
    assert end_key(loose, 0) == ("lamp", "1")


def test_a_diode_lets_current_pass_along_its_arrow_only():
    # IEEE 315 practice (from memory): the triangle points from anode to cathode, the way of conventional current.
    right = part("d", "diode", "1", "2", heading="right")
    assert kinds(right, "1", "2") == {("diode", False)}
    assert kinds(right, "2", "1") == {("diode", True)}
    left = replace(right, heading="left")
    assert kinds(left, "1", "2") == {("diode", True)}
    unknown = inside(replace(right, heading=None), {})
    assert {h.open for h in unknown} == {False}
    assert not any(h.sure for h in unknown)


def test_a_relay_with_din_72552_designations_keeps_coil_and_contacts_apart():
    # DIN 72552: 85/86 coil; 30, 87, 87a contacts (some lists take 87 as the common one: every pair may switch).
    relay = part("r", "relay", "85", "86", "30", "87", "87a")
    assert kinds(relay, "85", "86") == {("load", False)}
    assert kinds(relay, "30", "87") == {("switch", False)}
    assert kinds(relay, "87", "87a") == {("switch", False)}
    assert kinds(relay, "85", "30") == set()


def test_a_fuse_in_a_block_is_fed_from_the_blocks_bar():
    block = part("block", "fuse_block", "bar")
    fuse = part("f1", "fuse", "2", parent="block")
    hops = inside(fuse, {"block": block, "f1": fuse})
    assert {(h.start, h.end, h.kind, h.sure) for h in hops} == {
        (("f1", "2"), ("block", "bar"), "protection", True),
        (("block", "bar"), ("f1", "2"), "protection", True),
    }
    assert inside(block, {"block": block}) == []


def test_what_is_drawn_as_joined_is_not_also_guessed():
    switch = part("s", "switch", "1", "2", "3", joined=(("1", "2"),))
    assert kinds(switch, "1", "2") == {("joined", False)}
    assert kinds(switch, "2", "3") == {("switch", False)}


def test_a_battery_does_not_join_its_posts_and_grounds_are_told():
    h = harness([part("bat", "battery", "1", "2")], grounds=[Ground("g", UNREAD, SPOT, (0, 0), 0.9)])
    graph = conductors(h)
    assert graph.hops == {}
    assert graph.grounds == {("g", "1")}
    assert graph.feeds == {("bat", "1"), ("bat", "2")}


@given(st.lists(st.tuples(st.integers(0, 5), st.integers(0, 5)), max_size=10), st.sampled_from(sorted(SWITCHES)))
def test_every_hop_has_its_way_back_and_ways_hang_together(pairs, kind):
    components = [part(f"c{i}", kind, "1", "2") for i in range(6)]
    wires = [wire(f"w{n}", f"c{a}.1", f"c{b}.2") for n, (a, b) in enumerate(pairs)]
    graph = conductors(harness(components, wires))
    hops = {(h.start, h.end, h.by) for way in graph.hops.values() for h in way}
    assert {(b, a, by) for a, b, by in hops} == hops
    reached = graph.reach([("c0", "1")], lambda _: True)
    for end in reached:
        way = graph.way(reached, end)
        assert all(x.end == y.start for x, y in pairwise(way))
        assert not way or (way[0].start == ("c0", "1") and way[-1].end == end)


def test_a_fuse_hangs_on_the_bar_of_its_block_that_its_joint_names_and_on_no_other():
    block = part("block", "fuse_block", "t1", "t2")
    fuse = part("f7", "fuse", "2", parent="block", joined=(("2", "^t2"),))
    across = {(h.start, h.end, h.kind, h.sure) for h in inside(fuse, {"block": block, "f7": fuse})}
    assert across == {
        (("f7", "2"), ("block", "t2"), "protection", True),
        (("block", "t2"), ("f7", "2"), "protection", True),
    }
    lost = replace(fuse, joined=(("2", "^t9"),))  # a bar that the block does not have says nothing
    assert {(h.end, h.sure) for h in inside(lost, {"block": block, "f7": lost}) if h.start == ("f7", "2")} == {
        (("block", "t1"), False),
        (("block", "t2"), False),
    }


def test_the_line_drawn_through_a_diode_does_not_make_it_pass_both_ways():
    # Diode symbol: the triangle points from anode to cathode (from memory; practice, no source read).
    drawn = part("d", "diode", "1", "2", heading="right", joined=(("1", "2"),))
    assert kinds(drawn, "1", "2") == {("diode", False)}
    assert kinds(drawn, "2", "1") == {("diode", True)}
