"""Outlines at the border in which a wire ends: it goes on overleaf, and what they hold says where."""

from dataclasses import replace

import cv2
import pytest

from digitize.harness.place import Box
from digitize.ink.state import Symbol
from fixtures.small_page import Page


def triangle(page, y, letter, x=108.0, kind="ground", start=18.0):
    """A wire along ``y`` that ends in an outline of 4 mm with ``letter`` in it; the border stands at x = 114."""
    page.line((start, y), (x, y)).line((x, y - 2), (x + 4, y), (x, y + 2), (x, y - 2))
    page.symbols.append(Symbol(kind, Box(x, y - 2, x + 4, y + 2), 0.95))
    return page.text(letter, x + 1.6, y, "word") if letter else page


def edges(wiring):
    return [(e.edge, e.text.value if e.text else None) for e in wiring.edges]


def test_a_wire_into_a_lettered_outline_at_the_border_leaves_the_sheet():
    page = Page().part("lamp", 10, 15, 18, 25).text("H3 14 GRY", 60, 18.6)
    wiring = triangle(page, 20, "C").understood()
    assert edges(wiring) == [("right", "C")]
    assert [p.kind for p in wiring.places] == ["lamp"]
    assert {e.kind for e in wiring.runs[0].ends} == {"place", "edge"}
    assert [t.role for t in wiring.texts if t.text == "C"] == ["edge"]


def test_where_such_marks_are_the_habit_one_whose_letter_is_unread_is_one_too():
    page = Page().part("module", 10, 15, 18, 65)
    for y, letter in ((20, "C"), (30, "F"), (40, "")):
        triangle(page, y, letter, kind="diode")
    assert edges(page.understood()) == [("right", "C"), ("right", "F"), ("right", None)]


def test_a_sheet_that_is_named_in_two_outlines_is_a_mark_once_alone_it_may_be_a_part():
    page = Page().part("module", 10, 15, 18, 65)
    triangle(page, 20, "SHT 3")
    assert edges(page.understood()) == []
    triangle(page, 30, "SHT 2")
    assert edges(page.understood()) == [("right", "SHT 3"), ("right", "SHT 2")]


def test_a_part_inside_the_sheet_or_one_with_two_wires_or_none_in_it_is_no_mark():
    inside = triangle(Page().part("lamp", 10, 15, 18, 25), 20, "C", x=90)
    assert edges(inside.understood()) == []
    passed = triangle(Page().part("lamp", 10, 15, 18, 25), 20, "C").line((110, 22), (110, 60))
    assert edges(passed.understood()) == []
    unlettered = triangle(Page().part("lamp", 10, 15, 18, 25), 20, "")
    assert [p.kind for p in unlettered.understood().places] == ["lamp", "ground"]


def undetected(page, y, letter, x=108.0):
    """An outline like that of ``triangle`` that the net saw nothing in."""
    triangle(page, y, letter, x)
    page.symbols.pop()
    return page


def test_an_outline_with_a_letter_at_the_border_needs_no_net_to_be_a_mark():
    page = undetected(Page().part("lamp", 10, 15, 18, 25), 20, "C").text("H3 14", 60, 18.6)
    wiring = page.understood()
    assert edges(wiring) == [("right", "C")]
    assert [p.kind for p in wiring.places] == ["lamp"]
    assert {e.kind for e in wiring.runs[0].ends} == {"place", "edge"}


def test_an_undetected_outline_inside_the_sheet_without_a_letter_or_with_two_wires_is_no_mark():
    for page in (
        undetected(Page().part("lamp", 10, 15, 18, 25), 20, "C", x=90),
        undetected(Page().part("lamp", 10, 15, 18, 25), 20, ""),
        undetected(Page().part("lamp", 10, 15, 18, 25), 20, "C").line((110, 21), (110, 60)),
    ):
        assert edges(page.text("H3 14", 60, 18.6).understood()) == []


def bracketed(page, y, says, *, code=None, stop=90.0):
    """A wire along ``y`` up to a bracket whose stroke stands at x = 100; ``code`` interrupts it right there."""
    page.line((18, y), (stop if code else 100, y)).line((101, y - 1.2), (100, y - 1.2), (100, y + 1.2), (101, y + 1.2))
    if code:
        page.line((99, y), (100, y)).text(code, (stop + 99) / 2, y)
    return page.text(says, 107, y, "word")


def test_a_wire_up_to_a_bracket_leaves_the_sheet_also_where_its_code_interrupts_it_there():
    page = bracketed(Page().part("module", 10, 15, 18, 65), 20, "3/C29")
    wiring = bracketed(page, 40, "2/A4", code="H3 14", stop=90.0).understood()
    assert edges(wiring) == [("right", "3/C29"), ("right", "2/A4")]
    assert [[c.claim.value for c in r.codes] for r in wiring.runs] == [[], ["H3 14"]]
    assert all({e.kind for e in r.ends} == {"place", "edge"} for r in wiring.runs)


@pytest.mark.parametrize("kind", ["flag", "coil"])
def test_the_outline_of_the_code_before_a_bracket_does_not_keep_its_wire_on_the_sheet(kind):
    page = Page().part("module", 10, 15, 18, 65)
    page.line((18, 20), (81, 20)).line((101, 18.8), (100, 18.8), (100, 21.2), (101, 21.2))
    page.symbols.append(Symbol(kind, Box(82.4, 18.4, 99.2, 21.6), 0.9))
    cv2.line(page.ink, (1192, 240), (1200, 240), 255, 3)  # a stub too short for a line
    page.text("H3 14", 90.8, 20).text("3/C29", 107, 20, "word")
    page.texts[0] = (replace(page.texts[0][0], box=Box(84, 19, 97.6, 21)), *page.texts[0][1:])
    assert edges(page.understood()) == [("right", "3/C29")]


def parted(page, y, x=108.0, further=()):
    """An outline like that of ``triangle`` whose letter has run into it: drawn in strokes that hang together."""
    page.line((18, y), (x, y)).line((x, y), (x, y - 2), (x + 2, y - 1)).line(
        (x + 2, y - 1), (x + 4, y), (x, y + 2), (x, y)
    )
    page.line((x + 2, y - 1), (x + 1, y + 0.6))
    for a, b in further:
        page.line(a, b)
    return page


def test_a_letter_that_has_run_into_its_outline_does_not_keep_the_wire_on_the_sheet():
    page = triangle(Page().part("module", 10, 15, 18, 65), 20, "C", kind="diode")
    assert edges(parted(page, 40).understood()) == [("right", "C"), ("right", None)]


def test_of_a_mark_that_its_letter_ran_into_a_stub_before_the_outline_of_its_code_is_no_part():
    page = triangle(Page().part("module", 10, 15, 18, 65), 20, "C", kind="diode")
    page.line((18, 40), (80, 40)).line((105.4, 40), (108, 40))  # the outline is taken away, the stub ends loose at it
    page.symbols.append(Symbol("flag", Box(81, 38.4, 105.2, 41.6), 0.9))
    page.text("A1 18 RED", 93, 40)
    page.line((108, 40), (108, 38), (110, 39)).line((110, 39), (112, 40), (108, 42), (108, 40))
    page.line((110, 39), (109, 40.6))
    assert edges(page.understood()) == [("right", "C"), ("right", None)]


def test_strokes_at_the_border_are_no_mark_alone_nor_larger_than_the_marks_there_nor_passed_on_by_a_second_wire():
    assert edges(parted(Page().part("module", 10, 15, 18, 65), 40).understood()) == []
    for further in ([((110, 39), (110, 34.5))], [((110, 39), (100, 30))]):
        page = triangle(Page().part("module", 10, 15, 18, 65), 20, "C", kind="diode")
        wiring = parted(page, 40, further=further).understood()
        alone = parted(Page().part("module", 10, 15, 18, 65), 40, further=further).understood()
        assert edges(wiring) == [("right", "C")]
        assert [(p.kind, p.box) for p in wiring.places] == [(p.kind, p.box) for p in alone.places]


def test_an_earth_mark_as_large_as_the_marks_at_the_border_stays_an_earth_mark():
    page = triangle(Page().part("module", 10, 15, 18, 65), 20, "C", kind="diode")
    wiring = triangle(page, 40, "", kind="ground").understood()
    assert edges(wiring) == [("right", "C")]
    assert [p.kind for p in wiring.places] == ["module", "ground"]


@pytest.mark.parametrize("drawn", ["letter", "bars", "ink"])
def test_what_was_taken_for_an_earth_is_a_mark_where_unread_lettering_stands_in_it(drawn):
    page = triangle(Page().part("module", 10, 15, 18, 65), 20, "C", kind="diode")
    page = triangle(page, 40, "", kind="ground")
    x, y = 110 * 12, 40 * 12
    if drawn == "letter":
        cv2.putText(page.ink, "B", (x - 8, y + 7), cv2.FONT_HERSHEY_SIMPLEX, 0.65, 255, 4)
    for k in {"bars": (-8, 0, 8), "ink": range(-12, 13, 2)}.get(drawn, ()):
        cv2.line(page.ink, (x + k, y - 14), (x + k, y + 14), 255, 3)
    wiring = page.understood()
    assert len(edges(wiring)) == (2 if drawn == "letter" else 1)
    assert [p.kind for p in wiring.places] == ["module", "ground"][: 1 if drawn == "letter" else 2]


def interrupted(page, y, letter, *, stub=True, known=True):
    """A mark whose wire its code interrupts right before it: a stub is all that is drawn between them."""
    page.line((18, y), (80, y)).text("A1 18 RED", 92, y)
    if stub:
        page.line((107.3, y), (108, y))
    page.line((108, y - 2), (112, y), (108, y + 2), (108, y - 2))
    if known:
        page.symbols.append(Symbol("ground", Box(108, y - 2, 112, y + 2), 0.6))
    return page.text(letter, 109.6, y, "word")


@pytest.mark.parametrize("stub", [True, False])
@pytest.mark.parametrize("known", [True, False])
def test_a_code_that_interrupts_the_wire_right_before_its_mark_does_not_keep_it_on_the_sheet(stub: bool, known: bool):
    page = interrupted(Page().part("lamp", 10, 15, 18, 25), 20, "C", stub=stub, known=known)
    page.texts[0] = (replace(page.texts[0][0], box=Box(81, 19, 107, 21)), *page.texts[0][1:])
    wiring = page.understood()
    assert edges(wiring) == [("right", "C")]
    assert [p.kind for p in wiring.places] == ["lamp"]
    assert [c.claim.value for r in wiring.runs for c in r.codes] == ["A1 18 RED"]


@pytest.mark.parametrize("arrows", [0, 2])
def test_the_size_of_arrows_told_by_their_shape_tells_others_of_it(arrows: int):
    page = Page().part("module", 10, 15, 18, 65)
    for y in (20, 30)[:arrows]:
        undetected(page, y, "")
        cv2.putText(page.ink, "D", (108 * 12 + 8, y * 12 + 6), cv2.FONT_HERSHEY_SIMPLEX, 0.55, 255, 3)
    triangle(page, 50, "", kind="diode").line((110, 51.4), (110, 48.2))
    assert len(edges(page.understood())) == (3 if arrows else 0)
