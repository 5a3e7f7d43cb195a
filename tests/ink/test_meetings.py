"""Promises about meetings of lines: small drawings in millimetres, drawn at the flat scale.

A dot joins, a plain crossing does not: IEEE 315 (from memory) and *Lessons in Electric Circuits*, volume V. That a tee without
a dot joins too, and all sizes: common practice, no source.
"""

import cv2
import numpy as np
import pytest

from digitize.ink.dots import find_dots
from digitize.ink.linegraph import graph_of
from digitize.ink.meetings import decide, mend
from digitize.ink.thickness import thickness_of
from digitize.ink.thinning import thin
from digitize.sheet.state import PX_PER_MM


class Drawing:
    """A white sheet of 40 × 30 mm and a pen."""

    def __init__(self) -> None:
        self.ink = np.zeros((int(30 * PX_PER_MM), int(40 * PX_PER_MM)), np.uint8)

    def line(self, *points: tuple[float, float], width: float = 0.3) -> "Drawing":
        pts = np.array([[round(x * PX_PER_MM), round(y * PX_PER_MM)] for x, y in points], np.int32)
        cv2.polylines(self.ink, [pts], isClosed=False, color=255, thickness=max(1, round(width * PX_PER_MM)))
        return self

    def dot(self, x: float, y: float, diameter: float) -> "Drawing":
        cv2.circle(self.ink, (round(x * PX_PER_MM), round(y * PX_PER_MM)), round(diameter / 2 * PX_PER_MM), 255, -1)
        return self

    def square(self, x: float, y: float, side: float) -> "Drawing":
        a, b = round((x - side / 2) * PX_PER_MM), round((y - side / 2) * PX_PER_MM)
        n = round(side * PX_PER_MM)
        self.ink[b : b + n, a : a + n] = 255
        return self

    def meetings(self):
        radius = thickness_of(self.ink)
        dots = find_dots(self.ink, radius)
        graph = graph_of(thin(self.ink), radius)
        strokes, meetings = decide(graph, mend(graph, dots), dots)
        return strokes, meetings, dots


@pytest.mark.parametrize("width", [0.2, 0.35, 0.6, 0.9])
def test_a_plain_crossing_is_no_join_whatever_the_line_width(width):
    _, meetings, dots = Drawing().line((2, 15), (38, 15), width=width).line((20, 2), (20, 28), width=width).meetings()
    assert not dots
    assert [m.kind for m in meetings] == ["cross"]
    assert len(meetings[0].through) == 2


@pytest.mark.parametrize("diameter", [1.0, 1.3, 2.0])
def test_a_dot_on_a_crossing_joins_all_four_arms(diameter):
    drawing = Drawing().line((2, 15), (38, 15)).line((20, 2), (20, 28)).dot(20, 15, diameter)
    _, meetings, dots = drawing.meetings()
    assert len(dots) == 1
    assert dots[0].diameter == pytest.approx(diameter, abs=0.25)
    assert [(m.kind, len(m.strokes)) for m in meetings] == [("join", 4)]
    assert meetings[0].probability > 0.9


@pytest.mark.parametrize(("size", "joins"), [(0.8, 4), (0.97, 5)])
def test_a_blob_well_below_the_size_of_the_sheet_s_dots_is_a_fat_crossing(size: float, joins: int):
    drawing = Drawing()
    for k in range(5):
        x = 6 + 8 * k
        drawing.line((x - 3, 15), (x + 3, 15), width=0.37).line((x, 12), (x, 18), width=0.37)
        drawing.dot(x, 15, 1.1 * (size if k == 2 else 1.0))
    assert len(drawing.meetings()[2]) == joins


@pytest.mark.parametrize("doubted", [True, False])
def test_fat_crossings_of_which_the_second_opinion_is_not_sure_do_not_tell_the_size_of_dots(doubted: bool):
    class View:
        def probability(self, what: str, at: tuple[float, float], reach: float = 0.6) -> float:
            del what, reach
            return 0.1 if doubted and at[0] < 24 else 0.8

    drawing = Drawing()
    for k in range(9):
        x, y = 6 + 8 * (k % 5), 8 + 12 * (k // 5)
        drawing.line((x - 3, y), (x + 3, y), width=0.37).line((x, y - 3), (x, y + 3), width=0.37)
        drawing.dot(x, y, 1.0 if x < 24 else 1.35)
    dots = find_dots(drawing.ink, thickness_of(drawing.ink), View())
    assert len(dots) == (3 if doubted else 9)


def test_a_fat_crossing_of_battery_cables_is_not_taken_for_a_dot():
    _, _, dots = Drawing().line((2, 15), (38, 15), width=1.0).line((20, 2), (20, 28), width=1.0).meetings()
    assert not dots


def test_a_dot_on_battery_cables_is_as_much_larger_as_they_are_thicker():
    crossed = [((2, 15), (38, 15)), ((20, 2), (20, 28))]
    cables, wires = Drawing(), Drawing()
    for points in crossed:
        cables.line(*points, width=1.5)
        wires.line(*points)
    _, meetings, dots = cables.dot(20, 15, 4.2).meetings()
    assert len(dots) == 1
    assert [(m.kind, len(m.strokes)) for m in meetings] == [("join", 4)]
    assert not wires.dot(20, 15, 4.2).meetings()[2], "a filled disc as large on usual lines is a part"


@pytest.mark.parametrize("turned", [False, True])
def test_the_filled_bow_of_one_cable_over_another_is_no_dot(turned: bool):
    def cables(*, bow: bool) -> Drawing:
        drawing = Drawing().line((5, 15), (35, 15), width=1.1).line((20, 2), (20, 28), width=1.1)
        cv2.ellipse(drawing.ink, (240, 180), (19, 19), 0, 180, 360 if bow else 540, 255, -1)
        drawing.ink = np.ascontiguousarray(drawing.ink.T) if turned else drawing.ink
        return drawing

    _, meetings, dots = cables(bow=True).meetings()
    assert not dots
    assert [m.kind for m in meetings] == ["cross"]
    assert len(cables(bow=False).meetings()[2]) == 1


def test_a_dot_whose_cables_turn_right_behind_it_is_a_dot():
    drawing = Drawing().line((5, 15), (35, 15), width=0.9)
    drawing.line((8, 10.5), (18.5, 10.5), (20, 12.2), (20, 17.8), (18.5, 19.5), (8, 19.5), width=0.9)
    _, meetings, dots = drawing.dot(20, 15, 3.0).meetings()
    assert len(dots) == 1
    assert ("join", 4) in [(m.kind, len(m.strokes)) for m in meetings]


def test_a_thin_wire_over_a_thick_cable_is_a_crossing():
    _, meetings, dots = Drawing().line((2, 15), (38, 15), width=0.9).line((20, 2), (20, 28), width=0.25).meetings()
    assert not dots
    assert [m.kind for m in meetings] == ["cross"]


def test_a_tee_with_a_dot_is_a_sure_join_and_without_one_a_doubtful_join():
    _, with_dot, _ = Drawing().line((2, 15), (38, 15)).line((20, 15), (20, 28)).dot(20, 15, 1.3).meetings()
    _, without, _ = Drawing().line((2, 15), (38, 15)).line((20, 15), (20, 28)).meetings()
    assert [(m.kind, len(m.strokes)) for m in with_dot] == [("join", 3)]
    assert [(m.kind, len(m.strokes)) for m in without] == [("join", 3)]
    assert with_dot[0].probability > 0.9 > without[0].probability


def test_a_corner_is_no_meeting():
    strokes, meetings, _ = Drawing().line((5, 5), (30, 5), (30, 25)).meetings()
    assert not meetings
    assert len(strokes) == 1


def test_a_chamfered_crossing_keeps_its_two_lines_apart():
    drawing = Drawing().line((2, 10), (15, 10), (25, 20), (38, 20)).line((2, 20), (15, 20), (25, 10), (38, 10))
    _, meetings, _ = drawing.meetings()
    assert [m.kind for m in meetings] == ["cross"]


def test_a_hop_over_a_line_is_a_crossing():
    drawing = Drawing().line((20, 2), (20, 28)).line((2, 15), (18.5, 15)).line((21.5, 15), (38, 15))
    cv2.ellipse(drawing.ink, (round(20 * PX_PER_MM), round(15 * PX_PER_MM)), (18, 18), 0, 180, 360, 255, 4)
    _, meetings, _ = drawing.meetings()
    assert [m.kind for m in meetings] == ["cross"]


def test_a_filled_square_is_no_dot():
    _, _, dots = Drawing().line((2, 15), (38, 15)).square(20, 15, 2.0).meetings()
    assert not any(d.probability > 0.6 for d in dots)


def test_two_crossings_close_together_stay_two():
    drawing = Drawing().line((2, 15), (38, 15)).line((19, 2), (19, 28)).line((21, 2), (21, 28))
    _, meetings, _ = drawing.meetings()
    assert [m.kind for m in meetings] == ["cross", "cross"]


def test_a_rough_worn_line_stays_one_line():
    drawing = Drawing().line((2, 15), (38, 15), width=0.35)
    rng = np.random.default_rng(5)
    drawing.ink[rng.random(drawing.ink.shape) < 0.03] = 0
    rough = cv2.morphologyEx(drawing.ink, cv2.MORPH_CLOSE, np.ones((2, 2), np.uint8))
    drawing.ink = rough
    strokes, meetings, _ = drawing.meetings()
    assert not meetings
    assert len(strokes) == 1
