"""Lines that cross in rows and columns are no part; a box with wires at its sides is one."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from digitize.harness.place import Box
from digitize.ink.crossed_fields import is_crossed_field, is_ridden
from digitize.ink.state import Symbol
from digitize.sheet.state import PX_PER_MM

FIELD = Box(10, 10, 26, 24)
ROWS, COLUMNS = (12.0, 16.0, 20.0), (13.0, 18.0, 23.0)


def px(x: float, y: float) -> tuple[int, int]:
    return round(x * PX_PER_MM), round(y * PX_PER_MM)


def crossing(*, hops: bool, rows: tuple[float, ...] = ROWS, columns: tuple[float, ...] = COLUMNS) -> NDArray[np.uint8]:
    """36 x 34 mm with level lines at ``rows`` and upright ones at ``columns``; ``hops``: the level ones bow over those."""
    ink = np.zeros((round(34 * PX_PER_MM), round(36 * PX_PER_MM)), np.uint8)
    for x in columns:
        cv2.line(ink, px(x, 1), px(x, 33), 255, 4)
    for y in rows:
        cv2.line(ink, px(1, y), px(35, y), 255, 4)
        for x in columns if hops else ():
            cv2.line(ink, px(x - 0.9, y), px(x - 0.2, y), 0, 4)
            cv2.line(ink, px(x + 0.2, y), px(x + 0.9, y), 0, 4)
            cv2.ellipse(ink, px(x, y), (12, 12), 0, 180, 360, 255, 4)
    return ink


def body(probability: float = 0.3, kind: str = "fuse_block") -> Symbol:
    return Symbol(kind, FIELD, probability)


@pytest.mark.parametrize("hops", [False, True])
def test_lines_that_cross_in_rows_and_columns_are_no_part(hops: bool):
    assert is_crossed_field(body(), crossing(hops=hops))


def test_what_the_detector_is_sure_of_stays():
    assert not is_crossed_field(body(0.9), crossing(hops=True))


def boxed() -> NDArray[np.uint8]:
    """A box with wires at the same heights on both sides, and none above or below."""
    ink = crossing(hops=False, columns=())
    cv2.rectangle(ink, px(10, 10), px(26, 24), 255, 4)
    return ink


def broken() -> NDArray[np.uint8]:
    """Lines that end at fuses within the field."""
    ink = crossing(hops=False)
    for y in ROWS:
        cv2.line(ink, px(14.2, y), px(16.8, y), 0, 6)
    return ink


def ending() -> NDArray[np.uint8]:
    """A field in which one of the level lines ends."""
    ink = crossing(hops=False)
    cv2.line(ink, px(25, ROWS[1]), px(36, ROWS[1]), 0, 8)
    return ink


@pytest.mark.parametrize(
    "ink", [boxed(), broken(), ending(), crossing(hops=False, rows=(16.0,))], ids=["box", "fuses", "end", "one row"]
)
def test_where_lines_end_or_one_way_is_missing_it_may_be_a_part(ink: NDArray[np.uint8]):
    assert not is_crossed_field(body(), ink)


@pytest.mark.parametrize(
    ("kind", "box", "wires"),
    [
        ("sensor", Box(14, 21.6, 22, 26.6), True),  # on the lower side
        ("sensor", Box(23.4, 13, 28.4, 20), True),  # on the right side
        ("sensor", Box(14, 17, 22, 22), False),  # within
        ("sensor", Box(14, 24.2, 22, 29), False),  # beside
        ("sensor", Box(23.4, 22, 28.4, 27), False),  # at a corner
        ("connector", Box(14, 21.6, 22, 26.6), False),
    ],
)
def test_lines_that_close_round_a_name_and_that_a_part_sits_on_are_no_part(kind, box, wires):
    rider = Symbol(kind, box, 0.95)
    field = body(0.5, "module")
    assert is_ridden(field, (field, rider)) is wires
    assert not is_ridden(body(0.9, "module"), (field, rider))
    assert not is_ridden(field, (field, Symbol(kind, box, 0.5)))
