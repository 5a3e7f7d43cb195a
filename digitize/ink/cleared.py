"""Bodies taken out of the ink, so that only lines are left to follow."""

from __future__ import annotations

from collections.abc import Sequence

import cv2
import numpy as np
from numpy.typing import NDArray

from digitize.harness.place import Box
from digitize.ink.flags import FLAG
from digitize.ink.state import Symbol
from digitize.sheet.state import PX_PER_MM

_MM = PX_PER_MM
_CORNER, _OFF = 0.6, 0.35
"""At a corner of a box each of its two sides is ink for so long, mm, within so much of the box's edge."""
_DRAWN = 0.85
"""So much of that stretch of a side is ink."""
_RIM, _ROUND_RIM, _RIM_OF_FLAG = 0.35, 0.2, 0.1
"""The outline of a body reaches so far beyond its box, mm; less where lines may pass close by."""
_SQUARE = 3
"""A box has so many corners at least: at the fourth may be a letter, or wear."""


def clear_bodies(out: NDArray[np.uint8], bodies: Sequence[Symbol]) -> None:
    """Take the ink in the bodies of symbols out of ``out`` (uint8 (H, W), 255 = ink), in place.

    Wires pass close by the round corners of a connector drawn as an oval; one drawn as a box has square ones.
    """
    square = [body.kind != "connector" or has_corners(out, body.box) for body in bodies]
    for body, whole in zip(bodies, square, strict=True):
        x0, y0, x1, y1 = _pixels(body.box.grown(_RIM_OF_FLAG if body.kind == FLAG else _RIM if whole else _ROUND_RIM))
        if whole:
            out[y0:y1, x0:x1] = 0
            continue
        r = min(x1 - x0, y1 - y0) // 2
        cv2.rectangle(out, (x0 + r, y0), (x1 - r, y1), 0, -1)
        cv2.rectangle(out, (x0, y0 + r), (x1, y1 - r), 0, -1)
        for x in (x0 + r, x1 - r):
            for y in (y0 + r, y1 - r):
                cv2.circle(out, (x, y), r, 0, -1)


def has_corners(ink: NDArray[np.uint8], box: Box) -> bool:
    """True when the outline of a box turns square at most of its corners. ``ink``: uint8 (H, W), 255 = ink; ``box``: sheet mm."""
    corners = 0
    for x, right in ((box.x0, 1), (box.x1, -1)):
        for y, down in ((box.y0, 1), (box.y1, -1)):
            level = _cut(ink, (x, x + right * _CORNER), (y - _OFF, y + _OFF))
            upright = _cut(ink, (x - _OFF, x + _OFF), (y, y + down * _CORNER))
            corners += bool(
                level.size
                and upright.size
                and level.any(axis=0).mean() >= _DRAWN
                and upright.any(axis=1).mean() >= _DRAWN
                and _cut(ink, (x - _OFF, x + _OFF), (y - _OFF, y + _OFF)).any()
            )
    return corners >= _SQUARE


def _cut(ink: NDArray[np.uint8], across: tuple[float, float], down: tuple[float, float]) -> NDArray[np.uint8]:
    x0, x1, y0, y1 = (round(v * _MM) for v in (*sorted(across), *sorted(down)))
    return ink[max(0, y0) : y1 + 1, max(0, x0) : x1 + 1]


def _pixels(box: Box) -> tuple[int, int, int, int]:
    return (max(0, round(box.x0 * _MM)), max(0, round(box.y0 * _MM)), round(box.x1 * _MM), round(box.y1 * _MM))
