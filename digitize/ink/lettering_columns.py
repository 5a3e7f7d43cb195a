"""Bars and characters under each other: no line that reads upwards, equals signs that no word takes, and earths."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from digitize.ink.lettering_lines import Frame, Line
from digitize.ink.lettering_pieces import Ints, Pieces
from digitize.sheet.state import PX_PER_MM

APART = 0.55
"""Letters of a word never all stand so far apart, in letter heights; lines of a list do (common practice, no source)."""
CLOSE = 0.2
"""Bars nearer than this, in lengths, are no two characters (a ``1`` needs its room), but an equals sign lying down."""
BAR = 0.3
"""A bar is thinner than this share of its length."""
LEAST_SIGNS = 3
"""So many equals signs under each other part the keys of a list from their meanings."""
_SHORTEST, _LONGEST = 0.6 * PX_PER_MM, 3.2 * PX_PER_MM
_ALIKE, _FLUSH = 0.15, 0.15
_NEAREST, _FARTHEST = 0.08, 0.5
_PITCH = 12.0
"""The next sign of a list stands within so many lengths."""

LEAST_BARS = 3
"""So many bars that get shorter and shorter are an earth, besides the one that its lead hangs on: with it that may stand free."""
_SHRINKS = (0.35, 0.97)
"""Each bar of an earth is so long against the one before, at least and at most."""
_CENTRED, _NEXT = 0.12, 0.9
"""Its middle is off theirs by at most so much, and its gap at most so wide, in lengths of the longest of the two."""


def is_column(f: Frame, line: Line) -> bool:
    """True for an upright line that is a stack of level characters, or of the two bars of an equals sign."""
    if line.angle == 0 or len(line.letters) < 2:
        return False
    letters = np.array(line.letters)
    letters = letters[np.argsort(f.u0[letters])]
    gaps = f.u0[letters][1:] - f.u1[letters][:-1]
    if float(gaps.min()) >= APART * line.height:
        return True
    bars = bool((f.w[letters] < BAR * f.h[letters]).all())
    return len(letters) == 2 and bars and float(gaps[0]) < CLOSE * line.height


def equals_signs(pieces: Pieces) -> list[Ints]:
    """The pairs of bars that are equals signs of a list: one pair a sign, LEAST_SIGNS or more under each other."""
    w, h = pieces.width, pieces.height
    bars = np.flatnonzero(pieces.free & (h < BAR * w) & (w >= _SHORTEST) & (w <= _LONGEST))
    if len(bars) < 2 * LEAST_SIGNS:
        return []
    pairs = _pairs(pieces, bars)
    if len(pairs) < LEAST_SIGNS:
        return []
    left = np.array([float(pieces.x0[p].min()) for p in pairs])
    long = np.array([float(w[p].mean()) for p in pairs])
    at = np.array([float(pieces.y0[p].min()) for p in pairs])
    group = np.arange(len(pairs))
    order = np.argsort(at)
    for n, i in enumerate(order):
        for j in order[n + 1 :]:
            if at[j] - at[i] > _PITCH * long[i]:
                break
            if abs(left[i] - left[j]) < _FLUSH * long[i] and abs(long[i] - long[j]) < _ALIKE * long[i]:
                group[group == group[j]] = group[i]
    count = np.bincount(group, minlength=len(pairs))
    return [p for p, g in zip(pairs, group, strict=True) if count[g] >= LEAST_SIGNS]


def earth_bars(pieces: Pieces) -> Ints:
    """The bars of earths, level or upright: LEAST_BARS or more in a row, centred, evenly spaced, each shorter than the last.

    Common practice, no source. Letters are never so; read along the row, the bars would be so many I.
    """
    out: list[int] = []
    for level in (True, False):
        near, far, first, last = (
            (pieces.y0, pieces.y1, pieces.x0, pieces.x1) if level else (pieces.x0, pieces.x1, pieces.y0, pieces.y1)
        )
        long, thick = last - first, far - near
        bars = np.flatnonzero(pieces.free & (thick < BAR * long) & (long <= 2 * _LONGEST))
        if len(bars) < LEAST_BARS:
            continue
        at = np.column_stack([(first + last)[bars] / 2, (near + far)[bars] / 2])
        middle = (first + last) / 2
        for row in _rows(at, long[bars].astype(np.float64)):
            out += (int(bars[k]) for k in row)
            widest, step = int(bars[row[0]]), float(at[row[1], 1] - at[row[0], 1])
            gap = near[widest] - far if step > 0 else near - far[widest]
            before = (gap >= 0) & (gap < 1.3 * abs(step)) & (abs(middle - middle[widest]) <= _CENTRED * long[widest])
            before &= pieces.free & (thick >= BAR * long)
            before &= (long > long[widest] / _SHRINKS[1]) & (long * _SHRINKS[0] < long[widest])
            out += map(int, np.flatnonzero(before))
    return np.unique(np.array(out, np.int64))


def _rows(at: NDArray[np.float64], long: NDArray[np.float64]) -> list[list[int]]:
    """Rows of bars that get shorter evenly. ``at``: their middles, along the bars and across; ``long``: their lengths."""
    tree = cKDTree(at)

    def after(k: int, way: float | None) -> tuple[int, float] | None:
        best: tuple[float, int, float] | None = None
        for j in tree.query_ball_point(at[k], r=_NEXT * long[k]):
            step = float(at[j, 1] - at[k, 1])
            shorter = _SHRINKS[0] <= long[j] / long[k] <= _SHRINKS[1]
            if j == k or step == 0 or not shorter or abs(at[j, 0] - at[k, 0]) > _CENTRED * long[k]:
                continue
            if way is None or abs(step - way) <= 0.3 * abs(way):
                best = min(best or (abs(step), j, step), (abs(step), j, step))
        return (best[1], best[2]) if best else None

    found = []
    for k in range(len(long)):
        row, way = [k], None
        while (ahead := after(row[-1], way)) is not None:
            row.append(ahead[0])
            way = ahead[1]
        if len(row) >= LEAST_BARS:
            found.append(row)
    return found


def _pairs(pieces: Pieces, bars: Ints) -> list[Ints]:
    """Two bars of one length, one over the other and nothing else as near: three are the bars of a ground."""
    x0, y0, y1, w = (a[bars].astype(np.float64) for a in (pieces.x0, pieces.y0, pieces.y1, pieces.width))
    tree = cKDTree(np.column_stack([x0 + w / 2, (y0 + y1) / 2]))
    out = []
    for k in range(len(bars)):
        near = [j for j in tree.query_ball_point([x0[k] + w[k] / 2, (y0[k] + y1[k]) / 2], r=1.5 * w[k]) if j != k]
        if len(near) != 1:
            continue
        j = near[0]
        gap = y0[j] - y1[k]
        flush = abs(x0[j] - x0[k]) < _FLUSH * w[k] and abs(w[j] - w[k]) < _ALIKE * w[k]
        if flush and _NEAREST * w[k] < gap < _FARTHEST * w[k]:
            out.append(np.array([bars[k], bars[j]], dtype=np.int64))
    return out
