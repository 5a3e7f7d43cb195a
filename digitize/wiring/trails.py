"""From lines to trails: chains of strokes between two ends that are no mere corner, crossing or bridge."""

from __future__ import annotations

import math
from dataclasses import dataclass

from digitize.harness.place import Box, Point, Polyline, length
from digitize.ink.state import Marks
from digitize.wiring.lines import Explained
from digitize.wiring.loose import Bridge, End

_PIECE, _STRAIGHT = 0.5, 0.96
"""Before and behind hops a line is straight for so far, mm, and turns no further than by this cosine."""


@dataclass(frozen=True, slots=True)
class Stop:
    """Where a trail stops.

    ``kind``: ``body`` (``what`` = position in Marks.symbols), ``edge`` (``side`` set), ``join`` (``what`` = position in
    Marks.meetings) or ``open``. ``text``: a block of lettering that stands between the line's ink and this stop.
    """

    kind: str
    at: Point
    what: int | None = None
    side: str | None = None
    text: int | None = None


@dataclass(frozen=True, slots=True)
class Trail:
    """A line between two stops.

    ``ends``: the stroke ends at the two stops; ``bridges`` passed in order; ``probability`` that all its turns were
    taken rightly.
    """

    stops: tuple[Stop, Stop]
    ends: tuple[End, End]
    points: Polyline
    width: float
    bridges: tuple[Bridge, ...]
    probability: float


def trails_of(marks: Marks, explained: Explained) -> tuple[Trail, ...]:
    """All trails of a sheet, each stroke in exactly one of them; rings without any stop are left out."""
    onward = _onward(marks, explained)
    stops = _stops(marks, explained)
    seen: set[int] = set()
    ends = [(k, side) for k in range(len(marks.strokes)) for side in (0, 1)]
    return tuple(_walk(marks, end, onward, stops, seen) for end in ends if end[0] not in seen and end not in onward)


def _onward(marks: Marks, explained: Explained) -> dict[End, tuple[End, float, Bridge | None]]:
    """For each stroke end that goes on: the end it goes on into, how surely, and the bridge between."""
    onward: dict[End, tuple[End, float, Bridge | None]] = {}

    def link(a: End, b: End, probability: float, bridge: Bridge | None) -> None:
        onward[a] = (b, probability, bridge)
        onward[b] = (a, probability, bridge)

    for m in marks.meetings:
        if m.kind == "corner":
            link(m.strokes[0], m.strokes[1], m.probability, None)
        for i, j in m.through:
            link(m.strokes[i], m.strokes[j], m.probability, None)
    for b in explained.bridges:
        link(b.a, b.b, b.probability, b)
    return onward


def _stops(marks: Marks, explained: Explained) -> dict[End, Stop]:
    """The stop at each stroke end that does not go on."""

    def tip(end: End) -> Point:
        points = marks.strokes[end[0]].points
        return points[-1] if end[1] else points[0]

    out: dict[End, Stop] = {}
    for k, m in enumerate(marks.meetings):
        if m.kind == "join":
            out.update({end: Stop("join", m.at, k) for end in m.strokes})
    for end, body in explained.bodies.items():
        text = explained.beyond.get(end)
        at = tip(end) if text is None else _onto(marks.symbols[body].box, tip(end))
        out[end] = Stop("body", at, body, text=text)
    for end, side in explained.edges.items():
        out[end] = Stop("edge", tip(end), side=side, text=explained.beyond.get(end))
    return out


def _onto(box: Box, p: Point) -> Point:
    """The point of a box nearest to ``p``: where a line that lettering interrupts reaches the part behind it."""
    return (min(max(p[0], box.x0), box.x1), min(max(p[1], box.y0), box.y1))


def _walk(
    marks: Marks,
    start: End,
    onward: dict[End, tuple[End, float, Bridge | None]],
    stops: dict[End, Stop],
    seen: set[int],
) -> Trail:
    points: list[Point] = []
    widths: list[tuple[float, float]] = []
    bridges: list[Bridge] = []
    probability = 1.0
    end = start
    while True:
        k, side = end
        seen.add(k)
        stroke = marks.strokes[k]
        part = stroke.points[::-1] if side else stroke.points
        points += part if not points or points[-1] != part[0] else part[1:]
        widths.append((stroke.width, max(0.1, length(part))))
        last = (k, 1 - side)
        if last not in onward or onward[last][0][0] in seen:
            break
        end, p, bridge = onward[last]
        probability *= p
        if bridge is not None:
            bridges.append(bridge)
    total = sum(n for _, n in widths)
    first_stop = stops.get(start, Stop("open", points[0]))
    last_stop = stops.get(last, Stop("open", points[-1]))
    return Trail(
        (first_stop, last_stop),
        (start, last),
        without_hops(tuple(points)),
        sum(w * n for w, n in widths) / total,
        tuple(bridges),
        probability,
    )


def without_hops(points: Polyline, widest: float = 5.0, highest: float = 2.6) -> Polyline:
    """The polyline with hops over other lines laid flat.

    A hop leaves a straight line, bulges at most ``highest`` mm and comes back to the same line within ``widest`` mm. It may
    leave it again at once, for the next line: of hops side by side only the first begins, and only the last ends, in a
    straight piece.
    """
    out = list(points)
    i = 1
    while i < len(out) - 2:
        j = _behind_hops(out, i, widest, highest)
        if j is not None:
            del out[i + 1 : j]
        i += 1
    return tuple(out)


def _behind_hops(points: list[Point], i: int, widest: float, highest: float) -> int | None:
    """The last point of the hops that begin at point ``i``, the furthest that a straight piece follows; None for no hop."""
    found, feet = None, {i}
    for foot in range(i, len(points) - 3):
        if foot > max(feet):
            break
        for j in range(foot + 2, min(len(points) - 1, foot + 9)) if foot in feet else ():
            if _is_hop(points, foot, j, widest, highest) and _in_line(points, i, j):
                feet.add(j)
                found = j if _goes_on(points, i, j) and j > (found or 0) else found
    return found


def _is_hop(points: list[Point], i: int, j: int, widest: float, highest: float) -> bool:
    """True when points i..j bulge out of the straight line between i and j."""
    a, b = points[i], points[j]
    chord = math.dist(a, b)
    if not 0.8 < chord <= widest:
        return False
    ux, uy = (b[0] - a[0]) / chord, (b[1] - a[1]) / chord
    bulge = [abs((p[0] - a[0]) * uy - (p[1] - a[1]) * ux) for p in points[i + 1 : j]]
    return 0.25 * chord < max(bulge) <= highest


def _in_line(points: list[Point], i: int, j: int) -> bool:
    """True when a straight piece ends at point i and leads to point j."""
    before, a, b = points[i - 1], points[i], points[j]
    return math.dist(before, a) >= _PIECE and _cosine(before, a, a, b) > _STRAIGHT


def _goes_on(points: list[Point], i: int, j: int) -> bool:
    """True when a straight piece begins at point j that goes on as from i to j."""
    a, b, after = points[i], points[j], points[j + 1]
    return math.dist(b, after) >= _PIECE and _cosine(a, b, b, after) > _STRAIGHT


def _cosine(a: Point, b: Point, c: Point, d: Point) -> float:
    """Cosine of the angle between the ways from a to b and from c to d; 0 where one of them is no way at all."""
    ux, uy, vx, vy = b[0] - a[0], b[1] - a[1], d[0] - c[0], d[1] - c[1]
    return (ux * vx + uy * vy) / ((math.hypot(ux, uy) * math.hypot(vx, vy)) or 1.0)
