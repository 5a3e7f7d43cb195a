"""Connectors drawn as two closed outlines that mirror each other across a small gap: half-moons, halves of a box.

Common practice, no source: the two halves of a plug stand back to back on the wire, their flat sides facing. A net that was
not shown them sees nothing, and a finder of lettering reads them as signs; the outlines themselves are sure.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import cv2
import numpy as np
from cv2.typing import MatLike
from numpy.typing import NDArray

from digitize.harness.place import Box
from digitize.ink.holes import enclosed_in
from digitize.ink.state import Symbol, TextBlock
from digitize.sheet.state import PX_PER_MM, to_mm

_MM = PX_PER_MM
_LONG = (0.9, 7.0)
"""Paper inside a half, mm, along its flat side; it is at most as wide as it is long."""
_NARROWEST = 0.35
"""… and across, mm."""
_GAP = (0.3, 1.8)
"""From the paper of one half to that of the other, mm: two outlines and the gap between them."""
_ALIKE = 0.15
"""The halves differ in place and length by at most this share of the length."""
_MIRRORED = 0.8
"""Share of both halves that they have in common when one is folded onto the other."""
_FLAT = 0.9
"""The side that faces the other half is straight over this share of its length."""
_OPEN = 0.6
"""Share of the gap's length that is paper from end to end: a single rule between two cells is no gap."""
_LINE, _STUB = 1.5, 0.7
"""A line leads out of a far side for so long at least, mm; where one leads out of both, the shorter will do (a code may
interrupt it right there) …"""
_THIN = 0.45
"""… and is no thicker than this share of the side."""
_DOUBLE = 1.9
"""Where no paper is left in the gap, two outlines that ran together are so many times as thick as the outline elsewhere, …"""
_USUAL = 3
"""… and so many signs of one size on a sheet that look so are a habit: then each of them is sure."""
_STACKED = 1.3
"""Pairs one below the other, at most so many of their lengths apart, are the ways of one connector."""
_SMALLEST_SIGN = 0.6
"""What is left of a block of lettering beside a connector is a sign from this size on, mm."""
_SURE = 0.9
_STRING = 0.8
"""Chance of a block of lettering from which on it is taken for one here."""


_Area = tuple[int, int, int, int]
"""x0, y0, x1, y1, px."""


@dataclass(frozen=True, slots=True)
class _Pair:
    """Two halves: the area of both, px; whether there is paper between them; whether the ink there is two outlines."""

    area: _Area
    parted: bool
    double: bool

    @property
    def long(self) -> int:
        """Along the flat sides, px."""
        return self.area[3] - self.area[1]


@dataclass(frozen=True, slots=True, eq=False)
class _Half:
    """The paper inside an outline: its box, px, and its mask (bool, height x width)."""

    x: int
    y: int
    mask: NDArray[np.bool_]

    @property
    def width(self) -> int:
        return int(self.mask.shape[1])

    @property
    def height(self) -> int:
        return int(self.mask.shape[0])


def find_split_bodies(
    ink: NDArray[np.uint8], blocks: Sequence[TextBlock] = (), enclosed: Sequence[MatLike] | None = None
) -> tuple[Box, ...]:
    """Boxes (sheet mm) of connectors drawn as mirrored halves; the ways of one that has several together.

    ``ink``: uint8 (H, W) at PX_PER_MM, 255 = ink, lettering left in. ``blocks``: the lettering; halves that share a rule are
    letters (a B that lies, an 8) where they stand in a string. ``enclosed``: ``holes.enclosed_in`` of the ink, where it is known.
    """
    halves = _halves(enclosed_in(ink) if enclosed is None else enclosed)
    turned = [_Half(h.y, h.x, h.mask.T) for h in halves]
    strings = [b.box for b in blocks if b.probability > _STRING]
    pairs = [
        (p, turn)
        for p, turn in (*((p, False) for p in _pairs(halves, ink)), *((p, True) for p in _pairs(turned, ink.T)))
    ]
    pairs = [(p, turn) for p, turn in pairs if p.parted or not _in_string(_box(p.area, turned=turn), strings)]
    lengths = [p.long for p, _ in pairs if p.double or p.parted]

    def is_sure(p: _Pair) -> bool:
        alike = sum(abs(long - p.long) <= _ALIKE * p.long for long in lengths)
        return p.parted or (p.double and alike >= _USUAL)

    out = []
    for way in (False, True):
        kept = [(p.area, is_sure(p)) for p, turn in pairs if turn is way]
        out += [_box(area, turned=way) for area in _stacked(kept)]
    return tuple(sorted(out, key=lambda b: (b.y0, b.x0)))


def _box(area: _Area, *, turned: bool) -> Box:
    """``area``, px, in sheet mm; ``turned``: of the sheet with x and y changed."""
    x0, y0, x1, y1 = area
    return Box(*to_mm(y0, x0), *to_mm(y1, x1)) if turned else Box(*to_mm(x0, y0), *to_mm(x1, y1))


def _in_string(body: Box, strings: Sequence[Box]) -> bool:
    """True for what stands as one of several letters in a string, as high as the others."""
    across = min(body.width, body.height)
    return any(
        max(s.width, s.height) > 2.0 * min(s.width, s.height)
        and min(s.width, s.height) < 1.6 * max(body.width, body.height)
        and max(s.width, s.height) > 2.5 * across
        and body.overlap(s) > 0.8 * body.width * body.height
        for s in strings
    )


def with_split_bodies(symbols: Sequence[Symbol], boxes: Sequence[Box]) -> tuple[Symbol, ...]:
    """The symbols with these connectors among them, in place of whatever was seen in a part of one."""
    kept = [s for s in symbols if s.taught is not None or not any(_hides(b, s.box) for b in boxes)]
    added = [Symbol("connector", b, _SURE) for b in boxes if not any(_hides(s.box, b) for s in kept)]
    return (*kept, *added)


def is_split_body(symbol: Symbol, boxes: Sequence[Box]) -> bool:
    """True for one of these connectors: wires that turn beside several ways of it do not make a loop of it."""
    return symbol.kind == "connector" and any(_hides(b, symbol.box) and _hides(symbol.box, b) for b in boxes)


def lettering_beside(blocks: Sequence[TextBlock], boxes: Sequence[Box]) -> tuple[TextBlock, ...]:
    """The blocks of lettering without what is really such a connector: what lies beyond it, or nothing.

    Ids are positions again.
    """
    kept: list[TextBlock] = []
    for block in blocks:
        b = block.box
        body = next((x for x in boxes if b.overlap(x) > 0.5 * min(b.width * b.height, x.width * x.height)), None)
        if body is not None:
            if block.angle in {0, 180}:
                parts = (Box(b.x0, b.y0, body.x0, b.y1), Box(body.x1, b.y0, b.x1, b.y1))
            else:
                parts = (Box(b.x0, b.y0, b.x1, body.y0), Box(b.x0, body.y1, b.x1, b.y1))
            b = max(parts, key=lambda p: min(p.x1 - p.x0, p.y1 - p.y0))
            if min(b.x1 - b.x0, b.y1 - b.y0) < _SMALLEST_SIGN:
                continue
        kept.append(replace(block, id=len(kept), box=b))
    return tuple(kept)


def _hides(body: Box, other: Box) -> bool:
    """True when most of ``other`` lies in ``body``."""
    return body.overlap(other) > 0.5 * other.width * other.height


def _halves(enclosed: Sequence[MatLike]) -> list[_Half]:
    """Every patch of paper of the right size among those that ink encloses."""
    out = []
    for contour in enclosed:
        x, y, w, h = cv2.boundingRect(contour)
        # the contour of a hole runs on the ink around it, one pixel outside the paper
        w, h = w - 2, h - 2
        if not (min(w, h) >= _NARROWEST * _MM and _LONG[0] * _MM <= max(w, h) <= _LONG[1] * _MM):
            continue
        filled = np.zeros((h + 2, w + 2), np.uint8)
        cv2.drawContours(filled, [np.asarray(contour) - (x, y)], -1, 255, -1)
        cv2.drawContours(filled, [np.asarray(contour) - (x, y)], -1, 0, 1)
        out.append(_Half(x + 1, y + 1, filled[1:-1, 1:-1] > 0))
    return out


def _pairs(halves: Sequence[_Half], ink: NDArray[np.uint8]) -> Iterable[_Pair]:
    """The pairs that stand side by side, flat sides facing, with a line at a far side, in no order.

    One with paper between the halves is sure by itself. One without needs others below it or elsewhere, and lines at both.
    """
    tall = [h for h in halves if _LONG[0] * _MM <= h.height and h.width <= h.height]
    tall.sort(key=lambda h: h.x)
    lefts = [h.x for h in tall]
    for a in tall:
        stop = a.x + a.width
        for b in tall[bisect_left(lefts, stop + _GAP[0] * _MM) : bisect_right(lefts, stop + _GAP[1] * _MM)]:
            gap = b.x - stop
            slack = max(2.0, _ALIKE * a.height)
            if abs(a.y - b.y) > slack or abs(a.height - b.height) > slack:
                continue
            if not _face(a, b):
                continue
            if any(_is_between(c, a, b, slack) for c in tall[bisect_left(lefts, stop) : bisect_right(lefts, b.x)]):
                continue
            parted = _parted(ink, a, b)
            one, two = _line(ink, a, -1), _line(ink, b, 1)
            if min(one, two) >= _STUB or (parted and max(one, two) >= _LINE):
                outline = max(_rim(ink, a), _rim(ink, b))
                top, low = min(a.y, b.y), max(a.y + a.height, b.y + b.height)
                double = gap >= _DOUBLE * outline and min(one, two) >= _STUB
                # what ran together has thick outlines
                rim = round((_GAP[0] if double else 0.15) * _MM)
                yield _Pair((a.x - rim, top - rim, b.x + b.width + rim - 1, low + rim - 1), parted, double)


def _is_between(c: _Half, a: _Half, b: _Half, slack: float) -> bool:
    """True for a third cell between two: in a row of cells (a heater, say) the paper of one is no gap between halves."""
    inside = a.x + a.width <= c.x and c.x + c.width <= b.x
    return inside and abs(a.y - c.y) <= slack and abs(a.height - c.height) <= slack


def _face(a: _Half, b: _Half) -> bool:
    """True for mirror images whose facing sides are straight."""
    size = (a.width, a.height)
    other = cv2.resize(b.mask[:, ::-1].astype(np.uint8), size, interpolation=cv2.INTER_NEAREST) > 0
    common = float((a.mask & other).sum()) / max(1.0, float((a.mask | other).sum()))
    near = max(1, round(0.1 * _MM))
    flat = min(float(a.mask[:, -1 - near].mean()), float(b.mask[:, near].mean()))
    return abs(a.width - b.width) <= max(2.0, 0.25 * a.width) and common >= _MIRRORED and flat >= _FLAT


def _parted(ink: NDArray[np.uint8], a: _Half, b: _Half) -> bool:
    """True when paper runs between the two from end to end."""
    between = ink[max(a.y, b.y) : min(a.y + a.height, b.y + b.height), a.x + a.width : b.x] == 0
    return between.size > 0 and float(between.mean(axis=0).max()) >= _OPEN


def _rim(ink: NDArray[np.uint8], half: _Half) -> int:
    """How thick the outline is above the middle of a half, px."""
    column = ink[max(0, half.y - round(_MM)) : half.y, half.x + half.width // 2][::-1] > 0
    return int(np.logical_and.accumulate(column).sum())


def _line(ink: NDArray[np.uint8], half: _Half, way: int) -> float:
    """How long a thin line leads out of the middle of the far side, to the left (-1) or the right (1), mm; 0 for none."""
    rim = round(0.4 * _MM)
    long = rim + round(_LINE * _MM)
    x = half.x - 1 if way < 0 else half.x + half.width
    rows = slice(half.y + half.height // 5, half.y + half.height - half.height // 5)
    part = ink[rows, max(0, x - long) : x + 1][:, ::-1] if way < 0 else ink[rows, x : x + long + 1]
    if not part.size:
        return 0.0
    runs = np.logical_and.accumulate(part > 0, axis=1).sum(axis=1)
    for least in (_LINE, _STUB):
        thick = int((runs >= rim + least * _MM).sum())
        if thick:
            return least if thick <= max(2.0, _THIN * half.height) else 0.0
    return 0.0


def _stacked(pairs: Iterable[tuple[_Area, bool]]) -> list[_Area]:
    """Pairs that stand in one column joined from top to bottom; those that nothing makes sure are left out."""
    out: list[tuple[_Area, int]] = []
    for (x0, y0, x1, y1), sure in sorted(pairs, key=lambda p: (p[0][1], p[0][0])):
        votes = 2 if sure else 1
        for k, ((u0, v0, u1, v1), before) in enumerate(out):
            if max(abs(x0 - u0), abs(x1 - u1)) < 0.5 * _MM and y0 - v1 <= _STACKED * (y1 - y0):
                out[k] = ((min(x0, u0), v0, max(x1, u1), max(v1, y1)), before + votes)
                break
        else:
            out.append(((x0, y0, x1, y1), votes))
    return [area for area, votes in out if votes > 1]
