"""Curl of a page without a printed frame, from what should be straight on it: long lines of the drawing, lines of print.

Near the spine of an open book a page rises as part of a cylinder, and every level line on it bends the more the further it
stands from the middle of the picture: what is nearer to the lens is seen larger. That is a ``Bow``, a displacement that goes
linearly from one side to the other. Here it is fitted to many lines at once, each of which may stand at any height, but
must be straight: a swelling about the middle of the page and, more reluctantly, a shift, both along the page. How much the
paper is foreshortened along the bend is not seen in lines that run along it, and is left as it is.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from digitize.sheet.frame import Rule, find_rules
from digitize.sheet.letters import Letters, find_letters
from digitize.sheet.light import even_out, ink_of
from digitize.sheet.mapping import Bow, SheetMapping
from digitize.sheet.warp import flat_picture

Floats = NDArray[np.float64]

SHORTEST_MM = 22.0
"""Lines and rows of print shorter than this say nothing of a bend."""

EDGE_MM = 4.0
"""What lies this near to the edge of the page may be the edge or its shadow."""

NODE_MM = 8.0
"""Distance of the places at which the bend is fitted: paper does not crease within a centimetre."""

LEAST_MM, MOST_SHARE = 0.25, 0.3
"""A bend smaller than this is not worth it; larger than this share of the page is no bend of paper."""

FEWEST_LINES, PLENTY = 4, 200

_LOOKS = 2

_NO_MATRIX = ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))

_KINK, _KINK_SHIFT = 1.0, 10.0
"""Weights against kinks of the swelling and of the shift, for each node."""

_FLAT = 20.0
_STEEP_MM = 0.15
"""Weight against any change from node to node, given up where it is plainly larger than this (mm): between the lines of a
flat page small slopes are noise, in a bend the lines run steeply.
"""

_ENDS = 4
"""Steps between nodes at either end that tell how steep the page is beyond them."""

_SMALL_SHIFT, _SMALL = 0.02, 0.002
"""Weights against shift and swelling as such, where no line shows any."""


@dataclass(frozen=True, slots=True, eq=False)
class Line:
    """Points along something that is straight on flat paper: ``at`` along it and ``offset`` across it, mm, (n,) each."""

    at: Floats
    offset: Floats

    @property
    def length(self) -> float:
        """From its first to its last point, mm."""
        return float(np.ptp(self.at)) if len(self.at) else 0.0


@dataclass(frozen=True, slots=True, eq=False)
class Straights:
    """What should be straight on a page: lines along it (with its rows of print) and lines across it."""

    level: tuple[Line, ...]
    upright: tuple[Line, ...]

    def moved(self, move: Callable[[Floats], Floats]) -> Straights:
        """The same with its points (n, 2: x, y) taken elsewhere."""
        return Straights(
            tuple(_moved(x, move, level=True) for x in self.level),
            tuple(_moved(x, move, level=False) for x in self.upright),
        )


def straights_of(level: Sequence[Rule], upright: Sequence[Rule], letters: Letters, px_per_mm: float) -> Straights:
    """Rules (mm) and rows of print (``letters`` in px of a picture at ``px_per_mm``) that are long enough.

    On a sheet with plenty of both, print has nothing to add.
    """
    drawn = lines_of(level)
    plenty = len(drawn) > PLENTY and len(letters.boxes) > 10 * PLENTY
    return Straights((*drawn, *([] if plenty else rows_of_print(letters, px_per_mm))), tuple(lines_of(upright)))


def uncurled(
    grey: NDArray[np.uint8],
    mapping: SheetMapping,
    size: tuple[float, float],
    px_per_mm: float,
    first: Straights,
) -> SheetMapping:
    """``mapping`` (without bows) with those that straighten what is drawn and printed on the page.

    ``grey``: the scan, ``size``: width and height of the page, mm. ``first``: what was seen straight or bent on it before, in
    the sheet mm of ``mapping``. If that is bent the page is looked at again, with ``px_per_mm``, once it is flatter: then
    lines are followed farther into the bend, and the bows are fitted anew to all of them.
    """
    width, height = size
    bow_x, bow_y = _bows(first, width, height)
    for _ in range(_LOOKS):
        if bow_x is None and bow_y is None:
            break
        bent = SheetMapping(_NO_MATRIX, bow_x, bow_y)
        flat = replace(mapping, bow_x=bow_x, bow_y=bow_y)
        even = even_out(flat_picture(grey, flat, width, height, px_per_mm), px_per_mm)
        ink = ink_of(even, px_per_mm, 0.25)
        level, upright = find_rules(ink, px_per_mm, SHORTEST_MM)
        seen = straights_of(level, upright, find_letters(ink, px_per_mm), px_per_mm)
        bow_x, bow_y = _bows(seen.moved(bent.to_scan), width, height)
    return replace(mapping, bow_x=bow_x, bow_y=bow_y)


def _bows(seen: Straights, width: float, height: float) -> tuple[Bow | None, Bow | None]:
    """Both bows of a page whose lines are ``seen`` (mm, bent): along y first, then along x what is left."""
    bow_y = bow_of_lines(seen.upright, height, width)
    beside = SheetMapping(_NO_MATRIX, None, bow_y)
    return bow_of_lines(seen.moved(beside.to_sheet).level, width, height), bow_y


def lines_of(rules: Sequence[Rule]) -> list[Line]:
    """The rules that are long enough to show a bend."""
    return [Line(r.at, r.offset) for r in rules if r.end - r.start >= SHORTEST_MM]


def rows_of_print(letters: Letters, px_per_mm: float) -> list[Line]:
    """Rows of characters, by the feet of those that stand on the line; ``letters`` in px of a picture at ``px_per_mm``."""
    boxes = letters.boxes[np.argsort(letters.boxes[:, 0], kind="stable")].astype(np.float64)
    rows: list[list[int]] = []
    growing: list[int] = []  # rows that end near enough to the left of where we are
    tallest = float(boxes[:, 3].max(initial=0.0))
    for i, (x, y, w, h) in enumerate(boxes):
        growing = [k for k in growing if x - boxes[rows[k][-1], 0] < boxes[rows[k][-1], 2] + 1.6 * tallest]
        best, least = -1, 0.35 * h
        for k in growing:
            px, py, pw, ph = boxes[rows[k][-1]]
            off = abs(y + h - py - ph)
            if 0.3 * w < x - px < pw + 1.6 * h and abs(ph - h) < 0.3 * h and off < least:
                best, least = k, off
        if best < 0:
            growing.append(len(rows))
            rows.append([i])
        else:
            rows[best].append(i)
    found = []
    for row in rows:
        b = boxes[row]
        line = Line((b[:, 0] + b[:, 2] / 2) / px_per_mm, (b[:, 1] + b[:, 3]) / px_per_mm)
        if len(row) >= 8 and line.length >= SHORTEST_MM:
            found.append(line)
    return found


def _moved(line: Line, move: Callable[[Floats], Floats], *, level: bool) -> Line:
    """The line with its points (n, 2: x, y) taken elsewhere."""
    points = move(np.column_stack([line.at, line.offset] if level else [line.offset, line.at]))
    at, offset = (points[:, 0], points[:, 1]) if level else (points[:, 1], points[:, 0])
    order = np.argsort(at, kind="stable")
    return Line(at[order], offset[order])


def bow_of_lines(lines: Sequence[Line], along: float, across: float) -> Bow | None:
    """The bow that straightens ``lines``; None when they are straight, too few, or not bent in common.

    ``along`` and ``across``: size of the page in the direction of the lines and across it, mm.
    """
    lines = [x for x in lines if x.length >= SHORTEST_MM and EDGE_MM < float(np.median(x.offset)) < across - EDGE_MM]
    if len(lines) < FEWEST_LINES:
        return None
    nodes = np.linspace(0.0, along, max(4, round(along / NODE_MM) + 1))
    heights = np.array([float(np.median(x.offset)) for x in lines])
    keep = np.ones(len(lines), dtype=bool)
    first, second = np.zeros(len(nodes)), np.zeros(len(nodes))
    for fit in range(_FITS):
        used = [x for x, k in zip(lines, keep, strict=True) if k]
        seen = _seen(nodes, used)
        first, second, level = _fitted(used, heights[keep], nodes, across, (first, second), seen)
        heights[keep] = level
        off = np.array([_misfit(x, nodes, first, second, across) for x in lines])
        if fit >= _FITS // 2:  # before that the bent lines are the ones that fit worst
            keep = off < max(0.3, 4.0 * float(np.median(off)))
        if keep.sum() < FEWEST_LINES:
            return None
    used = [x for x, k in zip(lines, keep, strict=True) if k]
    seen = _seen(nodes, used)
    first, second = (c - float(np.median(c[seen])) for c in (first, second))
    # of a page that lies askew the lines are slanted all alike: that is no bend
    bend = max(float(np.abs(_trend_out(nodes[seen], c[seen])).max()) for c in (first, second))
    if bend < LEAST_MM or max(np.abs(first).max(), np.abs(second).max()) > MOST_SHARE * across:
        return None
    none = np.zeros(len(nodes))
    before = sum(_misfit(x, nodes, none, none, across) ** 2 * x.length for x in used)
    after = sum(_misfit(x, nodes, first, second, across) ** 2 * x.length for x in used)
    if after > _GAIN * before:
        return None
    return Bow(tuple(map(float, nodes)), tuple(map(float, first)), tuple(map(float, second)), 0.0, float(across))


_FITS = 6

_GAIN = 0.25
"""What may be left of the bends of all lines (mean square) for the bow to be believed."""


def _trend_out(x: Floats, y: Floats) -> Floats:
    return np.asarray(y - np.polyval(np.polyfit(x, y, 1), x), dtype=np.float64)


def _seen(nodes: Floats, lines: Sequence[Line]) -> NDArray[np.bool_]:
    """Which nodes lie beside a line."""
    seen = np.zeros(len(nodes), dtype=bool)
    for x in lines:
        seen |= (nodes >= x.at.min() - NODE_MM / 2) & (nodes <= x.at.max() + NODE_MM / 2)
    return seen


def _fitted(
    lines: Sequence[Line],
    heights: Floats,
    nodes: Floats,
    across: float,
    before: tuple[Floats, Floats],
    seen: NDArray[np.bool_],
) -> tuple[Floats, Floats, Floats]:
    """Displacements at the nodes for both sides, and the height of every line when flat, by least squares.

    Unknown are the swelling (mm at half the page's height from its middle) and the shift at every node, the heights, and
    what slant is left of the whole page.
    ``before``: the displacements of the last fit, which say where the page is steep; it stays as steep beyond the outermost
    nodes that are ``seen``.
    """
    count, step = len(nodes), float(nodes[1] - nodes[0])
    normal, right = np.zeros((2 * count + 1, 2 * count + 1)), np.zeros(2 * count + 1)
    middle = float(nodes.mean())
    parts = []
    for line, height in zip(lines, heights, strict=True):
        at = np.clip((line.at - nodes[0]) / step, 0, count - 1.000001)
        k = at.astype(int)
        share = at - k
        lever = float(np.clip(2 * height / across - 1, -1.2, 1.2))
        n, low, high = np.arange(len(at)), int(k.min()), int(k.max()) + 2
        near = np.zeros((len(at), high - low))
        near[n, k - low], near[n, k - low + 1] = 1 - share, share
        rows = np.hstack([lever * near, near, (line.at - middle)[:, None]])
        where = np.concatenate([np.arange(low, high), np.arange(count + low, count + high), [2 * count]])
        parts.append((rows, where))
        # the height is free: only what differs from the line's own mean counts
        apart, off = rows - rows.mean(axis=0), line.offset - line.offset.mean()
        weight = line.length / len(at)  # every millimetre of line counts alike
        normal[np.ix_(where, where)] += weight * apart.T @ apart
        right[where] += weight * apart.T @ off
    kink, change = np.diff(np.eye(count), 2, axis=0), np.diff(np.eye(count), axis=0)
    was = ((before[1] - before[0]) / 2, _trend_out(nodes, (before[1] + before[0]) / 2))
    sides = (slice(0, count), slice(count, 2 * count))
    known = np.flatnonzero(seen[:-1] & seen[1:])
    for side, values, stiff, small in zip(sides, was, (_KINK, _KINK_SHIFT), (_SMALL, _SMALL_SHIFT), strict=True):
        steep = np.abs(np.diff(values))
        if len(known):  # beyond the outermost lines the page goes on as it goes there
            steep[: known[0] + 1] = steep[known[:_ENDS]].max()
            steep[known[-1] :] = steep[known[-_ENDS:]].max()
        flat = _FLAT / (1 + (steep / _STEEP_MM) ** 2)
        normal[side, side] += stiff * kink.T @ kink + change.T @ (flat[:, None] * change) + small * np.eye(count)
    solved = np.asarray(np.linalg.solve(normal, right), dtype=np.float64)
    swelling, shift = solved[:count], solved[count : 2 * count] + solved[-1] * (nodes - middle)
    level = [float((x.offset - rows @ solved[where]).mean()) for x, (rows, where) in zip(lines, parts, strict=True)]
    return shift - swelling, shift + swelling, np.array(level)


def _misfit(line: Line, nodes: Floats, first: Floats, second: Floats, across: float) -> float:
    """How far the line is from straight once the bow is undone, mm (root of the mean square)."""
    a, b = np.interp(line.at, nodes, first), np.interp(line.at, nodes, second)
    flat = (line.offset - a) / (1 + (b - a) / across)
    return float(np.std(flat))
