"""A page with four times as many cells on it, a ruled form say, takes about four times as long."""

from __future__ import annotations

import time

import numpy as np
from numpy.typing import NDArray

from digitize.ink.lettered_boxes import find_lettered_boxes
from digitize.ink.split_bodies import find_split_bodies

CELL = 20
"""A cell is so wide and high with its line, px: half of a sign's box, and half of a split connector."""


def ruled(cells: int) -> NDArray[np.uint8]:
    """Line ink: a square of ``cells`` times ``cells`` cells."""
    ink = np.zeros((cells * CELL + 3,) * 2, np.uint8)
    for at in range(0, cells * CELL + 1, CELL):
        ink[at : at + 3] = ink[:, at : at + 3] = 255
    return ink


def seconds(cells: int) -> float:
    ink = ruled(cells)
    took = []
    for _ in range(3):
        began = time.process_time()
        find_lettered_boxes(ink, ())
        find_split_bodies(ink)
        took.append(time.process_time() - began)
    return min(took)


def test_a_page_with_four_times_as_many_cells_takes_about_four_times_as_long():
    seconds(5)
    assert seconds(120) < 8 * seconds(60)
