"""What kind of page it is, by the look of its drawing alone. Titles are read later and settle it."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from digitize.sheet.frame import Rule
from digitize.sheet.letters import Letters
from digitize.sheet.state import SHEET_KINDS, SheetHints

_ALIKE_MM = 1.5
"""Rules of a table begin and end at the same places, within this much."""


def kind_of_page(
    ink: NDArray[np.uint8],
    px_per_mm: float,
    letters: Letters,
    level: list[Rule],
    upright: list[Rule],
    hints: SheetHints,
) -> tuple[str, float]:
    """One of SHEET_KINDS and its probability. What the conventions say wins.

    ``ink`` (at ``px_per_mm``) and ``letters`` of the first look, ``level`` and ``upright`` its rules of 10 mm and more.
    """
    if hints.kind in SHEET_KINDS:
        return str(hints.kind), 0.99
    density = float(np.count_nonzero(ink)) / max(1, ink.size)
    height, width = ink.shape[0] / px_per_mm, ink.shape[1] / px_per_mm
    drawn = min(_length(level) / width, _length(upright) / height)
    if density < 0.0005 or letters.pieces < 5:
        return "other", 0.7
    lettered = letters.in_lines > 0.12 and letters.across >= 10
    table = _alike(level)
    if lettered and len(level) >= 6 and len(upright) >= 2 and table > 0.6:
        return "chart", 0.9
    if drawn > 2.0 and len(upright) >= 5 and len(level) >= 5 and table < 0.4:
        return ("diagram", 0.9) if lettered else ("diagram" if density < 0.18 else "other", 0.5)
    if lettered and drawn < 1.5:
        return ("index", 0.55) if table < 0.2 else ("legend", 0.5)
    return "other", 0.6 if not lettered else 0.4


def _alike(rules: list[Rule]) -> float:
    """Share of the rules that begin and end where at least two others do."""
    if not rules:
        return 0.0
    ends = np.array([[r.start, r.end] for r in rules])
    same = (np.abs(ends[:, None, :] - ends[None, :, :]) < _ALIKE_MM).all(axis=2).sum(axis=1)
    return float((same >= 3).mean())


def _length(rules: list[Rule]) -> float:
    """Length of all rules together, mm."""
    return sum(r.end - r.start for r in rules)
