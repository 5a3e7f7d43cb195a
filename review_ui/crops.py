"""A part of a scan as one picture, put together from its tiles."""

from __future__ import annotations

import cv2
import numpy as np

from digitize.errors import NotFound
from digitize.harness.place import Box
from digitize.store.manual import Manual
from digitize.store.tiles import Pyramid
from review_ui.drawing import Pen, extent

CROP_LIMIT_PX = 1600
"""Longest side of a crop, px."""


def crop_of(manual: Manual, sheet: str, layout: Pyramid, pen: Pen, box: Box) -> bytes:
    """JPEG of ``box`` (sheet mm) of a sheet's scan. Raises NotFound when it lies outside."""
    area = extent(pen, [(sheet, box)], sheet)
    assert area is not None
    x0, y0 = max(0, int(area[0])), max(0, int(area[1]))
    x1, y1 = min(layout.width, int(area[2]) + 1), min(layout.height, int(area[3]) + 1)
    if x1 <= x0 or y1 <= y0:
        raise NotFound("That part lies outside the scan.", "Choose a box on the sheet.")
    level = layout.levels - 1
    while level > 0 and max(x1 - x0, y1 - y0) > CROP_LIMIT_PX:
        x0, y0, x1, y1, level = x0 // 2, y0 // 2, x1 // 2, y1 // 2, level - 1
    picture = np.full((y1 - y0, x1 - x0), 255, np.uint8)
    for ty in range(y0 // layout.side, (y1 - 1) // layout.side + 1):
        for tx in range(x0 // layout.side, (x1 - 1) // layout.side + 1):
            jpeg = manual.tile(sheet, level, tx, ty)
            tile = None if jpeg is None else cv2.imdecode(np.frombuffer(jpeg, np.uint8), cv2.IMREAD_GRAYSCALE)
            if tile is None:
                continue
            left, top = tx * layout.side, ty * layout.side
            ax, ay = max(x0, left), max(y0, top)
            bx, by = min(x1, left + tile.shape[1]), min(y1, top + tile.shape[0])
            if bx > ax and by > ay:
                picture[ay - y0 : by - y0, ax - x0 : bx - x0] = tile[ay - top : by - top, ax - left : bx - left]
    done, jpeg_out = cv2.imencode(".jpg", picture, (cv2.IMWRITE_JPEG_QUALITY, 88))
    assert done
    return jpeg_out.tobytes()
