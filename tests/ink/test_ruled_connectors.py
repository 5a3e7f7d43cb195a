"""A ruled table of ways on wires is a connector, whichever way it is turned; a table of text and a box with one cell are none."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from digitize.harness.place import Box
from digitize.ink.holes import enclosed_in
from digitize.ink.ruled_connectors import find_ruled_connectors, with_ruled_connectors
from digitize.ink.state import Symbol
from digitize.sheet.state import PX_PER_MM

MM = int(PX_PER_MM)
LEFT, MIDDLE, RIGHT, TOP, HEAD, ROW = 15.0, 18.5, 22.0, 10.0, 2.5, 3.0
TURNS = {
    "as drawn": lambda ink, box: (ink, box),
    "head below": lambda ink, box: (ink[::-1], Box(box.x0, 30 - box.y1, box.x1, 30 - box.y0)),
    "upright": lambda ink, box: (ink.T, box.swapped()),
}


def line(ink: NDArray[np.uint8], a: tuple[float, float], b: tuple[float, float]) -> None:
    cv2.line(ink, (round(a[0] * MM), round(a[1] * MM)), (round(b[0] * MM), round(b[1] * MM)), 255, 3)


def table(rows: int, *, wires: str = "lr", middle: float = MIDDLE, worn: bool = False) -> tuple[NDArray[np.uint8], Box]:
    """40 x 30 mm with a head, ``rows`` rows of two cells and wires at their left and right; ``worn``: one rule has a gap."""
    ink = np.zeros((30 * MM, 40 * MM), np.uint8)
    foot = TOP + HEAD + rows * ROW
    cv2.rectangle(ink, (round(LEFT * MM), round(TOP * MM)), (round(RIGHT * MM), round(foot * MM)), 255, 3)
    line(ink, (middle, TOP + HEAD), (middle, foot))
    for k in range(rows):
        y = TOP + HEAD + k * ROW
        line(ink, (LEFT, y), (RIGHT, y))
        if "l" in wires:
            line(ink, (3, y + ROW / 2), (LEFT, y + ROW / 2))
        if "r" in wires:
            line(ink, (RIGHT, y + ROW / 2), (37, y + ROW / 2))
    if worn:
        y = round((TOP + HEAD + ROW) * MM)
        ink[y - 4 : y + 5, round((middle + 1) * MM) : round((middle + 2) * MM)] = 0
    return ink, Box(LEFT, TOP, RIGHT, foot)


def found(ink: NDArray[np.uint8]) -> tuple[Box, ...]:
    ink = np.ascontiguousarray(ink)
    return find_ruled_connectors(ink, enclosed_in(ink))


@pytest.mark.parametrize("turn", TURNS)
@pytest.mark.parametrize("rows", [1, 2, 4])
def test_a_head_with_rows_of_two_cells_on_wires_is_a_connector(rows: int, turn: str):
    ink, box = TURNS[turn](*table(rows))
    (seen,) = found(ink)
    assert (seen.x0, seen.y0, seen.x1, seen.y1) == pytest.approx((box.x0, box.y0, box.x1, box.y1), abs=0.3)


def test_a_rule_between_two_cells_may_have_worn_through():
    (seen,) = found(table(3, worn=True)[0])
    assert seen.y1 == pytest.approx(TOP + HEAD + 3 * ROW, abs=0.3)


@pytest.mark.parametrize(
    "drawn",
    [table(3, wires=""), table(3, wires="l"), table(2, middle=17.0)],
    ids=["a table of text", "wires at one side", "a list of unlike columns"],
)
def test_tables_without_wires_on_both_sides_or_with_unlike_columns_are_none(drawn: tuple[NDArray[np.uint8], Box]):
    assert not found(drawn[0])


def test_two_boxes_one_below_the_other_are_no_table():
    ink = np.zeros((30 * MM, 40 * MM), np.uint8)
    for y0, y1 in ((10.0, 12.5), (12.5, 15.5)):
        cv2.rectangle(ink, (15 * MM, round(y0 * MM)), (22 * MM, round(y1 * MM)), 255, 3)
    line(ink, (3, 14), (15, 14))
    line(ink, (22, 14), (37, 14))
    assert not found(ink)


TABLE = Box(15, 10, 22, 21)


@pytest.mark.parametrize(
    ("symbol", "stays"),
    [
        (Symbol("module", TABLE, 0.99), False),
        (Symbol("fuse", Box(15.5, 13, 18, 15), 0.9), False),
        (Symbol("connector", TABLE, 0.6), False),
        (Symbol("connector", TABLE, 0.97), True),
        (Symbol("module", TABLE, 0.99, taught="lesson"), True),
        (Symbol("module", Box(10, 5, 60, 50), 0.99), True),
    ],
    ids=["module", "part of a cell", "doubtful", "sure", "taught", "around it"],
)
def test_what_the_table_was_taken_for_gives_way_unless_it_is_sure(symbol: Symbol, stays: bool):
    told = with_ruled_connectors((symbol,), (TABLE,))
    assert (symbol in told) == stays
    assert any(s.kind == "connector" and s.box == TABLE for s in told) == (symbol.box != TABLE or symbol.taught is None)
