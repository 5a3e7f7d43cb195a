"""Bits of a fold: many lone dashes strewn along one level line of the page, hardly any lettering on it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from digitize.ink.lettering_pieces import Flags
from digitize.sheet.state import PX_PER_MM

LEAST = 6
"""So many dashes on one line are a fold, where less than a third as many strings stand on it (common practice, no source)."""
LEVEL = 0.4 * PX_PER_MM
SHARE = 1 / 3

Boxes = Sequence[tuple[float, float, float, float]]


def strewn(dashes: Boxes, strings: Boxes) -> Flags:
    """Which of ``dashes`` (x0, y0, x1, y1 in px; lone ones) are bits of one long level line.

    Dashes of a table stand level with its other cells: there ``strings`` (all other blocks) are on their line.
    """
    found = np.array(dashes, dtype=np.float64).reshape(-1, 4)
    others = np.array(strings, dtype=np.float64).reshape(-1, 4)
    middle = (found[:, 1] + found[:, 3]) / 2
    out = np.zeros(len(found), np.bool_)
    for k in range(len(found)):
        on = int((np.abs(middle - middle[k]) < LEVEL).sum())
        crossing = int(((others[:, 1] < middle[k]) & (others[:, 3] > middle[k])).sum())
        out[k] = on >= LEAST and crossing < SHARE * on
    return out
