"""What was read as two parts is one, and the other way round; connectors of one id are one."""

from __future__ import annotations

from dataclasses import replace

import pytest

from digitize.harness.edits import Anchor, MergeParts, Rename, SplitPart
from digitize.harness.edits_apply import apply, describe
from digitize.harness.edits_check import validate
from digitize.harness.edits_find import look_up
from digitize.harness.model import Cavity, Component, Harness
from digitize.harness.place import Box
from fixtures.small_harness import claim, small_harness


def anchor_of(harness: Harness, target: str) -> Anchor:
    stand = look_up(harness, target)
    assert stand is not None
    return stand.anchor()


def part(harness: Harness, target: str) -> Component:
    return next(c for c in harness.components if c.id == target)


def merged(harness: Harness, one: str, two: str) -> MergeParts:
    return MergeParts(target=one, anchor=anchor_of(harness, one), other=two, other_anchor=anchor_of(harness, two))


def test_two_parts_become_one_with_all_terminals_and_wires():
    harness = small_harness()
    new, effect = apply(harness, merged(harness, "battery", "fuse7"))
    assert effect.status == "applied"
    assert validate(new) == []
    whole = part(new, "battery")
    assert (whole.name.value, whole.rating, whole.case_ground) == ("BATTERY", "15A", True)
    assert [t.id for t in whole.terminals] == ["1", "1/2", "2"], "both had a terminal 1; neither is lost"
    assert whole.place.box == Box(15, 23, 81, 37)
    assert whole.joined == (("1/2", "2"),)
    assert all(c.id != "fuse7" for c in new.components)
    ends = {(w.id, i): (e.node, e.terminal) for w in new.wires for i, e in enumerate(w.ends)}
    assert ends["w1", 1] == ("battery", "1/2")
    assert ends["w2", 0] == ("battery", "2")


def test_a_part_without_a_name_takes_the_others():
    harness = small_harness()
    bare = replace(part(harness, "battery"), name=claim(None, 0.5), kind="unknown")
    harness = replace(harness, components=tuple(bare if c.id == "battery" else c for c in harness.components))
    new, _ = apply(harness, merged(harness, "battery", "fuse7"))
    assert (part(new, "battery").name.value, part(new, "battery").kind) == ("7", "fuse")


@pytest.mark.parametrize(("one", "two", "why"), [
    ("battery", "battery", "same part"), ("battery", "lampR", "different sheets"), ("battery", "w1", "only components"),
])  # fmt: skip
def test_what_cannot_be_one_part_is_refused(one: str, two: str, why: str):
    harness = small_harness()
    new, effect = apply(harness, merged(harness, one, two))
    assert effect.status == "refused"
    assert why in effect.says
    assert new == harness


def split(harness: Harness, target: str, box: Box) -> SplitPart:
    return SplitPart(
        target=target, anchor=anchor_of(harness, target), part="new", box=box, kind="switch", name="DIMMER"
    )


def test_a_part_is_split_and_each_half_keeps_its_wires():
    harness = small_harness()
    edit = split(harness, "lampL", Box(150, 83, 157, 97))
    new, effect = apply(harness, edit)
    assert effect.status == "applied"
    assert "DIMMER" in describe(edit)
    assert validate(new) == []
    assert (part(new, "new").kind, part(new, "new").name.value) == ("switch", "DIMMER")
    assert [t.id for t in part(new, "new").terminals] == ["2"]
    assert [t.id for t in part(new, "lampL").terminals] == ["1"]
    assert part(new, "lampL").place.box == Box(143, 83, 150, 97)
    ends = {w.id: [e.node for e in w.ends] for w in new.wires}
    assert ends["w3"] == ["s1", "lampL"]
    assert ends["w7"] == ["new", "g1"]


def test_splitting_and_merging_again_gives_the_same_wiring():
    harness = small_harness()
    apart, _ = apply(harness, split(harness, "lampL", Box(150, 83, 157, 97)))
    again, effect = apply(apart, merged(apart, "lampL", "new"))
    assert effect.status == "applied"
    assert [w.ends for w in again.wires] == [w.ends for w in harness.wires]
    assert part(again, "lampL").place.box == part(harness, "lampL").place.box


def test_a_fuse_stays_in_its_block_when_the_block_is_split():
    harness = small_harness()
    block = replace(part(harness, "lampL"), kind="fuse_block", joined=())
    inner = replace(
        part(harness, "fuse7"),
        id="inner",
        parent="lampL",
        joined=(("1", "^2"),),
        place=replace(block.place, box=Box(151, 85, 156, 88)),
    )
    harness = replace(
        harness,
        components=tuple(
            sorted([block if c.id == "lampL" else c for c in harness.components] + [inner], key=lambda c: c.id)
        ),
    )
    new, effect = apply(harness, split(harness, "lampL", Box(150, 83, 157, 97)))
    assert effect.status == "applied"
    assert validate(new) == []
    assert (part(new, "inner").parent, part(new, "inner").joined) == ("new", (("1", "^2"),))


@pytest.mark.parametrize(
    ("box", "why"), [(Box(10, 10, 20, 20), "does not lie"), (Box(140, 80, 160, 100), "covers the whole")]
)
def test_a_box_that_splits_nothing_is_refused(box: Box, why: str):
    harness = small_harness()
    new, effect = apply(harness, split(harness, "lampL", box))
    assert effect.status == "refused"
    assert why in effect.says
    assert new == harness


def test_a_connector_renamed_to_an_id_that_exists_joins_that_connector():
    harness = small_harness()
    row = Cavity("9", claim("X", 0.9), claim("Y", 0.9))
    connectors = tuple(replace(c, cavities=(row,)) if c.id == "C2O5" else c for c in harness.connectors)
    harness = replace(harness, connectors=connectors)
    new, effect = apply(harness, Rename(target="C2O5", anchor=anchor_of(harness, "C2O5"), name="C101"))
    assert effect.status == "applied"
    assert validate(new) == []
    (whole,) = new.connectors
    assert [p.id for p in whole.places] == ["C101@1", "C101@2", "C205@1"]
    assert whole.cavities == (row,)
    assert new.wires == harness.wires
