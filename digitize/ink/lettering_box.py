"""Boxes of thin marks to parts of a pixel: a lone dash is two or three pixels high, so its ink mask alone is too coarse."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from digitize.sheet.ranked import percentile
from digitize.sheet.state import PX_PER_MM

THIN = 0.9 * PX_PER_MM
"""A mark lower than this is measured on the grey picture, px."""
_AROUND = 4

PxBox = tuple[float, float, float, float]


def tight_box(grey: NDArray[np.uint8], box: PxBox) -> PxBox:
    """``box`` (x0, y0, x1, y1 in px, ends exclusive) drawn in to where its mark is half as dark as in its middle.

    That is where the edge of a stroke lies under any blur that is even on both sides (half of the maximum, common
    practice, no source). Boxes that are no level dash come back as they are, and so does one whose mark has no clear edges.
    """
    x0, y0, x1, y1 = (int(v) for v in box)
    if y1 - y0 > THIN or x1 - x0 < 1.4 * (y1 - y0):
        return box
    ya, xa = max(0, y0 - _AROUND), max(0, x0 - _AROUND)
    crop = grey[ya : y1 + _AROUND, xa : x1 + _AROUND].astype(np.float64)
    if min(crop.shape) < 3:
        return box
    dark = np.clip(percentile(crop, 90) - crop, 0, None)
    across = _half_wide(dark[:, x0 - xa : x1 - xa].mean(axis=1), y0 - ya, y1 - ya)
    along = _half_wide(dark[y0 - ya : y1 - ya].mean(axis=0), x0 - xa, x1 - xa)
    top, foot = (ya + v for v in across) if across else (box[1], box[3])
    left, right = (xa + v for v in along) if along else (box[0], box[2])
    return left, top, right, foot


def _half_wide(profile: NDArray[np.float64], start: int, stop: int) -> tuple[float, float] | None:
    """Where ``profile`` rises through half of its height and falls through it again, px; None when it does not."""
    inner = profile[start:stop]
    half = percentile(inner, 75 if len(inner) > 8 else 100) / 2
    over = np.flatnonzero(inner >= half)
    if half <= 0 or not len(over):
        return None
    a, b = start + int(over[0]), start + int(over[-1])
    while a > 0 and profile[a - 1] >= half:
        a -= 1
    while b < len(profile) - 1 and profile[b + 1] >= half:
        b += 1
    if a == 0 or b == len(profile) - 1:
        return None
    rise = (half - profile[a - 1]) / max(1e-9, profile[a] - profile[a - 1])
    fall = (profile[b] - half) / max(1e-9, profile[b] - profile[b + 1])
    # the value of a pixel stands in its middle
    return a - 0.5 + float(rise), b + 0.5 + float(fall)
