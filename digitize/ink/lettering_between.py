"""What stands between two letters or words: a line that parts them, a wire that turns off to one, or one that only crosses."""

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
_ENTERS, _TO = 1.2, (0.3, 0.68)
"""A wire that turns off to a code comes from so far above or below the letters, and no farther into their height than this."""
_ASIDE = 5
"""It keeps within so much of its middle, px: in a rounded corner only its outer rim is straight."""

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
    outline (a wire may cross the space in a code). Or it comes in from above or below and ends at half the letters' height,
    where it turns off to the code that stands in it; what is on its other side is no part of the code.

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
    if crop.size == 0:
        return False
    if float(np.mean(crop.any(axis=1))) <= _STANDS:
        return _turns_off(angle, lines, u, v, tall)
    if gap[1] - gap[0] > _SPACE * tall:
        return True
    at = u[0] + float(np.argmax(crop.sum(axis=0)))
    bands = (v[0] - _OFF * tall, v[0]), (v[1], v[1] + _OFF * tall)
    for beside in ((at - _BESIDE * tall, at), (at, at + _BESIDE * tall)):
        rules = [window(angle, lines, beside, band) for band in bands]
        if all(r.size and float((r != 0).mean(axis=1).max()) >= _MEETS for r in rules):
            return True
    return False


def _turns_off(angle: int, lines: Mask, u: Span, v: Span, tall: float) -> bool:
    """True when a line comes into the window ``u``, ``v`` from above or below and ends at about half its height."""
    high = v[1] - v[0]
    for band, turned in (((v[0] - _ENTERS * tall, v[1]), 1), ((v[0], v[1] + _ENTERS * tall), -1)):
        rows = window(angle, lines, u, band)[::turned] != 0
        outside = len(rows) - round(high)
        if outside < round(_ENTERS * tall) - 1:
            continue  # the page ends there
        column = rows[:outside].sum(axis=0)
        at = int(np.flatnonzero(column == column.max()).mean())
        inked = rows[:, max(0, at - _ASIDE) : at + _ASIDE + 1].any(axis=1)
        end = len(inked) if inked.all() else int(np.argmin(inked))
        if _TO[0] * high <= end - outside <= _TO[1] * high and not rows[end:].any():
            return True
    return False
