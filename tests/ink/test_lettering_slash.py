"""What reaches beyond a line of lettering and is of it: numbers of pieces as they were measured, px."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from digitize.ink.lettering_pieces import cut_pieces
from digitize.ink.lettering_slash import overhanging, tailed
from digitize.sheet.state import PX_PER_MM
from tests.ink.test_lettering import blocks, letter, only, page, px

FOOT = [False, False, False, True]
"""A piece that touched what was removed at its foot alone."""


def joined(
    cut: tuple[float, float, float, float],
    whole: tuple[float, float, float, float],
    ends: list[bool] = FOOT,
    free: tuple[bool, bool] = (False, True),
) -> bool:
    """Whether a piece with a cut end (u0, u1, v0, v1) belongs to the whole letter behind it."""
    side = tuple(np.array(v, np.float64) for v in zip(cut, whole, strict=True))
    (out,) = tailed(np.array([ends, [False] * 4]), np.array(free), side, np.array([[0, 1]]))
    return bool(out)


G, E = (25, 38, 71, 92), (38, 51, 71, 85)
"""A g whose tail comes down to a rule, and the e behind it."""


def test_a_tail_that_comes_down_to_a_rule_is_of_the_word():
    assert joined(G, E)


@pytest.mark.parametrize(
    ("cut", "ends"),
    [
        ((25, 38, 66, 92), FOOT),  # it stands higher than the letter
        ((25, 28, 71, 92), FOOT),  # a bit of wire: a single stroke
        ((25, 60, 71, 92), FOOT),  # far wider than a letter
        ((25, 38, 71, 120), FOOT),  # the letter is too small for it
        (G, [False, True, False, True]),  # cut at its side too: a corner of an outline
        (G, [False, False, True, False]),  # cut above: a stroke that hangs from a line
    ],
)
def test_what_hangs_otherwise_is_no_tail(cut: tuple[float, float, float, float], ends: list[bool]):
    assert not joined(cut, E, ends)


def test_two_pieces_that_were_both_cut_say_nothing_of_each_other():
    assert not joined(G, E, free=(False, False))


def test_a_slash_holds_the_letters_on_both_its_sides_together_and_none_alone():
    u0, u1 = np.array([0.0, 14.0, 25.0]), np.array([13.0, 22.0, 38.0])
    v0, v1 = np.array([66.0, 65.0, 71.0]), np.array([86.0, 90.0, 92.0])
    slash = np.array([False, True, False])
    ok, deep = overhanging(slash, (u0, u1, v0, v1), np.array([[0, 1], [1, 2]]))
    assert ok.all()
    assert deep.tolist() == [False, True, False]
    assert not overhanging(slash, (u0, u1, v0, v1), np.array([[0, 1]]))[0].any()


def test_a_block_ends_at_the_feet_of_its_letters_though_a_tail_comes_down_to_a_rule():
    ink = page()
    box = letter(ink, "0125", (22.4, 30))
    x, top, foot = 20.2, box[1], box[3]
    cv2.rectangle(ink, px(x, top + 0.1), px(x + 1.7, foot - 0.1), 255, 3)
    cv2.line(ink, px(x + 1.2, foot - 0.8), px(x + 1.6, foot + 0.6), 255, 3)
    cv2.line(ink, px(10, foot + 0.7), px(80, foot + 0.7), 255, 3)
    (found,) = blocks(ink)
    assert found.box.x0 == pytest.approx(x, abs=0.25)
    assert found.box.y1 == pytest.approx(foot, abs=0.25)


def test_a_bit_of_wire_that_hangs_from_a_rule_beside_a_word_is_no_tail():
    ink = page()
    box = letter(ink, "RELAY", (20, 30))
    cv2.line(ink, px(box[2] + 0.6, box[1] + 0.8), px(box[2] + 0.6, box[3] + 1.2), 255, 3)
    cv2.line(ink, px(10, box[3] + 1.3), px(80, box[3] + 1.3), 255, 3)
    only(ink, box)


def between_wires(*, end: float = 90.0, gap: float = 0.15):
    """GN/RD between two level wires that its slash touches both; the upper one ends at ``end`` mm. Returns ink and box."""
    ink = page()
    left = letter(ink, "GN", (20, 30))
    x, top, foot = left[2] + 0.3, left[1] - gap - 0.25, left[3] + gap + 0.25
    right = letter(ink, "RD", (left[2] + 1.5, 30))
    cv2.line(ink, px(x, foot), px(x + 1.0, top), 255, 3)
    cv2.line(ink, px(5, top), px(end, top), 255, 3)
    cv2.line(ink, px(5, foot), px(90, foot), 255, 3)
    if end < 90:
        cv2.line(ink, px(end, top), px(end, 5), 255, 3)
    return ink, (left[0], left[1], right[2], right[3])


@pytest.mark.parametrize("end", [90.0, 34.0])
@pytest.mark.parametrize("upright", [False, True])
def test_a_slash_that_touches_the_wires_above_and_below_is_of_its_code(end: float, upright: bool):
    ink, box = between_wires(end=end)
    # a wire closes the room between the two, as corners do on a page: then the slash seems a side of an outline
    cv2.line(ink, px(12, 20), px(12, 40), 255, 3)
    if upright:
        turned = np.ascontiguousarray(np.rot90(ink))
        (found,) = (b for b in blocks(turned) if b.angle == 90)
        assert found.box.height == pytest.approx(box[2] - box[0], abs=0.5)
    else:
        (found,) = blocks(ink)
        assert (found.box.x0, found.box.x1) == pytest.approx((box[0], box[2]), abs=0.3)


def test_a_letter_is_not_led_over_paper_to_the_foot_of_one_beyond_the_wire():
    ink = page()
    box = letter(ink, "HTH", (20, 30), high=2.0)
    wire = box[1] - 0.1
    cv2.line(ink, px(10, wire), px(80, wire), 255, 3)
    # the foot of a stroke of the line above stands over the T, and stops short of the wire
    x = (box[0] + box[2]) / 2
    cv2.line(ink, px(x, wire - 2.0), px(x, wire - 0.42), 255, 3)
    pieces = cut_pieces(ink)
    below = pieces.y1 > px(0, box[3] - 0.5)[1]
    assert below.sum() == 3
    assert (pieces.y0[below] >= px(0, wire)[1]).all()


def test_a_slash_as_high_as_the_capitals_holds_small_letters_together():
    u0, u1 = np.array([1125.0, 1147.0, 1184.0]), np.array([1150.0, 1185.0, 1209.0])
    v0, v1 = np.array([1630.0, 1615.0, 1631.0]), np.array([1652.0, 1662.0, 1653.0])
    ok, deep = overhanging(np.array([False, True, False]), (u0, u1, v0, v1), np.array([[0, 1], [1, 2]]))
    assert ok.all()
    assert deep.tolist() == [False, True, False]
    higher = v0 - np.array([0.0, 14.0, 0.0])
    assert not overhanging(np.array([False, True, False]), (u0, u1, higher, v1), np.array([[0, 1], [1, 2]]))[0].any()


@pytest.mark.parametrize("upright", [False, True])
def test_the_paper_between_letters_and_the_wire_that_they_stand_on_is_no_label(upright: bool):
    ink = page(120, 120)
    first = letter(ink, "G17 BLK", (20, 60), high=3.0, thick=4)
    top, foot, x = first[1], first[3], first[2] + 0.4
    for a, b in (((0, 3.0), (1.8, 0)), ((1.7, 0), (2.9, 1.5)), ((2.9, 1.5), (2.9, 3.0)), ((2.9, 1.5), (4.1, 0))):
        cv2.line(ink, px(x + a[0], top + a[1]), px(x + b[0], top + b[1]), 255, 4)  # a slash that touches a Y
    last = letter(ink, "EL", (x + 4.6, 60), high=3.0, thick=4)
    cv2.line(ink, px(8, foot + 0.1), px(110, foot + 0.1), 255, 5)
    box = (first[0], top, last[2], foot)
    if upright:
        ink = np.ascontiguousarray(ink.T[::-1])
    assert only(ink, (box[1], 120 - box[2], box[3], 120 - box[0]) if upright else box)


def test_a_field_larger_than_letters_that_stands_on_a_wire_is_taken_out_with_its_outline():
    ink = page()
    field = np.array([px(33.5, 20), px(37, 22), px(35.5, 25), px(31.5, 25), px(30, 22)])
    cv2.polylines(ink, [field], isClosed=True, color=255, thickness=4)
    cv2.line(ink, px(10, 25), px(90, 25), 255, 4)
    assert not (cut_pieces(ink).height > 3 * PX_PER_MM).any()


@pytest.mark.parametrize("mirrored", [False, True])
@pytest.mark.parametrize(("gap", "half"), [(1.0, 12.0), (15.0, 21.0)], ids=["half worn off", "a wider space away"])
def test_beside_a_slash_that_one_letter_holds_the_other_may_be_worn_or_stand_a_wider_space_away(
    gap: float, half: float, mirrored: bool
):
    u0, u1 = np.array([20.0 - gap, 24.0, 48.0]), np.array([35.0 - gap, 47.0, 65.0])
    v0, v1 = np.array([90.0, 89.0, 89.0]), np.array([90.0 + half, 115.0, 110.0])
    pairs, slash = np.array([[0, 1], [1, 2]]), np.array([False, True, False])
    u0[0], u1[0] = 24.0 - gap - 15.0, 24.0 - gap
    if mirrored:
        u0, u1, v0, v1 = 100 - u1[::-1], 100 - u0[::-1], v0[::-1].copy(), v1[::-1].copy()
    worn = 2 if mirrored else 0
    ok, deep = overhanging(slash, (u0, u1, v0, v1), pairs)
    assert ok.all()
    assert deep.tolist() == [False, True, False]
    v0[worn] += 7.0  # level with the other letter at neither end
    v1[worn] = min(v1[worn], 105.0)
    assert not overhanging(slash, (u0, u1, v0, v1), pairs)[0].any()
