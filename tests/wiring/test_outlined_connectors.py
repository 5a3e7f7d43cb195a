"""A small outline drawn into a wire, named by a connector's identifier, is a connector at which the wire ends on both sides."""

from __future__ import annotations

import pytest

from digitize.harness.place import Box
from digitize.wiring.outlined_connectors import with_outlined_connectors
from fixtures.small_page import Page

SQUARE = ((49, 39), (51, 39), (51, 41), (49, 41), (49, 39))


def page(outline=SQUARE) -> Page:
    """A wire between a lamp and a module, with ``outline`` drawn into it at (50, 40)."""
    drawn = Page().part("lamp", 14, 38, 18, 42).part("module", 90, 34, 98, 46)
    left, right = min(x for x, _ in outline), max(x for x, _ in outline)
    return drawn.line((18, 40), (left, 40)).line((right, 40), (90, 40)).line(*outline)


def connectors(drawn: Page) -> list[Box]:
    read = drawn.read()
    return [s.box for s in with_outlined_connectors(read.marks, read.texts).symbols if s.kind == "connector"]


def test_a_square_with_an_identifier_is_a_connector_between_two_wires():
    drawn = page().text("L12", 50, 36.5, kind="connector").text("K4 14", 32, 38)
    (box,) = connectors(drawn)
    assert abs(box.x0 - 48.85) < 0.25
    assert abs(box.y1 - 41.15) < 0.25
    wiring = drawn.understood()
    assert len(wiring.runs) == 2
    assert [p.kind for p in wiring.places].count("connector") == 1
    assert not wiring.splices


def test_an_upright_wire_is_no_different():
    drawn = Page().part("lamp", 48, 10, 52, 14).part("module", 46, 62, 54, 70)
    drawn.line((50, 14), (50, 39)).line((50, 41), (50, 62)).line(*SQUARE).text("L12", 54, 40, kind="connector")
    assert len(connectors(drawn)) == 1


@pytest.mark.parametrize(
    ("text", "kind", "at"),
    [
        (None, "", (0, 0)),
        ("LAMP", "word", (50, 36.5)),
        ("L12", "connector", (50, 30)),
        ("L12", "connector", (70, 36.5)),
    ],
    ids=["no name", "a word", "too far off", "another's"],
)
def test_without_an_identifier_at_it_nothing_is_said(text, kind, at):
    drawn = page()
    if text:
        drawn.text(text, *at, kind=kind)
    assert connectors(drawn) == []


def test_an_outline_named_like_the_sheets_grommets_is_none_of_them():
    drawn = page().text("GR2", 50, 36.5, kind="connector")
    drawn.part("grommet", 60, 60, 62, 62).text("GR1", 61, 58, kind="connector")
    assert connectors(drawn) == []


@pytest.mark.parametrize(
    "outline",
    [
        ((48, 40), (48, 43), (52, 43), (52, 40)),
        ((42, 36), (58, 36), (58, 44), (42, 44), (42, 36)),
        ((49.7, 39.7), (50.3, 39.7), (50.3, 40.3), (49.7, 40.3), (49.7, 39.7)),
    ],
    ids=["a loop to one side", "a large box", "a speck"],
)
def test_other_loops_are_left_alone(outline):
    drawn = page(outline).text("L12", 50, min(y for _, y in outline) - 2.5, kind="connector")
    if len(outline) == 4:
        drawn.line((48, 40), (52, 40))
    assert connectors(drawn) == []


def test_a_dot_says_that_the_wires_are_joined():
    drawn = page().dot(49, 40).text("L12", 50, 36.5, kind="connector")
    assert connectors(drawn) == []


def test_a_wire_that_turns_off_at_an_outline_does_not_pass_it():
    drawn = Page().part("lamp", 14, 38, 18, 42).part("module", 46, 10, 54, 18)
    drawn.line((18, 40), (49, 40)).line((50, 18), (50, 39)).line(*SQUARE).text("L12", 54, 40, kind="connector")
    assert connectors(drawn) == []


def test_a_stroke_across_a_wire_with_a_bulge_encloses_too_little():
    drawn = page(((48, 40), (50, 38.4), (52, 40), (50, 40.6), (48, 40)))
    assert connectors(drawn.text("L12", 50, 36.0, kind="connector")) == []
