"""A box that an identifier names is a connector; one without keeps what it was."""

from __future__ import annotations

import pytest

from digitize.harness.claim import Alternative
from digitize.harness.place import Box
from digitize.ink.state import Marks, Symbol
from digitize.reading.state import ReadText
from digitize.sheet.state import Sheet
from digitize.wiring.named_boxes import with_named_boxes

BOX = Box(20, 20, 22, 22)
MAYBE = Symbol("unknown", BOX, 0.55, alternatives=(("connector", 0.55),))


def marks(*symbols: Symbol) -> Marks:
    sheet = Sheet.__new__(Sheet)
    return Marks(sheet, (), (), (), (), (), symbols, ())


def named(box: Box, fit: float = 0.9) -> ReadText:
    told = (("connector", (Alternative("K12", fit),)),)
    return ReadText(0, box, 0, "K12", "connector", 0.9, (), told, ())


@pytest.mark.parametrize("where", [Box(19, 17, 23, 19), Box(19, 23, 23, 25), Box(23, 20, 27, 22), Box(14, 20, 19, 22)])
def test_a_box_with_an_identifier_straight_beside_it_is_a_connector(where: Box):
    (told,) = with_named_boxes(marks(MAYBE), [named(where)]).symbols
    assert told.kind == "connector"
    assert told.probability > 0.7


@pytest.mark.parametrize("where", [Box(19, 10, 23, 12), Box(24, 24, 28, 26)])
def test_an_identifier_farther_off_or_askew_names_another(where: Box):
    assert with_named_boxes(marks(MAYBE), [named(where)]).symbols == (MAYBE,)


def test_a_string_that_is_hardly_an_identifier_names_nothing():
    assert with_named_boxes(marks(MAYBE), [named(Box(19, 17, 23, 19), fit=0.2)]).symbols == (MAYBE,)


def test_a_part_that_cannot_be_a_connector_stays_what_it_is():
    lamp = Symbol("lamp", BOX, 0.9)
    assert with_named_boxes(marks(lamp), [named(Box(19, 17, 23, 19))]).symbols == (lamp,)
