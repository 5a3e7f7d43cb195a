"""Triangles of one size at the border in which wires end are arrows though no letter was read in them; other things are none."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from digitize.harness.place import Box
from digitize.ink.edge_arrows import find_edge_arrows
from digitize.ink.state import TextBlock
from digitize.sheet.state import PX_PER_MM

FRAME = Box(10, 10, 110, 90)
ROWS = (20.0, 50.0)


def px(x: float, y: float) -> tuple[int, int]:
    return round(x * PX_PER_MM), round(y * PX_PER_MM)


def page(
    *rows: float, side: str = "left", inward: bool = False, pen: int = 4, within: str = "letter"
) -> NDArray[np.uint8]:
    """A framed sheet with a triangle 4.4 mm high and long at each of the ``rows``, and what stands in it."""
    ink = np.zeros((round(100 * PX_PER_MM), round(120 * PX_PER_MM)), np.uint8)
    cv2.rectangle(ink, px(FRAME.x0, FRAME.y0), px(FRAME.x1, FRAME.y1), 255, 5)
    for y in rows:
        point, flat = (16.0, 11.6) if inward else (11.6, 16.0)
        corners = np.array([px(point, y), px(flat, y - 2.2), px(flat, y + 2.2)], np.int32)
        if within == "ink":
            cv2.fillPoly(ink, [corners], 255)
        cv2.polylines(ink, [corners], True, 255, pen)
        if within == "letter":
            at = px(13.1 if inward else 14.5, y)
            cv2.putText(ink, "D", (at[0] - 7, at[1] + 7), cv2.FONT_HERSHEY_SIMPLEX, 0.65, 255, 3)
        for k in (-0.7, 0.0, 0.7) if within == "bars" else ():
            cv2.line(ink, px(13.8 + k, y - 1.6), px(13.8 + k, y + 1.6), 255, 3)
        cv2.line(ink, px(16.0, y), px(60, y), 255, pen)
    return ink if side == "left" else np.ascontiguousarray(ink[:, ::-1])


@pytest.mark.parametrize("side", ["left", "right"])
@pytest.mark.parametrize("inward", [False, True])
def test_triangles_of_one_size_at_the_border_are_arrows_whichever_way_they_point(side: str, inward: bool):
    found = find_edge_arrows(page(*ROWS, side=side, inward=inward), FRAME, ())
    assert [s.side for s in found] == [side, side]
    for sign, y in zip(found, ROWS, strict=True):
        assert (sign.box.y0, sign.box.y1) == pytest.approx((y - 2.2, y + 2.2), abs=0.4)
        inner = sign.box.x1 if side == "left" else 120 - sign.box.x0
        assert inner == pytest.approx(16.0, abs=0.5)


@pytest.mark.parametrize("within", ["nothing", "ink", "bars"])
def test_triangles_that_are_empty_full_or_barred_may_be_earths_and_are_none(within: str):
    assert not find_edge_arrows(page(*ROWS, within=within), FRAME, ())


def test_one_alone_and_two_of_different_sizes_are_none():
    assert not find_edge_arrows(page(ROWS[0]), FRAME, ())
    ink = page(ROWS[0])
    corners = np.array([px(11.6, 50), px(15, 48.6), px(15, 51.4)], np.int32)
    cv2.polylines(ink, [corners], True, 255, 4)
    cv2.line(ink, px(15, 50), px(60, 50), 255, 4)
    assert not find_edge_arrows(ink, FRAME, ())


def test_those_in_which_a_letter_was_found_are_left_to_it():
    letter = TextBlock(0, Box(13.2, 19.2, 14.6, 20.8), 0, 0.9)
    (left,) = find_edge_arrows(page(*ROWS), FRAME, (letter,))
    assert left.box.holds((14, ROWS[1]))


@pytest.mark.parametrize("what", ["circle", "box", "pointed", "no wire", "deep inside"])
def test_other_things_at_the_border_are_none(what: str):
    ink = page()
    for y in ROWS:
        x, row = px(19.0 + 2.9 if what == "deep inside" else 14.4, y)
        cv2.putText(ink, "D", (x - 7, row + 7), cv2.FONT_HERSHEY_SIMPLEX, 0.65, 255, 3)
        if what == "pointed":
            corners = [(11.4, y), (12.2, y - 2.2), (16, y - 2.2), (16, y + 2.2), (12.2, y + 2.2)]
            cv2.polylines(ink, [np.array([px(*c) for c in corners], np.int32)], True, 255, 4)
        elif what == "circle":
            cv2.circle(ink, px(13.8, y), round(2.2 * PX_PER_MM), 255, 4)
        elif what == "box":
            cv2.rectangle(ink, px(11.6, y - 2.2), px(16, y + 2.2), 255, 4)
        else:
            x = 11.6 if what == "no wire" else 19.0
            cv2.polylines(
                ink, [np.array([px(x, y), px(x + 4.4, y - 2.2), px(x + 4.4, y + 2.2)], np.int32)], True, 255, 4
            )
        if what != "no wire":
            cv2.line(ink, px(16.0, y), px(60, y), 255, 4)
    assert not find_edge_arrows(ink, FRAME, ())


def test_a_sheet_without_a_frame_has_none():
    assert find_edge_arrows(page(*ROWS), None, ()) == ()


@pytest.mark.parametrize("side", ["left", "right"])
@pytest.mark.parametrize(("stub", "found"), [(0.5, True), (0.0, False)])
def test_an_arrow_is_one_though_a_flag_stands_close_behind_it_and_is_higher(stub: float, found: bool, side: str):
    ink = page(*ROWS)
    for y in ROWS:
        start = 16.2 + stub
        ink[round((y - 1) * PX_PER_MM) : round((y + 1) * PX_PER_MM), round(start * PX_PER_MM) :] = 0
        cv2.rectangle(ink, px(start + 0.1, y - 2.6), px(start + 20, y + 2.6), 255, 4)
    ink = ink if side == "left" else np.ascontiguousarray(ink[:, ::-1])
    signs = find_edge_arrows(ink, FRAME, ())
    assert len(signs) == (2 if found else 0)
    for sign, y in zip(signs, ROWS, strict=False):
        assert (sign.box.y0, sign.box.y1) == pytest.approx((y - 2.2, y + 2.2), abs=0.4)
