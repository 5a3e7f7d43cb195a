"""Parts of the scans for the printable sheet: cut out of the kept source files, made flat."""

from __future__ import annotations

from collections import OrderedDict

import cv2
import numpy as np
from numpy.typing import NDArray

from digitize.errors import NotFound
from digitize.harness.place import Box
from digitize.store.manual import Manual
from digitize.store.tiles import pixels_of

PX_PER_MM = 8.0
"""Resolution of what is cut out: about 200 dpi, enough to read lettering of 1.5 mm in print."""

PAGES_KEPT = 2
"""Decoded pages kept in memory; one A3 page at 300 dpi takes 17 MB."""


class ScanCrops:
    """``crop(sheet, box) → PNG bytes`` of one manual. Call it in page order: only the last pages stay decoded."""

    def __init__(self, manual: Manual) -> None:
        self._manual = manual
        self._pages = {r.id: r.page for r in manual.sheets()}
        self._pixels: OrderedDict[str, NDArray[np.uint8]] = OrderedDict()

    def __call__(self, sheet: str, box: Box) -> bytes | None:
        """The part ``box`` (sheet mm) of a sheet as a grey PNG; None for a sheet without a scan or facts."""
        facts = self._manual.facts(sheet)
        if facts is None or box.width <= 0 or box.height <= 0:
            return None
        try:
            scan = self._scan(sheet)
        except NotFound:
            return None
        wide, high = max(1, round(box.width * PX_PER_MM)), max(1, round(box.height * PX_PER_MM))
        x = box.x0 + (np.arange(wide) + 0.5) * box.width / wide
        y = box.y0 + (np.arange(high) + 0.5) * box.height / high
        at = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
        px = facts.mapping.to_scan(at).astype(np.float32).reshape(high, wide, 2)
        part = cv2.remap(
            scan, px[..., 0], px[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT,
            borderValue=(255.0,),
        )  # fmt: skip
        done, png = cv2.imencode(".png", part, (cv2.IMWRITE_PNG_COMPRESSION, 9))
        assert done
        return png.tobytes()

    def _scan(self, sheet: str) -> NDArray[np.uint8]:
        known = self._pixels.pop(sheet, None)
        if known is None:
            name, content = self._manual.source(sheet)
            known = pixels_of(name, content, self._pages[sheet])
        self._pixels[sheet] = known
        while len(self._pixels) > PAGES_KEPT:
            self._pixels.popitem(last=False)
        return known
