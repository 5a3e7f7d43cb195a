"""Signs that ran into the last letter of a line above them: a cavity's letter at its wire, below the connector's id.

Both make one piece as high as the two together, which would join the line above with what is lettered on the wire. Small
letters with tails are as high; they stand in words whose first letter is higher than the rest.
"""

from __future__ import annotations

import numpy as np

from digitize.ink.lettering_caught import parted, slant_of
from digitize.ink.lettering_pieces import Ints, Pieces
from digitize.ink.lettering_slash import RISING

_HIGH = (1.25, 2.0)
"""Both together are so high, in heights of the letters before them."""
_USUAL = 1.15
"""… and in heights of the middle one of all pieces: ids are no smaller than codes (common practice, no source)."""
_LEVEL, _NEXT = 0.12, 0.6
"""Letters of a line are so level and stand so near to each other, in letter heights."""
_LETTERS = 2
"""So many letters stand before it at least."""
_WIRE = 0.6
"""Below its foot a line runs, within so many letter heights."""
_DEEP = 0.25
"""So far, in letter heights, it reaches below the line at least."""
_BROAD = 1.8
"""It is at most so broad, in letter heights."""


def with_signs_below_free(pieces: Pieces) -> Pieces:
    """The pieces in which a sign that ran into the last letter of a level line above it is a piece of its own, at the end."""
    row = pieces.lines.shape[1]
    cut: list[tuple[int, Ints]] = []
    likely = pieces.free & ~pieces.sliver & ~pieces.solid & (abs(pieces.slant) < RISING)
    order = np.argsort(pieces.x1, kind="stable")
    ends = pieces.x1[order]
    if not likely.any():
        return pieces
    likely &= (pieces.height >= _USUAL * np.median(pieces.height[likely])) & (pieces.height > 0.7 * pieces.width)
    for i in np.flatnonzero(likely):
        start, stop = np.searchsorted(ends, (pieces.x0[i] - _NEXT * pieces.height[i], pieces.x0[i] + 3))
        near = order[start:stop]
        beside = (pieces.y1[near] > pieces.y0[i]) & (pieces.y0[near] < pieces.y1[i]) & (near != i)
        foot = _foot_before(pieces, int(i), order[:stop]) if beside.any() else None
        if foot is not None:
            spots = pieces.spots(int(i))
            cut.append((int(i), spots[spots // row >= foot]))
    if not cut:
        return pieces
    out = parted(pieces, cut)
    out.free[len(pieces) :] = True
    out.ends[len(pieces) :] = False
    for i in (*(i for i, _ in cut), *range(len(pieces), len(out))):
        out.slant[i] = slant_of(out.spots(i), row)
    return out


def _foot_before(pieces: Pieces, i: int, left: Ints) -> int | None:
    """Below which row piece ``i`` is no longer of the line that ends in it, px; None when it is a letter as it stands.

    ``left``: the pieces that end left of it, the next one last.
    """
    x0, y0, x1, y1 = pieces.x0, pieces.y0, pieces.x1, pieces.y1
    high, before = int(y1[i] - y0[i]), int(x0[i])
    line: list[int] = []
    for j in left[::-1]:
        tall = int(y1[j] - y0[j])
        if before - x1[j] > _NEXT * high:
            break
        if j == i or pieces.sliver[j] or y1[j] <= y0[i] or y0[j] > y0[i] + 0.5 * tall:
            continue  # not of the line: the sign's own neighbours, a connector's arrow heads
        if not line and not _HIGH[0] * tall <= high <= _HIGH[1] * tall:
            return None
        h = tall if not line else int(y1[line[0]] - y0[line[0]])
        first = line[0] if line else j
        if abs(int(y0[j] - y0[i])) > _LEVEL * h or abs(int(y1[j] - y1[first])) > _LEVEL * h:
            return None
        line.append(int(j))
        before = int(x0[j])
    if len(line) < _LETTERS:
        return None
    foot, h = int(y1[line[0]]), int(y1[line[0]] - y0[line[0]])
    if y1[i] - foot < _DEEP * h or x1[i] - x0[i] > _BROAD * h:
        return None
    below = pieces.lines[y1[i] : y1[i] + round(_WIRE * h), x0[i] : x1[i]]
    return foot if below.size and bool((below > 0).any(axis=0).mean() > 0.9) else None
