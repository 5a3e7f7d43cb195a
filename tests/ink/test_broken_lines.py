"""Promises about lines that wear has broken into bars."""

import cv2
import numpy as np
import pytest

from digitize.harness.place import Box
from digitize.ink.broken_lines import pieces_of, put_back, without_pieces
from digitize.ink.state import TextBlock
from digitize.sheet.runs import Patches, patches_of, runs_of


def blank() -> np.ndarray:
    return np.zeros((360, 600), np.uint8)


def bar(*ends: tuple[int, int], thick: int = 5) -> np.ndarray:
    ink = blank()
    for x0, x1 in ends:
        ink[178 : 178 + thick, x0:x1] = 255
    return ink


def patches(ink: np.ndarray) -> Patches:
    return patches_of(runs_of(ink))


def pieces(letters: np.ndarray, dropped: np.ndarray | None = None, bodies: tuple[Box, ...] = ()) -> Patches:
    other = patches(blank() if dropped is None else dropped)
    return pieces_of(patches(letters), other, np.ones(len(other), np.bool_), bodies)


@pytest.mark.parametrize("upright", [False, True])
def test_a_row_of_bars_in_line_with_a_line_is_part_of_it_whatever_it_was_taken_for(upright):
    line, letters, crumbs = bar((20, 200)), bar((215, 240), (290, 320)), bar((255, 275))
    if upright:
        line, letters, crumbs = line.T.copy(), letters.T.copy(), crumbs.T.copy()
    found = (
        pieces(letters, crumbs)
        if not upright
        else pieces_of(patches(letters), patches(crumbs), np.ones(1, np.bool_), ())
    )
    assert put_back(line, found, None).tolist() == [True, True, True]
    assert (line > 0).sum() == 5 * (180 + 25 + 30 + 20)


def test_a_hyphen_far_from_the_line_or_beside_it_stays_a_letter():
    for ends, shift in (((240, 260), 0), ((208, 222), 10)):
        line = bar((20, 200))
        letters = np.roll(bar(ends), shift, axis=0)
        assert not put_back(line, pieces(letters), None).any()


def test_a_figure_one_above_a_line_stays_a_letter():
    line, letters = bar((20, 400)), blank()
    cv2.rectangle(letters, (200, 140), (203, 168), 255, -1)
    assert not put_back(line, pieces(letters), None).any()


@pytest.mark.parametrize("held", [True, False])
def test_a_bar_behind_a_line_that_crosses_is_a_piece_of_its_line_where_something_holds_its_other_end(held):
    line, letters = bar((20, 200)), bar((222, 260))
    cv2.rectangle(line, (201, 100), (209, 260), 255, -1)  # crosses where the line ends
    if held:
        cv2.rectangle(line, (263, 168), (268, 300), 255, -1)  # the corner that wear parted
    assert put_back(line, pieces(letters), None).tolist() == [held]


@pytest.mark.parametrize("radius", [14, 3])
def test_a_bar_that_leads_to_a_worn_dot_is_an_arm_of_it(radius):
    line, letters = blank(), bar((220, 250))
    cv2.rectangle(line, (268, 60), (274, 300), 255, -1)
    cv2.circle(line, (270, 181), radius, 255, -1)
    assert put_back(line, pieces(letters), None).tolist() == [radius > 3]


def test_a_bar_within_a_part_belongs_to_the_part():
    line, letters = bar((20, 200)), bar((215, 240))
    assert not len(pieces(letters, bodies=(Box(17.5, 10, 25, 20),)))
    assert put_back(line, pieces(letters), None).all()


def test_a_code_ends_where_the_piece_of_its_wire_begins():
    line, letters = bar((300, 500)), bar((260, 288))
    found = pieces(letters)
    back = put_back(line, found, None)
    block = TextBlock(0, Box(5, 13.6, 24, 16.6), 0, 0.9)
    (cut,) = without_pieces((block,), found, back)
    assert cut.box.x1 == pytest.approx(260 / 12, abs=0.2)
    assert without_pieces((block,), found, np.zeros(1, np.bool_)) == (block,)
