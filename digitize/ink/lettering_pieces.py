"""Ink → pieces: what may be letters once wires, frames, rules and outlines round labels are taken away.

All sizes in px of the flat image (PX_PER_MM px per mm). The method is that of connected components with the long straight
runs removed first, common practice for drawings, no source.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from digitize.ink.lettering_bridges import lead_letters_on
from digitize.sheet.ranked import median
from digitize.sheet.runs import Patches, Runs, patches_of, runs_of
from digitize.sheet.state import PX_PER_MM

Mask = NDArray[np.uint8]
Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]

LETTER_MAX = 7.0 * PX_PER_MM
"""No single letter is larger than this either way."""
RUN_MIN = 4.2 * PX_PER_MM
"""A straight run of ink at least this long, in a component larger than a letter, is a line and no lettering."""
_BETWEEN = 3.2 * PX_PER_MM
"""Letters of wires' codes are hardly higher, nor is the paper between them."""
_LOWEST, _LONGEST_WORD = 1.2 * PX_PER_MM, 16.0
"""Words in one piece are at least so high, px, and at most so long, in their height."""
_RIM, _TWO = 0.2, 2.8
"""Each letter of a word reaches so near to its top and its foot, and no run in it is so long, in its height."""
_SIDE, _LONG, _FILLED = 0.6, 7.2 * PX_PER_MM, 0.93
"""A wire that goes by a field is so much of its side at least, and so long, px, where the field fills less than this share of
its box: a body may stand on a wire."""
_FIELD, _CONVEX = 6.5 * PX_PER_MM, (0.35, 0.7)
"""Letters that touch an outline take so much of its inside that this share of its hull is left; where it is broader than the
first, px, the second: letters are small in it, and a field between wires that hop has bays."""
DUST = 5
"""Pieces of fewer pixels are dirt."""


@dataclass(frozen=True, slots=True, eq=False)
class Pieces:
    """Connected pieces of ink without lines, as arrays of one entry a piece (entry 0 is piece 0).

    Attributes:
        x0, y0, x1, y1: bounding box, px, upper ends exclusive.
        area: px of ink.
        free: True when the piece stands alone on the page, False when it was cut out of something larger.
        ends: contacts with removed lines at the left, right, top and bottom rim, bool (n, 4).
        sliver: True for the rough edge that a removed line leaves.
        solid: True for a filled blob (its ink is much thicker than a pen stroke of that size).
        slant: correlation of x and y over the ink, -1..1: near -1 for a straight stroke that rises to the right.
        pixels: flat indices of the ink pixels in the page, piece by piece, and ``owner`` the piece of each.
        lines: the removed lines and outlines, uint8 mask.
    """

    x0: Ints
    y0: Ints
    x1: Ints
    y1: Ints
    area: Ints
    free: Flags
    ends: Flags
    solid: Flags
    sliver: Flags
    slant: NDArray[np.float64]
    pixels: Ints
    owner: Ints
    lines: Mask

    @property
    def width(self) -> Ints:
        """Extent along x, px."""
        return self.x1 - self.x0

    @property
    def height(self) -> Ints:
        """Extent along y, px."""
        return self.y1 - self.y0

    @property
    def slender(self) -> Flags:
        """Pieces that are one straight stroke: little ink for their length against the letter-sized pieces of the page.

        Ink over diagonal is the pen's width for a straight stroke and about twice that for a letter.
        """
        ratio = self.area / np.hypot(self.width, self.height)
        usual = ratio[self.free & (np.minimum(self.width, self.height) > PX_PER_MM) & (self.height < LETTER_MAX)]
        return np.asarray(ratio < 0.65 * median(usual) if len(usual) > 20 else ratio < 0, dtype=np.bool_)

    def spots(self, piece: int) -> Ints:
        """The flat indices of one piece's pixels, rising."""
        first, last = np.searchsorted(self.owner, (piece, piece + 1))
        return self.pixels[first:last]

    def picture(self, piece: int) -> Flags:
        """The ink of one piece in its box, bool (height, width)."""
        at, row = self.spots(piece), self.lines.shape[1]
        out = np.zeros((int(self.height[piece]), int(self.width[piece])), np.bool_)
        out[at // row - self.y0[piece], at % row - self.x0[piece]] = True
        return out

    def __len__(self) -> int:
        return len(self.area)


def cut_pieces(ink: Mask) -> Pieces:
    """Take lines and label outlines out of ``ink`` (uint8, 255 where ink) and return what is left, piece by piece."""
    whole = patches_of(runs_of(ink))
    small = np.maximum(whole.width, whole.height) <= LETTER_MAX
    small |= _words(whole)
    lines = whole.only(~small)
    large = lines.drawn()

    across, down = long_runs(lines, large)
    removed = cv2.dilate(across, np.ones((3, 1), np.uint8))
    cv2.bitwise_or(removed, cv2.dilate(down, np.ones((1, 3), np.uint8)), dst=removed)
    cv2.bitwise_and(removed, large, dst=removed)
    cv2.bitwise_or(removed, _outlines(large, across, down), dst=removed)
    del large
    rest = cv2.subtract(ink, removed)
    lead_letters_on(rest, removed, across, down)
    del across, down

    left = patches_of(runs_of(rest))
    keep = left.area >= DUST
    names = np.flatnonzero(keep)
    by_piece = np.argsort(left.owner, kind="stable")
    by_piece = by_piece[keep[left.owner[by_piece]]]
    own = left.runs.only(by_piece)
    spots, owner = own.spots(), np.repeat((np.cumsum(keep) - 1)[left.owner[by_piece]], own.length)
    x0, y0, x1, y1, area = (v[names] for v in (left.x0, left.y0, left.x1, left.y1, left.area))
    of = np.zeros(len(left), np.int64)
    of[left.owner] = whole.owner[_runs_under(whole.runs, left.runs)]
    of = of[names]
    # a whole word whose letters run together stands alone too
    free = small[of] | ((area >= 0.97 * whole.area[of]) & (np.minimum(x1 - x0, y1 - y0) <= LETTER_MAX))
    ends, sliver = _ends(spots, owner, removed, (x0, y0, x1, y1))
    solid = _solid(left, names)
    slant = _slant(spots, owner, ink.shape[1], len(names))
    cv2.subtract(removed, rest, dst=removed)
    return Pieces(x0, y0, x1, y1, area, free, ends, solid, sliver, slant, spots, owner, removed)


def _runs_under(whole: Runs, part: Runs) -> Ints:
    """For each run of ``part``, the run of ``whole`` that it lies in."""
    row = whole.shape[1]
    return np.searchsorted(whole.row * row + whole.start, part.row * row + part.start, side="right") - 1


def _slant(spots: Ints, owner: Ints, row: int, count: int) -> NDArray[np.float64]:
    """Correlation of x and y over the pixels of each piece; 0 where it has no extent one way."""
    n = np.maximum(1, np.bincount(owner, minlength=count))
    across, down = spots % row, spots // row
    x = across - (np.bincount(owner, across, count) / n)[owner]
    y = down - (np.bincount(owner, down, count) / n)[owner]
    xx, yy, xy = (np.bincount(owner, a, count) for a in (x * x, y * y, x * y))
    return np.asarray(xy / np.sqrt(np.maximum(1e-9, xx * yy)), dtype=np.float64)


def _words(patches: Patches) -> Flags:
    """Components too long for one letter that are high all along as letters that ran together are: words in one piece.

    In large ones no straight run is longer than a letter. In smaller ones the bars of two may have run together (TT), so
    that a run says less; but paper stands between letters, and they are full to top and foot.
    """
    w, h = patches.width, patches.height
    least, most = np.minimum(w, h), np.maximum(w, h)
    fill = patches.area / np.maximum(1, w * h)
    out = np.zeros(len(patches), np.bool_)
    n = int(LETTER_MAX) + 1
    for k in np.flatnonzero(
        (least > RUN_MIN) & (least <= LETTER_MAX) & (most > LETTER_MAX) & (most < 60 * PX_PER_MM) & (fill < 0.6)
    ):
        own = patches.crop(int(k))
        runs = cv2.erode(own, np.ones((1, n), np.uint8)).any() or cv2.erode(own, np.ones((n, 1), np.uint8)).any()
        out[k] = not runs
    slim = (
        (least >= _LOWEST) & (least <= RUN_MIN) & (most > LETTER_MAX) & (most < _LONGEST_WORD * least) & (fill < 0.65)
    )
    for k in np.flatnonzero(slim & (fill > 0.25)):
        own = patches.crop(int(k))
        own = own if w[k] >= h[k] else own.T
        out[k] = _is_written(own != 0)
    return out


def _is_written(own: Flags) -> bool:
    """True for a long piece, lying, which is as high as a letter all along, with runs no longer than two letters."""
    high = len(own)
    starts = np.arange(0, own.shape[1] - high // 2, max(1, high // 2))
    rows = np.stack([own[:, s : s + high].any(axis=1) for s in starts])
    rim = int(_RIM * high) + 1
    if not (rows[:, :rim].any(axis=1) & rows[:, -rim:].any(axis=1)).all():
        return False
    n = int(_TWO * high)
    return own.shape[1] > n and not cv2.erode(np.pad(own, 1).astype(np.uint8), np.ones((1, n), np.uint8)).any()


def long_runs(lines: Runs, large: Mask) -> tuple[Mask, Mask]:
    """Straight horizontal and vertical runs of at least RUN_MIN, as two masks. ``large``: ``lines`` drawn."""
    n = int(RUN_MIN)
    across = lines.only(lines.length >= n).drawn()
    down = cv2.morphologyEx(large, cv2.MORPH_OPEN, np.ones((n, 1), np.uint8))
    return across, down


def _pen(across: Mask) -> int:
    """Usual thickness of the horizontal lines, px: the median vertical run on a sample of columns."""
    columns = across[:, :: max(1, across.shape[1] // 200)].T.astype(np.int8) != 0
    edge = np.diff(columns.astype(np.int8), axis=1, prepend=0, append=0)
    starts, stops = np.flatnonzero(edge.ravel() == 1), np.flatnonzero(edge.ravel() == -1)
    runs = stops - starts
    runs = runs[runs < 1.2 * PX_PER_MM]
    return int(median(runs)) if len(runs) else 4


def _outlines(large: Mask, across: Mask, down: Mask) -> Mask:
    """The ink of closed convex outlines about as large as a label: ovals, circles, lozenges."""
    out, pen = np.zeros_like(large), _pen(across)
    contours, tree = cv2.findContours(large, cv2.RETR_CCOMP, cv2.CHAIN_APPROX_SIMPLE)
    if tree is None:
        return out
    mm = PX_PER_MM
    for contour, links in zip(contours, tree[0], strict=True):
        if links[3] < 0 or len(contour) < 8:
            continue
        x, y, w, h = cv2.boundingRect(contour)
        if not (2.2 * mm < w < 30 * mm and 2.2 * mm < h < 30 * mm and min(w, h) < 16 * mm):
            continue
        hull = cv2.convexHull(contour)
        full = cv2.contourArea(hull)
        # an upright rectangle fills its box: its sides went with the long runs already
        if cv2.contourArea(contour) < _CONVEX[min(w, h) > _FIELD] * full or not 0.5 < full / (w * h) < 0.965:
            continue
        if _stands_on((x, x + w), (y, y + h), across, pen) or _stands_on((y, y + h), (x, x + w), down.T, pen):
            continue
        filled = full / (w * h) >= _FILLED
        if _goes_by((x, x + w), (y, y + h), across, pen, filled) or _goes_by(
            (y, y + h), (x, x + w), down.T, pen, filled
        ):
            continue
        pad = pen + 4
        inside = np.zeros((h + 2 * pad, w + 2 * pad), np.uint8)
        cv2.fillConvexPoly(inside, hull - [x - pad, y - pad], 255)
        around = cv2.dilate(inside, cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * pen + 3, 2 * pen + 3)))
        # the hull of a hole lies on the outline's inner edge
        ring = around & ~cv2.erode(inside, np.ones((3, 3), np.uint8))
        for side in _slashes(hull, across, down, pen):
            cv2.line(ring, side[0] - [x - pad, y - pad], side[1] - [x - pad, y - pad], 0, 2 * pen + 3)
        ya, xa = max(0, y - pad), max(0, x - pad)
        yb, xb = min(out.shape[0], y + h + pad), min(out.shape[1], x + w + pad)
        ring = ring[ya - y + pad : yb - y + pad, xa - x + pad : xb - x + pad]
        out[ya:yb, xa:xb] |= ring & large[ya:yb, xa:xb]
    return out


def _stands_on(along: tuple[int, int], level: tuple[int, int], rules: Mask, pen: int) -> bool:
    """True when a line of ``rules`` runs along the foot or top of a hole and on beyond both its ends.

    The paper between two letters that stand on a wire is no label, whatever closes it above; a field between wires is larger.
    """
    if level[1] - level[0] > _BETWEEN:
        return False
    reach = int(0.6 * PX_PER_MM)
    start, stop = max(0, along[0] - reach), along[1] + reach
    for first, last in ((level[0] - pen - 2, level[0] + 1), (level[1] - 1, level[1] + pen + 2)):
        band = rules[max(0, first) : last, start:stop]
        if band.size and band.any(axis=0).all():
            return True
    return False


def _goes_by(along: tuple[int, int], level: tuple[int, int], rules: Mask, pen: int, filled: bool) -> bool:
    """True when a line of ``rules`` is most of the foot or top of a field larger than letters and runs on beyond an end of it.

    It is a wire, however others close the field, or letters that touch both wires; the straight side of a label ends where
    that bends.
    """
    if level[1] - level[0] <= _BETWEEN or (along[1] - along[0] < _LONG and not filled):
        return False
    reach = pen + int(0.6 * PX_PER_MM)
    start, stop = max(0, along[0] - reach), along[1] + reach
    for first, last in ((level[0] - pen - 2, level[0] + 1), (level[1] - 1, level[1] + pen + 2)):
        rule = np.atleast_1d(rules[max(0, first) : last, start:stop].any(axis=0))
        beyond = [bool(part.size and part.all()) for part in (rule[: along[0] - start], rule[along[1] - start :])]
        if any(beyond) and rule.mean() >= _SIDE:
            return True
    return False


def _slashes(hull: NDArray[np.int32], across: Mask, down: Mask, pen: int) -> list[NDArray[np.int32]]:
    """Sides of a hull, (2, 2) px each, that lean between two parallel lines which both go on beyond that side.

    The slash of a code between two close wires closes the room beside it; it is lettering and no side of an outline.
    """
    corners = cv2.approxPolyDP(hull, 0.4 * pen + 1, True)[:, 0, :]
    out = []
    for side in np.stack([corners, np.roll(corners, -1, axis=0)], axis=1):
        if np.abs(np.diff(side, axis=0)).min() <= pen:
            continue  # level or upright
        level = _go_on_beyond(side, corners, across, pen)
        if level or _go_on_beyond(side[:, ::-1], corners[:, ::-1], down.T, pen):
            out.append(side)
    return out


def _go_on_beyond(side: NDArray[np.int32], corners: NDArray[np.int32], rules: Mask, pen: int) -> bool:
    """True when a level line of ``rules`` runs by each end of ``side`` and on, away from the middle of the ``corners``."""
    reach, left = int(0.6 * PX_PER_MM), side[:, 0].mean() < corners[:, 0].mean()
    for x, y in side:
        start, end = (max(0, x - reach), x) if left else (x, x + reach)
        rule = rules[max(0, y - pen - 2) : y + pen + 3, start:end].any(axis=0)
        if not (rule.size and rule.all()):
            return False
    return True


def _ends(spots: Ints, owner: Ints, removed: Mask, box: tuple[Ints, Ints, Ints, Ints]) -> tuple[Flags, Flags]:
    """At which rims (left, right, top, bottom) a piece touched what was removed, and whether it is only its rough edge."""
    x0, y0, x1, y1 = box
    rows, columns = removed.shape
    flat = removed.ravel()
    y, x = np.divmod(spots, columns)
    out = np.zeros((len(x0), 4), np.bool_)
    touching = np.zeros(len(spots), np.bool_)
    rims = (
        (-1, x > 0, x <= x0[owner] + 1),
        (1, x < columns - 1, x >= x1[owner] - 2),
        (-columns, y > 0, y <= y0[owner] + 1),
        (columns, y < rows - 1, y >= y1[owner] - 2),
    )
    for side, (step, inside, rim) in enumerate(rims):
        touch = inside & (flat[np.where(inside, spots + step, 0)] != 0)
        out[owner[touch & rim], side] = True
        touching |= touch
    whole = np.bincount(owner, minlength=len(x0))
    return out, np.bincount(owner[touching], minlength=len(x0)) > 0.3 * whole


def _solid(patches: Patches, names: Ints) -> Flags:
    """Filled blobs: discs, squares, stout arrow heads. They fill their convex hull; worn lettering seldom does."""
    w, h, area = patches.width[names], patches.height[names], patches.area[names]
    out = np.zeros(len(names), np.bool_)
    least, most = np.minimum(w, h), np.maximum(w, h)
    for i in np.flatnonzero(
        (least > 0.5 * PX_PER_MM) & (most < LETTER_MAX) & (area > 0.45 * w * h) & (least > 0.4 * most)
    ):
        points = cv2.findNonZero(patches.crop(int(names[i])))
        # the hull runs through pixel centres: half a pixel more all round
        hull = cv2.convexHull(points)
        full = cv2.contourArea(hull) + cv2.arcLength(hull, closed=True) / 2 + 1
        out[i] = area[i] > 0.93 * full
    return out
