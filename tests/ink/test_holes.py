"""Promises about specks of paper in ink."""

import cv2
import numpy as np
import pytest

from digitize.harness.place import Point
from digitize.ink.dots import find_dots
from digitize.ink.holes import holes_of, specks_filled
from digitize.ink.rings import find_rings
from digitize.ink.thickness import thickness_of


class Believes:
    """Holds every spot for what it is told."""

    def __init__(self, what: str) -> None:
        self.what = what

    def probability(self, what: str, at: Point, reach: float = 0.6) -> float:
        del at, reach
        return 0.9 if what == self.what else 0.02


def dot_with_hole(width: int) -> np.ndarray:
    ink = np.zeros((360, 480), np.uint8)
    cv2.line(ink, (20, 180), (460, 180), 255, 8)
    cv2.line(ink, (240, 20), (240, 180), 255, 8)
    cv2.circle(ink, (240, 180), 12, 255, -1)
    ink[181 : 181 + width, 238 : 238 + width] = 0
    return ink


@pytest.mark.parametrize("width", [1, 2, 3])
def test_a_dot_with_a_speck_of_paper_in_it_is_a_dot(width):
    ink = dot_with_hole(width)
    assert not [d for d in find_dots(ink, thickness_of(ink)) if d.probability > 0.8]
    assert specks_filled(ink, holes_of(ink))
    (dot,) = find_dots(ink, thickness_of(ink))
    assert dot.probability > 0.8
    assert dot.diameter == pytest.approx(2.0, abs=0.2)


def test_a_dot_that_is_worn_hollow_is_filled_only_where_the_second_opinion_sees_one():
    hollow = dot_with_hole(8)
    for opinion, filled in ((None, False), (Believes("plain"), False), (Believes("dot"), True)):
        ink = hollow.copy()
        assert specks_filled(ink, holes_of(ink), opinion) == filled


def test_the_paper_between_lines_is_no_hole():
    ink = np.zeros((360, 480), np.uint8)
    for at in (150, 190):
        cv2.line(ink, (20, at), (460, at), 255, 4)
        cv2.line(ink, (at, 20), (at, 340), 255, 4)
    assert holes_of(ink) == ()
    assert find_rings(ink) == ()
