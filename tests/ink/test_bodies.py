"""Sides of a part are moved onto its outline, and never onto a wire that passes close by. Pictures are drawn here."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from digitize.harness.place import Box
from digitize.ink.bodies import fitted
from digitize.ink.state import Symbol


def px(*v: float) -> tuple[int, ...]:
    return tuple(round(x * 12) for x in v)


def contacts() -> np.ndarray:
    """A bar across two contacts at x = 20 and 25 mm, their wires, and a wire below that turns away at both its ends."""
    ink = np.zeros((480, 600), np.uint8)
    for x in (20, 25):
        cv2.circle(ink, px(x, 20), 13, 255, 3)
        cv2.line(ink, px(x, 21), px(x, 21.3), 255, 5)
    cv2.line(ink, px(19.4, 21.2), px(25.6, 21.2), 255, 3)
    cv2.line(ink, px(5, 20), px(18.9, 20), 255, 4)
    cv2.line(ink, px(26.1, 20), px(45, 20), 255, 4)
    below = np.array([px(17.8, 35), px(17.8, 23.4), px(38, 23.4), px(38, 5)])
    cv2.polylines(ink, [below], isClosed=False, color=255, thickness=4)
    return ink


def test_a_wire_below_a_part_is_no_side_of_it_though_a_bar_of_the_part_lies_as_near():
    seen = Box(19, 18.8, 26, 22.5)
    assert fitted(Symbol("thermal_contact", seen, 0.99), contacts()).box.y1 == seen.y1


def test_a_side_is_moved_onto_its_outline():
    ink = np.zeros((480, 600), np.uint8)
    cv2.rectangle(ink, px(20, 15), px(30, 22), 255, 4)
    box = fitted(Symbol("module", Box(20.6, 15.7, 29.5, 23.0), 0.99), ink).box
    assert np.allclose((box.x0, box.y0, box.x1, box.y1), (20, 15, 30, 22), atol=0.3)


@pytest.mark.parametrize("upright", [False, True])
@pytest.mark.parametrize(("kind", "left"), [("fuse_block", 10), ("module", 10), ("switch", 12)])
def test_the_outline_of_a_large_frame_is_found_farther_outside_its_box(kind: str, left: float, upright: bool):
    ink = np.zeros((960, 960), np.uint8)
    cv2.rectangle(ink, px(10, 10), px(40, 70), 255, 4)
    cv2.line(ink, px(14.5, 15), px(14.5, 50), 255, 6)  # a bus inside it
    box = Box(12, 10, 40, 70)
    if upright:
        ink, box = np.ascontiguousarray(ink.T), box.swapped()
    moved = fitted(Symbol(kind, box, 0.58), ink).box
    moved = moved.swapped() if upright else moved
    assert np.allclose((moved.x0, moved.y0, moved.x1, moved.y1), (left, 10, 40, 70), atol=0.3)


def test_what_runs_past_a_small_frame_is_no_side_of_it():
    ink = np.zeros((480, 600), np.uint8)
    cv2.line(ink, px(18, 14), px(18, 23), 255, 4)
    assert fitted(Symbol("module", Box(20, 15, 30, 22), 0.99), ink).box.x0 == 20


@pytest.mark.parametrize("turns", [0, 1, 2, 3])
@pytest.mark.parametrize(("foot", "passes"), [(35, True), (21.8, False)], ids=["wire", "stroke of the sign"])
def test_a_wire_along_the_rim_of_an_earth_mark_is_none_of_it(foot: float, passes: bool, turns: int):
    ink = np.zeros((480, 480), np.uint8)
    for y, half in ((18, 2.2), (19.5, 1.4), (21, 0.6)):
        cv2.line(ink, px(20 - half, y), px(20 + half, y), 255, 4)
    cv2.line(ink, px(17, 5), px(17, foot), 255, 4)
    x0, y0, x1, y1 = 16.8, 17.5, 22.4, 21.4
    for _ in range(turns):
        ink = np.ascontiguousarray(np.rot90(ink))
        x0, y0, x1, y1 = y0, 40 - x1, y1, 40 - x0
    box = fitted(Symbol("ground", Box(x0, y0, x1, y1), 0.99), ink).box
    for _ in range(turns):
        box = Box(40 - box.y1, box.x0, 40 - box.y0, box.x1)
    assert (box.x0, box.y0, box.x1, box.y1) == pytest.approx((17.4 if passes else 16.8, 17.5, 22.4, 21.4), abs=0.15)


@pytest.mark.parametrize("turned", [False, True])
def test_an_earth_mark_as_thin_as_the_wire_that_runs_through_it_stays_as_it_was(turned: bool):
    ink = np.zeros((480, 480), np.uint8)
    cv2.line(ink, px(5, 20.2), px(35, 20.2), 255, 5)
    box = Box(18, 19.9, 22, 20.5)
    if turned:
        ink, box = np.ascontiguousarray(ink.T), box.swapped()
    assert fitted(Symbol("ground", box, 0.99), ink).box == box


def test_the_second_turn_of_a_coil_is_no_side_of_a_part_inside_its_wire():
    ink = np.zeros((480, 600), np.uint8)
    for x in (20, 21.2, 22.4, 23.6):
        cv2.line(ink, px(x, 16), px(x, 18), 255, 4)
    for y in (15.9, 18.1):
        cv2.line(ink, px(20, y), px(23.6, y), 255, 4)
    cv2.line(ink, px(20, 16), px(20, 30), 255, 4)
    cv2.line(ink, px(23.6, 18), px(23.6, 30), 255, 4)
    cv2.line(ink, px(19, 14), px(24, 14), 255, 4)
    box = fitted(Symbol("relay", Box(19.9, 13.8, 23.8, 18.3), 0.99), ink).box
    assert (box.x0, box.x1) == pytest.approx((19.9, 23.8), abs=0.3)


@pytest.mark.parametrize("upright", [False, True])
def test_a_part_inside_a_wire_that_turns_round_its_corner_keeps_its_own_outline(upright: bool):
    """The box was seen round both: the wire runs on past one end of each side that it follows."""
    ink = np.zeros((480, 600), np.uint8)
    cv2.rectangle(ink, px(20, 15), px(36, 26), 255, 4)
    cv2.polylines(ink, [np.array([px(19, 5), px(19, 27), px(45, 27)])], isClosed=False, color=255, thickness=4)
    box = Box(19, 15, 36, 27)
    if upright:
        ink, box = np.ascontiguousarray(ink.T), box.swapped()
    own = fitted(Symbol("battery", box, 0.99), ink).box
    own = own.swapped() if upright else own
    assert np.allclose((own.x0, own.y0, own.x1, own.y1), (20, 15, 36, 26), atol=0.3)
