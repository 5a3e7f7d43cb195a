"""Pieces of line that were taken for letters: what lies between the ends of two lines is a piece of them.

A corner, a leg of a wire right beside its code, or a stretch between two gaps that wear made can look like a letter. A
letter stands beside lines; where two lines end at the same piece of ink, it is a part of them.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import cv2
import numpy as np
from numpy.typing import NDArray

from digitize.harness.place import Box
from digitize.ink.state import TextBlock
from digitize.sheet.runs import Patches
from digitize.sheet.state import PX_PER_MM

_MM = PX_PER_MM
_LEAST = 0.8
"""Smaller pieces are specks, mm."""
_REACH, _ALONE = 0.6, 1.4
"""A line ends at a piece when its ink comes so near to that of the piece, mm; farther where no letter stands with it."""
_APART = 0.85
"""Farther off, the lines end at both ends of a piece that stands with no letter: its corners, for its diagonal."""
_AROUND = 0.6
"""How far beyond that lines are looked at, mm: what leaves this window once ends in it, what leaves it twice passes."""
_LONG = 2.0
"""One of the lines goes on at least so far from the piece, mm: bits of letters that were left over do not."""
_THICKEST = 1.1
"""A line is no thicker than this, mm: a battery cable on a copy of a copy."""
_SURE, _CODE, _BESIDE = 0.45, 6.0, 1.6
"""Lettering at least so probable and so long, mm, may interrupt a line, which goes on at most so far from it, mm."""
_IN_BODY, _AT_PART = 0.4, 2.5
"""Ink so near to the body of a part belongs to it, mm; a letter or sign so near may be the mark of a terminal."""


def between_lines(
    lines: NDArray[np.uint8],
    pieces: Patches,
    which: NDArray[np.bool_],
    bodies: Sequence[Box],
    texts: Sequence[TextBlock],
) -> NDArray[np.bool_]:
    """Which pieces lie between the ends of two lines.

    Args:
        lines: uint8 (H, W), 255 = line ink.
        pieces: ink at the same scale.
        which: those that were taken for letters or dirt and are not in ``lines``.
        bodies: bodies of parts, sheet mm: what lies at them is theirs.
        texts: lettering. Where it may interrupt a line, a piece right before or behind it that stands in no block with
            others, nor at a part, needs one end of a line only.

    Returns: bool, one for each piece.
    """
    out = np.zeros(len(pieces), np.bool_)
    big = which & (np.maximum(pieces.width, pieces.height) >= _LEAST * _MM)
    free = big.copy()
    x, y = (pieces.x0 + pieces.x1) / 2 / _MM, (pieces.y0 + pieces.y1) / 2 / _MM
    for b in bodies:
        g = b.grown(_IN_BODY)
        free &= ~((x >= g.x0) & (x <= g.x1) & (y >= g.y0) & (y <= g.y1))
    lettered = np.zeros_like(free)
    for b in bodies:
        g = b.grown(_AT_PART)
        lettered |= (x >= g.x0) & (x <= g.x1) & (y >= g.y0) & (y <= g.y1)
    sure = [t for t in texts if t.probability >= _SURE]
    codes = [t for t in sure if max(t.box.width, t.box.height) > _CODE]
    for b in (t.box for t in sure):
        inside = (x >= b.x0) & (x <= b.x1) & (y >= b.y0) & (y <= b.y1)
        if (inside & big).sum() > 1:
            lettered |= inside
    for k in np.flatnonzero(free):
        out[k] = _is_between(lines, pieces, int(k), () if lettered[k] else codes, alone=not lettered[k])
    return out


def _is_between(lines: NDArray[np.uint8], pieces: Patches, k: int, codes: Sequence[TextBlock], *, alone: bool) -> bool:
    if _has_ends(lines, pieces, k, _REACH, least=2):
        return True
    if alone and _has_ends(lines, pieces, k, _ALONE, least=2, apart=_APART):
        return True
    return bool(codes) and _has_ends(lines, pieces, k, _ALONE, least=1) and any(_stands_at(pieces, k, t) for t in codes)


def _has_ends(
    lines: NDArray[np.uint8], pieces: Patches, k: int, reach_mm: float, *, least: int, apart: float = 0.0
) -> bool:
    """True when at least so many lines end at a piece; ``apart``: at places of it that far apart, for its diagonal."""
    near = round(reach_mm * _MM)
    x0, y0, x1, y1 = (int(v[k]) for v in (pieces.x0, pieces.y0, pieces.x1, pieces.y1))
    if not cv2.countNonZero(lines[max(0, y0 - near) : y1 + near, max(0, x0 - near) : x1 + near]):
        return False
    out = near + round(_AROUND * _MM)
    if x0 < out or y0 < out or x1 + out > lines.shape[1] or y1 + out > lines.shape[0]:
        return False
    ends = _ending(lines[y0 - out : y1 + out, x0 - out : x1 + out])
    if len(ends) < least or not _leads_on(lines, (x0, y0, x1, y1), out, ends):
        return False
    piece = cv2.copyMakeBorder(pieces.crop(k), out, out, out, out, cv2.BORDER_CONSTANT, value=0)
    if _has_hole(piece):
        return False
    reach = cv2.dilate(piece, np.ones((2 * near + 1, 2 * near + 1), np.uint8)) > 0
    at = [_nearest(piece, mask) for mask in ends if (mask & reach).any()]
    far = apart * math.hypot(x1 - x0, y1 - y0)
    return len(at) >= least and any(math.dist(p, q) >= far for p in at for q in at)


def _nearest(piece: NDArray[np.uint8], mask: NDArray[np.bool_]) -> tuple[float, float]:
    """The place (column, row) of a piece that is nearest to what ``mask`` shows."""
    off = cv2.distanceTransform((~mask).astype(np.uint8), cv2.DIST_L2, 3)
    k = int(np.where(piece > 0, off, np.inf).argmin())
    return float(k % piece.shape[1]), float(k // piece.shape[1])


def _stands_at(pieces: Patches, k: int, code: TextBlock) -> bool:
    """True when a piece ends right before or behind lettering, within its height."""
    flat, b = code.angle in (0, 180), code.box
    along, across = (pieces.x0[k], pieces.y0[k]) if flat else (pieces.y0[k], pieces.x0[k])
    (low, high), (top, foot) = ((b.x0, b.x1), (b.y0, b.y1)) if flat else ((b.y0, b.y1), (b.x0, b.x1))
    first, last = along / _MM, (pieces.x1[k] if flat else pieces.y1[k]) / _MM
    for gap, end in ((first - high, slice(3)), (low - last, slice(-3, None))):
        if 0 <= gap <= _BESIDE:
            ink = pieces.crop(k) if flat else pieces.crop(k).T
            level = np.flatnonzero(ink[:, end].any(axis=1)) + across
            return bool(top <= level.min() / _MM and level.max() / _MM <= foot)
    return False


def _ending(window: NDArray[np.uint8]) -> list[NDArray[np.bool_]]:
    """The pieces of line in a window that leave it once, by a stretch no wider than a line."""
    count, labels = cv2.connectedComponents(window, connectivity=8)
    rim = np.concatenate([labels[0], labels[1:, -1], labels[-1, -2::-1], labels[-2:0:-1, 0]])
    leaves = np.bincount(rim[rim != np.roll(rim, 1)], minlength=count)
    wide = np.bincount(rim, minlength=count)
    once = np.flatnonzero((leaves == 1) & (wide <= _THICKEST * _MM))
    return [np.asarray(labels == label) for label in once if label]


def _leads_on(
    lines: NDArray[np.uint8], box: tuple[int, int, int, int], out: int, ends: Sequence[NDArray[np.bool_]]
) -> bool:
    """True when one of the lines that end in the window ``out`` px round ``box`` is longer than a letter is wide."""
    more = max(out, round(_LONG * _MM))
    x0, y0, x1, y1 = box
    left, top = min(x0, more), min(y0, more)
    _, labels = cv2.connectedComponents(lines[y0 - top : y1 + more, x0 - left : x1 + more], connectivity=8)
    rim = {*labels[0].tolist(), *labels[-1].tolist(), *labels[:, 0].tolist(), *labels[:, -1].tolist()} - {0}
    inner = labels[top - out : top + y1 - y0 + out, left - out : left + x1 - x0 + out]
    return any(not rim.isdisjoint(np.unique(inner[mask]).tolist()) for mask in ends)


def _has_hole(piece: NDArray[np.uint8]) -> bool:
    """True for a letter with an eye, a small outline, a ring: no piece of a line."""
    _, tree = cv2.findContours(piece, cv2.RETR_CCOMP, cv2.CHAIN_APPROX_SIMPLE)
    return tree is not None and bool((tree[0][:, 3] >= 0).any())
