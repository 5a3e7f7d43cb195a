"""Mends a line graph and decides each meeting: join, plain crossing, or just a corner.

Two facts decide, both measured on the ink itself: whether a filled dot sits on the meeting, and whether the lines that
meet go straight on. Common practice, no source: a dot joins; four arms that make two straight lines without a dot
pass each other; three arms without a dot are a tee.
"""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Sequence
from itertools import accumulate, combinations, pairwise

import numpy as np

from digitize.ink.hops import HOPPING, hopped, plain_join
from digitize.ink.linegraph import LineGraph
from digitize.ink.state import Dot, Habit, Meeting, Stroke
from digitize.ink.stubs import CodeEnd, lead_to_codes, stubs_at
from digitize.sheet.state import PX_PER_MM, to_mm, to_px

_MM = PX_PER_MM
_STRAIGHT = 32.0
"""Two arms that are within so many degrees of a straight line may be one line that goes on."""
_HOP_BEND, _LEVEL = 85.0, 12.0
"""A hop whose shoulder a letter touches bends by so many degrees; the line that it hops over by no more than the second."""

COMMON = Habit(hops=0.3, rings=0.0, marked_joins=0.5)
"""What is assumed of a sheet of which nothing is known."""


def mend(graph: LineGraph, dots: tuple[Dot, ...], codes: Sequence[CodeEnd] = ()) -> dict[int, int]:
    """Draw together what thinning split, take off spurs; returns the node of each dot that lies on lines.

    What points at one of ``codes`` is no spur. The result maps node id → position in ``dots``.
    """
    at_dots = _contract_dots(graph, dots)
    stubs = stubs_at(graph, codes)
    graph.prune(0.5 * _MM, 1.6, stubs)
    _dissolve(graph, at_dots)
    _contract_short(graph, at_dots)
    graph.prune(0.7 * _MM, 1.8, stubs)
    _dissolve(graph, at_dots)
    lead_to_codes(graph, at_dots, dots, codes)
    return at_dots


def _dissolve(graph: LineGraph, keep: dict[int, int]) -> None:
    for node in sorted(graph.nodes):
        if node in graph.nodes and node not in keep and graph.degree(node) == 2:
            graph.dissolve(node)


def _contract_dots(graph: LineGraph, dots: tuple[Dot, ...]) -> dict[int, int]:
    """All that lies inside a dot becomes one node at its centre; a line that only passes through it is cut there."""
    found: dict[int, int] = {}
    if not graph.nodes:
        return found
    # nodes are only taken away on the way, but for those of the dots themselves
    ids = np.array(sorted(graph.nodes, key=lambda i: (graph.nodes[i][0], i)))
    at = np.array([graph.nodes[i] for i in ids])
    for k, dot in enumerate(dots):
        x, y = to_px(dot.at)
        reach = dot.diameter / 2 * _MM + 0.25 * _MM
        there = slice(*np.searchsorted(at[:, 0], (x - reach - 1, x + reach + 1)))
        near = sorted(ids[there][np.hypot(at[there, 0] - x, at[there, 1] - y) <= reach].tolist())
        group = {i for i in near if i in graph.nodes}
        if not group:
            group = _cut_at(graph, (x, y), reach)
        if group:
            node = graph.contract(group, (x, y), reach * 1.6)
            _straight_out(graph, node, reach)
            found[node] = k
    return found


def _straight_out(graph: LineGraph, node: int, reach: float) -> None:
    """Let no arm of a dot lead to its far rim and back: thinning ends a lone line there, ``reach`` px from the middle."""
    for edge, is_b in graph.arms[node]:
        e = graph.edges[edge]
        points = e.from_node(node, at_b=is_b)
        off = np.hypot(*(points[1:] - points[0]).T)
        out = int(np.argmax(off > reach)) if (off > reach).any() else 0
        nearest = int(off[:out].argmin()) if out else 0
        if nearest and off[0] > _MM / 4:
            points = np.vstack([points[:1], points[1 + nearest :]])
            e.points = points[::-1] if (is_b if e.a == e.b else node != e.a) else points


def _cut_at(graph: LineGraph, at: tuple[float, float], reach: float) -> set[int]:
    """Cut the edge that passes within ``reach`` px of ``at``; returns the new node, or nothing when none passes."""
    for edge in sorted(graph.edges):
        e = graph.edges[edge]
        distance = np.hypot(e.points[:, 0] - at[0], e.points[:, 1] - at[1])
        k = int(distance.argmin())
        if distance[k] <= reach and 0 < k < len(e.points) - 1:
            node = graph.add_node((float(e.points[k, 0]), float(e.points[k, 1])))
            graph.drop_edge(edge)
            graph.add_edge(e.a, node, e.points[: k + 1], e.width)
            graph.add_edge(node, e.b, e.points[k:], e.width)
            return {node}
    return set()


def _contract_short(graph: LineGraph, keep: dict[int, int]) -> None:
    """Two meetings nearer than the lines are thick are one: thinning makes two T's of a crossing."""
    for edge in sorted(graph.edges):
        if edge not in graph.edges:
            continue
        e = graph.edges[edge]
        if e.a == e.b or graph.degree(e.a) < 3 or graph.degree(e.b) < 3 or e.a in keep or e.b in keep:
            continue
        thick = max(graph.edges[i].width for n in (e.a, e.b) for i, _ in graph.arms[n])
        limit = max(0.45 * _MM, 1.25 * thick)
        if e.length <= limit:
            (xa, ya), (xb, yb) = graph.nodes[e.a], graph.nodes[e.b]
            graph.contract({e.a, e.b}, ((xa + xb) / 2, (ya + yb) / 2), limit * 1.5)


def direction(
    graph: LineGraph, node: int, edge: int, *, is_b: bool, inner: float = 0.5, outer: float = 2.0
) -> tuple[float, float]:
    """Unit vector of an arm leading away from its node, measured ``inner`` to ``outer`` mm out (less on a shorter arm)."""
    pts = graph.edges[edge].from_node(node, at_b=is_b)
    far = max(outer * _MM, inner * _MM / 0.3)
    points = pts[: int(far) + 3].tolist()  # points lie a pixel apart or more: seldom are further ones asked for
    along = _lengths(points)
    if along[-1] < far and len(pts) > len(points):
        points = pts.tolist()
        along = _lengths(points)
    (ax, ay), (bx, by) = (
        _place(points, along, where) for where in (min(inner * _MM, along[-1] * 0.3), min(outer * _MM, along[-1]))
    )
    n = math.hypot(bx - ax, by - ay) or 1.0
    return ((bx - ax) / n, (by - ay) / n)


def _lengths(points: list[list[float]]) -> list[float]:
    """Length of the way to each of ``points``."""
    return [0.0, *accumulate(math.dist(p, q) for p, q in pairwise(points))]


def _place(points: list[list[float]], along: list[float], where: float) -> tuple[float, float]:
    """The place on a polyline ``where`` along it."""
    k = min(max(1, bisect_left(along, where)), len(points) - 1)
    (x, y), (u, v) = points[k - 1], points[k]
    share = (where - along[k - 1]) / ((along[k] - along[k - 1]) or 1.0)
    return (x + share * (u - x), y + share * (v - y))


def decide(
    graph: LineGraph, at_dots: dict[int, int], dots: tuple[Dot, ...], habit: Habit = COMMON
) -> tuple[tuple[Stroke, ...], tuple[Meeting, ...]]:
    """Strokes and meetings of a mended graph, in reading order; ``habit``: how this sheet draws them."""
    order = sorted(
        graph.edges,
        key=lambda i: (
            round(float(graph.edges[i].points[:, 1].min())),
            round(float(graph.edges[i].points[:, 0].min())),
            i,
        ),
    )
    number = {edge: k for k, edge in enumerate(order)}
    strokes = tuple(_stroke(graph, edge) for edge in order)
    meetings: list[Meeting] = []
    for node in sorted(graph.nodes):
        arms = sorted((number[e], is_b, e) for e, is_b in graph.arms[node])
        if len(arms) < 2:
            continue
        ends = tuple((k, int(is_b)) for k, is_b, _ in arms)
        at = to_mm(*graph.nodes[node])
        dot = dots[at_dots[node]].probability if node in at_dots else None
        if dot is not None and len(arms) != 4:
            meetings.append(Meeting(at, "join", dot, ends))
            continue
        if len(arms) == 2:
            meetings.append(Meeting(at, "corner", 0.95, ends))
            continue
        through, deviation = _ways(graph, node, arms, habit)
        pairs = [((arms[i][2], arms[i][1]), (arms[j][2], arms[j][1])) for i, j in through]
        if dot is not None:
            crest = hopped(graph, node, pairs, dot, habit)
            kind, p = ("cross", crest) if crest is not None else ("join", dot)
        else:
            kind, p = _judge(len(arms), through, deviation, habit)
            if kind == "cross" and len(arms) == 4 and len(through) == 2:
                joined = plain_join(graph, node, pairs, habit)
                kind, p = ("join", joined) if joined is not None else (kind, p)
        meetings.append(Meeting(at, kind, p, ends, through if kind == "cross" else ()))
    return strokes, tuple(sorted(meetings, key=lambda m: (m.at[1], m.at[0])))


def _ways(
    graph: LineGraph, node: int, arms: list[tuple[int, bool, int]], habit: Habit
) -> tuple[tuple[tuple[int, int], ...], float]:
    """Which arms (number, True at the edge's b, edge) of a meeting go on into each other, and their worst deviation, degrees."""
    arrows = [direction(graph, node, e, is_b=is_b) for _, is_b, e in arms]
    if len(arms) != 4:
        return _through(arrows)
    near = [direction(graph, node, e, is_b=is_b, inner=0.15, outer=0.8) for _, is_b, e in arms]
    found = min((opposite(arrows), opposite(near)), key=lambda o: (-len(o[0]), o[1]))
    if len(found[0]) == 1 and found[1] < _LEVEL and habit.hops > HOPPING:
        found = opposite(near, _HOP_BEND)
    return found


def _stroke(graph: LineGraph, edge: int) -> Stroke:
    e = graph.edges[edge]
    return Stroke(simplified(e.points), e.width / _MM)


def simplified(points: np.ndarray, tolerance: float = 0.16) -> tuple[tuple[float, float], ...]:
    """A polyline in px with fewer points, in mm; no point of it strays more than ``tolerance`` mm; the ends stay."""
    import cv2  # noqa: PLC0415  # kept out of the module so that the geometry above needs numpy only

    pts = np.asarray(points, np.float32)
    closed = len(pts) > 3 and bool(np.allclose(pts[0], pts[-1]))
    if closed:
        half = len(pts) // 2
        a = cv2.approxPolyDP(pts[: half + 1].reshape(-1, 1, 2), tolerance * _MM, closed=False).reshape(-1, 2)
        b = cv2.approxPolyDP(pts[half:].reshape(-1, 1, 2), tolerance * _MM, closed=False).reshape(-1, 2)
        out = np.vstack([a, b[1:]])
    else:
        out = cv2.approxPolyDP(pts.reshape(-1, 1, 2), tolerance * _MM, closed=False).reshape(-1, 2)
        if len(out) == 1:
            out = np.vstack([pts[0], pts[-1]])
    return tuple(to_mm(float(x), float(y)) for x, y in out)


def _through(directions: list[tuple[float, float]]) -> tuple[tuple[tuple[int, int], ...], float]:
    """Pair the arms that go straight on into each other, best pairs first; worst deviation in degrees."""
    bends = sorted(
        (180.0 - _angle(directions[i], directions[j]), i, j) for i, j in combinations(range(len(directions)), 2)
    )
    pairs: list[tuple[int, int]] = []
    used: set[int] = set()
    worst = 0.0
    for bend, i, j in bends:
        if bend <= _STRAIGHT and not {i, j} & used:
            pairs.append((i, j))
            used |= {i, j}
            worst = max(worst, bend)
    return tuple(sorted(pairs)), worst


def opposite(directions: list[tuple[float, float]], most: float = 60.0) -> tuple[tuple[tuple[int, int], ...], float]:
    """Pair four arms by turn: each goes on into the one opposite. A hop bends away at the meeting and still passes it.

    Nothing is paired when an arm and its opposite bend by more than ``most`` degrees.
    """
    turn = sorted(range(4), key=lambda i: math.atan2(directions[i][1], directions[i][0]))
    pairs = ((turn[0], turn[2]), (turn[1], turn[3]))
    worst = max(180.0 - _angle(directions[i], directions[j]) for i, j in pairs)
    return (tuple(sorted((min(p), max(p)) for p in pairs)), worst) if worst <= most else _through(directions)


def _angle(u: tuple[float, float], v: tuple[float, float]) -> float:
    """Angle between two unit vectors, degrees 0..180."""
    return math.degrees(math.acos(max(-1.0, min(1.0, u[0] * v[0] + u[1] * v[1]))))


def _judge(arms: int, through: tuple[tuple[int, int], ...], deviation: float, habit: Habit) -> tuple[str, float]:
    """Kind of a meeting without a dot and the probability of that kind.

    A tee without a dot is the less believable, the more of the sheet's joins carry one; where lines hop over each other,
    a crossing that was drawn straight (``deviation`` small) is a little less sure to be one.
    """
    if arms >= 4 and 2 * len(through) == arms:
        if deviation < 12:
            return "cross", 0.99 - 0.15 * habit.hops**2
        return "cross", 0.93 if deviation < 32 else 0.8 + 0.1 * habit.hops
    if arms >= 4 and len(through) >= 2:
        return "cross", 0.6
    if arms == 3 and through:
        return "join", 0.8 - 0.35 * habit.marked_joins
    return "join", 0.6 - 0.2 * habit.marked_joins
