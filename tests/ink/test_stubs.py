"""Stubs between a join and the code that stands in its wire stay wires; spurs of rough ink go. Pictures are drawn here."""

import cv2
import numpy as np
import pytest

from digitize.harness.place import Box
from digitize.ink.linegraph import graph_of
from digitize.ink.meetings import decide, mend
from digitize.ink.state import TextBlock
from digitize.ink.stubs import code_ends, stubs_at_parts
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
