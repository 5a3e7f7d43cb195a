"""Wires that close or cross round a name are no part; a part's outline ends in itself, and wires meet it between its corners."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from digitize.harness.place import Box
from digitize.ink.state import Symbol
from digitize.ink.wire_loops import are_wires_crossing, is_loop_of_wires
from digitize.sheet.state import PX_PER_MM

FIELD = Box(10, 10, 30, 24)


def px(x: float, y: float) -> tuple[int, int]:
    return round(x * PX_PER_MM), round(y * PX_PER_MM)


def drawn(*lines: tuple[float, float, float, float]) -> NDArray[np.uint8]:
    """40 x 36 mm with lines from (x, y) to (x, y), mm."""
    ink = np.zeros((round(36 * PX_PER_MM), round(40 * PX_PER_MM)), np.uint8)
    for x0, y0, x1, y1 in lines:
        cv2.line(ink, px(x0, y0), px(x1, y1), 255, 4)
    return ink


FRAME = ((10, 10, 30, 10), (10, 24, 30, 24), (10, 10, 10, 24), (30, 10, 30, 24))


def module(probability: float = 0.95, kind: str = "module", box: Box = FIELD) -> Symbol:
    return Symbol(kind, box, probability)


def hop(ink: NDArray[np.uint8], x: float, y: float) -> None:
    """A level line bows over an upright one."""
    cv2.line(ink, px(x - 1.2, y), px(x - 0.2, y), 0, 4)
    cv2.line(ink, px(x + 0.2, y), px(x + 1.2, y), 0, 4)
    cv2.ellipse(ink, px(x, y), (16, 16), 0, 180, 360, 255, 4)


def test_two_wires_that_cross_at_a_corner_make_no_part_however_sure_the_detector_is():
    ink = drawn(*FRAME, (30, 10, 38, 10), (30, 2, 30, 10))
    assert are_wires_crossing(module(), ink)


def test_a_wire_that_hops_at_a_corner_makes_no_part():
    ink = drawn(*FRAME, (30, 24, 38, 24), (30, 24, 30, 34))
    hop(ink, 30, 24)
    assert are_wires_crossing(module(), ink)


def test_a_crossing_with_a_label_close_by_is_one_too():
    ink = drawn(*FRAME, (30, 10, 31.6, 10), (30, 2, 30, 10))
    cv2.rectangle(ink, px(31.6, 8.4), px(38, 11.6), 255, 3)
    assert are_wires_crossing(module(), ink)


@pytest.mark.parametrize(
    "wires",
    [
        ((30, 14, 38, 14), (20, 2, 20, 10)),
        ((30, 10, 38, 10),),
        ((30, 10, 38, 10), (10, 24, 10, 34)),
        ((31, 2, 31, 9), (31, 9, 38, 9)),
    ],
    ids=["between its corners", "in line with a side", "in line with two sides", "round a corner"],
)
def test_a_part_with_wires_is_one(wires: tuple[tuple[float, float, float, float], ...]):
    assert not are_wires_crossing(module(), drawn(*FRAME, *wires))


def test_small_signs_and_taught_parts_are_left_alone():
    ink = drawn(*FRAME, (30, 10, 38, 10), (30, 2, 30, 10))
    assert not are_wires_crossing(module(kind="motor"), ink)
    assert not are_wires_crossing(Symbol("module", FIELD, 0.95, taught="lesson"), ink)
    small = drawn(
        (10, 10, 16, 10), (16, 10, 16, 16), (10, 16, 16, 16), (10, 10, 10, 16), (16, 2, 16, 10), (16, 10, 30, 10)
    )
    assert not are_wires_crossing(module(box=Box(10, 10, 16, 16)), small)


def test_a_doubtful_part_with_an_open_side_is_none_and_a_surer_one_stays():
    ink = drawn((18, 10, 30, 10), *FRAME[1:])
    assert are_wires_crossing(module(0.66), ink)
    assert not are_wires_crossing(module(0.95), ink)
    assert not are_wires_crossing(module(0.66), drawn((14, 10, 30, 10), *FRAME[1:]))


def rounded(ink: np.ndarray, x0: float, y0: float, x1: float, y1: float) -> None:
    """A level outline with half-round ends."""
    r, mid = (y1 - y0) / 2, (y0 + y1) / 2
    for y in (y0, y1):
        cv2.line(
            ink,
            (round((x0 + r) * PX_PER_MM), round(y * PX_PER_MM)),
            (round((x1 - r) * PX_PER_MM), round(y * PX_PER_MM)),
            255,
            4,
        )
    for x, turn in ((x0 + r, 90), (x1 - r, 270)):
        at, axis = (round(x * PX_PER_MM), round(mid * PX_PER_MM)), round(r * PX_PER_MM)
        cv2.ellipse(ink, at, (axis, axis), 0, turn, turn + 180, 255, 4)


def test_wires_that_close_round_a_code_are_no_connector_and_an_oval_between_wires_is_one():
    ink = np.zeros((600, 900), np.uint8)
    rounded(ink, 20, 20, 40, 25)
    cv2.line(ink, (60, 270), (240, 270), 255, 4)
    cv2.line(ink, (480, 270), (700, 270), 255, 4)
    oval = Symbol("connector", Box(19.8, 19.8, 40.2, 25.2), 0.8)
    assert not is_loop_of_wires(oval, ink)
    for y in (240, 300):
        cv2.line(ink, (270, y), (800, y), 255, 4)
    assert is_loop_of_wires(oval, ink)


def test_a_small_connector_with_a_wire_through_its_middle_is_no_loop_of_wires():
    ink = np.zeros((240, 600), np.uint8)
    for x in (280, 290):
        cv2.polylines(
            ink, [np.array([[x, 106], [x + 14, 120], [x, 134]], np.int32)], isClosed=False, color=255, thickness=4
        )
    cv2.line(ink, (40, 120), (294, 120), 255, 4)
    cv2.line(ink, (304, 120), (560, 120), 255, 4)
    chevrons = Symbol("connector", Box(278 / 12, 104 / 12, 306 / 12, 136 / 12), 0.9)
    assert not is_loop_of_wires(chevrons, ink)


def test_an_oval_that_a_wire_passes_close_by_is_no_loop_of_wires():
    ink = np.zeros((600, 900), np.uint8)
    cv2.ellipse(ink, (450, 300), (36, 45), 0, 0, 360, 255, 4)
    cv2.line(ink, (100, 300), (414, 300), 255, 4)
    cv2.line(ink, (486, 300), (800, 300), 255, 4)
    for y in (252, 348):
        cv2.line(ink, (100, y), (800, y), 255, 4)
    oval = Symbol("connector", Box(412 / 12, 253 / 12, 488 / 12, 347 / 12), 0.9)
    assert not is_loop_of_wires(oval, ink)
    cv2.rectangle(ink, (414, 255), (486, 345), 0, -1)  # what is left when the wires alone close round a place
    for x in (414, 486):
        cv2.line(ink, (x, 255), (x, 345), 255, 4)
    assert is_loop_of_wires(oval, ink)


@pytest.mark.parametrize("axes", [(64, 19), (13, 16)], ids=["flat", "tiny"])
def test_a_flat_or_tiny_oval_of_wires_that_go_on_at_its_corners_is_a_loop_of_them(axes: tuple[int, int]):
    ink, (wide, high) = np.zeros((600, 900), np.uint8), axes
    cv2.ellipse(ink, (450, 300), axes, 0, 0, 360, 255, 4)
    for y in (300 - high, 300 + high):
        cv2.line(ink, (200, y), (700, y), 255, 4)
    box = Box((448 - wide) / 12, (298 - high) / 12, (452 + wide) / 12, (302 + high) / 12)
    assert is_loop_of_wires(Symbol("connector", box, 0.9), ink)
