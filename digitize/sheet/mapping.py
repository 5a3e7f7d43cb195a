"""The exact mapping between sheet millimetres and scan pixels."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Matrix = tuple[tuple[float, float, float], tuple[float, float, float], tuple[float, float, float]]


@dataclass(frozen=True, slots=True)
class SheetMapping:
    """A projective mapping sheet mm → scan px (pixel centres at whole numbers, origin top left)."""

    matrix: Matrix

    def to_scan(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        """Sheet mm (n, 2) → scan px (n, 2)."""
        return _project(np.array(self.matrix), points)

    def to_sheet(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        """Scan px (n, 2) → sheet mm (n, 2); the exact inverse of ``to_scan``."""
        return _project(np.linalg.inv(np.array(self.matrix)), points)


def _project(matrix: NDArray[np.float64], points: NDArray[np.float64]) -> NDArray[np.float64]:
    p = np.asarray(points, dtype=np.float64).reshape(-1, 2)
    q = np.column_stack([p, np.ones(len(p))]) @ matrix.T
    return np.asarray(q[:, :2] / q[:, 2:], dtype=np.float64)
