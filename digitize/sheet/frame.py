"""The drawn border of a sheet: four long rules that meet, single or double, bowed by a curled page, broken in places."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import product

import cv2
import numpy as np
from numpy.typing import NDArray

from digitize.harness.place import Box
from digitize.sheet.ranked import median
from digitize.sheet.runs import Patches, patches_of, runs_of
from digitize.sheet.state import PX_PER_MM

PIECE_MM = 7.0
"""Shortest straight piece of line that counts towards a rule: longer than any lettering."""

GAP_MM = 25.0
"""Widest break bridged inside one rule."""

DOUBLE_MM = (0.8, 16.0)
"""How far the inner line of a double frame may lie inside the outer one: from a mere double rule to a strip for labels."""


_BEYOND = 0.1
"""Of its way between the others, the inner line of a strip on some sides only lacks at most so much at its ends."""

_CLEAR_MM = 8.0
"""A line that passes a border by more than this is no mark or arrow at it."""

_SAME_END_MM = 2.5
"""Two rules that end this near to one line may be held together by a side that is gone."""


@dataclass(frozen=True, slots=True, eq=False)
class Rule:
    """One long, nearly straight line of ink along x (``level``) or along y.

    Attributes:
        level: True for a horizontal rule.
        at: (n,) positions along it, mm, rising.
        offset: (n,) its height (or x) at those places, mm.
        share: how much of its length is inked, 0..1.
    """

    level: bool
    at: NDArray[np.float64]
    offset: NDArray[np.float64]
    share: float

    @property
    def start(self) -> float:
        """First place along it, mm."""
        return float(self.at[0])

    @property
    def end(self) -> float:
        """Last place along it, mm."""
        return float(self.at[-1])

    @property
    def middle(self) -> float:
        """Mean offset, mm."""
        return float(self.offset.sum() / len(self.offset))  # numpy's own mean takes three times as long

    def offset_at(self, place: float) -> float:
        """Offset at ``place``; the end value beyond its ends."""
        return float(np.interp(place, self.at, self.offset))


@dataclass(frozen=True, slots=True, eq=False)
class FrameLines:
    """Four rules that form a border, with how far they can be believed (0..1)."""

    left: Rule
    top: Rule
    right: Rule
    bottom: Rule
    probability: float

    @property
    def box(self) -> tuple[float, float, float, float]:
        """x0, y0, x1, y1 by the means of the rules, mm."""
        return (self.left.middle, self.top.middle, self.right.middle, self.bottom.middle)


def find_rules(ink: NDArray[np.uint8], px_per_mm: float, shortest_mm: float) -> tuple[list[Rule], list[Rule]]:
    """Long horizontal and vertical rules in an ink image (H, W; 255 ink), lengths at least ``shortest_mm``."""
    level = _rules_along(ink, px_per_mm, shortest_mm, level=True)
    upright = _rules_along(np.ascontiguousarray(ink.T), px_per_mm, shortest_mm, level=False)
    return level, upright


def _rules_along(ink: NDArray[np.uint8], px_per_mm: float, shortest_mm: float, *, level: bool) -> list[Rule]:
    """Horizontal rules of ``ink`` (already transposed for vertical ones)."""
    thick = cv2.dilate(ink, np.ones((3, 1), np.uint8))
    piece = max(5, round(PIECE_MM * px_per_mm))
    runs = cv2.morphologyEx(thick, cv2.MORPH_OPEN, np.ones((1, piece), np.uint8))
    runs = cv2.bitwise_and(runs, thick)
    pieces = _pieces(patches_of(runs_of(runs)))
    chains = _chains(pieces, GAP_MM * px_per_mm, px_per_mm)
    rules = []
    for chain in chains:
        # the rule's own ends, as _rule_of has them: most chains are short
        start, end = (float(v + 0.5) / px_per_mm for v in (chain[0].x[0], chain[-1].x[-1]))
        if end - start >= shortest_mm:
            rules.append(_rule_of(chain, px_per_mm, level=level))
    return rules


@dataclass(frozen=True, slots=True, eq=False)
class _Piece:
    x: NDArray[np.float64]
    y: NDArray[np.float64]
    inked: float


def _pieces(patches: Patches) -> list[_Piece]:
    """Centre lines of the thin, long patches. A patch with crossings is cut where it is thick."""
    names = np.flatnonzero((patches.width >= 6) & (patches.height <= 0.25 * patches.width + 8))
    if not len(names):
        return []
    wide = patches.width[names]
    ends = np.cumsum(wide)
    first = np.full(len(patches), -1, np.int64)
    first[names] = ends - wide
    own = patches.runs.only(first[patches.owner] >= 0)
    owner = patches.owner[first[patches.owner] >= 0]
    # every column of every patch has a place of its own; a run raises the count from its start on and lowers it at its stop
    low = first[owner] + own.start - patches.x0[owner]
    total = int(ends[-1])
    row = own.row - patches.y0[owner]

    def over_runs(values: NDArray[np.int64]) -> NDArray[np.int64]:
        up = np.bincount(low, values, total + 1) - np.bincount(low + own.length, values, total + 1)
        return np.cumsum(np.rint(up).astype(np.int64))[:total]

    weights, rows = over_runs(np.ones_like(row)), over_runs(row)
    found = []
    for k, start, stop in zip(names.tolist(), (ends - wide).tolist(), ends.tolist(), strict=True):
        weight = weights[start:stop]
        ok = weight > 0
        ok &= weight <= median(weight[ok]) * 1.6 + 1
        columns = np.flatnonzero(ok)
        if len(columns) < 5:
            continue
        x, y = int(patches.x0[k]), int(patches.y0[k])
        found.append(_Piece((x + columns).astype(float), y + rows[start:stop][ok] / weight[ok], float(len(columns))))
    return found


def _chains(pieces: list[_Piece], gap: float, px_per_mm: float) -> list[list[_Piece]]:
    """Join pieces that go on in each other's direction."""
    order = sorted(pieces, key=lambda p: float(p.x[0]))
    chains: list[list[_Piece]] = []
    ends: list[tuple[float, float, float]] = []  # x, y, slope at the end of each chain
    for piece in order:
        x, y = float(piece.x[0]), _middle_of(piece.y[:8])
        best, best_cost = -1, 1.0
        for i, (ex, ey, slope) in enumerate(ends):
            distance = x - ex
            if distance > gap or distance < -0.5 * px_per_mm:
                continue
            tolerance = 0.35 * px_per_mm + 0.012 * max(distance, 0.0)
            cost = abs(y - ey - slope * max(distance, 0.0)) / tolerance + 0.3 * max(distance, 0.0) / gap
            if cost < best_cost:
                best, best_cost = i, cost
        tail = slice(max(0, len(piece.x) - int(25 * px_per_mm)), None)
        slope = 0.0
        if len(piece.x) > 20 * px_per_mm:
            x_off = piece.x[tail] - piece.x[tail].mean()
            slope = float(x_off @ piece.y[tail] / (x_off @ x_off))  # of the line that fits best
        end = (float(piece.x[-1]), _middle_of(piece.y[-8:]), slope)
        if best < 0:
            chains.append([piece])
            ends.append(end)
        else:
            chains[best].append(piece)
            ends[best] = end
    return chains


def _middle_of(few: NDArray[np.float64]) -> float:
    """The median; of a handful of values numpy's own takes ten times as long."""
    rising = sorted(few.tolist())
    return float(rising[(len(rising) - 1) // 2] + rising[len(rising) // 2]) / 2


def _rule_of(chain: list[_Piece], px_per_mm: float, *, level: bool) -> Rule:
    x = np.concatenate([p.x for p in chain])
    y = np.concatenate([p.y for p in chain])
    bins = np.arange(x[0], x[-1] + 1, max(2.0, 2.0 * px_per_mm))
    which = np.digitize(x, bins)
    order = np.lexsort((y, which))
    first = np.flatnonzero(np.diff(which[order], prepend=-1))
    count = np.diff(first, append=len(x))
    places = np.add.reduceat(x[order], first) / count
    rising = y[order]
    offsets = (rising[first + (count - 1) // 2] + rising[first + count // 2]) / 2  # medians
    share = min(1.0, sum(p.inked for p in chain) / (x[-1] - x[0] + 1))
    at = (np.array([x[0], *places, x[-1]]) + 0.5) / px_per_mm
    offset = (np.array([offsets[0], *offsets, offsets[-1]]) + 0.5) / px_per_mm
    return Rule(level, at, offset, share)


def find_frame(
    level: list[Rule], upright: list[Rule], width_mm: float, height_mm: float
) -> tuple[FrameLines | None, FrameLines | None]:
    """The outer border, and the inner one when the border is double; (None, None) for a page without a frame."""
    tops = [r for r in level if r.middle < 0.45 * height_mm and r.end - r.start > 0.45 * width_mm]
    bottoms = [r for r in level if r.middle > 0.55 * height_mm and r.end - r.start > 0.45 * width_mm]
    lefts = [r for r in upright if r.middle < 0.45 * width_mm and r.end - r.start > 0.45 * height_mm]
    rights = [r for r in upright if r.middle > 0.55 * width_mm and r.end - r.start > 0.45 * height_mm]
    tops = sorted(tops, key=lambda r: r.middle)[:6]
    bottoms = sorted(bottoms, key=lambda r: -r.middle)[:6]
    lefts = sorted(lefts, key=lambda r: r.middle)[:6]
    rights = sorted(rights, key=lambda r: -r.middle)[:6]
    frames = []
    for left, top, right, bottom in product(lefts, tops, rights, bottoms):
        frame = _as_frame(left, top, right, bottom)
        if frame is not None and _crossed(frame, [*level, *upright], width_mm, height_mm) < 2:
            frames.append(frame)
    if not frames:
        three = _with_a_side_missing(tops, bottoms, lefts, rights)
        loop = three is not None and _crossed(three, [*level, *upright], width_mm, height_mm) > 0
        return None if loop else three, None
    outer = max(frames, key=lambda f: (f.box[2] - f.box[0]) * (f.box[3] - f.box[1]) * f.probability)
    inside = [(_strips(outer, f), f) for f in frames if f.probability >= 0.5]
    # strips for labels on all four sides are the surest sign; on two at least, or it is a title block's rule
    best = max((x for x in inside if x[0] >= 2), key=lambda x: (x[0], x[1].probability), default=None)
    return outer, best[1] if best else None


def _crossed(frame: FrameLines, rules: list[Rule], width_mm: float, height_mm: float) -> int:
    """How many lines pass a side of a border and end well beyond it: a drawing does so with a loop of wire, none with
    its frame. A fold or a scratch runs on to the edge of the paper, and does not count.
    """
    x0, y0, x1, y1 = frame.box
    count = 0
    for rule in rules:
        low, high, near, far, paper = (x0, x1, y0, y1, width_mm) if rule.level else (y0, y1, x0, x1, height_mm)
        if not near + _CLEAR_MM < rule.middle < far - _CLEAR_MM:
            continue
        after = rule.start < high - _CLEAR_MM and high + _CLEAR_MM < rule.end < paper - _CLEAR_MM
        before = rule.end > low + _CLEAR_MM and _CLEAR_MM < rule.start < low - _CLEAR_MM
        count += after or before
    return count


def _strips(outer: FrameLines, inner: FrameLines) -> int:
    """On how many sides ``inner`` leaves a strip for labels inside ``outer``; 0 when it is no inner line at all.

    Where it does not on all four, its lines run right up to the others: a wire along the border stops somewhere before.
    """
    (ox0, oy0, ox1, oy1), (x0, y0, x1, y1) = outer.box, inner.box
    own = []
    insets = (x0 - ox0, y0 - oy0, ox1 - x1, oy1 - y1)
    for inset, rule in zip(insets, (inner.left, inner.top, inner.right, inner.bottom), strict=True):
        if DOUBLE_MM[0] <= inset <= DOUBLE_MM[1]:
            own.append(rule)
        elif inset != 0.0:
            return 0
    if len(own) < 4 and any(_missing(rule, *((x0, x1) if rule.level else (y0, y1))) > _BEYOND for rule in own):
        return 0
    return len(own)


def _missing(rule: Rule, a: float, b: float) -> float:
    """Which share of the way from ``a`` to ``b`` (mm) lies before the start of a rule or behind its end."""
    return (max(0.0, rule.start - a) + max(0.0, b - rule.end)) / (b - a)


def _with_a_side_missing(
    tops: list[Rule], bottoms: list[Rule], lefts: list[Rule], rights: list[Rule]
) -> FrameLines | None:
    """A border of which one side is gone (cut off, worn away): its two neighbours end at one line. Less believable."""
    found: list[FrameLines] = []
    for top, bottom in product(tops, bottoms):
        for left in lefts:
            if abs(top.end - bottom.end) < _SAME_END_MM:
                found += _three(left, top, _between(top.end, top, bottom.end, bottom), bottom)
        for right in rights:
            if abs(top.start - bottom.start) < _SAME_END_MM:
                found += _three(_between(top.start, top, bottom.start, bottom), top, right, bottom)
    for left, right in product(lefts, rights):
        for top in tops:
            if abs(left.end - right.end) < _SAME_END_MM:
                found += _three(left, top, right, _between(left.end, left, right.end, right))
        for bottom in bottoms:
            if abs(left.start - right.start) < _SAME_END_MM:
                found += _three(left, _between(left.start, left, right.start, right), right, bottom)
    return max(found, key=lambda f: (f.box[2] - f.box[0]) * (f.box[3] - f.box[1]) * f.probability, default=None)


def _between(one_end: float, one: Rule, other_end: float, other: Rule) -> Rule:
    """A straight side from the end of one rule to the end of another."""
    a, b = one.offset_at(one_end), other.offset_at(other_end)
    at = np.linspace(a, b, 9)
    return Rule(not one.level, at, np.interp(at, [a, b], [one_end, other_end]), 1.0)


def _three(left: Rule, top: Rule, right: Rule, bottom: Rule) -> list[FrameLines]:
    frame = _as_frame(left, top, right, bottom)
    return [] if frame is None else [replace(frame, probability=0.6 * frame.probability)]


def _as_frame(left: Rule, top: Rule, right: Rule, bottom: Rule) -> FrameLines | None:
    """A border when the corners meet and the sides are mostly inked."""
    x0, x1 = left.middle, right.middle
    y0, y1 = top.middle, bottom.middle
    if x1 - x0 < 60 or y1 - y0 < 60:
        return None
    score = 1.0
    for rule, a, b in ((top, x0, x1), (bottom, x0, x1), (left, y0, y1), (right, y0, y1)):
        span = b - a
        beyond = max(0.0, a - rule.start) + max(0.0, rule.end - b)
        inked = rule.share * (1 - _missing(rule, a, b))
        if inked < 0.55 or beyond > 0.04 * span + 2:
            return None
        score *= min(1.0, inked / 0.9) * (1 - min(0.5, 4 * beyond / span))
    return FrameLines(left, top, right, bottom, float(score**0.5))


def settled_box(ink: NDArray[np.uint8], box: Box) -> Box:
    """``box`` (sheet mm) with each side moved onto the middle of the rule that the flat ink image shows there."""
    sides = []
    for at, low, high, level in (
        (box.x0, box.y0, box.y1, False),
        (box.y0, box.x0, box.x1, True),
        (box.x1, box.y0, box.y1, False),
        (box.y1, box.x0, box.x1, True),
    ):
        picture = ink if level else ink.T
        reach = 1.2
        y0, y1 = (int(np.clip(v * PX_PER_MM, 0, picture.shape[0])) for v in (at - reach, at + reach))
        x0, x1 = (int(np.clip(v * PX_PER_MM, 0, picture.shape[1])) for v in (low + 2, high - 2))
        band = picture[y0:y1, x0:x1:5] > 0
        share = band.mean(axis=1) if band.size else np.zeros(0)
        if not share.size or share.max() < 0.35:
            sides.append(at)
            continue
        rows = np.flatnonzero(share > 0.5 * share.max())
        sides.append((y0 + float(np.average(rows, weights=share[rows])) + 0.5) / PX_PER_MM)
    return Box(*sides)
