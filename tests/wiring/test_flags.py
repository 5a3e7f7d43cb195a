"""A wire goes through a flag that holds its code; a box that holds anything else is a part."""

from __future__ import annotations

from dataclasses import replace

import pytest

from digitize.harness.claim import Alternative
from digitize.harness.place import Box
from digitize.ink.state import Meeting, Stroke, Symbol, TextBlock
from digitize.wiring.flags import without_flags
from digitize.wiring.understand import understand
from fixtures.small_page import Page, codes, ends


def flagged(text: str, kind: str = "code", *, upright: bool = False) -> Page:
    """A lamp and a motor with a wire between them that an outline round ``text`` interrupts."""
    page = Page()
    half = 1.5 * len(text) / 2 + 0.6
    if upright:
        page.part("lamp", 56, 10, 64, 16).part("motor", 56, 64, 64, 70)
        page.text("LEFT", 70, 13, "word").text("RIGHT", 70, 67, "word")
        page.line((60, 16), (60, 40 - half)).line((60, 40 + half), (60, 64))
        page.line((58.4, 40 - half), (61.6, 40 - half), (61.6, 40 + half), (58.4, 40 + half), (58.4, 40 - half))
        return page.text(text, 60, 40, kind, angle=90)
    page.part("lamp", 10, 37, 18, 43).part("motor", 100, 37, 108, 43)
    page.text("LEFT", 14, 35, "word").text("RIGHT", 104, 35, "word")
    page.line((18, 40), (60 - half, 40)).line((60 + half, 40), (100, 40))
    page.line((60 - half, 38.4), (60 + half, 38.4), (60 + half, 41.6), (60 - half, 41.6), (60 - half, 38.4))
    return page.text(text, 60, 40, kind)


def test_a_wire_goes_through_the_flag_that_holds_its_code():
    for upright in (False, True):
        wiring = flagged("A1 18 RD/GN", upright=upright).understood()
        assert ends(wiring) == [("LEFT", "RIGHT")]
        assert codes(wiring) == [["A1 18 RD/GN"]]
        assert {p.kind for p in wiring.places} == {"lamp", "motor"}


def test_a_box_with_a_name_in_it_stays_a_part_at_which_both_wires_end():
    wiring = flagged("WIPER DELAY", "word").understood()
    assert ends(wiring) == [("LEFT", "WIPER DELAY"), ("RIGHT", "WIPER DELAY")]


def test_a_box_with_the_id_of_a_connector_in_it_is_that_connector():
    wiring = flagged("C101", "connector").understood()
    assert sorted(p.kind for p in wiring.places) == ["connector", "lamp", "motor"]


def test_what_was_taken_for_a_part_and_holds_nothing_but_a_code_is_a_flag():
    page = flagged("A1 18 RD")
    page.part("connector", 52.8, 38, 67.2, 42)
    wiring = page.understood()
    assert ends(wiring) == [("LEFT", "RIGHT")]
    assert codes(wiring) == [["A1 18 RD"]]


def test_what_is_left_of_the_outline_of_such_a_flag_leads_no_wire_astray():
    read = flagged("A1 18 RD").read()
    box = Box(53.4, 38.4, 66.6, 41.6)
    lead, up, down = ((18, 40), (53.2, 40)), ((53.2, 40), (53.4, 38.2), (56, 38.1)), ((53.2, 40), (53.5, 41.9))
    strokes = tuple(Stroke(points, 0.3) for points in (lead, up, down, ((67, 40), (100, 40)), ((40, 38.3), (70, 38.3))))
    fork = Meeting((53.2, 40), "join", 0.6, ((0, 1), (1, 0), (2, 0)))
    marks = replace(read.marks, symbols=(Symbol("connector", box, 0.9),), strokes=strokes, meetings=(fork,))
    found = without_flags(marks, read.texts)
    assert found.strokes == (strokes[0], *strokes[3:]), "a wire close by runs on"
    assert not found.meetings


@pytest.mark.parametrize(("text", "kind", "left"), [("A1 18 RD", "code", []), ("LAMP", "word", ["heater"])])
def test_a_flag_that_was_taken_for_a_part_is_that_part_again_where_it_holds_no_code(
    text: str, kind: str, left: list[str]
):
    read = flagged(text, kind).read()
    flag = Symbol("flag", Box(53.4, 38.4, 66.6, 41.6), 0.9, alternatives=(("heater", 0.97),))
    found = without_flags(replace(read.marks, symbols=(flag,)), read.texts)
    assert [(s.kind, s.probability, s.alternatives) for s in found.symbols] == [(k, 0.97, ()) for k in left]


def row_of_flags(sure: int) -> Page:
    """Wires with codes in outlines taken for parts; the reader is sure of ``sure`` of them and hardly of the last."""
    page = Page()
    for k in range(sure + 1):
        y = 12 + 10 * k
        page.part("ground", 10, y - 2, 14, y + 2).part("connector", 104, y - 2, 108, y + 2)
        page.line((14, y), (52, y)).line((68, y), (104, y)).part("module", 52, y - 1.6, 68, y + 1.6)
        page.text(f"A{k} 18 RD", 60, y, "code")
    return page


@pytest.mark.parametrize(("chance", "wires"), [(0.03, 1), (0.6, 2)])
def test_a_bit_of_the_outline_that_was_read_as_a_letter_does_not_make_a_part_of_a_flag(chance: float, wires: int):
    page = flagged("A1 18 RD")
    page.part("coil", 53.4, 38.4, 66.6, 41.6)
    read = page.text("U", 54.5, 40, "word").read()
    texts = tuple(replace(t, probability=chance) if t.text == "U" else t for t in read.texts)
    assert len(understand(replace(read, texts=texts)).runs) == wires


@pytest.mark.parametrize(("lettering", "left"), [(0.2, []), (0.9, ["heater"])])
def test_a_stroke_of_a_letter_that_was_read_once_more_does_not_make_a_part_of_a_flag(lettering: float, left: list[str]):
    read = flagged("A1 18 RD").text("N", 58, 40, "word").read()
    blocks = tuple(TextBlock(k, t.box, 0, lettering if t.text == "N" else 0.95) for k, t in enumerate(read.texts))
    flag = Symbol("flag", Box(53.4, 38.4, 66.6, 41.6), 0.9, alternatives=(("heater", 0.97),))
    found = without_flags(replace(read.marks, symbols=(flag,), texts=blocks), read.texts)
    assert [s.kind for s in found.symbols] == left


@pytest.mark.parametrize(("sure", "parts"), [(4, 0), (2, 1)])
def test_what_is_as_high_as_the_labels_of_the_sheet_and_a_code_if_anything_is_one(sure: int, parts: int):
    marks = row_of_flags(sure).read()
    last = replace(marks.texts[-1], by_kind=(("code", (Alternative(marks.texts[-1].text, 0.05),)),))
    left = without_flags(marks.marks, (*marks.texts[:-1], last))
    assert sum(s.kind == "module" for s in left.symbols) == parts
