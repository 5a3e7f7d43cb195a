"""Edits: each does what it promises, finds its object again, and leaves a sound harness."""

from __future__ import annotations

from dataclasses import replace

import pytest

from digitize.harness.edits import (
    AcceptFinding,
    AddConnector,
    AddSplice,
    AddWire,
    Anchor,
    Confirm,
    Cut,
    DeleteWire,
    Edit,
    EndRef,
    Hook,
    JoinEnds,
    MarkSheet,
    MoveEnd,
    NotReadable,
    Recorded,
    RemovePart,
    RemoveSplice,
    Rename,
    SetCode,
    SetConnector,
    SetKind,
    SetPartner,
    SetZone,
)
from digitize.harness.edits_apply import apply, replay
from digitize.harness.edits_check import validate
from digitize.harness.edits_find import look_up, stands
from digitize.harness.model import Harness, Wire
from digitize.harness.place import Box
from digitize.harness.story import story
from fixtures.small_harness import small_harness, with_new_ids


def anchor_of(harness: Harness, target: str) -> Anchor:
    stand = look_up(harness, target)
    assert stand is not None
    return stand.anchor()


def wire(harness: Harness, wire_id: str) -> Wire:
    return next(w for w in harness.wires if w.id == wire_id)


def set_code(harness: Harness, target: str, code: str | None) -> SetCode:
    return SetCode(target=target, anchor=anchor_of(harness, target), code=code)


def end_ref(harness: Harness, wire_id: str, end: int) -> EndRef:
    w = wire(harness, wire_id)
    return EndRef(wire_id, end, Anchor("wire", w.ends[end].sheet, w.ends[end].at, w.code.value))


def book(*edits: Edit) -> list[Recorded]:
    return [Recorded(i, i, "tester", "2026-01-01T00:00:00Z", 0, "active", e) for i, e in enumerate(edits, 1)]


def test_a_corrected_code_is_certain_and_keeps_what_was_believed_before():
    harness = small_harness()
    new, effect = apply(harness, set_code(harness, "w2", "L1 1.0 GN-WH"), "review by tester")
    code = wire(new, "w2").code
    assert (code.value, code.probability) == ("L1 1.0 GN-WH", 1.0)
    assert [e.kind for e in code.evidence] == ["read", "person"]
    assert code.evidence[-1].by == "review by tester"
    assert "L7 1.0 GN-WH" in [a.text for a in code.alternatives]
    assert (effect.status, effect.before, effect.after) == ("applied", "L7 1.0 GN-WH", "L1 1.0 GN-WH")
    assert wire(harness, "w2").code.value == "L7 1.0 GN-WH", "the old harness is untouched"


def test_an_edit_finds_its_wire_by_place_when_the_ids_are_new():
    harness = small_harness()
    edit = set_code(harness, "w2", "L1 1.0 GN-WH")
    again = with_new_ids(harness, shift=1.5)
    new, effect = apply(again, edit)
    assert effect.status == "applied"
    assert wire(new, "nw2").code.value == "L1 1.0 GN-WH"


def test_an_id_that_fell_to_another_wire_does_not_catch_the_edit():
    harness = small_harness()
    edit = set_code(harness, "w1", "A1 5.0 RD")
    swap = {"w1": "w2", "w2": "w1"}
    again = replace(
        harness, wires=tuple(sorted((replace(w, id=swap.get(w.id, w.id)) for w in harness.wires), key=lambda w: w.id))
    )
    new, _ = apply(again, edit)
    assert wire(new, "w2").code.value == "A1 5.0 RD"
    assert wire(new, "w1").code.value == "L7 1.0 GN-WH"


def test_an_edit_whose_object_is_gone_is_reported_and_changes_nothing():
    harness = small_harness()
    edit = set_code(harness, "w7", "Z7 0.8 BK")
    without = replace(harness, wires=tuple(w for w in harness.wires if w.id != "w7"))
    new, effect = apply(without, edit)
    assert effect.status == "orphaned"
    assert "Z7 0.8 BK" in effect.says
    assert new == without
    reviewed = replay(without, book(edit))
    assert [r.edit for r, _ in reviewed.orphans] == [edit]


def test_a_misread_oval_joins_the_connector_it_belongs_to():
    harness = small_harness()
    edit = SetConnector(target="C205@1", anchor=anchor_of(harness, "C205@1"), label="C101")
    new, effect = apply(harness, edit)
    assert effect.status == "applied"
    assert [c.id for c in new.connectors] == ["C101"]
    assert [p.id for p in new.connectors[0].places] == ["C101@1", "C101@2", "C205@1"]
    assert validate(new) == []


def test_a_connector_id_without_a_namesake_just_changes():
    harness = small_harness()
    new, _ = apply(harness, SetConnector(target="C205@1", anchor=anchor_of(harness, "C205@1"), label="C205"))
    assert {c.label.value for c in new.connectors} == {"C101", "C205"}
    assert validate(new) == []


def test_one_oval_of_many_can_leave_its_connector():
    harness = small_harness()
    new, _ = apply(harness, SetConnector(target="C101@2", anchor=anchor_of(harness, "C101@2"), label="C107"))
    assert {c.label.value: [p.id for p in c.places] for c in new.connectors} == {
        "C101": ["C101@1"], "C107": ["C101@2"], "C2O5": ["C205@1"],
    }  # fmt: skip
    assert validate(new) == []


def test_joining_two_loose_ends_makes_one_wire_between_their_far_ends():
    harness = small_harness()
    edit = JoinEnds(
        target="w5", anchor=anchor_of(harness, "w5"), first=end_ref(harness, "w5", 1), second=end_ref(harness, "w6", 0)
    )
    new, effect = apply(harness, edit)
    assert effect.status == "applied"
    joined = wire(new, "w5")
    assert [e.node for e in joined.ends] == ["s1", "C101@1"]
    assert joined.code.value == "L8 0.8 BK", "the only code that is printed on either"
    assert joined.paths[0].points[1:3] == ((110, 44), (110, 46))
    assert all(w.id != "w6" for w in new.wires)
    assert validate(new) == []


def test_the_two_ends_of_one_wire_cannot_be_joined():
    harness = small_harness()
    edit = JoinEnds(
        target="w5", anchor=anchor_of(harness, "w5"), first=end_ref(harness, "w5", 0), second=end_ref(harness, "w5", 1)
    )
    new, effect = apply(harness, edit)
    assert effect.status == "refused"
    assert new == harness


def test_a_missing_join_at_a_crossing_cuts_both_wires_there():
    harness = small_harness()
    edit = AddSplice(target="hand-s", anchor=Anchor("splice", "page_01", (135.2, 60.1)))
    new, effect = apply(harness, edit)
    assert effect.status == "applied"
    splice = next(s for s in new.splices if s.id == "hand-s")
    assert splice.degree == 4
    at_it = sorted(w.id for w in new.wires for e in w.ends if e.node == "hand-s")
    assert at_it == ["w3", "w3/2", "w4", "w4/2"]
    assert wire(new, "w4").links == (), "the page edge lies on the right-hand part"
    assert wire(new, "w4/2").links == ("l1",)
    assert wire(new, "w3").grommets == ("gr1",), "the grommet sits before the cut"
    assert validate(new) == []


def test_taking_that_join_back_gives_the_two_wires_again():
    harness = small_harness()
    joined, _ = apply(harness, AddSplice(target="hand-s", anchor=Anchor("splice", "page_01", (135.0, 60.0))))
    edit = RemoveSplice(target="hand-s", anchor=anchor_of(joined, "hand-s"))
    new, effect = apply(joined, edit)
    assert effect.status == "applied"
    ends = {frozenset(e.node for e in w.ends) for w in new.wires}
    assert ends == {frozenset(e.node for e in w.ends) for w in harness.wires}
    assert len(new.wires) == len(harness.wires)
    assert validate(new) == []


def test_a_join_where_nothing_passes_is_reported():
    harness = small_harness()
    new, effect = apply(harness, AddSplice(target="hand-s", anchor=Anchor("splice", "page_01", (20.0, 120.0))))
    assert effect.status == "orphaned"
    assert new == harness


def test_a_join_where_the_path_of_a_wire_begins_far_from_its_end_is_refused_and_changes_nothing():
    harness = small_harness()
    at = wire(harness, "w1").ends[1].at
    far = (Hook("battery", "1", anchor_of(harness, "battery")), None)
    hand = AddWire(target="hand-w", anchor=Anchor("wire", "page_01", at), points=(at, (0.0, 0.0)), ends=far)
    drawn, _ = apply(harness, hand)
    new, effect = apply(drawn, AddSplice(target="hand-s", anchor=Anchor("splice", "page_01", at), reach=0.5))
    assert effect.status == "refused"
    assert "already its end" in effect.says
    assert new == drawn


def test_a_cut_leaves_two_loose_ends_at_the_cut():
    harness = small_harness()
    new, _ = apply(harness, Cut(target="w3", anchor=Anchor("wire", "page_01", (135.0, 70.0), "L7A 0.8 GN-WH")))
    first, second = wire(new, "w3"), wire(new, "w3/2")
    assert first.ends[1].node is None
    assert second.ends[0].node is None
    assert first.ends[1].at == pytest.approx((135, 70))
    assert second.ends[1].node == "lampL"
    assert validate(new) == []


def test_a_deleted_wire_takes_its_page_edge_and_its_meeting_with_it():
    harness = small_harness()
    new, _ = apply(harness, DeleteWire(target="w4", anchor=anchor_of(harness, "w4")))
    assert new.links == ()
    new, _ = apply(new, DeleteWire(target="w3", anchor=anchor_of(new, "w3")))
    assert new.splices[0].degree == 2
    assert new.grommets[0].places[0].wire is None
    assert validate(new) == []


def test_a_drawn_wire_hangs_on_the_terminals_it_was_drawn_to():
    harness = small_harness()
    hooks = (
        Hook("C205@1", "b1", anchor_of(harness, "C205@1")),
        Hook("g1", "1", anchor_of(harness, "g1")),
    )
    edit = AddWire(
        target="hand-w", anchor=Anchor("wire", "page_01", (120, 110), "Z2"), points=((64, 110), (180, 110), (180, 97)),
        ends=hooks, code="Z2 0.8 BK",
    )  # fmt: skip
    new, effect = apply(harness, edit, "review by tester")
    drawn = wire(new, "hand-w")
    assert effect.status == "applied"
    assert [(e.node, e.terminal) for e in drawn.ends] == [("C205@1", "b1"), ("g1", "1")]
    assert drawn.code.evidence[0].kind == "person"
    assert validate(new) == []


def test_an_end_moves_to_another_terminal_and_the_line_is_drawn_on():
    harness = small_harness()
    hook = Hook("C205@1", "b1", anchor_of(harness, "C205@1"))
    new, effect = apply(harness, MoveEnd(target="w7", anchor=anchor_of(harness, "w7"), end=1, to=hook, at=(64, 110)))
    moved = wire(new, "w7")
    assert effect.status == "applied"
    assert moved.ends[1].node == "C205@1"
    assert moved.paths[-1].points[-1] == (64, 110)
    assert validate(new) == []


def test_a_page_edge_can_be_parted_and_partnered_again():
    harness = small_harness()
    parted, effect = apply(
        harness, SetPartner(target="l1", anchor=Anchor("link", "page_01", (195, 60), "L6 0.8 BN"), partner=None)
    )
    assert effect.status == "applied"
    assert [(k.id, k.b) for k in parted.links] == [("l1", None), ("l1/2", None)]
    assert [e.node for e in wire(parted, "w4").ends] == ["C101@1", None]
    assert [e.node for e in wire(parted, "w4/2").ends] == [None, "C101@2"]
    assert validate(parted) == []
    edit = SetPartner(
        target="l1", anchor=Anchor("link", "page_01", (195, 60), "L6 0.8 BN"),
        partner="l1/2", partner_anchor=Anchor("link", "page_02", (5, 60), "L6 0.8 BN"),
    )  # fmt: skip
    again, _ = apply(parted, edit)
    assert [k.id for k in again.links] == ["l1"]
    assert again.links[0].b == harness.links[0].b
    assert [e.node for e in wire(again, "w4").ends] == ["C101@1", "C101@2"]
    assert wire(again, "w4").links == ("l1",)
    assert validate(again) == []


def test_small_words_are_kept():
    harness = small_harness()
    edits = book(
        Rename(target="lampL", anchor=anchor_of(harness, "lampL"), name="PARK LAMP, LEFT"),
        SetKind(target="lampL", anchor=anchor_of(harness, "lampL"), kind="socket"),
        SetZone(target="lampL", anchor=anchor_of(harness, "lampL"), zone="D4"),
        AcceptFinding(
            target="dangling-end/w5/end 2", anchor=anchor_of(harness, "dangling-end/w5/end 2"), reason="spare wire"
        ),
        Confirm(target="w7", anchor=anchor_of(harness, "w7")),
        NotReadable(target="g1", anchor=anchor_of(harness, "g1")),
        MarkSheet(target="page_01", anchor=anchor_of(harness, "page_01"), done=True),
    )
    reviewed = replay(harness, edits)
    assert reviewed.orphans == ()
    lamp = next(c for c in reviewed.harness.components if c.id == "lampL")
    assert (lamp.name.value, lamp.kind, lamp.place.zone) == ("PARK LAMP, LEFT", "socket", "D4")
    assert reviewed.harness.findings[0].accepted == "spare wire"
    assert wire(reviewed.harness, "w7").code.probability == 1.0
    assert reviewed.harness.grounds[0].label.value is None
    assert reviewed.harness.grounds[0].label.evidence[-1].says == "not readable"
    assert reviewed.done == {"page_01"}
    assert validate(reviewed.harness) == []


def test_undone_edits_do_not_count_but_stay_in_the_story():
    harness = small_harness()
    first, second = book(set_code(harness, "w2", "L1 1.0 GN-WH"), set_code(harness, "w2", "L9 1.0 GN-WH"))
    edits = [first, replace(second, state="undone")]
    told = story(harness, replay(harness, edits), edits, "w2")
    assert told is not None
    assert told.digitized is not None
    assert told.now is not None
    assert (told.digitized.value, told.now.value) == ("L7 1.0 GN-WH", "L1 1.0 GN-WH")
    assert [c.effect.status for c in told.edits] == ["applied", "undone"]
    assert [e.kind for e in told.evidence] == ["read", "person"]
    assert story(harness, replay(harness, []), [], "nobody") is None


def test_the_checker_sees_a_broken_harness():
    harness = small_harness()
    w = wire(harness, "w1")
    broken = replace(
        harness,
        wires=(replace(w, ends=(replace(w.ends[0], node="nowhere"), w.ends[1]), links=("l9",)), *harness.wires[1:]),
    )
    faults = "\n".join(validate(broken))
    assert "nowhere" in faults
    assert "l9" in faults
    assert "two" not in faults
    assert any("sorted" in f for f in validate(replace(harness, wires=harness.wires[::-1])))
    assert any("counts" in f for f in validate(replace(harness, splices=(replace(harness.splices[0], degree=7),))))
    assert any("given 2 times" in f for f in validate(replace(harness, wires=(harness.wires[0], *harness.wires))))


def test_an_unknown_kind_of_object_is_an_error():
    with pytest.raises(ValueError, match="no kind"):
        list(stands(small_harness(), "teapot"))


def test_a_connector_boxed_on_two_wires_cuts_both_and_taking_it_out_runs_them_through():
    harness = small_harness()
    box = Box(131, 56, 139, 64)  # where w3 crosses w4
    edit = AddConnector(target="hand-c", anchor=Anchor("drawn_connector", "page_01", box.centre), label="C301", box=box)
    new, effect = apply(harness, edit)
    assert effect.status == "applied"
    drawn = next(c for c in new.connectors if c.label.value == "C301").places[0]
    assert [t.id for t in drawn.terminals] == ["a1", "b1", "a2", "b2"]
    assert {(e.node, e.terminal) for w in new.wires for e in w.ends if e.node == "hand-c"} == {
        ("hand-c", t) for t in ("a1", "b1", "a2", "b2")
    }
    assert [t.at for t in drawn.terminals if t.id in {"a1", "b1"}] == [
        pytest.approx((135, 56), abs=0.3),
        pytest.approx((135, 64), abs=0.3),
    ]
    assert validate(new) == []
    back, _ = apply(new, RemovePart(target="hand-c", anchor=anchor_of(new, "hand-c")))
    assert {frozenset(e.node for e in w.ends) for w in back.wires} == {
        frozenset(e.node for e in w.ends) for w in harness.wires
    }
    assert all(c.label.value != "C301" for c in back.connectors)
    assert validate(back) == []


def test_a_part_that_is_not_drawn_leaves_its_wires_loose():
    harness = small_harness()
    new, _ = apply(harness, RemovePart(target="lampL", anchor=anchor_of(harness, "lampL")))
    assert [e.node for e in wire(new, "w7").ends] == [None, "g1"]
    assert all(c.id != "lampL" for c in new.components)
    assert validate(new) == []
    refused, effect = apply(harness, RemovePart(target="w1", anchor=anchor_of(harness, "w1")))
    assert (refused, effect.status) == (harness, "refused")


def test_a_connector_where_no_wire_passes_is_reported():
    harness = small_harness()
    box = Box(10, 120, 18, 126)
    new, effect = apply(
        harness,
        AddConnector(target="hand-c", anchor=Anchor("drawn_connector", "page_01", box.centre), label="C301", box=box),
    )
    assert (new, effect.status) == (harness, "orphaned")


def test_ids_of_pieces_do_not_grow_with_every_cut():
    harness = small_harness()
    for target, x in (("w1", 45.0), ("w1/2", 50.0), ("w1/3", 55.0), ("w1/4", 60.0)):
        harness, effect = apply(harness, Cut(target=target, anchor=Anchor("wire", "page_01", (x, 30.0), "A1 3.0 RD")))
        assert effect.status == "applied"
    assert sorted(w.id for w in harness.wires if w.id.startswith("w1")) == ["w1", "w1/2", "w1/3", "w1/4", "w1/5"]
