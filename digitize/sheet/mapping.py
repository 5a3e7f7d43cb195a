"""The exact mapping between sheet millimetres and scan pixels."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Matrix = tuple[tuple[float, float, float], tuple[float, float, float], tuple[float, float, float]]


@dataclass(frozen=True, slots=True)
class Bow:
    """How two opposite rules of a curled page leave the straight line; between and beyond them it is interpolated.

    For a bow along x: a sheet point (x, y) is moved in y by ``first(x) + (second(x) - first(x)) * t`` with
    ``t = (y - low) / (high - low)``, where ``first`` and ``second`` are polylines through ``at``. That is linear in y,
    so it has an exact inverse as long as ``|second - first| < high - low``. A bow along y is the same with x and y changed.

    Attributes:
        at: where the displacements are known, mm, rising, at least two.
        first, second: displacement along the rule at ``low`` and at ``high``, mm, one for each ``at``.
        low, high: where the two rules lie, mm, ``low < high``.
    """

    at: tuple[float, ...]
    first: tuple[float, ...]
    second: tuple[float, ...]
    low: float
    high: float

    def bend(self, along: NDArray[np.float64], across: NDArray[np.float64]) -> NDArray[np.float64]:
        """Flat ``across`` → bent ``across`` at places ``along``, mm."""
        shift, slope = self._terms(along)
        return np.asarray(across + shift + slope * (across - self.low), dtype=np.float64)

    def straighten(self, along: NDArray[np.float64], across: NDArray[np.float64]) -> NDArray[np.float64]:
        """The exact inverse of ``bend``."""
        shift, slope = self._terms(along)
        return np.asarray(self.low + (across - self.low - shift) / (1.0 + slope), dtype=np.float64)

    def _terms(self, along: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        first = np.interp(along, self.at, self.first)
        second = np.interp(along, self.at, self.second)
        return first, (second - first) / (self.high - self.low)


@dataclass(frozen=True, slots=True)
class SheetMapping:
    """Sheet mm → scan px (pixel centres at whole numbers, origin top left), exactly invertible.

    First ``bow_x`` (moves y, depends on x), then ``bow_y`` (moves x, depends on the moved y), then the projective
    ``matrix``. None for a page that lies flat.
    """

    matrix: Matrix
    bow_x: Bow | None = None
    bow_y: Bow | None = None

    def to_scan(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        """Sheet mm (n, 2) → scan px (n, 2)."""
        p = np.asarray(points, dtype=np.float64).reshape(-1, 2)
        x, y = p[:, 0], p[:, 1]
        if self.bow_x is not None:
            y = self.bow_x.bend(x, y)
        if self.bow_y is not None:
            x = self.bow_y.bend(y, x)
        return _project(np.array(self.matrix), np.column_stack([x, y]))

    def to_sheet(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        """Scan px (n, 2) → sheet mm (n, 2); the exact inverse of ``to_scan``."""
        p = _project(np.linalg.inv(np.array(self.matrix)), points)
        x, y = p[:, 0], p[:, 1]
        if self.bow_y is not None:
            x = self.bow_y.straighten(y, x)
        if self.bow_x is not None:
            y = self.bow_x.straighten(x, y)
        return np.column_stack([x, y])


def as_matrix(array: NDArray[np.float64]) -> Matrix:
    """A (3, 3) array as nested tuples, scaled so that the last entry is 1."""
    m = np.asarray(array, dtype=np.float64) / float(array[2, 2])
    rows = [(float(r[0]), float(r[1]), float(r[2])) for r in m]
    return (rows[0], rows[1], rows[2])


def _project(matrix: NDArray[np.float64], points: NDArray[np.float64]) -> NDArray[np.float64]:
    p = np.asarray(points, dtype=np.float64).reshape(-1, 2)
    q = np.column_stack([p, np.ones(len(p))]) @ matrix.T
    return np.asarray(q[:, :2] / q[:, 2:], dtype=np.float64)
