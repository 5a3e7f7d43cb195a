"""Cut single lines of lettering out of a flat sheet, upright, with the outline around them painted out."""

from __future__ import annotations

from collections.abc import Sequence

import cv2
import numpy as np
from numpy.typing import NDArray

from digitize.harness.place import Box
from digitize.ink.state import Marks, TextBlock
from digitize.reading.engines import Grey
from digitize.sheet.ranked import percentile
from digitize.sheet.state import PX_PER_MM

MARGIN = 0.22
"""Room left around a block, as a share of its line height; the training crops have 0.05 to 0.6."""

LOWEST = 1.6
"""Least line height in mm: a lone dash or dot is cut with as much room as a small capital would need."""


def cut_all(marks: Marks) -> list[Grey]:
    """One upright crop for each of ``marks.texts``, in their order."""
    return cut_blocks(marks, marks.texts)


def cut_blocks(marks: Marks, blocks: Sequence[TextBlock]) -> list[Grey]:
    """One upright crop for each of ``blocks``, which need not be among ``marks.texts``."""
    usual = _usual_height(marks)
    return [
        cut(marks.sheet.grey, text.box, text.angle, outlines=_outlines(marks, text.box), least=usual) for text in blocks
    ]


def cut(grey: Grey, box: Box, angle: int, outlines: tuple[Box, ...] = (), least: float = LOWEST) -> Grey:
    """Cut ``box`` (sheet mm) out of ``grey`` (PX_PER_MM px per mm) and turn it so that it reads left to right.

    ``angle``: the direction the line reads in, degrees counter-clockwise (0, 90, 180, 270). ``outlines``: outer edges
    of ovals or boxes drawn around the text, which are painted with paper outside of the text's own box. ``least``: the
    least line height in mm that the crop is given. Parts beyond the sheet are paper.
    """
    across = box.width if angle % 180 else box.height
    height = max(across, least)
    margin = MARGIN * height
    grow = (height - across) / 2 + margin
    gx, gy = (grow, margin) if angle % 180 else (margin, grow)
    x0, y0 = round((box.x0 - gx) * PX_PER_MM), round((box.y0 - gy) * PX_PER_MM)
    x1, y1 = round((box.x1 + gx) * PX_PER_MM), round((box.y1 + gy) * PX_PER_MM)
    crop = _window(grey, x0, y0, max(x1, x0 + 4), max(y1, y0 + 4))
    if outlines:
        inner = (
            int(box.x0 * PX_PER_MM) - x0 - 1, int(box.y0 * PX_PER_MM) - y0 - 1,
            int(box.x1 * PX_PER_MM) - x0 + 2, int(box.y1 * PX_PER_MM) - y0 + 2,
        )  # fmt: skip
        for outline in outlines:
            crop = _without_outline(grey, crop, (x0, y0), outline, inner)
    return np.ascontiguousarray(np.rot90(crop, {0: 0, 90: -1, 180: 2, 270: 1}[angle % 360]))


def _window(grey: Grey, x0: int, y0: int, x1: int, y1: int) -> Grey:
    height, width = grey.shape
    out = np.full((y1 - y0, x1 - x0), 255, dtype=np.uint8)
    ax, ay, bx, by = max(x0, 0), max(y0, 0), min(x1, width), min(y1, height)
    if ax < bx and ay < by:
        out[ay - y0 : by - y0, ax - x0 : bx - x0] = grey[ay:by, ax:bx]
    return out


def _without_outline(
    grey: Grey, crop: Grey, at: tuple[int, int], outline: Box, inner: tuple[int, int, int, int]
) -> Grey:
    """``crop`` with the ink of ``outline`` painted out where it lies outside ``inner`` (px of the crop).

    The outline's ink is the piece of ink that spans the outline's whole box: any shape of oval, lozenge or box. Where no
    letter touches it, all of it goes; else what lies inside ``inner`` stays.
    """
    pad = 3
    ox, oy = int(outline.x0 * PX_PER_MM) - pad, int(outline.y0 * PX_PER_MM) - pad
    whole = _window(grey, ox, oy, int(outline.x1 * PX_PER_MM) + pad + 1, int(outline.y1 * PX_PER_MM) + pad + 1)
    dark = (whole < 150).astype(np.uint8)
    count, labels, stats, _ = cv2.connectedComponentsWithStats(dark, connectivity=8)
    ring = np.zeros_like(dark)
    for i in range(1, count):
        wide = stats[i, cv2.CC_STAT_WIDTH] >= 0.85 * (whole.shape[1] - 2 * pad)
        high = stats[i, cv2.CC_STAT_HEIGHT] >= 0.85 * (whole.shape[0] - 2 * pad)
        if wide and high:
            ring |= (labels == i).astype(np.uint8)
    ring = cv2.dilate(ring, np.ones((3, 3), np.uint8))
    mask = np.zeros(crop.shape, dtype=bool)
    dx, dy = ox - at[0], oy - at[1]
    ax, ay = max(dx, 0), max(dy, 0)
    bx, by = min(dx + ring.shape[1], crop.shape[1]), min(dy + ring.shape[0], crop.shape[0])
    if ax >= bx or ay >= by:
        return crop
    mask[ay:by, ax:bx] = ring[ay - dy : by - dy, ax - dx : bx - dx] > 0
    slack = min(inner[2] - inner[0], inner[3] - inner[1]) // 5
    if mask[inner[1] + slack : inner[3] - slack, inner[0] + slack : inner[2] - slack].any():  # letters hang on it
        mask[max(inner[1], 0) : inner[3], max(inner[0], 0) : inner[2]] = False
    out = crop.copy()
    out[mask] = int(percentile(crop, 90))
    return out


def _outlines(marks: Marks, box: Box) -> tuple[Box, ...]:
    """Outer edges of the ovals that stand around ``box``; one that is far larger than the text is not its outline."""
    return tuple(
        o.box
        for o in marks.ovals
        if o.box.holds(box.centre)
        and o.box.overlap(box) > 0.8 * box.width * box.height
        and o.box.width < 12 * box.width
    )


def _usual_height(marks: Marks) -> float:
    """Two thirds of the median line height on the sheet, mm, but at least ``LOWEST``: room for lone dashes and dots."""
    heights = [t.box.width if t.angle % 180 else t.box.height for t in marks.texts]
    return max(LOWEST, 0.66 * float(np.median(np.array(heights, dtype=np.float64)))) if heights else LOWEST


def contrast(crop: Grey) -> NDArray[np.float32]:
    """``crop`` as float32, paper near 0 and ink near 1 whatever the shades were; clipped to -0.3..1.3."""
    light, dark = percentile(crop, 85), percentile(crop, 2)
    spread = np.float32(max(float(light) - float(dark), 25.0))
    level: NDArray[np.float32] = (np.float32(light) - crop.astype(np.float32)) / spread
    return np.clip(level, np.float32(-0.3), np.float32(1.3), out=level)
