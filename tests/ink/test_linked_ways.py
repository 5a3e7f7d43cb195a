"""Signs of single ways that dashes link are one connector; signs that only stand below each other stay apart."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from digitize.harness.place import Box
from digitize.ink.linked_ways import with_linked_ways
from digitize.ink.state import Symbol, TextBlock
from digitize.sheet.state import PX_PER_MM

FIRST, STEP, SIDE = 8.0, 4.4, 2.4
X = 15.0
"""Middle of the signs, mm."""


def px(x: float, y: float) -> tuple[int, int]:
    return round(x * PX_PER_MM), round(y * PX_PER_MM)


def signs(count: int, *, link: str = "dashes", step: float = STEP) -> tuple[NDArray[np.uint8], tuple[Symbol, ...]]:
    """Double arrow heads below each other, each on its wire; ``link``: dashes, a wire that
    crosses between them, one from each to the next, or none."""
    ink = np.zeros((round(40 * PX_PER_MM), round(30 * PX_PER_MM)), np.uint8)
    found = []
    for k in range(count):
        y = FIRST + step * k
        for x in (X - 0.8, X + 0.2):
            cv2.polylines(ink, [np.array([px(x, y - 1.1), px(x + 1.0, y), px(x, y + 1.1)])], False, 255, 3)
        cv2.line(ink, px(4, y), px(X + 0.2, y), 255, 3)
        cv2.line(ink, px(X + 1.2, y), px(26, y), 255, 3)
        found.append(Symbol("connector", Box(X - 1.2, y - 1.2, X + 1.2, y + 1.2), 0.9 - 0.2 * k))
        if k and link == "dashes":
            cv2.line(ink, px(X - 0.3, y - step / 2 - 0.4), px(X - 0.3, y - step / 2 + 0.4), 255, 2)
        if k and link == "solid":
            cv2.line(ink, px(X, y - step + 1.1), px(X, y - 1.1), 255, 3)
        if k and link == "wire":
            cv2.line(ink, px(4, y - step / 2), px(26, y - step / 2), 255, 3)
    return ink, tuple(found)


def test_signs_that_dashes_link_are_one_connector_as_sure_as_the_surest():
    ink, found = signs(3)
    lamp = Symbol("lamp", Box(20, 2, 25, 7), 0.9)
    left = with_linked_ways((lamp, *found), ink, ())
    assert left[0] == lamp
    (whole,) = left[1:]
    assert whole.kind == "connector"
    assert whole.probability == 0.9
    assert (whole.box.y0, whole.box.y1) == pytest.approx((FIRST - 1.2, FIRST + 2 * STEP + 1.2))


def test_signs_side_by_side_on_upright_wires_are_joined_too():
    ink, found = signs(2)
    turned = tuple(Symbol(s.kind, Box(s.box.y0, s.box.x0, s.box.y1, s.box.x1), s.probability) for s in found)
    (whole,) = with_linked_ways(turned, np.ascontiguousarray(ink.T), ())
    assert whole.box.width > whole.box.height


@pytest.mark.parametrize("link", ["none", "wire", "solid"])
def test_signs_without_a_dash_between_them_stay_apart(link: str):
    ink, found = signs(3, link=link)
    assert with_linked_ways(found, ink, ()) == found


def test_signs_with_names_of_their_own_stay_apart_and_a_cavity_beside_them_is_no_name():
    ink, found = signs(2)
    own = TextBlock(0, Box(X - 3, FIRST + 1.3, X + 3, FIRST + 3.1), 0, 0.95)
    cavity = TextBlock(1, Box(X - 1.0, FIRST + STEP - 1.8, X + 3.5, FIRST + STEP + 1.2), 0, 0.9)
    assert with_linked_ways(found, ink, (own,)) == found
    assert len(with_linked_ways(found, ink, (cavity,))) == 1


def test_signs_of_other_sizes_or_far_apart_or_taught_stay_apart():
    ink, found = signs(2)
    larger = Symbol("connector", found[1].box.grown(0.6), 0.9)
    assert len(with_linked_ways((found[0], larger), ink, ())) == 2
    assert len(with_linked_ways(signs(2, step=10.0)[1], signs(2, step=10.0)[0], ())) == 2
    taught = Symbol("connector", found[1].box, 0.9, taught="arrows")
    assert len(with_linked_ways((found[0], taught), ink, ())) == 2
