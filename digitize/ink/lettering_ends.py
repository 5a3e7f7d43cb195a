"""Cut from the ends of a line of lettering what is no letter: arrow heads, stubs of wires, the number behind a stub.

A code that interrupts its wire has the wire's stubs, and often an arrow or a terminal's number, in one row with it.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from digitize.ink.lettering_joints import joints_of
from digitize.ink.lettering_lines import Frame, Line, points_in
from digitize.ink.lettering_pieces import Flags, Ints, Pieces
from digitize.sheet.ranked import median, percentile

LEAST_LEFT = 4
"""A line keeps at least so many letters, and more than half of them."""
MOST_CUT = 4
"""At most so many pieces are cut from one end."""

HANGS = 0.12
"""What ends so many letter heights above the foot line and begins as far below the top is no letter; a small letter whose
foot is a little off is one."""

SLENDER, PARTED = 0.45, 0.6
"""Half a dot is narrower than this, and the line that parts it too, in letter heights."""

LEAD = 2.2
"""What goes on so many letter heights, …"""
STROKE = 0.35
"""… and is less high than this share of it over half of them, is drawn, not written."""
APART = 0.75
"""A bit of wire stands so many letter heights from the letters at least."""


def trimmed(pieces: Pieces, f: Frame, line: Line) -> Line:
    """``line`` without what stands at its ends behind a misfit or is smaller and apart; the same line when nothing does."""
    n = len(line.letters)
    if n <= LEAST_LEFT:
        return line
    letters = np.array(line.letters)
    letters = letters[np.argsort(f.u0[letters] + f.u1[letters])]
    odd, sure = _misfits(pieces, f, letters, line.height)
    small = f.h[letters[[0, -1]]] < 0.87 * line.height
    bars = np.array([_is_bar(f, int(letters[at])) for at in (0, -1)])
    if not (odd.any() or small.any() or bars.any()):
        return line
    dashes = np.array([m for m in line.members if m not in line.letters], np.int64)
    gap = _gaps(f, letters, np.concatenate([dashes, points_in(f, (line.u0, line.u1), (line.v0, line.v1), line.height)]))
    close = gap[gap < 0.5 * line.height]
    usual = percentile(close, 35) if len(close) else 0.0  # points stand in the wider ones
    first, last = 0, n
    # a terminal's number beside a name is smaller than the name; a raised figure would be close to it
    space = max(0.5 * line.height, 2.5 * usual)
    # what stands apart and is drawn from line to line is a bit of a wire, not a 1 or I
    if (small[0] and gap[0] > space) or (bars[0] and gap[0] > APART * line.height):
        first = 1
    if (small[1] and gap[-1] > space) or (bars[1] and gap[-1] > APART * line.height):
        last = n - 1
    for k in np.flatnonzero(odd):
        wide = 0.1 * line.height if sure[k] else max(0.17 * line.height, 1.3 * usual)
        if k < MOST_CUT and gap[k] > wide:
            first = max(first, int(k) + 1)
        elif n - k <= MOST_CUT and gap[k - 1] > wide:
            last = min(last, int(k))
            break
    left = last - first
    if left == n or left < LEAST_LEFT or left <= n / 2:
        return line
    return _shortened(f, line, letters[first:last])


def without_leads(pieces: Pieces, f: Frame, line: Line) -> Line:
    """A few letters without those that go on as a thin stroke: the contact of a switch, say, with its lead."""
    if len(line.letters) > LEAST_LEFT:
        return line
    left = [i for i in line.letters if f.w[i] <= LEAD * line.height or not _is_thin(pieces, f, i)]
    return _shortened(f, line, np.array(left)) if 0 < len(left) < len(line.letters) else line


def _is_thin(pieces: Pieces, f: Frame, i: int) -> bool:
    """True when over half of a piece, along the line of lettering, is no higher than a stroke; letters that ran together are."""
    part = pieces.picture(i) if f.angle == 0 else pieces.picture(i).T
    rows = np.arange(len(part))[:, None]
    high = np.where(part, rows, -1).max(axis=0) - np.where(part, rows, len(part)).min(axis=0)
    return bool((high < STROKE * len(part)).mean() > 0.5)


def _is_bar(f: Frame, letter: int) -> bool:
    """True for a bar, straight across the line of lettering, that two sides of it touch lines."""
    return bool(not f.free[letter] and f.w[letter] < SLENDER * f.h[letter] and f.ends[letter].sum() > 1)


def _gaps(f: Frame, letters: Ints, signs: Ints) -> NDArray[np.float64]:
    """The gaps between letters in their order, px; where a sign, a dash say, stands in one, the wider of both beside it."""
    gap = np.maximum(0.0, f.u0[letters][1:] - f.u1[letters][:-1])
    middle = (f.u0[letters] + f.u1[letters]) / 2
    for sign in signs:
        k = int(np.searchsorted(middle, (f.u0[sign] + f.u1[sign]) / 2)) - 1
        if 0 <= k < len(gap):
            beside = max(f.u0[sign] - f.u1[letters[k]], f.u0[letters[k + 1]] - f.u1[sign])
            gap[k] = min(gap[k], max(0.0, beside))
    return np.asarray(gap, dtype=np.float64)


def _misfits(pieces: Pieces, f: Frame, letters: Ints, height: float) -> tuple[Flags, Flags]:
    """Which letters hang between top and foot, or are long but not high all along: no letter or run of letters is so.

    Returns them all, and those that are long, or halves or rings of joints.
    """
    top, foot = median(f.v0[letters]), median(f.v1[letters])
    h, w = f.h[letters], f.w[letters]
    below, above = f.v0[letters] - top, foot - f.v1[letters]
    hangs = (h < 0.84 * height) & (np.minimum(below, above) > HANGS * height) & (w > 0.7 * h)
    if float(np.mean(abs(h - height) <= 0.08 * height)) < 0.7:
        hangs[:] = False  # worn lettering is of all heights
    long = w > 1.35 * height
    for k in np.flatnonzero(long):
        long[k] = not is_full(pieces, f, int(letters[k]))
    long |= _halves(pieces, f, letters, height)
    for at in (0, len(letters) - 1):
        long[at] |= bool(joints_of(pieces, int(letters[at]), upright=f.angle == 0))
    out = np.asarray(hangs | long, dtype=np.bool_)
    for k in np.flatnonzero(h < 0.75 * height):  # raised, and a letter stands alone behind it
        lone = k in (1, len(letters) - 2)
        out[k] |= bool(lone and above[k] > 0.2 * height and below[k] > -0.1 * height and w[k] > 0.5 * h[k])
    return out, np.asarray(long, dtype=np.bool_)


def _halves(pieces: Pieces, f: Frame, letters: Ints, height: float) -> Flags:
    """Which letters are the halves of a dot that the line through it parts: they touch it from both sides.

    The one behind the line is slender, and so is the other, unless a stub leads to it.
    """
    out = np.zeros(len(letters), np.bool_)
    near, far = letters[:-1], letters[1:]
    slender = f.w[letters] < SLENDER * f.h[letters]
    pair = f.ends[near, 1] & f.ends[far, 0] & (f.u0[far] - f.u1[near] < PARTED * height) & slender[1:]
    for k in np.flatnonzero(pair & ~f.free[near] & ~f.free[far]):
        if slender[k] or not is_full(pieces, f, int(near[k])):
            out[k : k + 2] = True
    return out


def _shortened(f: Frame, line: Line, letters: Ints) -> Line:
    u0, u1 = float(f.u0[letters].min()), float(f.u1[letters].max())
    signs = [d for d in line.members if d not in line.letters and u0 <= (f.u0[d] + f.u1[d]) / 2 <= u1]
    members = np.array([*letters, *signs])
    return replace(
        line,
        members=tuple(map(int, members)),
        letters=tuple(map(int, letters)),
        u0=u0,
        u1=u1,
        v0=float(f.v0[members].min()),
        v1=float(f.v1[members].max()),
        score=line.score * len(letters) / len(line.letters),
    )


def is_full(pieces: Pieces, f: Frame, i: int) -> bool:
    """True when a long piece is as high as a letter all along: run-together letters are, a symbol's leads are not."""
    row = pieces.lines.shape[1]
    at = pieces.spots(i)
    x, y = at % row, at // row
    along, across = (x - x.min(), y) if f.angle == 0 else (y - y.min(), x)
    parts = max(2, round(float(f.w[i] / (0.8 * f.h[i]))))
    part = along * parts // (int(along.max()) + 1)
    high = [float(np.ptp(across[part == k])) if (part == k).any() else 0.0 for k in range(parts)]
    return bool(np.mean(np.array(high) > 0.75 * f.h[i]) > 0.8)
