"""Promises about how a sheet's own way of drawing meetings is inferred and used."""

from dataclasses import replace

import numpy as np
import pytest

from digitize.harness.place import Box
from digitize.ink.habit import habit_of, ring_habit
from digitize.ink.linegraph import LineGraph
from digitize.ink.meetings import decide
from digitize.ink.rings import Ring
from digitize.ink.state import Dot, Habit

HOLE = np.zeros((0, 1, 2), np.int32)


def rings(n: int, radius: float = 0.6, arms: int = 3) -> list[Ring]:
    return [Ring((10.0 * k, 5.0), radius, arms, HOLE) for k in range(n)]


def dots(n: int) -> list[Dot]:
    return [Dot((10.0 * k, 9.0), 1.2, 0.95) for k in range(n)]


def star(graph: LineGraph, x: float, y: float, arms: int, long: float = 60) -> int:
    node = graph.add_node((x, y))
    for dx, dy in ((long, 0), (-long, 0), (0, long), (0, -long))[:arms]:
        far = graph.add_node((x + dx, y + dy))
        graph.add_edge(node, far, np.array([(x, y), (x + dx / 2, y + dy / 2), (x + dx, y + dy)], np.float32), 4.0)
    return node


def hop(graph: LineGraph, x: float, y: float, radius: float = 15.0) -> None:
    """A level line that hops over an upright one, which it meets at the top of the hop, (x, y)."""
    node = graph.add_node((x, y))
    for dy in (60, -60):
        graph.add_edge(node, graph.add_node((x, y + dy)), np.array([(x, y), (x, y + dy)], np.float32), 4.0)
    for side in (1, -1):
        turned = np.linspace(0, np.pi / 2, 12)
        arc = np.column_stack([x + side * radius * np.sin(turned), y + radius * (1 - np.cos(turned))])
        points = np.vstack([arc, [(x + side * 60, y + radius)]]).astype(np.float32)
        graph.add_edge(node, graph.add_node((x + side * 60, y + radius)), points, 4.0)


class Seen:
    """A second opinion that says the same of every spot."""

    def __init__(self, says: str) -> None:
        self.says = says

    def probability(self, what: str, at: tuple[float, float], reach: float = 0.6) -> float:
        assert reach > 0
        assert len(at) == 2
        return 0.9 if what == self.says else 0.05


def test_a_sheet_with_several_rings_of_one_size_joins_with_rings():
    assert ring_habit(dots(1), rings(6)) > 0.8


def test_two_holes_make_no_habit():
    assert ring_habit([], rings(2)) == 0.0


def test_a_sheet_of_filled_dots_does_not_join_with_rings():
    assert ring_habit(dots(20), rings(4)) < 0.5


def test_holes_of_all_sizes_are_no_rings():
    assert ring_habit([], [r for k in range(6) for r in rings(1, 0.2 * 1.6**k)]) == 0.0


@pytest.mark.parametrize(("says", "least", "most"), [("hop", 0.9, 1.0), ("plain", 0.0, 0.1)])
def test_hops_or_plain_crossings_are_a_habit_of_the_whole_sheet(says, least, most):
    graph = LineGraph()
    for k in range(8):
        star(graph, 200.0 * k, 100.0, 4, long=6)
    assert least <= habit_of(graph, {}, 0.0, Seen(says)).hops <= most


@pytest.mark.parametrize("seen", [None, Seen("neither"), Seen("plain")], ids=["nobody", "unsure", "wrong"])
def test_crossings_that_bulge_round_a_line_make_a_sheet_of_hops_whatever_the_second_opinion(seen):
    graph = LineGraph()
    for k in range(8):
        hop(graph, 200.0 * k, 100.0)
    assert habit_of(graph, {}, 0.0, seen).hops > 0.9


def test_lines_that_pass_each_other_straight_make_no_sheet_of_hops_whatever_the_second_opinion():
    graph = LineGraph()
    for k in range(8):
        star(graph, 200.0 * k, 100.0, 4)
    assert habit_of(graph, {}, 0.0, Seen("hop")).hops < 0.1


def test_without_a_second_opinion_a_sheet_more_likely_draws_plain_crossings():
    graph = LineGraph()
    star(graph, 100.0, 100.0, 4)
    assert habit_of(graph, {}, 0.0, None).hops < 0.5


def test_a_tee_without_a_dot_is_doubted_where_joins_carry_dots():
    graph = LineGraph()
    star(graph, 100.0, 100.0, 3)
    often, never = (decide(graph, {}, (), Habit(0.1, 0.0, marked))[1][0].probability for marked in (0.95, 0.05))
    assert often < 0.5
    assert never > 0.7


def test_a_straight_crossing_is_less_sure_where_lines_hop():
    graph = LineGraph()
    star(graph, 100.0, 100.0, 4)
    plain, hopping = (decide(graph, {}, (), Habit(hops, 0.0, 0.9))[1][0] for hops in (0.02, 0.98))
    assert plain.kind == hopping.kind == "cross"
    assert plain.probability > 0.98 > hopping.probability


@pytest.mark.parametrize(
    ("marked", "sure", "arms", "least", "most"),
    [(0, 1.0, 3, 0.0, 0.0), (1, 1.0, 3, 0.1, 0.5), (3, 1.0, 3, 0.6, 1.0), (9, 0.8, 3, 0.0, 0.0), (9, 1.0, 2, 0.0, 0.0)],
    ids=["no dots", "one", "three", "doubtful ones", "on corners"],
)
def test_that_joins_have_dots_is_told_by_sure_dots_on_joins_alone(marked, sure, arms, least, most):
    graph = LineGraph()
    nodes = [star(graph, 200.0 * k, 100.0, arms if k < marked else 3) for k in range(20)]
    found = [replace(d, probability=sure) for d in dots(marked)]
    habit = habit_of(graph, {node: k for k, node in enumerate(nodes[:marked])}, 0.0, None, found)
    assert least <= habit.dotted <= most


@pytest.mark.parametrize(
    ("frame", "dotted"), [(None, True), (Box(-50, 0, 250, 60), True), (Box(-50, 0, 250, 12), False)]
)
def test_heads_of_arrows_right_at_the_border_do_not_tell_that_joins_have_dots(frame, dotted):
    graph = LineGraph()
    nodes = [star(graph, 200.0 * k, 100.0, 3) for k in range(20)]
    habit = habit_of(graph, {node: k for k, node in enumerate(nodes[:9])}, 0.0, None, dots(9), frame)
    assert (habit.dotted > 0.6) == (habit.marked_joins > 0.4) == dotted
