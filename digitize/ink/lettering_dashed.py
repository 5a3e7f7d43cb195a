"""Dashed outlines close to letters: their bent corners are no letters, and a dash that touches a letter is none of it.

The letter at a terminal stands in the corner of a part's dashed box. The corner stroke beside it looks like a 1, and the
last dash above it may touch it, so that neither is in a row of dashes by itself.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from digitize.ink.lettering_caught import parted
from digitize.ink.lettering_lines import LETTER_GAP
from digitize.ink.lettering_pieces import LETTER_MAX, Flags, Ints, Pieces
from digitize.sheet.state import PX_PER_MM

_ARM = 0.5 * PX_PER_MM
"""No arm of a dashed outline's corner is shorter, px."""
_IN_LINE = 0.3 * PX_PER_MM
"""Dashes of one line lie so near to one line, px."""
_NEXT_DASH = 1.1
"""The next dash begins so near, in dash lengths, as within a broken line."""
_LEAST_DASH = 0.4
"""What is cut off a letter is at least so long, in lengths of the dashes in line with it (own choice; the last may be cut short)."""
_ROUGH = 1
"""So many px more than the dashes beside it a dash may be thick where it touches a letter."""

_EVEN = 0.12
"""Letters of one word are so even at top and foot, in letter heights."""


def off_dashes(pieces: Pieces, broken: Flags) -> tuple[Pieces, Flags]:
    """The pieces with dashes that touch letters cut off them, at the end; and which are dashes, or corners, of broken lines.

    ``broken``: those that stand in rows by themselves.
    """
    broken = broken | dashed_corners(pieces, broken)
    touching = touching_dashes(pieces, broken)
    cut = [(i, spots) for i, spots in touching if len(spots) < pieces.area[i]]
    broken[[i for i, spots in touching if len(spots) == pieces.area[i]]] = True
    if not cut:
        return pieces, broken
    pieces, broken = parted(pieces, cut), np.append(broken, np.ones(len(cut), np.bool_))
    return pieces, broken | dashed_corners(pieces, broken)


def touching_dashes(pieces: Pieces, broken: Flags) -> list[tuple[int, Ints]]:
    """Pieces at whose top or foot a level dash lies in line with a broken line, and that dash's pixels.

    The dash sticks out at the side of the broken line alone, or another dash or a corner is in line with it on the other
    side too: the bar of a T or an E does neither. All pixels of a piece that is nothing but that dash and a bar at its far
    end: a corner too thick or too rough to be told by itself.
    """
    out: dict[int, Ints] = {}
    fit = ~broken & ~pieces.sliver & (pieces.height >= 0.85 * PX_PER_MM) & (pieces.height <= LETTER_MAX)
    letters = np.flatnonzero(fit & (pieces.width <= 2 * LETTER_MAX) & (pieces.width >= _ARM))
    dashes = np.flatnonzero(broken & (pieces.width > 2.2 * pieces.height))
    if not len(letters) or not len(dashes):
        return []
    for top in (True, False):
        line = pieces.y0 if top else pieces.y1
        for behind in (True, False):
            starts, ends = (pieces.x0, pieces.x1) if behind else (-pieces.x1, -pieces.x0)
            tree = cKDTree(np.column_stack([starts[letters], line[letters]]))
            reach = _NEXT_DASH * pieces.width[dashes]
            near = tree.query_ball_point(np.column_stack([ends[dashes], line[dashes]]), r=reach, p=np.inf)
            for d, found in zip(dashes.tolist(), near, strict=True):
                for i in letters[found].tolist():
                    if i not in out and starts[i] > ends[d] and abs(line[i] - line[d]) <= _IN_LINE:
                        spots = _dash_of(pieces, broken, (i, d), top=top, behind=behind)
                        out.update({} if spots is None else {i: spots})
    return list(out.items())


def _dash_of(pieces: Pieces, broken: Flags, pair: tuple[int, int], *, top: bool, behind: bool) -> Ints | None:
    """The pixels of the dash at a piece's top or foot that follows a dash; ``pair``: piece and dash. None when there is none."""
    i, d = pair
    deep, long = int(pieces.height[d]) + _ROUGH, int(pieces.width[d])
    # seen with the dash at the top and the broken line at the left; the foot of an A may reach farther left than the dash
    own = pieces.picture(i)[:: 1 if top else -1, :: 1 if behind else -1]
    inked = np.asarray(own[:deep].any(axis=0))
    start = int(inked.argmax())
    bare = np.flatnonzero(~inked[start:])
    stop = start + int(bare[0]) if len(bare) else own.shape[1]
    letter = np.flatnonzero(np.asarray(own[deep:].any(axis=0)))
    if not len(letter) or stop - start < _LEAST_DASH * long:
        return None
    spots, row = pieces.spots(i), pieces.lines.shape[1]
    if not _followed(pieces, broken, pair, top=top, behind=behind):
        if letter[0] < start + deep or letter[-1] < stop - deep:
            return None
        if letter[-1] - letter[0] <= deep + _ROUGH:
            return spots
    y, x = spots // row - pieces.y0[i], spots % row - pieces.x0[i]
    across = y < deep if top else y >= own.shape[0] - deep
    x = x if behind else own.shape[1] - 1 - x
    return np.asarray(spots[across & (x >= start) & (x < stop)])


def _followed(pieces: Pieces, broken: Flags, pair: tuple[int, int], *, top: bool, behind: bool) -> bool:
    """True when another dash or a corner is in line with a dash on the other side of a piece."""
    i, d = pair
    line = pieces.y0 if top else pieces.y1
    beyond = pieces.x0 - pieces.x1[i] if behind else pieces.x0[i] - pieces.x1
    near = (abs(line - line[d]) <= _IN_LINE) & (beyond > 0) & (beyond < _NEXT_DASH * pieces.width[d])
    return any(broken[k] or _bend(pieces.picture(int(k))) is not None for k in np.flatnonzero(near))


def dashed_corners(pieces: Pieces, broken: Flags) -> Flags:
    """Which pieces are bent corner strokes of dashed outlines: an L of two bare arms, in line with a row of dashes.

    ``broken``: the dashes of broken lines. One arm is asked for: at the other the next dash may touch a letter.
    """
    out = np.zeros(len(pieces), np.bool_)
    dashes = np.flatnonzero(broken)
    w, h = pieces.width, pieces.height
    small = np.flatnonzero(~broken & (np.maximum(w, h) <= LETTER_MAX) & (np.minimum(w, h) >= _ARM))
    if not len(dashes) or not len(small):
        return out
    middle = np.column_stack([pieces.x0 + pieces.x1, pieces.y0 + pieces.y1]) / 2
    far, _ = cKDTree(middle[dashes]).query(middle[small], p=np.inf, distance_upper_bound=2.5 * LETTER_MAX)
    for i in small[np.isfinite(far)]:
        x0, x1, y0, y1 = (int(v[i]) for v in (pieces.x0, pieces.x1, pieces.y0, pieces.y1))
        near = (pieces.x0[dashes] < x1 + LETTER_MAX) & (pieces.x1[dashes] > x0 - LETTER_MAX)
        near &= (pieces.y0[dashes] < y1 + LETTER_MAX) & (pieces.y1[dashes] > y0 - LETTER_MAX)
        them = dashes[near]
        bend = _bend(pieces.picture(int(i))) if len(them) else None
        if bend is None:
            continue
        right, low, pen = bend
        level, upright = them[w[them] > h[them]], them[w[them] < h[them]]
        across, down = (y1 - pen / 2 if low else y0 + pen / 2), (x1 - pen / 2 if right else x0 + pen / 2)
        ahead = x0 - pieces.x1[level] if right else pieces.x0[level] - x1
        beyond = y0 - pieces.y1[upright] if low else pieces.y0[upright] - y1
        beside = abs((pieces.y0 + pieces.y1)[level] / 2 - across) < _IN_LINE
        under = abs((pieces.x0 + pieces.x1)[upright] / 2 - down) < _IN_LINE
        goes_on = bool((beside & (ahead > 0) & (ahead < _NEXT_DASH * w[level])).any())
        turns = bool((under & (beyond > 0) & (beyond < _NEXT_DASH * h[upright])).any())
        out[i] = (goes_on and turns) or ((goes_on or turns) and not _in_word(pieces, int(i), right=right))
    return out


def _in_word(pieces: Pieces, i: int, *, right: bool) -> bool:
    """True when a piece exactly as high stands on the outer side of a bend: it is the L of a word, with dashes to write on."""
    slack = _EVEN * pieces.height[i]
    level = (abs(pieces.y0 - pieces.y0[i]) <= slack) & (abs(pieces.y1 - pieces.y1[i]) <= slack)
    gap = pieces.x0 - pieces.x1[i] if right else pieces.x0[i] - pieces.x1
    return bool((level & (gap > 0) & (gap < LETTER_GAP * pieces.height[i])).any())


def _bend(own: NDArray[np.bool_]) -> tuple[bool, bool, int] | None:
    """Whether the bend of an L of two bare arms lies at the right and below, and how thick they are, px; None for no L."""
    pen = int(min(np.median(own.sum(axis=0)), np.median(own.sum(axis=1))))
    if not 0 < 2.2 * pen < min(own.shape):
        return None
    rim = pen + 2  # arms lean by a pixel, and are rough
    for right in (False, True):
        for low in (False, True):
            turned = own[:: -1 if low else 1, :: -1 if right else 1]  # the bend is left above now
            if not turned[rim:, rim:].any() and turned[:rim].any(axis=0).all() and turned[:, :rim].any(axis=1).all():
                return right, low, pen
    return None
