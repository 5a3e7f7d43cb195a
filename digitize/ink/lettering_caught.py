"""Letters at an end of a line of lettering that ran into the bend of a wire: they are cut off it.

Straight lines are taken out before letters are looked for; a bend is not, and what hangs together with one is no letter.
From the line of lettering outwards a letter is followed column by column, up to where nothing but one thin stroke goes on.
Letters that ran into each other, and one of them into the wire below, are of the line all together.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from digitize.ink.lettering_between import barred
from digitize.ink.lettering_joints import joints_of
from digitize.ink.lettering_lines import Frame, Line, in_direction
from digitize.ink.lettering_pieces import Flags, Ints, Pieces
from digitize.ink.lettering_shapes import is_open_circle
from digitize.sheet.ranked import median

_FEWEST = 3
"""A line of fewer letters catches none."""
_NEXT = 0.7
"""Widest gap before a caught letter, in letter heights."""
_WIDTH = (0.3, 1.1)
"""Least and greatest width of a letter, in its heights."""
_LEVEL = 0.15
"""So near to top and foot of the line it begins and ends, in letter heights."""
_TAIL = 0.6
"""A stroke that runs on to a wire reaches at most so far beyond the other letters, and is at most so broad there, in letter
heights."""
_GOES_ON = 0.12
"""So far at least the stroke of a wire goes on behind a letter, in letter heights."""
_ARM = 0.45
"""The arm of a last T or L, behind its stem, is at most so long, in letter heights."""
_STROKES, _BAR = 1.9, 0.55
"""What has less ink than so many strokes of its height, and more than this share of it in one that stands straight across
the line of lettering, may be a stretch of the wire."""
_SLASH, _LEANS, _UPRIGHT, _STRAIGHT = (0.4, 1.6), 0.2, 0.85, 0.87
"""A slash between two letters has so much room, leans by so much, in letter heights, goes through so much of their height and
is as straight as this correlation of its pixels."""
_THIN = 1.6
"""A stroke of the wire is at most so many times as thick as the strokes of the letters."""


def with_caught_letters(pieces: Pieces, lines: Sequence[Line], usable: Flags) -> tuple[Pieces, list[Line]]:
    """The pieces with such letters as pieces of their own, at the end, and the lines with them.

    ``usable``: which pieces may hold letters at all: sides of outlines, say, do not.
    """
    taken = ~usable
    for line in lines:
        taken[list(line.members)] = True
    frames = {angle: in_direction(pieces, angle, ~taken) for angle in {line.angle for line in lines}}
    cut: list[tuple[int, Ints]] = []
    out = list(lines)
    for k, line in enumerate(lines):
        if len(line.letters) < _FEWEST:
            continue
        for slash in _slashes(pieces, frames[line.angle], line, taken):
            taken[slash[0]] = True
            out[k] = _longer(out[k], len(pieces) + len(cut), slash[1], pieces.lines.shape[1])
            cut.append(slash)
        for behind in (True, False):
            found = _caught(pieces, frames[line.angle], line, taken, behind=behind)
            if found is not None:
                taken[found[0]] = True  # one letter of a piece is enough
                out[k] = _longer(out[k], len(pieces) + len(cut), found[1], pieces.lines.shape[1])
                cut.append(found)
    return (parted(pieces, cut), out) if cut else (pieces, out)


def _caught(pieces: Pieces, f: Frame, line: Line, taken: Flags, *, behind: bool) -> tuple[int, Ints] | None:
    """The piece right beside an end of a line from which a letter can be cut, and the letter's pixels."""
    h = line.height
    start = f.u0 - line.u1 if behind else line.u0 - f.u1
    stop = f.u1 - line.u1 if behind else line.u0 - f.u0
    near = ~taken & ~f.free & ~pieces.sliver & (start <= _NEXT * h) & (stop >= _WIDTH[0] * h)
    near &= (np.minimum(f.v1, line.v1) - np.maximum(f.v0, line.v0)) >= 0.7 * h
    near &= (f.h > 1.15 * h) | (f.w > _WIDTH[1] * h)
    letters = list(line.letters)
    rows = median(f.v0[letters]), median(f.v1[letters])
    for i in np.flatnonzero(near):
        gap = (line.u1, float(f.u0[i])) if behind else (float(f.u1[i]), line.u0)
        if barred(line.angle, pieces.lines, gap, rows, h):
            continue  # the line is in an outline, and this beyond it
        letter = _cut_off(pieces, line, int(i), rows, behind=behind)
        if letter is not None:
            return int(i), letter
    return None


def _slashes(pieces: Pieces, f: Frame, line: Line, taken: Flags) -> list[tuple[int, Ints]]:
    """Pieces of which a slash between two letters of a line is a part, and the slash's pixels: a bend above or below caught it."""
    h = line.height
    letters = np.array(line.letters)
    top, foot = median(f.v0[letters]), median(f.v1[letters])
    near = np.flatnonzero(
        ~taken & ~f.free & ~pieces.sliver & (f.u0 < line.u1) & (f.u1 > line.u0) & (f.v0 < foot) & (f.v1 > top)
    )
    if not len(near):
        return []
    starts, stops = np.sort(f.u0[letters])[1:], np.maximum.accumulate(f.u1[letters[np.argsort(f.u0[letters])]])[:-1]
    out = []
    for a, b in zip(stops.tolist(), starts.tolist(), strict=True):
        if not _SLASH[0] * h <= b - a <= _SLASH[1] * h:
            continue
        for i in near[(f.u0[near] < b) & (f.u1[near] > a)].tolist():
            spots, row = pieces.spots(i), pieces.lines.shape[1]
            u, v = (spots % row, spots // row) if line.angle == 0 else (-(spots // row), spots % row)
            own = (u >= a - 1) & (u <= b) & (v >= top - 1) & (v < foot + 1)
            if own.all() or not own.any():
                continue
            long = (int(np.ptp(u[own])), int(np.ptp(v[own])))
            rising = slant_of(v[own] * row + u[own] - int(u.min()), row)
            if long[1] >= _UPRIGHT * (foot - top) and long[0] >= _LEANS * h and rising < -_STRAIGHT:
                out.append((i, np.sort(spots[own])))
                break
    return out


def _cut_off(pieces: Pieces, line: Line, i: int, rows: tuple[float, float], *, behind: bool) -> Ints | None:
    """The pixels of the letter that a piece begins with, seen from the line; None when it begins with none.

    ``rows``: top and foot of the line's letters, px.
    """
    spots, row, h = pieces.spots(i), pieces.lines.shape[1], line.height
    u, v = (spots % row, spots // row) if line.angle == 0 else (-(spots // row), spots % row)
    top, foot = round(rows[0]) - 1, round(rows[1]) + 1
    along = (u - int(line.u1) if behind else int(line.u0) - 1 - u).astype(np.int64)
    level = (v >= top) & (v < foot) & (along >= 0)
    if not level.any():
        return None
    columns = np.zeros((int(along[level].max()) + 1, foot - top), np.bool_)
    columns[along[level], v[level] - top] = True
    pen = _pen(pieces, line)
    first, ends = _letter_in(columns, 0, h, pen, max(2, round(_GOES_ON * h)))
    if first > _NEXT * h or not ends or not _is_level(columns[first : ends[0]], h):
        return None
    end = ends[0]
    own = level & (along < end)
    if own.all():
        return None  # nothing is left that could have caught it
    part = columns[first:end]
    if _is_bar(part, pen) or is_open_circle(part) or _has_joint(pieces, line, i, spots[own]):
        return None
    near = (v >= top - _LEVEL * h) & (v < foot + _LEVEL * h)
    if not level.all() and _is_tail(along[~near], v[~near], (top, foot), h) and _all_letters(columns, end, h, pen):
        own = level  # letters ran together, and one of them on to the wire
    return np.sort(spots[own])


def _is_tail(along: Ints, v: Ints, rows: tuple[int, int], h: float) -> bool:
    """True for pixels beyond the rows of a line of lettering that are the foot of a slash, say, or its top."""
    if not len(v):
        return True
    aside = (v >= rows[1]).all() or (v < rows[0]).all()
    return bool(aside and np.ptp(v) < _TAIL * h and np.ptp(along) < _TAIL * h)


def _letter_in(columns: Flags, start: int, h: float, pen: float, ahead: int) -> tuple[int, list[int]]:
    """First column of what begins behind ``start``, and the columns behind which a letter that begins there may end.

    ``columns``: bool (length, height), the ink level with a line of letters ``h`` px high, a little more to both sides.
    ``ahead``: where a letter ends, so many columns hold no more than one thin stroke.
    """
    inked = np.asarray(columns.any(axis=1))
    first = start + int(inked[start:].argmax())
    stretch = columns[first : first + int((_WIDTH[1] + 0.5) * h)]
    runs = (np.diff(stretch.astype(np.int8), axis=1, prepend=0) == 1).sum(axis=1)
    thin = (runs <= 1) & (stretch.sum(axis=1) <= _THIN * pen)
    least, most = (int(w * h) for w in _WIDTH)
    ends = [k for k in range(least, min(len(stretch), most + 1)) if thin[k : k + ahead].all()]
    return first, [first + k for k in ends] + ([first + len(stretch)] if len(stretch) <= most else [])


def _is_level(part: Flags, h: float) -> bool:
    """True for ink that begins and ends as high and as low as the letters of its line."""
    rows = np.flatnonzero(part.any(axis=0))
    return len(rows) > 0 and bool(max(rows[0], part.shape[1] - 1 - rows[-1]) <= _LEVEL * h)


def _all_letters(columns: Flags, start: int, h: float, pen: float) -> bool:
    """True when letter follows letter from column ``start`` on, to the end or to the arm of the last."""
    while len(columns) - start > _ARM * h:
        first, ends = _letter_in(columns, start, h, pen, 1)
        letter = next((end for end in ends if _is_level(columns[first:end], h)), None)
        if letter is None:
            return False
        start = letter
    return True


def _has_joint(pieces: Pieces, line: Line, i: int, spots: Ints) -> bool:
    """True where what would be cut off a piece is part of a join drawn as an open circle."""
    row, reach = pieces.lines.shape[1], _WIDTH[0] * line.height
    x, y = spots % row, spots // row
    return any(
        x.min() - reach <= cx <= x.max() + reach and y.min() - reach <= cy <= y.max() + reach
        for cx, cy in joints_of(pieces, i, upright=line.angle == 0)
    )


def _is_bar(part: Flags, pen: float) -> bool:
    """True where one stroke straight across the line of lettering is most of the ink: a stretch of wire, or an I or 1."""
    columns = part.sum(axis=1)
    stroke = np.convolve(columns, np.ones(round(1.3 * pen) + 1), "same").max()
    few = columns.sum() < _STROKES * pen * part.shape[1]
    return bool(few and columns.max() >= 0.8 * part.shape[1] and stroke > _BAR * columns.sum())


def _pen(pieces: Pieces, line: Line) -> float:
    """How thick the strokes of a line's letters are, px: their ink over about as much stroke as they have."""
    letters = np.array(line.letters)
    return float(max(2.0, median(pieces.area[letters] / (2.2 * np.maximum(pieces.width, pieces.height)[letters]))))


def _longer(line: Line, number: int, spots: Ints, row: int) -> Line:
    u = spots % row if line.angle == 0 else -(spots // row)
    return replace(
        line,
        members=(*line.members, number),
        letters=(*line.letters, number),
        u0=min(line.u0, float(u.min())),
        u1=max(line.u1, float(u.max() + 1)),
    )


def slant_of(spots: Ints, row: int) -> float:
    """Correlation of x and y over pixels (flat positions, ``row`` to a row), -1 to 1: under -0.87 a rising stroke."""
    x, y = spots % row - (spots % row).mean(), spots // row - (spots // row).mean()
    return float((x * y).sum() / np.sqrt(max(1e-9, float((x * x).sum() * (y * y).sum()))))


def parted(pieces: Pieces, cut: Sequence[tuple[int, Ints]]) -> Pieces:
    """The pieces with new ones cut out of them, in order."""
    row, count = pieces.lines.shape[1], len(pieces)
    owner = pieces.owner.copy()
    for n, (i, spots) in enumerate(cut):
        first, last = np.searchsorted(pieces.owner, (i, i + 1))
        owner[first:last][np.isin(pieces.pixels[first:last], spots)] = count + n
    order = np.argsort(owner, kind="stable")
    owner, pixels = owner[order], pieces.pixels[order]
    grown = {
        name: np.concatenate([getattr(pieces, name), np.zeros((len(cut), *getattr(pieces, name).shape[1:]), kind)])
        for name, kind in _FIELDS.items()
    }
    out = replace(pieces, pixels=pixels, owner=owner, **grown)
    for k in (*(i for i, _ in cut), *range(count, count + len(cut))):
        at = out.spots(k)
        for name, value in (
            ("x0", (at % row).min()), ("x1", (at % row).max() + 1), ("y0", at[0] // row), ("y1", at[-1] // row + 1),
            ("area", len(at)),
        ):  # fmt: skip
            getattr(out, name)[k] = value
    return out


_FIELDS: dict[str, type[np.generic]] = {
    "x0": np.int64, "y0": np.int64, "x1": np.int64, "y1": np.int64, "area": np.int64, "free": np.bool_, "ends": np.bool_,
    "solid": np.bool_, "sliver": np.bool_, "slant": np.float64,
}  # fmt: skip
