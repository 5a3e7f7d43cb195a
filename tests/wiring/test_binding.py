from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from digitize.harness.edits_check import validate
from digitize.harness.model import NO_RIGHTS_NOTE, Harness
from digitize.harness.place import Point, Polyline
from digitize.legend.conventions import Conventions
from digitize.wiring.binding import EvidenceUsed, bind
from digitize.wiring.binding_names import middle, natural_key
from digitize.wiring.state import SheetWiring
from fixtures.typed_manual import STATED, checks, sheets, tables, wire_with
from fixtures.typed_sheets import TypedSheet, read


def test_a_wire_over_two_sheets_is_one_wire_with_ends_on_both():
    h = bind(sheets(), [], STATED, "own copy")
    wire = wire_with(h, "S4C 16 TAN")
    assert [e.sheet for e in wire.ends] == ["page_1", "page_2"]
    assert [p.sheet for p in wire.paths] == ["page_1", "page_2"]
    assert wire.ends[0].terminal == "b1"
    assert h.rights == "own copy"
    [link] = h.links
    assert link.b is not None
    assert wire.links == (link.id,)
    assert link.code.value == "S4C 16 TAN"


def test_the_code_at_both_page_edges_is_surer_than_either():
    h = bind(sheets(), [], STATED)
    assert wire_with(h, "S4C 16 TAN").code.probability > 0.97
    once = bind(sheets(), [], STATED, used=EvidenceUsed(chart=False, index=False, habits=False, repeats=False))
    assert wire_with(once, "S4C 16 TAN").code.probability < 0.75


def test_one_connector_id_drawn_twice_is_one_connector_with_two_places():
    h = bind(sheets(), [], STATED)
    [connector] = h.connectors
    assert connector.id == "K21"
    assert connector.part == "engine bay"
    assert [p.place.sheet for p in connector.places] == ["page_1", "page_2"]


def test_a_grommet_knows_the_wire_that_passes_it():
    h = bind(sheets(), [], STATED)
    wire = wire_with(h, "S4C 16 TAN")
    assert wire.grommets == ("GR2",)
    assert [d.wire for g in h.grommets for d in g.places] == [wire.id]


def test_an_edge_without_partner_is_kept_and_told():
    h = bind(sheets()[:1], [], STATED)
    [link] = h.links
    assert link.b is None
    assert ("edge-without-partner", link.id) in checks(h)


def test_numbers_count_sheets_that_failed_when_the_order_is_given():
    h = bind(sheets(), tables(), STATED, order=["page_0", "page_1", "page_2", "page_3", "page_4"])
    assert [(s.id, s.number) for s in h.sheets] == [("page_1", 2), ("page_2", 3), ("page_3", 4), ("page_4", 5)]


def test_two_sheets_with_one_id_are_refused():
    with pytest.raises(ValueError, match="page_1"):
        bind([sheets()[0], sheets()[0]], [])


def test_nothing_gives_an_empty_harness():
    assert bind([], []) == Harness(NO_RIGHTS_NOTE, ())


def test_codes_are_taken_apart_and_conventions_travel_with_the_harness():
    h = bind(sheets(), [], STATED)
    parsed = wire_with(h, "S4C 16 TAN").parsed
    assert parsed is not None
    assert (parsed.circuit, parsed.gauge, parsed.colour) == ("S", "16", "TAN")
    assert h.conventions["vehicle"] == "FERNWAY 12 VAN"
    assert h.conventions["colour TAN"] == "tan"
    assert h.conventions["gauge system"] == "awg"
    assert bind(sheets(), [], Conventions()).conventions == {}


@given(st.randoms(use_true_random=False))
@settings(max_examples=25)
def test_order_never_matters(random):
    expected = bind(sheets(), tables(), STATED)
    mixed = []
    for s in sheets():
        fields = {}
        for name in ("places", "splices", "runs", "edges"):
            values = list(getattr(s, name))
            random.shuffle(values)
            fields[name] = tuple(values)
        mixed.append(replace(s, **fields))
    random.shuffle(mixed)
    pages = tables()
    random.shuffle(pages)
    assert bind(mixed, pages, STATED) == expected


points = st.tuples(st.integers(8, 190), st.integers(8, 130))


@st.composite
def any_manual(draw: st.DrawFn) -> list[SheetWiring]:
    """Up to three sheets with dots, edges and runs between anything, even nonsense."""
    out = []
    for n in range(draw(st.integers(1, 3))):
        sheet = TypedSheet(f"page_{n + 1}")
        ends = []
        for i, at in enumerate(draw(st.lists(points, max_size=4))):
            sheet.splice(f"s{i}", at, probability=draw(st.sampled_from([0.6, 0.97])))
            ends.append(f"s{i}")
        for i, at in enumerate(draw(st.lists(points, max_size=4))):
            sheet.edge(f"e{i}", draw(st.sampled_from(["left", "right", "top", "bottom", "arrow"])), at)
            ends.append(f"e{i}")
        ends += [f"({x},{y})" for x, y in draw(st.lists(points, min_size=2, max_size=4))]
        for i in range(draw(st.integers(0, 8))):
            a, b = draw(st.sampled_from(ends)), draw(st.sampled_from(ends))
            code = draw(st.sampled_from([None, "S4 16 RED", "S4A 16 RED", "?"]))
            sheet.run(f"r{i}", a, b, *([] if code is None else [read(code, 0.9)]))
        out.append(sheet.wiring())
    return out


def segments(paths: Iterable[tuple[str, Polyline]]) -> Counter[tuple[str, tuple[Point, ...]]]:
    """All pieces of line that have a length."""
    return Counter((sheet, tuple(sorted((a, b)))) for sheet, points in paths for a, b in pairwise(points) if a != b)


def test_a_doubtful_dot_where_two_runs_meet_is_one_conductor():
    def wires(probability: float, second: str | None) -> list[str | None]:
        typed = TypedSheet("page_1").splice("s", (60, 30), 2, probability)
        typed.part("a", "sensor", (20, 30), read("A")).edge("e", "right", (195, 30))
        typed.run("r1", "a.2", "s", read("S4 16 RED")).run("r2", "s", "e", *([] if second is None else [read(second)]))
        other = TypedSheet("page_2").part("b", "sensor", (90, 60), read("B")).edge("e", "left", (5, 60))
        h = bind([typed.wiring(), other.run("r", "e", "b.1", read("S4 16 RED")).wiring()], [], STATED)
        assert len(h.splices) == (1 if len(h.wires) > 1 else 0)
        return sorted(w.code.value or "" for w in h.wires)

    assert wires(0.6, None) == ["S4 16 RED"]
    assert wires(0.6, "S4 16 RED") == ["S4 16 RED"]
    assert wires(0.6, "H2 14 BLU") == ["H2 14 BLU", "S4 16 RED", "S4 16 RED"]
    assert len(wires(0.97, None)) > 1


def test_of_doubtful_dots_that_close_a_ring_of_two_runs_the_surest_stays():
    typed = TypedSheet("page_1").splice("s", (60, 30), 3, 0.6).splice("t", (90, 30), 3, 0.7)
    typed.run("r1", "s", "t").run("r2", "t", "s")
    h = bind([typed.wiring()], [], STATED)
    (splice,) = h.splices
    (wire,) = h.wires
    assert splice.at == (90, 30)
    assert [e.node for e in wire.ends] == [splice.id, splice.id]


@given(any_manual())
@settings(max_examples=80)
def test_every_run_is_in_exactly_one_wire_and_nothing_is_lost(made):
    h = bind(made, [], STATED)
    assert segments((p.sheet, p.points) for w in h.wires for p in w.paths) == segments(
        (s.facts.sheet, r.points) for s in made for r in s.runs
    )
    sure = sum(splice.probability > 0.9 for s in made for splice in s.splices)
    assert sure <= len(h.splices) <= sum(len(s.splices) for s in made)
    marks = sum(len(s.edges) for s in made)
    assert sum(1 if link.b is None else 2 for link in h.links) == marks
    for things in (h.wires, h.splices, h.links, h.findings):
        ids = [x.id for x in things]
        assert ids == sorted(set(ids))
    nodes = {s.id for s in h.splices}
    assert all(e.node is None or e.node in nodes for w in h.wires for e in w.ends)
    assert all(0.0 <= w.code.probability <= 1.0 and w.probability < 1.0 for w in h.wires)
    assert bind(made[::-1], [], STATED) == h
    assert validate(h) == []


def test_names_are_ordered_as_people_count():
    assert sorted(["p10", "p9", "p1b", "p1"], key=natural_key) == ["p1", "p1b", "p9", "p10"]


def test_the_middle_of_a_line_lies_half_way_along_it():
    assert middle(((0, 0), (10, 0), (10, 10))) == (10, 0)
    assert middle(((0, 0), (0, 0))) == (0, 0)
