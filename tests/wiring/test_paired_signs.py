"""Two like pieces on either side of a wire, with a grommet's name in line with them, are a grommet that the wire passes."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from digitize.harness.place import Box
from digitize.ink.state import Symbol
from digitize.wiring.identifiers import Prefixes
from digitize.wiring.places import place_all
from digitize.wiring.state import SheetWiring
from digitize.wiring.understand import understand
from fixtures.small_page import Page

STATED = Prefixes(grommets=frozenset({"QX"}))
PIECES = {
    "brackets": (((57, 37), (59, 37), (59, 40), (57, 40)), ((63, 37), (61, 37), (61, 40), (63, 40))),
    "one with a leader": (((57, 37), (59, 37), (59, 40), (57, 40)), ((63, 37), (61, 37), (61, 40), (63, 40), (61, 40), (61, 38.5), (63.5, 38.5))),
}  # fmt: skip


def page(*pieces: tuple[tuple[float, float], ...], name: str = "QX2", at: tuple[float, float] = (67, 38.5)) -> Page:
    """An upright wire between two parts, at x = 60, and pieces beside it."""
    made = Page().part("module", 50, 8, 70, 14).part("module", 50, 66, 70, 72).line((60, 14), (60, 66))
    for piece in pieces:
        made.line(*piece)
    return made.text(name, *at, "connector")


def grommets(found: SheetWiring) -> list[tuple[str | None, tuple[str, ...]]]:
    """Name of each grommet with the ends of the wires that pass it."""
    return [
        (p.label.value, tuple(sorted(e.kind for r in found.runs if p.id in r.grommets for e in r.ends)))
        for p in found.places
        if p.kind == "grommet"
    ]


@pytest.mark.parametrize("pieces", PIECES.values(), ids=PIECES)
def test_the_wire_between_two_like_pieces_passes_the_grommet_that_is_named_beside_them(pieces):
    found = understand(page(*pieces).read(), STATED)
    assert grommets(found) == [("QX2", ("place", "place"))]
    assert len(found.runs) == 1


def test_a_name_behind_pieces_that_were_read_as_letters_is_the_name_alone():
    read = page(*PIECES["brackets"], name="JC QX2", at=(64.5, 38.5)).read()
    assert grommets(understand(read, STATED)) == [("QX2", ("place", "place"))]


@pytest.mark.parametrize("cut", [False, True], ids=["the wire runs through", "the ring cuts the wire"])
def test_a_ring_over_a_wire_is_the_grommet_that_is_named_beside_it(cut):
    made = page(at=(65, 38.5))
    if cut:
        made.line(*((60 + 1.4 * math.cos(t / 8 * math.pi), 38.5 + 1.4 * math.sin(t / 8 * math.pi)) for t in range(17)))
        read = made.read()
    else:
        read = made.read()  # a ring that was taken for a letter leaves the wire whole
        made.line(*((60 + 1.4 * math.cos(t / 8 * math.pi), 38.5 + 1.4 * math.sin(t / 8 * math.pi)) for t in range(17)))
        read = replace(read, marks=replace(read.marks, sheet=replace(read.marks.sheet, ink=made.ink)))
    found = understand(read, STATED)
    assert grommets(found) == [("QX2", ("place", "place"))]
    assert len(found.runs) == 1
    assert not found.splices


def test_a_wire_that_crosses_right_beside_the_name_is_no_grommet():
    made = page(at=(66, 38.5)).line((40, 38.5), (63.8, 38.5))
    assert grommets(understand(made.read(), STATED)) == []


def test_pieces_that_were_read_as_letters_are_no_lettering():
    read = page(*PIECES["brackets"]).text("JC", 60, 38.5, "word").read()
    found = understand(read, STATED)
    assert grommets(found) == [("QX2", ("place", "place"))]
    assert [t.text for t in found.texts] == ["QX2"]


def test_pieces_on_one_side_or_unlike_ones_are_no_grommet():
    left, _ = PIECES["brackets"]
    assert grommets(understand(page(left).read(), STATED)) == []
    long = ((63, 35), (61, 35), (61, 40), (63, 40))
    assert grommets(understand(page(left, long).read(), STATED)) == []


def test_pieces_beside_another_name_are_no_grommet():
    for stated, name in ((STATED, "B7"), (Prefixes(), "QX2")):
        assert grommets(understand(page(*PIECES["brackets"], name=name).read(), stated)) == []


def test_pieces_out_of_line_with_the_name_are_no_grommet():
    assert grommets(understand(page(*PIECES["brackets"], at=(67, 42.5)).read(), STATED)) == []


def test_a_level_wire_is_passed_between_pieces_under_the_name():
    made = Page().part("module", 8, 30, 16, 50).part("module", 104, 30, 112, 50).line((16, 40), (104, 40))
    made.line((58, 37), (58, 39), (62, 39), (62, 37)).line((58, 43), (58, 41), (62, 41), (62, 43))
    found = understand(made.text("QX2", 60, 35, "connector").read(), STATED)
    assert grommets(found) == [("QX2", ("place", "place"))]


def test_a_name_beside_a_broad_grommet_is_its_own():
    made = Page().part("module", 50, 8, 70, 14).part("module", 50, 66, 70, 72)
    made.line((60, 14), (60, 37)).line((60, 40), (60, 66)).part("grommet", 57.2, 37, 62.8, 40)
    assert grommets(made.text("QX27", 66.2, 38.5, "connector").understood()) == [("QX27", ("place", "place"))]


def test_what_the_pieces_of_a_grommet_were_read_as_is_not_its_name():
    texts = Page().text("1E", 60, 38.5, "number").text("QX27", 67.6, 38.5, "connector").read().texts
    grommet = Symbol("grommet", Box(57.2, 37, 62.8, 40), 0.99)
    placed = place_all("p", [grommet], {}, texts, set(), Page().ink)
    assert [p.label.value for p in placed.places] == ["QX27"]
