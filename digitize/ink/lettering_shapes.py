"""What a single piece of ink looks like: a slanting stroke, a lump, a plus."""

from __future__ import annotations

import cv2
import numpy as np

from digitize.ink.lettering_pieces import LETTER_MAX, Flags, Mask, Pieces
from digitize.sheet.state import PX_PER_MM

_FULL = 0.9
"""The side of an outline is ink over this share of its length."""
_PEN, _BEYOND = 5, 12
"""How thick a side is at most, and how far from it the lines that it joins are looked for, px."""


_STOUT = 0.4
"""No letter's stroke is so broad for the letter's longer side (common practice, no source: bold type has 0.2) …"""
_CABLE = 0.85 * PX_PER_MM
"""… but a small one that ran full may be; what is broader than this, px, is a battery cable."""


def are_stout(pieces: Pieces) -> Flags:
    """Pieces cut out of something larger that are a bit of a broad line: the bend of a battery cable before its label."""
    out = np.zeros(len(pieces), np.bool_)
    row, long = pieces.lines.shape[1], np.maximum(pieces.width, pieces.height)
    broad = np.maximum(_STOUT * long, _CABLE)
    for i in np.flatnonzero(~pieces.free & (long <= LETTER_MAX) & (pieces.area > 0.78 * broad**2)):
        at = pieces.spots(int(i))
        own = np.zeros((int(pieces.height[i]) + 2, int(pieces.width[i]) + 2), np.uint8)
        own[at // row - pieces.y0[i] + 1, at % row - pieces.x0[i] + 1] = 1
        out[i] = 2 * cv2.distanceTransform(own, cv2.DIST_L2, 3).max() - 1 > broad[i]
    return out


def are_sides(pieces: Pieces) -> Flags:
    """Pieces that are the short side of an outline, with whatever hangs on it: a wire, or a connector beside a flag.

    Such a side joins two parallel lines that both end at it; those that a letter touches go on beyond it.
    """
    out = np.zeros(len(pieces), np.bool_)
    for upright, (first, last) in ((True, (2, 3)), (False, (0, 1))):
        for i in np.flatnonzero(~pieces.free & pieces.ends[:, first] & pieces.ends[:, last]):
            out[i] |= _is_side(pieces, int(i), upright=upright)
    return out


def _is_side(pieces: Pieces, i: int, *, upright: bool) -> bool:
    """True when a bar along one rim of a piece joins two lines that end there. ``upright``: the bar, level lines."""
    x0, y0, x1, y1 = int(pieces.x0[i]), int(pieces.y0[i]), int(pieces.x1[i]), int(pieces.y1[i])
    lines, row = pieces.lines, pieces.lines.shape[1]
    own = np.zeros((y1 - y0, x1 - x0), np.bool_)
    at = pieces.spots(i)
    own[at // row - y0, at % row - x0] = True
    if not upright:
        own, lines, (x0, y0, x1, y1) = own.T, lines.T, (y0, x0, y1, x1)
    for bar, x in ((own[:, :_PEN], x0), (own[:, -_PEN:], x1 - _PEN)):
        # two columns together: a side may lean by a pixel, and a letter's bow is deeper
        if bar.shape[1] < 2 or (bar[:, 1:] | bar[:, :-1]).mean(axis=0).max() < _FULL:
            continue
        ends = [
            (_runs(rows[:, max(0, x - _BEYOND) : x]), _runs(rows[:, x + _PEN : x + _PEN + _BEYOND]))
            for rows in (lines[max(0, y0 - _PEN) : y0 + 1], lines[y1 - 1 : y1 + _PEN])
        ]
        if ends[0] == ends[1] and ends[0][0] != ends[0][1]:
            return True
    return False


def _runs(rows: Mask) -> bool:
    """True when a level line runs along a strip from end to end."""
    return rows.size > 0 and float((rows != 0).any(axis=0).mean()) >= _FULL


def slants(pieces: Pieces, i: int) -> bool:
    """True when the ink lies along one slanting line (a 1 has its stem and its flag)."""
    row = pieces.lines.shape[1]
    at = pieces.spots(i)
    return bool(abs(np.corrcoef(at % row, at // row)[0, 1]) > 0.85)


def is_lump(pieces: Pieces, i: int) -> bool:
    """True for a piece that nearly fills its convex hull: dirt; of letters only a D or O that is filled in does."""
    row = pieces.lines.shape[1]
    at = pieces.spots(i)
    hull = cv2.convexHull(np.column_stack([at % row, at // row]).astype(np.int32))
    full = cv2.contourArea(hull) + cv2.arcLength(hull, closed=True) / 2 + 1
    return bool(len(at) > 0.87 * full)


def is_plus(pieces: Pieces, i: int) -> bool:
    """True for two crossing bars of about one length."""
    w, h = int(pieces.width[i]), int(pieces.height[i])
    if not 0.7 < w / h < 1.4:
        return False
    row = pieces.lines.shape[1]
    at = pieces.spots(i)
    crop = np.zeros((h, w), np.bool_)
    crop[at // row - pieces.y0[i], at % row - pieces.x0[i]] = True
    third = slice(w // 3, w - w // 3), slice(h // 3, h - h // 3)
    corners = crop.copy()
    corners[:, third[0]] = False
    corners[third[1], :] = False
    return bool(
        crop[:, third[0]].any(axis=1).mean() > 0.9 and crop[third[1]].any(axis=0).mean() > 0.9 and corners.mean() < 0.04
    )
