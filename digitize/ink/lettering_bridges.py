"""Letters that a line runs through: the ink under the line is theirs where their strokes stand on both sides of it.

Two rows of lettering that share one line, and touch it from above and below, are no letters that it runs through.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from digitize.sheet.bits import Bits, around, closed, opened, packed, set_in, unpacked
from digitize.sheet.runs import Ints, Runs, patches_of, runs_at
from digitize.sheet.state import PX_PER_MM

Mask = NDArray[np.uint8]

_BAND = 1024
"""Rows of a page that are worked on at a time, px."""
_STROKE, _EDGE = 2, 10
"""A stroke goes on at least so many px from a line that runs through it, or is so broad there; less is the rough edge of the line."""
_BESIDE, _HIGH = 2.6, 1.3
"""Other letters of a row are looked for so far to both sides, and so far above or below the line, mm."""
_DEEP = 0.65
"""A letter beside the stroke reaches over so much of that, mm."""
_CLEAR, _OFF, _SIDE = 2, 2, 3
"""A row of letters that stands clear of the line keeps so far from it, px, beyond what the line wavers by; a line goes on so far,
px, to both sides."""


def lead_letters_on(rest: Mask, removed: Mask, across: Mask, down: Mask) -> None:
    """Give letters that a line runs through their pixels under the line back, where strokes stand on both sides.

    Both strokes reach the line: over paper nothing is led from a letter to the foot of one beyond the line.
    Works in place on ``rest``, band by band: large pages have no room for whole masks more.
    """
    k = int(0.75 * PX_PER_MM)
    above = rest[:0]
    led: list[tuple[Ints, Ints]] = []
    for top in range(0, len(rest), _BAND):
        foot, low = min(len(rest), top + _BAND), min(len(rest), top + _BAND + 3 * k)
        part = np.vstack([above, rest[top:low]])
        rows, own = slice(top - len(above), low), slice(len(above), len(above) + foot - top)
        above = rest[max(0, foot - 3 * k) : foot].copy()  # as it was, for the next band
        strokes, taken = packed(part), packed(removed[rows])
        bridge = _bridges(strokes, taken, packed(down[rows]), k, 0) | _bridges(
            strokes, taken, packed(across[rows]), k, 1
        )
        cv2.bitwise_or(rest[top:foot], unpacked(bridge[own], rest.shape[1]), dst=rest[top:foot])
        at = set_in(bridge[own])
        led.append((at[0] + top, at[1]))
    _apart(rest, removed, runs_at(rest.shape, *(np.concatenate(v) for v in zip(*led, strict=True))))


def _bridges(rest: Bits, removed: Bits, along: Bits, k: int, axis: int) -> Bits:
    """Removed ink between strokes of ``rest`` less than ``k`` px apart down (axis 0) or across (axis 1) the page."""
    strokes = opened(rest, _STROKE, axis) | opened(rest, _EDGE, 1 - axis)
    between = closed(strokes, k, axis) & ~rest
    paper = opened(between & ~removed, 2, axis)
    return between & ~around(paper, k - 1, axis) & removed & ~along


def _apart(rest: Mask, removed: Mask, bridges: Runs) -> None:
    """Take back what was led on (``bridges``) between two rows of letters that share a line. Works in place on ``rest``.

    One of the rows stands clear of the line, with its slashes' tails alone down to it: a line that runs through letters
    touches them all.
    """
    led = patches_of(bridges)
    for k in range(len(led)):
        x0, x1, y0, y1 = (int(v[k]) for v in (led.x0, led.x1, led.y0, led.y1))
        level = (
            removed[(y0 + y1) // 2, max(0, x0 - _SIDE) : x1 + _SIDE].mean()
            >= removed[max(0, y0 - _SIDE) : y1 + _SIDE, (x0 + x1) // 2].mean()
        )
        ink, box = (rest, (x0, x1, y0, y1)) if level else (rest.T, (y0, y1, x0, x1))
        over = _stands(ink, box, -1)
        under = None if over is None else _stands(ink, box, 1)
        if under is not None and (over or under):
            rest[y0:y1, x0:x1][removed[y0:y1, x0:x1] > 0] = 0


def _stands(ink: Mask, box: tuple[int, int, int, int], way: int) -> bool | None:
    """True where letters beside a stroke, above (``way`` -1) or below a level line, stand clear of it; None where there are none.

    ``box``: first and last column and row, px, of the stroke's ink under the line.
    """
    x0, x1, y0, y1 = box
    side, high = round(_BESIDE * PX_PER_MM), round(_HIGH * PX_PER_MM)
    rows = slice(max(0, y0 - _OFF - high), max(0, y0 - _OFF)) if way < 0 else slice(y1 + _OFF, y1 + _OFF + high)
    part = ink[rows, max(0, x0 - side) : x1 + side]
    part = np.ascontiguousarray(part if way > 0 else part[::-1])
    if not part.size:
        return None
    start = min(x0, side)
    if not (part[:, : max(0, start - _SIDE)].any() or part[:, start + x1 - x0 + _SIDE :].any()):
        return None
    own = slice(max(0, start - _SIDE), start + x1 - x0 + _SIDE)
    _, labels, sizes, _ = cv2.connectedComponentsWithStats(part, connectivity=8)
    other = sizes[:, cv2.CC_STAT_HEIGHT] >= _DEEP * PX_PER_MM  # what stands farther off only reaches in
    other[labels[:, own].ravel()] = False
    other[0] = False
    others = other[labels]
    return not others[:_CLEAR].any() if others.any() else None
