"""What a single piece of ink looks like: a slanting stroke, a lump, a plus."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from digitize.ink.lettering_pieces import DUST, LETTER_MAX, Flags, Mask, Pieces
from digitize.sheet.ranked import median
from digitize.sheet.state import PX_PER_MM

_CENTRED, _LYING = 0.08, 1.2
"""Two rings have one centre within so much of the outer one's size; an O is not so many times as wide as high."""
_FULL = 0.9
"""The side of an outline is ink over this share of its length."""
_SHORTEST = 1.2 * PX_PER_MM
"""No side is shorter, px."""
_PEN, _BEYOND = 5, 12
"""How thick a side is at most, and how far from it the lines that it joins are looked for, px."""
_TOUCH = 3
"""Both ends of a side touch the lines that it joins, within so many px."""
_GAP = 3
"""Paper within so many px of a side parts it from the next line."""
_BLANK = 0.5
"""On its other side, so much of the way straight on is paper at least."""
_SLANTS = 3.0
"""A line that the side joins runs straight away from it, within so many px."""
_OBLONG = 1.3
"""The outline of a connector is so many times as long as broad at least (own choice)."""
_LARGER = (1.8, 1.0)
"""Its long and its broad sides against the letters beside it, at least."""
_STUBBED, _STUB, _BODY, _CORNER = (1.25, 1.6), 0.3, 2.0, 0.12
"""A connector with one or two of its wires is so many times as long as broad at least; they are no broader than this share of that
and so long at least; itself it is so long at most; and the ink of a box reaches so far into its corners."""
_STOUT = 0.4
"""No letter's stroke is so broad for the letter's longer side (common practice, no source: bold type has 0.2) …"""
_CABLE = 0.85 * PX_PER_MM
"""… but a small one that ran full may be; what is broader than this, px, is a battery cable."""
_ROUND = 0.55
"""No letter's stroke is so broad however full it ran: a dot's is."""
_BESIDE, _LEVEL, _ROW = 0.8, 0.1, 5.0
"""The next letter stands so near, and so level, and letters that ran together are so long, in letter heights."""


def are_stout(pieces: Pieces) -> Flags:
    """Pieces cut out of something larger that are a bit of a broad line: the bend of a battery cable before its label.

    A letter that ran full, on a worn sheet, stands level with others that did not; a dot may do that too, but is round.
    """
    stroke = np.zeros(len(pieces))
    long = np.maximum(pieces.width, pieces.height)
    broad = np.maximum(_STOUT * long, _CABLE)
    for i in np.flatnonzero(~pieces.free & (long <= LETTER_MAX) & (pieces.area > 0.78 * broad**2)):
        own = np.pad(pieces.picture(int(i)), 1).astype(np.uint8)
        stroke[i] = 2 * cv2.distanceTransform(own, cv2.DIST_L2, 3).max() - 1
    out = stroke > broad
    for i in np.flatnonzero(out & (stroke < _ROUND * long)):
        out[i] = not any(_stands_with(pieces, int(i), ~out, upright=upright) for upright in (False, True))
    return out


def _stands_with(pieces: Pieces, i: int, others: Flags, *, upright: bool) -> bool:
    """True when one of ``others`` stands beside piece ``i``, as near as the next letter, and level with its top and foot."""
    x, y = (pieces.x0, pieces.x1), (pieces.y0, pieces.y1)
    (start, stop), (top, foot) = (y, x) if upright else (x, y)
    high = int(foot[i] - top[i])
    if high < _SHORTEST or stop[i] - start[i] > _ROW * high:
        return False
    if pieces.ends[i, 2:].any() if upright else pieces.ends[i, :2].any():
        return False  # a cable goes on
    near = np.maximum(start - stop[i], start[i] - stop) <= _BESIDE * high
    level = (abs(top - top[i]) <= _LEVEL * high) & (abs(foot - foot[i]) <= _LEVEL * high)
    return bool((others & near & level & ~pieces.sliver).any())


def have_holes(pieces: Pieces, asked: Flags) -> Flags:
    """Which of the ``asked`` pieces hold paper: an 8 or a B, however full it ran, and no patch."""
    out = np.zeros(len(pieces), np.bool_)
    for i in np.flatnonzero(asked):
        paper = np.pad(~pieces.picture(int(i)), 1, constant_values=True).astype(np.uint8)
        _, _, stats, _ = cv2.connectedComponentsWithStats(paper, connectivity=4)
        out[i] = bool((stats[2:, cv2.CC_STAT_AREA] >= DUST).any())
    return out


def are_sides(pieces: Pieces) -> Flags:
    """Pieces that are the short side of an outline, with whatever hangs on it: a wire, a splice, or a connector beside a flag.

    Such a side joins two parallel lines that both end at it; those that a letter touches go on beyond it.
    """
    out = np.zeros(len(pieces), np.bool_)
    long = np.maximum(pieces.width, pieces.height)
    for i in np.flatnonzero(~pieces.free & (long >= _SHORTEST)):
        own, x, y = pieces.picture(int(i)), int(pieces.x0[i]), int(pieces.y0[i])
        out[i] = _has_side(own, (x, y), pieces.lines) or _has_side(own.T, (y, x), pieces.lines.T)
    return out


def _has_side(own: NDArray[np.bool_], at: tuple[int, int], lines: Mask) -> bool:
    """True when a level bar of a piece joins two upright lines that both go up, or both go down, from its ends.

    ``at``: left upper corner of the piece on the page.
    """
    # two rows together: a side may lean by a pixel
    rows = own[1:] | own[:-1] if len(own) > 1 else own
    count = rows.sum(axis=1)
    first, last = rows.argmax(axis=1), rows.shape[1] - 1 - rows[:, ::-1].argmax(axis=1)
    bars = np.flatnonzero((count >= _SHORTEST) & (count >= _FULL * (last - first + 1)))
    for k in bars[np.diff(bars, prepend=-2) > 1]:
        run = bars[bars >= k]
        thick = int((run == k + np.arange(len(run))).sum())
        ends, y = (at[0] + int(first[k]), at[0] + int(last[k])), at[1] + int(k)
        if not all(lines[max(0, y - 2) : y + 4, max(0, x - _TOUCH) : x + _TOUCH + 1].any() for x in ends):
            continue
        for way in (1, -1):
            # where lines go on to the other side, straight or not, it is a letter that touches them; and a letter may
            # stand on a broad cable: there is ink all along below it
            if (
                all(_leads_off(lines, x, y, way) for x in ends)
                and not any(_goes_on(lines, x, y, -way, thick) for x in ends)
                and not _leads_off(lines, sum(ends) // 2, y, way)
            ):
                return True
    return False


def _inked(lines: Mask, x: int, y: int, way: int) -> NDArray[np.bool_]:
    """The ink in a strip that leads from (x, y), px, down (1) or up (-1), along its rows."""
    near, far = y + way * _PEN, y + way * (_PEN + _BEYOND)
    return np.asarray(lines[max(0, min(near, far)) : max(0, near, far), max(0, x - _PEN) : x + _PEN + 1] != 0)


def _goes_on(lines: Mask, x: int, y: int, way: int, thick: int) -> bool:
    """True when a line runs on from the end of a bar, straight or not; one that paper parts from the bar is another.

    ``x``, ``y``: the end on the bar's first row, px; ``way``: down (1) or up (-1); ``thick``: its rows.
    """
    rows = np.atleast_1d(_inked(lines, x, y, way).any(axis=1))
    edge = y - 1 if way < 0 else y + thick
    touch = lines[
        max(0, min(edge, edge + way * _GAP)) : max(edge, edge + way * _GAP) + 1, max(0, x - _PEN) : x + _PEN + 1
    ]
    return bool(rows.size and rows.mean() > 1 - _BLANK and (touch != 0).any(axis=1).all())


def _leads_off(lines: Mask, x: int, y: int, way: int) -> bool:
    """True when an upright line runs from (x, y), px, down (1) or up (-1)."""
    strip = _inked(lines, x, y, way)
    thick = strip.sum(axis=1)
    if not strip.size or float((thick > 0).mean()) < _FULL:
        return False
    middle = (strip * np.arange(strip.shape[1])).sum(axis=1)[thick > 0] / thick[thick > 0]
    return float(np.ptp(middle)) <= _SLANTS


def are_frames(pieces: Pieces) -> Flags:
    """Pieces that hold a closed outline, longer than broad: a connector between two codes whose cavity's letter touches it.

    A B or an 8 is like that too, but no larger than the letters beside it.
    """
    out = np.zeros(len(pieces), np.bool_)
    w, h = pieces.width, pieces.height
    long = np.maximum(w, h)
    letters = np.flatnonzero((long >= _SHORTEST) & (long <= LETTER_MAX) & pieces.free)
    short = np.minimum(w, h)
    if not len(letters):
        return out
    oblong = (short >= _SHORTEST) & (long > _OBLONG * short) & (long < 3 * LETTER_MAX)
    oblong &= long > _LARGER[0] * np.partition(long[letters], len(letters) // 4)[len(letters) // 4]
    for i in np.flatnonzero(oblong):
        own = pieces.picture(int(i))
        broad = _oblong(own if w[i] > h[i] else own.T)
        if broad is None:
            continue
        level = np.minimum(pieces.y1[letters], pieces.y1[i]) - np.maximum(pieces.y0[letters], pieces.y0[i])
        upright = np.minimum(pieces.x1[letters], pieces.x1[i]) - np.maximum(pieces.x0[letters], pieces.x0[i])
        near = (np.maximum(level, upright) > 0.5 * broad) & (np.minimum(level, upright) > -3 * long[i])
        beside = long[letters[near & (letters != i)]]
        out[i] = len(beside) > 1 and min(long[i] / _LARGER[0], broad / _LARGER[1]) > median(beside)
    return out


def are_on_wires(pieces: Pieces) -> Flags:
    """Pieces that are a closed outline in the middle of a short wire: a connector between two codes, no larger than letters.

    Where a long wire was taken out at one side, only a box is told from a letter: by its corners.
    """
    out = np.zeros(len(pieces), np.bool_)
    w, h = pieces.width, pieces.height
    short, long = np.minimum(w, h), np.maximum(w, h)
    cut = pieces.ends[:, :2].any(axis=1) | pieces.ends[:, 2:].any(axis=1)
    stubbed = long > np.where(cut, _STUBBED[0], _STUBBED[1]) * short
    for i in np.flatnonzero((short >= _SHORTEST) & (short <= LETTER_MAX) & stubbed & ~pieces.solid):
        flat = bool(w[i] > h[i])
        part = pieces.picture(int(i)) if flat else pieces.picture(int(i)).T
        high = len(part)
        rows = np.arange(high)[:, None]
        first, last = np.where(part, rows, high).min(axis=0), np.where(part, rows, -1).max(axis=0)
        thin = (last - first + 1 <= _STUB * high) & (abs(first + last + 1 - high) / 2 <= _STUB * high)
        body = np.flatnonzero(~thin)
        if not len(body) or body[-1] + 1 - body[0] > _BODY * high:
            continue
        sign = part[:, body[0] : body[-1] + 1]
        stubs = np.array([body[0], len(thin) - 1 - body[-1]]) >= _STUB * high
        leads_on = pieces.ends[i, :2] if flat else pieces.ends[i, 2:]
        if stubs.all() or (stubs.any() and (stubs | leads_on).all() and _has_corners(sign)):
            out[i] = is_open_circle(sign)
    return out


def _has_corners(part: Flags) -> bool:
    """True for ink that reaches into all four corners of its box."""
    near = max(2, round(_CORNER * min(part.shape)))
    return all(part[a, b].any() for a in (slice(near), slice(-near, None)) for b in (slice(near), slice(-near, None)))


def are_passed_rings(pieces: Pieces) -> Flags:
    """Pieces that are a ring, wider than high, that an upright line runs through: a grommet right before its name.

    In lettering that is turned an O lies too; it has letters above or below.
    """
    out = np.zeros(len(pieces), np.bool_)
    w, h = pieces.width, pieces.height
    lying = ~pieces.free & pieces.ends[:, 2] & pieces.ends[:, 3] & (w > _LYING * h) & (w <= LETTER_MAX)
    for i in np.flatnonzero(lying & (h >= _SHORTEST)):
        part, x, y = pieces.picture(int(i)), int(pieces.x0[i]), int(pieces.y0[i])
        third = slice(x + len(part[0]) // 3, x + len(part[0]) - len(part[0]) // 3)
        line = (pieces.lines[y : y + len(part), third] > 0).any(axis=1) | part[:, third.start - x : third.stop - x].any(
            axis=1
        )
        if not is_open_circle(part) or line.mean() < _FULL:
            continue
        over = np.minimum(pieces.x1, pieces.x1[i]) - np.maximum(pieces.x0, pieces.x0[i])
        apart = np.maximum(pieces.y0 - pieces.y1[i], pieces.y0[i] - pieces.y1)
        near = (over > 0.5 * w[i]) & (apart < 0.8 * h[i]) & (h > 0.3 * h[i])
        # the outer of two rings is no letter above or below
        near &= (pieces.x0 > x) | (pieces.y0 > y) | (pieces.x1 < pieces.x1[i]) | (pieces.y1 < pieces.y1[i])
        near[i] = False
        out[i] = not near.any()
    return out


def _oblong(own: NDArray[np.bool_]) -> int | None:
    """How far apart two level bars of the ink are that are joined at both ends and longer than that, px; None without such."""
    rows = own[1:] | own[:-1]
    count = rows.sum(axis=1)
    first, last = rows.argmax(axis=1), rows.shape[1] - 1 - rows[:, ::-1].argmax(axis=1)
    bars = np.flatnonzero((count >= _FULL * (last - first + 1)) & (count >= _SHORTEST))
    if not len(bars) or bars[-1] - bars[0] < max(_SHORTEST, 0.7 * len(own)):
        return None
    upper, lower = int(bars[0]), int(bars[-1])
    x0, x1 = max(first[upper], first[lower]), min(last[upper], last[lower])
    sides = own[upper : lower + 1]
    closed = all(sides[:, max(0, x - _PEN) : x + _PEN + 1].any(axis=1).mean() > _FULL for x in (x0, x1))
    return lower - upper if closed and x1 - x0 > _OBLONG * (lower - upper) else None


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


def is_open_circle(part: Flags) -> bool:
    """True for ink, in its box, that closes round a middle of bare paper: an O, or a join drawn as an open circle."""
    high, wide = part.shape
    middle = part[round(0.35 * high) : round(0.65 * high) + 1, round(0.35 * wide) : round(0.65 * wide) + 1]
    _, paper = cv2.connectedComponents(np.pad(~part, 1, constant_values=True).astype(np.uint8), connectivity=4)
    return bool(not middle.any() and paper[1 + high // 2, 1 + wide // 2] != paper[0, 0])


def enclosing(pieces: Pieces) -> Flags:
    """Which pieces run around another of letter size: inner outlines, rings, and the inner one of two rings. No letter does."""
    out = np.zeros(len(pieces), np.bool_)
    w, h = pieces.width, pieces.height
    outer = np.flatnonzero((np.minimum(w, h) > 1.5 * PX_PER_MM) & (np.maximum(w, h) < 3 * LETTER_MAX))
    inner = np.flatnonzero((h > 0.85 * PX_PER_MM) & (np.maximum(w, h) < LETTER_MAX))
    if not len(outer) or not len(inner):
        return out
    middle = np.column_stack([(pieces.x0 + pieces.x1)[inner] / 2, (pieces.y0 + pieces.y1)[inner] / 2])
    tree = cKDTree(middle)
    centre = np.column_stack([(pieces.x0 + pieces.x1)[outer] / 2, (pieces.y0 + pieces.y1)[outer] / 2])
    for k, found in zip(outer, tree.query_ball_point(centre, r=0.5 * np.maximum(w, h)[outer], p=np.inf), strict=True):
        them = inner[found]
        held = (pieces.x0[them] > pieces.x0[k] + 1) & (pieces.x1[them] < pieces.x1[k] - 1)
        held &= (pieces.y0[them] > pieces.y0[k] + 1) & (pieces.y1[them] < pieces.y1[k] - 1) & (h[them] > 0.2 * h[k])
        out[k] |= bool(held.any())
        out[[i for i in them[held] if _is_inner_ring(pieces, int(k), int(i))]] = True
    return out


def _is_inner_ring(pieces: Pieces, outer: int, inner: int) -> bool:
    """True for the inner one of two rings about one centre that a line crosses, or that are wider than high: no O is so."""
    across = (pieces.x0, pieces.x1), (pieces.y0, pieces.y1)
    off = (abs(int(a[outer] + b[outer]) - int(a[inner] + b[inner])) / 2 for a, b in across)
    about = all(d <= _CENTRED * int(b[outer] - a[outer]) for d, (a, b) in zip(off, across, strict=True))
    lying = int(pieces.width[inner]) > _LYING * int(pieces.height[inner])
    return about and (lying or not pieces.free[inner]) and is_open_circle(_closed(pieces, inner))


def _closed(pieces: Pieces, piece: int) -> Flags:
    """The ink of a piece in its box, with that of the lines that were taken out of it, but for what crosses its middle."""
    y0, y1, x0, x1 = (int(v[piece]) for v in (pieces.y0, pieces.y1, pieces.x0, pieces.x1))
    part = pieces.picture(piece).astype(np.uint8)
    lines = (pieces.lines[y0:y1, x0:x1] > 0).astype(np.uint8)
    near = cv2.dilate(part, np.ones((_PEN, _PEN), np.uint8))
    return np.asarray((part | (lines & near)) > 0, np.bool_)
