"""Conventions proposed from invented pages: each line with what speaks for it, nothing that was stated is touched."""

from __future__ import annotations

from dataclasses import replace

import pytest

from digitize.harness.claim import Claim
from digitize.legend.conventions import Conventions, conventions_from
from digitize.sheet.zones import Band, ZoneGrid
from digitize.tables.read import read_table
from digitize.wiring.proposed import proposed_conventions
from digitize.wiring.state import Run, RunEnd, SheetText, SheetWiring
from fixtures.read_pages import legend, read
from fixtures.small_harness import small_facts

CODES = [
    f"{c}{n}{s} {g} {m}" for n, (c, g) in enumerate([("S", 16), ("P", 10), ("S", 18)] * 5, 1)
    for s, m in (("", "RED/BLU"), ("A", "BLK"))
]  # fmt: skip


def grid(columns, rows) -> ZoneGrid:
    def bands(labels):
        return tuple(Band(label, 10.0 * k, 10.0 * k + 10) for k, label in enumerate(labels))

    return ZoneGrid(bands(columns), bands(rows), nominal=False)


def diagram(sheet="page_1", strings=CODES, columns="1234", rows="ABC", sure=0.95) -> SheetWiring:
    facts = replace(small_facts(sheet), zones=grid(list(columns), list(rows)), kind="diagram", kind_probability=0.95)
    box = read([("X", 1, 1)]).texts[0].box
    texts = tuple(SheetText(s, "code", box, sure) for s in strings)
    return SheetWiring(facts, (), (), (), (), (), texts)


def legend_page():
    texts, rules = legend()
    return read_table(read(texts, "legend", rules))


def proposed(*sheets, tables=(), stated=None):
    numbers = {f.sheet: n for n, f in enumerate([*(s.facts for s in sheets), *(t.facts for t in tables)], 1)}
    return proposed_conventions(sheets, tables, numbers, stated or Conventions())


def test_the_legend_names_what_the_statistics_find():
    found = proposed(diagram(), tables=[legend_page()])
    c = found.conventions
    assert c.code.pattern == ("{circuit}{number}{segment?} {gauge} {colour}{/tracer?}",)
    assert c.circuits == {"P": "power supply", "S": "side lamps"}
    assert c.colours == {"BLK": "black", "RED": "red", "BLU": "blue"}
    assert (c.gauges.system, c.gauges.sizes) == ("awg", ("10", "16", "18"))
    assert c.connectors.prefixes == {"K": "engine bay"}
    line = next(x for x in found.lines if x.key == "circuits.S")
    assert line.evidence[0].place.sheet == "page_09", "a person can look where it stands"
    assert "20 times" in found.remarks["circuits.S"]


def test_without_a_legend_the_slots_give_the_tables():
    c = proposed(diagram()).conventions
    assert set(c.circuits) == {"P", "S"}
    assert set(c.colours) == {"BLK", "RED", "BLU"}
    assert set(c.colours.values()) == {"not named in a legend"}


def test_a_misreading_that_stands_once_gets_into_no_table():
    c = proposed(diagram(strings=[*CODES, "5S3 1B RED", "S4 16 REO", "Q9 17 BLK"])).conventions
    assert set(c.colours) == {"BLK", "RED", "BLU"}
    assert set(c.circuits) == {"P", "S"}
    assert c.gauges.sizes == ("10", "16", "18")


def test_where_few_of_the_lines_codes_were_read_all_usual_sizes_are_proposed():
    """Codes whose size was never seen would else never be read: forty lines, and twelve codes with two sizes."""
    end = RunEnd("open", None, None, (1.0, 1.0))
    lines = tuple(Run(f"r{n}", (end, end), ((1.0, 1.0), (9.0, 1.0)), 0.3, (), (), 0.9) for n in range(40))
    for point, sizes, more in (
        (".", ("1", "1.5"), {"0.75", "2.5", "4", "35"}),
        (",", ("1,0", "1,5"), {"0,75", "4,0", "35"}),
    ):
        codes = [f"{c}{n} {g} {m}" for n in range(1, 4) for c in "SP" for g in sizes for m in ("RED", "BLK")][:12]
        few = replace(diagram(strings=codes), runs=lines)
        found = proposed(few).conventions.gauges.sizes
        assert {*sizes, *more} <= set(found), point
        assert not {"1.0", "1"} <= set(found), "as the manual prints them"
    many = replace(diagram(), runs=lines)
    assert proposed(many).conventions.gauges.sizes == ("10", "16", "18"), "what was read is all there is"


def test_the_text_is_a_conventions_file_that_says_the_same():
    found = proposed(diagram(), tables=[legend_page()])
    assert conventions_from(found.text()) == found.conventions
    assert 'S = "side lamps"  # legend; 20 times in codes' in found.text()


def test_what_is_stated_stays():
    stated = conventions_from('[colours]\nRED = "rosso"\n[gauges]\nsystem = "sae"\n[zones]\nrows = 9\n')
    c = proposed(diagram(), tables=[legend_page()], stated=stated).conventions
    assert c.colours == {"RED": "rosso"}
    assert (c.gauges.system, c.gauges.sizes) == ("sae", ("10", "16", "18"))
    assert c.zones == stated.zones


@pytest.mark.parametrize(
    ("first", "second", "skipped", "continues"),
    [
        ("1234", "5678", "", True),
        ("1234", "1234", "", False),
        ("EFGH", "JKLM", "I", True),
        ("1234", "5X78", "", True),
    ],
)
def test_the_grid_is_the_one_that_explains_most_labels(first, second, skipped, continues):
    rows = "123" if first.isalpha() else "ABC"
    zones = proposed(diagram("page_1", CODES, first, rows), diagram("page_2", CODES, second, rows)).conventions.zones
    assert (zones.columns, zones.rows, zones.first_across) == (4, 3, first[0])
    assert (zones.skipped, zones.continues) == (skipped, continues)


def test_labels_that_no_counting_explains_give_no_grid():
    zones = proposed(diagram("page_1", CODES, "1Q7B", "ABC"), diagram("page_2", CODES, "9244", "ABC")).conventions.zones
    assert zones == Conventions().zones


def test_ids_of_connectors_and_grommets_are_counted_where_they_are_drawn():
    from digitize.wiring.state import DrawnPlace

    box = read([("X", 1, 1)]).texts[0].box
    named = [*(("connector", f"K{n}") for n in (12, 14, 101, 7)), *(("grommet", f"GR{n}") for n in (1, 2, 3))]
    places = tuple(DrawnPlace(f"p{k}", kind, box, Claim(name, 0.97), (), 0.9) for k, (kind, name) in enumerate(named))
    c = proposed(replace(diagram(), places=places)).conventions
    assert c.connectors.pattern == "{prefix}{number:1-3 digits}"
    assert set(c.connectors.prefixes) == {"K"}
    assert c.grommets.prefix == "GR"


def test_bare_pages_propose_nothing_but_their_kinds():
    c = proposed(diagram(strings=["ON", "OFF"], columns="", rows="")).conventions
    assert c.model_copy(update={"pages": ()}) == Conventions()


def test_a_key_that_conventions_do_not_take_is_left_out():
    table = legend_page()
    line = next(x for x in table.legend if x.section == "circuit")
    long = replace(line, key=Claim("A", 0.9), meaning=Claim("x", 0.9))
    spaced = replace(table.legend[-1], key=Claim("K", 0.9, ()), section="connector")
    c = proposed(diagram(), tables=[replace(table, legend=(*table.legend, long, spaced))]).conventions
    assert conventions_from(proposed(diagram(), tables=[table]).text()).circuits.items() <= c.circuits.items()


def test_colours_printed_in_small_letters_are_proposed_so_though_codes_were_read_in_capitals():
    codes = [f"{c}/{t} 1.5 H{n}" for n in range(1, 13) for c, t in (("SW", "WS"), ("RS", "SW"))]
    texts, rules = legend()
    small = {"BLK": "SW", "RED": "WS", "BLU": "RS"}
    low = [(small[t[0]], t[1], t[2] + 0.6, 1.6) if t[0] in small and t[1] == 120 else t for t in texts]
    table = read_table(read(low, "legend", rules))
    assert {line.key.value for line in table.legend if line.section == "colour"} == {"SW", "WS", "RS"}
    found = proposed(diagram(strings=codes), tables=[table])
    assert set(found.conventions.colours) == {"sw", "ws", "rs"}
    assert found.conventions.colours["sw"] == "black"
    assert conventions_from(found.text()) == found.conventions
