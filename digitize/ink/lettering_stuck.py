"""Slashes that ran into a letter beside them: they are cut off, so that letter and slash stand in their line as others do.

A slash is deeper than the letters of its line. What is stuck to it makes one piece that is too high for a letter and too
broad for a slash; beyond the letters, above and below, there is nothing but the two ends of one rising stroke.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from digitize.ink.lettering_caught import parted
from digitize.ink.lettering_pieces import LETTER_MAX, Flags, Ints, Pieces
from digitize.ink.lettering_slash import DEEPEST
from digitize.sheet.state import PX_PER_MM

_BROAD = (0.75, 5.0)
"""Slash and letters together are so broad, in their height: one letter to a few."""
_OVER = 0.07
"""Share of the height by which the slash reaches beyond the letters, at the top and the foot, two px at least."""
_END, _NARROW = 0.1, 0.3
"""In so much of the height, at either end, the ink is at most so broad, in the height …"""
_LEAN = (0.12, 0.7)
"""… and so far apart across the line, top from foot, in the height."""
_INKED = 0.95
"""Share of the stroke between its ends that is ink."""
_NEAR, _LEVEL = 0.8, 0.12
"""Another letter of the line stands so near, and so level with what is stuck to the slash, in heights of that."""
_LEAST = 0.5
"""What is stuck to it is at least so high, in the height of both."""


def with_slashes_free(pieces: Pieces) -> Pieces:
    """The pieces in which each slash that ran into letters is a piece of its own, at the end; and so is what stands before it."""
    row = pieces.lines.shape[1]
    cut: list[tuple[int, Ints]] = []
    fit = pieces.free & ~pieces.sliver & ~pieces.solid
    for upright in (False, True):
        high, wide = (pieces.width, pieces.height) if upright else (pieces.height, pieces.width)
        likely = fit & (high >= 0.85 * PX_PER_MM) & (high <= LETTER_MAX)
        likely &= (wide >= _BROAD[0] * high) & (wide <= _BROAD[1] * high)
        for i in _with_ends_of_a_slash(pieces, likely, upright=upright):
            spots = pieces.spots(i)
            u, v = _turned(pieces, spots, i, upright=upright)
            parts = list(_parts(u, v, int(high[i])))
            if parts and _stands_beside(pieces, i, v[~parts[0]], upright=upright):
                fit[i] = False
                cut += [(i, spots[part]) for part in parts]
    if not cut:
        return pieces
    out = parted(pieces, cut)
    for i in {*(i for i, _ in cut), *range(len(pieces), len(out))}:
        spots = out.spots(i)
        x, y = spots % row - (spots % row).mean(), spots // row - (spots // row).mean()
        out.slant[i] = (x * y).sum() / np.sqrt(max(1e-9, float((x * x).sum() * (y * y).sum())))
        out.free[i] = True
    return out


def _turned(pieces: Pieces, spots: Ints, of: Ints | int, *, upright: bool) -> tuple[Ints, Ints]:
    """Along the line of lettering and down across it, px from the corner of the piece ``of`` which each pixel is."""
    row = pieces.lines.shape[1]
    x, y = spots % row - pieces.x0[of], spots // row - pieces.y0[of]
    return (pieces.height[of] - 1 - y, x) if upright else (x, y)


def _with_ends_of_a_slash(pieces: Pieces, likely: Flags, *, upright: bool) -> list[int]:
    """Those of the ``likely`` pieces whose first and last row of ink are narrow and lie as the ends of a slash do.

    Hardly one in a hundred: all are looked at together, which takes a quarter of the time.
    """
    on = likely[pieces.owner]
    owner, spots, row = pieces.owner[on], pieces.pixels[on], pieces.lines.shape[1]
    if not len(owner):
        return []
    if upright:
        x = spots.astype(np.int32) % np.int32(row)
        ends = x == pieces.x0.astype(np.int32)[owner], x == (pieces.x1 - 1).astype(np.int32)[owner]
    else:
        ends = spots < ((pieces.y0 + 1) * row)[owner], spots >= ((pieces.y1 - 1) * row)[owner]
    rows = []
    for end in ends:
        u, _ = _turned(pieces, spots[end], owner[end], upright=upright)
        first = np.flatnonzero(np.diff(owner[end], prepend=-1))
        rows.append((np.minimum.reduceat(u, first), np.maximum.reduceat(u, first)))
    own = np.flatnonzero(likely)
    high = (pieces.width if upright else pieces.height)[own]
    (top, top_end), (foot, foot_end) = rows
    lean = (top + top_end - foot - foot_end) / 2 / high
    narrow = np.maximum(top_end - top, foot_end - foot) < _NARROW * high
    good = narrow & (lean >= _LEAN[0]) & (lean <= _LEAN[1])
    return [int(i) for i in own[good]]


def _stands_beside(pieces: Pieces, i: int, letters: Ints, *, upright: bool) -> bool:
    """True where another piece of the height of ``letters`` stands level with them beside piece ``i``: the line they are of.

    ``letters``: rows of their pixels across the line, px from the top of the piece. What is no deeper than its line is no
    slash, but the leaning stem of a 4, say.
    """
    x0, x1, y0, y1 = pieces.x0, pieces.x1, pieces.y0, pieces.y1
    start, stop, top, foot = (y0, y1, x0, x1) if upright else (x0, x1, y0, y1)
    first, last = int(top[i] + letters.min()), int(top[i] + letters.max()) + 1
    off = _LEVEL * (last - first)
    near = np.maximum(start - stop[i], start[i] - stop) <= _NEAR * (last - first)
    level = (abs(top - first) <= off) & (abs(foot - last) <= off)
    level[i] = False
    return bool((near & level & ~pieces.sliver).any())


def _parts(u: Ints, v: Ints, high: int) -> Iterator[Flags]:
    """Which pixels of a piece are its slash, and which stand before it, where others stand behind; nothing where it has none.

    ``u``, ``v``: along the line of lettering and down across it, from the piece's corner, px; ``high``: its height, px.
    """
    end = max(2, round(_END * high))
    top, foot = u[v < end], u[v >= high - end]
    if not _LEAN[0] * high <= float(top.mean() - foot.mean()) <= _LEAN[1] * high:
        return
    if max(np.ptp(top), np.ptp(foot)) + 1 > _NARROW * high:
        return
    share = (v - (end - 1) / 2) / max(1, high - end)
    off = u - (top.mean() + (foot.mean() - top.mean()) * share)
    pen = max(np.ptp(top), np.ptp(foot)) + 1 - (top.mean() - foot.mean()) * end / high
    if len(np.unique(v[abs(off) <= 1])) < _INKED * high:
        return
    near = abs(off) <= pen / 2 + 1
    beside = [side for side in (~near & (off < 0), ~near & (off > 0)) if side.any()]
    letters = [side for side in beside if np.ptp(v[side]) + 1 >= _LEAST * high]
    if not letters:
        return
    rest = np.logical_or.reduce(letters)
    low, deep = int(v[rest].min()), high - 1 - int(v[rest].max())
    if min(low, deep) < max(2, round(_OVER * high)) or high > DEEPEST * (high - low - deep):
        return
    yield ~rest
    yield from letters[:-1]
