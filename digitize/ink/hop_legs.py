"""Legs of hops that went with a letter: where a line ends at a letter whose ink leads on to another line, it goes on there.

A hop rises right behind a code that stands on its wire, and touches the code's last letter. What is told apart as the
letter then holds the leg of the hop; the wire ends below it, and the other half of the hop seems to be a join.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Sequence

import cv2
import numpy as np
from numpy.typing import NDArray

from digitize.harness.place import Box
from digitize.sheet.runs import Patches
from digitize.sheet.state import PX_PER_MM

_LONGEST = 3.5
"""A leg reaches at most so far, mm: hops are drawn 0.8 to 2 mm in radius (common practice, no source)."""
_DETOUR = 1.5
"""The way through the letter is at most so many times as long as the straight one: a leg bends, a letter turns."""
_AROUND = 1.2
"""How far round a letter lines are looked at, mm: what leaves this window once ends in it."""
_TIP = 1.0
"""A line ends at what touches it within so far of its tip, mm."""
_THICKEST = 1.1
"""A line is no thicker than this, mm."""
_RING = 0.3
"""A round sign whose hole fills this share of its box is a ring that lines end at, no letter with a leg."""
_STROKE = round(0.9 * PX_PER_MM)
"""Ink as thick as this, px, is no letter's stroke but a piece of a thick cable."""
_IN_BODY = 0.4
"""Ink so near to the body of a part belongs to it, mm."""

Mask = NDArray[np.uint8]


def lead_over_legs(lines: Mask, letters: Patches, which: NDArray[np.bool_], bodies: Sequence[Box]) -> None:
    """Draw the legs into ``lines`` (uint8 (H, W), 255 = line ink), in place.

    Args:
        lines: the ink that is known to be lines.
        letters: ink that was taken for letters, at the same scale.
        which: those that are not in ``lines``.
        bodies: bodies of parts, sheet mm: letters in them have no legs.
    """
    free = which & _touched(lines, letters)
    x, y = (letters.x0 + letters.x1) / 2 / PX_PER_MM, (letters.y0 + letters.y1) / 2 / PX_PER_MM
    for b in bodies:
        g = b.grown(_IN_BODY)
        free &= ~((x >= g.x0) & (x <= g.x1) & (y >= g.y0) & (y <= g.y1))
    for k in np.flatnonzero(free):
        _lead(lines, letters, int(k))


def _touched(lines: Mask, letters: Patches) -> NDArray[np.bool_]:
    """Which letters touch lines. Looked at are the middle and the ends of each run of their ink."""
    runs, (height, width) = letters.runs, lines.shape
    above, below = np.maximum(runs.row - 1, 0), np.minimum(runs.row + 1, height - 1)
    middle, last = (runs.start + runs.stop) // 2, runs.stop - 1
    inked = lines[runs.row, np.maximum(runs.start - 1, 0)] | lines[runs.row, np.minimum(runs.stop, width - 1)]
    for column in (runs.start, middle, last):
        inked |= lines[above, column] | lines[below, column]
    return np.bincount(letters.owner, inked > 0, len(letters)) > 0


def _lead(lines: Mask, letters: Patches, k: int) -> None:
    out = round(_AROUND * PX_PER_MM)
    x0, y0, x1, y1 = (int(v[k]) for v in (letters.x0, letters.y0, letters.x1, letters.y1))
    if x0 < out or y0 < out or x1 + out > lines.shape[1] or y1 + out > lines.shape[0]:
        return
    window = lines[y0 - out : y1 + out, x0 - out : x1 + out]
    letter = cv2.copyMakeBorder(letters.crop(k), out, out, out, out, cv2.BORDER_CONSTANT, value=0)
    _, labels = cv2.connectedComponents(window, connectivity=8)
    beside = cv2.dilate(letter, np.ones((3, 3), np.uint8)) > 0
    # a crumb of the letter does not leave the window
    leaving = np.unique(np.concatenate([labels[0], labels[-1], labels[:, 0], labels[:, -1]]))
    met = {int(n): beside & (labels == n) for n in np.intersect1d(labels[beside], leaving) if n}
    if len(met) < 2:
        return
    if _is_ring(letter[out:-out, out:-out]) or cv2.erode(letter, np.ones((_STROKE, _STROKE), np.uint8)).any():
        return
    ends = {n for n, contact in met.items() if _ends_at(labels == n, contact)}
    ways = [
        way for n in ends for m in met if (m not in ends or m > n) and (way := _way(letter, met[n], met[m])) is not None
    ]
    if ways:
        drawn = np.zeros_like(letter)
        for row, column in min(ways, key=len):
            drawn[row - 1 : row + 2, column - 1 : column + 2] = 255
        window |= drawn


def _is_ring(letter: Mask) -> bool:
    """True for ink with a hole that fills much of its box."""
    outlines, tree = cv2.findContours(letter, cv2.RETR_CCOMP, cv2.CHAIN_APPROX_SIMPLE)
    holes = [cv2.contourArea(c) for c, of in zip(outlines, tree[0], strict=True) if of[3] >= 0]
    return max(holes, default=0.0) > _RING * letter.size


def _ends_at(line: NDArray[np.bool_], contact: NDArray[np.bool_]) -> bool:
    """True for a line that leaves the window once, and is touched at its other end."""
    rim = np.zeros_like(line)
    rim[[0, -1]] = line[[0, -1]]
    rim[:, [0, -1]] = line[:, [0, -1]]
    around = np.concatenate([rim[0], rim[1:, -1], rim[-1, -2::-1], rim[-2:0:-1, 0]])
    if (around & ~np.roll(around, 1)).sum() != 1 or around.sum() > _THICKEST * PX_PER_MM:
        return False
    away = np.argwhere(rim).mean(axis=0)
    tip, touch = (np.hypot(*(np.argwhere(m) - away).T).max() for m in (line, contact))
    return bool(touch >= tip - _TIP * PX_PER_MM)


def _way(letter: Mask, start: NDArray[np.bool_], stop: NDArray[np.bool_]) -> list[tuple[int, int]] | None:
    """The shortest way (row, column) through a letter's ink from beside one line to beside another; None when it is long."""
    grow = np.ones((3, 3), np.uint8)
    inked = letter > 0
    first, last = (cv2.dilate(m.astype(np.uint8), grow).astype(np.bool_) & inked for m in (start, stop))
    came: dict[tuple[int, int], tuple[int, int] | None] = {(int(r), int(c)): None for r, c in np.argwhere(first)}
    todo = deque(came)
    while todo:
        at = todo.popleft()
        if last[at]:
            way = [at]
            while (before := came[way[-1]]) is not None:
                way.append(before)
            straight = float(np.hypot(way[0][0] - way[-1][0], way[0][1] - way[-1][1]))
            return way if len(way) <= _DETOUR * straight + 3 and straight <= _LONGEST * PX_PER_MM else None
        for dr, dc in ((0, 1), (1, 0), (0, -1), (-1, 0), (1, 1), (1, -1), (-1, 1), (-1, -1)):
            near = (at[0] + dr, at[1] + dc)
            if inked[near] and near not in came:
                came[near] = at
                todo.append(near)
    return None
