"""Characters that lettering makes look alike, to spread a bare string over its likely misreadings."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from digitize.reading.alphabet import BLANK, CHARACTERS, WIDTH, column
from digitize.reading.engines import Frames

# Common practice, no source: groups that readers mix up in drawing lettering.
ALIKE = (
    "0OQD", "1I/LJT", "5S", "8B3", "2Z", "6GC", "UV", "VY", "MNHW", "EF", "PRFB", "KXH", "7T/1Z", "4A", "-.", ".,", ":.",
    "9G", "CG(", "+T", "*#", "'1", "()", "=-", "69", "68", "38",
)  # fmt: skip

_FLOOR = 1e-5


def frames_of(text: str, confidence: float) -> Frames:
    """Frames that say ``text`` letter by letter with ``confidence`` (0..1 for each letter).

    Half of the doubt goes to characters that look alike, a tenth to "no character here", the rest to all others.
    A blank row stands between letters; returns (2 n + 1, WIDTH) log probabilities.
    """
    sure = min(max(confidence, 0.05), 0.995)
    rows = [_blank_row()]
    for char in text:
        row = np.full(WIDTH, 0.4 * (1 - sure) / WIDTH)
        alike = sorted({c for group in ALIKE if char in group for c in group} - {char})
        for other in alike:
            row[column(other)] += 0.5 * (1 - sure) / len(alike)
        row[BLANK] += (0.1 if alike else 0.6) * (1 - sure)
        row[column(char)] += sure
        rows.extend((np.log(np.maximum(row / row.sum(), _FLOOR * _FLOOR)), _blank_row()))
    return np.asarray(rows, dtype=np.float32)


def _blank_row() -> NDArray[np.float64]:
    row = np.full(WIDTH, _FLOOR)
    row[BLANK] = 1 - _FLOOR * len(CHARACTERS)
    return np.asarray(np.log(row))
