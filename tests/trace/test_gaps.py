"""Promises about ways that go on over a gap of the reading: taken only where nothing drawn leads on, always as a doubt."""

from __future__ import annotations

from dataclasses import replace

import pytest

from digitize.harness.model import Component, Harness, Terminal, Wire, WireEnd
from digitize.harness.place import Box, Place
from digitize.trace.advice import Told, advise
from digitize.trace.follow import Circuits
from digitize.trace.gaps import LOOSE_END, over_gaps
from digitize.trace.network import Positions
from digitize.trace.state import Way
from digitize.trace.told import trace_as_text

from . import circuits as c


def loose(w: Wire, which: int, at: tuple[float, float]) -> Wire:
    """The wire with one end in the open at a point of its sheet."""
    ends = list(w.ends)
    ends[which] = WireEnd(None, None, ends[which].sheet, at)
    return replace(w, ends=(ends[0], ends[1]))


def lit(*wires: Wire, more: tuple[Component, ...] = ()) -> Harness:
    """A lamp with its earth, a fuse at the battery, and these wires between."""
    return Harness(
        "own", c.SHEETS, (c.BATTERY, c.FUSE, c.part("lamp", "lamp", "1", "2"), *more), (), (), (), (c.ground("g"),),
        (c.wire("w0", "bat.+", "f7.1", "P1"), *wires, c.wire("w9", "lamp.2", "g.1", "E1")),
    )  # fmt: skip


def feed(h: Harness) -> Way:
    return next(w for w in Circuits(h).trace("lamp", "fuse").ways)


FROM_FUSE = c.wire("w1", "f7.2", "", "S4 16 RED")
TO_LAMP = c.wire("w2", "", "lamp.1", "S4 16 RED")


def test_two_loose_ends_that_alone_carry_one_code_are_one_wire_with_a_doubt():
    way = feed(lit(loose(FROM_FUSE, 1, (60, 40)), loose(TO_LAMP, 0, (95, 40))))
    assert way.found
    [gap] = [leg for leg in way.legs if leg.kind == "gap"]
    assert gap.doubtful
    assert not gap.confirmed
    assert gap.probability <= 0.5
    assert "35 mm" in gap.notes[0]
    assert "S4 16 RED" in gap.notes[0]


@pytest.mark.parametrize("spoil", ["a third loose end", "another code", "a doubtful code"])
def test_no_way_is_guessed_where_the_codes_do_not_say_it(spoil: str):
    one, other = loose(FROM_FUSE, 1, (60, 40)), loose(TO_LAMP, 0, (95, 40))
    more: tuple[Wire, ...] = ()
    if spoil == "a third loose end":
        more = (loose(c.wire("w5", "f7.2", "", "S4 16 RED"), 1, (60, 90)),)
    elif spoil == "another code":
        other = replace(other, code=replace(other.code, value="S5 16 RED"))
    else:
        other = replace(other, code=replace(other.code, probability=0.6))
    way = feed(lit(one, other, *more))
    assert not way.found
    assert "stops in the open" in way.missing


def switch(x: float, *terminals: str) -> Component:
    made = tuple(Terminal(t, (x, 40.0 + 2 * i), t) for i, t in enumerate(terminals))
    return replace(
        c.part("sw", "switch", name="LAMP SWITCH"), place=Place("p1", Box(x, 38, x + 6, 44), "C7"), terminals=made
    )


@pytest.mark.parametrize(("short", "found"), [(1.3, True), (2.4, True), (2.7, False)])
def test_a_loose_end_that_just_misses_a_part_goes_on_in_it(short: float, found: bool):
    h = lit(
        loose(FROM_FUSE, 1, (60 - short, 41)), c.wire("w2", "sw.1", "lamp.1", "S5 16 RED"), more=(switch(60.0, "1"),)
    )
    way = feed(h)
    assert way.found == found
    if found:
        assert f"{short:.1f} mm before LAMP SWITCH" in next(leg for leg in way.legs if leg.kind == "gap").notes[0]
        assert LOOSE_END in trace_as_text(Circuits(h).trace("lamp", "fuse"))


def test_a_drawn_way_is_never_left_for_a_gap_however_long_it_is():
    chain = [c.wire(f"k{i}", f"s{i}", f"s{i + 1}", f"S{i}9") for i in range(30)]
    h = lit(
        c.wire("a", "f7.2", "s0", "S9"), *chain, c.wire("b", "s30", "lamp.1", "S8"),
        loose(FROM_FUSE, 1, (60, 40)), loose(TO_LAMP, 0, (95, 40)),
    )  # fmt: skip
    h = replace(h, splices=tuple(c.splice(f"s{i}") for i in range(31)))
    way = feed(h)
    assert way.found
    assert all(leg.kind != "gap" for leg in way.legs)


def test_a_part_that_has_all_its_wires_gets_none_more():
    h = lit(c.wire("w1", "f7.2", "lamp.1", "S4"), loose(c.wire("x", "f7.2", "", "S7 16 RED"), 1, (109.0, 12.0)))
    parts = tuple(replace(x, place=c.place(x=100.0)) if x.id == "lamp" else x for x in h.components)
    h = replace(h, components=parts)
    assert over_gaps(h) == (h, ())
    fewer = replace(h, wires=tuple(w for w in h.wires if w.id != "w9"))
    grown, gaps = over_gaps(fewer)
    assert [g.other for g in gaps] == [("lamp", "loose1")], "with one wire alone it may be the one that was missed"
    assert grown != fewer


def test_a_fault_is_found_behind_a_gap_too_but_never_in_it():
    h = lit(loose(FROM_FUSE, 1, (60, 40)), loose(TO_LAMP, 0, (95, 40)))
    circuits = Circuits(h)
    advice = advise(circuits, Told(dark=["lamp"]), Positions())
    assert advice.told_something, "the lamp would be lit in a healthy circuit"
    assert {s.fault.kind for s in advice.ranking.suspects if s.fault is not None} >= {"fuse open", "load open"}


@pytest.mark.parametrize(("earthed", "found"), [(False, True), (True, False)])
def test_a_plain_box_in_the_line_is_passed_as_a_doubt_unless_it_is_earthed(earthed: bool, found: bool):
    unit = c.part("unit", "module", "1", "2", name="FLASHER UNIT")
    wires = [c.wire("w1", "f7.2", "unit.1", "S4"), c.wire("w2", "unit.2", "s", "S5"), c.wire("w3", "s", "lamp.1", "S6")]
    if earthed:
        wires.append(c.wire("w4", "s", "g.1", "E2"))
    h = replace(lit(*wires, more=(unit,)), splices=(c.splice("s"),))
    way = feed(h)
    assert way.found == found
    if found:
        assert any(leg.doubtful and leg.kind == "inside" for leg in way.legs)
