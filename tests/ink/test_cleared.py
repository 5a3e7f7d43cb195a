"""What is left of the ink when the bodies of symbols are taken out of it."""

import cv2
import numpy as np
import pytest

from digitize.harness.place import Box
from digitize.ink.cleared import clear_bodies, has_corners
from digitize.ink.state import Symbol
from digitize.sheet.state import PX_PER_MM as MM

BOX = Box(20, 10, 28, 24)


def page(shape: str, tilt: float = 0.0, gap: tuple[float, float] | None = None) -> np.ndarray:
    """A body about BOX with wires to its left and right at 12 and 17 mm, its corners off by ``tilt`` mm."""
    ink = np.zeros((round(40 * MM), round(60 * MM)), np.uint8)
    for y in (12, 17):
        for a, b in ((4, BOX.x0), (BOX.x1, 56)):
            cv2.line(ink, px(a, y), px(b, y), 255, 4)
    if shape == "box":
        corners = [(BOX.x0, BOX.y0 + tilt), (BOX.x1, BOX.y0 - tilt), (BOX.x1, BOX.y1 - tilt), (BOX.x0, BOX.y1 + tilt)]
        cv2.polylines(ink, [np.array([px(*c) for c in corners], np.int32)], isClosed=True, color=255, thickness=3)
    else:
        cv2.ellipse(ink, px(*BOX.centre), px(BOX.width / 2, BOX.height / 2), 0, 0, 360, 255, 4)
    if gap is not None:
        cv2.circle(ink, px(*gap), 9, 0, -1)
    return ink


def px(x: float, y: float) -> tuple[int, int]:
    return round(x * MM), round(y * MM)


@pytest.mark.parametrize("tilt", [0.0, 0.12, -0.12])
@pytest.mark.parametrize("gap", [None, (28, 24)], ids=["whole", "one corner worn"])
def test_nothing_is_left_of_a_connector_drawn_as_a_box(tilt: float, gap: tuple[float, float] | None):
    ink = page("box", tilt, gap)
    outer = BOX.grown(0.15)
    assert has_corners(ink, outer)
    clear_bodies(ink, [Symbol("connector", outer, 0.9)])
    near = ink[round((BOX.y0 - 1) * MM) : round((BOX.y1 + 1) * MM), round(BOX.x0 * MM) : round(BOX.x1 * MM)]
    assert not near.any()
    assert ink[px(10, 12)[::-1]]
    assert ink[px(50, 17)[::-1]]


def test_a_wire_past_the_round_corner_of_an_oval_is_left_whole():
    ink = page("oval")
    cv2.line(ink, px(16, 12.5), px(21.5, 8.5), 255, 4)
    cv2.line(ink, px(21.5, 8.5), px(40, 8.5), 255, 4)
    assert not has_corners(ink, BOX)
    before = ink.copy()
    clear_bodies(ink, [Symbol("connector", BOX, 0.9)])
    corner = (slice(round(9 * MM), round(11 * MM)), slice(round(19 * MM), round(21 * MM)))
    assert (ink[corner] == before[corner]).mean() > 0.95


def test_wires_that_pass_on_two_sides_make_no_corners():
    ink = page("oval")
    cv2.line(ink, px(4, 10), px(56, 10), 255, 4)
    cv2.line(ink, px(20, 2), px(20, 38), 255, 4)
    assert not has_corners(ink, BOX)
