"""Ink as runs: the unbroken stretches of each row, and the connected patches they make.

A page is nine tenths paper. Runs cost time and memory by the ink: no map of labels as large as four pages of pixels, and a
straight line is simply a long run. Labelling connected patches by runs is an old method (Rosenfeld and Pfaltz 1966 scan
pixel by pixel; He, Chao and Suzuki 2008 by runs).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

Ints = NDArray[np.int64]

_STRIP_ROWS = 1024


@dataclass(frozen=True, slots=True, eq=False)
class Runs:
    """Runs of ink in reading order, arrays of one entry a run.

    Attributes:
        shape: rows and columns of the picture.
        row: the run's row. ``start``, ``stop``: its first column and the column after its last.
    """

    shape: tuple[int, int]
    row: Ints
    start: Ints
    stop: Ints

    @property
    def length(self) -> Ints:
        """Pixels of each run."""
        return self.stop - self.start

    def __len__(self) -> int:
        return len(self.row)

    def only(self, keep: NDArray[np.bool_] | Ints) -> Runs:
        """The runs for which ``keep`` is True, or those of the numbers in it, in their order."""
        return Runs(self.shape, self.row[keep], self.start[keep], self.stop[keep])

    def spots(self) -> Ints:
        """Flat indexes of all pixels, run by run: rising when the runs stand in reading order."""
        length = self.length
        first = self.row * self.shape[1] + self.start
        before = np.cumsum(length) - length
        return np.asarray(np.arange(int(length.sum()), dtype=np.int64) + np.repeat(first - before, length))

    def drawn(self, value: int = 255) -> NDArray[np.uint8]:
        """The picture with ``value`` on the runs and 0 elsewhere."""
        out = np.zeros(self.shape, np.uint8)
        self.draw(out, value)
        return out

    def draw(self, picture: NDArray[np.uint8], value: int = 255) -> None:
        """Draw the runs into a picture of their shape, in place."""
        picture.ravel()[self.spots()] = value


@dataclass(frozen=True, eq=False)
class Patches:
    """Connected patches of ink (touching corners count), numbered by their first pixel in reading order.

    Attributes:
        runs: all runs, and ``owner`` the patch of each.
        x0, y0, x1, y1: bounding boxes, px, upper ends exclusive.
        area: pixels of ink.
    """

    runs: Runs
    owner: Ints
    x0: Ints
    y0: Ints
    x1: Ints
    y1: Ints
    area: Ints

    def __len__(self) -> int:
        return len(self.area)

    @property
    def width(self) -> Ints:
        """Extent along x, px."""
        return self.x1 - self.x0

    @property
    def height(self) -> Ints:
        """Extent along y, px."""
        return self.y1 - self.y0

    def only(self, keep: NDArray[np.bool_]) -> Runs:
        """The runs of the patches for which ``keep`` is True."""
        return self.runs.only(keep[self.owner])

    def spots(self) -> Iterator[Ints]:
        """The flat indexes of the pixels of each patch, rising."""
        first = self.runs.row * self.runs.shape[1] + self.runs.start
        for a, b in pairwise(self._first):
            mine = self._sorted[a:b]
            length = self.runs.length[mine]
            before = np.cumsum(length) - length
            yield np.arange(int(length.sum()), dtype=np.int64) + np.repeat(first[mine] - before, length)

    def crop(self, patch: int) -> NDArray[np.uint8]:
        """One patch alone, 1 = ink, uint8 of the size of its bounding box."""
        mine = self._sorted[self._first[patch] : self._first[patch + 1]]
        x0, y0 = int(self.x0[patch]), int(self.y0[patch])
        shape = int(self.height[patch]), int(self.width[patch])
        r = self.runs
        return Runs(shape, r.row[mine] - y0, r.start[mine] - x0, r.stop[mine] - x0).drawn(1)

    @cached_property
    def _sorted(self) -> Ints:
        return np.argsort(self.owner, kind="stable")

    @cached_property
    def _first(self) -> Ints:
        return np.concatenate([[0], np.cumsum(np.bincount(self.owner, minlength=len(self)))])


def stretches(line: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """Start and end (exclusive) of each unbroken stretch of ink on one row or column, (n,)."""
    edges = np.diff(np.concatenate([[0], line.astype(np.int8), [0]]))
    return list(zip(np.flatnonzero(edges == 1).tolist(), np.flatnonzero(edges == -1).tolist(), strict=True))


def runs_at(shape: tuple[int, int], rows: Ints, columns: Ints) -> Runs:
    """The runs of single pixels of a picture of ``shape``, given in reading order."""
    first = np.ones(len(rows), np.bool_)
    first[1:] = (np.diff(rows) != 0) | (np.diff(columns) != 1)
    last = np.append(first[1:], True)[: len(rows)]
    return Runs(shape, rows[first], columns[first], columns[last] + 1)


def runs_of(picture: NDArray[np.uint8] | NDArray[np.bool_]) -> Runs:
    """The runs of non-zero pixels of a picture (H, W)."""
    height, width = picture.shape
    rows, starts, stops = [], [], []
    wide = width + 2  # paper on both sides: every row begins and ends with it
    for top in range(0, height, _STRIP_ROWS):
        strip = picture[top : top + _STRIP_ROWS]
        padded = np.zeros((len(strip), wide), np.bool_)
        np.not_equal(strip, 0, out=padded[:, 1:-1])
        flat = padded.ravel()
        edges = np.flatnonzero(flat[1:] != flat[:-1])
        row, start = np.divmod(edges[::2], wide)
        rows.append(row + top)
        starts.append(start)
        stops.append(start + edges[1::2] - edges[::2])
    if not rows:
        none = np.zeros(0, np.int64)
        return Runs((height, width), none, none, none)
    return Runs((height, width), np.concatenate(rows), np.concatenate(starts), np.concatenate(stops))


def patches_of(runs: Runs) -> Patches:
    """The connected patches that runs make; two runs of neighbouring rows touch when they share a column or a corner."""
    from scipy.sparse import csr_array  # noqa: PLC0415  # scipy costs 0.2 s to import
    from scipy.sparse.csgraph import connected_components  # noqa: PLC0415

    n = len(runs)
    if not n:
        none = np.zeros(0, np.int64)
        return Patches(runs, none, none, none, none, none, none)
    wide = runs.shape[1] + 2
    first, after = runs.row * wide + runs.start, runs.row * wide + runs.stop
    low = np.searchsorted(after, first + wide, "left")
    high = np.searchsorted(first, after + wide, "right")
    count = np.maximum(0, high - low)
    ends = np.cumsum(count)
    below = np.arange(int(ends[-1]), dtype=np.int64) + np.repeat(low - (ends - count), count)
    links = csr_array((np.ones(len(below), np.int8), below, np.concatenate([[0], ends])), shape=(n, n))
    patches, label = connected_components(links, directed=False)
    owner = np.asarray(label, dtype=np.int64)
    order = np.argsort(owner, kind="stable")
    heads = np.concatenate([[0], np.cumsum(np.bincount(owner, minlength=patches))[:-1]])
    return Patches(
        runs,
        owner,
        np.minimum.reduceat(runs.start[order], heads),
        runs.row[order[heads]],
        np.maximum.reduceat(runs.stop[order], heads),
        np.maximum.reduceat(runs.row[order], heads) + 1,
        np.bincount(owner, runs.length, patches).astype(np.int64),
    )
