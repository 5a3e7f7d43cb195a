"""Following a circuit: what it may pass, which way it goes, and what is said when there is no way."""

from __future__ import annotations

from dataclasses import replace

import pytest

from digitize.errors import CalledWrongly, NotFound
from digitize.harness.claim import Claim
from digitize.harness.model import Cavity, DrawnGrommet, Grommet, WireCode
from digitize.trace.follow import Circuits, trace
from digitize.trace.state import Trace, Way

from . import circuits as c


def way(t: Trace, goal: str) -> Way:
    return next(w for w in t.ways if w.goal == goal)


def passed(w: Way) -> list[str]:
    return [leg.id for leg in w.legs]


def test_a_lamp_is_followed_to_its_fuse_to_the_battery_and_to_ground():
    t = trace(c.lit_lamp(), "side lamp")
    assert passed(way(t, "feed")) == ["w5", "k@1", "w4", "w3", "sw", "w2"]
    assert way(t, "feed").ends.name == "7"
    assert way(t, "feed").ends.about == "15A"
    assert passed(way(t, "source")) == ["f7", "w1"]
    assert way(t, "source").ends.name == "BATTERY"
    assert passed(way(t, "ground")) == ["w7"]
    assert way(t, "ground").ends.name == "G1"


def test_a_way_never_leads_through_another_load():
    h = c.harness(
        [c.BATTERY, c.part("a", "lamp", "1", "2"), c.part("b", "lamp", "1", "2")],
        [c.wire("w1", "bat.+", "a.1"), c.wire("w2", "a.2", "b.1"), c.wire("w3", "b.2", "g.1")], grounds=[c.ground("g")],
    )  # fmt: skip
    feed = way(trace(h, "B"), "feed")
    assert not feed.found
    assert "gets as far as A (lamp), terminal 2" in feed.missing
    assert passed(feed) == ["w2"]


def test_a_way_to_a_feed_never_leads_through_ground():
    h = c.harness(
        [c.BATTERY, c.LAMP],
        [c.wire("w1", "lamp.1", "g.1"), c.wire("w2", "g.1", "bat.+")], grounds=[c.ground("g")],
    )  # fmt: skip
    assert not way(trace(h, "SIDE LAMP", "feed"), "feed").found


@pytest.mark.parametrize(("heading", "fed"), [("right", True), ("left", False)])
@pytest.mark.parametrize("joined", [(), (("1", "2"),)])
def test_a_diode_passes_one_way(heading: str, fed: bool, joined) -> None:
    # IEEE 315 practice (from memory): the triangle points from anode to cathode, the way of conventional current.
    h = c.harness(
        [c.BATTERY, c.part("d", "diode", "1", "2", heading=heading, joined=joined), c.part("lamp", "lamp", "1", case_ground=True)],
        [c.wire("w1", "bat.+", "d.1"), c.wire("w2", "d.2", "lamp.1")],
    )  # fmt: skip
    feed = way(trace(h, "LAMP"), "feed")
    assert feed.found == fed
    if fed:
        assert "arrow" in feed.legs[1].notes[0]


def test_a_diode_on_the_earth_side_decides_where_a_lamp_is_earthed():
    # A trade fact (common practice, no source): a diode decides what feeds what.
    def lamp_with(heading: str) -> Way:
        h = c.harness(
            [c.BATTERY, c.LAMP, c.part("d", "diode", "1", "2", heading=heading)],
            [c.wire("w1", "bat.+", "lamp.1"), c.wire("w2", "lamp.2", "d.1"), c.wire("w3", "d.2", "g.1")], grounds=[c.ground("g")],
        )  # fmt: skip
        return way(trace(h, "SIDE LAMP"), "ground")

    assert lamp_with("right").found
    assert not lamp_with("left").found


def test_the_surer_of_two_equally_long_ways_is_taken():
    h = c.harness(
        [c.BATTERY, c.part("lamp", "lamp", "1", case_ground=True)],
        [c.wire("a", "bat.+", "lamp.1", probability=0.5), c.wire("b", "bat.+", "lamp.1", probability=0.9)],
    )  # fmt: skip
    assert passed(way(trace(h, "lamp"), "feed")) == ["b"]


def test_what_is_drawn_is_preferred_to_what_only_the_kind_of_part_suggests():
    h = c.harness(
        [c.BATTERY, c.part("u", "unknown", "1", "2"), c.part("lamp", "lamp", "1", case_ground=True)],
        [
            c.wire("short", "bat.+", "u.1"), c.wire("on", "u.2", "lamp.1"),
            *(c.wire(f"w{i}", f"s{i}" if i else "bat.+", f"s{i + 1}" if i < 9 else "lamp.1") for i in range(10)),
        ],
        splices=[c.splice(f"s{i}") for i in range(1, 10)],
    )  # fmt: skip
    assert len(passed(way(trace(h, "lamp"), "feed"))) == 10
    only = replace(h, wires=tuple(w for w in h.wires if not w.id.startswith("w")))
    feed = way(trace(only, "lamp"), "feed")
    assert feed.found
    guessed = feed.legs[1]
    assert not guessed.sure
    assert guessed.doubtful
    assert "guess" in guessed.notes[0]


def test_a_load_is_not_led_back_to_ground_over_its_own_feed():
    h = c.harness(
        [c.BATTERY, c.LAMP, c.part("alt", "alternator", "B", "D"), c.part("door", "switch", "1", case_ground=True)],
        [c.wire("w1", "bat.+", "s"), c.wire("w2", "s", "lamp.1"), c.wire("w3", "s", "door.1"), c.wire("w4", "lamp.2", "alt.D")],
        splices=[c.splice("s")],
    )  # fmt: skip
    ground = way(trace(h, "side lamp"), "ground")
    assert not ground.found
    assert "ALT (alternator), terminal D" in ground.missing
    assert way(trace(h, "side lamp", "ground"), "ground").found, "asked for ground alone, the nearest is given"


def test_a_load_earthed_by_its_case_says_so():
    ground = way(trace(c.lit_lamp(), "plate lamp"), "ground")
    assert ground.found
    assert ground.legs[0].notes == ("earthed through its case: its mounting must make clean metal contact",)


def test_a_warning_lamp_is_earthed_through_its_sender_but_never_fed_through_one():
    h = c.harness(
        [c.BATTERY, c.LAMP, c.part("oil", "sensor", "1", name="OIL SENDER", case_ground=True)],
        [c.wire("w1", "bat.+", "lamp.1"), c.wire("w2", "lamp.2", "oil.1")],
    )  # fmt: skip
    ground = way(trace(h, "SIDE LAMP"), "ground")
    assert [leg.kind for leg in ground.legs] == ["wire", "sender"]


def relay(**more):
    return c.harness(
        [
            c.BATTERY, c.part("r", "relay", "30", "87", "85", "86", name="HORN RELAY"), c.part("push", "switch", "1", name="HORN PUSH", case_ground=True),
            c.part("horn", "horn", "1", name="HORN", case_ground=True),
        ],
        [
            c.wire("w1", "bat.+", "s"), c.wire("w2", "s", "r.30"), c.wire("w3", "s", "r.86"), c.wire("w4", "r.85", "push.1"),
            c.wire("w5", "r.87", "horn.1"),
        ],
        splices=[c.splice("s")], **more,
    )  # fmt: skip


def test_a_relay_contact_on_the_way_brings_the_ways_of_its_coil():
    # DIN 72552: 85/86 coil, 30/87 contact.
    t = trace(relay(), "horn")
    assert [leg.kind for leg in way(t, "feed").legs] == ["wire", "contact", "wire", "wire"]
    (control,) = t.controls
    assert control.name == "HORN RELAY"
    assert [(w.goal, passed(w)) for w in control.ways] == [("feed", ["w3", "w1"]), ("ground", ["w4", "push"])]


def test_a_switch_that_stands_open_ends_the_way():
    circuits = Circuits(c.lit_lamp())
    t = circuits.trace("side lamp", positions=circuits.positions([("lamp switch", "off")]))
    assert not way(t, "feed").found
    assert "LAMP SWITCH (switch, page WD-1, zone C5) stands open" in way(t, "feed").missing


def test_a_key_in_one_position_feeds_only_what_hangs_there():
    key = c.part("key", "switch", "C", "A", "R", name="KEY SWITCH", joined=(("C", "A"), ("C", "R")))
    h = c.harness(
        [c.BATTERY, key, c.part("radio", "lamp", "1", name="DIAL", case_ground=True), c.part("fan", "motor", "1", name="FAN", case_ground=True)],
        [c.wire("w1", "bat.+", "key.C"), c.wire("w2", "key.A", "radio.1"), c.wire("w3", "key.R", "fan.1")],
    )  # fmt: skip
    circuits = Circuits(h)
    in_a = circuits.positions([("key switch", "A")])
    assert way(circuits.trace("dial", positions=in_a), "feed").found
    assert not way(circuits.trace("fan", positions=in_a), "feed").found
    assert way(circuits.trace("fan"), "feed").found


@pytest.mark.parametrize(
    ("name", "position", "says"), [("lamp switch", "X", "no position"), ("side lamp", "off", "no contact")]
)
def test_positions_that_cannot_be_are_refused(name: str, position: str, says: str) -> None:
    with pytest.raises(CalledWrongly, match=says):
        Circuits(c.lit_lamp()).positions([(name, position)])


def test_no_way_says_where_the_wire_just_stops():
    h = c.harness(
        [c.BATTERY, c.LAMP],
        [c.wire("w1", "lamp.1", "s", "L1"), c.wire("w2", "s", "", "L7 16 BLU")],
        splices=[c.splice("s")],
    )
    feed = way(trace(h, "side lamp"), "feed")
    assert passed(feed) == ["w1", "w2"]
    assert "L7 16 BLU stops in the open (page WD-1, near zone C5)" in feed.missing
    assert feed.ends.kind == "open end"


def test_no_way_says_that_a_page_edge_has_no_partner():
    h = c.harness(
        [c.BATTERY, c.LAMP], [c.wire("w1", "lamp.1", "", "L7 16 BLU", links=("x",))], links=[c.link("x", ("p1", "right", "C9"), None)],
    )  # fmt: skip
    feed = way(trace(h, "side lamp"), "feed")
    assert "no partner of that page edge" in feed.missing
    assert "no partner" in feed.legs[0].notes[0]


def test_a_part_without_wires_says_so():
    t = trace(c.harness([c.BATTERY, c.LAMP]), "side lamp")
    assert "no wire was read at it" in t.notes
    assert not any(w.found for w in t.ways)


def test_page_turns_are_counted_and_told_in_walking_order():
    links = [
        c.link("x", ("p1", "right", "C14"), ("p2", "left", "C15")),
        c.link("y", ("p2", "right", "D28"), ("p3", "left", "D29")),
    ]
    far = c.wire("w1", "bat.+", "lamp.1", sheets=("p1", "p3"), links=("x", "y"))
    h = c.harness([c.BATTERY, replace(c.LAMP, place=c.place("p3", "E30"))], [far], links=links)
    feed = way(trace(h, "side lamp"), "feed")
    assert feed.page_turns == 2
    told = [(t.leave.page_name, t.leave.zone, t.enter.page_name, t.enter.zone) for t in feed.legs[0].turns]
    assert told == [("WD-3", "D29", "WD-2", "D28"), ("WD-2", "C15", "WD-1", "C14")]


def test_a_wire_over_pages_whose_edges_were_not_read_still_turns_the_page():
    h = c.harness([c.BATTERY, c.LAMP], [c.wire("w1", "bat.+", "lamp.1", sheets=("p1", "p2"))])
    assert way(trace(h, "side lamp"), "feed").page_turns == 1


def test_a_connector_tells_its_cavity_both_halves_and_its_place():
    rows = (Cavity("A", Claim("L2A 18 BLU", 0.9), Claim("L2A 18 YEL", 0.9)),)
    h = c.lit_lamp()
    k = replace(h.connectors[0], cavities=rows, half_names=("PLUG", "SOCKET"))
    leg = way(trace(replace(h, connectors=(k,)), "side lamp"), "feed").legs[1]
    f = leg.fitting
    assert f is not None
    assert (f.label, f.cavity, f.location, f.part) == ("K14", "A", "BEHIND LEFT LAMP", "front")
    assert f.halves == (("SOCKET", "L2A 18 YEL"), ("PLUG", "L2A 18 BLU")), "the half one comes to first stands first"
    assert leg.notes == ("the chart gives L2A 18 BLU and L2A 18 YEL for this cavity, the page shows L2A 18 GRN",)


def test_one_cavity_drawn_twice_is_a_guess_of_last_resort():
    h = c.harness(
        [c.BATTERY, c.part("lamp", "lamp", "1", case_ground=True)],
        [c.wire("w1", "bat.+", "k@1.a1"), c.wire("w2", "k@2.a1", "lamp.1", sheets=("p2", "p2"))],
        [c.connector("K1", c.oval("k@1"), c.oval("k@2", sheet="p2"))],
    )  # fmt: skip
    feed = way(trace(h, "lamp"), "feed")
    assert [leg.kind for leg in feed.legs] == ["wire", "same cavity", "wire"]
    assert feed.legs[1].doubtful
    other = c.oval("k@2", cavities=("B",), sheet="p2")
    apart = replace(h, connectors=(c.connector("K1", c.oval("k@1"), other),))
    assert not way(trace(apart, "lamp"), "feed").found


def test_a_code_is_told_in_words_and_grommets_by_their_labels():
    h = c.lit_lamp(conventions={"circuit L": "side lamps", "colour GRN": "green", "gauge system": "awg"})
    parsed = WireCode("L2A 18 GRN", "L", "2", "A", "18", "GRN", "RED")
    wires = tuple(replace(w, parsed=parsed, grommets=("g9",)) if w.id == "w5" else w for w in h.wires)
    grommets = (Grommet("g9", Claim("GR9", 0.9), (DrawnGrommet("g9@1", c.place(), 0.9, "w5"),)),)
    leg = way(trace(replace(h, wires=wires, grommets=grommets), "side lamp"), "feed").legs[0]
    assert leg.words == "side lamps, 18 AWG, green with RED tracer"
    assert leg.grommets == ("GR9",)


def test_where_paths_part_is_told_with_what_shares_the_feed():
    # A trade fact (common practice, no source): a load that works on the same feed clears the part they share.
    feed = way(trace(c.lit_lamp(), "side lamp"), "feed")
    assert [(b.at.id, b.wire, b.reaches) for b in feed.branches] == [("s1", "w6", ("PLATE LAMP",))]


def test_a_hop_is_to_be_checked_until_a_person_confirmed_it_or_its_page():
    h = c.lit_lamp()
    assert all(leg.check and not leg.confirmed for leg in way(trace(h, "side lamp"), "feed").legs)
    assert not any(leg.check for leg in way(trace(h, "side lamp", done=["p1"]), "feed").legs)
    wires = tuple(replace(w, probability=1.0, code=Claim(w.code.value, 1.0)) if w.id == "w5" else w for w in h.wires)
    assert way(trace(replace(h, wires=wires), "side lamp"), "feed").legs[0].confirmed
    shaky = tuple(replace(w, probability=0.6) if w.id == "w5" else w for w in h.wires)
    assert way(trace(replace(h, wires=shaky), "side lamp", done=["p1"]), "feed").legs[0].check, "doubt outlives a tick"


def test_an_unfused_way_is_noted():
    h = c.harness([c.BATTERY, c.part("lamp", "lamp", "1", case_ground=True)], [c.wire("w", "bat.+", "lamp.1")])
    assert way(trace(h, "lamp"), "feed").notes == ("no fuse is on this way as it is drawn",)


def test_without_a_source_the_nearest_fuse_is_the_feed():
    h = c.harness([c.FUSE, c.part("lamp", "lamp", "1", case_ground=True)], [c.wire("w", "f7.2", "lamp.1")])
    t = trace(h, "lamp")
    assert way(t, "feed").ends.kind == "fuse"
    assert not any(w.goal == "source" for w in t.ways)


def test_a_fuse_of_a_block_may_come_from_any_bar_and_says_so():
    block = c.part("fb", "fuse_block", "x", "y", name="MAIN FUSES")
    h = c.harness(
        [c.BATTERY, block, c.part("f1", "fuse", "2", name="1", parent="fb"), c.part("lamp", "lamp", "1", case_ground=True)],
        [c.wire("w1", "bat.+", "fb.x"), c.wire("w2", "f1.2", "lamp.1")],
    )  # fmt: skip
    t = trace(h, "lamp")
    assert way(t, "feed").ends.about == "in MAIN FUSES"
    source = way(t, "source")
    assert source.found
    assert "which bar" in source.legs[0].notes[0]
    assert trace(h, "main fuses 1").start == replace(way(t, "feed").ends, terminal="2", spot=trace(h, "f1").start.spot)


def test_a_switch_tells_what_it_serves_and_what_feeds_it():
    t = trace(c.lit_lamp(), "lamp switch")
    assert t.serves == ("PLATE LAMP", "SIDE LAMP")
    assert passed(way(t, "feed")) == ["w2"]
    assert not any(w.goal == "ground" for w in t.ways)


@pytest.mark.parametrize("asked", ["K14 A", "k14", "k@1.1", "w4", "L2A 18 BLU", "s1", "sw.2", "LAMP SWITCH 2"])
def test_a_trace_starts_from_connectors_wires_splices_and_terminals_too(asked: str) -> None:
    t = trace(c.lit_lamp(), asked)
    feed = way(t, "feed")
    assert feed.found
    assert feed.ends.name == "7"


def test_a_wire_drawn_in_two_through_a_connector_is_one_circuit():
    h = c.lit_lamp()
    one_code = tuple(replace(w, code=Claim("L2A 18 BLU", 0.9)) if w.id == "w5" else w for w in h.wires)
    t = trace(replace(h, wires=one_code), "L2A 18 BLU")
    assert t.start is not None
    assert "2 wires that connectors join" in t.notes[0]


def test_an_ambiguous_name_lists_candidates_that_can_be_asked_for():
    h = c.harness(
        [c.part("a", "lamp", "1", name="FAN", zone="B2"), c.part("b", "motor", "1", name="FAN", zone="A1", sheet="p2")]
    )
    t = trace(h, "fan")
    assert t.start is None
    assert t.ways == ()
    assert [(x.ask, x.kind, x.spot.zone) for x in t.candidates] == [("a", "lamp", "B2"), ("b", "motor", "A1")]
    assert trace(h, "b").start is not None
    assert trace(h, "FAN A1").start.id == "b"


def test_a_zone_means_the_parts_in_it():
    h = c.harness([c.part("a", "lamp", "1", name="FAN", zone="B2"), c.part("b", "lamp", "1", name="HORN", zone="A1")])
    assert trace(h, "b2").start.name == "FAN"
    assert trace(h, "zone A1").start.name == "HORN"


@pytest.mark.parametrize("typed", ["SIDE LAMP", "side  lamp", "5IDE LAMP", "lamp side", "sid la", "SIED LAMP"])
def test_names_are_forgiving(typed: str) -> None:
    assert trace(c.lit_lamp(), typed).start.id == "lamp"


def test_an_unknown_name_offers_the_nearest():
    with pytest.raises(NotFound, match=r"Nearest: .*SIDE LAMP") as caught:
        trace(c.lit_lamp(), "SIDE INDICATOR LAMPS")
    assert caught.value.exit_code == 7


@pytest.mark.parametrize(
    "name", ["A\nB", "\x1b[31mRED", "", " ", "x" * 5000, "'; DROP TABLE", "🚗 HUPE", "\u202eREVERSED"]
)
def test_hostile_names_are_only_names(name: str) -> None:
    from digitize.trace.told import trace_as_text

    h = c.harness([c.BATTERY, replace(c.LAMP, name=Claim(name, 0.9))], [c.wire("w", "bat.+", "lamp.1", code=name)])
    told = trace_as_text(trace(h, "lamp"))
    assert all(ch.isprintable() or ch == "\n" for ch in told)
    if name.strip():
        with pytest.raises(NotFound):
            trace(c.lit_lamp(), name)
