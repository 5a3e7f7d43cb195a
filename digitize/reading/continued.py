"""Where the ink of a line of lettering goes on beyond the block that was found for it.

Letters that run together, break or pale are cut off a block by the finder, which weighs pieces of ink. Here the grey
picture is followed along the line from both ends of a block: ink as high as its letters, and nothing that runs out of the
line above or below, may belong to it. Whether it does, the readers say (``whole``).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from digitize.harness.place import Box
from digitize.reading.engines import Grey
from digitize.sheet.state import PX_PER_MM

LEAST_HEIGHT = 1.1
"""Lines lower than this, mm, have no letters to go on with: dashes and points."""
REACH = 14.0
"""How far a line is followed, in letter heights."""
LETTER_GAP, WORD_GAP = 0.55, 1.45
"""Gaps within a word and between words, in letter heights (common practice, no source)."""
INK = 0.3
"""Share of the way from paper to ink from which a pixel is ink here: pale strokes count."""
LONGEST_BAR, THICKEST_BAR = 0.9, 0.45
"""A level bar longer and no thicker than this, in letter heights, is a wire: no letter's bar nor dash is so long."""
LONGEST = 8.0
"""A line goes on within its word by at most so many letter heights."""
ONE_LETTER = 1.3
"""Ink in one piece wider than this, in letter heights, is more than one letter."""
LONGEST_FOOT = 0.6
"""A letter that touches something has no thin stretch longer than this before it, in letter heights: a wire has."""
MOST_LOW = 2
"""More low stretches (points, dashes) than this in a row are a leader or a broken line."""
_ROOM = 0.5


@dataclass(frozen=True, slots=True)
class Stretch:
    """One stretch of ink beyond an end: where it begins and ends, px from that end, and whether it is as high as a letter."""

    start: float
    stop: float
    letter: bool


@dataclass(frozen=True, slots=True)
class Ends:
    """How far a block may go on at its start and its end, mm: within its word, and over the spaces between words."""

    word: tuple[float, float]
    line: tuple[float, float]


def pale_ink(grey: Grey, ink: NDArray[np.uint8]) -> NDArray[np.bool_]:
    """What is darker than paper by ``INK`` of what strokes usually are. ``grey``: the flat page; ``ink``: 255 on its strokes."""
    some = grey[::7, ::7]
    on = ink[::7, ::7] > 0
    if not on.any() or on.all():
        return ink > 0
    paper, stroke = float(np.median(some[~on])), float(np.median(some[on]))
    return np.asarray(grey < paper - INK * max(paper - stroke, 1.0), dtype=np.bool_)


def ends_of(ink: NDArray[np.bool_], box: Box, angle: int) -> Ends:
    """How far ``ink`` (of the flat page) continues the line in ``box`` (sheet mm), which reads at ``angle`` degrees counter-clockwise."""
    height = (box.width if angle % 180 else box.height) * PX_PER_MM
    if height < LEAST_HEIGHT * PX_PER_MM:
        return Ends((0.0, 0.0), (0.0, 0.0))
    ways = [
        _followed(_beyond(ink, box, angle, height, side, REACH), height)
        if _beyond(ink, box, angle, height, side, WORD_GAP).any()
        else (0.0, 0.0)
        for side in (0, 1)
    ]
    word, line = zip(*((w / PX_PER_MM, n / PX_PER_MM) for w, n in ways), strict=True)
    return Ends((word[0], word[1]), (line[0], line[1]))


def grown(box: Box, angle: int, by: tuple[float, float]) -> Box:
    """``box`` longer by so many mm at its start and its end, in the reading direction of ``angle``."""
    first, last = by
    if angle % 360 == 0:
        return Box(box.x0 - first, box.y0, box.x1 + last, box.y1)
    if angle % 360 == 90:
        return Box(box.x0, box.y0 - last, box.x1, box.y1 + first)
    if angle % 360 == 180:
        return Box(box.x0 - last, box.y0, box.x1 + first, box.y1)
    return Box(box.x0, box.y0 - first, box.x1, box.y1 + last)


def _beyond(ink: NDArray[np.bool_], box: Box, angle: int, height: float, side: int, reach: float) -> NDArray[np.bool_]:
    """The ink of the line's row beyond one end, the end at column 0, with _ROOM heights above and below the line."""
    reach, room = reach * height / PX_PER_MM, _ROOM * height / PX_PER_MM
    length = box.height if angle % 180 else box.width
    along = grown(box, angle, (reach, -length) if side == 0 else (-length, reach))
    window = Box(along.x0 - room, along.y0, along.x1 + room, along.y1) if angle % 180 else Box(
        along.x0, along.y0 - room, along.x1, along.y1 + room
    )  # fmt: skip
    found = np.rot90(_cut(ink, window), {0: 0, 90: -1, 180: 2, 270: 1}[angle % 360])
    return np.ascontiguousarray(found[:, ::-1] if side == 0 else found)


def _cut(ink: NDArray[np.bool_], box: Box) -> NDArray[np.bool_]:
    rows, columns = ink.shape
    x0, y0, x1, y1 = (round(v * PX_PER_MM) for v in (box.x0, box.y0, box.x1, box.y1))
    inside = ink[max(0, y0) : max(0, y1), max(0, x0) : max(0, x1)]
    if x0 >= 0 and y0 >= 0 and x1 <= columns and y1 <= rows:
        return inside
    out = np.zeros((y1 - y0, x1 - x0), np.bool_)
    out[max(0, -y0) : max(0, -y0) + inside.shape[0], max(0, -x0) : max(0, -x0) + inside.shape[1]] = inside
    return out


def _followed(ink: NDArray[np.bool_], height: float) -> tuple[float, float]:
    """How far the ink goes on, px: within the word, and over spaces; 0 where it does not."""
    word = line = 0.0
    at, open_word, low = 0.0, True, 0
    for stretch in _stretches(ink, height):
        gap = stretch.start - at
        if gap > WORD_GAP * height:
            break
        if gap > LETTER_GAP * height:
            open_word = False
        at = stretch.stop
        low = 0 if stretch.letter else low + 1
        if low > MOST_LOW:
            break
        if stretch.letter:
            line = at
            word = at if open_word else word
    return (word if word <= LONGEST * height else 0.0), line


def _stretches(ink: NDArray[np.bool_], height: float) -> list[Stretch]:
    """Stretches of ink in the line from its end on, up to the first that is no lettering."""
    room = round(_ROOM * height)
    slack, band = max(2, round(0.1 * height)), max(2, round(0.14 * height))
    core = ink[room : len(ink) - room]
    columns = core.any(axis=0)
    over = ink[room - slack - band : room].all(axis=0)
    under = ink[len(ink) - room : len(ink) - room + slack + band].all(axis=0)
    edges = np.flatnonzero(np.diff(np.concatenate([[False], columns, [False]]).astype(np.int8)))
    leaves: NDArray[np.bool_] = np.logical_or(over, under)
    out: list[Stretch] = []
    starts, stops = list(edges[::2]), list(edges[1::2])
    k = 0
    while k < len(starts):
        first = k
        while k + 1 < len(starts) and starts[k + 1] - stops[k] <= 0.16 * height:
            k += 1
        a, b = int(starts[first]), int(stops[k])
        k += 1
        rows = np.flatnonzero(core[:, a:b].any(axis=1))
        high, wide = float(rows[-1] - rows[0] + 1) / height, (b - a) / height
        if max(high, wide) < 0.12:
            continue  # a speck
        leaving = leaves[a:b]
        own = int(leaving.argmax())
        touching = leaving.mean() > 0.35 or (
            wide > ONE_LETTER
            and leaving.any()
            and own <= ONE_LETTER * height
            and _longest_run(_thin(core[:, a : a + own], 0.3 * height)) <= LONGEST_FOOT * height
        )
        if touching and own >= 0.4 * height:
            # a letter that touches a hop, the bend of a wire or the outline of a part
            b = a + own
            tall = np.flatnonzero(core[:, a:b].any(axis=1))
            out.append(Stretch(a, b, letter=float(tall[-1] - tall[0] + 1) >= 0.6 * height))
            break
        if leaving.mean() > 0.35 or wide > 12 or _has_bar(core[:, a:b], height):
            break
        out.append(Stretch(a, b, letter=high >= 0.6))
    return out


def _thin(ink: NDArray[np.bool_], most: float) -> NDArray[np.bool_]:
    """The inked columns whose ink spans no more than ``most`` px from its top to its bottom."""
    deep = len(ink) - np.argmax(ink[::-1], axis=0) - np.argmax(ink, axis=0)
    return np.asarray(ink.any(axis=0) & (deep <= most), dtype=np.bool_)


def _has_bar(ink: NDArray[np.bool_], height: float) -> bool:
    """True where ink runs level, and no thicker than a bar, over more than the longest bar of a letter."""
    long = int(LONGEST_BAR * height) + 1
    if ink.shape[1] < long:
        return False
    inked = np.lib.stride_tricks.sliding_window_view(ink, long, axis=1)
    rows: NDArray[np.bool_] = np.logical_or.reduce(inked, axis=2)
    first, last = rows.argmax(axis=0), len(rows) - rows[::-1].argmax(axis=0)
    return bool((np.logical_or.reduce(inked, axis=0).all(axis=1) & (last - first <= THICKEST_BAR * height)).any())


def _longest_run(flags: NDArray[np.bool_]) -> int:
    edges = np.flatnonzero(np.diff(np.concatenate([[False], flags, [False]]).astype(np.int8)))
    return int((edges[1::2] - edges[::2]).max()) if len(edges) else 0
