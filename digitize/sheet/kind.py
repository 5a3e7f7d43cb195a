"""What kind of page it is, by the look of its drawing alone. Titles are read later and settle it."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from digitize.harness.place import Box
from digitize.sheet.frame import Rule
from digitize.sheet.state import SHEET_KINDS, SheetHints


def kind_of_page(
    ink: NDArray[np.uint8], frame: Box | None, level: list[Rule], upright: list[Rule], hints: SheetHints
) -> tuple[str, float]:
    """One of SHEET_KINDS and its probability. What the conventions say wins."""
    if hints.kind in SHEET_KINDS:
        return str(hints.kind), 0.99
    density = float(np.count_nonzero(ink[::4, ::4])) / max(1, ink[::4, ::4].size)
    if density < 0.001 or density > 0.35:
        return "other", 0.6
    if frame is not None:
        return "diagram", 0.85
    if len(level) >= 8 and len(upright) >= 2:
        return "chart", 0.6
    if len(level) <= 4 and not upright:
        return "index", 0.4
    return "other", 0.4
