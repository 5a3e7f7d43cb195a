"""Promises about two wires that run on one line for a short way: nothing joins where a sheet that marks its joins has no dot."""

import pytest

from fixtures.small_page import Page


def page(*, dots=4):
    """Parts at the left, right, top and bottom, and a wire with ``dots`` marked joins beside them."""
    drawn = Page().part("module", 8, 25, 16, 50).part("module", 104, 25, 112, 50)
    drawn.part("module", 50, 8, 70, 14).part("module", 50, 66, 70, 72)
    drawn.line((24, 60), (24, 16)).part("lamp", 22, 60, 26, 64).part("lamp", 22, 12, 26, 16)
    for k in range(dots):
        drawn.line((24, 20 + 9 * k), (36, 20 + 9 * k)).part("lamp", 36, 18 + 9 * k, 40, 22 + 9 * k).dot(24, 20 + 9 * k)
    return drawn


def corners(drawn, *, over=1.4):
    """The wire from the top turns left where that from the right has just come in; both run on x = 60 between."""
    drawn.line((60, 14), (60, 33 + over), (16, 33 + over))
    return drawn.line((104, 33), (60, 33), (60, 66))


def ends(drawn):
    """The pairs of sides that wires lead between, the lamps aside."""
    sides = {"left": (16, 34), "right": (104, 33), "top": (60, 14), "bottom": (60, 66)}
    near = [
        [min(sides, key=lambda s: abs(sides[s][0] - e.at[0]) + abs(sides[s][1] - e.at[1])) for e in run.ends]
        for run in drawn.understood().runs
        if all(e.at[0] < 20 or e.at[0] > 45 for e in run.ends)
    ]
    return {frozenset(pair) for pair in near}


@pytest.mark.parametrize("over", [1.0, 1.8])
def test_each_wire_leaves_where_the_other_has_just_come_in(over):
    drawn = corners(page(), over=over).text("H3 14", 80, 31.5).text("K2 14", 30, 36.5)
    assert ends(drawn) == {frozenset({"top", "left"}), frozenset({"right", "bottom"})}
    assert len(drawn.understood().splices) == 4, "only those with dots"


def test_where_joins_carry_no_dots_or_the_way_is_long_or_a_dot_stands_there_they_join():
    pair = {frozenset({"top", "left"}), frozenset({"right", "bottom"})}
    assert (
        ends(
            corners(
                page(dots=0),
            )
        )
        != pair
    )
    assert ends(corners(page(), over=3.0)) != pair
    assert (
        ends(
            corners(
                page(),
            ).dot(60, 33)
        )
        != pair
    )
