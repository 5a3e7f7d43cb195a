"""Figures cut out of a book, with nothing around them: lines of the drawing are no edges of paper."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from digitize.sheet.flatten import flatten
from digitize.sheet.paper import find_paper


def figure() -> np.ndarray:
    """A figure of few pixels on pure white: two wires run side by side along its left and its right, print stands below."""
    page = np.full((586, 350), 255, np.uint8)
    for x in (11, 22, 331, 342):
        cv2.line(page, (x, 50), (x, 430), 0, 2)
    cv2.line(page, (11, 50), (120, 50), 0, 2)
    cv2.line(page, (22, 62), (165, 62), 0, 2)
    for row in range(3):
        cv2.putText(page, f"Figure {row} Wiring of the lamps", (12, 522 + 26 * row), 3, 0.62, 0, 1, cv2.LINE_AA)
    for row in range(5):
        cv2.putText(page, "SWITCH No 14", (130, 140 + 50 * row), 0, 0.4, 0, 1, cv2.LINE_AA)
    return page


def test_wires_and_print_along_the_sides_of_a_figure_are_no_edges_of_paper() -> None:
    assert find_paper(figure()).seen == (False, False, False, False)


def test_nothing_drawn_at_the_rim_of_a_figure_is_lost(scan_of) -> None:
    page = figure()
    sheet = flatten(scan_of(), page)
    wire = sheet.facts.mapping.to_sheet(np.array([[11.0, y] for y in range(60, 420, 10)]))
    rows, columns = (np.round(wire[:, i] * 12 - 0.5).astype(int) for i in (1, 0))
    assert sheet.ink[rows, columns].min() == 255


@pytest.mark.parametrize("lid", [255, 215])
def test_a_page_on_a_light_lid_is_still_cut_out(draw_page, on_bed, lid: int) -> None:
    page = draw_page()
    h, w = page.grey.shape
    corners = [(30.0, 26.0), (w + 25.0, 30.0), (w + 22.0, h + 32.0), (27.0, h + 28.0)]
    scan, _ = on_bed(page.grey, corners, (w + 60, h + 60), lid)
    found = find_paper(scan)
    assert found.seen == (True, True, True, True)
    assert np.abs(found.corners - np.array(corners)).max() < 6
