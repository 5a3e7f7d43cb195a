"""A graph of line ink: nodes where lines end or meet, edges that follow the ink between them.

The graph comes from a thinned picture. Thinning is a proposal only (it turns one crossing into two T's and grows spurs
on rough ink), so the graph can be mended: ``contract`` draws nodes together, ``prune`` takes off spurs, ``dissolve``
makes one edge of two at a node that is no meeting. Coordinates here are pixels of the flat image.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from digitize.ink.thickness import Thickness
from digitize.sheet.ranked import median
from digitize.sheet.runs import runs_of

Pixels = NDArray[np.float32]

_ORTHOGONAL = ((-1, 0), (1, 0), (0, -1), (0, 1))
_DIAGONAL = ((-1, -1), (-1, 1), (1, -1), (1, 1))


@dataclass(slots=True)
class Edge:
    """A line between nodes ``a`` and ``b``; ``points`` (n, 2) x, y from a to b; ``width`` in px."""

    a: int
    b: int
    points: Pixels
    width: float

    @property
    def length(self) -> float:
        """Length along the points, px."""
        return float(np.hypot(*np.diff(self.points, axis=0).T).sum()) if len(self.points) > 1 else 0.0

    def other(self, node: int) -> int:
        """The node at the far end."""
        return self.b if node == self.a else self.a

    def from_node(self, node: int, *, at_b: bool = False) -> Pixels:
        """The points leading away from ``node``. For a loop, ``at_b`` picks its second end."""
        if self.a == self.b:
            return self.points[::-1] if at_b else self.points
        return self.points if node == self.a else self.points[::-1]


@dataclass(slots=True)
class LineGraph:
    """Nodes (id → x, y) and edges (id → Edge). ``arms`` lists, for each node, (edge id, True when it is the edge's b)."""

    nodes: dict[int, tuple[float, float]] = field(default_factory=dict)
    edges: dict[int, Edge] = field(default_factory=dict)
    arms: dict[int, set[tuple[int, bool]]] = field(default_factory=lambda: defaultdict(set))
    _next: int = 0

    def add_node(self, at: tuple[float, float]) -> int:
        """A new node; returns its id."""
        self._next += 1
        self.nodes[self._next] = at
        return self._next

    def add_edge(self, a: int, b: int, points: Pixels, width: float) -> int:
        """A new edge; returns its id."""
        self._next += 1
        self.edges[self._next] = Edge(a, b, points, width)
        self.arms[a].add((self._next, False))
        self.arms[b].add((self._next, True))
        return self._next

    def drop_edge(self, edge: int) -> None:
        """Remove an edge; its nodes stay."""
        e = self.edges.pop(edge)
        self.arms[e.a].discard((edge, False))
        self.arms[e.b].discard((edge, True))

    def drop_node(self, node: int) -> None:
        """Remove a node that has no edges left."""
        if not self.arms.pop(node, None):
            self.nodes.pop(node)

    def degree(self, node: int) -> int:
        """How many edge ends lie at the node."""
        return len(self.arms[node])

    def contract(self, group: set[int], at: tuple[float, float], inside: float) -> int:
        """Draw the nodes of ``group`` together into one at ``at``.

        Edges between them vanish when they stay within ``inside`` px of ``at``; longer ones become loops.
        """
        new = self.add_node(at)
        for node in group:
            for edge, _ in list(self.arms[node]):
                if edge not in self.edges:
                    continue
                e = self.edges[edge]
                if (
                    e.a in group
                    and e.b in group
                    and np.hypot(*(e.points - np.asarray(at, np.float32)).T).max() <= inside
                ):
                    self.drop_edge(edge)
            for edge, is_b in list(self.arms[node]):
                e = self.edges[edge]
                if is_b:
                    e.b = new
                    e.points = np.vstack([e.points, np.asarray([at], np.float32)])
                else:
                    e.a = new
                    e.points = np.vstack([np.asarray([at], np.float32), e.points])
                self.arms[node].discard((edge, is_b))
                self.arms[new].add((edge, is_b))
            self.drop_node(node)
        return new

    def dissolve(self, node: int) -> None:
        """Make one edge of the two that meet at ``node``; nothing happens when it has not exactly two different ones."""
        arms = sorted(self.arms[node])
        if len(arms) != 2 or arms[0][0] == arms[1][0]:
            return
        (i, i_b), (j, j_b) = arms
        first, second = self.edges[i], self.edges[j]
        head = first.points if i_b else first.points[::-1]
        tail = second.points[::-1] if j_b else second.points
        start = first.a if i_b else first.b
        end = second.a if j_b else second.b
        li, lj = max(first.length, 1.0), max(second.length, 1.0)
        width = (first.width * li + second.width * lj) / (li + lj)
        self.drop_edge(i)
        self.drop_edge(j)
        self.add_edge(start, end, np.vstack([head, tail[1:] if len(tail) > 1 else tail]), width)
        self.drop_node(node)

    def dissolve_all(self) -> None:
        """Dissolve every node of degree two."""
        for node in sorted(self.nodes):
            if node in self.nodes and self.degree(node) == 2:
                self.dissolve(node)

    def prune(self, shorter: float, per_width: float, kept: Collection[int] = ()) -> int:
        """Take off spurs: edges from a meeting to a free end, shorter than ``shorter`` px and ``per_width`` × width.

        Those whose free end is one of the nodes ``kept`` stay. Returns how many were taken off.
        """
        gone = 0
        for edge in sorted(self.edges):
            e = self.edges[edge]
            da, db = self.degree(e.a), self.degree(e.b)
            if {da, db} != {1, max(da, db)} or max(da, db) < 3:
                continue
            free = e.a if da == 1 else e.b
            if free not in kept and e.length < max(shorter, per_width * e.width):
                self.drop_edge(edge)
                self.drop_node(free)
                gone += 1
        return gone


def graph_of(skeleton: NDArray[np.uint8], radius: Thickness) -> LineGraph:
    """The line graph of a thinned picture.

    Args:
        skeleton: uint8 (H, W), non-zero on the centre lines.
        radius: how far the ink that was thinned lies from the paper, px.

    Two pixels are linked when they touch; a diagonal link is left out when the two also share an orthogonal
    neighbour, so that a staircase is a path and not a row of meetings.
    """
    spots = runs_of(skeleton).spots()
    ys, xs = np.divmod(spots, skeleton.shape[1])
    graph = LineGraph()
    if not len(xs):
        return graph
    neighbours = _neighbours(skeleton, ys, xs)
    degree = (neighbours >= 0).sum(axis=1)
    is_node = degree != 2
    _open_rings(neighbours, is_node)
    cluster = _clusters(neighbours, is_node)
    ids: dict[int, int] = {}
    points = np.column_stack([xs, ys]).astype(np.float32)
    order = np.argsort(cluster[is_node], kind="stable")
    members = np.nonzero(is_node)[0][order]
    labels, starts = np.unique(cluster[members], return_index=True)
    for label, group in zip(labels, np.split(members, starts[1:]), strict=True):
        x, y = points[group].mean(axis=0)
        ids[int(label)] = graph.add_node((float(x), float(y)))
    half = radius.at(spots)
    for path in _paths(neighbours, is_node) if (neighbours >= 0).any() else []:
        a, b = int(path[0]), int(path[-1])
        if len(path) == 2 and cluster[a] == cluster[b]:
            continue
        na, nb = ids[int(cluster[a])], ids[int(cluster[b])]
        pts = points[path]
        pts[0], pts[-1] = graph.nodes[na], graph.nodes[nb]
        inner = half[path[1:-1]] if len(path) > 4 else half[path]
        graph.add_edge(na, nb, pts, max(1.0, 2.0 * median(inner) - 1.0))
    return graph


def _neighbours(skeleton: NDArray[np.uint8], ys: NDArray[np.intp], xs: NDArray[np.intp]) -> NDArray[np.int64]:
    """For each skeleton pixel, the indexes of the up to eight pixels it is linked with, -1 for none."""
    wide = skeleton.shape[1] + 2  # paper all round: no pixel has a neighbour over the edge
    at = (ys + 1) * wide + xs + 1

    def number(step: int) -> NDArray[np.int64]:
        """Indexes of the pixels ``step`` further on, -1 where there is none."""
        found = np.minimum(np.searchsorted(at, at + step), len(at) - 1)
        return np.where(at[found] == at + step, found, -1)

    out = np.full((len(xs), 8), -1, np.int64)
    for k, (dy, dx) in enumerate(_ORTHOGONAL):
        out[:, k] = number(dy * wide + dx)
    up, down, left, right = (out[:, k] >= 0 for k in range(4))
    for k, (dy, dx) in enumerate(_DIAGONAL, start=4):
        shared = (up if dy < 0 else down) | (left if dx < 0 else right)
        out[:, k] = np.where(shared, -1, number(dy * wide + dx))
    return out


def _open_rings(neighbours: NDArray[np.int64], is_node: NDArray[np.bool_]) -> None:
    """Give every closed ring without a meeting one node, so that it is found at all."""
    from scipy.sparse import coo_matrix  # noqa: PLC0415  # scipy costs 0.2 s to import
    from scipy.sparse.csgraph import connected_components  # noqa: PLC0415

    n = len(neighbours)
    rows, cols = np.nonzero(neighbours >= 0)
    links = coo_matrix((np.ones(len(rows), np.int8), (rows, neighbours[rows, cols])), shape=(n, n))
    count, label = connected_components(links, directed=False)
    has_node = np.zeros(count, bool)
    has_node[label[is_node]] = True
    rings, first = np.unique(label, return_index=True)
    is_node[first[~has_node[rings]]] = True


def _clusters(neighbours: NDArray[np.int64], is_node: NDArray[np.bool_]) -> NDArray[np.int64]:
    """Label node pixels that touch each other alike; other pixels get -1."""
    from scipy.sparse import coo_matrix  # noqa: PLC0415
    from scipy.sparse.csgraph import connected_components  # noqa: PLC0415

    n = len(neighbours)
    rows, cols = np.nonzero(neighbours >= 0)
    to = neighbours[rows, cols]
    both = is_node[rows] & is_node[to]
    links = coo_matrix((np.ones(int(both.sum()), np.int8), (rows[both], to[both])), shape=(n, n))
    _, label = connected_components(links, directed=False)
    return np.where(is_node, label, -1).astype(np.int64)


def _paths(neighbours: NDArray[np.int64], is_node: NDArray[np.bool_]) -> list[NDArray[np.int64]]:
    """Every path from node pixel to node pixel, each once, in the order of the end that comes first."""
    start = np.nonzero(is_node)[0]
    rows, cols = np.nonzero(neighbours[start] >= 0)
    origin = start[rows]
    first = neighbours[origin, cols]
    straight = np.nonzero(is_node[first] & (origin < first))[0]
    arms, between = _between_nodes(neighbours, is_node, first)
    whole = [np.concatenate([[origin[a]], path, [origin[b]]]) for (a, b), path in zip(arms, between, strict=True)]
    order = np.argsort(np.concatenate([straight, arms[:, 0]]), kind="stable")
    out = [*np.column_stack([origin[straight], first[straight]]), *whole]
    return [out[k] for k in order]


def _between_nodes(
    neighbours: NDArray[np.int64], is_node: NDArray[np.bool_], first: NDArray[np.int64]
) -> tuple[NDArray[np.int64], list[NDArray[np.int64]]]:
    """The rows of pixels between nodes, each in order.

    ``first``: the pixel that each arm of a node leads to. A row has an arm at both its ends; returns the two (n, 2), lower
    number first, and the rows, each from the first arm's end. All rows are tied together end to end, so that one walk
    through the whole puts every pixel in its place.
    """
    from scipy.sparse import coo_matrix  # noqa: PLC0415
    from scipy.sparse.csgraph import breadth_first_order, connected_components  # noqa: PLC0415

    into = np.nonzero(~is_node[first])[0]
    if not len(into):
        return np.zeros((0, 2), np.int64), []
    n = len(neighbours)
    rows, cols = np.nonzero(neighbours >= 0)
    to = neighbours[rows, cols]
    within = ~is_node[rows] & ~is_node[to]
    here, there = rows[within], to[within]
    _, label = connected_components(
        coo_matrix((np.ones(len(here), np.int8), (here, there)), shape=(n, n)), directed=False
    )
    row_of = label[first[into]]
    arms = into[np.lexsort((into, row_of))].reshape(-1, 2)
    lengths = np.bincount(label[~is_node], minlength=int(label.max()) + 1)[label[first[arms[:, 0]]]]
    tail, head = first[arms[:-1, 1]], first[arms[1:, 0]]
    here, there = np.concatenate([here, tail, head]), np.concatenate([there, head, tail])
    tied = coo_matrix((np.ones(len(here), np.int8), (here, there)), shape=(n, n)).tocsr()
    walk = breadth_first_order(tied, first[arms[0, 0]], directed=True, return_predecessors=False)
    return arms, np.split(np.asarray(walk, np.int64), np.cumsum(lengths)[:-1])
