"""Filled dots: round blobs much thicker than the lines that reach them.

A plain crossing of two lines of one width is at its thickest 1.41 times as thick as they are (the diagonal of the
square they share); ink spread brings it to about 1.7. A splice dot is drawn at two to four times the line's width.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from digitize.harness.place import Point
from digitize.ink.state import Dot
from digitize.ink.thickness import Thickness
from digitize.sheet.ranked import median
from digitize.sheet.runs import patches_of
from digitize.sheet.state import PX_PER_MM, to_mm

_SMALLEST = 0.3 * PX_PER_MM
"""Smallest radius of a dot, px."""
_LARGEST = 1.8 * PX_PER_MM
"""Largest radius of a dot on usual lines, px."""
_ON_CABLES, _AS_THICK = 3.0 * PX_PER_MM, 3.2
"""On cables dots are as much larger as the cables are thicker: up to such a radius, px, and so many times their half width."""
_CABLE = 0.35 * PX_PER_MM
"""Half the width of a cable, at least, px."""
_AROUND, _OPPOSITE, _IN_LINE, _BOWED = 1.5, 30, 0.13, 0.22
"""So far out, in the blob's radius, arms are looked at: they may turn right behind it. Two are one line within so many degrees;
it leads to the middle of the blob, or past it, by so much of its radius."""
_EVEN = 1.8
"""Ratio of dot radius to line half width at which a dot and a fat crossing are equally likely."""
_ANOTHER_WAY = 0.08
"""Odds that a sheet whose joins are marked in one way marks one in another."""
_AS_LARGE, _STEEP = 0.9, 25.0
"""Share of the usual size from which on it speaks for a dot, and how fast: logarithm of odds for each time the usual size."""

_SOME = 3
"""Sure dots that tell the usual size, at least."""


class MeetingView(Protocol):
    """A second opinion on a spot of the sheet."""

    def probability(self, what: str, at: Point, reach: float = 0.6) -> float:
        """Probability 0..1 that there is ``what`` (``dot``, ``plain``, ``hop``, ``tee``) within ``reach`` mm of ``at``."""
        ...


def find_dots(
    ink: NDArray[np.uint8], radius: Thickness, seen: MeetingView | None = None, known: Sequence[Dot] = ()
) -> tuple[Dot, ...]:
    """Round blobs with lines running into them.

    Args:
        ink: uint8 (H, W), 255 = line ink without lettering and symbols.
        radius: how far the ink lies from the paper, px.
        seen: a second opinion; the odds of both are multiplied (independent evidence, Good 1950).
        known: joins that were found by another sign; they are not looked at again, and as one hand marks its joins in one
            way, other blobs are less likely to be marks.

    Returns: the other dots with their probability (0.4 and more), most of all by how much thicker than its lines the blob is.
    """
    found: list[Dot] = []
    agreed: list[float] = []
    for x, y, r in _peaks(radius):
        if any(math.dist(to_mm(x, y), d.at) < d.diameter for d in known):
            continue
        probability = _looks_like_dot(ink, radius, x, y, r)
        if seen is not None and probability > 0.02:
            other = seen.probability("dot", to_mm(x, y))
            if min(probability, other) > 0.5:
                agreed.append(2 * r / PX_PER_MM)
            probability = _with(probability, other)
        if known:
            probability = _ANOTHER_WAY * probability / (1 - probability + _ANOTHER_WAY * probability)
        if probability > 0.1:
            found.append(Dot(to_mm(x, y), 2 * r / PX_PER_MM, probability))
    sure = agreed if len(agreed) >= _SOME else [d.diameter for d in found if d.probability > 0.9]
    found = [d for d in _by_habit(found, sure) if d.probability >= 0.4]
    return tuple(sorted(found, key=lambda d: (d.at[1], d.at[0])))


def _with(own: float, other: float) -> float:
    """Probability from two opinions, each held back a little so that neither can overrule the other by itself."""
    logit = sum(math.log(p / (1 - p)) for p in (min(0.98, max(0.02, own)), min(0.97, max(0.03, other))))
    return 1 / (1 + math.exp(-logit))


def _by_habit(dots: list[Dot], sure: list[float]) -> list[Dot]:
    """Weigh doubtful blobs by the size of the sure dots, mm: a draughtsman uses one dot, or one for each line width.

    A doubtful blob well below the smallest usual dot is a fat crossing; one of the usual size is a dot. On a copy that ran,
    fat crossings alone are nearly as sure as dots; the dots of which both opinions are sure tell the size.
    """
    if len(sure) < _SOME:
        return dots
    usual = sorted(sure)[len(sure) // 4]
    out = []
    for d in dots:
        size = d.diameter / usual
        odds = d.probability / max(1e-6, 1 - d.probability) * math.exp(min(2.0, max(-4.0, _STEEP * (size - _AS_LARGE))))
        out.append(replace(d, probability=min(0.995, odds / (1 + odds))) if d.probability <= 0.9 or size < 0.8 else d)
    return out


def _peaks(radius: Thickness) -> list[tuple[float, float, float]]:
    """(x, y, radius) of the places where the ink is locally thickest, px."""
    thick = patches_of(radius.thick(_SMALLEST))
    out: list[tuple[float, float, float]] = []
    for i, spots in enumerate(thick.spots()):
        y, x = np.divmod(spots, radius.runs.shape[1])
        left = radius.at(spots)
        wide = max(thick.width[i], thick.height[i]) > 4 * PX_PER_MM
        floor = max(_SMALLEST, 1.35 * median(left)) if wide else 0.0
        for _ in range(40):
            top = float(left.max())
            if top <= floor or top <= 0:
                break
            near = left >= top - 0.35
            ny, nx = y[near], x[near]
            peak = int(np.argmin(np.hypot(ny - ny[0], nx - nx[0])))
            same = np.hypot(ny - ny[peak], nx - nx[peak]) <= top
            cy, cx = float(ny[same].mean()), float(nx[same].mean())
            if top <= _ON_CABLES:
                out.append((cx, cy, top))
            beyond = (y - cy) ** 2 + (x - cx) ** 2 > (2.2 * top) ** 2
            y, x, left = y[beyond], x[beyond], left[beyond]
            if not len(left):
                break
    return out


def _looks_like_dot(ink: NDArray[np.uint8], radius: Thickness, x: float, y: float, r: float) -> float:
    """Probability in 0..1 that the blob at (x, y) of inscribed radius r px is a dot on lines."""
    arm = _thickest_on_ring(radius, x, y, 2.1 * r + 1, 2.5 * r + 2)
    if arm <= 0 or r > max(_LARGEST, _AS_THICK * arm):
        return 0.0
    ratio = r / (arm + 0.15)
    widest = _widest_run(ink, x, y, 1.3 * r + 1)
    expected = 2 * math.degrees(math.asin(min(1.0, (arm + 0.8) / (1.3 * r + 1))))
    round_enough = 1 / (1 + math.exp((widest - expected - 32) / 6))
    if _has_corners(ink, x, y, r):
        round_enough *= 0.1
    if arm >= _CABLE and _is_bow(ink, x, y, r):
        return 0.0
    return round_enough / (1 + math.exp(-(ratio - _EVEN) * 12))


def _has_corners(ink: NDArray[np.uint8], x: float, y: float, r: float) -> bool:
    """True when ink reaches 1.25 r out on at least three diagonals: a filled square does, a disc does not."""
    d = (1.22 * r + 0.7) / math.sqrt(2)
    at = [(round(y + sy * d), round(x + sx * d)) for sy in (-1, 1) for sx in (-1, 1)]
    return sum(bool(0 <= v < ink.shape[0] and 0 <= u < ink.shape[1] and ink[v, u]) for v, u in at) >= 3


def _is_bow(ink: NDArray[np.uint8], x: float, y: float, r: float) -> bool:
    """True for the bow of one cable over another: it is thick on one side of that cable only, and in line with the other.

    The cables of a dot both lead to its middle.
    """
    at = _AROUND * r + 1
    runs = _arcs(ink, x, y, at)
    off = sorted(
        abs(math.cos(math.radians(a - b) / 2)) * at / r
        for i, a in enumerate(runs)
        for b in runs[:i]
        if abs(abs(a - b) - 180) <= _OPPOSITE
    )
    return len(runs) == 4 and len(off) == 2 and off[0] <= _IN_LINE and off[1] >= _BOWED


def _arcs(ink: NDArray[np.uint8], x: float, y: float, at: float) -> list[float]:
    """Middles, degrees, of the unbroken arcs of ink on the circle of radius ``at`` px about (x, y)."""
    on, angles = _circle(ink, x, y, at, step=1)
    if on.all() or not on.any():
        return []
    start = int(np.argmin(on))
    turned = np.roll(on, -start)
    edges = np.diff(np.concatenate([[0], turned.astype(np.int8), [0]]))
    step = float(angles[1] - angles[0])
    middles = (np.nonzero(edges == 1)[0] + np.nonzero(edges == -1)[0] - 1) / 2 + start
    return [float(m * step % 360) for m in middles]


def _circle(
    ink: NDArray[np.uint8], x: float, y: float, at: float, step: int = 3
) -> tuple[NDArray[np.bool_], NDArray[np.int64]]:
    """Which places on a circle of radius ``at`` px about (x, y) are ink, and their angles, degrees, ``step`` apart."""
    angles = np.arange(0, 360, step)
    xs = np.clip(np.rint(x + at * np.cos(np.radians(angles))).astype(int), 0, ink.shape[1] - 1)
    ys = np.clip(np.rint(y + at * np.sin(np.radians(angles))).astype(int), 0, ink.shape[0] - 1)
    return ink[ys, xs] > 0, angles


def _thickest_on_ring(radius: Thickness, x: float, y: float, inner: float, outer: float) -> float:
    """Largest half width of the ink between two circles about (x, y), px; 0 when the ring is empty."""
    n = math.ceil(outer)
    x0, y0 = max(0, int(x) - n), max(0, int(y) - n)
    part = radius.part(slice(y0, int(y) + n + 1), slice(x0, int(x) + n + 1))
    yy, xx = np.ogrid[y0 : y0 + part.shape[0], x0 : x0 + part.shape[1]]
    distance = np.hypot(yy - y, xx - x)
    ring = part[(distance >= inner) & (distance <= outer)]
    return float(ring.max()) if ring.size else 0.0


def _widest_run(ink: NDArray[np.uint8], x: float, y: float, at: float) -> float:
    """Degrees covered by the longest unbroken arc of ink on the circle of radius ``at`` px about (x, y)."""
    on, _ = _circle(ink, x, y, at)
    if on.all():
        return 360.0
    if not on.any():
        return 0.0
    turned = np.roll(on, -int(np.argmin(on)))
    edges = np.diff(np.concatenate([[0], turned.astype(np.int8), [0]]))
    return float((np.nonzero(edges == -1)[0] - np.nonzero(edges == 1)[0]).max() * 3)
