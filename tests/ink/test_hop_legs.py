"""A line that ends at a letter which holds the leg of its hop goes on there; letters beside lines stay letters."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from digitize.harness.place import Box
from digitize.ink.hop_legs import lead_over_legs
from digitize.sheet.runs import patches_of, runs_of
from digitize.sheet.state import PX_PER_MM

BEFORE = """
...............................###..
.......LLLLLLL.................###..
.......LL......................###..
.......LL......................###..
.......LL....................L#####.
.......LLLLLL...............LL######
.......LL..................LL.###.##
.......LL.................LL..###..#
.......LL................LL...###...
.......LLLLLLLLLLLLLLLLLLL....###...
.......LLLLLLLLLLLLLLLLLL.....###...
.......................LL.....###...
#######################.......###...
#######################.......###...
..............................###...
"""
"""An E whose foot touches the left leg of a hop (L), the wire that it stands on, and the other half of the hop."""


def drawn(rows: str) -> tuple[NDArray[np.uint8], NDArray[np.uint8]]:
    """Lines and letters of a picture, with paper round it; lines that reach its rim go on to the rim of the paper."""
    cells = np.array([list(row) for row in rows.split()])
    ink = np.pad(cells == "#", 30, mode="edge")
    letters = np.pad(cells == "L", 30)
    return ink.astype(np.uint8) * 255, letters.astype(np.uint8) * 255


def led(rows: str, bodies: tuple[Box, ...] = ()) -> NDArray[np.uint8]:
    """What is added to the lines."""
    lines, letters = drawn(rows)
    before, pieces = lines.copy(), patches_of(runs_of(letters))
    lead_over_legs(lines, pieces, np.ones(len(pieces), np.bool_), bodies)
    return lines - before


def test_a_wire_goes_on_over_the_leg_of_its_hop_though_a_letter_touches_it():
    added = led(BEFORE)[30:-30, 30:-30]
    _, columns = np.nonzero(added)
    assert (columns.min(), columns.max()) == pytest.approx((22, 29), abs=2)
    assert not added[:8, :20].any(), "the letter itself is no line"
    joined = (drawn(BEFORE)[0][30:-30, 30:-30] > 0) | (added > 0)
    assert joined[:, 22:30].any(axis=0).all()


def test_a_crumb_of_the_letter_among_the_lines_is_no_place_where_the_wire_goes_on():
    crumbs = BEFORE.replace(".......LLLLLLLLLLLLLLLLLL.....###...", ".......LLLLLLLL####LLLLLL.....###...")
    _, columns = np.nonzero(led(crumbs)[30:-30, 30:-30])
    assert (columns.min(), columns.max()) == pytest.approx((22, 29), abs=2)


def test_a_letter_between_a_wire_that_passes_and_another_is_no_leg():
    rows = BEFORE.replace("#######################.......###...", "#" * 36)
    assert not led(rows).any()


def test_a_letter_that_stands_on_a_line_well_before_its_end_is_no_leg():
    paper, across, stem, arm = "." * 44, "#" * 44, ".....LL" + "." * 37, "....." + "L" * 22 + "." * 17
    rows = (paper, across, *[stem] * 7, arm, *[stem] * 6)
    assert led("\n".join((*rows, "#" * 8 + "." * 36, paper))).any()
    assert not led("\n".join((*rows, "#" * 28 + "." * 16, paper))).any()


def test_what_stands_in_a_part_has_no_leg():
    whole = Box(0, 0, 100 / PX_PER_MM, 100 / PX_PER_MM)
    assert not led(BEFORE, (whole,)).any()


def test_a_ring_that_two_lines_end_at_is_no_letter_with_a_leg():
    paper, bar, sides = "." * 44, "." * 20 + "LLLL" + "." * 20, "." * 18 + "LL" + "." * 4 + "LL" + "." * 18
    wires = "#" * 18 + "LL" + "." * 4 + "LL" + "#" * 18
    rows = (paper, bar, *[sides] * 2, *[wires] * 2, *[sides] * 2, bar, paper)
    assert not led("\n".join(rows)).any()


def test_a_piece_of_a_thick_cable_is_no_letter_with_a_leg():
    paper, line, more = "." * 60, "#" * 20 + "L" * 20 + "#" * 20, "." * 20 + "L" * 20 + "." * 20
    assert led("\n".join((paper, *[more] * 2, *[line] * 3, *[more] * 2, paper))).any()
    assert not led("\n".join((paper, *[more] * 5, *[line] * 3, *[more] * 5, paper))).any()
