"""The net's symbol maps → symbols: peaks, their boxes and headings, doubles removed, chances calibrated."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from digitize.harness.place import Box
from digitize.ink.state import SYMBOL_KINDS, Symbol

SIDES = ("right", "down", "left", "up")
"""Headings in the order of the net's maps."""

DIRECTED = ("battery", "diode", "ground", "horn", "sounder", "speaker")
"""Kinds whose heading means something."""

CONTAINERS = ("fuse_block", "module")
"""Kinds with box maps of their own, because others stand in their middle."""

_KINDS = len(SYMBOL_KINDS)
_LOWEST = 0.3
"""Peaks below this chance are no symbols: on generated pages most of them are false."""

_SAME = 0.45
"""Two finds whose boxes overlap by more than this part of their union are one symbol."""


def symbols_of(maps: NDArray[np.float32], cell: float) -> tuple[Symbol, ...]:
    """Symbols from raw maps (kinds + 8 + 4, h, w); ``cell`` is a cell's side in mm. Most probable first."""
    threshold = float(np.log(_LOWEST / (1 - _LOWEST)))
    finds: list[tuple[float, str, Box, str | None]] = []
    kernel = np.ones((3, 3), np.uint8)
    for k, kind in enumerate(SYMBOL_KINDS):
        heat = maps[k]
        if heat.max() < threshold:
            continue
        peaks = (heat >= threshold) & (heat >= cv2.dilate(heat, kernel))
        for row, column in zip(*np.nonzero(peaks), strict=True):
            chance = float(1 / (1 + np.exp(-heat[row, column])))
            box = _box(maps, int(row), int(column), kind in CONTAINERS, cell)
            finds.append((chance, kind, box, _heading(maps, int(row), int(column)) if kind in DIRECTED else None))
    finds.sort(key=lambda f: -f[0])
    return _without_doubles(finds)


def _box(maps: NDArray[np.float32], row: int, column: int, container: bool, cell: float) -> Box:
    """The box told by the cells around a peak, each weighed alike: less jumpy than one cell's word."""
    first = _KINDS + (4 if container else 0)
    edges = []
    for dy in (-1, 0, 1):
        for dx in (-1, 0, 1):
            y, x = row + dy, column + dx
            if abs(dx) + abs(dy) < 2 and 0 <= y < maps.shape[1] and 0 <= x < maps.shape[2]:
                reach = np.logaddexp(0.0, maps[first : first + 4, y, x]) * 4
                edges.append((x - reach[0], y - reach[1], x + reach[2], y + reach[3]))
    x0, y0, x1, y1 = (float(np.median([e[i] for e in edges])) for i in range(4))
    return Box((x0 + 0.5) * cell, (y0 + 0.5) * cell, (x1 + 0.5) * cell, (y1 + 0.5) * cell)


def _heading(maps: NDArray[np.float32], row: int, column: int) -> str:
    said = maps[_KINDS + 8 : _KINDS + 12, max(0, row - 1) : row + 2, max(0, column - 1) : column + 2].mean(axis=(1, 2))
    return SIDES[int(np.argmax(said))]


def _share(a: Box, b: Box) -> float:
    common = a.overlap(b)
    return common / max(1e-6, a.width * a.height + b.width * b.height - common)


def _without_doubles(finds: list[tuple[float, str, Box, str | None]]) -> tuple[Symbol, ...]:
    """One symbol where several kinds (or several peaks of one kind) claim the same box; the others are alternatives."""
    kept: list[tuple[float, str, Box, str | None, dict[str, float]]] = []
    for chance, kind, box, heading in finds:
        for _, best, other, _, also in kept:
            if _share(box, other) > _SAME or (kind == best and _mostly_inside(box, other)):
                if kind != best:
                    also[kind] = max(also.get(kind, 0.0), chance)
                break
        else:
            kept.append((chance, kind, box, heading, {}))
    return tuple(
        Symbol(kind, box, chance, heading, tuple(sorted(also.items(), key=lambda a: -a[1])))
        for chance, kind, box, heading, also in kept
    )


def _mostly_inside(box: Box, other: Box) -> bool:
    smaller = min(box.width * box.height, other.width * other.height)
    return box.overlap(other) > 0.7 * smaller
