"""Brackets at the border are signs that a wire goes on overleaf: told by their form, parted from lettering, taken out."""

import cv2
import numpy as np
import pytest

from digitize.harness.place import Box
from digitize.ink.edge_brackets import find_edge_brackets, parted_at_brackets, without_brackets
from digitize.ink.state import EdgeSign, TextBlock
from digitize.sheet.state import PX_PER_MM as MM

FRAME = Box(5, 5, 95, 55)


def line(ink, *points):
    pts = np.array([[round(x * MM), round(y * MM)] for x, y in points], np.int32)
    cv2.polylines(ink, [pts], isClosed=False, color=255, thickness=3)


def bracket(ink, y, side="left", stub=1.2, serif=0.9, outward=True, deep=10.0, tall=2.4):
    """A bracket about height ``y`` with a line out of its middle; ``outward``: its serifs point to the border."""
    way = 1.0 if side == "left" else -1.0
    x = 5 + deep if side == "left" else 95 - deep
    tip = x - way * serif if outward else x + way * serif
    line(ink, (tip, y - tall / 2), (x, y - tall / 2), (x, y + tall / 2), (tip, y + tall / 2))
    if stub:
        line(ink, (x, y), (x + way * stub, y))


def block(k, x0, x1, y, angle=0):
    return TextBlock(k, Box(x0, y - 0.8, x1, y + 0.8), angle, 0.9)


def page():
    return np.zeros((round(60 * MM), round(100 * MM)), np.uint8)


@pytest.mark.parametrize("side", ["left", "right"])
def test_a_bracket_with_lettering_behind_it_is_found_to_the_border(side):
    ink = page()
    bracket(ink, 20, side)
    behind = block(0, 7, 12, 20) if side == "left" else block(0, 88, 93, 20)
    (sign,) = find_edge_brackets(ink, FRAME, [behind])
    assert sign.side == side
    wanted = (6, 18.8, 15.1, 21.2) if side == "left" else (84.9, 18.8, 94, 21.2)
    assert np.allclose((sign.box.x0, sign.box.y0, sign.box.x1, sign.box.y1), wanted, atol=0.3)


def test_a_bracket_whose_worn_stroke_steps_aside_is_found():
    ink = page()
    line(ink, (14.1, 18.8), (15, 18.8), (15, 19.5))
    line(ink, (15.17, 19.5), (15.17, 20.6))
    line(ink, (14.1, 21.2), (15, 21.2), (15, 20.6))
    line(ink, (15.17, 20), (17, 20))
    (sign,) = find_edge_brackets(ink, FRAME, [block(0, 7, 12, 20)])
    assert (sign.box.y0, sign.box.y1) == pytest.approx((18.8, 21.2), abs=0.3)


@pytest.mark.parametrize("side", ["left", "right"])
def test_a_bracket_right_before_the_outline_of_a_code_is_one(side):
    ink = page()
    bracket(ink, 20, side, stub=0.95)
    x, far = (15.95, 30) if side == "left" else (84.05, 70)
    line(ink, (x, 18.7), (x, 21.3), (far, 21.3), (far, 18.7), (x, 18.7))
    assert len(find_edge_brackets(ink, FRAME, [block(0, 7, 12, 20) if side == "left" else block(0, 88, 93, 20)])) == 1


@pytest.mark.parametrize("side", ["left", "right"])
def test_a_round_letter_behind_the_bar_of_a_four_is_no_bracket(side):
    ink, way = page(), 1.0 if side == "left" else -1.0
    bracket(ink, 20, side, stub=1.3)
    x = (15.0 if side == "left" else 85.0) + way * 1.3
    line(ink, (x, 21.0), (x, 18.9), (x + way * 1.2, 20), (x, 20))
    assert not find_edge_brackets(ink, FRAME, [block(0, 7, 12, 20) if side == "left" else block(0, 88, 93, 20)])


@pytest.mark.parametrize("side", ["left", "right"])
def test_a_letter_k_with_serifs_is_no_bracket(side):
    ink = page()
    bracket(ink, 20, side, stub=0.1)
    way, x = (1.0, 15.0) if side == "left" else (-1.0, 85.0)
    for up in (-1, 1):
        line(ink, (x, 20), (x + way * 1.2, 20 + up * 1.2))
    assert not find_edge_brackets(ink, FRAME, [block(0, 7, 16.4, 20) if side == "left" else block(0, 83.6, 93, 20)])


@pytest.mark.parametrize(
    "how", [{"outward": False}, {"stub": 0.0}, {"serif": 0.0}, {"deep": 40.0}, {"tall": 9.0}],
    ids=["like an E", "no wire", "a mere tick", "far inside", "too tall"],
)  # fmt: skip
def test_what_is_no_bracket_or_stands_far_inside_is_none(how):
    ink = page()
    bracket(ink, 20, **how)
    assert find_edge_brackets(ink, FRAME, [block(0, 7, 12, 20), block(1, 38, 43, 20)]) == ()


def test_the_far_side_of_a_ring_with_an_id_in_it_is_no_bracket():
    for across in (2.0, 3.5):
        ink = page()
        cv2.ellipse(ink, (round(11 * MM), round(20 * MM)), (round(4 * MM), round(across * MM)), 0, 0, 360, 255, 5)
        line(ink, (15, 20), (45, 20))
        assert find_edge_brackets(ink, FRAME, [block(0, 9, 13, 20)]) == ()


def test_without_lettering_behind_it_without_a_frame_or_at_another_depth_it_is_a_part():
    ink = page()
    bracket(ink, 20)
    assert find_edge_brackets(ink, FRAME, [block(0, 7, 12, 30)]) == ()
    assert find_edge_brackets(ink, None, [block(0, 7, 12, 20)]) == ()
    bracket(ink, 30)
    bracket(ink, 40, deep=18.0)
    rows = [block(k, 7, 12, y) for k, y in enumerate((20, 30, 40))]
    assert [round(s.box.centre[1]) for s in find_edge_brackets(ink, FRAME, rows)] == [20, 30]


def test_lettering_that_was_found_across_a_bracket_is_two_strings():
    signs = (EdgeSign("left", Box(6, 18.8, 15, 21.2)), EdgeSign("right", Box(85, 28.8, 94, 31.2)))
    found = parted_at_brackets(
        [block(0, 7, 25, 20), block(1, 40, 60, 20), block(2, 70, 93, 30), block(3, 7, 12, 20), block(4, 8, 10, 40, 90)],
        signs,
    )
    assert [(b.id, round(b.box.x0, 1), round(b.box.x1, 1)) for b in found] == [
        (0, 7, 14.4), (1, 15.6, 25), (2, 40, 60), (3, 70, 84.4), (4, 85.6, 93), (5, 7, 14.4), (6, 8, 10),
    ]  # fmt: skip


def test_a_stub_of_the_wire_before_a_bracket_is_no_string_of_its_own():
    signs = (EdgeSign("left", Box(6, 18.8, 15, 21.2)),)
    (found,) = parted_at_brackets([block(0, 7, 16.8, 20)], signs)
    assert (round(found.box.x0, 1), round(found.box.x1, 1)) == (7, 14.4)


def test_nothing_of_a_bracket_is_left_among_the_lines():
    ink = page()
    bracket(ink, 20, stub=30.0)
    signs = find_edge_brackets(ink, FRAME, [block(0, 7, 12, 20)])
    without_brackets(ink, signs)
    rows, columns = np.nonzero(ink)
    assert columns.min() >= 15 * MM
    assert rows.max() - rows.min() <= 4


@pytest.mark.parametrize("side", ["left", "right"])
def test_a_string_behind_a_bracket_begins_beyond_its_serifs(side):
    ink = page()
    bracket(ink, 20, side, serif=1.3)
    across = block(0, 7, 22, 20) if side == "left" else block(0, 78, 93, 20)
    signs = find_edge_brackets(ink, FRAME, [across])
    behind = parted_at_brackets([across], signs)[0 if side == "left" else 1].box
    tip = 15 - 1.3 if side == "left" else 85 + 1.3
    gap = tip - behind.x1 if side == "left" else behind.x0 - tip
    assert 0.05 <= gap <= 0.5


def test_a_bracket_that_leans_a_little_is_one():
    ink = page()
    bracket(ink, 20)
    at = round(18.8 * MM) - 1
    ink[at - 2 : at, round(14.2 * MM) : round(14.6 * MM)] = 255
    assert len(find_edge_brackets(ink, FRAME, [block(0, 7, 12, 20)])) == 1
