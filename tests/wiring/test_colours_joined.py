"""A main colour and its small tracer that were found apart are one string; other neighbours stay two."""

from __future__ import annotations

from dataclasses import replace

import pytest

from digitize.harness.claim import Alternative
from digitize.harness.place import Box
from digitize.wiring.colours_joined import colours_joined
from fixtures.read_pages import text

HIGH = 2.2


def at(k, words, x, y, angle=0):
    made = text(k, words, x, y, HIGH, 0.9)
    box = Box(x, y, x + 1.6 * len(words), y + HIGH)
    if angle:
        box = Box(x, y, x + HIGH, y + 1.6 * len(words))
    return replace(made, box=box, angle=angle)


def joined(*texts):
    return [t.text for t in colours_joined(texts)]


def test_two_colours_on_one_line_become_one_string_in_the_place_of_the_first():
    assert joined(at(0, "GREEN", 16.8, 20.3), at(1, "BLUE", 9.0, 20)) == ["", "BLUE GREEN"]
    whole = colours_joined((at(0, "BLUE", 9, 20), at(1, "GREEN", 16.8, 20.3)))[0]
    assert whole.box == Box(9, 20, 24.8, 22.5)
    assert whole.probability == pytest.approx(0.81)
    assert whole.kind == "code"


def test_upright_lettering_is_joined_upwards():
    # reads from bottom to top: the tracer stands above
    assert joined(at(0, "BLUE", 50, 40, 90), at(1, "RED", 50, 34, 90)) == ["BLUE RED", ""]
    assert joined(at(0, "BLUE", 50, 40, 270), at(1, "RED", 50, 47.2, 270)) == ["BLUE RED", ""]


@pytest.mark.parametrize(
    "two",
    [
        (at(0, "BLUE", 9, 20), at(1, "GREEN", 24, 20)),
        (at(0, "BLUE", 9, 20), at(1, "GREEN", 16.8, 23)),
        (at(0, "BLUE", 9, 20), at(1, "LAMP", 16.8, 20)),
        (at(0, "BLUE", 9, 20), at(1, "GREEN", 16.8, 20, 90)),
        (at(0, "BLUE RED", 9, 20), at(1, "GREEN", 23, 20)),
    ],
    ids=["too far", "another line", "no colour", "turned", "has a tracer"],
)
def test_other_neighbours_stay_two(two):
    assert joined(*two) == [t.text for t in two]


def test_the_tracer_is_written_small_where_the_manual_writes_it_so():
    known = replace(at(2, "RED WHITE", 90, 90), by_kind=(("code", (Alternative("RED white", 0.9),)),))
    assert joined(at(0, "BLUE", 9, 20), at(1, "GREEN", 16.8, 20), known)[0] == "BLUE green"


def test_no_string_is_used_twice():
    three = (at(0, "BLUE", 9, 20), at(1, "GREEN", 16.8, 20), at(2, "RED", 26.2, 20))
    assert joined(*three) == ["BLUE GREEN", "", "RED"]
