"""Closed outlines: ovals from the paper they enclose, rectangles from four sides that end in each other."""

from __future__ import annotations

import math
from bisect import bisect_left
from collections import defaultdict
from collections.abc import Sequence
from itertools import pairwise

import cv2
import numpy as np
from cv2.typing import MatLike
from numpy.typing import NDArray

from digitize.harness.place import Box
from digitize.ink.holes import enclosed_in
from digitize.ink.state import Oval, Rectangle
from digitize.sheet.runs import Runs, patches_of, runs_of
from digitize.sheet.state import PX_PER_MM, to_mm

_MM = PX_PER_MM
_CORNER = 0.55
"""How near, in mm, two sides must end to make a corner."""

_DASH = 8.0
"""Longest dash, mm: a wire that crosses in a gap makes one of two dashes."""

_BUMPED = 1.3
"""A dash with such a bump is at most so high, mm, and clearly longer."""

_ROW = 0.4
"""The dashes of one line stand in a row so high, mm: a line lies a little aslant."""

_UNEVEN = 1.25
"""A draughtsman's gaps differ by less than this factor; a wider one may be where the line ends."""

_AT_END = 4
"""At most so many dashes at the end of a chain may belong to something else that stands in line."""

Side = tuple[float, float, float]
"""(position across, start, end) of a straight horizontal or vertical line, mm."""


def find_ovals(ink: NDArray[np.uint8], enclosed: Sequence[MatLike] | None = None) -> tuple[Oval, ...]:
    """Ovals, lozenges with round ends and circles that enclose a patch of paper.

    ``ink``: uint8 (H, W), 255 = ink (lettering may be left in: what stands inside does not matter).
    Sizes looked for: 2.5 to 16 mm high, 2.5 to 26 mm wide. ``enclosed``: ``holes.enclosed_in`` of the ink, where it is known.
    """
    out: list[Oval] = []
    for contour in enclosed_in(ink) if enclosed is None else enclosed:
        x, y, w, h = cv2.boundingRect(contour)
        if not (2.2 * _MM <= h <= 16 * _MM and 2.2 * _MM <= w <= 26 * _MM):
            continue
        probability = _roundness(contour.reshape(-1, 2).astype(np.float64), x, y, w, h)
        if probability > 0.3:
            line = _line_width(ink, x, y, w, h)
            x0, y0 = to_mm(x - line, y - line)
            x1, y1 = to_mm(x + w - 1 + line, y + h - 1 + line)
            out.append(Oval(Box(x0, y0, x1, y1), probability))
    return tuple(sorted(out, key=lambda o: (o.box.y0, o.box.x0)))


def _roundness(points: NDArray[np.float64], x: int, y: int, w: int, h: int) -> float:
    """How well an outline fits an ellipse, or a bar with half-round ends, that fills its box; 0..1."""
    u = (points[:, 0] - (x + (w - 1) / 2)) / (w / 2)
    v = (points[:, 1] - (y + (h - 1) / 2)) / (h / 2)
    ellipse = float(np.mean(np.abs(np.hypot(u, v) - 1)))
    r = min(w, h) / 2
    px, py = np.abs(u * w / 2), np.abs(v * h / 2)
    stadium = float(np.mean(np.abs(np.hypot(np.maximum(px - (w / 2 - r), 0), np.maximum(py - (h / 2 - r), 0)) - r))) / r
    misfit = min(ellipse, stadium)
    corners = min(float(np.hypot(w / 2 - px[q], h / 2 - py[q]).min()) / r for q in _quarters(u, v))
    return 1 / (1 + math.exp((misfit - 0.075) / 0.012 + (0.26 - corners) / 0.03))


def _quarters(u: NDArray[np.float64], v: NDArray[np.float64]) -> list[NDArray[np.bool_]]:
    """Which points lie in each quarter of the outline. A rectangle fills its corners, an oval leaves them free."""
    quarters = [(u < 0) & (v < 0), (u >= 0) & (v < 0), (u < 0) & (v >= 0), (u >= 0) & (v >= 0)]
    return [q for q in quarters if q.any()]


def _line_width(ink: NDArray[np.uint8], x: int, y: int, w: int, h: int) -> float:
    """Width of the outline around a hole, px: how far the ink goes on above and below the middle of the hole."""
    widths = []
    cx = x + w // 2
    for dy, py in ((-1, y - 1), (1, y + h)):
        n = 0
        while 0 <= py + n * dy < ink.shape[0] and n < 2 * _MM and ink[py + n * dy, cx]:
            n += 1
        widths.append(n)
    return float(min(max(min(widths), 1), _MM))


def find_rectangles(ink: NDArray[np.uint8]) -> tuple[Rectangle, ...]:
    """Upright rectangles whose four sides end in each other, solid or dashed, from 3.5 mm to the size of the sheet.

    A line that goes on past a corner is no side; lines that touch a side from within or without do not matter.
    """
    across, down = runs_of(ink), runs_of(cv2.transpose(ink))
    solid = _from_sides(_solid_sides(across), _solid_sides(down), _CORNER)
    dashed = _from_sides(_dashed_sides(across), _dashed_sides(down), 4.5)
    out = [Rectangle(b, dashed=False, probability=0.95) for b in solid]
    out += [Rectangle(b, dashed=True, probability=0.9) for b in dict.fromkeys(dashed)]
    return tuple(sorted(out, key=lambda r: (r.box.y0, r.box.x0, r.box.y1, r.box.x1)))


def _solid_sides(runs: Runs) -> list[Side]:
    """Straight lines of at least 3 mm along the runs: horizontal ones, or vertical ones of a picture laid on its side."""
    lines = patches_of(runs.only(runs.length >= int(3.0 * _MM)))
    out: list[Side] = []
    for i in np.flatnonzero(lines.height <= 1.6 * _MM):
        x0, y0 = to_mm(float(lines.x0[i]), float(lines.y0[i]))
        x1, y1 = to_mm(float(lines.x1[i] - 1), float(lines.y1[i] - 1))
        out.append(((y0 + y1) / 2, x0, x1))
    return out


def _dashed_sides(runs: Runs) -> list[Side]:
    """Rows of at least four short dashes in line, as one side each. A dash that a wire runs into still counts."""
    dashes = patches_of(runs.only(runs.length >= int(0.8 * _MM)))
    x, y, w, h = (v / _MM for v in (dashes.x0, dashes.y0, dashes.width, dashes.height))
    # the rough rim of a line is no row of dashes; where a wire runs into a dash, a bump of it is left
    keep = np.flatnonzero((w < _DASH) & ((h < 0.9) & (w > 1.4 * h) | (h < _BUMPED) & (w > 2.2 * h)))
    return _chains([(float(y[i] + h[i] / 2), float(x[i]), float(x[i] + w[i])) for i in keep])


def _chains(dashes: list[Side]) -> list[Side]:
    """Join dashes that follow each other in line with even gaps; at least four make a side.

    A wire over the line may hide a few: a gap may be as long as three dashes with their gaps.
    """
    left = sorted(dashes)
    out = [side for row in _rows(left) for side in _row_chains(row)]
    # where such rows part a line, one of two that lie half a row apart does not
    for shift in (0.0, _ROW / 2):
        strips: dict[int, list[Side]] = defaultdict(list)
        for dash in left:
            strips[math.floor((dash[0] + shift) / _ROW)].append(dash)
        for side in (side for row in strips.values() for side in _row_chains(sorted(row, key=lambda d: d[1]))):
            if not any(abs(s[0] - side[0]) < _ROW and s[1] <= side[1] and side[2] <= s[2] for s in out):
                out.append(side)
    return out


def _rows(left: list[Side]) -> list[list[Side]]:
    """Dashes, sorted, in rows of ``_ROW`` mm, each from its first dash on."""
    rows, done = [], 0
    while done < len(left):
        at = left[done][0]
        after = bisect_left(left, _ROW, lo=done, key=lambda d: d[0] - at)
        rows.append(sorted(left[done:after], key=lambda d: d[1]))
        done = after
    return rows


def _row_chains(row: list[Side]) -> list[Side]:
    """The sides in one row of dashes."""
    out: list[Side] = []
    chain: list[Side] = []
    for dash in row:
        if chain and dash[1] - chain[-1][2] > 3.2 * max(1.2, chain[-1][2] - chain[-1][1]):
            out += _sides_of(chain)
            chain = []
        chain.append(dash)
    return out + _sides_of(chain)


def _sides_of(chain: list[Side]) -> list[Side]:
    """The side that a chain of dashes makes, and those of its parts where wide gaps divide it: another thing stood in line.

    A gap that is only a little wider than the others may divide it near its ends too: a short upright of something that
    stands close to the outline, in line with its side.
    """
    if len(chain) < 5:
        return _side_of(chain)
    gaps = [after[1] - before[2] for before, after in pairwise(chain)]
    usual = float(np.median(gaps))
    parts = [(0, len(chain))]
    cuts = [0, *(k + 1 for k, gap in enumerate(gaps) if gap > 2 * usual + 0.5), len(chain)]
    if len(cuts) > 2:
        parts += pairwise(cuts)
    odd = [k + 1 for k, gap in enumerate(gaps) if gap > _UNEVEN * usual + 0.2]
    parts += [(k, len(chain)) for k in odd[:2] if k <= _AT_END]
    parts += [(0, k) for k in odd[-2:] if len(chain) - k <= _AT_END]
    return [side for a, b in dict.fromkeys(parts) for side in _side_of(chain[a:b])]


def _side_of(chain: list[Side]) -> list[Side]:
    """One side from at least four dashes of like length, else nothing."""
    if len(chain) < 4:
        return []
    lengths = np.array([d[2] - d[1] for d in chain])
    if np.mean(np.abs(lengths / np.median(lengths) - 1) < 0.35) < 0.6:
        return []
    return [(float(np.median([d[0] for d in chain])), chain[0][1], chain[-1][2])]


def _from_sides(across: list[Side], down: list[Side], corner: float) -> list[Box]:
    """Boxes of two horizontal and two vertical sides that all end in each other within ``corner`` mm."""
    out: list[Box] = []
    by_x = np.array([d[0] for d in down])
    for i, top in enumerate(across):
        if top[2] - top[1] < 3.5 or not len(down):
            continue
        lefts = [
            d for d in (down[k] for k in np.nonzero(np.abs(by_x - top[1]) <= corner)[0]) if abs(d[1] - top[0]) <= corner
        ]
        rights = [
            d for d in (down[k] for k in np.nonzero(np.abs(by_x - top[2]) <= corner)[0]) if abs(d[1] - top[0]) <= corner
        ]
        for left in lefts:
            for right in rights:
                if abs(left[2] - right[2]) > 2 * corner:
                    continue
                out += [
                    Box(left[0], top[0], right[0], bottom[0])
                    for bottom in across[:i] + across[i + 1 :]
                    if abs(bottom[0] - left[2]) <= corner
                    and abs(bottom[1] - left[0]) <= corner
                    and abs(bottom[2] - right[0]) <= corner
                    and bottom[0] - top[0] >= 3.0
                ]
    return [b for b in out if b.width >= 3.5 and b.height >= 3.0]
