"""A line along the page's height that was taken to read the wrong way is read from its other end."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest

from digitize.ink.state import Marks
from digitize.legend.automata import automaton
from digitize.legend.shapes import DIGITS, Stretch, Words, literal, sequence
from digitize.reading.read import read_marks
from digitize.reading.readers import Readers, probe_readers

GRAMMARS = {
    "code": automaton(
        sequence(
            Stretch("ABCDEFGH", 1, 1), Stretch(DIGITS, 1, 2), literal(" "), Words(("14", "16", "18")), literal(" "),
            Words(("RED", "BLK", "YEL")),
        )
    ),
}  # fmt: skip


@pytest.fixture(scope="module")
def readers() -> Readers:
    return replace(probe_readers(), second=None)


def turned(marks: Marks) -> Marks:
    return replace(marks, texts=tuple(replace(t, angle=(t.angle + 180) % 360) for t in marks.texts))


@pytest.mark.parametrize("angle", [90, 270])
@pytest.mark.parametrize("text", ["A12 18 RED", "BLOWER RELAY"])
def test_a_line_read_from_its_wrong_end_is_turned(
    angle: int, text: str, make_marks: Callable[..., Marks], readers: Readers
) -> None:
    read = read_marks(turned(make_marks((text, 30, 20, angle, False))), GRAMMARS, readers)
    assert [(t.text, t.angle) for t in read.texts] == [(text, angle)]
    assert read.marks.texts[0].angle == angle


@pytest.mark.parametrize("angle", [90, 270])
def test_a_line_read_from_its_right_end_stays(angle: int, make_marks: Callable[..., Marks], readers: Readers) -> None:
    marks = make_marks(("A12 18 RED", 30, 20, angle, False), ("8", 60, 20, angle, False))
    assert [t.angle for t in read_marks(marks, GRAMMARS, readers).texts] == [angle, angle]
