"""Where a letter touches a line, the line goes on; where a crossing is worn, it stays one."""

from __future__ import annotations

from dataclasses import replace
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


@pytest.mark.parametrize(("below", "arms"), [(4.0, 2), (2.4, 3)], ids=["far from a part", "at a part"])
def test_what_a_letter_left_at_a_corner_makes_no_join_there(below: float, arms: int):
    parts = tuple(Symbol("module", Box(*box), 0.9) for box in ((4, 38, 10, 44), (57, 10, 63, 14)))
    relay = Symbol("relay", Box(50, 40 + below, 70, 60), 0.9)
    corner = marks(((10, 40), AT), (AT, (60, 14)), (AT, (60.1, 41.4)), parts=(*parts, relay))
    joined = replace(corner, meetings=(replace(corner.meetings[0], kind="join", through=()),))
    assert len(wires_of(joined, ()).trails) == (1 if arms == 2 else 3)


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


CROSSED = (((10, 40), AT), (AT, (110, 40)), ((60, 10), AT), (AT, (60, 70)))
"""Two lines that cross."""


@pytest.mark.parametrize(
    "letter",
    [
        ((AT, (61.5, 41.5)),),
        ((AT, (61, 41)), ((61, 41), (62, 42)), ((61, 41), (60.5, 42))),  # in pieces that meet
        ((AT, (61, 41)), ((61.3, 41.3), (62, 42))),  # in pieces with a gap between
    ],
)
def test_two_lines_that_cross_at_a_letter_still_cross(letter: tuple[Polyline, ...]):
    crossing = marks(*CROSSED, *letter, through=((0, 3), (1, 4)))
    (first,) = crossing.meetings
    ends = tuple(e for e in first.strokes if e[0] < 5)
    met = tuple(
        (k, int(p[-1] == (61, 41))) for k, p in enumerate((*CROSSED, *letter)) if (61, 41) in p and len(letter) == 3
    )
    meetings = (replace(first, strokes=ends), *([Meeting((61, 41), "join", 0.6, met)] if met else []))
    found = past_letters(replace(crossing, meetings=meetings)).meetings[0]
    assert set(found.through) == {(0, 1), (2, 3)}


def test_a_fifth_wire_at_a_crossing_is_no_letter():
    crossing = marks(*CROSSED, (AT, (66, 46), (90, 46)), through=((0, 3), (1, 4)))
    assert past_letters(crossing).meetings == crossing.meetings
