"""A side that cuts through a coil is moved past it; sides that cut through nothing of the kind stay. Pictures are drawn here."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from digitize.harness.place import Box
from digitize.ink.cut_coils import with_whole_coils
from digitize.ink.state import Symbol
from digitize.sheet.state import PX_PER_MM


def px(*v: float) -> tuple[int, ...]:
    return tuple(round(x * PX_PER_MM) for x in v)


def coil(turns: int = 5, pitch: float = 1.2, shut: bool = True) -> np.ndarray:
    """A coil from (10, 10) mm, 3 mm high, its wires leading down from its first and its last turn."""
    ink = np.zeros((360, 480), np.uint8)
    last = 10 + pitch * (turns - 1)
    for k in range(turns):
        cv2.line(ink, px(10 + k * pitch, 10), px(10 + k * pitch, 13), 255, 5)
    for y in (10, 13) if shut else (10,):
        cv2.line(ink, px(10, y), px(last, y), 255, 5)
    for x in (10, last):
        cv2.line(ink, px(x, 13), px(x, 28), 255, 5)
    return ink


def sides(ink: np.ndarray, box: Box, kind: str = "relay") -> Box:
    return with_whole_coils(Symbol(kind, box, 0.9), ink).box


CUT = Box(8, 6, 18, 11.5)


def test_a_side_that_cuts_through_a_coil_is_moved_past_it():
    box = sides(coil(), CUT)
    assert (box.x0, box.y0, box.x1) == (CUT.x0, CUT.y0, CUT.x1)
    assert 13.2 <= box.y1 <= 13.6


@pytest.mark.parametrize("y", [10.05, 10.2])
def test_a_side_on_the_line_that_begins_the_turns_cuts_through_them_too(y: float):
    assert 13.2 <= sides(coil(), Box(8, 6, 18, y)).y1 <= 13.6


@pytest.mark.parametrize("turned", [1, 2, 3])
def test_so_is_each_of_its_four_sides(turned: int):
    ink = np.ascontiguousarray(np.rot90(coil()[:, :360], turned))
    box = {1: Box(6, 12, 11.5, 22), 2: Box(12, 18.5, 22, 24), 3: Box(18.5, 8, 24, 18)}[turned]
    moved = sides(ink, box)
    change = [round(abs(a - b), 1) for a, b in zip(
        (moved.x0, moved.y0, moved.x1, moved.y1), (box.x0, box.y0, box.x1, box.y1), strict=True
    )]  # fmt: skip
    assert [c > 1.5 for c in change] == [k == {1: 2, 2: 1, 3: 0}[turned] for k in range(4)]


@pytest.mark.parametrize(
    "ink",
    [coil(turns=3), coil(pitch=3.0, turns=3), coil(shut=False)],
    ids=["two wires and one more", "wires side by side", "a comb that nothing shuts"],
)
def test_wires_that_leave_a_part_move_no_side(ink: np.ndarray):
    assert sides(ink, CUT) == CUT


def test_a_rough_frame_line_moves_no_side():
    ink = np.zeros((360, 480), np.uint8)
    for x in range(100, 210, 14):
        ink[137:141, x : x + 11] = 255
    ink[160:164, 90:230] = 255
    assert sides(ink, CUT) == CUT


def test_connectors_have_no_coil():
    assert sides(coil(), CUT, "connector") == CUT


def test_a_wire_that_passes_open_turns_is_no_part_of_the_coil():
    ink = coil()
    ink[px(13)[0] - 3 :, :] = 0  # the turns end each for itself
    cv2.line(ink, px(2, 14.2), px(30, 14.2), 255, 5)
    assert sides(ink, CUT).y1 == pytest.approx(12.8, abs=0.2)
