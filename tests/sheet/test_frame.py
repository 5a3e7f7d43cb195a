"""The drawn border: single, double, with strips on two sides only, with a side worn away; and what is none."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from digitize.harness.place import Box
from digitize.sheet.frame import find_frame, find_rules, settled_box
from digitize.sheet.frame_corners import frame_of_corners
from digitize.sheet.state import PX_PER_MM
from digitize.sheet.ticks import find_ticks

Q = 4.0
W, H = 297.0, 210.0


def ink_with(*lines: tuple[float, float, float, float], pen: float = 0.5) -> np.ndarray:
    """Lines (x0, y0, x1, y1) in mm on an A4 landscape page at 4 px/mm."""
    ink = np.zeros((round(H * Q), round(W * Q)), np.uint8)
    for x0, y0, x1, y1 in lines:
        cv2.line(ink, (round(x0 * Q), round(y0 * Q)), (round(x1 * Q), round(y1 * Q)), 255, max(1, round(pen * Q)))
    return ink


def box_lines(x0: float, y0: float, x1: float, y1: float) -> list[tuple[float, float, float, float]]:
    return [(x0, y0, x1, y0), (x1, y0, x1, y1), (x1, y1, x0, y1), (x0, y1, x0, y0)]


def frames(ink: np.ndarray):
    level, upright = find_rules(ink, Q, 40.0)
    return find_frame(level, upright, W, H)


def near(frame, x0: float, y0: float, x1: float, y1: float) -> bool:
    return bool(np.abs(np.array(frame.box) - (x0, y0, x1, y1)).max() < 0.4)


def test_a_single_border_is_the_frame() -> None:
    outer, inner = frames(ink_with(*box_lines(15, 12, 280, 190)))
    assert outer is not None
    assert near(outer, 15, 12, 280, 190)
    assert inner is None
    assert outer.probability > 0.9


def test_of_a_double_border_both_lines_are_found() -> None:
    outer, inner = frames(ink_with(*box_lines(10, 10, 287, 195), *box_lines(16, 16, 281, 189)))
    assert outer is not None
    assert inner is not None
    assert near(outer, 10, 10, 287, 195)
    assert near(inner, 16, 16, 281, 189)


def test_a_double_rule_is_a_double_border() -> None:
    outer, inner = frames(ink_with(*box_lines(14, 14, 283, 191), *box_lines(15.5, 15.5, 281.5, 189.5), pen=0.3))
    assert outer is not None
    assert inner is not None
    assert near(inner, 15.5, 15.5, 281.5, 189.5)


@pytest.mark.parametrize("gap", [0.0, 1.2, 6.0])
def test_marks_of_the_zones_are_found_outside_or_between_the_lines(gap: float) -> None:
    ink = np.zeros((round(210 * PX_PER_MM), round(297 * PX_PER_MM)), np.uint8)
    q = PX_PER_MM
    frame, border = Box(20, 20, 270, 180), Box(20 - gap, 20 - gap, 270 + gap, 180 + gap)
    for b in (frame, border):
        cv2.rectangle(ink, (round(b.x0 * q), round(b.y0 * q)), (round(b.x1 * q), round(b.y1 * q)), 255, 4)
    reach = 6.0 if gap > 3 else gap + 2.4
    for i in range(1, 5):
        x = round((20 + 50 * i) * q)
        cv2.line(ink, (x, round((20 - reach) * q)), (x, round(20 * q)), 255, 4)
    cv2.putText(ink, "1", (round(45 * q), round(17.5 * q)), cv2.FONT_HERSHEY_SIMPLEX, 1.2, 255, 3)
    across, down = find_ticks(ink, frame, border if gap else None)
    assert across == pytest.approx((70, 120, 170, 220), abs=0.15)
    assert down == ()


def test_strips_for_labels_at_top_and_left_only() -> None:
    outer, inner = frames(ink_with(*box_lines(10, 10, 287, 195), (16, 16, 287, 16), (16, 16, 16, 195)))
    assert outer is not None
    assert inner is not None
    assert near(inner, 16, 16, 287, 195)


def test_two_wires_along_the_border_are_no_strips_for_labels() -> None:
    # a cable down the left from a corner of its own, and a wire along the top that turns down before the right
    _, inner = frames(ink_with(*box_lines(10, 10, 287, 195), (22, 14, 250, 14), (14, 18, 14, 140)))
    assert inner is None


def test_the_rule_over_a_title_block_is_no_second_border() -> None:
    _, inner = frames(ink_with(*box_lines(10, 10, 287, 195), (10, 185, 287, 185)))
    assert inner is None


def test_a_border_with_gaps_is_still_one() -> None:
    ink = ink_with(*box_lines(15, 12, 280, 190))
    rng = np.random.default_rng(8)
    for x in rng.integers(70, 1080, 14):
        ink[: round(20 * Q), x : x + 20] = 0
        ink[round(180 * Q) :, x : x + 20] = 0
    outer, _ = frames(ink)
    assert outer is not None
    assert near(outer, 15, 12, 280, 190)


@pytest.mark.parametrize("gone", [0, 1, 2, 3])
def test_a_border_with_one_side_worn_away_is_completed_with_less_belief(gone: int) -> None:
    lines = [line for i, line in enumerate(box_lines(15, 12, 280, 190)) if i != gone]
    outer, _ = frames(ink_with(*lines))
    assert outer is not None
    assert near(outer, 15, 12, 280, 190)
    assert outer.probability < 0.7


def test_wires_make_no_frame() -> None:
    lines = [(30, 40 + 12 * i, 200 + 5 * i, 40 + 12 * i) for i in range(10)]
    lines += [(60 + 20 * i, 30, 60 + 20 * i, 150) for i in range(8)]
    assert frames(ink_with(*lines)) == (None, None)


def test_a_loop_of_wire_that_other_wires_pass_is_no_frame() -> None:
    loop = [(30, 25, 200, 25), (200, 25, 200, 180), (30, 180, 200, 180), (30, 25, 30, 180)]
    through = [(60, 60, 260, 60), (60, 120, 262, 120)]
    assert frames(ink_with(*loop, *through)) == (None, None)
    three_sided = [loop[0], loop[1], loop[2]]
    assert frames(ink_with(*three_sided, *through[:1])) == (None, None)


def test_a_fold_across_the_whole_paper_does_not_hide_the_frame() -> None:
    outer, _ = frames(ink_with(*box_lines(15, 12, 280, 190), (0, 100, 297, 100), (148, 0, 148, 210)))
    assert outer is not None
    assert near(outer, 15, 12, 280, 190)


def test_a_table_in_the_middle_of_the_page_is_no_frame() -> None:
    assert frames(ink_with(*box_lines(80, 60, 180, 130)))[0] is None


def test_a_slanting_and_bowed_rule_is_followed() -> None:
    ink = np.zeros((round(H * Q), round(W * Q)), np.uint8)
    x = np.arange(20 * 4, 280 * 4)
    y = 30 * Q + 0.004 * (x - 80) + 1.5 * Q * np.sin((x - 80) / 1040 * np.pi)
    for px, py in zip(x, y, strict=True):
        ink[round(py) : round(py) + 2, px] = 255
    level, _ = find_rules(ink, Q, 200.0)
    assert len(level) == 1
    assert level[0].offset_at(150) - level[0].offset_at(21) == pytest.approx(1.5 + 0.004 * 130, abs=0.35)


def test_the_frame_settles_on_the_middle_of_its_line() -> None:
    ink = np.zeros((round(100 * PX_PER_MM), round(140 * PX_PER_MM)), np.uint8)
    cv2.rectangle(ink, (120, 120), (1560, 1080), 255, 6)
    box = settled_box(ink, Box(10.5, 9.6, 129.7, 90.4))
    expected = (120.5 / 12, 120.5 / 12, 1560.5 / 12, 1080.5 / 12)
    assert (box.x0, box.y0, box.x1, box.y1) == pytest.approx(expected, abs=0.06)


def corner(x: float, y: float, dx: float, dy: float) -> list[tuple[float, float, float, float]]:
    return [(x, y, x + dx, y), (x, y, x, y + dy)]


def corners(x0: float, y0: float, x1: float, y1: float, arm: float = 12.0) -> list[tuple[float, float, float, float]]:
    return [
        *corner(x0, y0, arm, arm), *corner(x1, y0, -arm, arm), *corner(x1, y1, -arm, -arm), *corner(x0, y1, arm, -arm),
    ]  # fmt: skip


def test_four_corners_alone_are_a_border_even_when_wires_turn_corners_too() -> None:
    wires = [*corner(60, 50, 40, 30), *corner(200, 60, -30, 25), *corner(90, 150, 20, -50)]
    level, upright = find_rules(ink_with(*corners(15, 12, 280, 190), *wires), Q, 7.0)
    frame = frame_of_corners(level, upright, W, H)
    assert frame is not None
    assert near(frame, 15, 12, 280, 190)


def test_corners_that_lean_with_the_page_are_a_border() -> None:
    level, upright = find_rules(turned(ink_with(*corners(20, 16, 276, 186)), 0.7), Q, 7.0)
    frame = frame_of_corners(level, upright, W, H)
    assert frame is not None
    assert np.abs(np.array(frame.box) - (20, 16, 276, 186)).max() < 1.5


def turned(ink: np.ndarray, degrees: float) -> np.ndarray:
    matrix = cv2.getRotationMatrix2D((ink.shape[1] / 2, ink.shape[0] / 2), degrees, 1.0)
    return cv2.warpAffine(ink, matrix, (ink.shape[1], ink.shape[0]))


@pytest.mark.parametrize(
    "lines",
    [
        corners(15, 12, 280, 190)[:6],  # three of four
        corners(100, 70, 200, 140),  # a box in the drawing whose middle sides are hidden
        [*corners(15, 12, 280, 190)[:4], *corner(280, 190, -40, -12), *corner(15, 190, 12, -45)],  # wires that turn
    ],
    ids=["three", "inside", "unlike"],
)
def test_corners_that_do_not_make_a_page_are_no_border(lines: list[tuple[float, float, float, float]]) -> None:
    level, upright = find_rules(ink_with(*lines), Q, 7.0)
    assert frame_of_corners(level, upright, W, H) is None
