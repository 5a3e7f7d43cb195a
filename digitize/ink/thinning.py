"""Ink thinned to centre lines by the method of Guo and Hall (1989), at a cost that grows with the ink and not the page.

The method takes pixels off in rounds of two passes; the eight neighbours of a pixel say whether it goes, and all of a pass
go at once. The first round looks at all ink; every later pass only at the pixels beside one that went since that pass last
came round, because for the others nothing has changed. The result is the same as when all are looked at every time.
"""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import NDArray

_AROUND = ((-1, 0), (-1, 1), (0, 1), (1, 1), (1, 0), (1, -1), (0, -1), (-1, -1))
"""Row and column steps to the eight neighbours, clockwise from the one above; bit k of a code stands for the k-th."""

_INK, _LISTED, _RIM = 1, 2, 4
"""Bits of the work picture: ink that is left; ink on the list of what to look at; ink on the rim, which stays."""

_AT_ONCE = 1 << 18
"""Pixels looked at in one go, so that large sheets need no more memory."""


def thin(ink: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """Thinned ink: uint8 (H, W), 255 on the centre lines. ``ink``: uint8 (H, W), non-zero = ink.

    Ink on the outermost rows and columns stays as it is, as in OpenCV's ximgproc, whose result this equals.
    The older method of Zhang and Suen (1984) eats short slanted lines from their free ends, and with them the chamfer
    that a line ends in before its code.
    """
    work = np.minimum(ink, _INK, dtype=np.uint8)
    for rim in (work[0], work[-1], work[:, 0], work[:, -1]):
        rim[rim > 0] = _INK | _RIM
    flat = work.ravel()
    steps = [dy * ink.shape[1] + dx for dy, dx in _AROUND]
    parts = range(0, len(flat), 16 * _AT_ONCE)
    look = np.concatenate([np.flatnonzero(flat[a : a + 16 * _AT_ONCE] == _INK) + a for a in parts])
    first = _taken(flat, look, steps, 0)
    gone = [first, _taken(flat, look[flat[look] == _INK], steps, 1)]
    turn = 0
    while len(gone[0]) or len(gone[1]):
        gone = [gone[1], _taken(flat, _beside(flat, np.concatenate(gone), steps), steps, turn)]
        turn = 1 - turn
    work &= _INK
    work *= 255
    return work


def _taken(flat: NDArray[np.uint8], look: NDArray[np.intp], steps: list[int], turn: int) -> NDArray[np.intp]:
    """Take off what goes of the pixels ``look`` in a pass; returns it."""
    goes = _goes()[turn]
    gone = []
    for first in range(0, len(look), _AT_ONCE):
        part = look[first : first + _AT_ONCE]
        code = np.zeros(len(part), np.uint8)
        for bit, step in enumerate(steps):
            code |= (flat[part + step] & _INK) << bit
        gone.append(part[goes[code]])
    out = np.concatenate(gone) if gone else look
    flat[out] = 0
    return out


def _beside(flat: NDArray[np.uint8], gone: NDArray[np.intp], steps: list[int]) -> NDArray[np.intp]:
    """The ink off the rim that touches any of the pixels ``gone``, each once."""
    found = []
    for step in steps:
        near = gone + step
        near = near[flat[near] == _INK]
        flat[near] = _INK | _LISTED
        found.append(near)
    out = np.concatenate(found)
    flat[out] = _INK
    return out


@cache
def _goes() -> NDArray[np.bool_]:
    """(2, 256): whether a pixel with such neighbours goes, in the first and in the second pass of a round."""
    p = [(np.arange(256) >> k & 1).astype(np.bool_) for k in range(8)]
    up, up_right, right, low_right, low, low_left, left, up_left = p
    corners = [~up & (up_right | right), ~right & (low_right | low), ~low & (low_left | left), ~left & (up_left | up)]
    parts = np.sum(corners, axis=0)
    one = np.sum([up_left | up, up_right | right, low_right | low, low_left | left], axis=0)
    other = np.sum([up | up_right, right | low_right, low | low_left, left | up_left], axis=0)
    ends = np.minimum(one, other)
    may = (parts == 1) & (ends >= 2) & (ends <= 3)
    first = may & ~((low | low_left | ~up_left) & left)
    second = may & ~((up | up_right | ~low_right) & right)
    return np.array([first, second])
