"""What reaches beyond a line of lettering and is of it all the same: a slash, and a tail that touches a rule below."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from digitize.ink.lettering_pieces import Flags

Floats = NDArray[np.float64]

RISING = 0.87
"""Correlation of x and y over a slash's ink (0.91 in print of 1.6 mm, 0.95 and more in larger; a 7 has 0.7)."""
DEEPEST = 2.4
"""A slash is at most so many letter heights high (common practice, no source: 1.3 to 1.7 in drawing hands, and beside small
letters those of the capitals count)."""
OVER = 0.8
"""It reaches at most so far beyond the line either way, in letter heights."""
_LEANT = 0.7
"""… and along it, at most so far over or under the letters beside it: 0.5 in upright lettering, more in lettering that leans."""
_BEHIND = 0.6
"""Space between it and a letter beside it, at most, in letter heights …"""
_WIDE, _WORN, _LEVEL = 0.9, 0.4, 0.15
"""… and where the letter on its other side holds it, in heights of that: the space, the height of what is left of a letter, and
how far its top or its foot may be from the other's."""


def overhanging(
    slash: Flags, side: tuple[Floats, Floats, Floats, Floats], pairs: NDArray[np.intp]
) -> tuple[Flags, Flags]:
    """Pairs (first, second along the line) of a letter and a slash that spans the letter's height.

    Args:
        slash: which pieces may be a slash.
        side: u0, u1, v0, v1 of the pieces in their frame, px.
        pairs: (m, 2) numbers of pieces, the second stands behind the first.

    Returns:
        Which pairs hold, and which pieces are a slash higher than its neighbours. A slash with a letter on one side
        only is a bit of a slanting line: it holds no pair. On its other side a letter may be half worn off, or stand a
        wider space away.
    """
    u0, u1, v0, v1 = side
    i, j = pairs.T
    first = slash[i]
    k, letter = np.where(first, i, j), np.where(first, j, i)
    h = (v1 - v0)[letter]
    gap = u0[j] - u1[i]
    pair = (slash[i] != slash[j]) & (u0[j] + u1[j] > u0[i] + u1[i])
    ok = pair & (gap >= -_LEANT * h) & (gap <= _BEHIND * h)
    ok &= (v0[k] <= v0[letter] + 0.15 * h) & (v1[k] >= v1[letter] - 0.3 * h)
    ok &= (v0[letter] - v0[k] <= OVER * h) & (v1[k] - v1[letter] <= OVER * h)
    high = (v1 - v0)[k]
    ok &= (high <= DEEPEST * h) & (high >= 0.9 * h)
    before, behind = np.full(len(u0), -1), np.full(len(u0), -1)  # the letter on either side of each slash
    for beside, here in ((before, ok & ~first), (behind, ok & first)):
        beside[k[here]] = letter[here]
    other = np.where(first, before[k], behind[k])
    whole = (v1 - v0)[other]
    level = np.minimum(abs(v0[letter] - v0[other]), abs(v1[letter] - v1[other])) <= _LEVEL * whole
    part = pair & (other >= 0) & level & (h >= _WORN * whole) & (h <= (1 + _LEVEL) * whole)
    ok |= part & (gap >= -_LEANT * whole) & (gap <= _WIDE * whole)
    before[k[ok & ~first]] = letter[ok & ~first]
    behind[k[ok & first]] = letter[ok & first]
    ok &= ((before >= 0) & (behind >= 0))[k]
    deep = np.zeros(len(u0), np.bool_)
    deep[k[ok & (high > 1.12 * h)]] = True
    return ok, deep


def tailed(ends: Flags, free: Flags, side: tuple[Floats, Floats, Floats, Floats], pairs: NDArray[np.intp]) -> Flags:
    """Pairs of a whole letter and one beside it whose tail was cut off a line below.

    A tail (g, j, p, q, y) comes down to the rule of a table. A bit of wire that was cut there hangs lower, or is narrow.

    Args:
        ends: (n, 4), at which rims (both ends along the line, top, foot) a piece touched what was removed.
        free: which pieces stand alone.
        side: u0, u1, v0, v1 of the pieces in their frame, px.
        pairs: (m, 2) numbers of pieces, the second stands behind the first.
    """
    u0, u1, v0, v1 = side
    i, j = pairs.T
    k, letter = np.where(free[i], j, i), np.where(free[i], i, j)
    tall, wide = (v1 - v0)[k], (u1 - u0)[k]
    ok = (free[i] != free[j]) & ends[k, 3] & ~ends[k, :3].any(axis=1)
    ok &= (abs(v0[k] - v0[letter]) <= 0.1 * tall) & (v1[letter] < v1[k]) & ((v1 - v0)[letter] >= 0.6 * tall)
    return np.asarray(ok & (wide >= 0.35 * tall) & (wide <= 1.1 * tall), dtype=np.bool_)
