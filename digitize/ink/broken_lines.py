"""Pieces of broken lines that were taken for dirt or for letters: a short bar in line with a line is a part of it.

On a worn copy a thin wire is a row of bars. Alone, each looks like a hyphen, a figure 1 or a speck; what tells it is the
line that it carries on. Letters stand beside each other, not in line with a wire.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from digitize.harness.place import Box
from digitize.ink.dots import MeetingView
from digitize.ink.state import TextBlock
from digitize.sheet.runs import Patches, Runs, patches_of
from digitize.sheet.state import PX_PER_MM, to_mm

_MM = PX_PER_MM
_LEAST, _LONGEST, _THICKEST = 0.5, 6.0, 0.9
"""Length and thickness of a bar that may be a piece of a line, mm."""
_GAP = 1.7
"""Widest gap between a piece and the line that it carries on, mm."""
_GOES_ON = 0.5
"""The line behind the gap runs on at least so far in the same direction, mm."""
_NEAR = 0.4
"""A bar so near to the body of a part belongs to it, mm."""
_ALL_OF_IT = 0.3
"""A block that reaches no farther than this beyond a piece is the piece, mm."""
_ROUNDS = 4
"""Pieces in a row that are put back one after the other, at most."""

Span = tuple[int, int, int, int]
"""Box x0, y0, x1, y1 in px, upper ends exclusive."""


def bars_of(patches: Patches) -> NDArray[np.bool_]:
    """Which patches are straight level or upright bars that a line could have been broken into."""
    width, height = patches.width / _MM, patches.height / _MM
    along, across = np.maximum(width, height), np.minimum(width, height)
    full = patches.area >= 0.6 * patches.width * patches.height
    return np.asarray(
        (along >= _LEAST) & (along <= _LONGEST) & (along >= 1.8 * across) & (across <= _THICKEST) & full, np.bool_
    )


def put_back(lines: NDArray[np.uint8], pieces: Patches, seen: MeetingView | None) -> NDArray[np.bool_]:
    """Draw the bars that carry a line on into ``lines`` (uint8 (H, W), 255 = line ink), in place; which they were.

    Args:
        lines: the ink that is known to be lines.
        pieces: bars that may be lines.
        seen: a second opinion on a spot: a bar that leads to a dot is an arm of it.
    """
    back = np.zeros(len(pieces), np.bool_)
    left = np.arange(len(pieces))
    for _ in range(_ROUNDS):
        found = [k for k in left if _carries_on(lines, _span(pieces, int(k)), seen)]
        if not found:
            break
        back[found] = True
        pieces.only(back).draw(lines)
        left = np.setdiff1d(left, found)
    return back


def _span(patches: Patches, k: int) -> Span:
    return (int(patches.x0[k]), int(patches.y0[k]), int(patches.x1[k]), int(patches.y1[k]))


def _carries_on(lines: NDArray[np.uint8], bar: Span, seen: MeetingView | None) -> bool:
    """True when a line begins within a gap's width of one end of the bar and runs on in its direction."""
    x0, y0, x1, y1 = bar
    if x1 - x0 >= y1 - y0:
        return any(_line_ahead(lines, (x0, y0, x1, y1), seen, flat=True, sign=s) for s in (-1, 1))
    return any(_line_ahead(lines.T, (y0, x0, y1, x1), seen, flat=False, sign=s) for s in (-1, 1))


def _line_ahead(lines: NDArray[np.uint8], bar: Span, seen: MeetingView | None, *, flat: bool, sign: int) -> bool:
    """The same for one end of a level bar; ``lines`` lie on their side (``flat`` False) when the bar was upright."""
    start, top, stop, low = bar
    thick = low - top
    gap, on = round(_GAP * _MM), round(_GOES_ON * _MM)
    around = thick + 2
    level = slice(max(0, top - around), low + around)
    ahead = (
        lines[level, stop : stop + gap + on] if sign > 0 else lines[level, max(0, start - gap - on) : start][:, ::-1]
    )
    if ahead.size == 0:
        return False
    inner = slice(min(top, around) - 1, min(top, around) + thick + 1)
    drawn = (ahead[inner] > 0).any(axis=0)
    first = int(drawn.argmax())
    if not drawn.any() or first > gap:
        return False
    if seen is not None:
        along, across = (stop + first if sign > 0 else start - 1 - first), (top + low) / 2
        at = to_mm(along + 6 * sign, across) if flat else to_mm(across, along + 6 * sign)
        if seen.probability("dot", at) > 0.6:
            return True
    piece = ahead[:, first + 1 : first + on]
    full = (piece[inner] > 0).any(axis=0)
    if piece.shape[1] < on - 1 or full.mean() < 0.85:
        return False
    breadth = (piece > 0).sum(axis=0)
    return bool(np.median(breadth) <= 1.6 * thick + 2 and np.median(breadth) >= 0.5 * thick - 1)


def without_pieces(texts: tuple[TextBlock, ...], pieces: Patches, back: NDArray[np.bool_]) -> tuple[TextBlock, ...]:
    """Blocks of lettering without the pieces of lines at their ends, and without blocks that were nothing else.

    ``back``: which of ``pieces`` were put back.
    """
    out = list(texts)
    for k in np.flatnonzero(back):
        x0, y0, x1, y1 = (v / _MM for v in _span(pieces, int(k)))
        bar = min(x1 - x0, y1 - y0) <= _THICKEST
        for n, block in enumerate(out):
            flat, b = block.angle in (0, 180), block.box
            if not b.holds(((x0 + x1) / 2, (y0 + y1) / 2), 0.1):
                continue
            if max(x0 - b.x0, b.x1 - x1, y0 - b.y0, b.y1 - y1) < _ALL_OF_IT:
                del out[n]
                break
            if bar and flat != (x1 - x0 >= y1 - y0):
                continue
            low, high = (b.x0, b.x1) if flat else (b.y0, b.y1)
            first, last = (x0, x1) if flat else (y0, y1)
            if first - low < 0.3 and last + 1.0 < high:
                low = last + 0.1
            elif high - last < 0.3 and first - 1.0 > low:
                high = first - 0.1
            out[n] = replace(block, box=Box(low, b.y0, high, b.y1) if flat else Box(b.x0, low, b.x1, high))
    return tuple(out)


def pieces_of(letters: Patches, dropped: Patches, loose: NDArray[np.bool_], bodies: Sequence[Box]) -> Patches:
    """The bars among letters and among dropped crumbs (those that are ``loose``), outside the bodies of parts."""
    one, other = letters.only(bars_of(letters)), dropped.only(loose & bars_of(dropped))
    row = np.concatenate([one.row, other.row])
    start, stop = np.concatenate([one.start, other.start]), np.concatenate([one.stop, other.stop])
    order = np.lexsort((start, row))
    pieces = patches_of(Runs(one.shape, row[order], start[order], stop[order]))
    x, y = (pieces.x0 + pieces.x1) / 2 / _MM, (pieces.y0 + pieces.y1) / 2 / _MM
    free = bars_of(pieces)
    for b in bodies:
        free &= ~((x >= b.x0 - _NEAR) & (x <= b.x1 + _NEAR) & (y >= b.y0 - _NEAR) & (y <= b.y1 + _NEAR))
    return patches_of(pieces.only(free))
