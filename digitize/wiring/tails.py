"""Whether the last word of a string stands in small letters: readers fold letters to capitals, the ink does not."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from digitize.harness.place import Box
from digitize.sheet.state import PX_PER_MM

_LEAST = 0.35
"""A piece of ink lower than this share of the line is a dot or dirt, no letter."""


def tail_height(ink: NDArray[np.uint8], box: Box, angle: int, text: str) -> float | None:
    """How high the letters of the last word are against those of the words before it; None when it cannot be told.

    ``ink``: uint8, 255 where ink, PX_PER_MM px per mm. ``box`` in sheet mm, ``angle`` as the line reads. Of the last word
    the lower quarter of its letters counts, so that ascenders do not hide small letters; of the first their middle.
    """
    head, _, tail = text.rpartition(" ")
    if not head or not tail:
        return None
    x0, y0 = max(0, int(box.x0 * PX_PER_MM)), max(0, int(box.y0 * PX_PER_MM))
    crop = ink[y0 : int(np.ceil(box.y1 * PX_PER_MM)), x0 : int(np.ceil(box.x1 * PX_PER_MM))]
    line = np.ascontiguousarray(np.rot90(crop, {0: 0, 90: -1, 180: 2, 270: 1}[angle % 360]))
    cut = _gap_near(line, (len(head) + 0.5) / len(text))
    if cut is None:
        return None
    first, last = _heights(line[:, :cut]), _heights(line[:, cut:])
    if len(first) < 2 or len(last) < 2:
        return None
    return float(np.quantile(last, 0.25) / np.median(first))


def _gap_near(line: NDArray[np.uint8], share: float) -> int | None:
    """Middle of the widest empty stretch within a fifth of the line's length around ``share`` of it, px."""
    width = line.shape[1]
    empty = np.logical_not((line > 0).any(axis=0)).reshape(-1)
    best: tuple[int, int] | None = None
    start: int | None = None
    for x in range(width + 1):
        if x < width and empty[x]:
            start = x if start is None else start
        elif start is not None:
            middle, wide = (start + x) // 2, x - start
            if abs(middle / width - share) < 0.2 and (best is None or wide > best[0]):
                best = (wide, middle)
            start = None
    return None if best is None else best[1]


def _heights(word: NDArray[np.uint8]) -> list[int]:
    """Heights of the letters of a word, px."""
    count, _, stats, _ = cv2.connectedComponentsWithStats((word > 0).astype(np.uint8), connectivity=8)
    high = [int(stats[k, cv2.CC_STAT_HEIGHT]) for k in range(1, count)]
    tall = max(high, default=0)
    return [h for h in high if h > _LEAST * tall]
