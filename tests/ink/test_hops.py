"""Where lines hop over each other and joins carry no dots, a crossing without a hop is a join; a hop never is.

So *Lessons in Electric Circuits*, volume V, of older and newer drawings; sizes of hops and dots: common practice, no source.
"""

from __future__ import annotations

import math

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from digitize.ink.linegraph import graph_of
from digitize.ink.meetings import COMMON, decide, mend
from digitize.ink.state import Dot, Habit, Meeting
from digitize.ink.thickness import thickness_of
from digitize.ink.thinning import thin
from digitize.sheet.state import PX_PER_MM

HOPS_NO_DOTS = Habit(hops=0.95, rings=0.0, marked_joins=0.1)
HOPS_AND_DOTS = Habit(hops=0.95, rings=0.0, marked_joins=0.8)
DOTS_AMONG_TEES = Habit(hops=0.95, rings=0.0, marked_joins=0.3, dotted=0.85)


def crossing(*, radius: float | None = None, width: float = 0.3) -> NDArray[np.uint8]:
    """A level line that crosses an upright one at (20, 15), plainly or with a hop of ``radius`` mm."""
    ink = np.zeros((int(30 * PX_PER_MM), int(40 * PX_PER_MM)), np.uint8)
    over = (
        [(20 - radius * math.cos(a), 15 - radius * math.sin(a)) for a in np.linspace(0, math.pi, 24)] if radius else []
    )
    for points in ([(20, 2), (20, 28)], [(2, 15), *over, (38, 15)]):
        pts = np.array([[round(x * PX_PER_MM), round(y * PX_PER_MM)] for x, y in points], np.int32)
        cv2.polylines(ink, [pts], isClosed=False, color=255, thickness=round(width * PX_PER_MM))
    return ink


def meeting(ink: NDArray[np.uint8], habit: Habit, dots: tuple[Dot, ...] = ()) -> Meeting:
    radius = thickness_of(ink)
    graph = graph_of(thin(ink), radius)
    (found,) = decide(graph, mend(graph, dots), dots, habit)[1]
    return found


@pytest.mark.parametrize("width", [0.25, 0.5, 1.0])
def test_a_plain_crossing_on_a_sheet_of_hops_without_dots_is_a_join(width: float):
    found = meeting(crossing(width=width), HOPS_NO_DOTS)
    assert found.kind == "join"
    assert len(found.strokes) == 4
    assert found.through == ()


@pytest.mark.parametrize("radius", [1.0, 1.3, 2.0])
def test_a_hop_stays_a_crossing(radius: float):
    assert meeting(crossing(radius=radius), HOPS_NO_DOTS).kind == "cross"


@pytest.mark.parametrize(("habit", "kind"), [(HOPS_NO_DOTS, "cross"), (COMMON, "join")], ids=["hops", "unknown"])
def test_a_hop_from_whose_shoulder_a_letter_took_a_bite_is_one_where_lines_hop(habit: Habit, kind: str):
    ink = np.zeros((int(30 * PX_PER_MM), int(40 * PX_PER_MM)), np.uint8)
    arc = [(20 + 0.8 * math.sin(a), 15 - 1.1 * math.cos(a)) for a in np.linspace(0.25, math.pi / 2, 12)]
    for points in ([(20, 2), (20, 28)], [(2, 15), (19.05, 15), (19.75, 13.9), *arc, (38, 15)]):
        pts = np.array([[round(x * PX_PER_MM), round(y * PX_PER_MM)] for x, y in points], np.int32)
        cv2.polylines(ink, [pts], isClosed=False, color=255, thickness=5)
    assert meeting(ink, habit).kind == kind


@pytest.mark.parametrize(
    "habit",
    [COMMON, HOPS_AND_DOTS, DOTS_AMONG_TEES],
    ids=["nothing known", "joins carry dots", "ten dots, and many tees that may be sides of parts"],
)
def test_elsewhere_a_plain_crossing_without_a_dot_joins_nothing(habit: Habit):
    assert meeting(crossing(), habit).kind == "cross"


def blob(radius: float, chance: float) -> tuple[Dot, ...]:
    """A blob on the crest of a hop of ``radius`` mm, or on a plain crossing (0)."""
    return (Dot((20.0, 15.0 - radius), 0.7, chance),)


def test_a_thick_crest_of_a_hop_is_hardly_a_dot():
    assert meeting(crossing(radius=1.2), HOPS_NO_DOTS, blob(1.2, 0.6)).kind == "cross"


@pytest.mark.parametrize(
    ("radius", "chance", "habit"),
    [
        (1.2, 0.95, HOPS_NO_DOTS),  # a sure dot
        (0.0, 0.6, HOPS_NO_DOTS),  # on lines that go straight on
        (1.2, 0.6, COMMON),  # on a sheet that may not hop at all
    ],
)
def test_a_dot_is_believed_where_no_hop_explains_it(radius: float, chance: float, habit: Habit):
    found = meeting(crossing(radius=radius or None), habit, blob(radius, chance))
    assert (found.kind, found.probability) == ("join", chance)
