"""Small upright boxes with a few signs in them, on a wire: how many manuals draw connectors, one box a way or one for all.

A net that was shown symbols of a hand's usual size takes boxes of two millimetres for whatever else is small, or sees
nothing. The outline itself is sure: a patch of paper with four straight sides, at whose corners no line goes on. Wires that
happen to enclose such a patch go on at one of its corners at least.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Mapping, Sequence

import cv2
import numpy as np
from cv2.typing import MatLike
from numpy.typing import NDArray

from digitize.harness.place import Box
from digitize.ink.holes import enclosed_in
from digitize.ink.state import Symbol, TextBlock
from digitize.sheet.state import PX_PER_MM, to_mm

_MM = PX_PER_MM
_SHORT = (1.0, 7.0)
_LONG = 60.0
"""Inside of a box, mm: its shorter side between the two, its longer side up to the last (a tall box of many ways)."""
_FILLED = 0.93
"""Share of its bounding box that the hull of the paper inside fills: round corners take a little, a sign that touches nothing."""
_LINE = 0.9
"""The outline is at most so wide, mm."""
_SIGNS = 3.2
"""A string at most so many times as long as it is high is a cavity number, not a name or a code."""
_PARTED = 3.5
"""A box without a block of lettering of its own, or one that a sign parts into two patches, is at most so large, mm."""
_STEM = 0.5
"""What parts them is at most so wide, mm: the stroke of a sign."""
_EVEN = 2
"""The two patches begin and end at the same height, within so many px."""
_SIGN = (0.12, 0.6)
"""Share of ink in the middle of a box that holds one sign."""
_DRAWN = 0.9
"""Share of a side along which its outline has ink."""
_PAPER = 0.6
"""At most so much of the middle of a box is ink."""
_PAST = (0.15, 0.7)
"""Where beyond a corner a passing line still has ink, mm past the outline."""
_BELIEVED = 0.55
_SURE, _LIKELY, _LEAST = 0.9, 0.5, 0.25
"""What the symbol detector believes more than the first stays what it is, a connector from the second …"""
_SMALL = 3.0
_PLAIN = ("fuse_block", "module", "unknown")
"""… and in boxes larger than this, mm, all that it knows a better word for than box, from the third …"""
_ROOMY = (*_PLAIN, "relay", "connector", "sleeve", "circuit_breaker")
_NO_BOX = ("capacitor", "diode", "grommet", "ground", "lamp")
"""… but no kind that is drawn without a straight outline."""

_Half = tuple[tuple[int, int, int, int], MatLike]
"""A patch of paper that may be half of a box: x, y, width, height, px, and its contour."""


def find_lettered_boxes(
    ink: NDArray[np.uint8], texts: Sequence[TextBlock], enclosed: Sequence[MatLike] | None = None
) -> tuple[Box, ...]:
    """Outer edges (sheet mm) of the small closed boxes that hold short strings.

    ``ink``: uint8 (H, W) at PX_PER_MM, 255 = ink, lettering left in (a sign that touches its box only notches it).
    ``enclosed``: ``holes.enclosed_in`` of the ink, where it is known.
    """
    short = [t for t in texts if max(t.box.width, t.box.height) <= _SIGNS * min(t.box.width, t.box.height)]
    out = [b for t in short if (b := _outlined(ink, t.box)) is not None]
    for x, y, w, h in _patches(enclosed_in(ink) if enclosed is None else enclosed):
        inside = Box(*to_mm(x, y), *to_mm(x + w - 1, y + h - 1))
        held = [t for t in texts if t.box.overlap(inside) > 0 and _belongs(t.box, inside)]
        if any(t not in short for t in held) or not (held or _has_a_sign(ink[y : y + h, x : x + w])):
            continue
        box = _outer(ink, x, y, w, h)
        if box is not None and _ends_at_corners(ink, box, (x, y, x + w - 1, y + h - 1)):
            out.append(Box(*to_mm(box[0], box[1]), *to_mm(box[2], box[3])))
    out.sort(key=lambda b: (b.y0, b.x0))
    return tuple(b for k, b in enumerate(out) if not any(_same(b, other) for other in out[:k]))


def _belongs(text: Box, inside: Box) -> bool:
    """True when the middle of the one lies in the other."""
    return inside.holds(text.centre) or text.grown(-0.1).holds(inside.centre)


def _patches(enclosed: Sequence[MatLike]) -> list[tuple[int, int, int, int]]:
    """(x, y, width, height), px, of the four-sided patches of paper, and of two halves that a sign parts from side to side."""
    out: list[tuple[int, int, int, int]] = []
    halves: list[_Half] = []
    for contour in enclosed:
        x, y, w, h = cv2.boundingRect(contour)
        if min(w, h) >= 0.3 * _SHORT[0] * _MM and max(w, h) <= _PARTED * _MM:
            halves.append(((x, y, w, h), contour))
        if not (_SHORT[0] * _MM <= min(w, h) <= _SHORT[1] * _MM and max(w, h) <= _LONG * _MM):
            continue
        if _is_square(contour, w, h):
            out.append((x, y, w, h))
    halves.sort(key=lambda half: half[0])
    rows: dict[int, list[int]] = {}
    for k, ((_, y, _, _), _) in enumerate(halves):
        rows.setdefault(y, []).append(k)
    for k, ((x, y, w, h), one) in enumerate(halves):
        for (ox, oy, ow, oh), other in (halves[n] for n in sorted(_level_behind(rows, halves, k))):
            end = abs(oy + oh - y - h) <= _EVEN
            whole = (x, min(y, oy), ox + ow - x, max(y + h, oy + oh) - min(y, oy))
            roomy = min(whole[2:]) >= _SHORT[0] * _MM and ox + ow > x + w
            if end and roomy and _is_square(np.concatenate([one, other]), whole[2], whole[3]):
                out.append(whole)
    return out


def _level_behind(rows: Mapping[int, Sequence[int]], halves: Sequence[_Half], k: int) -> Iterator[int]:
    """Numbers of the halves on a level with half ``k`` that follow it no farther on than a sign is thick.

    ``rows``: numbers of all by the row in which they begin, ascending.
    """
    (x, y, w, _), _ = halves[k]
    for row in range(y - _EVEN, y + _EVEN + 1):
        there = rows.get(row, ())
        for n in there[bisect_right(there, k) :]:
            if halves[n][0][0] > x + w + _STEM * _MM:
                break
            yield n


def _is_square(contour: MatLike, w: int, h: int) -> bool:
    """True when the hull of a patch fills its bounding box, ``w`` x ``h`` px."""
    return cv2.contourArea(cv2.convexHull(contour)) >= _FILLED * (w - 1) * (h - 1)


def _has_a_sign(inside: NDArray[np.uint8]) -> bool:
    """True when a small box holds ink in its middle that no block of lettering was made of, about as much as a sign has."""
    h, w = inside.shape
    if max(h, w) > _PARTED * _MM:
        return False
    middle = inside[h // 5 : h - h // 5, w // 5 : w - w // 5] > 0
    return middle.size > 0 and _SIGN[0] < float(middle.mean()) < _SIGN[1]


def _outlined(ink: NDArray[np.uint8], box: Box) -> Box | None:
    """The block's own box where its four sides are drawn: a sign that touches two sides of its box is one patch with it."""
    x0, y0, x1, y1 = (max(0, round(v * _MM)) for v in (box.x0, box.y0, box.x1, box.y1))
    part = ink[y0:y1, x0:x1]
    if min(part.shape) < _SHORT[0] * _MM:
        return None
    rim = max(2, round(0.035 * min(part.shape) + 0.1 * _MM))
    for side in (part[:rim], part[-rim:], part[:, :rim].T, part[:, -rim:].T):
        if side.any(axis=0).mean() < _DRAWN:
            return None
    middle = part[2 * rim : -2 * rim, 2 * rim : -2 * rim]
    if not middle.size or cv2.countNonZero(middle) > _PAPER * middle.size:
        return None
    inner = (x0 + 2 * rim, y0 + 2 * rim, x1 - 2 * rim, y1 - 2 * rim)
    return box if _ends_at_corners(ink, (x0, y0, x1, y1), inner) else None


def with_lettered_boxes(symbols: Sequence[Symbol], boxes: Sequence[Box]) -> tuple[Symbol, ...]:
    """The symbols with the boxes among them: a doubtful symbol on such a box is that box, whose kind its name will tell."""
    kept = [s for s in symbols if _stays(s) or not any(_same(s.box, b) for b in boxes)]
    kept = [s for s in kept if not _is_guess(s) or not any(_holds(s.box, b) for b in boxes)]
    added = [
        Symbol("unknown", b, _BELIEVED, alternatives=(("connector", _BELIEVED),))
        for b in boxes
        if not any(_same(s.box, b) or _holds(s.box, b) for s in kept)
    ]
    return (*kept, *added)


def _stays(symbol: Symbol) -> bool:
    """True when the detector's kind is believed, though the outline is a box: it knows large boxes better than small ones."""
    if symbol.kind in _NO_BOX:
        return False
    if symbol.kind == "connector":
        return symbol.probability >= _LIKELY
    small = min(symbol.box.width, symbol.box.height) <= _SMALL
    return symbol.probability >= (_SURE if small or symbol.kind in _PLAIN else _LEAST)


def _is_guess(symbol: Symbol) -> bool:
    """True for what the detector is unsure of and what no box stands in: around one, it is the box with wires."""
    return symbol.probability < _LIKELY and symbol.taught is None and symbol.kind not in _ROOMY


def _holds(a: Box, b: Box) -> bool:
    return a.overlap(b) > 0.8 * b.width * b.height


def _same(a: Box, b: Box) -> bool:
    common = a.overlap(b)
    return common > 0.4 * (a.width * a.height + b.width * b.height - common)


def _outer(ink: NDArray[np.uint8], x: int, y: int, w: int, h: int) -> tuple[int, int, int, int] | None:
    """Outer edge of the outline around a patch, px (first and last column and row); None where a side has no far edge.

    A side's width is that at most of its places: a wire that runs into it hides the edge at one.
    """
    most = round(_LINE * _MM)
    y0, y1, x0, x1 = max(0, y - most - 1), y + h + most + 1, max(0, x - most - 1), x + w + most + 1
    sides = (
        ink[y : y + h, x0:x].T[::-1],
        ink[y0:y, x : x + w][::-1],
        ink[y : y + h, x + w : x1].T,
        ink[y + h : y1, x : x + w],
    )
    widths = []
    for side in sides:
        drawn = np.logical_and.accumulate(side > 0, axis=0).sum(axis=0)
        width = int(np.median(drawn)) if drawn.size else 0
        if not 1 <= width <= most:
            return None
        widths.append(width)
    left, top, right, bottom = widths
    return (x - left, y - top, x + w - 1 + right, y + h - 1 + bottom)


def _ends_at_corners(
    ink: NDArray[np.uint8], outer: tuple[int, int, int, int], inner: tuple[int, int, int, int]
) -> bool:
    """True when no side of the outline goes on past a corner: only wires that run into the middle of a side reach it."""
    near, far = (round(v * _MM) for v in _PAST)
    left, top, right, bottom = outer
    rows = (slice(max(0, top), inner[1]), slice(inner[3] + 1, bottom + 1))
    columns = (slice(max(0, left), inner[0]), slice(inner[2] + 1, right + 1))
    for row in rows:
        if _runs(ink[row, max(0, left - far) : max(0, left - near)], 0) or _runs(
            ink[row, right + 1 + near : right + 1 + far], 0
        ):
            return False
    for column in columns:
        if _runs(ink[max(0, top - far) : max(0, top - near), column], 1) or _runs(
            ink[bottom + 1 + near : bottom + 1 + far, column], 1
        ):
            return False
    return True


def _runs(part: NDArray[np.uint8], across: int) -> bool:
    """True when a line runs through a piece of picture from end to end."""
    return part.size > 0 and bool((part > 0).any(axis=across).mean() > 0.9)
