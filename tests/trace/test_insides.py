"""The inside of relays and switches where nobody read it: what is taken for coil, contact and common terminal."""

from __future__ import annotations

from dataclasses import replace

import pytest

from digitize.harness.graph import conductors
from digitize.harness.model import Component, Harness, Terminal
from digitize.harness.place import Box, Place
from digitize.trace.advice import Told, advise
from digitize.trace.circuit import Circuit
from digitize.trace.follow import Circuits
from digitize.trace.insides import TOLD, Inside, commons, relays_inside
from digitize.trace.network import Network
from digitize.trace.told import trace_as_text

from . import circuits as c

ACROSS = {"1": (0.0, 4.0), "2": (20.0, 4.0), "3": (0.0, 16.0), "4": (20.0, 16.0)}
"""Where the terminals of a relay stand whose coil and contact lie across it, one above the other."""

FREE = {"1": (0.8, 22.6), "2": (14.0, 22.0), "3": (-0.1, 1.0), "4": (20.2, 12.0)}
"""Those of one without a frame: both ends of its coil below, its contact from the left to the right."""


def drawn(id_: str, kind: str, at: dict[str, tuple[float, float]], labels: str = "", **more) -> Component:
    """A part 20 mm wide and high; ``labels`` in the order of its terminals, none where left out."""
    said = labels.split() or [None] * len(at)
    made = tuple(Terminal(f"t{t}", xy, s) for (t, xy), s in zip(at.items(), said, strict=True))
    box = Place("p1", Box(0, 0, 20, 20), "C5")
    return replace(c.part(id_, kind, **more), terminals=made, place=box)


def horn(relay: Component, coil: tuple[str, str] = ("t1", "t2"), contact: tuple[str, str] = ("t3", "t4")) -> Harness:
    """A horn behind a relay that a push earths; ``coil`` (fed, pushed) and ``contact`` (fed, to the horn)."""
    push = c.part("push", "switch", "1", name="HORN PUSH", case_ground=True)
    return c.harness(
        [c.BATTERY, c.FUSE, relay, push, c.part("horn", "horn", "1", case_ground=True)],
        [
            c.wire("w1", "bat.+", "f7.1"), c.wire("w2", "f7.2", "s"), c.wire("w3", "s", f"r.{coil[0]}"),
            c.wire("w4", "s", f"r.{contact[0]}"), c.wire("w5", f"r.{coil[1]}", "push.1"),
            c.wire("w6", f"r.{contact[1]}", "horn.1"), c.wire("w7", "bat.-", "g.1"),
        ],
        splices=[c.splice("s")], grounds=[c.ground("g")],
    )  # fmt: skip


def inside(h: Harness) -> Inside | None:
    return relays_inside(conductors(h)).get("r")


@pytest.mark.parametrize("labels", ["", "1 2 3 4", "86 ? ? 87"])
@pytest.mark.parametrize("at", [ACROSS, FREE])
def test_coil_and_contact_are_told_by_wires_places_and_numbers(at, labels: str) -> None:
    # DIN 72552: 85/86 coil, 30/87 contacts.
    found = inside(horn(drawn("r", "relay", at, labels, name="HORN RELAY")))
    assert found is not None
    assert (found.coil, found.contacts) == ({"t1", "t2"}, {frozenset({"t3", "t4"})})
    assert TOLD <= found.chance <= 0.95


def test_one_designation_tells_coil_or_contact_though_the_wires_were_not_read():
    # DIN 72552: 85 coil, 30 contact.
    found = inside(c.harness([drawn("r", "relay", ACROSS, "30 ? 85 ?")]))
    assert found is not None
    assert found.coil == {"t3", "t4"}


def test_where_the_wires_lead_counts_for_more_than_numbers():
    relay = drawn("r", "relay", ACROSS, "3 4 1 2", name="HORN RELAY")
    found = inside(horn(relay))
    assert found is not None
    assert found.coil == {"t1", "t2"}


def test_ends_that_stand_side_by_side_belong_together_where_the_wires_say_so():
    # the coil at the left, the contact at the right: across, a feed would stand against a feed
    found = inside(horn(drawn("r", "relay", ACROSS, name="HORN RELAY"), ("t1", "t3"), ("t2", "t4")))
    assert found is not None
    assert found.coil == {"t1", "t3"}


def test_a_coil_may_share_the_feed_of_its_contact_or_be_earthed_by_the_case():
    three = {"1": (0.0, 4.0), "2": (20.0, 4.0), "3": (20.0, 16.0)}
    shared = inside(horn(drawn("r", "relay", three), ("t1", "t2"), ("t1", "t3")))
    assert shared is not None
    (control,) = Circuits(horn(drawn("r", "relay", three), ("t1", "t2"), ("t1", "t3"))).trace("horn").controls
    assert [(w.goal, w.found) for w in control.ways if w.goal != "source"] == [("feed", True), ("ground", True)]
    assert (shared.coil, shared.contacts) == ({"t1", "t2"}, {frozenset({"t1", "t3"})})
    h = horn(drawn("r", "relay", three, case_ground=True), ("t1", "t1"), ("t2", "t3"))
    cased = inside(replace(h, wires=tuple(w for w in h.wires if w.id != "w5")))
    assert cased is not None
    assert "case" in cased.coil


def test_the_contact_has_the_battery_s_feed_and_the_coil_the_switched_one():
    three = {"1": (0.0, 4.0), "2": (20.0, 4.0), "3": (0.0, 16.0)}
    h = c.harness(
        [c.BATTERY, drawn("r", "relay", three, "B M S", case_ground=True), c.part("m", "motor", "1"), c.part("key", "switch", "1", "2")],
        [c.wire("w1", "bat.+", "r.t1"), c.wire("w2", "r.t2", "m.1"), c.wire("w3", "bat.+", "key.1"), c.wire("w4", "key.2", "r.t3")],
    )  # fmt: skip
    found = inside(h)
    assert found is not None
    assert (found.coil, found.contacts) == ({"t3", "case"}, {frozenset({"t1", "t2"})})
    assert found.chance >= TOLD


def test_what_is_assumed_of_a_relay_is_said_and_less_likely_than_what_was_read():
    t = Circuits(horn(drawn("r", "relay", ACROSS, name="HORN RELAY"))).trace("horn")
    contact = next(leg for w in t.ways for leg in w.legs if leg.kind == "contact")
    assert {contact.start.terminal, contact.end.terminal} == {"t3", "t4"}
    assert contact.doubtful
    assert contact.probability <= 0.95
    assert any("was not read inside it: assumed by where their wires lead" in n for n in contact.notes)
    (control,) = t.controls
    assert [(w.goal, w.found) for w in control.ways] == [("feed", True), ("source", True), ("ground", True)]
    assert "the way of its coil is not drawn" not in trace_as_text(t)


def test_a_relay_whose_inside_is_assumed_switches_the_circuit():
    k = Circuit(Network(horn(drawn("r", "relay", ACROSS, name="HORN RELAY"))))
    s = k.solve()
    assert s.energized == {"r"}
    assert (k.volts_at(s, ("horn", "1")) or 0) > 11


def test_no_ground_way_leads_through_a_relay_s_coil():
    h = horn(drawn("r", "relay", ACROSS, name="HORN RELAY"))
    assert Network(h).table("ground").way(("r", "t1")) is None
    assert Network(h).table("ground").way(("r", "t2")) is not None


def key_switch(relay: Component, at: dict[str, tuple[float, float]], more: tuple[Component, ...] = ()) -> Harness:
    """A key switch (t1 fed; t2, t3 positions) that feeds a lamp and the coil of a relay at t2, a fan at t3."""
    return c.harness(
        [
            c.BATTERY, drawn("key", "switch", at, "C A R" if len(at) == 3 else "C A R S", name="KEY SWITCH"), relay,
            c.part("therm", "thermal_contact", "1", "2"), c.part("lamp", "lamp", "1", name="DIAL", case_ground=True),
            c.part("fan", "motor", "1", name="FAN", case_ground=True),
            c.part("pump", "motor", "1", name="PUMP", case_ground=True), *more,
        ],
        [
            c.wire("w1", "bat.+", "key.t1"), c.wire("w2", "key.t2", "s"), c.wire("w3", "s", "lamp.1"),
            c.wire("w4", "s", "r.t1"), c.wire("w5", "r.t2", "therm.1"), c.wire("w6", "therm.2", "g.1"),
            c.wire("w7", "key.t3", "fan.1"), c.wire("w8", "bat.+", "r.t3"), c.wire("w9", "r.t4", "pump.1"),
            c.wire("w10", "bat.-", "g2.1"),
        ],
        splices=[c.splice("s")], grounds=[c.ground("g"), c.ground("g2")],
    )  # fmt: skip


ARM = {"1": (0.0, 10.0), "2": (20.0, 4.0), "3": (20.0, 16.0)}
"""A switch with its moving contact at the left."""

RELAY = drawn("r", "relay", ACROSS, name="PUMP RELAY")
SIX = drawn("r", "relay", {**ACROSS, "5": (5.0, 20.0), "6": (15.0, 20.0)}, name="PUMP RELAY")
"""A relay of which nothing is told: it has too many terminals."""


@pytest.mark.parametrize("relay", [RELAY, SIX])
def test_a_switch_serves_what_hangs_behind_a_relay_s_coil_too_and_is_not_earthed_through_it(relay: Component) -> None:
    t = Circuits(key_switch(relay, ARM)).trace("key switch")
    assert not [w for w in t.ways if w.goal == "ground"]
    assert {"DIAL", "FAN"} <= set(t.serves)


def test_a_position_joins_the_common_terminal_and_no_other_with_the_one_that_is_said():
    circuits = Circuits(key_switch(RELAY, ARM))
    assert circuits.network.commons == {"key": "t1"}
    at_r = circuits.positions([("key switch", "R")])
    feed = [w for w in circuits.trace("fan", positions=at_r).ways if w.goal == "feed"]
    assert feed[0].found
    dial = circuits.trace("dial", positions=at_r)
    assert not any(w.found for w in dial.ways if w.goal == "feed")
    assert not dial.notes


@pytest.mark.parametrize(
    ("at", "fed", "earthed", "common"),
    [
        (ARM, "t1", "", "t1"),
        (ARM, "", "", "t1"),  # by its place alone
        (ARM, "t2", "", None),  # the feed comes in elsewhere
        ({**ARM, "4": (0.0, 16.0)}, "t1", "", "t1"),  # by its feed alone
        ({**ARM, "4": (0.0, 16.0)}, "t1", "t4", None),  # one that turns a motor round has an earth of its own
        ({**ARM, "4": (0.0, 16.0)}, "", "", None),
    ],
)
def test_the_common_terminal_is_told_by_its_place_or_its_feed(at, fed: str, earthed: str, common: str | None) -> None:
    wires = [c.wire("w", "bat.+", f"sw.{fed}")] if fed else []
    wires += [c.wire("e", f"sw.{earthed}", "g.1")] if earthed else []
    h = c.harness([c.BATTERY, drawn("sw", "switch", at)], wires, grounds=[c.ground("g")])
    assert commons(conductors(h)).get("sw") == common


def test_a_position_of_a_switch_whose_common_terminal_is_not_told_says_so():
    circuits = Circuits(key_switch(RELAY, {"1": (0.0, 4.0), "2": (0.0, 16.0), "3": (20.0, 4.0), "4": (20.0, 16.0)}))
    circuits.network.commons.clear()
    t = circuits.trace("fan", positions=circuits.positions([("key switch", "R")]))
    assert any("common one was not read: R is taken as joined with all others" in n for n in t.notes)
    told = Circuits(key_switch(RELAY, ARM))
    assert any("say the terminal that it stands at" in n for n in dark(told.harness, "fan", ("key switch", "C")).notes)
    t = told.trace("fan", positions=told.positions([("key switch", "C")]))
    assert any("say the terminal that it stands at" in n for n in t.notes)


def test_a_fuse_that_nothing_feeds_as_the_switches_stand_is_no_feed_without_a_word():
    h = key_switch(RELAY, ARM)
    wires = tuple(c.wire("w3", "s", "f7.1") if w.id == "w3" else w for w in h.wires)
    fused = replace(h, components=(*h.components, c.FUSE), wires=(*wires, c.wire("w3b", "f7.2", "lamp.1")))
    circuits = Circuits(fused)
    (way,) = [
        w for w in circuits.trace("dial", positions=circuits.positions([("key switch", "R")])).ways if w.goal == "feed"
    ]
    assert any("as the switches stand, nothing feeds" in n for n in way.notes)


# what to state


def dark(h: Harness, name: str, *stand: tuple[str, str]):
    circuits = Circuits(h)
    return advise(circuits, Told(dark=(name,), stand=stand), circuits.positions(stand))


def test_doing_what_the_advice_says_makes_the_statement_tell_something():
    # the pump's relay is pulled in over the key switch, which counts as open until its position is said
    h = key_switch(RELAY, ARM)
    first = dark(h, "pump")
    assert not first.told_something
    assert any(n.endswith('for instance --position "KEY SWITCH=A"') for n in first.notes)
    assert dark(h, "pump", ("KEY SWITCH", "A")).told_something


def test_a_switch_that_stands_elsewhere_is_named_with_the_position_that_would_do():
    advice = dark(key_switch(RELAY, ARM), "pump", ("KEY SWITCH", "R"))
    assert any('it would with other positions, for instance --position "KEY SWITCH=A"' in n for n in advice.notes)


def test_a_switch_whose_name_another_has_too_is_asked_for_by_its_id():
    h = key_switch(RELAY, ARM, (c.part("key2", "switch", "1", "2", name="KEY SWITCH"),))
    assert any(n.endswith('--position "key=A"') for n in dark(h, "pump").notes)


def test_a_relay_whose_inside_was_not_read_is_named_when_no_position_helps():
    # whatever is stated of it joins the horn with the push too, and blows the fuse
    advice = dark(horn(replace(SIX, name=c.part("r", "relay", name="HORN RELAY").name)), "horn")
    (note,) = advice.notes
    assert "terminals of HORN RELAY (page WD-1, zone C5) are its coil and its contact was not read" in note
    assert "--position" not in note


def test_what_is_said_of_a_relay_s_contact_stands_whatever_its_coil_does():
    h = horn(drawn("r", "relay", ACROSS, "1 2 3 4", name="HORN RELAY"))
    h = replace(h, wires=tuple(w for w in h.wires if w.id != "w5"))
    circuits = Circuits(h)
    rest = Circuit(circuits.network)
    closed = Circuit(circuits.network, positions=circuits.positions([("horn relay", "4")]))
    assert (rest.volts_at(rest.solve(), ("horn", "1")) or 0) < 0.1
    assert (closed.volts_at(closed.solve(), ("horn", "1")) or 0) > 11
    pulled = horn(drawn("r", "relay", ACROSS, name="HORN RELAY"))
    off = Circuit(Network(pulled), positions=Circuits(pulled).positions([("horn relay", "off")]))
    assert (off.volts_at(off.solve(), ("horn", "1")) or 0) < 0.1
