"""Ends of lines: which of them lettering interrupts, and which go on over a gap."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from types import SimpleNamespace

import cv2
import numpy as np
import pytest

from digitize.harness.place import Box, Polyline
from digitize.ink.state import Marks, Meeting, Stroke, Symbol, TextBlock
from digitize.wiring.lines import explain
from digitize.wiring.loose import LooseEnd
from digitize.wiring.over_texts import beside

CODE = Box(10, 10, 30, 12)


@pytest.mark.parametrize(
    ("x", "out", "interrupted"),
    [
        (31.3, (-0.50, 0.87), True),  # a slanting bit right behind the code, with a blunt end
        (31.3, (0.2, 0.98), False),  # it passes the code
        (32.5, (-0.50, 0.87), False),  # too far off for a slant
        (32.5, (-0.95, 0.31), True),
    ],
)
def test_a_line_that_lettering_interrupts_looks_into_it_the_more_the_farther_off_it_ends(
    x: float, out: tuple[float, float], interrupted: bool
):
    assert beside(CODE, LooseEnd((0, 1), (x, 11.0), out, out), flat=True, sign=-1) is interrupted


def sheet_of(width: int = 1200, height: int = 1200) -> SimpleNamespace:
    return SimpleNamespace(facts=SimpleNamespace(frame=None), ink=np.zeros((height, width), np.uint8))


@pytest.mark.parametrize(("stub", "bridged"), [(0.9, True), (0.0, False)])
def test_a_cable_that_turns_off_right_behind_the_code_that_interrupts_it_goes_on(stub: float, bridged: bool):
    sheet = sheet_of()
    strokes = Stroke(((20, 40), (38.6, 40)), 1.4), Stroke(((62, 40), (62, 80)), 1.4)
    cv2.line(sheet.ink, (62 * 12, 40 * 12), (62 * 12, 80 * 12), 255, 17)
    if stub:
        cv2.line(sheet.ink, (round((62 - stub) * 12), 40 * 12), (62 * 12, 40 * 12), 255, 17)
    marks = Marks(sheet, strokes, (), (), (), (), (), (TextBlock(0, Box(40, 39, 60, 41), 0, 0.9),))
    assert [(b.a, b.b) for b in explain(marks).bridges] == [((0, 1), (1, 0))] * bridged


def bridges(
    *lines: Polyline, texts: tuple[Box, ...] = (), width: float = 0.4
) -> set[tuple[str, tuple[tuple[int, int], tuple[int, int]]]]:
    blocks = tuple(TextBlock(k, box, 0, 0.3) for k, box in enumerate(texts))
    sheet = sheet_of()
    marks = Marks(sheet, tuple(Stroke(line, width) for line in lines), (), (), (), (), (), blocks)
    return {(b.over, (min(b.a, b.b), max(b.a, b.b))) for b in explain(marks).bridges}


def test_a_piece_of_a_line_that_was_taken_for_a_letter_leads_the_line_on():
    found = bridges(
        ((56, 10), (56, 46.1)), ((55.9, 46.9), (56, 47.9)), ((56, 48.9), (56, 70)), texts=(Box(55.6, 46.8, 56.3, 48.0),)
    )
    assert found == {("gap", ((0, 1), (1, 0))), ("gap", ((1, 1), (2, 0)))}


@pytest.mark.parametrize(
    "frayed",
    [
        ((76.2, 78.9), (75.7, 78.6)),  # the last bit slants
        ((76.3, 78.9), (75.9, 78.95), (75.7, 78.5)),  # and hooks
    ],
)
def test_a_frayed_end_goes_on_as_the_line_before_it(frayed: Polyline):
    found = bridges(((60, 79), (74.0, 79.12)), ((90, 78.9), *frayed))
    assert found == {("gap", ((0, 1), (1, 1)))}


def test_a_slanting_bead_that_wear_left_of_a_line_carries_it_on():
    found = bridges(((60, 79), (74.0, 79)), ((75.3, 78.6), (76.8, 79.4)), ((78.4, 79.1), (90, 79)))
    assert found == {("gap", ((0, 1), (1, 0))), ("gap", ((1, 1), (2, 0)))}


def test_a_row_of_beads_is_one_line():
    beads = ((75.0, 78.8), (75.9, 79.1)), ((76.4, 78.8), (77.3, 79.0))
    found = bridges(((60, 79), (74.2, 79)), *beads, ((82.0, 78.9), (90, 79)))
    assert ("gap", ((1, 1), (2, 0))) in found


def test_bits_of_a_worn_line_that_were_taken_for_letters_do_not_interrupt_it():
    beads = ((23.54, 92.71), (23.79, 93.96)), ((23.38, 94.12), (23.46, 95.12))
    texts = (Box(23.17, 92.67, 24.0, 94.17), Box(23.17, 94.08, 23.83, 95.33))
    found = bridges(((23.5, 70), (23.54, 92.21)), *beads, ((23.71, 96.21), (23.7, 120)), texts=texts, width=0.6)
    assert found == {("gap", ((0, 1), (1, 0))), ("gap", ((1, 1), (2, 0))), ("gap", ((2, 1), (3, 0)))}


def test_what_wear_left_of_a_thick_line_may_lie_at_either_of_its_sides():
    left, right = ((60, 78.7), (74.9, 78.7)), ((75.2, 79.2), (90, 79.2))
    assert bridges(left, right, width=0.9) == {("gap", ((0, 1), (1, 0)))}
    assert not bridges(left, right, width=0.3)


def test_a_bead_beside_a_line_does_not_carry_it_on():
    assert not bridges(((60, 79), (74.0, 79)), ((74.9, 79.9), (75.9, 80.4)))


def test_a_frayed_end_does_not_take_the_end_that_another_line_faces():
    level = ((20, 40), (30, 40))
    found = bridges(level, ((33, 40), (45, 40)), ((31.5, 20), (31.5, 39.6), (31, 40)))
    assert found == {("gap", ((0, 1), (1, 0)))}


@pytest.mark.parametrize("gap", [2.2, 3.5])
def test_a_gap_that_begins_right_behind_a_bend_is_bridged(gap: float):
    bend = ((90, 60), (62.6, 60), (61.4, 59.4), (60.6, 58.5), (60.15, 57.7), (60.1, 57.0))
    found = bridges(((60.1, 30), (60.1, 57.0 - gap)), bend)
    assert found == {("gap", ((0, 1), (1, 1)))}
    assert not bridges(((60.7, 30), (60.7, 57.0 - gap)), bend)  # not in line


def test_lines_that_end_beside_each_other_stay_apart():
    assert not bridges(((20, 40), (30, 40)), ((31, 41.4), (45, 41.4)))


@pytest.mark.parametrize(
    ("label", "angle", "bridged"),
    [
        (Box(28, 40.3, 40, 43.7), 0, True),
        (Box(28, 40.3, 40, 43.7), 90, False),  # it reads along the line: that is what interrupts lines
        (Box(50, 40.3, 62, 43.7), 0, False),  # it lies elsewhere
        (Box(28, 41.5, 40, 42.5), 0, False),  # it fills no such gap
    ],
)
def test_a_line_that_runs_across_under_a_label_goes_on_behind_it(label: Box, angle: int, bridged: bool):
    sheet = SimpleNamespace(facts=SimpleNamespace(frame=None))
    strokes = Stroke(((30, 20), (30, 39.8)), 0.4), Stroke(((30, 44.1), (30, 60)), 0.4)
    found = explain(Marks(sheet, strokes, (), (), (), (), (), (TextBlock(0, label, angle, 0.9),)))
    assert [(b.a, b.b, b.over) for b in found.bridges if b.over == "gap"] == [((0, 1), (1, 0), "gap")] * bridged


def test_a_line_that_bends_right_before_the_code_that_interrupts_it_does_not_leave_the_sheet_there():
    sheet = SimpleNamespace(facts=SimpleNamespace(frame=Box(5, 5, 95, 55)))
    strokes = Stroke(((20, 52), (40, 52)), 0.4), Stroke(((63, 30), (63, 52), (62.4, 52)), 0.4)
    marks = Marks(sheet, strokes, (), (), (), (), (), (TextBlock(0, Box(41, 51, 61.6, 53), 0, 0.9),))
    found = explain(marks)
    assert [(b.a, b.b, b.over) for b in found.bridges] == [((0, 1), (1, 1), "text")]
    assert not found.edges
    straight = replace(marks, strokes=(strokes[0], Stroke(((63, 30), (63, 52)), 0.4)))
    assert explain(straight).edges == {(1, 1): "bottom"}


@pytest.mark.parametrize(("part", "bridged"), [
    (Box(55, 32, 64, 39.1), True),  # it stands beside the label
    (Box(55, 32, 64, 43), False),  # the lettering is its own
    (Box(58.8, 32, 64, 43), False),  # a cavity of it stands level with the label
])  # fmt: skip
def test_a_label_right_beside_a_part_interrupts_its_line_though_the_part_is_as_near(part: Box, bridged: bool):
    sheet = SimpleNamespace(facts=SimpleNamespace(frame=None))
    strokes = Stroke(((20, 40.2), (40.8, 40.2)), 0.4), Stroke(((80, 40.2), (60.4, 40.2)), 0.4)
    label = TextBlock(0, Box(41, 39, 60.6, 42), 0, 0.9)
    found = explain(Marks(sheet, strokes, (), (), (), (), (Symbol("switch", part, 0.9),), (label,)))
    assert [(b.a, b.b) for b in found.bridges] == [((0, 1), (1, 1))] * bridged
    assert ((1, 1) in found.bodies) is not bridged


JOGGED: Polyline = ((49.46, 30.54), (48.62, 30.88), (48.62, 41))
AWAY: Polyline = ((49.46, 30.54), (48.62, 29.0), (48.62, 20.5))


@pytest.mark.parametrize(("line", "reached"), [(JOGGED, True), (AWAY, False)], ids=["jogged", "away"])
def test_a_line_with_a_jog_right_before_the_corner_of_a_part_ends_at_it(line: Polyline, reached: bool):
    part = Symbol("relay", Box(30, 20, 49.5, 30.17), 0.9)
    sheet = SimpleNamespace(facts=SimpleNamespace(frame=None))
    found = explain(Marks(sheet, (Stroke(line, 0.4),), (), (), (), (), (part,), ()))
    assert ((0, 0) in found.bodies) is reached


def test_a_cable_whose_stub_before_the_code_was_followed_has_turned_already():
    sheet = sheet_of()
    stub: Polyline = ((61.2, 40), (62, 40.1), (62.1, 80))
    strokes = Stroke(((20, 40), (38.6, 40)), 0.9), Stroke(stub, 0.9)
    for p, q in pairwise(stub):
        cv2.line(sheet.ink, *((round(x * 12), round(y * 12)) for x, y in (p, q)), 255, 11)
    marks = Marks(sheet, strokes, (), (), (), (), (), (TextBlock(0, Box(40, 39, 60.4, 41), 0, 0.9),))
    assert [(b.a, b.b) for b in explain(marks).bridges] == [((0, 1), (1, 0))]


@pytest.mark.parametrize(
    ("end", "bridged"),
    [((58.6, 40.1), True), ((58.6, 40.9), False), ((57.0, 40.1), False)],
    ids=["level", "not level", "too deep in the letters"],
)
def test_a_line_that_the_last_letter_touches_is_interrupted_by_the_code_though_its_box_reaches_to_the_bend(
    end: tuple[float, float], bridged: bool
):
    left, right = ((20, 40), (38.6, 40)), (end, (60.4, end[1]), (60.5, 80))
    found = bridges(left, right, texts=(Box(40, 39, 60.2, 41),))
    assert (("text", ((0, 1), (1, 0))) in found) is bridged


@pytest.mark.parametrize(("below", "reached"), [(0.5, False), (2.5, True)], ids=["code on a wire", "code in the wire"])
def test_a_bit_of_a_letter_that_touches_a_passing_wire_leads_to_no_part(below: float, reached: bool):
    """The code stands on the wire below it; at its far side begins a part."""
    level, upright = Stroke(((30, 41 + below), (70, 41 + below)), 0.4), Stroke(((62, 20), (62, 60)), 0.4)
    bit = Stroke(((60.6, 40), (62, 40)), 0.4)
    joined = Meeting((62, 40), "join", 0.6, ((2, 1), (1, 1)))
    part = Symbol("connector", Box(30, 36, 39, 40.4), 0.9)
    text = TextBlock(0, Box(40, 39, 60.4, 41), 0, 0.9)
    found = explain(Marks(sheet_of(), (level, upright, bit), (joined,), (), (), (), (part,), (text,)))
    assert ((2, 0) in found.bodies) is reached


def test_a_label_beside_a_part_interrupts_a_line_that_bends_right_behind_it():
    part, label = Box(30, 41.3, 42.5, 60), TextBlock(0, Box(41, 39, 60.6, 42), 0, 0.9)
    strokes = Stroke(((20, 40.2), (40.0, 40.2)), 0.4), Stroke(((61.0, 40.2), (62.2, 40.3), (62.3, 80)), 0.4)
    found = explain(Marks(sheet_of(), strokes, (), (), (), (), (Symbol("alternator", part, 0.9),), (label,)))
    assert [(b.a, b.b, b.over) for b in found.bridges] == [((0, 1), (1, 0), "text")]
    assert not found.bodies


@pytest.mark.parametrize("crossed", [True, False], ids=["through another wire", "a bit of a letter"])
def test_a_bit_of_a_line_in_a_code_leads_on_where_it_meets_others(crossed: bool):
    code = TextBlock(0, Box(40, 39, 60.2, 41), 0, 0.9)
    left, bit = Stroke(((20, 40), (38.6, 40)), 0.4), Stroke(((59.0, 40), (60.6, 40)), 0.4)
    onward, up, down = (Stroke(((60.6, 40), to), 0.4) for to in ((80, 40), (60.6, 20), (60.6, 60)))
    cross = Meeting((60.6, 40), "cross", 0.9, ((1, 1), (2, 0), (3, 0), (4, 0)), ((0, 1), (2, 3)))
    strokes, meetings = ((left, bit, onward, up, down), (cross,)) if crossed else ((left, bit), ())
    found = explain(Marks(sheet_of(), strokes, meetings, (), (), (), (), (code,))).bridges
    assert [(b.a, b.b) for b in found if b.over == "text"] == [((0, 1), (1, 0))] * crossed
