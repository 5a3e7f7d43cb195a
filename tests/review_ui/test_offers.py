"""A question about lines offers what a person would do there, and every offer can be carried out as it stands."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from digitize.harness.checks import find_all
from digitize.harness.edits_apply import apply
from digitize.harness.edits_find import nearest
from digitize.harness.model import Component, Finding, Harness, PrintedText, SheetPath, Terminal, Wire, WireEnd
from digitize.harness.place import Box, Place, Point
from digitize.legend.conventions import Conventions
from fixtures.small_harness import claim, small_facts, small_harness
from review_ui.doubts import Doubt, queue
from review_ui.drawing import Pen
from review_ui.offers import MOST, Offer, Offers
from review_ui.orders import (
    OrderAccept,
    OrderCode,
    OrderConfirm,
    OrderJoin,
    OrderMoveEnd,
    OrderPart,
    OrderPlain,
    OrderSplice,
    OrderWire,
)
from review_ui.scribe import Scribe
from review_ui.surroundings import Spread, Surroundings, foot_of

SHEET = "page_01"


def asked(harness: Harness) -> list[Doubt]:
    return queue(replace(harness, findings=find_all(harness, lambda _: None)))


def offers(harness: Harness, doubt: Doubt) -> list[Offer]:
    harness = replace(harness, findings=find_all(harness, lambda _: None))
    return Offers(harness, lambda sheet, at: Pen(small_facts(sheet)).pixel(at)).of(doubt)


def about(harness: Harness, check: str) -> Doubt:
    return next(d for d in asked(harness) if d.kind == "finding" and d.targets[0].startswith(check))


def done(harness: Harness, offer: Offer) -> Harness:
    for edit in Scribe(harness, Conventions(), small_facts).edits(offer.order):
        harness, effect = apply(harness, edit)
        assert effect.status == "applied", effect.says
    return harness


def text(code: str, x0: float, y0: float, x1: float, y1: float, role: str = "code") -> PrintedText:
    return PrintedText(code, role, Place(SHEET, Box(x0, y0, x1, y1), "C2"), 0.95)


def loose_wire(id_: str, *points: Point, code: str | None = None, probability: float = 0.3) -> Wire:
    ends = (WireEnd(None, None, SHEET, points[0]), WireEnd(None, None, SHEET, points[-1]))
    return Wire(id_, claim(code, 0.95), None, ends, (SheetPath(SHEET, points),), probability)


def lamp(id_: str, x: float, y: float, *terminals: Terminal) -> Component:
    place = Place(SHEET, Box(x - 5, y - 5, x + 5, y + 5), "C2")
    return Component(id_, "lamp", claim(id_, 0.95), place, terminals, 0.95)


def bare(*, parts: tuple[Component, ...] = (), wires: tuple[Wire, ...] = (), texts: tuple[PrintedText, ...] = ()):
    """A sheet with these things alone."""
    sheets = small_harness().sheets
    parts, wires = tuple(sorted(parts, key=lambda p: p.id)), tuple(sorted(wires, key=lambda w: w.id))
    return Harness("own", sheets, parts, wires=wires, texts=texts)


def test_a_loose_end_is_offered_the_loose_end_next_to_it():
    harness = small_harness()
    first = offers(harness, about(harness, "dangling-end/w5"))[0]
    assert isinstance(first.order, OrderJoin)
    assert {first.order.first.wire, first.order.second.wire} == {"w5", "w6"}
    assert "w6" not in {w.id for w in done(harness, first).wires}


def test_every_question_about_lines_ends_with_leaving_it_as_it_is_and_has_a_key_for_each_answer():
    harness = small_harness()
    shaky = tuple(replace(w, probability=0.4) for w in harness.wires)
    harness = replace(harness, wires=shaky)
    questions = [d for d in asked(harness) if d.kind in {"ends", "finding"}]
    assert questions
    for doubt in questions:
        given = offers(harness, doubt)
        assert 1 <= len(given) <= MOST
        assert isinstance(given[-1].order, OrderAccept | OrderConfirm)
        assert len({o.says for o in given}) == len(given) or len({str(o.order) for o in given}) == len(given)


def test_a_line_goes_on_behind_the_code_that_interrupts_it_and_takes_its_code():
    part = lamp("HEATER", 100, 50)
    wire = loose_wire("w", (40, 50), (60, 50))
    harness = bare(parts=(part,), wires=(wire,), texts=(text("S1 14 RED", 61, 48, 85, 52),))
    doubt = next(d for d in asked(harness) if d.targets == ("dangling-end/w/end 2",))
    first = offers(harness, doubt)[0]
    assert "past the lettering" in first.says
    assert isinstance(first.order, OrderWire)
    after = done(harness, first)
    (mended,) = after.wires
    assert mended.code.value == "S1 14 RED"
    (heater,) = after.components
    assert [t.at for t in heater.terminals] == [pytest.approx((95, 50))], "the terminal that was missed is there now"
    assert {e.node for e in mended.ends} == {None, "HEATER"}


def test_a_code_without_a_line_is_offered_the_wire_between_what_stands_at_its_ends():
    left, right = lamp("A", 30, 50), lamp("B", 100, 50, Terminal("1", (95, 50)))
    harness = bare(parts=(left, right), texts=(text("S1 14 RED", 45, 48, 80, 52),))
    first = offers(harness, about(harness, "code-on-no-wire"))[0]
    (wire,) = done(harness, first).wires
    assert {e.node for e in wire.ends} == {"A", "B"}
    assert wire.code.value == "S1 14 RED"
    assert "code-on-no-wire" not in {f.check for f in find_all(done(harness, first), lambda _: None)}, (
        "what was missed is not asked about again"
    )


def test_lines_that_change_their_codes_where_they_cross_are_offered_a_dot_there():
    level, upright = loose_wire("a", (40, 50), (90, 50)), loose_wire("b", (60, 20), (60, 80))
    places = tuple(Place(SHEET, Box(x - 1, 49, x + 1, 51), None) for x in (60.0, 75.0))
    told = Finding(
        "codes-change-at-crossing/a/b", "codes-change-at-crossing", "doubt", "a", "They cross.", "Look.", places
    )
    harness = replace(bare(wires=(level, upright)), findings=(told,))
    doubt = next(d for d in queue(harness) if d.targets == (told.id,))
    given = Offers(harness, lambda sheet, at: Pen(small_facts(sheet)).pixel(at)).of(doubt)
    assert [type(o.order) for o in given] == [OrderSplice, OrderSplice, OrderAccept], "each crossing, and nothing"
    after = done(harness, given[0])
    [dot] = after.splices
    assert dot.at == pytest.approx((60, 50), abs=0.1)
    assert len(after.wires) == 4, "all four meet there"


def test_a_code_beside_a_line_without_one_is_offered_to_that_line():
    wire = replace(loose_wire("w", (40, 55), (90, 55)), code=claim(None, 0.5))
    wire = replace(wire, ends=(replace(wire.ends[0], at=(40, 55)), replace(wire.ends[1], at=(90, 55))))
    harness = bare(wires=(wire,), texts=(text("S1 14 RED", 45, 48, 80, 52),))
    given = offers(harness, about(harness, "code-on-no-wire"))
    assert any(isinstance(o.order, OrderCode) and o.order.targets == ("w",) for o in given)


def test_a_line_at_the_rim_of_a_part_is_offered_to_pass_it():
    corners = (Terminal("3", (45, 55)), Terminal("4", (55, 55)))
    part = lamp("L", 50, 50, Terminal("1", (45, 50)), Terminal("2", (55, 50)), *corners)

    def hung(id_: str, far: Point, terminal: Terminal) -> Wire:
        wire = loose_wire(id_, far, terminal.at, probability=0.95)
        return replace(wire, ends=(wire.ends[0], replace(wire.ends[1], node="L", terminal=terminal.id)))

    wires = [
        hung("w1", (20, 55), corners[0]),
        hung("w2", (80, 55), corners[1]),
        hung("w3", (20, 50), part.terminals[0]),
    ]
    harness = bare(parts=(part,), wires=tuple(wires))
    first, *_, last = offers(harness, about(harness, "line-past-part"))
    assert isinstance(first.order, OrderJoin)
    assert {w.id for w in done(harness, first).wires} & {"w1", "w2"} in ({"w1"}, {"w2"})
    assert isinstance(last.order, OrderConfirm)
    kept = done(harness, last)
    assert len([f for f in find_all(kept, lambda _: None) if f.check == "line-past-part"]) == 1, (
        "only the other wire is left"
    )


def test_a_line_that_stops_beside_a_body_is_offered_to_end_there_wherever_it_points():
    """The last mm of the line turns away from the body, 1.1 mm below its rim; its other terminal has its wire."""
    part, taken = lamp("L", 50, 50, Terminal("1", (45, 55))), loose_wire("x", (45, 80), (45, 55))
    taken = replace(taken, ends=(taken.ends[0], WireEnd("L", "1", SHEET, (45, 55))))
    wire = loose_wire("w", (80, 55.2), (55, 55.2), (54.8, 56.1), code="S1 14 RED")
    harness = bare(parts=(part,), wires=(wire, taken))
    doubt = next(d for d in asked(harness) if d.targets == ("dangling-end/w/end 2",))
    [home] = [o for o in offers(harness, doubt) if isinstance(o.order, OrderMoveEnd) and o.order.to]
    assert "L" in home.says
    assert next(w for w in done(harness, home).wires if w.id == "w").ends[1].node == "L"
    away = replace(
        wire,
        paths=(SheetPath(SHEET, ((80, 55.2), (55, 55.2), (54.8, 58.1))),),
        ends=(wire.ends[0], WireEnd(None, None, SHEET, (54.8, 58.1))),
    )
    harness = bare(parts=(part,), wires=(away, taken))
    doubt = next(d for d in asked(harness) if d.targets == ("dangling-end/w/end 2",))
    assert not [o for o in offers(harness, doubt) if isinstance(o.order, OrderMoveEnd) and o.order.to], "3 mm off"


def test_a_part_under_its_name_is_offered_where_lines_stop():
    wires = (loose_wire("a", (20, 60), (50, 60)), loose_wire("b", (64, 60), (90, 60)))
    harness = bare(
        wires=wires, texts=(text("STOP LAMP", 48, 48, 66, 51, "name"), text("SWITCH", 50, 52, 64, 55, "name"))
    )
    doubt = next(d for d in asked(harness) if d.targets[0].startswith("dangling-end/a/end 2"))
    offer = next(o for o in offers(harness, doubt) if isinstance(o.order, OrderPart))
    assert isinstance(offer.order, OrderPart)
    assert (offer.order.kind, offer.order.name) == ("switch", "STOP LAMP SWITCH")
    (part,) = done(harness, offer).components
    assert len(part.terminals) == 2


def test_the_lever_of_a_switch_is_no_wire():
    wire = loose_wire("w", (20, 60), (50, 60), (58, 54))
    assert foot_of(wire, 1) == (50, 60)
    assert foot_of(wire, 0) == (20, 60)
    chamfered = loose_wire("w", (20, 60), (50, 60), (51, 59))
    assert foot_of(chamfered, 1) == (51, 59), "a corner that is cut off is wire"


def test_a_false_dot_and_a_false_oval_can_be_taken_away_from_the_question_about_a_wire():
    harness = small_harness()
    harness = replace(harness, wires=tuple(replace(w, probability=0.4) if w.id == "w4" else w for w in harness.wires))
    doubt = next(d for d in asked(harness) if d.kind == "ends" and d.targets == ("w4",))
    removed = {
        o.order.target for o in offers(harness, doubt) if isinstance(o.order, OrderPlain) and o.order.do == "remove"
    }
    assert removed == {"C101@1", "C101@2"}


def test_an_end_that_runs_to_the_page_edge_is_not_loose():
    harness = small_harness()
    around = Surroundings(harness)
    assert [around.loose(w) for w in harness.wires if w.id in {"w4", "w5"}] == [[], [1]]


def test_a_missed_half_of_a_connector_gets_its_terminal_back():
    harness = small_harness()
    oval = harness.connectors[1].places[0]
    half = replace(oval, terminals=(oval.terminals[0],))
    harness = replace(harness, connectors=(harness.connectors[0], replace(harness.connectors[1], places=(half,))))
    wire = loose_wire("w9", (90, 110), (66, 110))
    harness = replace(harness, wires=(*harness.wires, wire))
    order = OrderMoveEnd.model_validate(
        {
            "do": "move_end", "target": "w9", "end": 1, "sheet": SHEET, "to": {"node": "C205@1", "terminal": "new"},
            "at": Pen(small_facts(SHEET)).pixel(oval.terminals[1].at),
        }
    )  # fmt: skip
    after = done(harness, Offer("", order))
    place = after.connectors[1].places[0]
    assert [t.id for t in place.terminals] == ["a1", "b1"]
    assert next(w for w in after.wires if w.id == "w9").ends[1].terminal == "b1"


def moved(harness: Harness, by: float = 0.8) -> Harness:
    """The same pages digitized again: other ids of parts and wires, everything ``by`` mm to the right."""

    def shift(p: Point) -> Point:
        return (p[0] + by, p[1])

    def place(p: Place) -> Place:
        return replace(p, box=Box(p.box.x0 + by, p.box.y0, p.box.x1 + by, p.box.y1))

    parts = tuple(
        replace(
            c, id=f"{c.id}-2", place=place(c.place), terminals=tuple(replace(t, at=shift(t.at)) for t in c.terminals)
        )
        for c in harness.components
    )
    wires = tuple(
        replace(
            w,
            id=f"{w.id}-2",
            ends=tuple(replace(e, at=shift(e.at), node=e.node and f"{e.node}-2") for e in w.ends),
            paths=tuple(replace(p, points=tuple(map(shift, p.points))) for p in w.paths),
        )
        for w in harness.wires
    )
    texts = tuple(replace(t, place=place(t.place)) for t in harness.texts)
    return replace(harness, components=parts, wires=wires, texts=texts, findings=())


@pytest.mark.parametrize("check", ["code-on-no-wire", "dangling-end/w/end 2"])
def test_an_offer_that_was_taken_holds_after_the_pages_are_digitized_again(check: str):
    lost = check == "code-on-no-wire"
    harness = bare(
        parts=(lamp("A", 30, 50), lamp("B", 100, 50)),
        wires=() if lost else (loose_wire("w", (70, 50), (88, 50)),),
        texts=(text("S1 14 RED", 45, 48, 80, 52),) if lost else (),
    )
    doubt = about(harness, check)
    edits = Scribe(replace(harness, findings=find_all(harness, lambda _: None)), Conventions(), small_facts).edits(
        offers(harness, doubt)[0].order
    )
    again = moved(harness)
    for edit in edits:
        again, effect = apply(again, edit)
        assert effect.status == "applied", effect.says
    (wire,) = again.wires
    assert {e.node for e in wire.ends} <= {"A-2", "B-2", None}
    assert "B-2" in {e.node for e in wire.ends}


def test_a_line_that_stops_at_the_border_is_offered_the_one_that_begins_overleaf():
    over = loose_wire("b", (6, 62), (60, 62), code="S1 14 RED")
    over = replace(
        over,
        ends=tuple(replace(e, sheet="page_02") for e in over.ends),
        paths=(SheetPath("page_02", over.paths[0].points),),
    )
    harness = bare(wires=(loose_wire("a", (90, 60), (194, 60), code="S1 14 RED"), over))
    doubt = next(d for d in asked(harness) if d.targets == ("dangling-end/a/end 2",))
    first = offers(harness, doubt)[0]
    assert "overleaf" in first.says
    (wire,) = done(harness, first).wires
    assert [p.sheet for p in wire.paths] == [SHEET, "page_02"]


@given(
    st.lists(st.tuples(*[st.floats(-50, 50, allow_nan=False)] * 4), max_size=30),
    st.tuples(st.floats(-60, 60), st.floats(-60, 60)),
    st.floats(0, 40),
)
def test_whatever_comes_within_reach_is_looked_at(
    pieces: list[tuple[float, float, float, float]], at: tuple[float, float], reach: float
) -> None:
    found = Spread(pieces, [((a, b), (c, d)) for a, b, c, d in pieces]).within(at, reach)
    near = [p for p in pieces if nearest(((p[0], p[1]), (p[2], p[3])), at)[0] <= reach]
    assert [p for p in found if p in near] == near
    assert all(min(p[0], p[2]) - reach <= at[0] <= max(p[0], p[2]) + reach for p in found)
