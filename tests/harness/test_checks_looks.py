"""One id, one look: what the drawings print anywhere against a chart row whose halves disagree."""

from __future__ import annotations

from dataclasses import replace

import pytest

from digitize.harness.checks import find_all
from digitize.harness.claim import Claim, Evidence
from digitize.harness.model import Finding, Harness
from digitize.harness.place import Box
from digitize.legend.codes import parse_code
from digitize.legend.conventions import conventions_from
from digitize.wiring.binding import bind
from digitize.wiring.state import SheetText
from fixtures.typed_sheets import TypedSheet, chart_page, index_page, read

STATED = conventions_from("""
[code]
pattern = "{circuit}{number}{segment?} {gauge} {colour}{/tracer?}"
[circuits]
S = "side lamps"
[colours]
RED = "red"
TAN = "tan"
BLK = "black"
[gauges]
system = "awg"
sizes = ["14", "16", "18"]
""")
USUAL = tuple((f"S{n} 14 BLK", 0.99) for n in range(20, 32) for _ in (0, 1))
"""Twelve ids that stand twice, each with one look: the manual has a habit."""


def found(
    printed: tuple[tuple[str, float], ...],
    row: tuple[Claim, Claim] = (read("S1 14 RED"), read("S1 14 TAN")),
    usual: tuple[tuple[str, float], ...] = USUAL,
) -> list[Finding]:
    """Findings of a chart row for connector K1, at which no code was read, and of codes printed elsewhere on the sheet."""
    sheet = TypedSheet("page_1").oval("k", (60, 100), read("K1")).part("x", "sensor", (20, 100), read("A"))
    sheet.part("y", "sensor", (120, 100), read("B")).run("r8", "x.2", "k.a1").run("r9", "k.b1", "y.1")
    texts = tuple(SheetText(t, "code", Box(10, 5 + n, 30, 6 + n), p) for n, (t, p) in enumerate((*printed, *usual)))
    table = chart_page("page_3", (read("K1"), read("HERE"), (("1", *row),)))
    findings = bind([replace(sheet.wiring(), texts=texts)], [table], STATED).findings
    return [f for f in findings if f.check.startswith("chart-")]


def test_a_row_with_two_looks_for_one_id_is_told_though_no_code_was_read_at_the_connector():
    [f] = found((("S1 14 RED", 0.99),))
    assert (f.check, f.subject, f.cavity) == ("chart-colour", "K1", "1")
    assert "S1 14 TAN" in f.why
    assert "S1 14 RED" in f.why
    assert [p.box for p in f.places] == [Box(55, 97, 65, 103), Box(10, 5, 30, 6)], "the connector, and the id in print"


def test_the_half_that_the_drawings_print_is_right_whichever_it_is():
    [f] = found((("S1 14 TAN", 0.99),))
    assert "S1 14 RED" in f.why.partition(" in one half")[0]


@pytest.mark.parametrize(
    ("printed", "row", "why"),
    [
        ((), (read("S1 14 RED"), read("S1 14 TAN")), "nothing is printed on the drawings: who knows which is right"),
        ((("S1 14 RED", 0.9),), (read("S1 14 RED"), read("S1 14 TAN")), "printed there once, not read surely"),
        ((("S1 14 RED", 0.99), ("S1 14 TAN", 0.6)), (read("S1 14 RED"), read("S1 14 TAN")), "both are drawn perhaps"),
        ((("S1 14 RED", 0.99),), (read("S1 14 RED"), read("S1 14 TAN", 0.9)), "the cell is not read surely"),
        ((("S1 14 RED", 0.99),), (read("S1 14 RED"), read("S2 14 TAN")), "another segment may look otherwise"),
        ((("S1 14 RED", 0.99),), (read("S9 14 RED"), read("S1 14 TAN")), "alone it must be read still more surely"),
        ((("S1 14 RED", 0.99),), (read("S1 14 RED"), read("S1 14 RED")), "both halves agree"),
    ],
)
def test_without_sure_print_on_the_drawings_the_row_is_left_in_peace(printed, row, why):
    assert found(printed, row) == [], why


def test_a_cell_alone_is_told_when_nothing_else_could_be_meant():
    row = (read("S9 14 RED"), read("S1 14 TAN", 0.995))
    [f] = found((("S1 14 RED", 0.99),), row)
    assert (f.check, f.cavity) == ("chart-colour", "1")
    assert found((("S1 14 RED", 0.99), ("S4 14 TAN", 0.99)), row) == [], "S4 read as S1 is likelier than a misprint"


def test_two_weak_readings_in_two_places_are_as_good_as_a_sure_one():
    assert len(found((("S1 14 RED", 0.9), ("S1 14 RED", 0.9)))) == 1


def test_where_the_manual_prints_one_id_in_several_looks_its_chart_may_too():
    twofold = tuple((f"S{n} 14 {c}", 0.99) for n in range(20, 32) for c in ("BLK", "TAN"))
    assert found((("S1 14 RED", 0.99),), usual=twofold) == []
    assert found((("S1 14 RED", 0.99),), usual=USUAL[:6]) == [], "three ids make no habit"


def test_a_size_that_differs_between_the_halves_is_told_as_such():
    [f] = found((("S1 14 RED", 0.99),), (read("S1 14 RED"), read("S1 18 RED")))
    assert (f.check, f.cavity) == ("chart-code", "1")
    assert "size" in f.why


def test_print_that_the_row_itself_put_right_does_not_bear_the_row_out():
    """The code at the connector was read RED, weakly, and believed TAN because the chart says so: it counts as RED."""
    h = bind([TypedSheet("page_1").run("r", "(10,10)", "(90,10)", read("S1 14 RED")).wiring()], [], STATED)
    [wire] = h.wires
    [seen] = [e for e in wire.code.evidence if e.kind == "read"]
    drawn = replace(seen, probability=0.2)
    said = Claim("S1 14 TAN", 0.98, (), (drawn, Evidence("chart", "S1 14 TAN", 0.99, "binding")))
    sheet = TypedSheet("page_1").oval("k", (60, 100), read("K1"))
    place = drawn.place
    assert place is not None
    texts = [SheetText("S1 14 TAN", "code", place.box, 0.98), SheetText("S1 14 RED", "code", Box(90, 90, 99, 92), 0.99)]
    texts += [SheetText(t, "code", Box(10, 15 + n, 30, 16 + n), p) for n, (t, p) in enumerate(USUAL)]
    table = chart_page("page_3", (read("K1"), read("HERE"), (("1", read("S1 14 RED"), read("S1 14 TAN")),)))
    whole = bind([replace(sheet.wiring(), texts=tuple(texts))], [table], STATED)
    assert not [f for f in _again(whole) if f.check == "chart-colour"]
    whole = replace(whole, wires=(replace(wire, code=said),))
    assert [f.subject for f in _again(whole) if f.check == "chart-colour"] == ["K1"]


def _again(harness: Harness) -> tuple[Finding, ...]:
    return find_all(harness, lambda text: parse_code(text, STATED))


def labelled(*lines: tuple[str, str], index: tuple[str, ...], zone: str = "D1") -> list[str]:
    """Checks that speak of a part at (120, 20) named by the first line, with (text, role) in lines from there down."""
    sheet = TypedSheet("page_1").part("x", "module", (140, 20), read(lines[0][0]), {})
    texts = tuple(SheetText(t, role, Box(110, 20 + 3 * n, 130, 22 + 3 * n), 0.97) for n, (t, role) in enumerate(lines))
    page = index_page("page_5", *((read(name), (zone,)) for name in index))
    return [
        f.check for f in bind([replace(sheet.wiring(), texts=texts)], [page], STATED).findings if "index" in f.check
    ]


def test_a_name_with_a_terminals_mark_read_into_it_is_still_the_part_that_the_index_names():
    pump = (("VACUUM", "name"), ("3 PUMP", "note"))
    assert labelled(*pump, index=("VACUUM PUMP",)) == ["index-zone"], "it stands in A3, the index says D1"
    assert labelled(*pump, index=("VACUUM PUMP",), zone="A3") == []
    assert labelled(("S1", "name"), ("VACUUM PUMP", "name"), index=("VACUUM PUMP",), zone="A3") == []


def test_a_mark_that_belongs_to_the_name_is_kept():
    two = (("VACUUM", "name"), ("PUMP 2", "note"))
    assert labelled(*two, index=("VACUUM PUMP 2", "VACUUM PUMP")) == ["index-not-drawn", "index-zone"]
