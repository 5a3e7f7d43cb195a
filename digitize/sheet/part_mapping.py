"""Where a joined sheet comes from: the scanned parts it was put together of, and the way to each part's own pixels."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from digitize.sheet.mapping import Matrix, SheetMapping


@dataclass(frozen=True, slots=True)
class PartOfSheet:
    """One scanned part of a sheet.

    Attributes:
        file: name of its file, without folder; ``page`` is the 0-based page in it.
        width, height: of the part, px.
        matrix: px of the joined picture → px of the part, both with pixel centres at whole numbers.
    """

    file: str
    page: int
    width: int
    height: int
    matrix: Matrix

    def to_part(self, mapping: SheetMapping, points: NDArray[np.float64]) -> NDArray[np.float64]:
        """Sheet mm (n, 2) → px (n, 2) of this part; ``mapping`` is that of the joined sheet. Outside the part they go on."""
        return SheetMapping(self.matrix).to_scan(mapping.to_scan(points))

    def to_sheet(self, mapping: SheetMapping, points: NDArray[np.float64]) -> NDArray[np.float64]:
        """Px (n, 2) of this part → sheet mm (n, 2); the exact inverse of ``to_part``."""
        return mapping.to_sheet(SheetMapping(self.matrix).to_sheet(points))

    def shows(self, mapping: SheetMapping, point: tuple[float, float]) -> bool:
        """True when ``point`` (sheet mm) lies on this part."""
        x, y = self.to_part(mapping, np.array([point], dtype=np.float64))[0]
        return bool(-0.5 <= x <= self.width - 0.5 and -0.5 <= y <= self.height - 0.5)
