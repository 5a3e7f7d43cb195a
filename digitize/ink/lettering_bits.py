"""Letters that wear left in bits, at the ends of a line of lettering: together they are as high as a letter and level with it.

None of the bits looks like a letter, so that the line stopped before them; a wire that leads up to lettering leaves bits
at half height, and one that passes upright leaves them above and below too.
"""

from __future__ import annotations

import numpy as np

from digitize.ink.lettering_lines import Floats, Frame, Line
from digitize.ink.lettering_pieces import Flags, Ints

_LEVEL, _WORN = 0.16, 0.32
"""So near to top and foot of the line a letter begins and ends, and where wear took a bar of it, in letter heights."""
_NEXT = 1.0
"""Widest gap before a letter, in letter heights: a space is less (common practice, no source)."""
_WITHIN = 0.08
"""Widest gap between bits of one letter, in letter heights."""
_WIDEST, _INKED = 1.0, 0.55
"""Greatest width of a letter, and the least height of its bits taken together, in letter heights."""
_SMALL, _KEPT = 0.85, 0.6
"""Of a small letter, lower than this, so much of its own height."""
_BEYOND = 0.45
"""So far above and below the letter nothing goes on, in letter heights."""


def letters_in_bits(f: Frame, line: Line, spare: Flags) -> Ints:
    """The ``spare`` pieces (bool, one for each piece) that are letters in bits behind or before ``line``."""
    h = line.height
    level = (f.v0 >= line.v0 - _LEVEL * h) & (f.v1 <= line.v1 + _LEVEL * h) & (f.w <= _WIDEST * h)
    near = np.flatnonzero(spare & f.free & level & (f.u1 > line.u0 - 6 * h) & (f.u0 < line.u1 + 6 * h))
    out: list[int] = []
    for behind in (True, False):
        start, stop = (f.u0, f.u1) if behind else (-f.u1, -f.u0)
        end = line.u1 if behind else -line.u0
        broken = False
        while letter := _next_letter(near, (start, stop), end, f.dot | f.dash, h):
            # one whole letter is of the line only behind such bits: they had kept it from it
            if (len(letter) == 1 and not (broken and f.letter[letter[0]])) or not _is_letter(f, line, letter):
                break
            out += letter
            end, broken = float(stop[letter].max()), True
    return np.array(sorted(out), dtype=np.int64)


def _next_letter(near: Ints, spans: tuple[Floats, Floats], end: float, mark: Flags, h: float) -> list[int]:
    """The bits that stand one above the other, or nearly, right behind ``end``; ``spans``: start and stop of all pieces;
    ``mark``: points and dashes.
    """
    start, stop = spans
    ahead = [int(k) for k in near[np.argsort(start[near], kind="stable")] if start[k] >= end - 1]
    if len(ahead) > 1 and mark[ahead[0]] and start[ahead[1]] > stop[ahead[0]] + _WITHIN * h:
        end = float(stop[ahead.pop(0)])  # a point or a dash between the letters
    if not ahead or start[ahead[0]] > end + _NEXT * h:
        return []
    letter = [ahead[0]]
    for k in ahead[1:]:
        if start[k] > stop[letter].max() + _WITHIN * h or stop[k] - start[letter[0]] > _WIDEST * h:
            break
        letter.append(k)
    return letter


def _is_letter(f: Frame, line: Line, bits: list[int]) -> bool:
    h, top, foot = line.height, float(f.v0[bits].min()), float(f.v1[bits].max())
    tall = max(h, line.v1 - line.v0)  # worn letters are of all heights
    off = sorted((abs(top - line.v0) / tall, abs(foot - line.v1) / tall))
    small = off[1] > _LEVEL and foot - top < _SMALL * h
    if off[0] > _LEVEL or off[1] > _WORN or float(f.h[bits].sum()) < (_KEPT * (foot - top) if small else _INKED * h):
        return False
    over = (f.u0 < f.u1[bits].max()) & (f.u1 > f.u0[bits].min())
    above, below = (f.v1 <= top) & (f.v1 > top - _BEYOND * h), (f.v0 >= foot) & (f.v0 < foot + _BEYOND * h)
    return not (over & (above | below)).any()
