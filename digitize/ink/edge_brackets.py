"""Brackets at the page edge: a short upright stroke with two serifs towards the border, where a wire goes on overleaf.

Common practice, no source: the wire, or the code that interrupts it, runs up to the bracket from inside the sheet, and
between bracket and border stands where the wire goes on. No letter looks so: its serifs would stand on the wire's side.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import cv2
import numpy as np
from numpy.typing import NDArray

from digitize.harness.place import Box
from digitize.ink.state import EdgeSign, TextBlock
from digitize.sheet.state import PX_PER_MM, to_mm

_MM = PX_PER_MM
_DEEP = 28.0
"""A bracket stands at most so far inside the border, mm."""
_TALL = (1.5, 6.0)
"""Height of its stroke, mm."""
_PEN = 0.6
"""Its pen is at most so wide, mm."""
_THINNEST, _ASIDE, _OWN = 4, 2, 0.4
"""It is counted as so wide at least, and may step aside by so much, px; so much of a column of it is ink."""
_SERIF = (0.35, 2.0)
"""Length of its serifs, beyond the pen, mm."""
_FLAT = 2.5
"""Its serifs are at most so many pens high: they are straight, and nothing closes them."""
_LEANS = 3
"""A serif may lean, and stand out over its stroke, by less than so many px."""
_STUB = 0.5
"""The wire, or what is left of it before a code, comes out of its middle for so long at least, mm."""
_SPREAD, _LINE, _SIDE = 4, 3, 0.85
"""So many px farther out it is still one line, no higher than so many pens, unless the side of a code's outline, which is ink
over so much of the bracket's height, comes first."""
_LETTER = 1.3
"""A letter whose bar comes up to a stroke ends within so much of it, in heights of the stroke."""
_BLANK = 0.75
"""Share of the space between the serifs that is paper."""
_DEPTHS = 1.5
"""The brackets of a sheet stand equally deep within so much, mm."""
_CLEAR = 0.15
"""So far beyond the serifs lettering begins at least, mm."""
_LEAST_BLOCK = 0.8
"""What a bracket leaves of a block of lettering is a string of its own from this length on, mm."""


def find_edge_brackets(ink: NDArray[np.uint8], frame: Box | None, blocks: Sequence[TextBlock]) -> tuple[EdgeSign, ...]:
    """The brackets along the left and right side of ``frame`` (sheet mm), top to bottom; their boxes reach to the border.

    ``ink``: uint8 (H, W) at PX_PER_MM, 255 = ink, lettering left in; ``blocks``: the lettering, some of which stands behind
    every bracket. They stand equally deep: what is drawn elsewhere is a part.
    """
    if frame is None:
        return ()
    x0, y0, x1, y1 = (round(v * _MM) for v in (frame.x0 + 1.0, frame.y0 + 1.0, frame.x1 - 1.0, frame.y1 - 1.0))
    deep = min(round(_DEEP * _MM), (x1 - x0) // 2)
    left = ink[y0:y1, x0 : x0 + deep]
    right = ink[y0:y1, x1 - deep : x1][:, ::-1]
    out = []
    for side, strip in (("left", left), ("right", right)):
        for x, top, low, serifs in _brackets(strip):
            u0, u1 = (x0, x0 + x) if side == "left" else (x1 - x, x1)
            (a, b), (c, d) = to_mm(u0, y0 + top), to_mm(u1, y0 + low)
            out.append(EdgeSign(side, Box(a, b, c, d), serifs / _MM))
    out = [s for s in out if any(_behind(b, s) for b in blocks)]
    usual = float(np.median([s.box.width for s in out])) if out else 0.0
    alike = [s for s in out if abs(s.box.width - usual) <= _DEPTHS]
    return tuple(sorted(alike, key=lambda s: (s.box.y0, s.box.x0)))


def _behind(block: TextBlock, sign: EdgeSign) -> bool:
    """True for lettering between a bracket and the border."""
    b = block.box
    level = block.angle == 0 and sign.box.y0 - 0.5 <= b.centre[1] <= sign.box.y1 + 0.5
    return level and min(b.x1, sign.box.x1) - max(b.x0, sign.box.x0) >= _LEAST_BLOCK


def without_brackets(ink: NDArray[np.uint8], signs: Sequence[EdgeSign]) -> None:
    """Take the brackets, with what stands behind them, out of ``ink``, in place: only the wires are left."""
    for sign in signs:
        b = sign.box.grown(0.15)
        ink[round(b.y0 * _MM) : round(b.y1 * _MM) + 1, round(b.x0 * _MM) : round(b.x1 * _MM) + 1] = 0


def parted_at_brackets(blocks: Sequence[TextBlock], signs: Sequence[EdgeSign]) -> tuple[TextBlock, ...]:
    """The blocks of lettering, those that run through a bracket cut in two there. Ids are positions again."""
    out: list[TextBlock] = []
    for block in blocks:
        b = block.box
        sign = next((s for s in signs if _behind(block, s)), None)
        if sign is None:
            out.append(replace(block, id=len(out)))
            continue
        bar = sign.box.x1 if sign.side == "left" else sign.box.x0
        serifs = max(_PEN, sign.serifs + _CLEAR)
        behind = (b.x0, bar - serifs) if sign.side == "left" else (bar + serifs, b.x1)
        before = (bar + _PEN, b.x1) if sign.side == "left" else (b.x0, bar - _PEN)
        for low, high in sorted((behind, before)):
            # before the bracket stands a code or nothing: less is a stub of the wire
            if high - low >= (_LEAST_BLOCK if (low, high) == behind else b.height):
                out.append(replace(block, id=len(out), box=Box(low, b.y0, high, b.y1)))
    return tuple(out)


def _brackets(strip: NDArray[np.uint8]) -> list[tuple[int, int, int, int]]:
    """(x of the stroke's inner edge, top, bottom, reach of the serifs), px, in a strip whose border is at its left."""
    least = round(_TALL[0] * _MM)
    # a worn stroke steps aside by a pixel or two: no column of it runs from end to end
    thick = cv2.dilate(np.ascontiguousarray(strip), np.ones((1, 2 * _ASIDE + 1), np.uint8))
    tall = cv2.morphologyEx(thick, cv2.MORPH_OPEN, np.ones((least, 1), np.uint8))
    found = []
    for contour in cv2.findContours(tall, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE)[0]:
        x, y, w, h = cv2.boundingRect(contour)
        drawn = (strip[y : y + h, x : x + w] > 0).mean(axis=0)
        own = x + np.flatnonzero(drawn >= min(_OWN, drawn.max()))
        x, w = int(own[0]), int(own[-1] - own[0] + 1)
        if h <= _TALL[1] * _MM and w <= _PEN * _MM:
            serifs = _serifs(strip, x, y, w, h)
            if serifs:
                found.append((x + w - 1, y, y + h - 1, w - 1 + serifs))
    return found


def _serifs(strip: NDArray[np.uint8], x: int, y: int, w: int, h: int) -> int:
    """How long the serifs of a bracket are beyond its pen, px: an upright stroke with serifs to the left at both ends, paper
    between them, and a line to the right; 0 for what is none.
    """
    serif, longest, stub = round(_SERIF[0] * _MM), round(_SERIF[1] * _MM), round(_STUB * _MM)
    if x < serif or x + w + stub > strip.shape[1]:
        return 0
    pen = max(_THINNEST, w)
    inked = strip[y : y + h] > 0
    outward = np.logical_and.accumulate(inked[:, max(0, x - longest - 1) : x][:, ::-1], axis=1).sum(axis=1)
    inward = np.logical_and.accumulate(inked[:, x + w : x + w + stub + 1], axis=1).sum(axis=1)
    ends = (outward[: 2 * pen].max(), outward[-2 * pen :].max())
    if not all(serif <= e <= longest for e in ends) or max(inward[:pen].max(), inward[-pen:].max()) > stub // 2:
        return 0
    beyond = (
        strip[max(0, y - 2 * pen) : max(0, y - _LEANS), max(0, x - longest // 2) : x],
        strip[y + h + _LEANS : y + h + 2 * pen, max(0, x - longest // 2) : x],
    )
    if any(part.any() for part in beyond):  # the arcs of an oval go on: its far side is no stroke of a bracket
        return 0
    _, _, stats, _ = cv2.connectedComponentsWithStats(inked[:, max(0, x - longest - 1) : x].astype(np.uint8))
    wide = x - max(0, x - longest - 1)
    drawn = [int(c[cv2.CC_STAT_HEIGHT]) for c in stats[1:] if c[cv2.CC_STAT_LEFT] + c[cv2.CC_STAT_WIDTH] == wide]
    if max(drawn, default=0) > _FLAT * pen:  # the sides of a triangle or a box
        return 0
    middle = slice(2 * pen, h - 2 * pen)
    inner, between = inward[middle], inked[middle, x - serif : x]
    led = inner.size and 0 < int((inner >= stub).sum()) <= 2 * pen
    if not led or float((~between).mean()) < _BLANK:
        return 0
    row = 2 * pen + int(inner.argmax())
    beyond_it = inked[:, x + w : x + w + stub + _SPREAD]
    sides = stub // 2 + np.flatnonzero(beyond_it[:, stub // 2 :].mean(axis=0) >= _SIDE)
    clear = int(sides[0]) - 1 if len(sides) else stub + _SPREAD
    _, beside = cv2.connectedComponents(beyond_it[:, :clear].astype(np.uint8))
    line = np.flatnonzero((beside == beside[row, 0]).any(axis=1))
    letter = np.ptp(line) >= _LINE * pen or _is_letter(strip, (x + w, y, y + h), row, pen)  # the arms of a K part
    return 0 if letter else int(max(ends))


def _is_letter(strip: NDArray[np.uint8], at: tuple[int, int, int], row: int, pen: int) -> bool:
    """True where the line that comes out of a bracket is the bar of a 4, say: it is as high as one, and all of it is near.

    ``at``: the first column behind the bracket's stroke, its first row, the one behind its last; ``row``: that of the line.
    """
    x, top, foot = at
    first = max(0, top - _LEANS - 1)
    part = (strip[first : foot + _LEANS + 1, x : x + round(_LETTER * (foot - top))] > 0).astype(np.uint8)
    _, parts, stats, _ = cv2.connectedComponentsWithStats(part)
    _, start, wide, high, _ = (int(v) for v in stats[parts[row + top - first, 0]])
    return start > 0 and start + high < len(part) and wide < part.shape[1] and high >= _LINE * pen
