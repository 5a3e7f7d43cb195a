"""Stubs between a join and the code that stands in its wire stay wires; spurs of rough ink go. Pictures are drawn here."""

import cv2
import numpy as np
import pytest

from digitize.harness.place import Box
from digitize.ink.dots import find_dots
from digitize.ink.linegraph import LineGraph, graph_of
from digitize.ink.meetings import decide, mend
from digitize.ink.state import Dot, TextBlock
from digitize.ink.stubs import code_ends, lead_to_codes, stubs_at_parts
from digitize.ink.thickness import thickness_of
from digitize.ink.thinning import thin
from digitize.sheet.runs import patches_of, runs_of
from digitize.sheet.state import PX_PER_MM

PEN = 5
STUB = 0.7
"""Shorter than a line of this pen is let stand, mm from the middle of the line that it leaves."""


def met(code, *, upright=False, left=False, line=(2, 18), pen=PEN):
    """Kinds of the meetings on a line (from, to, mm) with a stub at (10, 10) mm, and a code there (Box, mm) or none."""
    ink = np.zeros((240, 360), np.uint8)
    for ends in (((10, line[0]), (10, line[1])), ((10, 10), (10 + STUB, 10))):
        cv2.line(ink, *((round(x * PX_PER_MM), round(y * PX_PER_MM)) for x, y in ends), 255, pen)
    texts = () if code is None else (TextBlock(0, code, 0, 0.99),)
    if left:
        ink = np.ascontiguousarray(ink[:, ::-1])
        texts = tuple(TextBlock(0, Box(30 - t.box.x1, t.box.y0, 30 - t.box.x0, t.box.y1), 0, 0.99) for t in texts)
    if upright:
        ink = np.ascontiguousarray(ink.T)
        texts = tuple(TextBlock(0, Box(t.box.y0, t.box.x0, t.box.y1, t.box.x1), 90, 0.99) for t in texts)
    graph = graph_of(thin(ink), thickness_of(ink))
    return [m.kind for m in decide(graph, mend(graph, (), code_ends(texts)), ())[1]]


@pytest.mark.parametrize("left", [False, True])
@pytest.mark.parametrize("upright", [False, True])
def test_a_stub_in_front_of_a_code_makes_a_join(upright, left):
    assert met(Box(11.2, 9, 22, 11), upright=upright, left=left) == ["join"]


def test_the_middle_bar_of_an_e_before_a_code_is_no_stub():
    """The letter touched a wire and is taken for a piece of it."""
    assert "join" not in met(Box(11.2, 9, 22, 11), line=(8.85, 11.15), pen=3)


@pytest.mark.parametrize(
    "code",
    [None, Box(13.5, 9, 24, 11), Box(11.2, 6.9, 22, 8.9), Box(11.2, 9, 13.6, 11), Box(6, 11.2, 16, 13.2)],
    ids=["none", "far", "beside", "short", "below"],
)
def test_a_spur_that_leads_to_no_code_is_taken_off(code):
    assert "join" not in met(code)


@pytest.mark.parametrize("upright", [False, True])
@pytest.mark.parametrize(
    ("body", "code", "stub"),
    [
        ((2, 8, 7.6, 12), (10.8, 9, 22, 11), True),
        ((2, 8, 5.5, 12), (10.8, 9, 22, 11), False),
        ((2, 8, 7.6, 12), (12.5, 9, 22, 11), False),
        ((2, 8, 7.6, 12), (10.8, 9.8, 22, 11.8), False),
        ((2, 8, 7.6, 12), (10.8, 9, 13, 11), False),
        ((2, 8, 14, 12), (10.8, 9, 22, 11), False),
    ],
    ids=["between", "off the part", "off the code", "beside the code's middle", "no code", "in the part"],
)
def test_a_dash_that_leads_from_a_part_to_a_code_is_a_wire(body, code, stub, upright):
    ink = np.zeros((300, 300), np.uint8)
    x0, x1, y = (round(v * PX_PER_MM) for v in (8, 10, 10))
    ink[y - 1 : y + 2, x0:x1] = 255
    if upright:
        ink = np.ascontiguousarray(ink.T)
        body, code = ((b, a, d, c) for a, b, c, d in (body, code))
    texts = (TextBlock(0, Box(*code), 90 if upright else 0, 0.99),)
    found = stubs_at_parts(patches_of(runs_of(ink)), [Box(*body)], code_ends(texts))
    assert found.tolist() == [stub]


def at_dot(*, name=False, right=True, code=(11.3, 9, 25, 11), upright=False):
    """How many strokes meet at the dot at (10, 10) mm, with a line from above and a code right beside it, in its wire or a name."""
    ink = np.zeros((360, 480), np.uint8)
    lines = [((10, 2), (10, 10))] + ([] if name else [((26, 10), (38, 10))])
    for ends in lines:
        cv2.line(ink, *((round(x * PX_PER_MM), round(y * PX_PER_MM)) for x, y in ends), 255, PEN)
    cv2.circle(ink, (120, 120), 10, 255, -1)
    box = Box(*code)
    if not right:
        ink, box = np.ascontiguousarray(ink[:, ::-1]), Box(40 - box.x1, box.y0, 40 - box.x0, box.y1)
    if upright:
        ink, box = np.ascontiguousarray(ink.T), Box(box.y0, box.x0, box.y1, box.x1)
    radius = thickness_of(ink)
    dots, graph = find_dots(ink, radius), graph_of(thin(ink), radius)
    at = mend(graph, dots, code_ends((TextBlock(0, box, 90 if upright else 0, 0.99),)))
    return [graph.degree(node) for node in at]


@pytest.mark.parametrize("right", [True, False])
@pytest.mark.parametrize("upright", [True, False])
def test_a_wire_whose_code_stands_right_beside_a_dot_ends_at_it(right, upright):
    assert at_dot(right=right, upright=upright) == [2]


def test_a_name_beside_a_dot_is_in_no_wire():
    assert at_dot(name=True) == [1]


@pytest.mark.parametrize("code", [(11.3, 7.2, 25, 9.2), (13.0, 9, 25, 11)], ids=["higher", "farther off"])
def test_a_code_that_a_dot_does_not_touch_leads_nowhere(code):
    assert at_dot(code=code) == [1]


def test_a_dot_with_a_line_to_the_code_already_gets_no_other():
    ink = np.zeros((360, 480), np.uint8)
    for ends in (((2, 10), (10, 10)), ((10, 10), (13, 10)), ((26, 10), (38, 10))):
        cv2.line(ink, *((round(x * PX_PER_MM), round(y * PX_PER_MM)) for x, y in ends), 255, PEN)
    cv2.circle(ink, (120, 120), 10, 255, -1)
    radius = thickness_of(ink)
    dots, graph = find_dots(ink, radius), graph_of(thin(ink), radius)
    at = mend(graph, dots, code_ends((TextBlock(0, Box(11.6, 9, 25, 11), 0, 0.99),)))
    assert [graph.degree(node) for node in at] == [2]


def test_a_line_that_ends_in_a_dot_ends_in_its_middle():
    """Thinning leads it on to the far rim of a lozenge."""
    graph = LineGraph()
    rim, far = graph.add_node((120.0, 111.0)), graph.add_node((120.0, 300.0))
    graph.add_edge(rim, far, np.column_stack([np.full(190, 120.0), np.arange(111.0, 301.0)]).astype(np.float32), 5.0)
    mend(graph, (Dot((10.0, 10.0), 1.8, 0.98),))
    (edge,) = graph.edges.values()
    assert edge.length == pytest.approx(180, abs=3)


@pytest.mark.parametrize("wire", [True, False], ids=["code in a wire", "name"])
@pytest.mark.parametrize("hop", [True, False])
def test_a_wire_whose_code_begins_right_behind_the_line_that_it_crosses_crosses_it(hop, wire):
    ink = np.zeros((600, 360), np.uint8)
    lines = [((15, 30), (15, 46)), *([((15, 2), (15, 10))] if wire else [])]
    lines += [((2, 30), (13.6, 30)), ((16.4, 30), (28, 30))] if hop else [((2, 30), (28, 30))]
    for ends in lines:
        cv2.line(ink, *((round(x * PX_PER_MM), round(y * PX_PER_MM)) for x, y in ends), 255, PEN)
    top = 30.0
    if hop:
        cv2.ellipse(ink, (180, 360), (17, 17), 0, 180, 360, 255, PEN)
        cv2.line(ink, (180, 345), (180, 360), 255, PEN)
        top = 28.6
    code = TextBlock(0, Box(14, 11, 16, top - 0.9), 90, 0.99)
    graph = graph_of(thin(ink), thickness_of(ink))
    kinds = [m.kind for m in decide(graph, mend(graph, (), code_ends((code,))), ())[1]]
    assert kinds == (["cross"] if wire else ["join"])


@pytest.mark.parametrize("left", [False, True])
def test_a_cable_that_bows_over_a_wire_right_before_its_code_crosses_it(left):
    """The leg of the bow that leads down to the code is shorter than the cable is thick, and was taken off as a spur."""
    ink = np.zeros((480, 720), np.uint8)
    for ends, pen in (
        (((15, 2), (15, 38)), 5), (((2, 21), (13.6, 21)), 17), (((13.6, 21), (14.4, 20)), 17), (((14.4, 20), (15.6, 20)), 17),
        (((15.6, 20), (15.8, 20.2)), 17), (((37, 21), (58, 21)), 17),
    ):  # fmt: skip
        cv2.line(ink, *((round(x * PX_PER_MM), round(y * PX_PER_MM)) for x, y in ends), 255, pen)
    box = Box(17.4, 19.4, 36.4, 22.6)
    if left:
        ink, box = np.ascontiguousarray(ink[:, ::-1]), Box(60 - box.x1, box.y0, 60 - box.x0, box.y1)
    graph = graph_of(thin(ink), thickness_of(ink))
    mend(graph, (), code_ends((TextBlock(0, box, 0, 0.99),)))
    degrees = sorted(graph.degree(node) for node in graph.nodes if graph.degree(node) > 1)
    assert degrees == [4]


def test_a_dot_that_no_line_reaches_is_no_trouble():
    graph = LineGraph()
    alone, a, b = graph.add_node((120.0, 120.0)), graph.add_node((312.0, 120.0)), graph.add_node((456.0, 120.0))
    graph.add_edge(a, b, np.column_stack([np.arange(312.0, 457.0), np.full(145, 120.0)]).astype(np.float32), 5.0)
    lead_to_codes(
        graph, {alone: 0}, (Dot((10.0, 10.0), 1.8, 0.98),), code_ends((TextBlock(0, Box(11.3, 9, 25, 11), 0, 0.99),))
    )
    assert graph.degree(alone) == 0
