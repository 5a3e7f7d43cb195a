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
_MARGIN = 128
"""Rows that a strip sees beyond its own. Ink deeper than this (10 mm) is no line, and how deep it is does not matter."""


@dataclass(frozen=True, slots=True, eq=False)
class Thickness:
    """Distance to the paper, px, for every pixel of ink.

    Attributes:
        runs: the ink.
        values: float32, the distance at each pixel of ``runs`` in reading order.
        first: flat index of the first pixel of each run, and ``before`` the pixels in all runs before it.
    """

    runs: Runs
    values: NDArray[np.float32]
    first: Ints
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
        y0, y1, _ = rows.indices(self.runs.shape[0])
        x0, x1, _ = columns.indices(self.runs.shape[1])
        out = np.zeros((max(0, y1 - y0), max(0, x1 - x0)), np.float32)
        for run in range(*np.searchsorted(self.runs.row, (y0, y1))):
            a, b = max(x0, int(self.runs.start[run])), min(x1, int(self.runs.stop[run]))
            if a < b:
                at = int(self.before[run]) - int(self.runs.start[run])
                out[self.runs.row[run] - y0, a - x0 : b - x0] = self.values[at + a : at + b]
        return out


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
    return Thickness(runs, values, first, np.cumsum(length) - length)
