"""The scan as a pyramid of tiles, so that the desk shows a 124-megapixel page at once."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from digitize.sheet.sources import load_pixels
from digitize.sheet.state import Scan

SIDE = 512
"""Side of a tile, px."""

QUALITY = 82
"""JPEG quality: lettering of 1.5 mm stays clean at 300 dpi (looked at), a page takes about a tenth of its pixels."""


@dataclass(frozen=True, slots=True)
class Pyramid:
    """What the desk must know of a sheet's tiles: the scan's ``width`` and ``height`` in px, the tiles' ``side`` in px.

    Level ``levels - 1`` is the scan itself, each level below it is half as large, level 0 fits one tile.
    """

    width: int
    height: int
    side: int
    levels: int


def pyramid_of(width: int, height: int, side: int = SIDE) -> Pyramid:
    """The pyramid of a scan of this size. Raises ValueError for an empty one."""
    if width < 1 or height < 1:
        raise ValueError(f"a scan of {width} x {height} px has no tiles")
    levels, longest = 1, max(width, height)
    while longest > side:
        longest = (longest + 1) // 2
        levels += 1
    return Pyramid(width, height, side, levels)


def cut_tiles(grey: NDArray[np.uint8], side: int = SIDE) -> Iterator[tuple[int, int, int, bytes]]:
    """(level, x, y, JPEG) of every tile of a uint8 (H, W) picture, the scan's own level first.

    Every tile is ``side`` by ``side`` px; what lies beyond the picture is white. Each level halves the one above exactly:
    an odd last row or column is doubled first, so that positions stay true to the pixel at every level.
    """
    layout = pyramid_of(grey.shape[1], grey.shape[0], side)
    picture = grey
    for level in range(layout.levels - 1, -1, -1):
        height, width = picture.shape[:2]
        for y in range(0, height, side):
            for x in range(0, width, side):
                part = picture[y : y + side, x : x + side]
                if part.shape != (side, side):
                    whole = np.full((side, side), 255, np.uint8)
                    whole[: part.shape[0], : part.shape[1]] = part
                    part = whole
                done, jpeg = cv2.imencode(".jpg", part, (cv2.IMWRITE_JPEG_QUALITY, QUALITY))
                assert done
                yield level, x // side, y // side, jpeg.tobytes()
        if level:
            even = cv2.copyMakeBorder(picture, 0, height % 2, 0, width % 2, cv2.BORDER_REPLICATE)
            half = ((width + 1) // 2, (height + 1) // 2)
            picture = np.asarray(cv2.resize(even, half, interpolation=cv2.INTER_AREA), dtype=np.uint8)


def pixels_of(name: str, content: bytes, page: int) -> NDArray[np.uint8]:
    """Page ``page`` (0-based) of a source file as uint8 grey (H, W), from its bytes as the manual keeps them.

    Raises PageUnreadable like ``sheet.sources.load_pixels``.
    """
    with tempfile.TemporaryDirectory(prefix="digitize-") as folder:
        path = Path(folder) / f"source{Path(name).suffix}"
        path.write_bytes(content)
        return load_pixels(Scan(Path(name).stem, str(path), page, "", None, ""))
