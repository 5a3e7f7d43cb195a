"""Small boxes with signs in them, on wires: found by their outline, told from what wires enclose."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from digitize.harness.place import Box
from digitize.ink.lettered_boxes import find_lettered_boxes, with_lettered_boxes
from digitize.ink.state import Symbol, TextBlock
from digitize.sheet.state import PX_PER_MM

MM = int(PX_PER_MM)


def paper(width: int = 30, height: int = 20) -> NDArray[np.uint8]:
    return np.zeros((height * MM, width * MM), np.uint8)


def box_on_a_wire(*, turned: bool = False, wire_past: bool = False) -> NDArray[np.uint8]:
    """A box of 2 x 2 mm at (12, 8) with a wire into the middle of two sides; ``wire_past``: its top side goes on."""
    ink = paper()
    cv2.rectangle(ink, (12 * MM, 8 * MM), (14 * MM, 10 * MM), 255, 3)
    cv2.line(ink, (2 * MM, 9 * MM), (12 * MM, 9 * MM), 255, 3)
    cv2.line(ink, (14 * MM, 9 * MM), (28 * MM, 9 * MM), 255, 3)
    if wire_past:
        cv2.line(ink, (2 * MM, 8 * MM), (28 * MM, 8 * MM), 255, 3)
    return np.ascontiguousarray(ink.T) if turned else ink


def sign(ink: NDArray[np.uint8], x: float, y: float, tall: float = 1.0) -> TextBlock:
    """A ``1`` with its middle at (x, y) mm."""
    cv2.line(
        ink,
        (round(x * MM), round((y - tall / 2) * MM)),
        (round(x * MM), round((y + tall / 2) * MM)),
        255,
        3,
    )
    return TextBlock(0, Box(x - 0.4, y - tall / 2, x + 0.4, y + tall / 2), 0, 0.9)


@pytest.mark.parametrize("turned", [False, True])
def test_a_small_box_with_a_number_on_a_wire_is_found_with_its_outer_edges(turned: bool):
    ink = box_on_a_wire(turned=turned)
    block = sign(ink, *((9, 13) if turned else (13, 9)))
    (found,) = find_lettered_boxes(ink, [block])
    expected = (8, 12, 10, 14) if turned else (12, 8, 14, 10)
    assert (found.x0, found.y0, found.x1, found.y1) == pytest.approx(expected, abs=0.25)


def test_a_patch_that_wires_enclose_is_no_box():
    ink = box_on_a_wire(wire_past=True)
    assert find_lettered_boxes(ink, [sign(ink, 13, 9)]) == ()


def test_a_code_in_a_flag_is_left_to_those_who_read_it():
    ink = paper()
    cv2.rectangle(ink, (8 * MM, 8 * MM), (18 * MM, 10 * MM), 255, 3)
    assert find_lettered_boxes(ink, [TextBlock(0, Box(9, 8.4, 17, 9.6), 0, 0.9)]) == ()


def test_an_empty_box_is_none():
    assert find_lettered_boxes(box_on_a_wire(), []) == ()


def test_a_sign_that_parts_its_box_in_two_leaves_one_box():
    ink = box_on_a_wire()
    sign(ink, 13, 9, tall=2.0)
    (found,) = find_lettered_boxes(ink, [])
    assert (found.x0, found.y0, found.x1, found.y1) == pytest.approx((12, 8, 14, 10), abs=0.25)


def test_a_box_that_lettering_took_as_one_patch_with_its_sign_is_found():
    ink = box_on_a_wire()
    sign(ink, 13, 9, tall=2.0)
    line = 2 / MM
    block = TextBlock(0, Box(12 - line, 8 - line, 14 + line, 10 + line), 0, 0.1)
    (found,) = find_lettered_boxes(ink, [block])
    assert (found.x0, found.y0, found.x1, found.y1) == pytest.approx((12, 8, 14, 10), abs=0.3)


def test_an_ellipse_that_a_wire_crosses_is_no_box():
    ink = paper()
    cv2.ellipse(ink, (13 * MM, 9 * MM), (2 * MM, round(1.3 * MM)), 0, 0, 360, 255, 3)
    cv2.line(ink, (13 * MM, 2 * MM), (13 * MM, 18 * MM), 255, 3)
    assert find_lettered_boxes(ink, []) == ()


def test_a_doubtful_symbol_on_a_box_gives_way_and_a_sure_one_stays():
    box = Box(12, 8, 14, 10)
    doubtful, sure = Symbol("switch", box, 0.4), Symbol("sensor", Box(20, 8, 24, 12), 0.99)
    out = with_lettered_boxes([doubtful, sure], [box, sure.box])
    assert sure in out
    assert doubtful not in out
    assert [s.kind for s in out if s.box == box] == ["unknown"]


@pytest.mark.parametrize(
    ("kind", "chance", "stays"), [("switch", 0.42, False), ("switch", 0.6, True), ("module", 0.42, True)]
)
def test_what_is_hardly_believed_around_a_box_is_the_box_and_its_wires(kind, chance, stays):
    box, around = Box(12, 8, 14, 10), Symbol(kind, Box(12, 7, 21, 12), chance)
    out = with_lettered_boxes([around], [box])
    assert [s.kind for s in out] == [kind if stays else "unknown"]


def test_a_kind_that_is_never_drawn_as_a_box_gives_way_however_sure():
    box = Box(12, 8, 14, 10)
    (only,) = with_lettered_boxes([Symbol("grommet", box, 0.97)], [box])
    assert only.kind == "unknown"
    assert dict(only.alternatives)["connector"] > 0.5
