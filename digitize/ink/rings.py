"""Open circles on lines: joins and terminals of drawings that use small rings where others draw filled dots.

Common practice of older plates, no source: a ring where three or more lines meet joins them, one in the course of a line
is a terminal of a strip, one at its end a binding post. Rings are filled in, so that lines run through them like through
a dot; left open, thinning would make a little loop of each.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from digitize.harness.place import Box, Point
from digitize.ink.holes import Hole, holes_of
from digitize.ink.state import Dot, TextBlock
from digitize.sheet.state import PX_PER_MM, to_mm

_HOLE = (0.2, 2.0)
"""Diameter of the paper inside a ring, mm."""
_LARGEST = 1.6
"""Largest outer radius of a ring, mm: beyond, a circle is a part."""
_ROUND = (0.6, 0.95)
"""Share of its box that a round hole fills: a disc 0.79, less on rough ink; a square between four wires fills 1."""
_STEPS = 72
_WITHIN, _OUTSIDE, _MET = 0.85, 1.2, 1.25
"""Shares of a ring's radius: there is ink between its lines here, none here, and ink here where a line meets it."""
_NO_CORNER = 1.12
"""The same between its lines, where its hole is square: a square reaches 1.3 times as far at its corners as at its sides."""
_CORNERS = np.pi / 4 + np.arange(4) * np.pi / 2
"""Between the lines that meet a ring level and upright, radians."""
_CORNER, _LINE = 2, 0.3
"""So many lines meet the ring at the corner of a wire, and are lines so far beyond where it is met, mm."""
_CODE, _BESIDE = 6.0, 1.4
"""Lettering at least so long may interrupt a line, and stands at most so far from the ring where the line begins, mm."""
_LEVEL, _CLEAR, _FAR = 0.5, 0.3, 3.0
"""The line goes on level with the ring within so much, from so near to so far behind the lettering, mm."""


@dataclass(frozen=True, slots=True, eq=False)
class Ring:
    """A ring: its middle (sheet mm), outer radius (mm), how many lines lead away from it (1 to 5), its hole's outline, px."""

    at: Point
    radius: float
    arms: int
    hole: NDArray[np.int32]


def fill_rings(ink: NDArray[np.uint8], rings: tuple[Ring, ...]) -> None:
    """Fill the rings with ink, in place. ``ink``: uint8 (H, W), 255 = line ink."""
    for ring in rings:
        cv2.drawContours(ink, [ring.hole], -1, 255, -1)


def find_rings(ink: NDArray[np.uint8], holes: tuple[Hole, ...] | None = None) -> tuple[Ring, ...]:
    """Small round holes that lines lead to, in reading order.

    ``ink``: uint8 (H, W), 255 = line ink without lettering and symbols; ``holes``: its holes where they are known.
    """
    found: list[Ring] = []
    for each in holes_of(ink) if holes is None else holes:
        contour, x, y, w, h = each.outline, each.x - 1, each.y - 1, each.width, each.height
        if not (
            _HOLE[0] * PX_PER_MM <= min(w, h) and max(w, h) <= _HOLE[1] * PX_PER_MM and max(w, h) <= 1.6 * min(w, h)
        ):
            continue
        inside = np.zeros((h + 2, w + 2), np.uint8)
        cv2.drawContours(inside, [contour - (x, y)], -1, 255, -1)
        hole = cv2.subtract(inside, ink[y : y + h + 2, x : x + w + 2])
        share = float(cv2.countNonZero(inside[1:-1, 1:-1])) / (w * h)
        if cv2.countNonZero(hole) == 0 or not _ROUND[0] <= share <= 1.0:
            continue
        cx, cy = x + 1 + (w - 1) / 2, y + 1 + (h - 1) / 2
        told = _ring_at(ink, cx, cy, max(w, h) / 2)
        # the hole of a small ring in few pixels is as good as square
        if told is not None and (
            not _is_square(inside[1:-1, 1:-1]) or _is_round(ink, cx, cy, told[0] * PX_PER_MM, _NO_CORNER)
        ):
            found.append(Ring(to_mm(cx, cy), *told, contour))
    return tuple(sorted(found, key=lambda r: (r.at[1], r.at[0])))


def _is_square(inside: NDArray[np.uint8]) -> bool:
    """True for a hole that reaches into three corners of its box: paper between wires, not within a ring."""
    h, w = inside.shape
    k = max(1, round(0.13 * min(h, w)))
    corners = (inside[:k, :k], inside[:k, -k:], inside[-k:, :k], inside[-k:, -k:])
    return min(h, w) >= 5 and sum(bool(c.mean() > 128) for c in corners) >= 3


def _is_round(ink: NDArray[np.uint8], cx: float, cy: float, radius: float, outside: float) -> bool:
    """True where a ring of ``radius`` px round (cx, cy) has no corners: ink within, none at ``outside`` times its radius."""
    return all(
        _dark(ink, cx, cy, corner, _WITHIN * radius) and not _dark(ink, cx, cy, corner, outside * radius)
        for corner in _CORNERS
    )


def _dark(ink: NDArray[np.uint8], cx: float, cy: float, angle: float, reach: float) -> bool:
    """Whether there is ink ``reach`` px from (cx, cy) at ``angle``, radians."""
    x, y = round(cx + reach * float(np.cos(angle))), round(cy + reach * float(np.sin(angle)))
    return 0 <= x < ink.shape[1] and 0 <= y < ink.shape[0] and bool(ink[y, x] > 0)


def _ring_at(ink: NDArray[np.uint8], cx: float, cy: float, hole: float) -> tuple[float, int] | None:
    """Outer radius (mm) and lines at the ring round a hole of ``hole`` px about (cx, cy); None when it is no such ring."""
    angles = np.linspace(0, 2 * np.pi, _STEPS, endpoint=False)
    reach = np.arange(hole, (_LARGEST + 0.5) * PX_PER_MM, 0.5)
    xs = np.rint(cx + np.outer(np.cos(angles), reach)).astype(int)
    ys = np.rint(cy + np.outer(np.sin(angles), reach)).astype(int)
    inside = (xs >= 0) & (ys >= 0) & (xs < ink.shape[1]) & (ys < ink.shape[0])
    dark = np.zeros(xs.shape, np.bool_)
    dark[inside] = ink[ys[inside], xs[inside]] > 0
    begun = np.logical_or.accumulate(dark, axis=1)
    ended = begun & ~dark
    first = np.where(ended.any(axis=1), ended.argmax(axis=1), len(reach) - 1)
    outer = float(np.percentile(reach[first], 30))
    if outer > _LARGEST * PX_PER_MM:
        return None
    at = int(np.searchsorted(reach, min(reach[-1], 1.3 * outer + 0.25 * PX_PER_MM)))
    led = dark[:, min(at, len(reach) - 1)] & begun[:, min(at, len(reach) - 1)]
    if led.mean() > 0.6 or not led.any():
        return None
    arms = int((led & ~np.roll(led, 1)).sum())
    return (outer / PX_PER_MM, arms) if 1 <= arms <= 5 else None


def is_met_across(ink: NDArray[np.uint8], ring: Ring, *, upright: bool) -> bool:
    """True for a round ring that lines meet at opposite sides: above and below when ``upright``, else left and right.

    Bits of lines count that reach hardly farther than the ring: lettering may begin behind them. ``ink``: as for
    ``find_rings``.
    """
    sides = (-np.pi / 2, np.pi / 2) if upright else (np.pi, 0.0)
    cx, cy, r = _in_px(ring)
    return _is_round(ink, cx, cy, r, _OUTSIDE) and all(_meets(ink, ring, side, _MET * r) for side in sides)


def is_met_at_corner(ink: NDArray[np.uint8], ring: Ring, lines: NDArray[np.uint8]) -> bool:
    """True for a round ring that two lines meet at a right angle: a join at the corner of a wire, and no letter.

    ``ink``: as for ``find_rings``; ``lines``: the same, with long lines alone: a letter is met so by its neighbours' strokes.
    """
    cx, cy, r = _in_px(ring)
    if ring.arms != _CORNER or not _is_round(ink, cx, cy, r, _OUTSIDE):
        return False
    across, along = (
        any(_meets(lines, ring, side, _MET * r + _LINE * PX_PER_MM) for side in sides)
        for sides in ((-np.pi / 2, np.pi / 2), (np.pi, 0.0))
    )
    return across and along


def _in_px(ring: Ring) -> tuple[float, float, float]:
    return ring.at[0] * PX_PER_MM, ring.at[1] * PX_PER_MM, ring.radius * PX_PER_MM


def _meets(ink: NDArray[np.uint8], ring: Ring, side: float, reach: float) -> bool:
    """Whether there is ink ``reach`` px from the middle of a ring at ``side``, radians, or a little aside."""
    cx, cy, _ = _in_px(ring)
    return any(_dark(ink, cx, cy, side + slip, reach) for slip in (-0.15, 0.0, 0.15))


def rings_before_codes(
    rings: tuple[Ring, ...], blocks: Sequence[TextBlock], ink: NDArray[np.uint8]
) -> tuple[Ring, ...]:
    """The rings, with one arm more where a line of lettering that interrupts a line begins right beside one.

    Of the stub between ring and lettering nothing is drawn then. ``ink``: as for ``find_rings``.
    """
    codes = [(b.box, b.angle in (0, 180)) for b in blocks if max(b.box.width, b.box.height) > _CODE]
    return tuple(
        replace(r, arms=r.arms + sum(is_interrupted(r.at, r.radius, box, ink, flat=flat) for box, flat in codes))
        for r in rings
    )


def is_interrupted(at: Point, radius: float, code: Box, ink: NDArray[np.uint8], *, flat: bool) -> bool:
    """True when lettering stands level with a join right beside it, and a line ends level with it at the far end.

    ``at``, ``radius``: the middle of the join and how far it reaches along the line, mm; ``code``: the block of lettering;
    ``flat``: it reads along x; ``ink``: uint8 (H, W) at PX_PER_MM, 255 = line ink.
    """
    along, across = at if flat else (at[1], at[0])
    (low, high), (top, foot) = ((code.x0, code.x1), (code.y0, code.y1))[:: 1 if flat else -1]
    if not top <= across <= foot:
        return False
    lines = ink if flat else ink.T
    rows = slice(round((across - _LEVEL) * PX_PER_MM), round((across + _LEVEL) * PX_PER_MM) + 1)
    for gap, (start, stop) in (
        (low - along - radius, (high + _CLEAR, high + _FAR)),
        (along - radius - high, (low - _FAR, low - _CLEAR)),
    ):
        beyond = lines[rows, max(0, round(start * PX_PER_MM)) : max(0, round(stop * PX_PER_MM))]
        if -_CLEAR <= gap <= _BESIDE and beyond.size and (beyond > 0).any(axis=0).mean() > 0.3:
            return True
    return False


def with_rings(dots: tuple[Dot, ...], rings: tuple[Ring, ...], sure: float = 0.88) -> tuple[Dot, ...]:
    """The dots of a sheet with its rings: one where three lines or more meet is a dot, any other is none."""
    kept = [
        d for d in dots if not any(_apart(d.at, r.at) <= r.radius + 0.2 and d.diameter <= 2.6 * r.radius for r in rings)
    ]
    kept += [Dot(r.at, 2 * r.radius, sure) for r in rings if r.arms >= 3]
    return tuple(sorted(kept, key=lambda d: (d.at[1], d.at[0])))


def _apart(a: Point, b: Point) -> float:
    return float(np.hypot(a[0] - b[0], a[1] - b[1]))
