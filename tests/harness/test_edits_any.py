"""Any sequence of edits leaves a sound harness; the geometry under them."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from digitize.harness.edits import (
    AcceptFinding,
    AddConnector,
    AddPart,
    AddSplice,
    AddWire,
    Anchor,
    Confirm,
    Cut,
    DeleteWire,
    Edit,
    EndRef,
    ForgetSymbol,
    Hook,
    JoinEnds,
    MarkSheet,
    MergeParts,
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
    SplitPart,
    TeachSymbol,
)
from digitize.harness.edits_apply import apply, describe, replay
from digitize.harness.edits_check import validate
from digitize.harness.edits_find import KINDS, every_stand, find, nearest, point_along, stands
from digitize.harness.model import Harness, Terminal
from digitize.harness.place import Box
from fixtures.small_harness import small_harness


def recorded(*edits: Edit) -> list[Recorded]:
    return [Recorded(i, i, "tester", "2026-01-01T00:00:00Z", 0, "active", e) for i, e in enumerate(edits, 1)]


points = st.tuples(st.floats(0, 200, allow_nan=False), st.floats(0, 140, allow_nan=False))


def around(at: tuple[float, float]) -> Box:
    return Box(at[0] - 4, at[1] - 3, at[0] + 4, at[1] + 3)


def some_edit(harness: Harness, draw: st.DrawFn, n: int) -> Edit:
    """Any edit on any object of the harness as it is now, sensible or not."""
    every = sorted((s for s in every_stand(harness)), key=lambda s: (s.kind, s.id))
    stand = draw(st.sampled_from(every))
    anchor, text = stand.anchor(), draw(st.text("ABC109 -", min_size=1, max_size=6))
    ends = [(w, i) for w in harness.wires for i in (0, 1)]
    hooks = [
        Hook(s.id, t, s.anchor())
        for s in every
        if s.kind in {"component", "drawn_connector", "splice", "ground"}
        for t in ("1", "a1")
    ]
    hook = st.none() | st.sampled_from(hooks) if hooks else st.none()
    at = (
        point_along(draw(st.sampled_from(harness.wires)).paths[0].points, draw(st.floats(0, 1)))
        if harness.wires
        else draw(points)
    )
    kinds: list[Edit] = [
        SetCode(target=stand.id, anchor=anchor, code=draw(st.none() | st.just(text))),
        SetConnector(target=stand.id, anchor=anchor, label=draw(st.sampled_from(["C101", "C205", text]))),
        Rename(target=stand.id, anchor=anchor, name=text),
        SetKind(target=stand.id, anchor=anchor, kind="relay"),
        SetZone(target=stand.id, anchor=anchor, zone="A1"),
        RemoveSplice(target=stand.id, anchor=anchor),
        DeleteWire(target=stand.id, anchor=anchor),
        Confirm(target=stand.id, anchor=anchor),
        NotReadable(target=stand.id, anchor=anchor),
        AcceptFinding(target=stand.id, anchor=anchor, reason=text),
        MarkSheet(target=stand.id, anchor=anchor, done=True),
        Cut(target=stand.id, anchor=replace(anchor, at=at)),
        AddSplice(target=f"hand-s{n}", anchor=Anchor("splice", "page_01", at), reach=draw(st.floats(0.5, 60))),
        AddWire(
            target=f"hand-w{n}",
            anchor=Anchor("wire", "page_01", at),
            points=(at, draw(points)),
            ends=(draw(hook), draw(hook)),
        ),
        AddPart(
            target=f"hand-p{n}",
            anchor=Anchor("component", "page_01", at),
            kind="relay",
            name=draw(st.none() | st.just(text)),
            box=around(at),
            terminals=(Terminal("1", at),),
        ),
        TeachSymbol(
            target=f"hand-t{n}",
            anchor=Anchor("sheet", draw(st.sampled_from(["page_01", "page_77"])), at),
            kind=draw(st.sampled_from(["horn", "connector"])),
            name=draw(st.none() | st.just(text)),
            box=around(at) if draw(st.booleans()) else around(anchor.at),
            terminals=(Terminal("1", at),),
        ),
        ForgetSymbol(target=f"hand-t{n}", anchor=Anchor("sheet", "page_01", at)),
        AddConnector(
            target=f"hand-c{n}",
            anchor=Anchor("drawn_connector", "page_01", at),
            label=draw(st.sampled_from(["C101", text])),
            box=around(at),
        ),
        RemovePart(target=stand.id, anchor=anchor),
        SplitPart(
            target=stand.id,
            anchor=anchor,
            part=f"hand-p{n}",
            kind="lamp",
            name=draw(st.none() | st.just(text)),
            box=around((anchor.at[0] + draw(st.floats(-12, 12)), anchor.at[1] + draw(st.floats(-12, 12)))),
        ),
        MoveEnd(target=stand.id, anchor=anchor, end=draw(st.integers(0, 1)), to=draw(hook), at=draw(points)),
    ]
    parts = [s for s in every if s.kind in {"component", "wire"}]
    if parts:
        other = draw(st.sampled_from(parts))
        mine = draw(st.sampled_from(parts))
        kinds.append(MergeParts(target=mine.id, anchor=mine.anchor(), other=other.id, other_anchor=other.anchor()))
    links = [s for s in every if s.kind == "link"]
    if links:
        far = draw(st.none() | st.sampled_from(links))
        near = draw(st.sampled_from(links))
        kinds.append(
            SetPartner(
                target=near.id,
                anchor=near.anchor(),
                partner=far.id if far else None,
                partner_anchor=far.anchor() if far else None,
            )
        )
    if ends:
        one, two = draw(st.sampled_from(ends)), draw(st.sampled_from(ends))
        refs = [EndRef(w.id, i, Anchor("wire", w.ends[i].sheet, w.ends[i].at, w.code.value)) for w, i in (one, two)]
        kinds.append(JoinEnds(target=one[0].id, anchor=anchor, first=refs[0], second=refs[1]))
    return draw(st.sampled_from(kinds))


@settings(deadline=None, max_examples=120)
@given(st.data())
def test_any_sequence_of_edits_leaves_a_sound_harness(data: st.DataObject):
    harness = small_harness()
    made: list[Edit] = []
    for n in range(data.draw(st.integers(1, 8))):
        edit = some_edit(harness, data.draw, n)
        made.append(edit)
        before = harness
        harness, effect = apply(harness, edit, "review by tester, 2026-01-01T00:00:00Z")
        assert validate(harness) == [], (edit, effect)
        assert describe(edit)
        if effect.status != "applied":
            assert harness == before
    assert replay(small_harness(), recorded(*made)).harness == harness


@settings(deadline=None, max_examples=60)
@given(st.lists(points, min_size=2, max_size=6), points)
def test_the_foot_point_lies_on_the_line_and_is_as_far_as_it_says(
    line: list[tuple[float, float]], at: tuple[float, float]
):
    away, segment, foot = nearest(tuple(line), at)
    assert math.dist(foot, at) == pytest.approx(away, abs=1e-9)
    assert 0 <= segment < max(1, len(line) - 1)
    assert away <= min(math.dist(p, at) for p in line) + 1e-9


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_of_object_is_found_by_its_own_anchor(kind: str):
    harness = small_harness()
    for stand in stands(harness, kind):
        found = find(harness, stand.id, stand.anchor())
        assert found is not None
        assert found.id == stand.id
