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
_CROSSED, _ROUND, _HELD = 1.2, 0.35, 0.6
"""A line that crosses hides so much of the line behind the gap, its rounded corners so much of that, mm; ink so near to
the bar's other end holds it, mm."""
_CLEAR, _WIDER = 1.8, 1.7
"""So far from its middle, mm, a dot is past and its line alone is left; it is so many times as wide as that."""
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
    before, behind = lines[level, :start][:, ::-1], lines[level, stop:]
    ahead, back = (behind, before) if sign > 0 else (before, behind)
    ahead, back = ahead[:, : gap + on + round(_CROSSED * _MM)], back[:, : round(_HELD * _MM)]
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
    if first <= round(_HELD * _MM) and _is_dot(
        lines, (top + low) // 2, stop + first if sign > 0 else start - 1 - first
    ):
        return True
    if _goes_on(ahead[:, first : first + on], inner, thick, on):
        return True
    beyond = first + _crossing(ahead[:, first:], thick)
    # then something of the line lies at the bar's other end too
    return bool(beyond > first and back.any() and _goes_on(ahead[:, beyond : beyond + on], inner, thick, on))


def _is_dot(lines: NDArray[np.uint8], row: int, column: int) -> bool:
    """True where ink is much wider than the line that runs through it across the row: a worn dot."""
    off = round(_CLEAR * _MM)
    if row < off or row + off >= len(lines):
        return False
    wide, *beside = (_run_at(lines[r], column, off) for r in (row, row - off, row + off))
    return wide <= 2 * off and 0 < max(beside) < wide / _WIDER


def _run_at(row: NDArray[np.uint8], column: int, reach: int) -> int:
    """Length of the longest run of ink in a row within ``reach`` px of a column, 0 when there is none."""
    inked = np.concatenate([[0], (row[max(0, column - reach) : column + reach + 1] > 0).astype(np.int8), [0]])
    runs = np.flatnonzero(np.diff(inked) == -1) - np.flatnonzero(np.diff(inked) == 1)
    return int(runs.max()) if len(runs) else 0


def _crossing(ahead: NDArray[np.uint8], thick: int) -> int:
    """How many columns a line that crosses right ahead takes, 0 when none does."""
    broad = (ahead > 0).sum(axis=0) > 1.6 * thick + 2
    start = int(broad.argmax())
    stop = start + int((~broad[start:]).argmax())
    return stop if stop > start and start <= round(_ROUND * _MM) and stop <= round(_CROSSED * _MM) else 0


def _goes_on(ahead: NDArray[np.uint8], inner: slice, thick: int, on: int) -> bool:
    """True when a line as ``thick`` as the bar, px, runs on over ``on`` columns; ``inner``: the rows of the bar."""
    piece = ahead[:, 1:]
    if piece.shape[1] < on - 1 or (piece[inner] > 0).any(axis=0).mean() < 0.85:
        return False
    breadth = float(np.median((piece > 0).sum(axis=0)))
    return 0.5 * thick - 1 <= breadth <= 1.6 * thick + 2


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
