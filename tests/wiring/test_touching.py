"""Promises about corners that touch: a crossing that lost its middle, and corners that are corners."""

from hypothesis import given, settings
from hypothesis import strategies as st

from fixtures.small_page import Page


def parts() -> Page:
    page = Page().part("module", 8, 30, 16, 50).part("module", 104, 30, 112, 50)
    return page.part("module", 50, 8, 70, 14).part("module", 50, 66, 70, 72)


def ends(page: Page) -> set[frozenset[str]]:
    """The pairs of sides (left, right, top, bottom) that wires lead between."""
    sides = {"left": (16, 40), "right": (104, 40), "top": (60, 14), "bottom": (60, 66)}
    return {
        frozenset(min(sides, key=lambda s: abs(sides[s][0] - e.at[0]) + abs(sides[s][1] - e.at[1])) for e in run.ends)
        for run in page.understood().runs
    }


@settings(deadline=None, max_examples=8)
@given(st.floats(0.33, 0.5), st.booleans())
def test_a_crossing_scratched_through_its_middle_stays_a_crossing(gap: float, down: bool):
    page, side = parts(), gap if down else -gap
    page.line((16, 40), (60 - gap, 40), (60, 40 + side), (60, 66 if down else 14))
    page.line((104, 40), (60 + gap, 40), (60, 40 - side), (60, 14 if down else 66))
    wiring = page.understood()
    assert ends(page) == {frozenset({"left", "right"}), frozenset({"top", "bottom"})}
    assert not wiring.splices
    assert all(run.probability < 0.95 for run in wiring.runs)


def test_corners_a_wire_s_distance_apart_are_two_corners():
    page = parts().line((16, 40), (59, 40), (59, 66)).line((104, 41.4), (61, 41.4), (61, 14))
    assert ends(page) == {frozenset({"left", "bottom"}), frozenset({"right", "top"})}


def test_corners_of_two_wires_that_run_side_by_side_stay_corners():
    page = Page().part("module", 8, 30, 16, 50).part("module", 50, 66, 70, 72)
    page.line((16, 40), (60.9, 40), (60.9, 66)).line((16, 40.9), (60, 40.9), (60, 66))
    assert {frozenset(run) for run in ends(page)} <= {frozenset({"left", "bottom"})}


def test_worn_legs_that_slant_are_in_line_where_they_come_nearest():
    page = parts().line((16, 40), (58.4, 40.15), (59.6, 39.93), (60, 39.45), (60, 14))
    page.line((104, 40.25), (61.8, 40.25), (60.5, 40.2), (60, 40.9), (60, 66))
    assert ends(page) == {frozenset({"left", "right"}), frozenset({"top", "bottom"})}
