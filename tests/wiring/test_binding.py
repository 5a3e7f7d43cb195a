from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from digitize.harness.claim import Claim
from digitize.harness.edits_check import validate
from digitize.harness.graph import halves
from digitize.harness.model import Harness, Wire
from digitize.harness.place import Point, Polyline
from digitize.legend.conventions import Conventions, conventions_from
from digitize.tables.state import SheetTable
from digitize.wiring.binding import EvidenceUsed, bind
from digitize.wiring.binding_names import middle, natural_key
from digitize.wiring.state import SheetText, SheetWiring
from fixtures.typed_sheets import TypedSheet, chart_page, index_page, read

STATED = conventions_from("""
vehicle = "FERNWAY 12 VAN"
[code]
pattern = "{circuit}{number}{segment?} {gauge} {colour}{/tracer?}"
[circuits]
S = "side lamps"
H = "horn"
E = "earth"
[colours]
RED = "red"
TAN = "tan"
BLU = "blue"
BLK = "black"
[gauges]
system = "awg"
sizes = ["14", "16", "18"]
[connectors.prefixes]
K = "engine bay"
""")


def two_sheets() -> list[TypedSheet]:
    """A switch feeds two lamps over a splice, a connector drawn on both sheets and a page edge; one lamp to ground."""
    one = (
        TypedSheet("page_1")
        .part("sw", "switch", (20, 30), read("SIDE LAMP SWITCH"))
        .splice("s1", (60, 30))
        .oval("k1", (100, 30), read("K21"))
        .part("la", "lamp", (60, 80), read("L/H SIDE LAMP"), {"1": (60, 77), "2": (60, 83)})
        .part("g1", "ground", (60, 110), read(None), {"1": (60, 107)})
        .part("w1", "grommet", (150, 30), read("GR2"), {})
        .edge("e1", "right", (195, 30))
        .run("r1", "sw.2", "s1", read("S4 16 RED"))
        .run("r2", "s1", "la.1", read("S4A 16 RED", 0.95))
        .run("r3", "s1", "k1.a1", read("S4B 16 RED", 0.9))
        .run("r4", "k1.b1", "e1", read("S4C 16 TAN", 0.6, ("S4C 16 RED", 0.2)), grommets=("w1",))
        .run("r5", "la.2", "g1.1", read("E1 18 BLK"))
    )
    two = (
        TypedSheet("page_2", first_column=5)
        .part("lb", "lamp", (120, 32), read("R/H SIDE LAMP"), case_ground=True)
        .part("horn", "horn", (120, 90), read("HORN"), case_ground=True)
        .oval("k2", (60, 90), read("K21"))
        .edge("e1", "left", (5, 32))
        .run("r1", "e1", "lb.1", read("S4C 16 TAN", 0.7))
        .run("r2", "k2.b1", "horn.1", read("H2A 14 BLU"))
        .run("r3", "(20,90)", "k2.a1", read("H2 14 BLU"))
    )
    return [one, two]


def tables() -> list[SheetTable]:
    chart = chart_page(
        "page_3",
        (
            read("K21"),
            read("BESIDE THE BATTERY"),
            (
                ("1", read("H2 14 BLU"), read("H2A 14 BLU")),
                ("2", read("S4B 16 RED"), read("S4C 16 TAN")),
                ("3", read(None), read(None)),
            ),
        ),
        (read("K30"), read("BEHIND THE GRILLE"), (("1", read("H9 14 BLU"), read("H9 14 BLU")),)),
    )
    index = index_page(
        "page_4", (read("HORN"), ("C7",)), (read("L/H SIDE LAMP"), ("C2",)), (read("R/H SIDE LAMP"), ("D8",))
    )
    return [chart, index]


def sheets() -> list[SheetWiring]:
    return [s.wiring() for s in two_sheets()]


def wire_with(harness: Harness, code: str) -> Wire:
    found = [w for w in harness.wires if w.code.value == code]
    assert len(found) == 1, [w.code.value for w in harness.wires]
    return found[0]


def checks(harness: Harness) -> set[tuple[str, str]]:
    return {(f.check, f.subject) for f in harness.findings}


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


def test_the_chart_fills_cavities_location_and_halves():
    h = bind(sheets(), tables(), STATED)
    connector = next(c for c in h.connectors if c.id == "K21")
    assert [p.cavities for p in connector.places] == [("2",), ("1",)]
    assert connector.location == "BESIDE THE BATTERY"
    assert connector.half_names == ("PIN HALF", "TUBE HALF")
    assert [c.label for c in connector.cavities] == ["1", "2", "3"]
    assert connector.cavities[2].a.value is None


def test_a_drawing_that_shows_the_second_half_first_is_turned():
    sheet = (
        TypedSheet("page_1")
        .part("x", "horn", (20, 30), read("HORN"), case_ground=True)
        .oval("k1", (60, 30), read("K21"))
        .part("sw", "switch", (100, 30), read("HORN SWITCH"))
        .run("r1", "x.2", "k1.a1", read("H2A 14 BLU"))
        .run("r2", "k1.b1", "sw.1", read("H2 14 BLU"))
    )
    h = bind([sheet.wiring()], tables(), STATED)
    assert {w.code.value: {e.terminal for e in w.ends} for w in h.wires} == {
        "H2 14 BLU": {"a1", "1"},
        "H2A 14 BLU": {"b1", "2"},
    }
    drawing = next(c for c in h.connectors if c.id == "K21").places[0]
    assert {t.id: t.at for t in drawing.terminals} == {"a1": (65, 30), "b1": (55, 30)}


def test_a_weak_reading_is_lifted_by_the_chart():
    weak = TypedSheet("page_1").part("sw", "switch", (20, 30), read("HORN SWITCH")).oval("k1", (60, 30), read("K21"))
    weak.part("x", "horn", (100, 30), read("HORN"), case_ground=True)
    weak.run("r1", "sw.2", "k1.a1", read("H7 14 BLU", 0.5, ("H2 14 BLU", 0.4))).run(
        "r2", "k1.b1", "x.1", read("H2A 14 BLU")
    )
    assert "H7 14 BLU" in {w.code.value for w in bind([weak.wiring()], [], STATED).wires}
    wire = wire_with(bind([weak.wiring()], tables(), STATED), "H2 14 BLU")
    assert wire.code.probability > 0.95
    assert {e.kind for e in wire.code.evidence} == {"read", "chart"}
    assert {a.text for a in wire.code.alternatives} >= {"H2 14 BLU", "H7 14 BLU"}


def test_a_misread_chart_cell_is_put_right_and_a_misprinted_one_stays():
    sheet = TypedSheet("page_1").part("x", "horn", (100, 30), read("HORN"), case_ground=True)
    sheet.oval("k1", (60, 30), read("K21")).run("r2", "k1.b1", "x.1", read("H2A 14 BLU"))
    sheet.part("sw", "switch", (20, 30), read("HORN SWITCH")).run("r1", "sw.2", "k1.a1", read("H2 14 BLU"))

    def cell(chart_says: Claim) -> str | None:
        chart = chart_page("page_3", (read("K21"), read("HERE"), (("1", read("H2 14 BLU"), chart_says),)))
        connector = next(c for c in bind([sheet.wiring()], [chart], STATED).connectors if c.id == "K21")
        return connector.cavities[0].b.value

    assert cell(read("HZA 14 BLU", 0.6)) == "H2A 14 BLU"
    assert cell(read("H2A 14 TAN", 0.99)) == "H2A 14 TAN"


def test_a_printed_code_is_searched_by_what_its_wire_is_called():
    typed = TypedSheet("page_1").part("sw", "switch", (20, 30), read("HORN SWITCH"))
    typed.part("x", "horn", (150, 30), read("HORN"), case_ground=True)
    typed.run("r1", "sw.2", "x.1", read("H2 14 BLU", 0.95), read("HZ 14 BLU", 0.6))
    sheet = typed.wiring()
    texts = tuple(
        SheetText(c.claim.value or "", "code", c.box, c.claim.probability) for r in sheet.runs for c in r.codes
    )
    h = bind([replace(sheet, texts=texts)], [], STATED)
    assert [t.text for t in h.texts] == ["H2 14 BLU", "H2 14 BLU"]
    assert min(t.probability for t in h.texts) > 0.95


def test_codes_tell_which_terminals_of_an_oval_face_each_other():
    def typed() -> TypedSheet:
        t = TypedSheet("page_1").oval("k", (60, 30), read("K50"), (None, None))
        for n, at in enumerate([(20, 20), (20, 60), (120, 20), (120, 60)]):
            t.part(f"p{n}", "sensor", at, read(f"PART {n}"))
        return t

    def pairs(t: TypedSheet, *tables: SheetTable) -> set[frozenset[str]]:
        h = bind([t.wiring()], tables, STATED)
        code = {e.terminal: w.code.value or "" for w in h.wires for e in w.ends if e.node and "connector" in e.node}
        [drawing] = [d for c in h.connectors for d in c.places]
        return {frozenset(code[x] for x in half) for half in halves(drawing)}

    as_drawn = typed().run("r0", "p0.2", "k.a1", read("S1 14 RED")).run("r1", "p1.2", "k.a2", read("H2 16 BLU"))
    as_drawn.run("r2", "k.b1", "p2.1", read("S1 14 RED")).run("r3", "k.b2", "p3.1", read("H2 16 BLU"))
    assert pairs(as_drawn) == {frozenset({"S1 14 RED"}), frozenset({"H2 16 BLU"})}
    crossed = typed().run("r0", "p0.2", "k.a1", read("S1 14 RED")).run("r1", "p1.2", "k.b1", read("H2 16 BLU"))
    crossed.run("r2", "k.a2", "p2.1", read("S1 14 RED")).run("r3", "k.b2", "p3.1", read("H2 16 BLU"))
    assert pairs(crossed) == {frozenset({"S1 14 RED"}), frozenset({"H2 16 BLU"})}
    other = typed().run("r0", "p0.2", "k.a1", read("S1 14 RED")).run("r1", "p1.2", "k.b1", read("H2 16 BLU"))
    other.run("r2", "k.a2", "p2.1", read("S1A 14 TAN")).run("r3", "k.b2", "p3.1", read("H2A 18 BLU"))
    chart = chart_page(
        "page_3",
        (
            read("K50"),
            read("HERE"),
            (("1", read("S1 14 RED"), read("S1A 14 TAN")), ("2", read("H2 16 BLU"), read("H2A 18 BLU"))),
        ),
    )
    assert pairs(other, chart) == {frozenset({"S1 14 RED", "S1A 14 TAN"}), frozenset({"H2 16 BLU", "H2A 18 BLU"})}
    assert pairs(other) == {frozenset({"S1 14 RED", "H2 16 BLU"}), frozenset({"S1A 14 TAN", "H2A 18 BLU"})}


def test_a_misread_connector_id_is_put_right_by_the_chart():
    sheet = TypedSheet("page_1").part("x", "horn", (100, 30), read("HORN"), case_ground=True)
    sheet.oval("k1", (60, 30), read("KZ1", 0.6)).run("r2", "k1.b1", "x.1", read("H2A 14 BLU"))
    assert [c.id for c in bind([sheet.wiring()], [], STATED).connectors] == ["KZ1"]
    h = bind([sheet.wiring()], tables(), STATED)
    assert next(c for c in h.connectors if c.places).id == "K21"


def test_a_misread_name_is_put_right_by_the_index():
    sheet = TypedSheet("page_1").part("la", "lamp", (60, 80), read("L/H 51DE LAMP", 0.6))
    h = bind([sheet.wiring()], tables(), STATED)
    [lamp] = h.components
    assert lamp.name.value == "L/H SIDE LAMP"
    assert lamp.name.probability > 0.8
    assert any(e.kind == "index" for e in lamp.name.evidence)


def test_the_index_line_is_put_right_by_the_drawing():
    sheet = TypedSheet("page_1").part("la", "lamp", (60, 80), read("L/H SIDE LAMP"))
    index = index_page("page_2", (read("L/H SlDE LAMP", 0.55), ("C2",)))
    h = bind([sheet.wiring()], [index], STATED)
    assert [e.name.value for e in h.index] == ["L/H SIDE LAMP"]


def test_a_misread_zone_of_the_index_is_put_right_and_a_misprinted_one_is_not():
    sheet = TypedSheet("page_1").part("la", "lamp", (150, 80), read("L/H SIDE LAMP"))  # stands in C4

    def zones(zone: str, probability: float) -> list[tuple[str, ...]]:
        page = index_page("page_2", (read("L/H SIDE LAMP"), ("A1",)))
        line = replace(page.index[0], zones=(read(zone, probability),))
        return [e.zones for e in bind([sheet.wiring()], [replace(page, index=(line,))], STATED).index]

    assert zones("G4", 0.7) == [("C4",)]
    assert zones("G4", 0.998) == [("G4",)]
    assert zones("A1", 0.7) == [("A1",)]


def test_a_planted_index_zone_and_a_planted_chart_colour_are_found_and_nothing_else():
    sheet = (
        TypedSheet("page_1")
        .part("sw", "switch", (20, 30), read("HORN SWITCH"), {"1": (20, 33), "2": (24, 30)})
        .part("fuse", "fuse", (20, 60), read("3"), {"1": (20, 57), "2": (20, 63)}, rating="10A")
        .part("bat", "battery", (20, 100), read("BATTERY"), {"+": (20, 97), "-": (20, 103)})
        .part("g", "ground", (20, 125), read(None), {"1": (20, 122)})
        .oval("k1", (60, 30), read("K21"))
        .part("x", "horn", (100, 30), read("HORN"), {"1": (96, 30)}, case_ground=True)
        .run("r0", "sw.1", "fuse.1", read("H1 14 BLU"))
        .run("r9", "fuse.2", "bat.+", read("H0 14 RED"))
        .run("r8", "bat.-", "g.1", read("E1 14 BLK"))
        .run("r1", "sw.2", "k1.a1", read("H2 14 BLU"))
        .run("r2", "k1.b1", "x.1", read("H2A 14 BLU"))
    )
    chart = chart_page("page_3", (read("K21"), read("HERE"), (("1", read("H2 14 BLU"), read("H2A 14 TAN")),)))
    index = index_page("page_4", (read("HORN"), ("D4",)), (read("HORN SWITCH"), ("A1",)), (read("BATTERY"), ("C1",)))
    h = bind([sheet.wiring()], [chart, index], STATED)
    assert checks(h) == {("index-zone", "HORN"), ("chart-colour", "K21")}
    colour = next(f for f in h.findings if f.check == "chart-colour")
    assert colour.cavity == "1"
    assert "H2A 14 TAN" in colour.why
    assert wire_with(h, "H2A 14 BLU").code.probability < 0.99


def test_what_the_chart_lists_but_nobody_drew_is_kept_and_told():
    h = bind(sheets(), tables(), STATED)
    assert next(c for c in h.connectors if c.id == "K30").places == ()
    assert ("connector-not-drawn", "K30") in checks(h)
    assert ("dangling-end", wire_with(h, "H2 14 BLU").id) in checks(h)


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
    assert bind([], []) == Harness("", ())


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
