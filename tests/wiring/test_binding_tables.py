from __future__ import annotations

from dataclasses import replace

from digitize.harness.claim import Claim
from digitize.harness.graph import halves
from digitize.tables.state import SheetTable
from digitize.wiring.binding import bind
from digitize.wiring.state import SheetText
from fixtures.typed_manual import STATED, checks, sheets, tables, wire_with
from fixtures.typed_sheets import TypedSheet, chart_page, index_page, read


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
