"""Arrows at the page edge: triangles in which wires end at the border, told by their silhouette where no letter was read in them.

Common practice, no source: a wire that goes on overleaf ends at the border in a triangle of one size all over the sheet. Where a
letter stands clear in it, it is known by that (``wiring.edge_bodies``); in worn copies the letter hangs together with its
sides, and what is left is the shape: as high as the wire at one end, evenly higher towards the other. An earth mark may be
a triangle of this size too: it is empty, full or barred.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from digitize.harness.place import Box
from digitize.ink.state import EdgeSign, TextBlock
from digitize.sheet.runs import Patches, patches_of, runs_of, stretches
from digitize.sheet.state import PX_PER_MM, to_mm

_MM = PX_PER_MM
_INSIDE, _DEEP = 0.8, 9.0
"""The border's own ink ends so far inside the middle of its line; arrows stand at most so deep, mm."""
_HIGH, _LONG = (2.2, 7.0), (2.0, 7.0)
"""How high and how long a triangle may be, mm."""
_WIRE, _STUB = 1.0, 0.8
"""A wire is at most so broad, and seen over so much of its length at least behind the arrow, mm."""
_FLAG_STUB = 0.25
"""The same where the outline round its code begins behind it, mm."""
_EVEN, _MIDDLE = 0.12, 0.15
"""A side strays from a straight one by this share of the triangle's height on average at most; and its middle line by so much."""
_STEP = 0.5
"""The flat end of a triangle begins within so much, mm."""
_HABIT, _ALIKE = 2, 0.2
"""So many of one size, within this share of it, are arrows of the sheet; one alone may be anything."""
_FOUND = 0.5
"""A block of lettering at least so probable in a triangle is a letter that was found."""
_PEN, _SOME, _LETTERED = 6, (0.1, 0.9), 0.25
"""So many px inside the sides of a triangle its pen is left behind; there, a letter takes up some of a column, but not all, in at
least so much of its columns."""


def find_edge_arrows(ink: NDArray[np.uint8], frame: Box | None, blocks: Sequence[TextBlock]) -> tuple[EdgeSign, ...]:
    """The arrows along the left and right side of ``frame`` (sheet mm) in which no letter was found; their boxes reach to it.

    ``ink``: uint8 (H, W) at PX_PER_MM, 255 = ink, lettering left in.
    """
    if frame is None:
        return ()
    x0, x1 = round((frame.x0 + _INSIDE) * _MM), round((frame.x1 - _INSIDE) * _MM)
    y0, y1 = round((frame.y0 + _INSIDE) * _MM), round((frame.y1 - _INSIDE) * _MM)
    deep = round(_DEEP * _MM)
    if x1 - x0 < 3 * deep or y1 <= y0 or x0 < 0 or y0 < 0:
        return ()
    found: list[tuple[EdgeSign, bool]] = []
    for side, strip in (("left", ink[y0:y1, x0 : x0 + deep]), ("right", ink[y0:y1, x1 - deep : x1][:, ::-1])):
        patches = patches_of(runs_of(np.ascontiguousarray(strip)))
        tall = (patches.height >= _HIGH[0] * _MM) & (patches.height <= _HIGH[1] * _MM)
        for k in np.flatnonzero(tall & (patches.x1 == deep) & (patches.x0 > 0)):
            long = _triangle(patches, int(k))
            if long is not None:
                rows = int(patches.y0[k]) + np.flatnonzero(patches.crop(int(k))[:, :long].any(axis=1))
                top, foot = int(rows[0]), int(rows[-1]) + 1
                (a, b), (c, d) = to_mm(x0, y0 + top), to_mm(x0 + int(patches.x0[k]) + long, y0 + foot)
                box = Box(a, b, c, d) if side == "left" else Box(x1 / _MM - (c - a), b, x1 / _MM, d)
                drawn = strip[top:foot, int(patches.x0[k]) : int(patches.x0[k]) + long] > 0
                gap = int(patches.x0[k]) / _MM
                outline = Box(a + gap, b, c, d) if side == "left" else Box(box.x0, b, box.x1 - gap, d)
                found.append((EdgeSign(side, box, outline=outline), _holds_letter(drawn)))
    heights = [s.box.height for s, _ in found]
    read = [b.box.centre for b in blocks if b.probability >= _FOUND]
    return tuple(
        s
        for s, lettered in found
        if lettered
        and sum(abs(h - s.box.height) <= _ALIKE * s.box.height for h in heights) >= _HABIT
        and not any(s.box.holds(at) for at in read)
    )


def _holds_letter(drawn: NDArray[np.bool_]) -> bool:
    """True when a letter may stand in a triangle, bool (H, W): an earth has paper there, or ink, or bars from side to side."""
    shares = []
    for column in drawn.T:
        inked = np.flatnonzero(column)
        inner = column[inked[0] + _PEN : inked[-1] + 1 - _PEN] if len(inked) else inked
        if len(inner) >= _PEN:
            shares.append(float(inner.mean()))
    some = [_SOME[0] < share < _SOME[1] for share in shares]
    return bool(some) and sum(some) >= _LETTERED * len(some)


def _triangle(patches: Patches, k: int) -> int | None:
    """How long the triangle is that a patch of a strip begins with, px from its first column; None for any other shape.

    The border is at the left; behind the triangle only its wire goes on to the strip's right side.
    """
    drawn = patches.crop(k) > 0
    first, last = drawn.argmax(axis=0), len(drawn) - 1 - drawn[::-1].argmax(axis=0)
    high = np.where(drawn.any(axis=0), last - first + 1, 0)
    wire = int(_WIRE * _MM)
    tall = stretches(np.asarray(high > wire, np.bool_))
    if not tall:
        return None
    flat = tall[0][1]  # the first column in which there is only the wire; a flag may stand close behind
    stop, least = (tall[1][0], _FLAG_STUB) if len(tall) > 1 else (len(high), _STUB)
    if stop - flat < least * _MM or not (high[flat:stop] > 0).all():
        return None
    middle = float(np.median((first + last)[flat:stop])) / 2
    body, step = high[:flat], round(_STEP * _MM)
    full = int(body.max())
    # its point towards the border, its flat end at the wire; or the other way round
    outward = body[-step:].max() >= 0.9 * full and body[0] <= 0.4 * full
    inward = body[:step].max() >= 0.9 * full and body[-1] <= wire + 2
    if not (outward or inward) or not _HIGH[0] * _MM <= full or not _LONG[0] * _MM <= flat <= _LONG[1] * _MM:
        return None
    ramp = np.linspace(wire / 2, full, flat) if outward else np.linspace(full, wire / 2, flat)
    even = float(np.mean(np.abs(body - ramp))) <= _EVEN * full
    level = float(np.mean(np.abs((first + last)[:flat] / 2 - middle))) <= _MIDDLE * full
    return flat if even and level else None
