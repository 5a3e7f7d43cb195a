"""Draw a page flat: from scan px through a mapping to px of the flat picture. Large pages are drawn in strips."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from digitize.sheet.mapping import SheetMapping, as_matrix
from digitize.sheet.state import PX_PER_MM

Matrix = NDArray[np.float64]
Shrunk = tuple[NDArray[np.uint8], Matrix]

_STRIP_ROWS = 128
"""Few enough that a strip's places stay in the processor's cache."""

_HALVE_FROM = 2.0
"""A scan that is so many times too fine, or more, is halved first (``halved``)."""

_GRID_PX = 16
"""The bow of a curled page is worked out exactly every so many px and interpolated between (error < 0.01 px)."""


def turned(grey: NDArray[np.uint8], quarter_turns: int) -> NDArray[np.uint8]:
    """The picture turned clockwise by quarter turns."""
    return np.ascontiguousarray(np.rot90(grey, -quarter_turns)) if quarter_turns % 4 else grey


def turned_to_scan(shape: tuple[int, int], quarter_turns: int) -> Matrix:
    """Matrix from px of ``turned(grey, quarter_turns)`` to px of ``grey``, whose shape (H, W) is given."""
    height, width = shape
    matrices = (
        [[1, 0, 0], [0, 1, 0], [0, 0, 1]],
        [[0, 1, 0], [-1, 0, height - 1], [0, 0, 1]],
        [[-1, 0, width - 1], [0, -1, height - 1], [0, 0, 1]],
        [[0, -1, width - 1], [1, 0, 0], [0, 0, 1]],
    )
    return np.array(matrices[quarter_turns % 4], dtype=np.float64)


def warp(grey: NDArray[np.uint8], matrix: Matrix, width: float, height: float, per_mm: float) -> NDArray[np.uint8]:
    """A page of ``width`` × ``height`` mm at ``per_mm`` px/mm; ``matrix`` sheet mm → scan px. Outside the scan: white."""
    return warp_shrunk(shrunk(grey, matrix, width, height, per_mm), matrix, width, height, per_mm)


def shrunk(grey: NDArray[np.uint8], matrix: Matrix, width: float, height: float, per_mm: float) -> Shrunk:
    """The scan at about ``per_mm``, to be drawn from several times, and the matrix scan px → px of it."""
    return _shrunk(grey, scan_scale(matrix, width, height), per_mm)


def warp_shrunk(source: Shrunk, matrix: Matrix, width: float, height: float, per_mm: float) -> NDArray[np.uint8]:
    """What ``warp`` gives, from a scan that was shrunk before."""
    small, shrink = source
    total = shrink @ matrix @ np.linalg.inv(_to_px(per_mm))
    size = (max(1, round(width * per_mm)), max(1, round(height * per_mm)))
    flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    return np.asarray(cv2.warpPerspective(small, total, size, flags=flags, borderValue=255), dtype=np.uint8)


def flat_picture(
    grey: NDArray[np.uint8], mapping: SheetMapping, width: float, height: float, per_mm: float = PX_PER_MM
) -> NDArray[np.uint8]:
    """The page at ``per_mm`` px/mm through the whole mapping, bows too."""
    matrix = np.array(mapping.matrix)
    if mapping.bow_x is None and mapping.bow_y is None:
        return warp(grey, matrix, width, height, per_mm)
    source, shrink = _shrunk(grey, scan_scale(matrix, width, height), per_mm)
    w, h = max(1, round(width * per_mm)), max(1, round(height * per_mm))
    out = np.empty((h, w), np.uint8)
    # node j of the grid stands in the middle of its cell, one cell before the strip to one after it: enlarged, it is there
    columns = np.arange(-_GRID_PX, w + _GRID_PX, _GRID_PX) + (_GRID_PX - 1) / 2
    cells = _STRIP_ROWS // _GRID_PX + 2
    full = np.empty((cells * _GRID_PX, len(columns) * _GRID_PX, 2), np.float32)
    for top in range(0, h, _STRIP_ROWS):
        rows = min(_STRIP_ROWS, h - top)
        lines = top + (np.arange(cells) - 0.5) * _GRID_PX - 0.5
        x, y = np.meshgrid(columns, lines)
        at = mapping.to_scan(np.column_stack([(x.ravel() + 0.5) / per_mm, (y.ravel() + 0.5) / per_mm]))
        at = at * (shrink[0, 0], shrink[1, 1]) + (shrink[0, 2], shrink[1, 2])
        grid = at.reshape(len(lines), len(columns), 2).astype(np.float32)
        cv2.resize(grid, full.shape[1::-1], dst=full, interpolation=cv2.INTER_LINEAR)
        here = full[_GRID_PX : _GRID_PX + rows, _GRID_PX : _GRID_PX + w]
        cv2.remap(source, here, None, cv2.INTER_LINEAR, dst=out[top : top + rows], borderValue=255)
    return out


def scan_scale(matrix: Matrix, width: float, height: float) -> float:
    """Scan px per sheet mm in the middle of the page."""
    middle = np.array([[width / 2, height / 2], [width / 2 + 1, height / 2], [width / 2, height / 2 + 1]])
    p = SheetMapping(as_matrix(matrix)).to_scan(middle)
    return float(np.linalg.norm(p[1] - p[0]) + np.linalg.norm(p[2] - p[0])) / 2


def _to_px(per_mm: float) -> Matrix:
    """Sheet mm → flat px at ``per_mm``."""
    return np.array([[per_mm, 0, -0.5], [0, per_mm, -0.5], [0, 0, 1.0]])


def _shrunk(grey: NDArray[np.uint8], scan_px_per_mm: float, per_mm: float) -> tuple[NDArray[np.uint8], Matrix]:
    """The scan area-averaged to about the wanted scale, and the matrix scan px → px of that picture."""
    factor = scan_px_per_mm / per_mm
    if factor <= 1.3:
        return grey, np.eye(3)
    before = np.eye(3)
    while factor >= _HALVE_FROM and min(grey.shape) >= 4:
        grey, factor = halved(grey), factor / 2
        before = _scaled(0.5, 0.5) @ before
    h, w = max(1, round(grey.shape[0] / factor)), max(1, round(grey.shape[1] / factor))
    small = cv2.resize(grey, (w, h), interpolation=cv2.INTER_AREA)
    return small, _scaled(w / grey.shape[1], h / grey.shape[0]) @ before


def halved(grey: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """The picture at half its scale, each pixel the mean of four; an odd last row or column is left out.

    By two is ten times as quick as by any broken number, and what is left to do is a quarter of the work.
    """
    h, w = grey.shape[0] // 2, grey.shape[1] // 2
    return np.asarray(cv2.resize(grey[: 2 * h, : 2 * w], (w, h), interpolation=cv2.INTER_AREA), dtype=np.uint8)


def _scaled(fx: float, fy: float) -> Matrix:
    """Px of a picture → px of the same picture enlarged; pixel centres lie on whole numbers."""
    return np.array([[fx, 0, 0.5 * fx - 0.5], [0, fy, 0.5 * fy - 0.5], [0, 0, 1.0]])
