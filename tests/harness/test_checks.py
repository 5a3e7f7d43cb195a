from __future__ import annotations

from dataclasses import replace

import pytest

from digitize.harness.checks import CHECKS, find_all
from digitize.harness.checks_sizes import (
    amperes,
    area_mm2,
    awg_circular_mils,
    most_amperes,
)
from digitize.harness.checks_tables import drawn_word
from digitize.harness.claim import Claim, Evidence
from digitize.harness.fuse_series import BLADE_COLOURS, SFE_LENGTHS_IN, known_by
from digitize.harness.model import Finding, Harness, WireCode
from digitize.harness.place import Box
from digitize.legend.codes import parse_code
from digitize.legend.conventions import Conventions, conventions_from
from digitize.wiring.binding import bind
from digitize.wiring.state import SheetText
from fixtures.typed_sheets import TypedSheet, chart_page, index_page, read

STATED = conventions_from("""
[code]
pattern = "{circuit}{number}{segment?} {gauge} {colour}{/tracer?}"
[circuits]
S = "side lamps"
E = "earth"
[colours]
RED = "red"
TAN = "tan"
BLK = "black"
[gauges]
system = "awg"
sizes = ["10", "14", "16", "18"]
""")


def circuit(
    fuse: str = "10A", feed: str = "S1 14 RED", load: str = "S2 14 RED", heading: str | None = None
) -> TypedSheet:
    """Battery, fuse, (a diode,) a lamp, a ground: nothing to find as long as all fits."""
    sheet = (
        TypedSheet("page_1")
        .part("bat", "battery", (20, 30), read("BATTERY"), {"+": (24, 30), "-": (20, 33)})
        .part("fuse", "fuse", (60, 30), read("3"), rating=fuse)
        .part("lamp", "lamp", (140, 30), read("SIDE LAMP"))
        .part("g1", "ground", (180, 30), read(None), {"1": (176, 30)})
        .part("g2", "ground", (20, 60), read(None), {"1": (20, 57)})
        .run("r1", "bat.+", "fuse.1", read(feed))
        .run("r3", "lamp.2", "g1.1", read("E1 16 BLK"))
        .run("r4", "bat.-", "g2.1", read("E2 16 BLK"))
    )
    if heading is None:
        return sheet.run("r2", "fuse.2", "lamp.1", read(load))
    sheet.part("d", "diode", (100, 30), read("D1"), heading=heading)
    return sheet.run("r2", "fuse.2", "d.1", read(load)).run("r5", "d.2", "lamp.1", read("S3 14 TAN"))


def found(*sheets: TypedSheet, tables=(), conventions: Conventions = STATED) -> list[Finding]:
    return list(bind([s.wiring() for s in sheets], tables, conventions).findings)


def kinds(*sheets: TypedSheet, tables=(), conventions: Conventions = STATED) -> list[str]:
    return [f.check for f in found(*sheets, tables=tables, conventions=conventions)]


def test_a_whole_circuit_gives_no_finding():
    assert kinds(circuit()) == []
    assert kinds(circuit(heading="right")) == []


def test_every_check_is_documented_and_every_finding_says_what_would_settle_it():
    for check in CHECKS.values():
        assert check.meaning.endswith(".")
        assert check.severity in {"note", "doubt", "fault"}
    told = found(circuit(fuse="60A", heading="left"), TypedSheet("page_2").run("x", "(5,5)", "(20,20)"))
    assert len(told) >= 3
    for f in told:
        assert f.check in CHECKS
        assert f.why
        assert f.settle
        assert f.places


def test_a_dangling_end_is_told_where_it_is():
    sheet = circuit().run("r9", "lamp.2", "(140,90)", read("S9 14 RED"))
    [f] = [f for f in found(sheet) if f.check == "dangling-end"]
    assert f.places[0].box.holds((140, 90))


def test_a_splice_of_two_is_told_and_one_of_three_is_not():
    two = (
        TypedSheet("page_1")
        .splice("s", (50, 50), 2)
        .part("l", "sensor", (20, 50), read("A"))
        .part("m", "sensor", (90, 50), read("B"))
    )
    two.run("r1", "l.2", "s", read("S1 14 RED")).run("r2", "s", "m.1", read("S2 14 RED"))
    assert kinds(two) == ["splice-too-small"]
    two.part("n", "sensor", (50, 90), read("C")).run("r3", "s", "n.1", read("S3 14 RED"))
    assert kinds(two) == []


@pytest.mark.parametrize(
    ("code", "expected"),
    [
        ("S2 14 RED", []),
        ("S2 14 PNK", ["unknown-colour"]),
        ("S2 14 RED/PNK", ["unknown-colour"]),
        ("S2 12 RED", ["unknown-gauge"]),
        ("X2 14 RED", ["unknown-circuit"]),
        ("S2 14 RED/RED", ["tracer-is-main-colour"]),
    ],
)
def test_codes_are_held_against_the_legend(code, expected):
    # Fits the pattern with what the tables lack only once the reader is very sure of it.
    sheet = circuit(load="S5 14 RED")
    sheet.part("x", "sensor", (60, 100), read("A")).part("y", "sensor", (120, 100), read("B"))
    sheet.run("r9", "x.2", "y.1", read(code, 0.995))
    assert kinds(sheet) == expected
    assert kinds(sheet, conventions=Conventions()) == [k for k in expected if k.startswith("tracer")]


def test_one_code_on_two_conductors_is_told_but_not_over_a_splice_or_connector():
    apart = circuit().part("x", "sensor", (60, 100), read("A")).part("y", "sensor", (120, 100), read("B"))
    apart.run("r9", "x.2", "y.1", read("S2 14 RED"))
    [f] = found(apart)
    assert (f.check, f.subject) == ("one-code-two-conductors", "S2 14 RED")
    joined = (
        TypedSheet("page_1")
        .oval("k", (60, 100), read("K1"))
        .part("x", "sensor", (20, 100), read("A"))
        .part("y", "sensor", (120, 100), read("B"))
    )
    joined.run("r8", "x.2", "k.a1", read("S2 14 RED")).run("r9", "k.b1", "y.1", read("S2 14 RED"))
    assert kinds(joined) == []


# 18 AWG carries at most 20 A by the marine 105 °C table (outside engine spaces); 16 AWG 25 A.
@pytest.mark.parametrize(("fuse", "load", "too_large"), [("20A", "S2 18 RED", False), ("25A", "S2 18 RED", True), ("25A", "S2 16 RED", False)])  # fmt: skip
def test_a_fuse_larger_than_the_wire_behind_it_is_told(fuse, load, too_large):
    fuses = [f for f in found(circuit(fuse=fuse, load=load)) if f.check == "fuse-larger-than-wire"]
    assert bool(fuses) == too_large
    for f in fuses:
        assert "vehicle's own manual" in f.settle


def test_a_wire_that_gets_thicker_behind_its_fuse_is_told():
    def run(first: str, second: str) -> list[str]:
        sheet = circuit(load=first)
        sheet.runs.pop()
        sheet.oval("k", (100, 30), read("K1"))
        return kinds(sheet.run("r2", "fuse.2", "k.a1", read(first)).run("r5", "k.b1", "lamp.1", read(second)))

    assert run("S2 18 RED", "S3 14 RED") == ["thicker-downstream"]
    assert run("S2 14 RED", "S3 18 RED") == []


def test_a_diode_against_the_only_way_to_a_load_is_told():
    assert kinds(circuit(heading="left")) == ["diode-blocks-all"]


def test_a_load_without_feed_or_ground_is_told_only_where_nothing_is_left_open():
    no_ground = circuit()
    no_ground.runs = [r for r in no_ground.runs if r.id != "r3"]
    no_ground.places = [p for p in no_ground.places if p.id != "bat"] + [
        p for p in circuit().part("bat2", "battery", (20, 30), read("B"), {"+": (24, 30)}).places if p.id == "bat2"
    ]
    no_ground.runs = [r for r in no_ground.runs if r.id not in {"r1", "r4"}]
    no_ground.run("r1", "bat2.+", "fuse.1", read("S1 14 RED"))
    assert kinds(no_ground) == ["load-without-ground"]
    no_feed = circuit()
    no_feed.runs = [r for r in no_feed.runs if r.id != "r2"]
    assert kinds(no_feed) == ["load-without-feed"]
    no_feed.run("r8", "lamp.1", "(120,60)", read("S2 14 RED"))
    assert kinds(no_feed) == ["dangling-end"]


def chart(a: str = "S1 14 RED", b: str = "S2 14 TAN", sure: float = 0.97):
    return chart_page(
        "page_3", (read("K1"), read("HERE"), (("1", read(a, sure), read(b, sure)), ("2", read(None), read(None))))
    )


def at_connector(first: str = "S1 14 RED", second: str = "S2 14 TAN", sure: float = 0.97) -> TypedSheet:
    sheet = TypedSheet("page_1").oval("k", (60, 100), read("K1")).part("x", "sensor", (20, 100), read("A"))
    sheet.part("y", "sensor", (120, 100), read("B"))
    return sheet.run("r8", "x.2", "k.a1", read(first, sure)).run("r9", "k.b1", "y.1", read(second, sure))


def test_chart_rows_are_held_against_the_drawing():
    assert found(at_connector(), tables=[chart()]) == []
    [f] = found(at_connector(), tables=[chart(b="S2 14 RED")])
    assert (f.check, f.subject, f.cavity) == ("chart-colour", "K1", "1")
    [f] = found(at_connector(sure=0.995), tables=[chart(b="S2 18 TAN", sure=0.995)])
    assert (f.check, f.cavity) == ("chart-code", "1")
    # One letter more or less is sooner misread than misprinted, unless both are very sure.
    assert found(at_connector(), tables=[chart(b="S2 18 TAN")]) == []


def test_a_weak_reading_that_all_else_confirms_speaks_against_a_misprint():
    """The other half and the habits of the manual say what was read weakly: the chart's own word counted against it."""
    both = at_connector(second="S1 14 RED", sure=0.97)
    [weak] = [r for r in both.runs if r.id == "r9"]
    both.runs[both.runs.index(weak)] = replace(
        weak, codes=tuple(replace(c, claim=read("S1 14 RED", 0.8)) for c in weak.codes)
    )
    h = bind([both.wiring()], [chart(b="S1 14 TAN", sure=0.9)], STATED)
    wire = next(w for w in h.wires if any(e.terminal == "b1" for e in w.ends))
    sure = replace(
        h,
        wires=tuple(
            replace(w, code=replace(w.code, value="S1 14 RED", probability=0.97)) if w is wire else w for w in h.wires
        ),
    )
    assert [f.check for f in find_all(sure, lambda t: parse_code(t, STATED))] == ["chart-colour"]
    other = replace(
        h,
        wires=tuple(
            replace(w, code=replace(w.code, value="S1 14 TAN", probability=0.97)) if w is wire else w for w in h.wires
        ),
    )
    assert "chart-colour" not in [f.check for f in find_all(other, lambda t: parse_code(t, STATED))]


def test_a_doubtful_reading_is_no_finding():
    assert found(at_connector(sure=0.6), tables=[chart(b="S2 14 RED")]) == []
    assert found(at_connector(), tables=[chart(b="S2 14 RED", sure=0.6)]) == []


def test_a_connector_only_drawn_or_only_listed_is_told():
    other = chart_page("page_4", (read("K930"), read("THERE"), (("1", read("S9 14 RED"), read("S9 14 RED")),)))
    assert kinds(at_connector(), tables=[other]) == ["connector-not-drawn", "connector-not-in-chart"]


def test_a_chart_that_lacks_many_connectors_was_not_read_in_full():
    sheet = at_connector()
    for n, y in enumerate((20, 40, 60)):
        sheet.oval(f"k{n}", (60, y), read(f"K4{n}"))
    other = chart_page("page_4", (read("K1"), read("THERE"), (("1", read("S1 14 RED"), read("S2 14 TAN")),)))
    assert kinds(sheet, tables=[other]) == []


def test_the_index_is_held_against_the_drawing():
    right = index_page("page_5", (read("SIDE LAMP"), ("A3",)))
    assert found(circuit(), tables=[right]) == []
    wrong = index_page("page_5", (read("SIDE LAMP"), ("D1",)))
    [f] = found(circuit(), tables=[wrong])
    assert (f.check, f.subject) == ("index-zone", "SIDE LAMP")
    assert "A3" in f.why
    unsure = index_page("page_5", (read("SIDE LAMP", 0.5), ("D1",)))
    assert not any(f.check == "index-zone" and f.severity == "fault" for f in found(circuit(), tables=[unsure]))
    missing = index_page("page_5", (read("TRUNK LAMP SWITCH"), ("D1",)))
    assert kinds(circuit(), tables=[missing]) == ["index-not-drawn"]


def test_a_label_over_two_lines_is_a_label():
    index = [index_page("page_5", (read("TRUNK LAMP SWITCH"), ("D1",)))]
    wiring = circuit().wiring()

    def at(*lines):
        texts = tuple(SheetText(t, "note", Box(10, y, 30, y + 2), 0.9) for t, y in lines)
        return [f.check for f in bind([replace(wiring, texts=texts)], index, STATED).findings]

    assert at(("TRUNK LAMP", 110), ("SWITCH", 113)) == []
    assert at(("TRUNK LAMP", 110), ("SWITCH", 120)) == ["index-not-drawn"], "far below stands something else"
    assert at(("TRUNK LAMP SWITCHES", 110)) == [], "an index line of which only the beginning was read"


def test_a_line_that_is_hardly_a_wire_is_not_asked_where_it_ends():
    h = bind([circuit().run("r9", "lamp.2", "(140,90)").wiring()], [], STATED)
    assert "dangling-end" in [f.check for f in h.findings]
    hardly = replace(h, wires=tuple(replace(w, probability=0.01) if w.code.value is None else w for w in h.wires))
    assert "dangling-end" not in [f.check for f in find_all(hardly, lambda t: parse_code(t, STATED))]


def test_a_reason_that_a_person_gave_is_kept_and_others_are_not_touched():
    h = bind([circuit(heading="left").wiring()], [], STATED)
    given = replace(h, findings=tuple(replace(f, accepted="drawn so on purpose") for f in h.findings))
    again = find_all(given, lambda t: parse_code(t, STATED))
    assert [f.accepted for f in again] == ["drawn so on purpose"]
    assert find_all(Harness("", ()), lambda t: parse_code(t, STATED)) == ()


def test_the_drawings_own_word_leaves_out_the_chart_and_counts_doubt():
    seen = Claim("S1", 0.9, (), (Evidence("read", "S1", 0.9, "r"), Evidence("chart", "S7", 0.99, "b")))
    word = drawn_word(seen)
    assert word is not None
    assert (word.text, word.probability) == ("S1", pytest.approx(0.9))
    two = Claim("S1", 0.9, (), (Evidence("read", "S1", 0.9, "r"), Evidence("repeat", "S7", 0.8, "r")))
    doubtful = drawn_word(two)
    assert doubtful is not None
    assert doubtful.probability < 0.2
    assert drawn_word(Claim.unread()) is None


# -- sizes, against the outside world ---------------------------------------------------------------------------------


# ASTM B258 / NBS Handbook 100: circular mils by AWG; 36 AWG is 0.0050 in, 4/0 is 0.4600 in.
@pytest.mark.parametrize(
    ("size", "mils"), [(4, 41741), (6, 26251), (8, 16510), (10, 10383), (12, 6530), (14, 4107), (16, 2583), (18, 1624), (20, 1022), (22, 642.4)],
)  # fmt: skip
def test_awg_areas_follow_astm_b258(size, mils):
    assert awg_circular_mils(size) == pytest.approx(mils, rel=1e-3)


def test_awg_ends_of_the_scale_and_its_steps():
    assert awg_circular_mils(36) == pytest.approx(25.0)
    assert awg_circular_mils(-3) == pytest.approx(460.0**2, rel=1e-4)
    assert awg_circular_mils(10) / awg_circular_mils(13) == pytest.approx(2.005, abs=1e-3)


# Marine table, worked example: 10 A, 21 ft there and back, 3 % of 12 V: CM = 10.75 · I · L / E = 6,271.
def test_the_6271_circular_mil_example_passes_12_awg_and_needs_10_sae():
    needed = 10.75 * 10 * 21 / 0.36 * 5.067075e-4
    awg12, sae12, sae10 = (area_mm2(s, system) for s, system in (("12", "awg"), ("12", "sae"), ("10", "sae")))
    assert awg12 is not None
    assert sae12 is not None
    assert sae10 is not None
    assert sae12 < needed < awg12
    assert sae10 > needed


def test_sae_sizes_are_smaller_than_awg_of_the_same_number():
    for size in ("18", "16", "14", "12", "10", "8"):
        sae, awg = area_mm2(size, "sae"), area_mm2(size, "awg")
        assert sae is not None
        assert awg is not None
        assert 0.88 < sae / awg < 0.95


def test_sizes_that_are_not_known_say_so():
    assert area_mm2("0.75", "mm2") == 0.75
    assert area_mm2("0,75", "mm2") == 0.75
    assert area_mm2("16", None) is None
    assert area_mm2("0.75", "awg") is None
    assert area_mm2("RED", "mm2") is None
    assert area_mm2("3", "sae") is None
    assert most_amperes("18", "awg") == 20.0
    assert most_amperes("0.75", "mm2") == 20.0
    assert most_amperes("2.5", "mm2") == 45.0
    assert most_amperes("30", "awg") is None
    assert most_amperes("16", None) is None


# SFE glass fuses come as 4, 6, 7.5, 9, 14, 20 and 30 A.
@pytest.mark.parametrize(("printed", "expected"), [("7.5A", 7.5), ("14 A", 14.0), ("25 AMP", 25.0), ("30", 30.0), ("SFE", None), (None, None), ("A25", None)])  # fmt: skip
def test_ratings_are_read_as_amperes(printed, expected):
    assert amperes(printed) == expected


def test_parsed_codes_of_a_finding_are_never_needed_to_be_complete():
    h = bind([circuit().wiring()], [], STATED)
    assert find_all(h, WireCode) == ()
    assert find_all(h, lambda _: None) == ()


# SFE glass fuses, makers' tables: a length for each rating, so that none fits where a smaller one belongs.
@pytest.mark.parametrize(
    ("rating", "inches", "mm"),
    [(4, "5/8", 15.9), (6, "3/4", 19.0), (7.5, "7/8", 22.2), (9, "7/8", 22.2), (14, "1-1/16", 27.0), (20, "1-1/4", 31.7), (30, "1-7/16", 36.5)],
)  # fmt: skip
def test_sfe_fuses_have_a_length_for_each_rating(rating, inches, mm):
    assert SFE_LENGTHS_IN[rating] == inches
    whole, _, part = inches.rpartition("-")
    top, bottom = part.split("/")
    assert (int(whole or 0) + int(top) / int(bottom)) * 25.4 == pytest.approx(mm, abs=0.1)
    assert f"{inches} in" in known_by(rating)


# Blade fuses by colour, a maker's chart, read at a parts seller; one page's claim that tan is 1 A is wrong.
@pytest.mark.parametrize(
    ("rating", "colour"),
    [(1, "black"), (2, "grey"), (3, "violet"), (4, "pink"), (5, "tan"), (7.5, "brown"), (10, "red"), (15, "blue"), (20, "yellow"), (25, "clear"), (30, "green"), (40, "orange")],
)  # fmt: skip
def test_blade_fuses_have_a_colour_for_each_rating(rating, colour):
    assert BLADE_COLOURS[rating] == colour
    assert colour in known_by(rating)


def test_a_rating_of_no_series_says_so_and_a_finding_says_how_the_fuse_is_known():
    assert "neither" in known_by(28)
    [f] = [f for f in found(circuit(fuse="40A")) if f.check == "fuse-larger-than-wire"]
    assert "orange" in f.settle
