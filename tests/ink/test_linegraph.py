"""Promises of the line graph: tiny pictures typed as arrays."""

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from digitize.ink.linegraph import LineGraph, graph_of
from digitize.ink.thickness import thickness_of
from digitize.ink.thinning import thin


def picture(*rows: str) -> np.ndarray:
    return np.array([[255 if c == "#" else 0 for c in row] for row in rows], np.uint8)


def graph(*rows: str) -> LineGraph:
    p = picture(*rows)
    return graph_of(p, thickness_of(p))


def degrees(g: LineGraph) -> list[int]:
    return sorted(g.degree(n) for n in g.nodes)


def test_an_empty_picture_has_no_lines():
    g = graph(".....", ".....")
    assert not g.nodes
    assert not g.edges


def test_a_line_has_two_ends_and_keeps_its_length():
    g = graph(".......", ".#####.", ".......")
    assert degrees(g) == [1, 1]
    assert [e.length for e in g.edges.values()] == [4.0]


def test_a_staircase_is_one_line_and_no_row_of_meetings():
    g = graph("#....", "##...", ".##..", "..##.", "...##")
    assert degrees(g) == [1, 1]


def test_a_tee_has_three_arms():
    g = graph(".......", "#######", "...#...", "...#...", "...#...")
    assert degrees(g) == [1, 1, 1, 3]


def test_a_cross_has_four_arms():
    g = graph("...#...", "...#...", "#######", "...#...", "...#...")
    assert degrees(g) == [1, 1, 1, 1, 4]


def test_a_ring_without_a_meeting_is_found():
    g = graph(".###.", "#...#", "#...#", ".###.")
    assert len(g.edges) == 1
    assert degrees(g) == [2]


def test_contracting_makes_one_meeting_of_two_tees():
    g = graph(".....#....", ".....#....", "##########", "......#...", "......#...")
    tees = {n for n in g.nodes if g.degree(n) >= 3}
    new = g.contract(tees, (5.5, 2.0), 4.0) if len(tees) > 1 else tees.pop()
    assert g.degree(new) == 4
    assert degrees(g) == [1, 1, 1, 1, 4]


def test_a_short_spur_is_pruned_and_the_line_goes_on():
    g = graph(".....#.....", ".....#.....", ".....#.....", "###########", "...........")
    assert g.prune(4.0, 1.0) == 1
    g.dissolve_all()
    assert degrees(g) == [1, 1]
    assert len(g.edges) == 1
    assert next(iter(g.edges.values())).length >= 9.9


def test_a_real_branch_is_not_pruned():
    g = graph(*[".....#....."] * 8, "###########")
    assert g.prune(3.0, 1.0) == 0


@settings(deadline=None, max_examples=60)
@given(st.lists(st.lists(st.booleans(), min_size=8, max_size=8), min_size=8, max_size=8))
def test_every_picture_gives_a_graph_whose_edges_lead_from_node_to_node(rows):
    ink = np.array(rows, np.uint8) * 255
    skeleton = thin(np.pad(ink, 2))
    g = graph_of(skeleton, thickness_of(skeleton))
    for key, e in g.edges.items():
        assert tuple(e.points[0]) == tuple(np.float32(g.nodes[e.a]))
        assert tuple(e.points[-1]) == tuple(np.float32(g.nodes[e.b]))
        assert (key, False) in g.arms[e.a]
        assert (key, True) in g.arms[e.b]
    assert sum(g.degree(n) for n in g.nodes) == 2 * len(g.edges)


@settings(deadline=None, max_examples=40)
@given(st.lists(st.lists(st.booleans(), min_size=9, max_size=9), min_size=9, max_size=9), st.floats(0, 6))
def test_mending_never_leaves_an_edge_without_its_nodes(rows, shorter):
    skeleton = thin(np.pad(np.array(rows, np.uint8) * 255, 2))
    g = graph_of(skeleton, thickness_of(skeleton))
    g.prune(shorter, 1.0)
    g.dissolve_all()
    assert all(e.a in g.nodes and e.b in g.nodes for e in g.edges.values())
    assert all(g.degree(n) != 2 or len({i for i, _ in g.arms[n]}) == 1 for n in g.nodes)
