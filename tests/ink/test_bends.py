"""Promises about doubtful bodies that are only a wire that turns."""

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from digitize.harness.place import Box
from digitize.ink.bends import is_bent_line
from digitize.ink.state import Symbol
from digitize.sheet.state import PX_PER_MM

RESISTOR = Symbol("resistor", Box(10, 10, 20, 14.5), 0.4)


def drawn(*lines: list[tuple[float, float]]) -> NDArray[np.uint8]:
    ink = np.zeros((round(30 * PX_PER_MM), round(40 * PX_PER_MM)), np.uint8)
    for line in lines:
        cv2.polylines(ink, [np.array([(round(x * PX_PER_MM), round(y * PX_PER_MM)) for x, y in line])], False, 255, 4)
    return ink


@pytest.mark.parametrize(
    "line",
    [
        [(30, 10.5), (10.5, 10.5), (10.5, 14), (30, 14)],
        [(30, 10.5), (11, 10.5), (10.5, 11), (10.5, 14), (30, 14)],
        [(2, 10.5), (15, 10.5), (15, 14), (30, 14)],
    ],
    ids=["a U", "a U with a chamfered corner", "a step"],
)
def test_a_wire_that_turns_is_no_part(line: list[tuple[float, float]]) -> None:
    assert is_bent_line(RESISTOR, drawn(line))


def test_a_wire_that_turns_beside_a_surer_part_is_no_part() -> None:
    breaker = Symbol("circuit_breaker", Box(18, 9, 24, 12), 0.99)
    ink = drawn([(19, 10.5), (10.5, 10.5), (10.5, 14), (30, 14)])
    for x in (19, 23):
        cv2.circle(ink, (round(x * PX_PER_MM), round(10.5 * PX_PER_MM)), 8, 255, 3)
    assert is_bent_line(RESISTOR, ink, (breaker, RESISTOR))
    assert not is_bent_line(breaker, ink, (breaker, RESISTOR))
    like_many = Symbol("coil", RESISTOR.box, 0.99, None, (("resistor", 0.2), ("switch", 0.1), ("heater", 0.1)))
    assert is_bent_line(like_many, ink, (breaker, like_many)), "a little like many kinds is no sure find"


@pytest.mark.parametrize(
    "lines",
    [
        [[(2, 12), (10, 12)], [(10, 10.5), (20, 10.5), (20, 14), (10, 14), (10, 10.5)], [(20, 12), (30, 12)]],
        [[(2, 12), (10, 12), (11, 10.5), (13, 14), (15, 10.5), (17, 14), (19, 10.5), (20, 12), (30, 12)]],
        [[(2, 12), (13, 12), (17, 10.5)], [(17.5, 12), (30, 12)]],
        [[(2, 12), (30, 12)], [(15, 12), (15, 30)]],
        [[(15, 2), (15, 12)], [(11, 12), (19, 12)], [(12.5, 13), (17.5, 13)]],
    ],
    ids=["a box on its wires", "a zigzag", "an open contact", "a tee", "an earth mark"],
)
def test_what_a_part_is_drawn_with_stays_a_part(lines: list[list[tuple[float, float]]]) -> None:
    assert not is_bent_line(RESISTOR, drawn(*lines))


def test_a_part_that_the_detector_is_sure_of_is_never_taken_for_a_wire() -> None:
    sure = Symbol("resistor", RESISTOR.box, 0.9)
    assert not is_bent_line(sure, drawn([(30, 10.5), (10.5, 10.5), (10.5, 14), (30, 14)]))
