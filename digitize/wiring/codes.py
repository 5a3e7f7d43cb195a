"""Which printed code belongs to which line.

A code interrupts its line, or stands along it at one side. The side is a habit of the sheet: it is measured over all
codes before any single one is decided (common practice, no source: above a horizontal line, left of a vertical one that
reads upwards, but other houses print below). Level and upright codes have a habit each: below a horizontal line and left
of a vertical one is as usual.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from digitize.harness.place import Box, Point
from digitize.reading.state import ReadText
from digitize.wiring.codes_beside import beside_costs, beside_runs
from digitize.wiring.trails import Trail

_FAR = 3.2
"""A code stands at most so far from its line, mm."""
_OWN_HABIT = 5
"""So many level or upright codes beside lines have a habit of their own (own choice)."""
_SIDES = ("below", "above")
"""Where the line lies as seen by a reader of the code: below the lettering, or above it."""


@dataclass(frozen=True, slots=True)
class Attached:
    """Text ``text`` (its position) belongs to trail ``trail`` with probability ``belongs``; ``along`` 0..1 on the trail."""

    text: int
    trail: int
    belongs: float
    along: float


@dataclass(frozen=True, slots=True)
class _Near:
    """A trail that runs along a text: on which side, how far off (mm), over which share of the text's length."""

    trail: int
    side: str
    distance: float
    share: float
    at: Point


def attach_codes(codes: Sequence[tuple[int, ReadText]], trails: Sequence[Trail]) -> tuple[Attached, ...]:
    """Give each code its line; a code near no line is left out.

    Args:
        codes: (position, reading) of the texts taken for codes.
        trails: all trails of the sheet.
    """
    inline = _inline(trails)
    boxes = [Box.around(t.points) for t in trails]
    near = {k: _lines_along(t.box, t.angle, trails, boxes) for k, t in codes if k not in inline}
    flat = {k: t.angle in (0, 180) for k, t in codes}
    habits = {way: _habit([n for k, n in near.items() if flat[k] == way]) for way in (True, False)}
    habit = _habit(list(near.values()))
    for way in habits:
        if sum(bool(n) for k, n in near.items() if flat[k] == way) < _OWN_HABIT:
            habits[way] = habit
    fits = {k: sorted((_cost(n, habits[flat[k]]), n.trail, n.at) for n in found) for k, found in near.items()}
    level = {k: beside_runs(t.box, trails, boxes) for k, t in codes if k in near and t.angle in (0, 180)}
    for k, costs in beside_costs(level, {k: f[0][0] for k, f in fits.items() if f}).items():
        fits[k] = sorted((*fits[k], *((cost, b.trail, b.at) for cost, b in costs)))
    out: list[Attached] = []
    for k, t in codes:
        if k in inline:
            trail = inline[k]
            out.append(Attached(k, trail, 0.99, along(trails[trail], t.box.centre)))
            continue
        if not fits[k] or fits[k][0][0] > _FAR:
            continue
        cost, best, at = fits[k][0]
        second = next((c for c, trail, _ in fits[k][1:] if trail != best), _FAR + 1)
        belongs = 0.99 / (1 + math.exp(-4.0 * (second - cost)))
        out.append(Attached(k, best, belongs, along(trails[best], at)))
    return tuple(out)


def _inline(trails: Sequence[Trail]) -> dict[int, int]:
    """Text position → the trail that it interrupts."""
    out: dict[int, int] = {}
    for n, trail in enumerate(trails):
        for bridge in trail.bridges:
            if bridge.over == "text" and bridge.what is not None:
                out[bridge.what] = n
        for stop in trail.stops:
            if stop.text is not None:
                out.setdefault(stop.text, n)
    return out


def _habit(all_near: list[list[_Near]]) -> tuple[str, float]:
    """The side on which lines lie at this sheet's codes, and their usual distance, mm."""
    if not any(all_near):
        return ("below", 1.0)
    best: dict[str, list[float]] = {s: [] for s in _SIDES}
    for near in all_near:
        for side in _SIDES:
            distances = [n.distance for n in near if n.side == side and n.share > 0.5]
            if distances:
                best[side].append(min(distances))

    def worth(side: str) -> tuple[float, float]:
        found = sorted(best[side])
        if not found:
            return (0.0, 0.0)
        middle = found[len(found) // 2]
        return (sum(1 for d in found if abs(d - middle) < 0.5), -middle)

    side = max(_SIDES, key=worth)
    found = sorted(best[side])
    return (side, found[len(found) // 2] if found else 1.0)


def _cost(near: _Near, habit: tuple[str, float]) -> float:
    """How badly a line fits a code, in mm of distance."""
    side, usual = habit
    off = abs(near.distance - usual) if near.side == side else near.distance + 0.9
    return off + 1.2 * (1 - near.share)


def _lines_along(box: Box, angle: int, trails: Sequence[Trail], boxes: Sequence[Box]) -> list[_Near]:
    """The trails (and the ``boxes`` around them) that run along a text, at either side of it."""
    flat = angle in (0, 180)
    lo, hi, low, high = (box.x0, box.x1, box.y0, box.y1) if flat else (box.y0, box.y1, box.x0, box.x1)
    out: list[_Near] = []
    reach = box.grown(_FAR)
    for k, (trail, around) in enumerate(zip(trails, boxes, strict=True)):
        if around.x0 > reach.x1 or around.x1 < reach.x0 or around.y0 > reach.y1 or around.y1 < reach.y0:
            continue
        best: dict[str, tuple[float, float, Point]] = {}
        for p, q in zip(trail.points, trail.points[1:], strict=False):
            a, b, level_a, level_b = (p[0], q[0], p[1], q[1]) if flat else (p[1], q[1], p[0], q[0])
            if abs(level_b - level_a) > 0.2 * abs(b - a) or abs(b - a) < 0.5:
                continue
            common = min(hi, max(a, b)) - max(lo, min(a, b))
            level = (level_a + level_b) / 2
            below, above = level - high, low - level
            distance = max(below, above)
            if common <= 0 or not -0.7 <= distance <= _FAR:
                continue
            # Seen by a reader of lettering that reads upwards, the sheet's right is below and its left above.
            side = "below" if (below >= above) == (angle in (0, 90)) else "above"
            share = common / max(0.1, hi - lo)
            middle = (max(lo, min(a, b)) + min(hi, max(a, b))) / 2
            at = (middle, level) if flat else (level, middle)
            old = best.get(side)
            if old is not None and abs(old[0] - distance) < 0.5:
                best[side] = (min(old[0], distance), old[1] + share, old[2] if old[1] > share else at)
            elif old is None or share > old[1]:
                best[side] = (distance, share, at)
        out += [
            _Near(k, side, max(0.0, d), min(1.0, share), at) for side, (d, share, at) in best.items() if share > 0.15
        ]
    return out


def along(trail: Trail, at: Point) -> float:
    """How far along a trail the point nearest to ``at`` lies, 0 at its first stop, 1 at its last."""
    walked = 0.0
    best = (math.inf, 0.0)
    for p, q in zip(trail.points, trail.points[1:], strict=False):
        dx, dy = q[0] - p[0], q[1] - p[1]
        n = dx * dx + dy * dy
        t = 0.0 if n == 0 else max(0.0, min(1.0, ((at[0] - p[0]) * dx + (at[1] - p[1]) * dy) / n))
        d = math.dist(at, (p[0] + t * dx, p[1] + t * dy))
        length = math.sqrt(n)
        if d < best[0]:
            best = (d, walked + t * length)
        walked += length
    return best[1] / walked if walked > 0 else 0.0
