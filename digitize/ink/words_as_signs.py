"""Words that the symbol detector took for a sign: a narrow hand's ``COIL`` looks like plates or turns to it; and a sign with its
wire that was taken for a letter.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from digitize.ink.lettering import Lettering
from digitize.ink.state import Symbol
from digitize.sheet.runs import Patches
from digitize.sheet.state import PX_PER_MM

_LETTERS, _ALIKE = 3, 0.8
"""A word has so many letters at least that stand apart, as high as each other: the lowest is so high, in the highest."""
_WITHIN = 0.4
"""They reach out of the sign's box by so much at most, mm."""
_HIGH = 0.75
"""They fill so much of its height (or breadth, where the word is turned)."""

_EARTH, _LETTER = 0.95, 0.9
"""An earth mark so sure within what is a letter with no more than this chance …"""
_SHARE, _LARGER = 0.8, 2.0
"""… of which so much lies in it, while it is so many times as large, hangs on a bent wire: common where a code ends right there."""


def without_signs(lettering: Lettering, symbols: Sequence[Symbol]) -> Lettering:
    """The lettering without the letters that are an earth mark on its bent wire; blocks are numbered anew."""
    earths = [s.box for s in symbols if s.kind == "ground" and s.probability >= _EARTH]
    drawn = [
        t
        for t in lettering.blocks
        if t.probability <= _LETTER
        and any(
            t.box.overlap(e) >= _SHARE * e.width * e.height
            and t.box.width * t.box.height >= _LARGER * e.width * e.height
            for e in earths
        )
    ]
    if not drawn:
        return lettering
    glyphs = lettering.glyphs.copy()
    for t in drawn:
        x0, y0, x1, y1 = (round(v * PX_PER_MM) for v in (t.box.x0, t.box.y0, t.box.x1, t.box.y1))
        glyphs[max(0, y0) : y1, max(0, x0) : x1] = 0
    left = [t for t in lettering.blocks if t not in drawn]
    return replace(lettering, blocks=tuple(replace(t, id=k) for k, t in enumerate(left)), glyphs=glyphs)


_SIGN, _TALLER, _INTO, _GAP = 0.9, 1.4, 0.5, 0.4
"""A sign so sure, so many times as high as a line of lettering, of whose breadth so much lies in the line's end, and paper before
it so broad, in heights of the line: the bar and the knob of a push, say, are no letters."""


def parted_at_signs(lettering: Lettering, symbols: Sequence[Symbol]) -> Lettering:
    """The lettering with level lines that end before the sign whose strokes had been taken for their last letters."""
    signs = [s.box for s in symbols if s.probability >= _SIGN]
    glyphs, blocks = lettering.glyphs, list(lettering.blocks)
    for k, t in enumerate(blocks):
        if t.angle != 0:
            continue
        for sign in signs:
            high, b = t.box.height, t.box
            if not (b.x0 + 2 * high < sign.x0 < b.x1 <= sign.x1 + 0.3 and sign.height >= _TALLER * high):
                continue
            if b.x1 - sign.x0 < _INTO * sign.width or min(b.y1, sign.y1) - max(b.y0, sign.y0) < _INTO * high:
                continue
            x0, y0, x1, y1, at = (round(v * PX_PER_MM) for v in (b.x0, b.y0, b.x1, b.y1, sign.x0))
            before = np.flatnonzero(glyphs[y0:y1, x0 : at - 2].any(axis=0))
            if not len(before) or at - (x0 + before[-1] + 1) < _GAP * high * PX_PER_MM:
                continue
            glyphs = glyphs.copy() if glyphs is lettering.glyphs else glyphs
            glyphs[y0:y1, at - 2 : x1 + 2] = 0
            blocks[k] = replace(t, box=replace(b, x1=(x0 + int(before[-1]) + 1) / PX_PER_MM))
            break
    return lettering if glyphs is lettering.glyphs else replace(lettering, blocks=tuple(blocks), glyphs=glyphs)


def is_word(symbol: Symbol, ink: NDArray[np.uint8], letters: Patches) -> bool:
    """True for what was taken for a symbol, and is a row of letters with nothing else drawn there.

    Args:
        symbol: what the detector found.
        ink: uint8 (H, W), 255 = ink without lettering.
        letters: the ink of all lettering, at the same scale.
    """
    if symbol.taught:
        return False
    b = symbol.box
    x0, y0, x1, y1 = (round(v * PX_PER_MM) for v in (b.x0, b.y0, b.x1, b.y1))
    if ink[max(0, y0) : y1, max(0, x0) : x1].any():
        return False
    out = _WITHIN * PX_PER_MM
    inside = (letters.x0 >= x0 - out) & (letters.x1 <= x1 + out) & (letters.y0 >= y0 - out) & (letters.y1 <= y1 + out)
    for low, high, size in (
        (letters.y0[inside], letters.y1[inside], y1 - y0),
        (letters.x0[inside], letters.x1[inside], x1 - x0),
    ):
        long = (high - low) >= _HIGH * size
        alike = long.sum() >= _LETTERS and (high - low)[long].min() >= _ALIKE * (high - low).max()
        if alike and low[long].max() < high[long].min():
            return True
    return False
