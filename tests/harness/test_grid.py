"""The zone grid as a person lays it, and the zones of everything on the sheet that follow from it."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from digitize.harness.edits import Anchor, Recorded, SetGrid
from digitize.harness.edits_apply import replay
from digitize.harness.edits_check import validate
from digitize.harness.grid import Band, ZoneGrid, placed, regrid
from digitize.harness.place import Box
from fixtures.small_harness import small_facts, small_harness

GRID = small_facts().zones


def test_a_moved_line_moves_the_end_of_one_band_and_the_start_of_the_next():
    moved = GRID.moved("across", 1, 60.0)
    assert [(b.start, b.end) for b in moved.columns[:2]] == [(5.0, 60.0), (60.0, 100.0)]
    assert moved.rows == GRID.rows


@pytest.mark.parametrize(("line", "to"), [(1, 5.5), (1, 99.9), (0, 52.0), (9, 70.0)])
def test_a_line_cannot_pass_its_neighbour_nor_be_none(line: int, to: float):
    with pytest.raises(ValueError, match=r"neighbour|no line"):
        GRID.moved("across", line, to)


def test_a_grid_that_a_person_laid_is_no_longer_nominal():
    nominal = ZoneGrid((Band("1", 0, 10), Band("2", 10, 20)), (Band("A", 0, 10),), nominal=True)
    assert not nominal.moved("down", 1, 12.0).nominal


def test_everything_on_the_sheet_gets_its_zone_anew_and_nothing_elsewhere():
    """The line between columns 2 and 3 stands at 100 mm; moved to 115 mm it leaves the join at 110 mm in column 2."""
    harness = small_harness()
    after = regrid(harness, "page_01", GRID.moved("across", 2, 115.0))
    zones = {s.id: s.place.zone for s in after.splices}
    assert zones == {"s1": "A2"}
    assert {p.id: p.place.zone for c in after.connectors for p in c.places if p.id.startswith("C101")} == {
        "C101@1": "B2", "C101@2": "B2",
    }  # fmt: skip
    assert [k.a.zone for k in after.links] == ["B4"]
    untouched = [c for c in after.components if c.place.sheet == "page_02"]
    assert untouched == [c for c in harness.components if c.place.sheet == "page_02"]
    assert validate(after) == []


def test_the_edit_is_replayed_and_what_the_harness_says_of_the_grid_is_kept():
    grid = GRID.moved("across", 2, 115.0)
    edit = SetGrid(
        target="page_01", anchor=Anchor("sheet", "page_01", (0.0, 0.0), "LIGHTING"), grid=grid, line="between columns 2 and 3"
    )  # fmt: skip
    book = Recorded(1, 1, "me", "2026-01-01T00:00:00Z", 1, "active", edit)
    reviewed = replay(small_harness(), [book])
    assert reviewed.grids == {"page_01": grid}
    assert "zone line between columns 2 and 3 is moved" in reviewed.effects[0][1].says
    gone = replay(small_harness(), [Recorded(1, 1, "me", "2026-01-01T00:00:00Z", 1, "undone", edit)])
    assert gone.grids == {}


@given(st.floats(6, 99), st.floats(0, 200), st.floats(0, 140))
def test_the_zone_of_a_point_is_the_band_it_lies_in(to: float, x: float, y: float):
    grid = GRID.moved("across", 1, max(6.0, min(99.0, to)))
    place = placed("page_01", Box(x, y, x, y), grid)
    column = next((b.label for b in grid.columns if b.start < x < b.end), None)
    row = next((b.label for b in grid.rows if b.start < y < b.end), None)
    if column and row:
        assert place.zone == row + column
    assert place.zone not in place.zone_alternatives
