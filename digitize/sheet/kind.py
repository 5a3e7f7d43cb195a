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
    ink: NDArray[np.uint8], letters: Letters, level: list[Rule], upright: list[Rule], hints: SheetHints
) -> tuple[str, float]:
    """One of SHEET_KINDS and its probability. What the conventions say wins.

    ``ink`` and ``letters`` of the first look, ``level`` and ``upright`` its rules of 10 mm and more.
    """
    if hints.kind in SHEET_KINDS:
        return str(hints.kind), 0.99
    density = float(np.count_nonzero(ink)) / max(1, ink.size)
    rules = len(level) + len(upright)
    if density < 0.0005 or letters.pieces < 5:
        return "other", 0.7
    lettered = letters.in_lines > 0.12 and letters.across >= 10
    table = _alike(level)
    if lettered and len(level) >= 6 and len(upright) >= 2 and table > 0.6:
        return "chart", 0.9
    if rules >= 12 and len(upright) >= 5 and len(level) >= 5 and table < 0.4:
        return ("diagram", 0.9) if lettered else ("diagram" if density < 0.18 else "other", 0.5)
    if lettered and rules <= 20 and len(upright) <= 5:
        return ("index", 0.55) if letters.across > 500 or table < 0.2 else ("legend", 0.5)
    return "other", 0.6 if not lettered else 0.4


def _alike(rules: list[Rule]) -> float:
    """Share of the rules that begin and end where at least two others do."""
    if not rules:
        return 0.0
    ends = np.array([[r.start, r.end] for r in rules])
    same = (np.abs(ends[:, None, :] - ends[None, :, :]) < _ALIKE_MM).all(axis=2).sum(axis=1)
    return float((same >= 3).mean())
