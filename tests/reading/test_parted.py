"""Two strings that were found as one line are read each by itself; the words of one string stay together."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from digitize.harness.place import Box
from digitize.ink.state import Marks, TextBlock
from digitize.legend.automata import automaton
from digitize.legend.shapes import Stretch
from digitize.reading.decode import Found, Walk
from digitize.reading.parted import parts_of
from digitize.reading.read import read_marks
from digitize.reading.readers import Readers, probe_readers
from digitize.reading.weigh import Verdict
from digitize.reading.whole import Seen
from tests.reading.test_whole import GRAMMARS


@pytest.fixture(scope="module")
def readers() -> Readers:
    return replace(probe_readers(), second=None)


def in_one(marks: Marks) -> Marks:
    """The marks with one block around all of theirs, as a finder may join them."""
    boxes = [t.box for t in marks.texts]
    box = Box(min(b.x0 for b in boxes), min(b.y0 for b in boxes), max(b.x1 for b in boxes), max(b.y1 for b in boxes))
    return replace(marks, texts=(TextBlock(0, box, 0, 0.9),))


def seen(text: str, *, kind: str = "word", fits: bool = False) -> Seen:
    """What is seen in a line of letters 20 px wide and 28 high, 8 px apart, 12 px between words, 40 for each ``_``."""
    columns = [np.zeros(9, bool)]
    for char in text:
        columns.append(np.ones(20, bool) if char not in " _" else np.zeros(40 if char == "_" else 12, bool))
        columns.append(np.zeros(8, bool))
    on = np.concatenate(columns)
    crop = np.full((40, len(on)), 240, np.uint8)
    crop[6:34, on] = 20
    said = text.replace("_", " ")
    return Seen(crop, (Found(said, 0.98),), {}, {}, Verdict(said, kind, 0.98, fits=fits))


def places(view: Seen) -> list[int | None]:
    return [part.code for part in parts_of(view, Walk(GRAMMARS["code"]))]


@pytest.mark.parametrize(
    ("text", "parts"),
    [
        ("3_CONTROL", [None]),
        ("H_WIPER MOTOR", [None]),
        ("BLOWER UNIT_2", [None]),
        ("WHITE_MAIN COLOUR", [None]),
        ("A12 18 RED OIL GAUGE", [0]),
        ("OIL GAUGE A12 18 RED", [1]),
        ("3 CONTROL", []),
        ("2 SPEED WIPER", []),
        ("A_12", []),
        ("1._HORN UNIT", []),
        ("MAIN COLOUR", []),
        ("HORN", []),
    ],
)
def test_only_a_gap_wider_than_the_spaces_of_the_line_or_a_grammar_parts_it(text: str, parts: list[int | None]) -> None:
    assert places(seen(text)) == parts


def test_what_obeys_a_grammar_as_a_whole_stays_whole() -> None:
    assert places(seen("3_CONTROL", fits=True)) == []


def test_a_terminals_mark_and_the_name_beside_it_are_two_strings(
    make_marks: Callable[..., Marks], readers: Readers
) -> None:
    apart = make_marks(("3", 30, 20, 0, False), ("CONTROL", 34.3, 20, 0, False))
    read = read_marks(in_one(apart), GRAMMARS, readers)
    assert [t.text for t in read.texts] == ["3", "CONTROL"]
    assert read.texts[1].box.x0 == pytest.approx(apart.texts[1].box.x0, abs=0.4)
    assert [t.id for t in read.marks.texts] == [0, 1]


def test_a_code_and_the_name_beside_it_are_two_strings(make_marks: Callable[..., Marks], readers: Readers) -> None:
    apart = make_marks(("A12 18 RED", 30, 20, 0, False), ("OIL GAUGE", 54, 20, 0, False))
    read = read_marks(in_one(apart), GRAMMARS, readers)
    assert [(t.text, t.kind) for t in read.texts] == [("A12 18 RED", "code"), ("OIL GAUGE", "word")]


def test_a_colour_at_the_end_of_a_string_is_no_code_of_its_own() -> None:
    loose = Walk(automaton(Stretch("ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789 ", 3, 12)))
    assert [p.code for p in parts_of(seen("WHITE WITH YELLOW"), loose)] == []
    assert [p.code for p in parts_of(seen("WASHER A12 18 RED"), loose)] == [1]
