"""Zone labels told by their order: signs of one size, in line, at equal steps, that count on one by one.

A reader may be unsure of every single sign on a page unlike those it knows (an old map, a poor copy). That six signs in the
margin stand in one line at equal steps and read A to F is no accident all the same.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np

STEP_SHARE = 0.07
"""How far a label may stand off its place, as a share of the step from label to label."""

SIZE_SHARE = 0.2
"""How much labels of one page differ in height, as a share."""

IN_LINE_MM = 1.5
"""How far labels along one side may stand out of line with each other."""

SMALLEST_STEP_MM = 12.0

FEWEST_LABELS, FEWEST_VALUES = 5, 3
"""Labels on both sides together, and different ones among them, below which an order may be an accident."""


@dataclass(frozen=True, slots=True)
class Spot:
    """A sign in the margin: its side, its place along that side and outward from the frame (mm), its height (mm), and the
    place in the sequence that it stands for as read.
    """

    side: str
    at: float
    out: float
    height: float
    value: int


@dataclass(frozen=True, slots=True)
class Lattice:
    """Labels at equal steps: label ``value`` stands at ``origin + step * value`` mm (``step`` negative when they fall).

    ``spots``: which of the signs given belong to it. ``probability``: that it is no accident.
    """

    origin: float
    step: float
    lowest: int
    highest: int
    spots: tuple[int, ...]

    @property
    def probability(self) -> float:
        """Two signs can always be laid on equal steps; each further one makes an accident rarer."""
        return 1.0 - math.exp(-(len(self.spots) - 2) / 1.5)

    def borders(self, start: float, end: float, spots: Sequence[Spot]) -> list[float]:
        """Borders of the cells from ``start`` to ``end`` mm, midway between labels.

        What is left over at an end is a cell of its own when it is half as wide as the others, or when the next label in
        order stands in it; else it belongs to the last cell.
        """
        values = range(self.lowest, self.highest + 1)
        places = sorted(self.origin + self.step * v for v in values)
        width = abs(self.step)
        inner = [p + width / 2 for p in places[:-1]]
        low, high = (self.lowest, self.highest) if self.step > 0 else (self.highest, self.lowest)
        way = 1 if self.step > 0 else -1
        first, last = places[0] - width / 2, places[-1] + width / 2
        while low - way >= 0 and self._begins_a_cell(first - start, low - way, start, first, spots):
            inner.insert(0, first)
            first, low = first - width, low - way
        while high + way >= 0 and self._begins_a_cell(end - last, high + way, last, end, spots):
            inner.append(last)
            last, high = last + width, high + way
        return [start, *(b for b in inner if start + 1.0 < b < end - 1.0), end]

    def _begins_a_cell(self, room: float, value: int, low: float, high: float, spots: Sequence[Spot]) -> bool:
        if room > 0.5 * abs(self.step):
            return True
        if room < 0.2 * abs(self.step):
            return False
        usual = float(np.median([spots[i].height for i in self.spots]))
        return any(
            s.value == value and low < s.at < high and abs(s.height - usual) < 2 * SIZE_SHARE * usual for s in spots
        )


def lattice_of(spots: Sequence[Spot]) -> Lattice | None:
    """The equal steps on which most of the signs lie; None when no order is seen."""
    if len(spots) < FEWEST_LABELS:
        return None
    height = np.array([s.height for s in spots])
    best: tuple[int, float, Lattice] | None = None
    for one, two in combinations(range(len(spots)), 2):
        a, b = spots[one], spots[two]
        if abs(a.value - b.value) != 1 or abs(a.height - b.height) > SIZE_SHARE * max(a.height, b.height):
            continue
        step = (b.at - a.at) / (b.value - a.value)
        if abs(step) < SMALLEST_STEP_MM or (a.side == b.side and abs(a.out - b.out) > IN_LINE_MM):
            continue
        tall = (a.height + b.height) / 2
        alike = np.flatnonzero(np.abs(height - tall) < SIZE_SHARE * tall).tolist()
        found = _with_fellows(spots, alike, a.at - step * a.value, step)
        if found is not None:
            lattice, off = found
            if best is None or (len(lattice.spots), -off) > best[:2]:
                best = (len(lattice.spots), -off, lattice)
    return best[2] if best else None


def _with_fellows(spots: Sequence[Spot], alike: list[int], origin: float, step: float) -> tuple[Lattice, float] | None:
    """The steps fitted to all signs that lie on them, and how far they lie off, mm; None when these are too few."""
    at = np.array([spots[k].at for k in alike])
    value = np.array([spots[k].value for k in alike], dtype=np.float64)
    near: list[int] = []
    for _ in range(2):
        off = np.abs(at - origin - step * value)
        on = np.flatnonzero(off < STEP_SHARE * abs(step))
        near = _in_line(spots, {alike[i]: float(off[i]) for i in on})
        values = sorted({spots[k].value for k in near})
        if len(near) < FEWEST_LABELS or len(values) < FEWEST_VALUES or values[-1] - values[0] != len(values) - 1:
            return None
        fitted = np.polyfit([spots[k].value for k in near], [spots[k].at for k in near], 1)
        step, origin = float(fitted[0]), float(fitted[1])
        if abs(step) < SMALLEST_STEP_MM:
            return None
    off_mean = float(np.mean([abs(spots[k].at - origin - step * spots[k].value) for k in near]))
    return Lattice(origin, step, values[0], values[-1], tuple(near)), off_mean


def _in_line(spots: Sequence[Spot], off: dict[int, float]) -> list[int]:
    """Of the signs of each side (with how far each lies off its place) those that stand in one line, one for each value."""
    kept: list[int] = []
    for side in sorted({spots[k].side for k in off}):
        here = [k for k in off if spots[k].side == side]
        middle = max(here, key=lambda k: sum(abs(spots[k].out - spots[j].out) < IN_LINE_MM for j in here))
        nearest: dict[int, int] = {}
        for k in here:
            value = spots[k].value
            if abs(spots[k].out - spots[middle].out) < IN_LINE_MM and (
                value not in nearest or off[k] < off[nearest[value]]
            ):
                nearest[value] = k
        kept += nearest.values()
    return kept
