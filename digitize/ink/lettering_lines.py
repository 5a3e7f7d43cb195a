"""Pieces → lines of lettering in one reading direction: letters link to words, words to blocks.

Works in a frame (u, v) turned so that u runs in the reading direction and v from the letters' tops to their feet. Gaps are
measured against the letters' own height h and pitch, because lettering from 1.3 to 6 mm stands on one sheet.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from digitize.ink.lettering_between import barred
from digitize.ink.lettering_pieces import LETTER_MAX, Flags, Ints, Mask, Pieces
from digitize.ink.lettering_shapes import have_holes
from digitize.ink.lettering_slash import RISING, overhanging, tailed
from digitize.sheet.ranked import median, percentile
from digitize.sheet.state import PX_PER_MM

Floats = NDArray[np.float64]

LETTER_GAP = 0.8
"""Two letters of one word stand at most this far apart, in letter heights."""
WORD_GAP = 1.25
"""Two words of one label stand at most this far apart, in letter heights, unless their pitch is wide."""
NUMBER_GAP = 2.2
"""Behind the number and point of a note its words begin so near, in letter heights."""
_SMALL, _FEET, _AT_DASH = 0.6, 0.12, (0.25, 0.6)
"""Across what is left of a worn dash small letters, so high at least in the others' height, belong to figures when their feet are
so level with them; it lies so far above the feet."""
LEADER_STEP = 2.8 * PX_PER_MM
LEADER_DOTS = 6


@dataclass(frozen=True, slots=True, eq=False)
class Frame:
    """Pieces seen in a reading direction (0, 90 or 270 degrees counter-clockwise).

    ``letter``, ``dash``, ``dot`` and ``slash`` (a letter too) say what each piece may be; ``across`` and ``along`` (bool) whether it touched
    removed lines at its two ends in reading direction, and at top or foot.
    """

    angle: int
    u0: Floats
    u1: Floats
    v0: Floats
    v1: Floats
    free: Flags
    letter: Flags
    dash: Flags
    dot: Flags
    slash: Flags
    ends: Flags

    @property
    def h(self) -> Floats:
        """Letter height, px."""
        return self.v1 - self.v0

    @property
    def w(self) -> Floats:
        """Letter width, px."""
        return self.u1 - self.u0


@dataclass(frozen=True, slots=True)
class Line:
    """One block in the making: piece numbers, box in the frame, letter height, and how good it looks (higher is better)."""

    angle: int
    members: tuple[int, ...]
    letters: tuple[int, ...]
    u0: float
    u1: float
    v0: float
    v1: float
    height: float
    score: float


def in_direction(pieces: Pieces, angle: int, usable: Flags) -> Frame:
    """The frame of ``angle`` (0, 90 or 270); only ``usable`` pieces may be letters, dashes or dots."""
    x0, y0, x1, y1 = (a.astype(np.float64) for a in (pieces.x0, pieces.y0, pieces.x1, pieces.y1))
    if angle == 0:
        u0, u1, v0, v1, order = x0, x1, y0, y1, [0, 1, 2, 3]
    elif angle == 90:
        u0, u1, v0, v1, order = -y1, -y0, x0, x1, [3, 2, 0, 1]
    else:
        u0, u1, v0, v1, order = y0, y1, -x1, -x0, [2, 3, 1, 0]
    mm = PX_PER_MM
    h, w = v1 - v0, u1 - u0
    fill = pieces.area / np.maximum(1, h * w)
    letter = usable & ~pieces.solid & (h >= 0.85 * mm) & (h <= LETTER_MAX) & (w <= 80 * mm) & (fill > 0.06)
    letter &= (w <= 1.7 * LETTER_MAX) | ((fill > 0.12) & (fill < 0.65))
    # a filled patch between lines: the shoe of a brush, the plate of a fuse; or a stub of a thick cable
    filled = (~pieces.free & (fill >= 0.8) & (w >= 0.3 * h)) | ((fill >= 0.85) & (w >= 0.45 * h))
    letter &= ~filled | have_holes(pieces, letter & filled)
    dash = usable & pieces.free & (h <= 0.75 * mm) & (w >= 0.5 * mm) & (w <= 5.0 * mm) & (w >= 1.4 * h)
    dot = usable & (w <= 0.75 * mm) & (h <= 0.95 * mm) & ~dash
    rising = pieces.slant < -RISING if angle == 0 else pieces.slant > RISING
    slash = letter & ~dot & rising & (w > 0.15 * h) & (w < 1.2 * h)
    frame = Frame(angle, u0, u1, v0, v1, pieces.free, letter & ~dot, dash, dot, slash, pieces.ends[:, order])
    leader = _leaders(frame)
    frame.dot[leader] = False
    frame.dash[leader] = False
    return frame


def _leaders(f: Frame) -> Ints:
    """Numbers of the dots (and short dashes) that stand in a row of at least LEADER_DOTS: leaders, broken lines."""
    ids = np.flatnonzero(f.dot | f.dash)
    if len(ids) < LEADER_DOTS:
        return ids[:0]
    mid = np.column_stack([(f.u0 + f.u1)[ids] / 2, (f.v0 + f.v1)[ids] * 0.5 * 6])
    pairs = cKDTree(mid).query_pairs(LEADER_STEP, p=np.inf, output_type="ndarray")
    group = _joined(len(ids), pairs)
    return np.asarray(ids[np.bincount(group)[group] >= LEADER_DOTS])


def broken_lines(pieces: Pieces) -> Flags:
    """Which pieces are the dashes of a broken line: at least three thin bars in a row along their own direction.

    Bars under each other that stand beside letters of their own height are ones and capital I's of a column.
    """
    out = np.zeros(len(pieces), np.bool_)
    sides = (pieces.x0, pieces.x1, pieces.y0, pieces.y1)
    for upright in (False, True):
        a0, a1, b0, b1 = (s.astype(np.float64) for s in (sides[2:] + sides[:2] if upright else sides))
        long, thick = a1 - a0, b1 - b0
        bar = (long >= 2.2 * thick) & (thick <= 0.8 * PX_PER_MM) & (long >= 0.5 * PX_PER_MM) & (long <= LETTER_MAX)
        ids = np.flatnonzero(bar)
        if len(ids) < 3:
            continue
        start, end, mid, size = a0[ids], a1[ids], (b0 + b1)[ids] / 2, long[ids]
        i, j = _ahead(end, start, mid, size, 1.3).T
        gap = start[j] - end[i]
        ok = (gap > 0) & (gap < 1.1 * np.minimum(size[i], size[j])) & (abs(mid[i] - mid[j]) < 0.3 * PX_PER_MM)
        ok &= abs(np.log(size[i] / size[j])) < 0.7
        group = _joined(len(ids), np.column_stack([i, j])[ok])
        row = np.bincount(group)[group] >= 3
        if upright and row.any():
            beside = _beside(pieces, ids, bar)
            share = np.bincount(group, weights=beside) / np.maximum(1, np.bincount(group))
            row &= share[group] < 0.5
        out[ids[row]] = True
    return out


def _beside(pieces: Pieces, ids: Ints, bar: Flags) -> Flags:
    """For upright bars ``ids``: does a piece that is no bar, as high as it and level with it, stand beside it?"""
    h = pieces.height
    other = np.flatnonzero(~bar & (h > 0.85 * PX_PER_MM) & (h < LETTER_MAX))
    out = np.zeros(len(ids), np.bool_)
    if not len(other):
        return out
    tree = cKDTree(np.column_stack([pieces.y0[other], pieces.y1[other]]))
    near = tree.query_ball_point(np.column_stack([pieces.y0[ids], pieces.y1[ids]]), r=0.15 * h[ids], p=np.inf)
    for k, (i, found) in enumerate(zip(ids, near, strict=True)):
        them = other[found]
        gap = np.maximum(pieces.x0[them] - pieces.x1[i], pieces.x0[i] - pieces.x1[them])
        out[k] = bool((gap < 1.3 * h[i]).any())
    return out


def _joined(n: int, pairs: NDArray[np.intp]) -> NDArray[np.int32]:
    """Group number of each of ``n`` things joined by ``pairs`` (m, 2)."""
    graph = coo_array((np.ones(len(pairs), np.int8), (pairs[:, 0], pairs[:, 1])), shape=(n, n))
    return np.asarray(connected_components(graph, directed=False)[1], dtype=np.int32)


def _ahead(u1: Floats, u0: Floats, v: Floats, h: Floats, reach: float) -> NDArray[np.intp]:
    """Pairs (i, j): j starts near the end of i, within ``reach`` heights of i, and at about the same v."""
    tree = cKDTree(np.column_stack([u0, v * 2]))
    middle = u1 + (reach - 1.2) / 2 * h
    found = tree.query_ball_point(np.column_stack([middle, v * 2]), r=(reach + 1.2) / 2 * h, p=np.inf)
    count = np.array([len(x) for x in found])
    first = np.repeat(np.arange(len(u1)), count)
    second = np.fromiter((j for x in found for j in x), dtype=np.intp, count=int(count.sum()))
    keep = first != second
    return np.column_stack([first[keep], second[keep]])


def link(f: Frame, large: Mask) -> list[Line]:
    """All lines of at least two letters, or letters run together, in this frame; ``large``: the ink that was removed."""
    ids = np.flatnonzero(f.letter)
    return _blocks(f, _words(f, ids, large), large) if len(ids) else []


@dataclass(frozen=True, slots=True)
class _Word:
    letters: Ints
    u0: float
    u1: float
    v0: float
    v1: float
    h: float
    pitch: float
    gap: float


def _words(f: Frame, ids: Ints, large: Mask) -> list[_Word]:
    u0, u1, v0, v1, h = f.u0[ids], f.u1[ids], f.v0[ids], f.v1[ids], f.h[ids]
    pairs = _ahead(u1, u0, (v0 + v1) / 2, h, 1.8)
    i, j = pairs.T
    tall, low = np.maximum(h[i], h[j]), np.minimum(h[i], h[j])
    gap = u0[j] - u1[i]
    common = np.minimum(v1[i], v1[j]) - np.maximum(v0[i], v0[j])
    ok = (gap <= LETTER_GAP * tall) & (gap >= -0.4 * tall) & (low >= 0.5 * tall) & (common >= 0.75 * low)
    ok &= u0[j] + u1[j] > u0[i] + u1[i]
    # beside a capital, a small letter stands on the same feet or (a raised figure) at the same top
    ok &= np.minimum(abs(v1[i] - v1[j]), abs(v0[i] - v0[j])) <= np.where(low < 0.85 * tall, 0.1, 0.2) * tall
    # an arrow head or a bit of wire is long for its height
    small = np.where(h[i] < h[j], f.w[ids][i], f.w[ids][j])
    ok &= (low >= 0.75 * tall) | (small <= 1.1 * tall)
    # a bit of wire is cut out of something larger; a letter that was cut still stands level with its neighbours
    cut = ~(f.free[ids][i] & f.free[ids][j])
    even = (abs(v0[i] - v0[j]) <= 0.15 * tall) & (abs(v1[i] - v1[j]) <= 0.15 * tall)
    ok &= ~cut | even | tailed(f.ends[ids], f.free[ids], (u0, u1, v0, v1), pairs)
    for k in np.flatnonzero(ok & cut):
        a, b = i[k], j[k]
        ok[k] = not barred(f.angle, large, (u1[a], u0[b]), (max(v0[a], v0[b]), min(v1[a], v1[b])), tall[k])
    over, deep = overhanging(f.slash[ids], (u0, u1, v0, v1), pairs)
    group = _joined(len(ids), pairs[ok | over])
    order = np.lexsort((u0, group))
    cuts = np.flatnonzero(np.diff(group[order])) + 1
    out = []
    for part in np.split(order, cuts):
        if len(part) == 1:
            k = part[0]
            tall = float(h[k])
            out.append(
                _Word(ids[part], float(u0[k]), float(u1[k]), float(v0[k]), float(v1[k]), tall, 0.9 * tall, 0.35 * tall)
            )
            continue
        hs = h[part]
        tallish = (hs >= 0.75 * percentile(hs[~deep[part]], 75)) & ~deep[part]
        height = median(hs[tallish])
        pitch, space = 0.9 * height, 0.35 * height
        if len(part) >= 3:
            mid = (u0[part] + u1[part]) / 2
            pitch = median(np.diff(mid))
            space = median(np.maximum(0, u0[part][1:] - u1[part][:-1]))
        box = float(u0[part].min()), float(u1[part].max())
        out.append(
            _Word(
                ids[part],
                *box,
                median(v0[part][tallish]),
                median(v1[part][tallish]),
                height,
                pitch,
                space,
            )
        )
    return out


def _blocks(f: Frame, words: list[_Word], large: Mask) -> list[Line]:
    """Join words over the space between them, straight or over a dash."""
    dashes = np.flatnonzero(f.dash)
    n = len(words)
    u0 = np.array([w.u0 for w in words] + list(f.u0[dashes]))
    u1 = np.array([w.u1 for w in words] + list(f.u1[dashes]))
    v0 = np.array([w.v0 for w in words] + list(f.v0[dashes]))
    v1 = np.array([w.v1 for w in words] + list(f.v1[dashes]))
    h = np.array([w.h for w in words] + [2.6 * PX_PER_MM] * len(dashes))
    count = np.array([len(w.letters) for w in words] + [0] * len(dashes))
    wide = np.array(
        [max(WORD_GAP * w.h, min(1.3 * w.pitch + w.gap, 2.0 * w.h)) if len(w.letters) > 2 else 0.0 for w in words]
        + [0.0] * len(dashes)
    )
    pairs = []
    at_dash: dict[int, list[int]] = {}
    for i, j in _ahead(u1, u0, (v0 + v1) / 2, h, 2.6):
        gap = u0[j] - u1[i]
        if i >= n and j >= n:
            continue
        if i >= n or j >= n:
            word, dash = (i, j) if j >= n else (j, i)
            mid, tall = (v0[dash] + v1[dash]) / 2 - v0[word], h[word]
            if (
                -0.1 * tall <= gap <= WORD_GAP * tall
                and 0.25 * tall <= mid <= 0.8 * tall
                and u1[dash] - u0[dash] <= 1.3 * tall
            ):
                at_dash.setdefault(int(dash), []).append(int(word))
            continue
        tall, low = max(h[i], h[j]), min(h[i], h[j])
        if u0[j] + u1[j] <= u0[i] + u1[i] or gap < -0.4 * tall or low < _SMALL * tall:
            continue
        level = max(v0[i], v0[j]), max(v1[i], v1[j])
        higher = min(v0[i], v0[j]), level[1]
        dashed = abs(v1[i] - v1[j]) <= _FEET * tall and _spanned(f, (u1[i], u0[j]), higher, tall, dash=True)
        if low < 0.7 * tall and not dashed:
            continue
        spanned = dashed or _spanned(f, (u1[i], u0[j]), level, tall)
        if low < (_SMALL if dashed else 0.8 if spanned else 0.88) * tall and min(count[i], count[j]) == 1:
            continue
        if low < 0.85 * tall and abs(v1[i] - v1[j]) > (0.16 if spanned else 0.08) * tall:
            continue  # a smaller character beside a name stands on no common foot line
        if abs(v1[i] - v1[j]) > 0.22 * tall or (abs(v0[i] - v0[j]) > 0.28 * tall and not dashed):
            continue
        limit = max(wide[i], wide[j]) or (WORD_GAP if max(count[i], count[j]) > 1 else 0.9) * tall
        limit = max(limit, WORD_GAP * tall) if spanned else limit
        numbered = gap <= NUMBER_GAP * tall and count[i] <= 2 < count[j]
        if gap > limit and not (numbered and _pointed(f, u1[i], v1[i], tall)):
            continue
        if barred(f.angle, large, (u1[i], u0[j]), (max(v0[i], v0[j]), min(v1[i], v1[j])), tall):
            continue
        pairs.append((i, j))
    cut = [w for w in range(n) if count[w] == 1 and not f.free[words[w].letters[0]]]
    for dash, near in at_dash.items():  # of two strings of unlike heights it is of the nearer one
        own = [w for w in near if w not in cut or any(v != w and 0.8 < h[v] / h[w] < 1.25 for v in near)]
        if not own:
            continue
        off = [max(u0[w] - u1[dash], u0[dash] - u1[w]) for w in own]
        alike = min(h[own]) >= 0.5 * max(h[own])  # small letters are as a rule
        pairs += [(w, dash) for w in (own if alike else [own[off.index(min(off))]])]
    group = _joined(len(u0), np.array(pairs, dtype=np.intp).reshape(-1, 2))
    members: dict[int, list[int]] = {}
    for k, g in enumerate(group):
        members.setdefault(int(g), []).append(k)
    out = []
    for part in members.values():
        own = [k for k in part if k < n]
        if len(own) > 1 or (own and (count[own[0]] > 1 or _run_together(f, words[own[0]]))):
            out.append(_line(f, [words[k] for k in own], [int(dashes[k - n]) for k in part if k >= n]))
    return out


def points_in(f: Frame, along: tuple[float, float], level: tuple[float, float], tall: float) -> Ints:
    """The points and colons that stand within a stretch of a line of letters ``tall`` px high."""
    found = f.dot & f.free & (f.u0 >= along[0] - 1) & (f.u1 <= along[1] + 1)
    found &= (f.v0 >= level[0] + 0.2 * tall) & (f.v1 <= level[1] + 0.15 * tall)
    found &= (np.maximum(f.w, f.h) < 0.35 * tall) & (np.minimum(f.w, f.h) >= 0.09 * tall)  # specks of dirt are finer
    return np.flatnonzero(found)


def _spanned(
    f: Frame, gap: tuple[float, float], level: tuple[float, float], tall: float, *, dash: bool = False
) -> bool:
    """True when a point or a colon stands in the gap between two letters, near to both; ``dash``: what is left of a dash."""
    points = points_in(f, gap, level, tall)
    if dash:
        up = (level[1] - (f.v0 + f.v1)[points] / 2) / tall
        points = points[(up >= _AT_DASH[0]) & (up <= _AT_DASH[1])]
    if not len(points):
        return False
    return bool(max(f.u0[points].min() - gap[0], gap[1] - f.u1[points].max()) <= 0.6 * tall)


def _pointed(f: Frame, end: float, foot: float, tall: float) -> bool:
    """True when a point stands on the foot line right behind ``end``."""
    near = f.dot & f.free & (f.u0 >= end - 1) & (f.u0 - end < 0.9 * tall)
    return bool((near & (abs(f.v1 - foot) < 0.12 * tall) & (np.maximum(f.w, f.h) < 0.35 * tall)).any())


def _run_together(f: Frame, word: _Word) -> bool:
    """Too long for one letter. Turned by 90 degrees every letter is long for its height, so there it takes more."""
    length, free = word.u1 - word.u0, bool(f.free[word.letters[0]])
    least = 1.35 if f.angle == 0 and free else 3.3 if f.angle != 0 and length <= LETTER_MAX else 2.5
    return word.h > 1.25 * PX_PER_MM and length > least * word.h


def _line(f: Frame, words: list[_Word], dashes: list[int]) -> Line:
    letters = np.concatenate([w.letters for w in words])
    u0, u1 = float(f.u0[letters].min()), float(f.u1[letters].max())
    # a dash at either end is a bit of wire more often than a sign
    inner = [d for d in dashes if u0 <= (f.u0[d] + f.u1[d]) / 2 <= u1]
    h = f.h[letters]
    height = median(h[h >= 0.75 * percentile(h, 75)])
    even = float(
        np.mean((abs(h - height) <= 0.15 * height) & (abs(f.v1[letters] - median(f.v1[letters])) <= 0.2 * height))
    )
    order = np.argsort(f.u0[letters])
    gaps = f.u0[letters][order][1:] - f.u1[letters][order][:-1]
    airy = float(np.mean(np.clip(gaps, 0, None))) / height if len(gaps) else 0.5
    length = np.maximum(1.0, f.w[letters] / (1.1 * height)).sum()
    trust = float(np.mean(np.where(f.free[letters], 1.0, 0.6)))
    score = float(length) * trust * (0.3 + even) / (0.5 + airy) * (1.0 if f.angle == 0 else 0.6)
    if f.angle != 0 and len(letters) <= 3 and airy < 0.12:
        score *= 0.4  # the halves of a broken letter lie closer than letters do
    return Line(
        f.angle,
        (*map(int, letters), *inner),
        tuple(map(int, letters)),
        u0,
        u1,
        float(min(f.v0[letters].min(), *(f.v0[inner] if inner else [np.inf]))),
        float(max(f.v1[letters].max(), *(f.v1[inner] if inner else [-np.inf]))),
        height,
        score,
    )
