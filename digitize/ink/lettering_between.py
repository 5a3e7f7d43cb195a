"""What stands between two letters or words: a line that parts them, or a wire that only crosses the space."""

from __future__ import annotations

import numpy as np

from digitize.ink.lettering_pieces import Mask

_NARROW = 0.15
"""In a gap of fewer letter heights no line is looked for."""
_REACHING = 4
"""What a line runs through may reach so far into it, px."""
_STANDS, _MEETS = 0.7, 0.9
"""A line stands over so much of the letters' height at least; a rule that meets it is ink over so much of its length."""
_SPACE = 0.9
"""A gap of more letter heights is no space in a code (common practice, no source)."""
_BESIDE, _OFF = 0.8, 1.6
"""Rules are looked for so far to the sides of the line, and so far above and below the letters, in letter heights."""

Span = tuple[float, float]


def window(angle: int, ink: Mask, u: Span, v: Span) -> Mask:
    """The part of a page within ``u`` and ``v``, px in a frame turned by ``angle`` degrees: rows along v, columns along u."""
    a, b, c, d = (int(t) for t in (*u, *v))
    (x0, x1), (y0, y1) = {0: ((a, b), (c, d)), 90: ((c, d), (-b, -a)), 270: ((-d, -c), (a, b))}[angle]
    crop = ink[max(0, y0) : max(0, y1), max(0, x0) : max(0, x1)]
    if angle == 90:
        return crop[::-1].T
    return crop[:, ::-1].T if angle == 270 else crop


def barred(angle: int, lines: Mask, gap: Span, v: Span, tall: float) -> bool:
    """True when a line parts two letters: it stands in the gap over most of their height, and either the gap is wider than
    a space, or level lines above and below meet it on one side at least, as in the cells of a table or at the end of an
    outline (a wire may cross the space in a code).

    Args:
        angle: reading direction, degrees counter-clockwise: 0, 90 or 270.
        lines: uint8 mask of the page, the ink that is no lettering.
        gap: where the first letter ends and the second begins, px in the frame of ``angle``.
        v: top and foot that both have in common, px in that frame.
        tall: letter height, px.
    """
    if gap[1] - gap[0] <= _NARROW * tall:
        return False
    u = gap[0] - _REACHING, gap[1] + _REACHING
    crop = window(angle, lines, u, v)
    if crop.size == 0 or float(np.mean(crop.any(axis=1))) <= _STANDS:
        return False
    if gap[1] - gap[0] > _SPACE * tall:
        return True
    at = u[0] + float(np.argmax(crop.sum(axis=0)))
    bands = (v[0] - _OFF * tall, v[0]), (v[1], v[1] + _OFF * tall)
    for beside in ((at - _BESIDE * tall, at), (at, at + _BESIDE * tall)):
        rules = [window(angle, lines, beside, band) for band in bands]
        if all(r.size and float((r != 0).mean(axis=1).max()) >= _MEETS for r in rules):
            return True
    return False
