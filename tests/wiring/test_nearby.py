"""What lies near is found, in its own order, and no way is shorter that misses a thing."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from digitize.harness.place import Box
from digitize.wiring.nearby import Nearby, spot

places = st.integers(-40, 40).map(float)
boxes = st.tuples(places, places, st.integers(0, 9), st.integers(0, 9)).map(
    lambda t: Box(t[0], t[1], t[0] + t[2], t[1] + t[3])
)


def touch(a: Box, b: Box) -> bool:
    return a.x0 <= b.x1 and b.x0 <= a.x1 and a.y0 <= b.y1 and b.y0 <= a.y1


@given(st.lists(boxes, max_size=30), boxes)
def test_in_an_area_is_what_asking_each_thing_in_turn_finds(things: list[Box], area: Box) -> None:
    assert Nearby(range(len(things)), things).at(area) == [n for n, box in enumerate(things) if touch(box, area)]


@given(st.lists(st.tuples(places, places), max_size=30), st.tuples(places, places), st.integers(0, 20))
def test_no_point_within_reach_is_missed(
    points: list[tuple[float, float]], at: tuple[float, float], reach: int
) -> None:
    near = Nearby(points, [spot(p) for p in points]).around(at, float(reach))
    within = [p for p in points if (p[0] - at[0]) ** 2 + (p[1] - at[1]) ** 2 <= reach**2]
    assert [p for p in near if p in within] == within


def test_nothing_is_near_when_there_is_nothing() -> None:
    assert Nearby([], []).at(Box(0.0, 0.0, 400.0, 300.0)) == []


def test_things_without_boxes_of_their_own_are_refused() -> None:
    with pytest.raises(ValueError, match="2 things with 1 boxes"):
        Nearby([1, 2], [spot((0.0, 0.0))])
