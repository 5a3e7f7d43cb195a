"""The full stop behind a numbered note, which the reader overlooks under the arm of a last letter or in worn print."""

from __future__ import annotations

import re
from collections.abc import Sequence

import cv2
import numpy as np

from digitize.reading.engines import Grey
from digitize.sheet.ranked import percentile

NOTE = re.compile(r"^\d{1,2}\. (?:\S+ ){2,}\S*[A-Z]{2}$")
"""A numbered sentence without its full stop. Behind a name or a code what stands at the foot is dirt as likely as a point."""
ENDED = re.compile(r"^\d{1,2}\. (?:\S+ ){2,}\S*[A-Z]{2}\.$")
SMALLEST, LARGEST = 0.09, 0.32
"""Sides of a point, in letter heights (common practice, no source)."""
LONGEST = 1.6
"""A point is at most so much longer than wide."""
ON_FOOT = 0.12
"""It stands on the foot line, within so many letter heights."""
_LETTER = 0.6


def without_points(texts: Sequence[str], crops: Sequence[Grey]) -> list[int]:
    """Positions of the notes that lost their full stop: it is drawn behind one of them, or was read behind another.

    ``crops``: upright, each of the line of its text alone. Notes of one sheet end alike (common practice, no source).
    """
    notes = [k for k, text in enumerate(texts) if NOTE.match(text)]
    drawn = [k for k in notes if ends_in_point(crops[k])]
    return notes if drawn or any(ENDED.match(text) for text in texts) else []


def ends_in_point(crop: Grey) -> bool:
    """True when one point of ink stands on the foot line at the end of ``crop``, an upright line of lettering."""
    light, dark = percentile(crop, 85), percentile(crop, 2)
    ink = (crop < (float(light) + float(dark)) / 2).astype(np.uint8)
    # only the end matters, as far as its last letters and the room behind them
    ink = np.ascontiguousarray(ink[:, max(0, ink.shape[1] - 6 * ink.shape[0]) :])
    count, _, stats, _ = cv2.connectedComponentsWithStats(ink, connectivity=8)
    x, y, w, h = (stats[1:count, c].astype(np.float64) for c in range(4))
    letter = h >= _LETTER * h.max() if len(h) else np.zeros(0, np.bool_)
    if not letter.any():
        return False
    tall, foot = float(np.median(h[letter])), float(np.median((y + h)[letter]))
    end = float((x + w)[letter].max())
    least, most = np.minimum(w, h), np.maximum(w, h)
    point = (least >= SMALLEST * tall) & (most <= LARGEST * tall) & (most <= LONGEST * least)
    point &= (abs(y + h - foot) < ON_FOOT * tall) & (x + w >= end - 0.1 * tall)
    return int(point.sum()) == 1
