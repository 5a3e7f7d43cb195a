"""Promises about closed outlines."""

import cv2
import numpy as np
import pytest

from digitize.ink.outlines import find_ovals, find_rectangles
from digitize.sheet.state import PX_PER_MM


def blank(width: float = 60, height: float = 40) -> np.ndarray:
    return np.zeros((int(height * PX_PER_MM), int(width * PX_PER_MM)), np.uint8)


def px(*mm: float) -> tuple[int, ...]:
    return tuple(round(v * PX_PER_MM) for v in mm)


def test_an_oval_is_found_with_its_outer_edge():
    ink = blank()
    cv2.ellipse(ink, px(30, 20), px(6, 2.5), 0, 0, 360, 255, 4)
    (oval,) = find_ovals(ink)
    assert (oval.box.x0, oval.box.y0, oval.box.x1, oval.box.y1) == pytest.approx((23.9, 17.4, 36.1, 22.6), abs=0.35)
    assert oval.probability > 0.8


def test_an_outline_with_half_round_ends_is_found():
    ink = blank()
    for y in (17.5, 22.5):
        cv2.line(ink, px(26.5, y), px(33.5, y), 255, 4)
    cv2.ellipse(ink, px(26.5, 20), px(2.5, 2.5), 0, 90, 270, 255, 4)
    cv2.ellipse(ink, px(33.5, 20), px(2.5, 2.5), 0, 270, 450, 255, 4)
    assert len(find_ovals(ink)) == 1


@pytest.mark.parametrize(("w", "h"), [(12, 5), (30, 3), (6, 6)])
def test_a_box_or_a_gap_between_wires_is_no_oval(w, h):
    ink = blank()
    cv2.rectangle(ink, px(10, 10), px(10 + w, 10 + h), 255, 4)
    assert find_ovals(ink) == ()


def test_a_box_is_found_though_wires_touch_it_from_both_sides():
    ink = blank()
    cv2.rectangle(ink, px(20, 10), px(40, 30), 255, 4)
    for y in (15, 20, 25):
        cv2.line(ink, px(2, y), px(20, y), 255, 4)
        cv2.line(ink, px(40, y), px(58, y), 255, 4)
    cv2.line(ink, px(20, 15), px(30, 15), 255, 4)
    (box,) = find_rectangles(ink)
    assert not box.dashed
    assert (box.box.x0, box.box.y0, box.box.x1, box.box.y1) == pytest.approx((20, 10, 40, 30), abs=0.3)


def test_four_wires_that_cross_enclose_no_box():
    ink = blank()
    for y in (10, 30):
        cv2.line(ink, px(2, y), px(58, y), 255, 4)
    for x in (20, 40):
        cv2.line(ink, px(x, 2), px(x, 38), 255, 4)
    assert find_rectangles(ink) == ()


def test_wires_with_a_rough_rim_enclose_no_dashed_box():
    ink = blank()
    for x in (20, 40):
        cv2.line(ink, px(x, 2), px(x, 38), 255, 4)
    for y in (10, 30):
        cv2.line(ink, px(2, y), px(58, y), 255, 4)
    for a in np.arange(20.5, 40, 2.4):
        for y in (10, 30):
            cv2.line(ink, (px(a, y)[0], px(a, y)[1] - 3), (px(a + 1.5, y)[0], px(a, y)[1] - 3), 255, 1)
    for a in np.arange(10.5, 30, 2.4):
        for x in (20, 40):
            cv2.line(ink, (px(x, a)[0] + 3, px(x, a)[1]), (px(x, a)[0] + 3, px(x, a + 1.5)[1]), 255, 1)
    assert find_rectangles(ink) == ()


def test_a_dashed_box_is_found_and_said_to_be_dashed():
    ink = blank()
    for a in np.arange(20, 40, 2.4):
        for y in (10, 30):
            cv2.line(ink, px(a, y), px(min(a + 1.5, 40), y), 255, 3)
    for a in np.arange(10, 30, 2.4):
        for x in (20, 40):
            cv2.line(ink, px(x, a), px(x, min(a + 1.5, 30)), 255, 3)
    found = [r for r in find_rectangles(ink) if r.dashed]
    assert len(found) == 1
    assert found[0].box.width == pytest.approx(20, abs=1.0)


def dashes(ink: np.ndarray, a: tuple[float, float], b: tuple[float, float], on: float = 2.0, off: float = 1.2) -> None:
    length, at = float(np.hypot(b[0] - a[0], b[1] - a[1])), 0.0
    u = ((b[0] - a[0]) / length, (b[1] - a[1]) / length)
    while at < length:
        stop = min(at + on, length)
        cv2.line(ink, px(a[0] + u[0] * at, a[1] + u[1] * at), px(a[0] + u[0] * stop, a[1] + u[1] * stop), 255, 4)
        at = stop + off


def test_a_line_that_happens_to_stand_in_line_with_a_dashed_side_does_not_hide_the_box():
    ink = blank(80, 60)
    for a, b in (((20, 15), (48, 15)), ((20, 45), (48, 45)), ((20, 15), (20, 45)), ((48, 15), (48, 45))):
        dashes(ink, a, b)
    cv2.line(ink, px(8, 45), px(13, 45), 255, 4)
    cv2.line(ink, px(54, 15.1), px(58, 15.1), 255, 4)
    (box,) = find_rectangles(ink)
    assert box.dashed
    assert (box.box.x0, box.box.y0, box.box.x1, box.box.y1) == pytest.approx((20, 15, 48, 45), abs=0.6)


def test_a_short_upright_close_below_a_dashed_side_does_not_make_it_longer():
    ink = blank(80, 60)
    for a, b in (((20, 15), (48, 15)), ((20, 45.4), (48, 45.4)), ((20, 15), (20, 45.4)), ((48, 15), (48, 45.4))):
        dashes(ink, a, b)
    for top in (47.4, 51.4):  # the end of a box around a code, two of them
        cv2.line(ink, px(20, top), px(20, top + 2.1), 255, 4)
    assert any(
        r.dashed and (r.box.x0, r.box.y0, r.box.x1, r.box.y1) == pytest.approx((20, 15, 48, 45.4), abs=0.6)
        for r in find_rectangles(ink)
    )


def test_dashes_that_wires_left_bumps_on_do_not_end_their_side():
    ink = blank(80, 60)
    for a, b in (((20, 15), (48, 15)), ((20, 45.4), (48, 45.4)), ((20, 15), (20, 45.4)), ((48, 15), (48, 45.4))):
        dashes(ink, a, b)
    for x, y in (px(48, 16), px(48, 19.2)):
        ink[y - 8 : y + 8, x - 6 : x + 7] = 255  # on the first and second dash from the top
    (box,) = (r.box for r in find_rectangles(ink) if r.dashed)
    assert (box.x0, box.y0, box.x1, box.y1) == pytest.approx((20, 15, 48, 45.4), abs=0.6)


@pytest.mark.parametrize("other", [9.5, 9.6, 9.7, 9.75, 9.8, 9.9])
def test_a_dashed_side_that_lies_a_little_aslant_is_whole_whatever_stands_a_little_above_it_elsewhere(other):
    ink = np.zeros((round(60 * PX_PER_MM), round(120 * PX_PER_MM)), np.uint8)
    for k in range(10):
        x, y = 10 + 3 * k, 10 + 0.012 * k
        for level in (y, y + 20):
            cv2.line(ink, px(x, level), px(x + 1.8, level), 255, 4)
    for k in range(7):
        for x in (10, 38.8):
            cv2.line(ink, px(x, 10 + 3 * k), px(x, 11.8 + 3 * k), 255, 4)
    cv2.line(ink, px(80, other), px(82, other), 255, 4)
    boxes = [r.box for r in find_rectangles(ink) if r.dashed]
    assert any(abs(b.x0 - 10) < 0.3 and abs(b.y0 - 10) < 0.3 and abs(b.x1 - 38.8) < 0.3 for b in boxes)
