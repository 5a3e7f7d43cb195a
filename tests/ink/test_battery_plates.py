"""Plates beside the box that was seen round a battery are of it. Pictures are drawn here."""

from __future__ import annotations

import numpy as np
import pytest

from digitize.harness.place import Box
from digitize.ink.battery_plates import with_all_plates
from digitize.ink.state import Symbol


def battery(*, cable: float = 1.4, beside: float | None = None) -> np.ndarray:
    """Three cells from x = 20 mm on: a short, broad plate and a long one each, 1.2 mm apart, and the cables on both sides.

    ``beside``: x of another bar, mm, as high as the long plates but above the battery's middle.
    """
    ink = np.zeros((480, 600), np.uint8)
    for k in range(3):
        x = 20 + 3.6 * k
        ink[round((20 - 1.5) * 12) : round((20 + 1.5) * 12), round(x * 12) : round(x * 12) + 9] = 255
        x += 1.8
        ink[round((20 - 3.0) * 12) : round((20 + 3.0) * 12), round(x * 12) : round(x * 12) + 4] = 255
    half = round(cable / 2 * 12)
    ink[240 - half : 240 + half, 60:216] = 255
    ink[240 - half : 240 + half, 372:540] = 255
    ink[239:242, 216:372] = 255
    if beside is not None:
        ink[180:240, round(beside * 12) : round(beside * 12) + 4] = 255
    return ink


SEEN = Box(21.6, 17, 29.3, 23)


def found(ink: np.ndarray, box: Box = SEEN, kind: str = "battery") -> Box:
    return with_all_plates(Symbol(kind, box, 0.7), ink).box


@pytest.mark.parametrize("upright", [False, True])
def test_the_box_of_a_battery_is_drawn_out_over_the_plates_beside_it(upright: bool):
    ink = battery()
    if upright:
        turned = found(np.ascontiguousarray(ink.T), Box(SEEN.y0, SEEN.x0, SEEN.y1, SEEN.x1))
        box = Box(turned.y0, turned.x0, turned.y1, turned.x1)
    else:
        box = found(ink)
    assert (box.y0, box.y1, box.x1) == pytest.approx((SEEN.y0, SEEN.y1, SEEN.x1), abs=0.1)
    assert box.x0 == pytest.approx(20, abs=0.1)


def test_two_plates_that_were_left_outside_are_reached_one_after_the_other():
    box = found(battery(), Box(23, 17, 27.5, 23))
    assert box.x0 == pytest.approx(20, abs=0.1)
    assert box.x1 == pytest.approx(29.3, abs=0.15)


@pytest.mark.parametrize("cable", [0.5, 1.3])
def test_a_cable_is_no_plate(cable: float):
    box = Box(19.9, 17, 29.4, 23)
    assert found(battery(cable=cable), box) == box


def test_a_bar_that_does_not_stand_across_the_battery_is_no_plate():
    box = Box(19.9, 17, 29.4, 23)
    assert found(battery(beside=18.8), box) == box


def test_other_signs_stay_as_they_are():
    assert found(battery(), SEEN, "capacitor") == SEEN


def test_a_box_without_a_long_plate_stays_as_it_is():
    ink = np.zeros((480, 600), np.uint8)
    ink[222:258, 240:249] = 255
    assert found(ink) == SEEN


def test_a_wire_that_passes_a_box_with_bars_is_no_plate():
    """Two cavities under a connector's name look like plates to the detector; a wire passes right below."""
    ink = np.zeros((480, 600), np.uint8)
    for y in (204, 240, 276):
        ink[y : y + 4, 240:360] = 255
    for x in (240, 356):
        ink[204:280, x : x + 4] = 255
    ink[240:280, 298:302] = 255
    ink[292:296, 60:540] = 255
    box = Box(20, 17, 30, 23.3)
    assert found(ink, box) == box


def test_a_battery_drawn_as_a_box_has_no_plates_and_a_wire_below_it_is_none():
    ink = np.zeros((480, 600), np.uint8)
    box = Box(20, 15, 36, 25)
    for y0, y1, x0, x1 in ((178, 182, 240, 432), (192, 196, 240, 432), (298, 302, 240, 432), (312, 316, 240, 432)):
        ink[y0:y1, x0:x1] = 255  # its top with the lid, its foot, and a wire below as long
    ink[178:302, 240:244] = ink[178:302, 428:432] = 255
    assert found(ink, box) == box
    ink[178:302, 240:244] = 0
    assert found(ink, box) != box, "without a frame these are plates"
