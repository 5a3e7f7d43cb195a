"""Single characters among the pieces of ink that no line of lettering took: zone labels, cavities, terminals, signs.

A doubtful one is reported with a low probability: what is not found is never read.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from digitize.ink.lettering_lines import Frame, Line
from digitize.ink.lettering_pieces import Flags, Ints, Pieces
from digitize.ink.lettering_shapes import is_lump, is_plus, slants
from digitize.sheet.state import PX_PER_MM

PxBox = tuple[float, float, float, float]
Found = tuple[Line, Ints, PxBox, float]
"""A line of lettering, the pieces in it, its box on the page (px), and its probability."""

_USUAL, _WINDING = 0.5, 0.6
"""A sign as high as letters are on the sheet that winds to and fro is lettering with these odds though it touches a line …"""
_HANGING = ([False, False, True, False], [False, False, False, True])
"""… at its top or at its foot."""


def singles(
    pieces: Pieces, f: Frame, spare: Flags, heights: NDArray[np.float64], broken: Flags, slender: Flags
) -> list[Found]:
    """Single characters among the pieces that no line took; ``heights``: of all letters in lines, px."""
    mm = PX_PER_MM
    out: list[Found] = []
    w, h = pieces.width, pieces.height
    bar = w < 0.4 * h
    alone = spare & f.letter & (h > 0.8 * mm) & (w < 1.35 * h)
    heights = np.concatenate([heights, h[alone & pieces.free & ~bar]])
    for i in np.flatnonzero(alone):
        usual = alike(heights, float(h[i]))
        odds = -0.6 + 1.6 * usual
        if not pieces.free[i]:
            odds -= 1.8 + 0.6 * int(pieces.ends[i].sum())
            if usual >= _USUAL and pieces.ends[i].tolist() in _HANGING and _winds(pieces, int(i)):
                odds = max(odds, _WINDING)
        if h[i] < 1.6 * mm and is_plus(pieces, int(i)):
            odds = 0.8
        elif h[i] < 1.25 * mm:
            odds -= 2.0
        if bar[i]:
            odds -= 1.0 if w[i] < 0.3 * h[i] else 0.0
            if usual < 0.5 or _goes_on(pieces, int(i), down=True):
                odds -= 2.0
        if _is_corner(pieces, int(i), broken):
            odds -= 4.0
        if slender[i] and not bar[i] and slants(pieces, int(i)):
            odds -= 2.5  # a scratch, a bit of a slanting line
        elif h[i] < 2.0 * mm and is_lump(pieces, int(i)):
            odds -= 0.9
        out.append(_single(pieces, f, int(i), 1 / (1 + np.exp(-odds))))
    for i in np.flatnonzero(spare & f.dash & pieces.free & (w < 2.4 * mm) & (w > 0.55 * mm) & (w > 1.4 * h)):
        odds = 0.2 if w[i] > 0.9 * mm and w[i] > 1.8 * h[i] else -0.4  # dirt is short
        if _goes_on(pieces, int(i), down=False):
            odds -= 3.0
        if _stacked(pieces, int(i)):
            odds -= 3.0
        out.append(_single(pieces, f, int(i), 1 / (1 + np.exp(-odds))))
    return out


def _single(pieces: Pieces, f: Frame, i: int, probability: float) -> Found:
    box = float(pieces.x0[i]), float(pieces.y0[i]), float(pieces.x1[i]), float(pieces.y1[i])
    line = Line(f.angle, (i,), (i,), box[0], box[2], box[1], box[3], box[3] - box[1], 0.0)
    return line, np.array([i]), box, float(probability)


def _winds(pieces: Pieces, i: int) -> bool:
    """True when most columns in the middle third of a piece cross its stroke three times, as in 2, 3, 5, 8, E and S.

    A bit of a wire, a bow or a corner has one stroke there, a ring two.
    """
    picture = pieces.picture(i)
    third = picture.shape[1] // 3
    middle = np.pad(picture[:, third : picture.shape[1] - third], ((1, 0), (0, 0))).astype(np.int8)
    strokes = (np.diff(middle, axis=0) > 0).sum(axis=0)
    return bool(strokes.size and (strokes == 3).mean() > 0.5)


def alike(heights: NDArray[np.float64], height: float) -> float:
    """Lettering comes in a few heights: 0 when no other letter is as high, 1 when at least six are."""
    return min(1.0, float(np.sum(abs(np.log(heights / height)) < 0.1)) / 6)


def _is_corner(pieces: Pieces, i: int, broken: Flags) -> bool:
    """True when dashes of a broken line go on from two sides of a piece: the corner of a dashed outline."""
    x0, y0, x1, y1 = (int(a[i]) for a in (pieces.x0, pieces.y0, pieces.x1, pieces.y1))
    slack, reach = 4, 2.5 * PX_PER_MM
    level = broken & (pieces.width > pieces.height)
    flush = (abs(pieces.y0 - y0) <= slack) | (abs(pieces.y1 - y1) <= slack)
    beside = np.maximum(pieces.x0 - x1, x0 - pieces.x1)
    if not (level & flush & (beside >= 0) & (beside < reach)).any():
        return False
    flush = (abs(pieces.x0 - x0) <= slack) | (abs(pieces.x1 - x1) <= slack)
    beyond = np.maximum(pieces.y0 - y1, y0 - pieces.y1)
    return bool((broken & ~level & flush & (beyond >= 0) & (beyond < reach)).any())


def _goes_on(pieces: Pieces, i: int, *, down: bool) -> bool:
    """True when a bar has ink of its own width straight on at one of its ends within 1.6 mm: a bit of a broken line."""
    reach = int(1.6 * PX_PER_MM)
    x0, y0, x1, y1 = int(pieces.x0[i]), int(pieces.y0[i]), int(pieces.x1[i]), int(pieces.y1[i])
    if down:
        near = (pieces.x0 >= x0 - 3) & (pieces.x1 <= x1 + 3) & (pieces.height > 2 * pieces.width)
        gap = np.maximum(pieces.y0 - y1, y0 - pieces.y1)
        before, after = pieces.lines[max(0, y0 - reach) : y0, x0:x1], pieces.lines[y1 : y1 + reach, x0:x1]
        runs = (before.any(axis=1).mean(), after.any(axis=1).mean()) if before.size and after.size else (0, 0)
    else:
        near = (pieces.y0 >= y0 - 3) & (pieces.y1 <= y1 + 3) & (pieces.width > 2 * pieces.height)
        gap = np.maximum(pieces.x0 - x1, x0 - pieces.x1)
        before, after = pieces.lines[y0:y1, max(0, x0 - reach) : x0], pieces.lines[y0:y1, x1 : x1 + reach]
        runs = (before.any(axis=0).mean(), after.any(axis=0).mean()) if before.size and after.size else (0, 0)
    return bool((near & (gap >= 0) & (gap < reach)).any()) or max(runs) > 0.5


def _stacked(pieces: Pieces, i: int) -> bool:
    """True when another dash lies right above or below within 1.6 mm: bars of a ground, plates of a battery."""
    over = np.minimum(pieces.x1, pieces.x1[i]) - np.maximum(pieces.x0, pieces.x0[i])
    gap = np.maximum(pieces.y0 - pieces.y1[i], pieces.y0[i] - pieces.y1)
    flat = pieces.width > 1.8 * pieces.height
    near = flat & (over > 0.5 * np.minimum(pieces.width, pieces.width[i])) & (gap >= 0) & (gap < 1.6 * PX_PER_MM)
    reach = int(1.6 * PX_PER_MM)
    x0, x1, y0, y1 = int(pieces.x0[i]), int(pieces.x1[i]), int(pieces.y0[i]), int(pieces.y1[i])
    if near.any():
        return True
    # a long bar went with the lines; a rule of a table goes on far beyond the dash
    rows = pieces.lines[max(0, y0 - reach) : y1 + reach]
    far = int(4 * PX_PER_MM)
    over_it = (rows[:, x0:x1] != 0).mean(axis=1) > 0.8
    ends = (rows[:, max(0, x0 - far)] == 0) & (rows[:, min(rows.shape[1] - 1, x1 + far)] == 0)
    return bool((over_it & ends).any())
