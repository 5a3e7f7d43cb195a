"""What lies between the ends of two lines is a piece of them; what stands beside lines may be a letter."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from digitize.harness.place import Box
from digitize.ink.broken_lines import without_pieces
from digitize.ink.state import TextBlock
from digitize.ink.torn_lines import between_lines
from digitize.sheet.runs import patches_of, runs_of
from digitize.sheet.state import PX_PER_MM

Points = tuple[tuple[float, float], ...]


def drawn(*lines: Points, width: float = 0.35) -> NDArray[np.uint8]:
    ink = np.zeros((round(30 * PX_PER_MM), round(40 * PX_PER_MM)), np.uint8)
    for line in lines:
        pts = np.array([[round(x * PX_PER_MM), round(y * PX_PER_MM)] for x, y in line], np.int32)
        cv2.polylines(ink, [pts], isClosed=False, color=255, thickness=round(width * PX_PER_MM))
    return ink


def torn(lines: NDArray[np.uint8], piece: NDArray[np.uint8], *texts: TextBlock, bodies: tuple[Box, ...] = ()) -> bool:
    pieces = patches_of(runs_of(np.where(lines > 0, 0, piece).astype(np.uint8)))
    (found,) = between_lines(lines, pieces, np.ones(len(pieces), np.bool_), bodies, texts)
    return bool(found)


LEG = ((20, 12), (20, 15))
CORNER = ((20, 14.5), (20, 12), (22, 12))


@pytest.mark.parametrize(
    ("lines", "piece"),
    [
        ((((5, 12), (20, 12)), ((20, 15), (30, 15))), LEG),  # a leg cut right at its corners
        ((((5, 12), (19.6, 12)), ((20.4, 15), (30, 15))), LEG),  # with gaps
        ((((20, 25), (20, 14.9)), ((22.4, 12), (35, 12))), CORNER),
        ((((20, 25), (20, 15)), ((20, 12), (20, 3)), ((21, 13.5), (35, 13.5))), LEG),  # where two lines cross
    ],
)
def test_ink_at_which_two_lines_end_is_a_piece_of_them(lines: tuple[Points, ...], piece: Points):
    assert torn(drawn(*lines), drawn(piece))


def test_a_corner_that_gaps_part_from_both_its_lines_is_a_piece_of_them():
    lines = drawn(((20, 25), (20, 15.7)), ((23.2, 12), (35, 12)))
    assert torn(lines, drawn(CORNER))
    beside = TextBlock(0, Box(15, 11.5, 22.2, 14.8), 0, 0.9)  # as a letter among others it is none
    pieces = np.maximum(drawn(CORNER), drawn(((17, 12), (17, 14.5))))
    found = between_lines(lines, patches_of(runs_of(pieces)), np.ones(2, np.bool_), (), (beside,))
    assert not found.any()


def test_a_letter_that_interrupts_a_line_is_no_piece_of_it():
    foot = ((19.4, 10.6), (19.4, 13.1), (21, 13.1))  # an L; the ends of the line are not at the ends of its ink
    assert not torn(drawn(((5, 12), (18.2, 12)), ((22.2, 12), (35, 12))), drawn(foot))


@pytest.mark.parametrize(
    "lines",
    [
        (((5, 12), (19.6, 12)),),  # one line ends at it
        (((5, 11.4), (35, 11.4)), ((5, 15.6), (35, 15.6))),  # lines pass above and below
        (((5, 15.5), (35, 15.5)), ((5, 12), (19.6, 12))),
        (((5, 12), (18, 12)), ((22, 15), (30, 15))),  # too far off
        (((18.4, 12.4), (19.6, 12.4)), ((20.4, 14), (21.6, 14))),  # bits of other letters
        (),
    ],
)
def test_a_letter_beside_lines_is_no_piece_of_them(lines: tuple[Points, ...]):
    assert not torn(drawn(*lines), drawn(LEG))


def test_a_letter_with_an_eye_is_no_piece_of_a_line():
    eye = ((19, 12), (21, 12), (21, 14.5), (19, 14.5), (19, 12))
    assert not torn(drawn(((5, 13), (18.7, 13)), ((21.3, 13), (35, 13))), drawn(eye))


def test_ink_at_the_body_of_a_part_is_the_parts_own():
    lines = drawn(((5, 12), (20, 12)), ((20, 15), (30, 15)))
    assert not torn(lines, drawn(LEG), bodies=(Box(18, 10, 22, 17),))


CODE = TextBlock(0, Box(5, 12, 19, 14), 0, 0.9)
STUB = TextBlock(1, Box(19.8, 12.7, 21.2, 13.3), 0, 0.6)


def test_a_lone_stub_between_a_code_and_a_worn_corner_is_a_piece_of_the_line():
    lines = drawn(((22, 14), (22, 25)))
    assert torn(lines, drawn(((20, 13), (21, 13))), CODE, STUB)
    assert not torn(lines, drawn(((20, 13), (21, 13))), STUB)
    assert not torn(lines, drawn(((20, 13), (21, 13))), CODE, STUB, bodies=(Box(21.8, 8, 28, 13.8),))  # a minus sign


def test_a_figure_in_the_cell_of_a_worn_table_is_no_piece_of_its_rules():
    rules = drawn(((5, 11), (19.8, 11)), ((20.4, 11), (35, 11)), ((5, 16), (35, 16)))
    assert not torn(rules, drawn(LEG), CODE, TextBlock(1, Box(19.8, 11.8, 20.2, 15.2), 0, 0.6))


def test_a_letter_of_a_block_with_others_behind_a_code_is_none():
    lines = drawn(((23, 14), (23, 25)))
    letters = drawn(((20, 12.4), (20, 13.8)), ((21.5, 12.4), (21.5, 13.8)))
    pieces = patches_of(runs_of(letters))
    block = TextBlock(1, Box(19.7, 12.2, 21.8, 14.0), 0, 0.9)
    assert not between_lines(lines, pieces, np.ones(len(pieces), np.bool_), (), (CODE, block)).any()


def test_a_block_of_lettering_that_was_a_piece_of_line_is_none_anymore():
    pieces = patches_of(runs_of(drawn(CORNER)))
    corner = TextBlock(0, Box(19.8, 11.8, 22.2, 14.7), 0, 0.7)
    name = TextBlock(1, Box(19.0, 10.0, 32.0, 16.0), 0, 0.9)
    assert without_pieces((corner, name), pieces, np.array([True])) == (name,)
