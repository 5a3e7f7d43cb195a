"""Flags: narrow outlines drawn close round one line of lettering on a wire, so that the wire runs in and out at their short ends.

Whether the lettering is a wire's code, so that the wire goes through, or the name of a part, nobody knows before it is
read: a flag is kept as a symbol of the kind ``flag``, its outline taken out of the lines, until ``wiring.flags`` decides.
The outline may be a rectangle, pointed or rounded, level or upright. Letters and strokes may touch it: its long sides are
sought, then what closes them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from statistics import median

import cv2
import numpy as np
from numpy.typing import NDArray

from digitize.harness.place import Box
from digitize.ink.state import Symbol, TextBlock
from digitize.sheet.runs import stretches
from digitize.sheet.state import PX_PER_MM

FLAG = "flag"

_UNSEEN = 0.8
"""Chance that what stands in a flag in which no lettering was seen is lettering."""
_SURE = 0.5
"""Blocks of lettering less probable than this have no flag, but on sheets of many flags one as high as those."""
_SLIM, _LONG = 1.6, 4.0
"""The lettering of a flag is at least so many times as long as high; a flag of which less was seen is itself so long."""
_INKED = 0.5
"""Where letters touch the outline and were not seen, so many of the columns inside it hold ink."""
_INSIDE = 0.45
"""So far inside its outer edge a flag's lettering begins, mm: behind the outline."""
_OFF = 0.85
"""A long side runs at most so far from the lettering, in heights of it (own choice; wires keep farther off)."""
_ROOM = 0.8
"""The outline leaves room for so much of the height of its lettering at least: a letter may run into it."""
_DRAWN = 0.93
"""So much of a long side beside the lettering is ink at least."""
_GAP = 0.3
"""Gaps in a worn side up to this do not end it, mm."""
_OVERHANGS = 0.06
"""A short end or a stub of wire that was taken for a letter makes the lettering seem longer than the flag by such a share."""
_STRAIGHT, _WORN = 0.9, 0.6
"""So much of a straight short end is ink; where both long sides end together at both ends, so much is enough."""
_TOGETHER = 0.25
"""Sides that end together do so within so much, mm."""
_NARROWS = 0.18
"""A pointed or round end goes on as long as its ink is spread by this share of its height more than the wire."""
_FULL, _BLOT = 0.85, 0.4
"""The dot of a splice is ink from top to foot, so much of it, where it is higher than this share of the flag; and so broad,
in its height, where it reaches out of the flag. A pointed or round end is hollow nearly to its tip."""
_LONGEST = 70.0
"""Longest flag, mm."""
_FILLED = 0.6
"""Lettering takes up so much of a flag's length; its pointed or round ends are not counted."""
_REST = 0.35
"""Lettering that leaves more of an end of its flag uncovered, in heights of the flag, and ink there, goes on there."""
_BESIDE = 0.35
"""How far outside the outline the lines that reach it are counted, mm."""
_CROSSED = 1.2
"""So far beyond the outline's end a wire that runs across it, or hops right beside it, may carry a long side on, mm."""
_TOUCHED = 3.2
"""So far a letter, a hop or another flag that touches one corner may seem to carry its long side on, mm."""

MANY, _AS_HIGH = 4, 0.15
"""So many flags that stand clear are a habit; an outline of their height, within so many mm, is one in a crowd of lines too."""

_OVAL = 0.8
"""An outline of which an oval takes up so much is the oval's."""
_SIDED = 0.6
"""Between two lines across a flag, so much of its long sides is drawn at least."""
_TOUCH = 3
"""A line touches a long side when it is still there so far from it, px."""

Mask = NDArray[np.uint8]


def find_flags(ink: Mask, glyphs: Mask, texts: tuple[TextBlock, ...], ovals: Sequence[Box] = ()) -> tuple[Symbol, ...]:
    """All flags of a sheet, boxes (sheet mm) at the outer edge of their outline.

    Args:
        ink: uint8 (H, W) at PX_PER_MM, 255 = ink of the sheet, lettering and all.
        glyphs: uint8 (H, W), 255 on letters.
        texts: blocks of lettering; several on one line may share a flag.
        ovals: boxes of connectors, sheet mm: one with its id inside is as long as a short flag, and no flag.
    """
    found: list[Symbol] = []
    crowded: list[Symbol] = []
    for t in texts:
        upright = t.angle in (90, 270)
        if any(f.box.holds(t.box.centre) for f in found):
            continue
        text = t.box.swapped() if upright else t.box
        drawn, letters = (ink.T, glyphs.T) if upright else (ink, glyphs)
        box = _outline(drawn, text)
        if box is None or not is_reached(drawn, box):
            continue
        own = box.swapped() if upright else box
        if any(o.overlap(own) > _OVAL * own.width * own.height for o in ovals):
            continue
        sure = t.probability >= _SURE
        whole = sure and text.width >= _SLIM * text.height and _is_filled(box, texts, upright=upright)
        if whole or (box.width >= _LONG * box.height and is_inked(drawn, box)):
            clear = _stands_clear(drawn, letters, box)
            if sure or clear:
                (found if sure and clear else crowded).append(Symbol(FLAG, own, 0.9))
    return (*found, *_no_two(as_usual(crowded, found)))


def _no_two(flags: Sequence[Symbol]) -> list[Symbol]:
    """Flags without those that share their place with an earlier one: pieces of one line of lettering lead to one outline."""
    kept: list[Symbol] = []
    for f in flags:
        if not any(k.box.holds(f.box.centre) for k in kept):
            kept.append(f)
    return kept


def as_usual(crowded: Sequence[Symbol], flags: Sequence[Symbol]) -> list[Symbol]:
    """Outlines in a crowd of lines that are flags all the same: as high as the flags of a sheet that has many."""
    heights = [min(f.box.width, f.box.height) for f in flags]
    if len(heights) < MANY:
        return []
    usual = median(heights)
    return [f for f in crowded if abs(min(f.box.width, f.box.height) - usual) <= _AS_HIGH]


def whole_labels(texts: tuple[TextBlock, ...], flags: tuple[Symbol, ...], ink: Mask) -> tuple[TextBlock, ...]:
    """Blocks of lettering, numbered anew, in which each flag holds one: a stroke that touches the outline on both sides
    (a slash in a tight flag) had cut its line in two, or letters at its ends had run into the outline. ``ink``: of the sheet.
    """
    left = list(texts)
    for flag in flags:
        upright = flag.box.height > flag.box.width
        held = [t for t in left if flag.box.holds(t.box.centre)]
        own = [t for t in held if t.probability >= _SURE and upright == (t.angle in (90, 270))]
        if not own:  # its letters touch both its sides
            left = [t for t in left if t not in held]
            left.append(TextBlock(len(left), flag.box.grown(-_INSIDE), 90 if upright else 0, _UNSEEN))
        if not own or len({t.angle for t in own}) > 1:
            continue
        box = Box.enclosing([t.box for t in own])
        if not _is_filled(flag.box.swapped() if upright else flag.box, tuple(own), upright=upright):
            box, own = flag.box.grown(-_INSIDE), held
        else:
            longer = _with_rest(ink.T if upright else ink, *(b.swapped() if upright else b for b in (box, flag.box)))
            longer = longer.swapped() if upright else longer
            if longer == box and len(own) < 2:
                continue
            box, own = longer, held if longer != box else own
        first = min((t for t in own if upright == (t.angle in (90, 270))), key=lambda t: (-t.probability, t.id))
        whole = replace(first, box=box)
        left = [whole if t is first else t for t in left if t is first or t not in own]
    return tuple(replace(t, id=k) for k, t in enumerate(left))


def _with_rest(ink: Mask, text: Box, flag: Box) -> Box:
    """The box of a level line of lettering, longer at each straight end of its flag that it leaves uncovered though ink
    stands there, and no longer than its flag.
    """
    inner = flag.grown(-_INSIDE)
    y0, y1 = round(inner.y0 * PX_PER_MM), round(inner.y1 * PX_PER_MM)
    out = [text.x0, text.x1]
    for k, (start, stop) in enumerate(((inner.x0, text.x0), (text.x1, inner.x1))):
        part = ink[y0:y1, round(start * PX_PER_MM) : round(stop * PX_PER_MM)] > 0
        low, high = (flag.x0, inner.x0) if k == 0 else (inner.x1, flag.x1)
        end = ink[y0:y1, max(0, round(low * PX_PER_MM)) : round(high * PX_PER_MM) + 1] > 0
        outside = text.x0 < flag.x0 if k == 0 else text.x1 > flag.x1
        if outside or (
            stop - start > _REST * flag.height
            and part.size
            and float(part.any(axis=0).mean()) > _INKED
            and float(end.mean(axis=0).max()) >= _STRAIGHT
        ):
            out[k] = inner.x0 if k == 0 else inner.x1
    return Box(out[0], text.y0, out[1], text.y1)


def _outline(ink: Mask, text: Box) -> Box | None:
    """The outline close round a level line of lettering on a wire; both in mm. None when there is none."""
    high = text.height * PX_PER_MM
    x0, x1 = max(0, round(text.x0 * PX_PER_MM)), min(ink.shape[1], round(text.x1 * PX_PER_MM))
    y0, y1 = round(text.y0 * PX_PER_MM), round(text.y1 * PX_PER_MM)
    off, into = round(_OFF * high), round(0.12 * high)
    top = _side(ink, (y0 - off, y0 + into), (x0, x1), outward=-1)
    foot = _side(ink, (y1 - into, y1 + off), (x0, x1), outward=1) if top is not None else None
    if top is None or foot is None or foot[0] - top[1] < _ROOM * high:
        return None
    (outer_top, inner_top), (inner_foot, outer_foot) = (top[0], top[1]), (foot[0], foot[1])
    upper, lower = _reach(ink, (outer_top, inner_top), (x0, x1)), _reach(ink, (inner_foot, outer_foot), (x0, x1))
    # a wire goes on beyond what it closes off, a side ends; what touches one corner may carry one of them on a bit
    uneven = sorted(abs(a - b) for a, b in zip(upper, lower, strict=True))
    if uneven[0] > 0.6 * high or uneven[1] > 0.6 * high + _TOUCHED * PX_PER_MM:
        return None
    if upper[1] - upper[0] > _LONGEST * PX_PER_MM:
        return None
    rows, pen = (outer_top, outer_foot), max(inner_top - outer_top, outer_foot - inner_foot) + 1
    ends = (
        (ink[:, ::-1], (ink.shape[1] - x0, ink.shape[1] - 1 - max(upper[0], lower[0]))),
        (ink, (x1, min(upper[1], lower[1]))),
    )
    left, right = (_end(side, rows, stops, high, pen) for side, stops in ends)
    if uneven[1] <= _TOGETHER * PX_PER_MM:
        worn = [_end(side, rows, stops, high, pen, _WORN) for side, stops in ends]
        left, right = (
            w if w is not None and (end is None or end > stops[1] + pen) else end
            for w, end, (_, stops) in zip(worn, (left, right), ends, strict=True)
        )
    if left is None or right is None:
        return None
    return Box(
        (ink.shape[1] - 1 - left) / PX_PER_MM, outer_top / PX_PER_MM,
        (right + 1) / PX_PER_MM, (outer_foot + 1) / PX_PER_MM,
    )  # fmt: skip


def _side(ink: Mask, rows: tuple[int, int], columns: tuple[int, int], *, outward: int) -> tuple[int, int] | None:
    """First and last row of the line of ink that runs along the lettering within ``rows``, the one nearest to it.

    ``outward``: -1 above the lettering, 1 below it. None when no line runs there.
    """
    first, last = max(0, rows[0]), min(ink.shape[0], rows[1])
    if last - first < 2 or columns[1] - columns[0] < 4:
        return None
    band = ink[first:last, columns[0] : columns[1]] > 0
    inked_in = band.sum(axis=1)
    three = inked_in.copy()
    three[1:] += inked_in[:-1]
    three[:-1] += inked_in[1:]
    if three.max() < _DRAWN * band.shape[1]:  # three rows together hold no line: beside most lettering
        return None
    # a line that lies a little aslant fills no single row
    near = band.copy()
    near[1:] |= band[:-1]
    near[:-1] |= band[1:]
    drawn = near.mean(axis=1) >= _DRAWN
    if not drawn.any():
        return None
    at = np.nonzero(drawn)[0]
    k = int(at[-1] if outward < 0 else at[0])
    low = high = k
    own = band.mean(axis=1) >= 0.5
    while low > 0 and (own[low - 1] or drawn[low - 1]):
        low -= 1
    while high < len(own) - 1 and (own[high + 1] or drawn[high + 1]):
        high += 1
    inked = np.nonzero(own[low : high + 1])[0]
    if not len(inked) or high - low > PX_PER_MM:
        return None
    return first + low + int(inked[0]), first + low + int(inked[-1])


def _reach(ink: Mask, rows: tuple[int, int], columns: tuple[int, int]) -> tuple[int, int]:
    """First and last column of the line in ``rows`` that runs along ``columns``; small gaps do not end it."""
    far = round(_LONGEST * PX_PER_MM)
    a, b = max(0, columns[0] - far), min(ink.shape[1], columns[1] + far)
    line = np.asarray((ink[max(0, rows[0]) : rows[1] + 1, a:b] > 0).any(axis=0), np.bool_)
    ends = round(_OVERHANGS * (columns[1] - columns[0]))
    # so much of it is drawn that what is missing there is wear
    line[columns[0] - a + ends : columns[1] - a - ends] = True
    gap = round(_GAP * PX_PER_MM)
    inked = np.nonzero(line)[0]
    breaks = np.nonzero(np.diff(inked) > gap + 1)[0]
    starts = inked[np.concatenate([[0], breaks + 1])]
    stops = inked[np.concatenate([breaks, [len(inked) - 1]])]
    middle = (columns[0] + columns[1]) // 2 - a
    k = int(np.clip(np.searchsorted(starts, middle, side="right") - 1, 0, len(starts) - 1))
    return a + int(starts[k]), a + int(stops[k])


def _end(
    ink: Mask, rows: tuple[int, int], stops: tuple[int, int], high: float, pen: int, least: float = _STRAIGHT
) -> int | None:
    """Last column of the outline at its right end; None when the two long sides are not closed there.

    ``stops``: where the lettering ends, and the first of the long sides; ``pen``: how thick they are, px; ``least``: share of
    ink of a straight end. The end may be pointed or round, too; a wire goes on from it, or runs across right beside it.
    """
    text_ends, side_ends = stops
    # the leg of a hop that runs into the end may have been taken for a letter: so the end lies within the lettering too
    near = max(0, min(text_ends - round(high), side_ends), side_ends - round(0.35 * high + _CROSSED * PX_PER_MM))
    if least < _STRAIGHT:  # a letter's stem is hardly less
        near = max(near, side_ends - round(2 * _TOGETHER * PX_PER_MM))
    bar = (ink[max(0, rows[0]) : rows[1] + 1, near : side_ends + 1] > 0).mean(axis=0) >= least
    if bar.any():
        full = np.flatnonzero(bar)
        first = int(full[0])
        for k in np.flatnonzero(np.diff(full) > _TOUCH):
            # up to the outline's end its sides are drawn; a wire that runs across right behind it stands apart
            sides = ink[:, near + int(full[k]) + 1 : near + int(full[k + 1])] > 0
            if min(_inked(sides, rows[0], pen), _inked(sides, rows[1] + 1 - pen, pen)) < _SIDED:
                break
            first = int(full[k + 1])
        after = np.flatnonzero(~bar[first:])
        return near + first + min(int(after[0]) if len(after) else len(bar) - first, pen) - 1
    from_, to = max(0, side_ends - round(0.5 * high)), min(ink.shape[1], side_ends + round(1.6 * high))
    part = ink[max(0, rows[0]) : rows[1] + 1, from_:to] > 0
    if part.shape[1] < 3:
        return None
    worn = cv2.morphologyEx(part.astype(np.uint8), cv2.MORPH_CLOSE, np.ones((3, 3), np.uint8))
    _, labels = cv2.connectedComponents(worn, connectivity=8)
    pen = 3
    shared = (set(np.unique(labels[:pen]).tolist()) & set(np.unique(labels[-pen:]).tolist())) - {0}
    if not shared:
        return None
    closing = np.isin(labels, sorted(shared))
    inked = closing.any(axis=0)
    spread = np.where(inked, closing.shape[0] - closing.argmax(axis=0) - closing[::-1].argmax(axis=0), 0)
    full = (closing.sum(axis=0) >= _FULL * spread) & (spread > _BLOT * len(part))
    full[: side_ends + 1 - from_] = False
    if full.sum() > _BLOT * spread[full].max(initial=0) > 0:  # a splice right behind the end: no outline is so full
        return side_ends
    # beyond the tip only the wire is left: the outline's last column is where the ink is clearly more spread
    broad = np.nonzero(spread > int(spread[-3:].max()) + _NARROWS * part.shape[0])[0]
    return from_ + int(broad[-1]) if len(broad) and broad[-1] < part.shape[1] - 3 else None


def _inked(part: NDArray[np.bool_], row: int, pen: int) -> float:
    """Share of the columns of ``part`` with ink in the ``pen`` rows from ``row`` on."""
    return float(part[max(0, row) : row + pen].any(axis=0).mean())


def _is_filled(box: Box, texts: tuple[TextBlock, ...], *, upright: bool) -> bool:
    """True when one line of lettering fills the outline along its length. ``box``: as in ``_outline``."""
    around = box.swapped() if upright else box
    own = [t for t in texts if t.probability >= _SURE and around.holds(t.box.centre)]
    spans = sorted((t.box.y0, t.box.y1) if upright else (t.box.x0, t.box.x1) for t in own)
    covered, reach = 0.0, -np.inf
    for low, top in spans:
        covered += max(0.0, top - max(low, reach))
        reach = max(reach, top)
    return covered >= _FILLED * (box.width - box.height)


def is_inked(ink: Mask, box: Box) -> bool:
    """True when ink stands all along the inside of a level outline, as lettering does."""
    inner = box.grown(-_INSIDE)
    x0, y0, x1, y1 = (round(v * PX_PER_MM) for v in (inner.x0, inner.y0, inner.x1, inner.y1))
    part = ink[y0:y1, x0:x1] > 0
    return part.size > 0 and all(bool(third.any(axis=0).mean() >= _INKED) for third in np.array_split(part, 3, axis=1))


def is_reached(ink: Mask, box: Box) -> bool:
    """True when a line reaches a level outline at the middle of one or both short ends, or comes out behind a wire across it."""
    x0, y0, x1, y1 = (round(v * PX_PER_MM) for v in (box.x0, box.y0, box.x1, box.y1))
    beside = round(_BESIDE * PX_PER_MM)
    if x0 < beside or y0 < _TOUCH or x1 + beside >= ink.shape[1] or y1 + _TOUCH > ink.shape[0]:
        return False
    middle, off, most = (y1 - y0) / 2, 0.2 * (y1 - y0), 0.8 * (y1 - y0)
    for near, far in (
        (x0 - beside, x0 - beside - round(_CROSSED * PX_PER_MM)),
        (x1 - 1 + beside, x1 - 1 + beside + round(_CROSSED * PX_PER_MM)),
    ):
        for x in range(near, min(max(0, far), ink.shape[1] - 1), 1 if far > near else -1):
            runs = [(a, b) for a, b in _runs(ink[y0:y1, x] > 0) if a <= middle + off and b >= middle - off]
            if all(b - a < most for a, b in runs):
                if runs:
                    return True
                break
    return False


def _stands_clear(ink: Mask, glyphs: Mask, box: Box) -> bool:
    """True when lines pass a level outline only behind it, from one long side to the other.

    Lines that go on past corners at both ends are no outline: then wires enclose the lettering. At one end a wire may run
    across right beside the outline, or a hop touch its corner.
    """
    x0, y0, x1, y1 = (round(v * PX_PER_MM) for v in (box.x0, box.y0, box.x1, box.y1))
    beside = round(_BESIDE * PX_PER_MM)
    above, below = (_runs(_leading_off(ink, glyphs, y, step, (x0, x1))) for y, step in ((y0, -1), (y1 - 1, 1)))
    corners = [[(a < beside, x1 - x0 - 1 - b < beside) for a, b in runs] for runs in (above, below)]
    at_left, at_right = (any(c[side] for runs in corners for c in runs) for side in (0, 1))
    if at_left and at_right:
        return False
    above, below = (
        [r for r, c in zip(runs, at, strict=True) if not any(c)]
        for runs, at in zip((above, below), corners, strict=True)
    )
    if len(above) != len(below):
        return False
    return all(abs(a + b - c - d) / 2 <= 0.5 * PX_PER_MM for (a, b), (c, d) in zip(above, below, strict=True))


def _leading_off(ink: Mask, glyphs: Mask, side: int, step: int, columns: tuple[int, int]) -> NDArray[np.bool_]:
    """Where along a long side (row ``side``) lines lead away from it: ink just outside and farther off, no bump of worn ink."""
    rows = [min(max(0, side + step * off), len(ink) - 1) for off in (_TOUCH, 2 * _TOUCH)]
    near, far = (ink[y, columns[0] : columns[1]] > 0 for y in rows)
    far = cv2.dilate(far.astype(np.uint8)[None], np.ones((1, 2 * _TOUCH + 1), np.uint8))[0] > 0
    return np.asarray(near & far & (glyphs[rows[0], columns[0] : columns[1]] == 0), np.bool_)


def _runs(line: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """First and last position of every run of ink on a line."""
    return [(a, b - 1) for a, b in stretches(line)]
