"""How far each pixel of ink lies from the paper: half the thickness of a line on its middle.

Kept for the ink alone: as a picture it would be the largest thing in memory.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from digitize.sheet.runs import Runs, runs_of

Ints = NDArray[np.int64]

_STRIP_ROWS = 1024
_MARGIN = 64
"""Rows that a strip sees beyond its own. Ink deeper than this (5 mm) is no line, and how deep it is does not matter."""


@dataclass(frozen=True, slots=True, eq=False)
class Thickness:
    """Distance to the paper, px, for every pixel of ink.

    Attributes:
        runs: the ink.
        values: float32, the distance at each pixel of ``runs`` in reading order.
        first, after: flat index of the first pixel of each run, and of the one after its last.
        before: pixels in all runs before it.
    """

    runs: Runs
    values: NDArray[np.float32]
    first: Ints
    after: Ints
    before: Ints

    def at(self, spots: Ints) -> NDArray[np.float32]:
        """The distance at flat indexes of the picture; all must be ink."""
        run = np.searchsorted(self.first, spots, side="right") - 1
        return np.asarray(self.values[self.before[run] + spots - self.first[run]])

    def thick(self, least: float) -> Runs:
        """Where the distance is at least ``least`` px."""
        spots = self.runs.spots()[self.values >= least]
        wide = self.runs.shape[1]
        breaks = np.flatnonzero((np.diff(spots) != 1) | (spots[1:] % wide == 0)) + 1
        heads = np.concatenate([[0], breaks]) if len(spots) else breaks
        row, start = np.divmod(spots[heads], wide)
        return Runs(self.runs.shape, row, start, start + np.diff(heads, append=len(spots)))

    def part(self, rows: slice, columns: slice) -> NDArray[np.float32]:
        """A piece of the picture as an array: the distance on ink, 0 on paper. Slices with a start and a stop, step 1."""
        wide = self.runs.shape[1]
        y0, y1, _ = rows.indices(self.runs.shape[0])
        x0, x1, _ = columns.indices(wide)
        out = np.zeros((max(0, y1 - y0), max(0, x1 - x0)), np.float32)
        if not out.size:
            return out
        heads = np.arange(y0, y1) * wide
        low, high = np.searchsorted(self.after, heads + x0, "right"), np.searchsorted(self.first, heads + x1, "left")
        run = _ranges(low, np.maximum(0, high - low))
        row, at = self.runs.row[run], self.before[run] - self.first[run]
        begin, end = np.maximum(self.first[run], row * wide + x0), np.minimum(self.after[run], row * wide + x1)
        length = end - begin
        place = (row - y0) * out.shape[1] + begin - row * wide - x0
        out.ravel()[_ranges(place, length)] = self.values[_ranges(begin + at, length)]
        return out


def _ranges(first: Ints, length: Ints) -> Ints:
    """The whole numbers of several ranges, one after the other."""
    before = np.cumsum(length) - length
    return np.asarray(np.arange(int(length.sum()), dtype=np.int64) + np.repeat(first - before, length))


def thickness_of(ink: NDArray[np.uint8], runs: Runs | None = None) -> Thickness:
    """Measure the ink of a picture (H, W; non-zero = ink) whose ``runs`` may be known already."""
    runs = runs_of(ink) if runs is None else runs
    height, width = ink.shape
    first = runs.row * width + runs.start
    length = runs.length
    spots = runs.spots()
    values = np.empty(len(spots), np.float32)
    tops = np.arange(0, height, _STRIP_ROWS)
    ends = np.searchsorted(spots, np.append(tops, height) * width)
    for top, a, b in zip(tops.tolist(), ends[:-1], ends[1:], strict=True):
        low = max(0, top - _MARGIN)
        strip = cv2.distanceTransform(ink[low : top + _STRIP_ROWS + _MARGIN], cv2.DIST_L2, 5)
        values[a:b] = strip.ravel()[spots[a:b] - low * width]
    return Thickness(runs, values, first, first + length, np.cumsum(length) - length)
