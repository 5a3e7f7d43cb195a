"""Slashes that ran into a letter beside them: they are cut off, so that letter and slash stand in their line as others do.

A slash is deeper than the letters of its line. What is stuck to it makes one piece that is too high for a letter and too
broad for a slash; beyond the letters, above and below, there is nothing but the two ends of one rising stroke. Where the
letters hang on a wire, or stand on one, the slash ends there as they do, and only its other end is beyond them.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from digitize.ink.lettering_caught import parted, slant_of
from digitize.ink.lettering_lines import Floats
from digitize.ink.lettering_pieces import LETTER_MAX, Flags, Ints, Pieces
from digitize.ink.lettering_slash import DEEPEST
from digitize.sheet.state import PX_PER_MM

_BROAD = (0.75, 5.0)
"""Slash and letters together are so broad, in their height: one letter to a few."""
_OVER = 0.07
"""Share of the height by which the slash reaches beyond the letters, at the top and the foot, two px at least."""
_END, _NARROW, _WORN = 0.1, 0.3, 0.4
"""In so much of the height, at either end, the ink is at most so broad, in the height; one end alone may be worn broader …"""
_LEAN = (0.12, 0.7)
"""… and so far apart across the line, top from foot, in the height."""
_INKED = 0.95
"""Share of the stroke between its ends that is ink."""
_NEAR, _LEVEL, _HELD = 0.8, 0.12, 0.25
"""Another letter of the line stands so near, and so level with what is stuck to the slash, in heights of that; so level at a wire
that what is stuck to it reaches."""
_LEAST, _THIN = 0.5, 0.7
"""What is stuck to it is at least so high, in the height of both, and has so much ink for that, in the breadth of the slash:
less is an edge of it."""
_SPUR = 0.25
"""Rows of ink beyond the letters with less than this share of their broadest row are of the worn end of the slash."""
_LEANS = 15
"""So many leans are tried where one end of the slash cannot be told from the letters'."""


def with_slashes_free(pieces: Pieces) -> Pieces:
    """The pieces in which each slash that ran into letters is a piece of its own, at the end; and so is what stands before it."""
    row = pieces.lines.shape[1]
    cut: list[tuple[int, Ints]] = []
    whole = ~pieces.sliver & ~pieces.solid
    for upright in (False, True):
        # the top and the foot of a line of lettering, not its start and end
        held = pieces.ends[:, [0, 1] if upright else [2, 3]]
        aside = pieces.ends[:, [2, 3] if upright else [0, 1]].any(axis=1)
        fit = whole & (pieces.free | ~pieces.ends.any(axis=1) | (~aside & held.any(axis=1)))
        high, wide = (pieces.width, pieces.height) if upright else (pieces.height, pieces.width)
        likely = fit & (high >= 0.85 * PX_PER_MM) & (high <= LETTER_MAX)
        likely &= (wide >= _BROAD[0] * high) & (wide <= _BROAD[1] * high)
        for i in _with_ends_of_a_slash(pieces, likely, held, upright=upright):
            spots = pieces.spots(i)
            u, v = _turned(pieces, spots, i, upright=upright)
            # between two lines the letters reach one of them at most
            ends: list[str | None] = [end for end, at in (("top", 0), ("foot", 1)) if held[i, at]]
            for end in ends or [None]:
                parts = list(_parts(u, v, int(high[i]), end))
                own = np.array([end == "top", end == "foot"])
                if parts and _stands_beside(pieces, i, v[~parts[0]], own, upright=upright):
                    whole[i] = False
                    cut += [(i, spots[part]) for part in parts]
                    break
    if not cut:
        return pieces
    out = parted(pieces, cut)
    fresh = range(len(pieces), len(out))
    for i, of in [*((i, i) for i, _ in cut), *zip(fresh, (i for i, _ in cut), strict=True)]:
        out.slant[i] = slant_of(out.spots(i), row)
        out.free[i] = pieces.free[of]
        same = (
            out.x0[i] == pieces.x0[of],
            out.x1[i] == pieces.x1[of],
            out.y0[i] == pieces.y0[of],
            out.y1[i] == pieces.y1[of],
        )
        out.ends[i] = pieces.ends[of] & same
    return out


def _turned(pieces: Pieces, spots: Ints, of: Ints | int, *, upright: bool) -> tuple[Ints, Ints]:
    """Along the line of lettering and down across it, px from the corner of the piece ``of`` which each pixel is."""
    row = pieces.lines.shape[1]
    x, y = spots % row - pieces.x0[of], spots // row - pieces.y0[of]
    return (pieces.height[of] - 1 - y, x) if upright else (x, y)


def _with_ends_of_a_slash(pieces: Pieces, likely: Flags, held: Flags, *, upright: bool) -> list[int]:
    """Those of the ``likely`` pieces whose first and last row of ink are narrow and lie as the ends of a slash do.

    An end that is ``held`` by a line, bool (n, 2) for top and foot, is not asked. Hardly one piece in a hundred is left: all
    are looked at together, which takes a quarter of the time.
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
    most = np.where(held[own].any(axis=1), _WORN, _NARROW)
    narrow = np.column_stack([top_end - top, foot_end - foot]) < (most * high)[:, None]
    lean = (top + top_end - foot - foot_end) / 2 / high
    good = (narrow | held[own]).all(axis=1) & (held[own].any(axis=1) | ((lean >= _LEAN[0]) & (lean <= _LEAN[1])))
    return [int(i) for i in own[good]]


def _stands_beside(pieces: Pieces, i: int, letters: Ints, held: Flags, *, upright: bool) -> bool:
    """True where another piece of the height of ``letters`` stands level with them beside piece ``i``: the line they are of.

    ``letters``: rows of their pixels across the line, px from the top of the piece; ``held``: whether their top and foot are.
    What is no deeper than its line is no slash, but the leaning stem of a 4, say.
    """
    x0, x1, y0, y1 = pieces.x0, pieces.x1, pieces.y0, pieces.y1
    start, stop, top, foot = (y0, y1, x0, x1) if upright else (x0, x1, y0, y1)
    rows = np.bincount(letters)
    full = np.flatnonzero(rows >= _SPUR * rows.max())  # a broad end of the slash reaches beyond
    first, last = int(top[i] + full[0]), int(top[i] + full[-1]) + 1
    over, under = np.where(held, _HELD, _LEVEL) * (last - first)
    near = np.maximum(start - stop[i], start[i] - stop) <= _NEAR * (last - first)
    level = (abs(top - first) <= over) & (abs(foot - last) <= under)
    level[i] = False
    return bool((near & level & ~pieces.sliver).any())


def _parts(u: Ints, v: Ints, high: int, held: str | None) -> Iterator[Flags]:
    """Which pixels of a piece are its slash, and which stand before it, where others stand behind; nothing where it has none.

    ``u``, ``v``: along the line of lettering and down across it, from the piece's corner, px; ``high``: its height, px;
    ``held``: the end, "top" or "foot", at which a line runs along the lettering.
    """
    end = max(2, round(_END * high))
    stroke = _between_ends(u, v, high, end) if held is None else _from_one_end(u, v, high, end, held)
    if stroke is None:
        return
    off, pen = stroke
    if _rows(v[abs(off) <= 1]) < _INKED * high:
        return
    near = abs(off) <= pen / 2 + 1
    beside = [side for side in (~near & (off < 0), ~near & (off > 0)) if side.any()]
    rows = [int(np.ptp(v[side])) + 1 for side in beside]
    letters = [
        side for side, n in zip(beside, rows, strict=True) if n >= _LEAST * high and side.sum() >= _THIN * pen * n
    ]
    if not letters:
        return
    rest = np.logical_or.reduce(letters)
    if held is not None:
        full = np.flatnonzero(np.bincount(v[rest]) >= _SPUR * np.bincount(v[rest]).max())
        letters = [side & (v >= full[0] if held == "foot" else v <= full[-1]) for side in letters]
        rest = np.logical_or.reduce(letters)
    low, deep = int(v[rest].min()), high - 1 - int(v[rest].max())
    beyond = [deep] * (held != "foot") + [low] * (held != "top")
    least = max(2, round(_OVER * high))
    if (
        min(beyond) < (least if held is not None else 1)
        or sum(beyond) < len(beyond) * least
        or high > DEEPEST * (high - low - deep)
    ):
        return
    slash = ~rest & ((held is None) | (abs(off) <= pen + 1))  # its rough edges are its own
    letters[-1] = letters[-1] | (~rest & ~slash)
    yield slash
    yield from letters[:-1]


def _between_ends(u: Ints, v: Ints, high: int, end: int) -> tuple[Floats, float] | None:
    """How far each pixel lies from a stroke between the first and the last rows of ink, along the line, and its breadth there.

    Where letters begin at once, fewer rows than ``end`` are the slash alone.
    """
    tops, feet = _narrow(u, v, range(end), high), _narrow(u, v, range(high - 1, high - 1 - end, -1), high)
    top, foot = u[np.isin(v, tops)], u[np.isin(v, feet)]
    if not len(top) or not len(foot):
        return None
    share = (v - float(np.mean(tops))) / max(1.0, float(np.mean(feet)) - float(np.mean(tops)))
    lean = float(top.mean() - foot.mean())
    if not _LEAN[0] * high <= lean <= _LEAN[1] * high:
        return None
    return u - (top.mean() - lean * share), max(np.ptp(top), np.ptp(foot)) + 1 - lean * end / high


def _narrow(u: Ints, v: Ints, rows: range, high: int) -> list[int]:
    """The first of ``rows``, up to where the ink in all of them is no longer as narrow as the end of a slash."""
    lo, hi, out = np.inf, -np.inf, []
    for row in rows:
        inked = u[v == row]
        if len(inked):
            lo, hi = min(lo, inked.min()), max(hi, inked.max())
        if hi - lo + 1 > _NARROW * high:
            break
        out.append(row)
    return out


def _from_one_end(u: Ints, v: Ints, high: int, end: int, held: str) -> tuple[Floats, float] | None:
    """The same for a stroke from the end that is not ``held``, in the direction in which most of it is ink."""
    tip = (v < end) if held == "foot" else (v >= high - end)
    broad = int(np.ptp(u[tip])) + 1
    if broad > _WORN * high:
        return None
    across, down = u - u[tip].mean(), v - v[tip].mean()
    best = None
    for lean in np.linspace(*_LEAN, _LEANS):
        off = across + lean * down
        inked = _rows(v[abs(off) <= 1])
        if best is None or inked > best[0]:
            best = inked, off, broad - lean * end
    return None if best is None else best[1:]


def _rows(v: Ints) -> int:
    """How many different rows these pixels lie in."""
    return int(np.count_nonzero(np.bincount(v)))
