"""Taped bundles: thick or hatched sleeves into which wires run and from which they come out elsewhere.

A sleeve is a long band, filled or hatched between two outlines, much broader than a wire, with several lines at it. It is
kept as a symbol of the kind ``sleeve`` (``heading``: ``filled`` or ``hatched``), so that lines end at it; ``wiring.bundles`` says which go on into each other.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from digitize.harness.place import Box
from digitize.ink.flags import FLAG
from digitize.ink.state import Symbol
from digitize.sheet.runs import patches_of, runs_of
from digitize.sheet.state import PX_PER_MM

SLEEVE = "sleeve"

_SCALE = 4.0
"""px/mm of the picture in which bands are sought."""
_FILLED, _HATCHED = 2.0, 2.2
"""Least breadth of a filled band and of a hatched one, mm: battery cables are drawn up to 1.4 (common practice, no source)."""
_BROADEST, _SHORTEST = 9.0, 14.0
_SLIM = 3.0
"""A sleeve is at least so many times as long as broad."""
_GAP = 1.3
"""Lines of a hatching stand so close, mm."""
_LINES = 4
"""So many lines run into a sleeve at least: two wires in, two out."""


def find_sleeves(ink: NDArray[np.uint8]) -> tuple[Symbol, ...]:
    """Sleeves on a sheet, upright or level; bent ones as a chain of straight pieces.

    ``ink``: uint8 (H, W) at PX_PER_MM, 255 = ink within the frame, without lettering.
    """
    k = round(PX_PER_MM / _SCALE)
    h, w = ink.shape[0] // k, ink.shape[1] // k
    if not h or not w:
        return ()
    # without the odd rows and columns at the end every pixel is the mean of whole ones, which is made much quicker
    small = cv2.resize(ink[: k * h, : k * w], (w, h), interpolation=cv2.INTER_AREA)
    small = cv2.compare(small, 60, cv2.CMP_GT)
    found: list[Symbol] = []
    filled = cv2.morphologyEx(small, cv2.MORPH_OPEN, _square(_FILLED))
    closed = cv2.morphologyEx(small, cv2.MORPH_CLOSE, _square(_GAP))
    hatched = cv2.morphologyEx(closed, cv2.MORPH_OPEN, _square(_HATCHED))
    for bands, what in ((filled, "filled"), (hatched, "hatched")):
        for box in _bands(bands):
            if any(s.box.overlap(box) > 0.3 * box.width * box.height for s in found):
                continue
            share = _ink_in(small, box)
            if what == "filled":
                band = box if share > 0.85 else None
            else:
                band = _hatched(ink, box) if 0.2 < share < 0.85 else None
            if band is not None and _lines_at(ink, band) >= _LINES:
                found.append(Symbol(SLEEVE, band, 0.9 if what == "hatched" else 0.7, what))
    return tuple(sorted(found, key=lambda s: (s.box.y0, s.box.x0)))


def with_sleeves(bodies: tuple[Symbol, ...], sleeves: tuple[Symbol, ...]) -> tuple[Symbol, ...]:
    """Bodies of a sheet with its sleeves behind them; what lies mostly in a sleeve is no body of its own.

    A "sleeve" within a flag is its lettering, which worn ink made as dense as a bundle.
    """
    flags = [b.box.grown(0.5) for b in bodies if b.kind == FLAG]
    sleeves = tuple(s for s in sleeves if not any(f.overlap(s.box) > 0.8 * s.box.width * s.box.height for f in flags))
    kept = [
        b
        for b in bodies
        if not any(s.box.grown(0.5).overlap(b.box) > 0.6 * b.box.width * b.box.height for s in sleeves)
    ]
    return (*kept, *sleeves)


def _square(side: float) -> NDArray[np.uint8]:
    n = max(1, round(side * _SCALE))
    return np.ones((n, n), np.uint8)


def _bands(mask: NDArray[np.uint8]) -> list[Box]:
    """Straight pieces of long bands, sheet mm."""
    out: list[Box] = []
    if not mask.any():
        return out
    for flat in (True, False):
        n = round(_SHORTEST * _SCALE)
        long = cv2.morphologyEx(mask, cv2.MORPH_OPEN, np.ones((1, n) if flat else (n, 1), np.uint8))
        found = patches_of(runs_of(long))
        for x, y, w, h, area in zip(found.x0, found.y0, found.width, found.height, found.area, strict=True):
            length, breadth = (w, h) if flat else (h, w)
            if breadth <= _BROADEST * _SCALE and length >= _SLIM * breadth and area > 0.75 * w * h:
                out.append(Box(x / _SCALE, y / _SCALE, (x + w) / _SCALE, (y + h) / _SCALE))
    return out


def _ink_in(small: NDArray[np.uint8], box: Box) -> float:
    x0, y0, x1, y1 = (round(v * _SCALE) for v in (box.x0, box.y0, box.x1, box.y1))
    part = small[y0:y1, x0:x1]
    return float((part > 0).mean()) if part.size else 0.0


def _hatched(ink: NDArray[np.uint8], box: Box) -> Box | None:
    """The part of a band that is hatched: crossed by many lines at even distances, not a row of anything else; or None.

    Wires that run close together into the band's ends are cut off with that.
    """
    flat = box.width >= box.height
    x0, y0, x1, y1 = (round(v * PX_PER_MM) for v in (box.x0, box.y0, box.x1, box.y1))
    part = ink[y0:y1, x0:x1] if flat else ink[y0:y1, x0:x1].T
    if part.shape[0] < 8:
        return None
    gaps: list[float] = []
    ends: list[tuple[float, float]] = []
    for level in (0.35, 0.5, 0.65):
        line = part[round(level * part.shape[0])] > 0
        starts = np.nonzero(np.diff(line.astype(np.int8)) == 1)[0]
        if len(starts) < 8:
            return None
        gaps += [float(g) for g in np.diff(starts)]
        ends.append((float(starts[0]), float(starts[-1])))
    middle = float(np.median(gaps))
    low, high = min(e[0] for e in ends) - middle, max(e[1] for e in ends) + middle
    length = (high - low) / PX_PER_MM
    even = float(np.mean([abs(g - middle) < 0.35 * middle for g in gaps]))
    if even < 0.7 or length < _SHORTEST or middle > 3.0 * PX_PER_MM:
        return None
    start, stop = max(0.0, low) / PX_PER_MM, min(float(part.shape[1]), high) / PX_PER_MM
    if flat:
        return Box(box.x0 + start, box.y0, box.x0 + stop, box.y1)
    return Box(box.x0, box.y0 + start, box.x1, box.y0 + stop)


def _lines_at(ink: NDArray[np.uint8], box: Box) -> int:
    """How many lines cross a ring just outside a band."""
    ring = box.grown(0.9)
    x0, y0, x1, y1 = (round(v * PX_PER_MM) for v in (ring.x0, ring.y0, ring.x1, ring.y1))
    if x0 < 0 or y0 < 0 or x1 >= ink.shape[1] or y1 >= ink.shape[0]:
        return 0
    around = np.concatenate([ink[y0, x0:x1], ink[y0:y1, x1], ink[y1, x1:x0:-1], ink[y1:y0:-1, x0]]) > 0
    runs = np.diff(np.concatenate([around[-1:], around]).astype(np.int8)) == 1
    return int(runs.sum()) if around.mean() < 0.5 else 0
