"""Holes in line ink: paper that ink encloses. The small ones are rings, or specks that a worn copy left in dots and lines.

A speck of paper in a dot makes two thin blobs of it, which are no dot; in a thick line it makes a loop. So specks are
filled in before anything is measured.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import cv2
import numpy as np
from cv2.typing import MatLike
from numpy.typing import NDArray

from digitize.sheet.state import PX_PER_MM, to_mm

if TYPE_CHECKING:
    from digitize.ink.dots import MeetingView

LARGEST_HOLE = 2.0
"""Holes up to this size are told, mm: what is larger lies between lines."""
_SPECK = 0.25
"""A hole so small is always a speck, mm: no ring is drawn that leaves less (common practice, no source)."""
_WORN_OUT = 0.9
"""Largest hole that wear leaves in a dot, mm (dots are 1 to 2.5 mm wide: common practice, no source)."""


@dataclass(frozen=True, slots=True, eq=False)
class Hole:
    """A hole. ``outline``: contour on the ink around it, px; ``x``, ``y``, ``width``, ``height``: box of its paper, px."""

    outline: NDArray[np.int32]
    x: int
    y: int
    width: int
    height: int


def enclosed_in(ink: NDArray[np.uint8]) -> tuple[MatLike, ...]:
    """The contour of every patch of paper that ``ink`` (uint8 (H, W), non-zero = ink) encloses, (n, 1, 2) px each.

    It runs on the ink around the patch and has every pixel of it. Made once for all that look for outlines on the same ink.
    """
    contours, tree = cv2.findContours(ink, cv2.RETR_CCOMP, cv2.CHAIN_APPROX_NONE)
    parents = tree[0, :, 3].tolist() if tree is not None else []
    return tuple(c for c, parent in zip(contours, parents, strict=True) if parent >= 0)


def holes_of(ink: NDArray[np.uint8]) -> tuple[Hole, ...]:
    """The holes in ``ink`` (uint8 (H, W), 255 = ink) that are at most ``LARGEST_HOLE`` wide and high."""
    found = []
    for contour in enclosed_in(ink):
        if len(contour) < 8 * LARGEST_HOLE * PX_PER_MM:
            x, y, w, h = cv2.boundingRect(contour)
            # the contour of a hole runs on the ink around it, one pixel outside the paper
            if max(w, h) - 2 <= LARGEST_HOLE * PX_PER_MM:
                found.append(Hole(np.asarray(contour, np.int32), x + 1, y + 1, w - 2, h - 2))
    return tuple(found)


def specks_filled(ink: NDArray[np.uint8], holes: tuple[Hole, ...], seen: MeetingView | None = None) -> bool:
    """Fill, in place, the holes that wear made; True when there were any.

    A hole too large for a speck is filled only where ``seen``, the second opinion on the spot, holds it for a dot.
    """
    worn = [h for h in holes if _is_worn(h, seen)]
    cv2.drawContours(ink, [h.outline for h in worn], -1, 255, -1)
    return bool(worn)


def _is_worn(hole: Hole, seen: MeetingView | None) -> bool:
    size = max(hole.width, hole.height) / PX_PER_MM
    if size <= _SPECK:
        return True
    at = to_mm(hole.x + (hole.width - 1) / 2, hole.y + (hole.height - 1) / 2)
    return size <= _WORN_OUT and seen is not None and seen.probability("dot", at) > 0.5
