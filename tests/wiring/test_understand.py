"""Promises about one sheet: what a run is, where it ends, which code it carries, what a part is called.

A dot joins, a plain crossing does not: IEEE 315 (from memory). All else about how wiring pages are drawn (codes that interrupt
their line or stand above it, upright ones to its left, earth marks, fuses): common practice, no source.
"""

from dataclasses import replace

import pytest

from digitize.harness.claim import Alternative
from digitize.wiring.understand import understand
from fixtures.small_page import Page, codes, ends


def test_a_wire_between_two_parts_is_one_run_with_its_code():
    page = Page().part("lamp", 10, 15, 18, 25).part("module", 100, 15, 110, 25).line((18, 20), (100, 20))
    wiring = (
        page.text("S4 16 RED", 50, 18.6).text("SIDE LAMP", 14, 12, "word").text("TIMER", 105, 12, "word").understood()
    )
    assert ends(wiring) == [("SIDE LAMP", "TIMER")]
    assert codes(wiring) == [["S4 16 RED"]]
    assert {p.label.value for p in wiring.places} == {"SIDE LAMP", "TIMER"}


def test_a_plain_crossing_leaves_two_runs_and_a_dot_makes_four():
    def page() -> Page:
        p = Page().part("module", 8, 30, 16, 50).part("module", 104, 30, 112, 50)
        p.part("module", 50, 8, 70, 14).part("module", 50, 66, 70, 72)
        return p.line((16, 40), (104, 40)).line((60, 14), (60, 66))

    plain = page().understood()
    assert len(plain.runs) == 2
    assert not plain.splices
    assert len(plain.crossings) == 1
    dotted = page().dot(60, 40).understood()
    assert len(dotted.runs) == 4
    assert [s.degree for s in dotted.splices] == [4]
    assert not dotted.crossings


def test_a_code_that_interrupts_its_line_joins_both_sides_and_belongs_to_it():
    page = Page().part("lamp", 10, 15, 18, 25).part("lamp", 100, 15, 108, 25)
    wiring = page.line((18, 20), (45, 20)).line((62, 20), (100, 20)).text("12.05 1.5 RT", 53.5, 20).understood()
    assert len(wiring.runs) == 1
    assert codes(wiring) == [["12.05 1.5 RT"]]


def test_stacked_codes_each_go_to_the_line_below_them():
    page = Page().part("module", 8, 20, 16, 60).part("module", 104, 20, 112, 60)
    for n, y in enumerate((28, 32, 36, 40)):
        page.line((16, y), (104, y)).text(f"K{n} 18 BLU", 40, y - 1.5)
    wiring = page.understood()
    assert sorted((round(r.points[0][1]), r.codes[0].claim.value) for r in wiring.runs) == [
        (28, "K0 18 BLU"), (32, "K1 18 BLU"), (36, "K2 18 BLU"), (40, "K3 18 BLU"),
    ]  # fmt: skip


def test_a_code_that_reads_upwards_belongs_to_the_line_at_its_right():
    page = Page().part("module", 40, 8, 60, 14).part("module", 40, 66, 60, 72)
    page.line((45, 14), (45, 66)).line((55, 14), (55, 66))
    wiring = page.text("B1 16 RED", 43.5, 40, angle=90).text("B2 16 RED", 53.5, 40, angle=90).understood()
    assert sorted((round(r.points[0][0]), r.codes[0].claim.value) for r in wiring.runs) == [
        (45, "B1 16 RED"),
        (55, "B2 16 RED"),
    ]


def test_a_connector_ends_the_wires_at_its_two_halves():
    page = Page().part("module", 8, 15, 16, 25).part("lamp", 100, 15, 108, 25).part("connector", 54, 17.5, 66, 22.5)
    page.line((16, 20), (54, 20)).line((66, 20), (100, 20)).text("K12", 60, 20, "connector")
    wiring = page.text("A1 16 RED", 35, 18.6).text("A2 16 BLU", 83, 18.6).understood()
    (oval,) = [p for p in wiring.places if p.kind == "connector"]
    assert oval.label.value == "K12"
    assert [t.id for t in oval.terminals] == ["a1", "b1"]
    by_code = {r.codes[0].claim.value: {e.terminal for e in r.ends if e.node == oval.id} for r in wiring.runs}
    assert by_code == {"A1 16 RED": {"a1"}, "A2 16 BLU": {"b1"}}


def test_a_wire_goes_through_a_grommet_unchanged():
    page = Page().part("module", 8, 15, 16, 25).part("lamp", 100, 15, 108, 25)
    page.line((16, 20), (100, 20)).part("grommet", 58.5, 17, 61.5, 23).text("GR4", 60, 15, "connector")
    wiring = page.understood()
    (grommet,) = [p for p in wiring.places if p.kind == "grommet"]
    assert [r.grommets for r in wiring.runs] == [(grommet.id,)]
    assert grommet.label.value == "GR4"


def test_a_wire_to_the_frame_ends_at_the_page_edge():
    page = Page().part("lamp", 10, 15, 18, 25).line((18, 20), (114, 20)).text("H3 14 GRY", 100, 18.6)
    wiring = page.understood()
    assert [e.edge for e in wiring.edges] == ["right"]
    (run,) = wiring.runs
    assert {e.kind for e in run.ends} == {"place", "edge"}
    assert run.codes[0].near_edge == wiring.edges[0].id


def test_a_short_line_to_an_earth_mark_is_the_parts_earthed_case_and_no_wire():
    page = Page().part("motor", 40, 20, 50, 30).part("ground", 42, 34, 48, 38).line((45, 30), (45, 34))
    wiring = page.part("module", 90, 20, 100, 30).line((50, 25), (90, 25)).understood()
    assert len(wiring.runs) == 1
    (motor,) = [p for p in wiring.places if p.kind == "motor"]
    assert motor.case_ground
    assert not [p for p in wiring.places if p.kind == "ground"]


def test_a_worn_gap_in_a_line_is_bridged_and_makes_the_run_less_sure():
    def page() -> Page:
        return Page().part("lamp", 10, 15, 18, 25).part("lamp", 100, 15, 108, 25)

    whole = page().line((18, 20), (100, 20)).understood()
    worn = page().line((18, 20), (50, 20)).line((52, 20), (100, 20)).understood()
    assert len(worn.runs) == 1
    assert worn.runs[0].probability < whole.runs[0].probability


def test_an_underline_and_a_title_block_are_no_wires():
    page = Page().line((30, 70), (80, 70)).line((85, 75), (85, 65), (115, 65)).line((100, 65), (100, 75))
    assert page.understood().runs == ()


def test_a_name_in_two_lines_is_one_name():
    page = Page().part("lamp", 50, 30, 58, 38).text("REAR FOG", 54, 24.5, "word").text("LAMP", 54, 27.5, "word")
    wiring = page.understood()
    assert [p.label.value for p in wiring.places] == ["REAR FOG LAMP"]


def test_each_of_two_neighbours_gets_its_own_name():
    page = Page().part("lamp", 30, 30, 38, 38).part("lamp", 44, 30, 52, 38)
    page.text("LEFT", 34, 27.5, "word").text("RIGHT", 47, 27.5, "word")
    wiring = page.understood()
    assert sorted((round(p.box.x0), p.label.value) for p in wiring.places) == [(30, "LEFT"), (44, "RIGHT")]


def test_a_fuse_takes_its_number_and_rating_and_hands_its_output_on():
    page = Page().part("fuse_block", 40, 20, 70, 40).part("fuse", 51, 28, 59, 32)
    page.line((10, 30), (40, 30)).line((70, 30), (114, 30))
    page.text("7", 47, 30, "number").text("15A", 64, 30, "number").text("FUSE BLOCK", 55, 17, "word")
    wiring = page.understood()
    (fuse,) = [p for p in wiring.places if p.kind == "fuse"]
    (block,) = [p for p in wiring.places if p.kind == "fuse_block"]
    assert (fuse.label.value, fuse.rating, fuse.parent) == ("7", "15A", block.id)
    assert fuse.joined == (("2", f"^{block.terminals[0].id}"),)
    assert block.label.value == "FUSE BLOCK"


def test_a_fuse_that_stands_alone_takes_its_name():
    page = Page().part("fuse", 50, 38, 57, 41).line((10, 39.5), (50, 39.5)).line((57, 39.5), (114, 39.5))
    wiring = page.text("RADIO FUSE", 53.5, 36, "word").understood()
    assert [p.label.value for p in wiring.places] == ["RADIO FUSE"]


@pytest.mark.parametrize(("apart", "wires"), [(0.8, 2), (1.5, 2), (4.0, 3)])
def test_ways_that_touch_at_their_tips_are_joined_by_no_wire(apart: float, wires: int):
    page = Page().part("connector", 50, 37, 56, 41).part("connector", 56 + apart, 37, 62 + apart, 41)
    page.line((10, 39), (50, 39)).line((56, 39), (56 + apart, 39)).line((62 + apart, 39), (114, 39))
    assert len(page.understood().runs) == wires


def test_a_reading_that_differs_from_the_code_in_capitals_and_points_alone_is_no_other_reading():
    read = Page().part("lamp", 10, 37, 18, 43).part("motor", 100, 37, 108, 43)
    read = read.line((18, 40), (100, 40)).text("rs/gr-0,75-B2D", 60, 38.5).read()
    free = (Alternative("RS/GR-0.75-B2D", 0.993), Alternative("RS/GR-O.75-B2D", 0.004))
    code = (Alternative("rs/gr-0,75-B2D", 0.011),)
    text = replace(read.texts[0], probability=0.985, free=free, by_kind=(("code", code),))
    (run,) = understand(replace(read, texts=(text,))).runs
    assert run.codes[0].claim.value == "rs/gr-0,75-B2D"
    assert [a.text for a in run.codes[0].claim.alternatives] == ["rs/gr-0,75-B2D", "RS/GR-O.75-B2D"]


BENT = ((30, 54), (80, 54), (80, 66), (96, 66))
"""A line round two corners that begins and ends in the middle of nowhere."""


@pytest.mark.parametrize(
    ("line", "coded", "wires"),
    [(BENT, False, 2), (((30, 58), (96, 58)), False, 1), (BENT[1:], False, 1), (BENT, True, 3)],
    ids=["bent", "straight", "short", "where wires carry codes"],
)
def test_where_wires_carry_no_codes_a_long_bent_line_is_not_lost_though_it_leads_nowhere(line, coded, wires):
    page = Page().part("module", 8, 30, 16, 50).part("module", 104, 30, 112, 50)
    for k in range(3 if coded else 1):
        page = page.line((16, 34 + 6 * k), (104, 34 + 6 * k))
        page = page.text(f"12.0{k} 1.5 RT", 60, 32 + 6 * k) if coded else page
    wiring = page.line(*line).understood()
    assert len(wiring.runs) == wires
    loose = [run for run in wiring.runs if all(e.kind == "open" for e in run.ends)]
    assert len(loose) == (1 if line is BENT and not coded else 0)


@pytest.mark.parametrize(
    ("text", "lettering", "told"),
    [
        ("LAMP CAT. NO. 80", 0.95, True),
        ("LAMP", 0.95, False),
        ("LAMP CAT. NO. 80", 0.6, False),
        ("--------", 0.95, False),
    ],
    ids=["a long string", "a short one", "what may be a coil", "a worn line"],
)
def test_a_long_string_that_was_hardly_read_is_told_with_its_doubt(text, lettering, told):
    read = Page().part("module", 8, 30, 16, 50).text(text, 60, 20, "word").read()
    (block,) = read.marks.texts
    marks = replace(read.marks, texts=(replace(block, probability=lettering),))
    said = understand(replace(read, marks=marks, texts=(replace(read.texts[0], probability=0.1),))).texts
    assert [(t.text, t.probability) for t in said] == [(text, 0.1)] * told
