"""Where a letter touches a line, the line goes on; where a crossing is worn, it stays one."""

from __future__ import annotations

from types import SimpleNamespace

import pytest

from digitize.harness.place import Box, Polyline
from digitize.ink.state import Marks, Meeting, Stroke, Symbol
from digitize.wiring.past_letters import past_letters
from digitize.wiring.sieve import wires_of

AT = (60.0, 40.0)
LINE = (((10, 41), (59, 41), AT), (AT, (61, 41), (110, 41)))
"""A line with a bend in the middle, as it comes down from a hop or turns."""
FOOT, BACK = (AT, (61.5, 40)), (AT, (61.8, 38.2), (61.2, 37.4))
"""The foot of a figure 2 and its back."""


def marks(
    *arms: Polyline, parts: tuple[Symbol, ...] = (), through: tuple[tuple[int, int], ...] = ((0, 2), (1, 3))
) -> Marks:
    strokes = tuple(Stroke(points, 0.3) for points in arms)
    ends = tuple((k, int(points[-1] == AT)) for k, points in enumerate(arms))
    sheet = SimpleNamespace(facts=SimpleNamespace(frame=None))
    return Marks(sheet, strokes, (Meeting(AT, "cross", 0.9, ends, through),), (), (), (), parts, ())


def test_a_line_does_not_turn_off_into_a_letter_that_touches_it():
    (found,) = past_letters(marks(*LINE, FOOT, BACK)).meetings
    assert set(found.through) == {(0, 1), (2, 3)}


def test_the_wire_that_a_letter_touches_reaches_its_part():
    parts = tuple(Symbol("module", Box(*box), 0.9) for box in ((4, 38, 10, 44), (110, 38, 116, 44)))
    lines = wires_of(marks(*LINE, FOOT, BACK, parts=parts), ())
    (trail,) = lines.trails
    assert [stop.kind for stop in trail.stops] == ["body", "body"]


@pytest.mark.parametrize(
    "stub",
    [
        (AT, (60, 36)),  # longer than a letter
        (AT, (60, 38), (90, 38), (90, 20)),
    ],
)
def test_a_longer_arm_is_no_stroke_of_a_letter(stub: Polyline):
    crossing = marks(*LINE, FOOT, stub)
    assert past_letters(crossing).meetings == crossing.meetings


def test_a_stub_that_ends_at_a_part_leads_there():
    crossing = marks(*LINE, FOOT, (AT, (60, 38)), parts=(Symbol("lamp", Box(57, 30, 63, 37.5), 0.9),))
    assert past_letters(crossing).meetings == crossing.meetings


def test_a_crossing_with_a_worn_line_stays_a_crossing():
    crossing = marks(*LINE, (AT, (60, 38.5)), (AT, (60, 41.5)), through=((0, 1), (2, 3)))
    assert past_letters(crossing).meetings == crossing.meetings
