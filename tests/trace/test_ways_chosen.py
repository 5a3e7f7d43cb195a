"""Which of several ways is told, and what is said of a way that cannot be meant."""

from __future__ import annotations

from dataclasses import replace

from digitize.trace.follow import Circuits

from . import circuits as c


def test_of_two_fuses_equally_near_the_one_nearer_to_the_source_is_told():
    # battery - splice - fuse a - lamp; the lamp's wire also leads on to a farther fuse b over a part without a feed
    h = c.harness(
        [c.BATTERY, c.part("fa", "fuse", "1", "2", name="1"), c.part("fb", "fuse", "1", "2", name="2"), c.LAMP],
        [
            c.wire("w1", "bat.+", "fa.1"), c.wire("w2", "fa.2", "lamp.1"), c.wire("w3", "lamp.1", "fb.1"),
            c.wire("w4", "lamp.2", "g.1"),
        ],
        grounds=[c.ground("g")],
    )  # fmt: skip
    for name in ("fa", "fb"):  # whatever their ids: names do not decide
        swapped = {"fa": "fz", "fb": "fb"} if name == "fa" else {"fa": "fa", "fb": "fb"}
        parts = tuple(replace(p, id=swapped.get(p.id, p.id)) for p in h.components)
        wires = tuple(
            replace(w, ends=tuple(replace(e, node=swapped.get(e.node or "", e.node)) for e in w.ends)) for w in h.wires
        )
        way = Circuits(replace(h, components=parts, wires=wires)).trace("SIDE LAMP", "fuse").ways[0]
        assert way.ends.name == "1"


def test_a_ground_that_is_only_reached_back_over_the_feed_is_told_as_no_return():
    # both ends of the valve go to a module fed by one wire; the only ground lies behind another load's contacts on that wire
    h = c.harness(
        [
            c.BATTERY, c.FUSE, c.part("unit", "module", "1", "6", "7", name="IDLE UNIT", joined=(("1", "6"), ("1", "7"))),
            c.part("valve", "solenoid", "1", "2", name="AIR VALVE"), c.part("points", "sensor", "1", name="POINTS", case_ground=True),
        ],
        [
            c.wire("w1", "bat.+", "f7.1"), c.wire("w2", "f7.2", "s1"), c.wire("w3", "s1", "unit.1"), c.wire("w4", "s1", "points.1"),
            c.wire("w5", "unit.6", "valve.1"), c.wire("w6", "unit.7", "valve.2"),
        ],
        splices=[c.splice("s1")],
    )  # fmt: skip
    ground = next(w for w in Circuits(h).trace("AIR VALVE").ways if w.goal == "ground")
    assert any("runs back over the feed" in n and "IDLE UNIT" in n for n in ground.notes)
    ordinary = next(w for w in Circuits(c.lit_lamp()).trace("SIDE LAMP").ways if w.goal == "ground")
    assert ordinary.notes == ()
