"""Connectors drawn as a ruled table: a head that holds the id, and below it a row of two cells for each way.

The detector was shown few of them and takes some for modules. The ruling itself is sure: a cell across the whole breadth,
rows of two cells as broad as half of it, all closed, and wires that end at the outer sides of the rows. A table of text has
no wires.
"""

from __future__ import annotations

from collections.abc import Sequence

import cv2
import numpy as np
from cv2.typing import MatLike
from numpy.typing import NDArray

from digitize.harness.place import Box
from digitize.ink.state import Symbol
from digitize.sheet.runs import stretches
from digitize.sheet.state import PX_PER_MM, to_mm

_WIDE, _HIGH = (3.5, 18.0), (1.2, 5.0)
"""Breadth and height of the head's paper, mm; its cells are at least as high as the least and no higher than the most."""
_FILLED = 0.9
"""The hull of a cell's paper fills so much of its bounding box: the letters in it may touch its sides."""
_LINE = 0.9
"""The ruling is at most so wide, mm."""
_LEVEL = 0.35
"""Sides that run on from cell to cell are off by so much at most, mm."""
_HALVES = 0.2
"""The two cells of a row differ by so much of their breadth at most."""
_BESIDE = (0.2, 0.7)
"""Where outside the outline its wires are looked at, mm."""
_REACHED = 0.5
"""Wires end at so many of the outer sides of the rows at least, and on both sides of the table."""
_SAME = 0.4
"""A symbol that shares so much of the area of both is the table."""
_CERTAIN, _BELIEVED = 0.9, 0.95

Mask = NDArray[np.uint8]
Patches = NDArray[np.int64]
"""(n, 4): first column and row, and the ones behind the last, px."""


def find_ruled_connectors(ink: Mask, enclosed: Sequence[MatLike]) -> tuple[Box, ...]:
    """Outer edges (sheet mm) of the tables of ways among the patches of paper that ink encloses.

    Args:
        ink: uint8 (H, W) at PX_PER_MM, 255 = all ink of the sheet.
        enclosed: ``holes.enclosed_in`` of the ink.
    """
    patches = _cells(enclosed)
    height, width = ink.shape
    out: list[Box] = []
    for upright in (False, True):
        turned = patches[:, [1, 0, 3, 2]] if upright else patches
        drawn = ink.T if upright else ink
        for flipped in (False, True):
            far = width if upright else height
            rows = turned.copy()
            if flipped:  # the head below its rows
                rows[:, 1], rows[:, 3] = far - turned[:, 3], far - turned[:, 1]
            for table in _tables(rows):
                if _is_wired(drawn[::-1] if flipped else drawn, table):
                    pen, (first, last) = _pen(table), (table[0], table[-1])
                    top, foot = int(first[1]), int(last[3])
                    if flipped:
                        top, foot = far - foot, far - top
                    box = Box(*to_mm(int(first[0]) - pen, top - pen), *to_mm(int(first[2]) + pen, foot + pen))
                    out.append(box.swapped() if upright else box)
    return tuple(out)


def with_ruled_connectors(symbols: Sequence[Symbol], tables: Sequence[Box]) -> tuple[Symbol, ...]:
    """The symbols with a connector for each table, in place of what it or one of its cells was taken for.

    What was taught, and a connector of which the detector is sure, stays.
    """
    kept = tuple(s for s in symbols if _is_told(s) or not any(_is_of(s.box, t) for t in tables))
    new = [t for t in tables if not any(_is_of(s.box, t) for s in kept)]
    return (*kept, *(Symbol("connector", t, _BELIEVED) for t in new))


def _is_told(symbol: Symbol) -> bool:
    return symbol.taught is not None or (symbol.kind == "connector" and symbol.probability >= _CERTAIN)


def _is_of(box: Box, table: Box) -> bool:
    """True for the box of a table, or of something in it."""
    shared, own = box.overlap(table), box.width * box.height
    return shared > 0.8 * own or shared > _SAME * (own + table.width * table.height - shared)


def _cells(enclosed: Sequence[MatLike]) -> Patches:
    """The four-sided patches of paper as large as a cell or a head."""
    least, most = _HIGH[0] * PX_PER_MM, _WIDE[1] * PX_PER_MM
    out = []
    for contour in enclosed:
        x, y, w, h = cv2.boundingRect(contour)
        fits = least <= min(w, h) - 2 and max(w, h) - 2 <= most
        if fits and cv2.contourArea(cv2.convexHull(contour)) >= _FILLED * (w - 1) * (h - 1):
            # the contour of a hole runs on the ink around it, one pixel outside the paper
            out.append((x + 1, y + 1, x + w - 1, y + h - 1))
    return np.array(out, np.int64).reshape(-1, 4)


def _tables(cells: Patches) -> list[Patches]:
    """The head and the rows of each table whose head lies above its rows; a row is as broad as the head."""
    wide, high = cells[:, 2] - cells[:, 0], cells[:, 3] - cells[:, 1]
    least, most = (v * PX_PER_MM for v in _WIDE)
    heads = np.flatnonzero((wide >= least) & (wide <= most) & (high <= _HIGH[1] * PX_PER_MM) & (wide > high))
    level = _LEVEL * PX_PER_MM
    out = []
    for k in heads:
        x0, _, x1, _ = cells[k]
        half = wide < 0.6 * (x1 - x0)
        left = _column(cells[half & (abs(cells[:, 0] - x0) <= level)], cells[k])
        right = _column(cells[half & (abs(cells[:, 2] - x1) <= level)], cells[k])
        # a rule between two cells that wore through makes one of them, on one side
        feet = [int(a[3]) for a in left if any(abs(a[3] - b[3]) <= level for b in right)]
        if not feet or not _are_halves(left[0], right[0]):
            continue
        rows = max((left, right), key=lambda side: sum(bool(c[3] <= max(feet) + level) for c in side))
        rows = [c for c in rows if c[3] <= max(feet) + level]
        if all(c[3] - c[1] <= _HIGH[1] * PX_PER_MM for c in rows):
            out.append(np.array([cells[k], *((x0, c[1], x1, c[3]) for c in rows)]))
    return out


def _column(cells: Patches, head: NDArray[np.int64]) -> list[NDArray[np.int64]]:
    """Those of the cells that stand one below the other from the head down."""
    out: list[NDArray[np.int64]] = []
    foot = head[3]
    for cell in cells[np.argsort(cells[:, 1])]:
        if cell[1] > foot and cell[1] - foot <= _LINE * PX_PER_MM:
            out.append(cell)
            foot = cell[3]
    return out


def _are_halves(left: NDArray[np.int64], right: NDArray[np.int64]) -> bool:
    """True when two cells beside each other are as broad, with one rule between them."""
    broad, other = left[2] - left[0], right[2] - right[0]
    return bool(abs(broad - other) <= _HALVES * other and 0 < right[0] - left[2] <= _LINE * PX_PER_MM)


def _pen(table: Patches) -> int:
    """How broad the ruling between the head and the first row is, px."""
    return int(table[1, 1] - table[0, 3])


def _is_wired(ink: Mask, table: Patches) -> bool:
    """True when wires end at the outer sides of enough rows, on both sides."""
    near, far = (round(v * PX_PER_MM) for v in _BESIDE)
    pen, left, right = _pen(table), 0, 0
    for x0, y0, x1, y1 in table[1:]:
        left += _has_a_line(ink[y0:y1, max(0, x0 - pen - far) : max(0, x0 - pen - near)])
        right += _has_a_line(ink[y0:y1, x1 + pen + near : x1 + pen + far])
    return min(left, right) > 0 and left + right >= _REACHED * 2 * (len(table) - 1)


def _has_a_line(strip: Mask) -> bool:
    """True when one level line, no broader than a wire is, crosses a strip beside a cell."""
    rows = (strip > 0).mean(axis=1) > 0.8 if strip.size else np.zeros(0, np.bool_)
    return bool(len(stretches(rows)) == 1 and rows.sum() <= 2 * _LINE * PX_PER_MM)
