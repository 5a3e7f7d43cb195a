"""What a single piece of ink looks like: a slanting stroke, a lump, a plus."""

from __future__ import annotations

import cv2
import numpy as np

from digitize.ink.lettering_pieces import Pieces


def slants(pieces: Pieces, i: int) -> bool:
    """True when the ink lies along one slanting line (a 1 has its stem and its flag)."""
    row = pieces.lines.shape[1]
    at = pieces.spots(i)
    return bool(abs(np.corrcoef(at % row, at // row)[0, 1]) > 0.85)


def is_lump(pieces: Pieces, i: int) -> bool:
    """True for a piece that nearly fills its convex hull: dirt; of letters only a D or O that is filled in does."""
    row = pieces.lines.shape[1]
    at = pieces.spots(i)
    hull = cv2.convexHull(np.column_stack([at % row, at // row]).astype(np.int32))
    full = cv2.contourArea(hull) + cv2.arcLength(hull, closed=True) / 2 + 1
    return bool(len(at) > 0.87 * full)


def is_plus(pieces: Pieces, i: int) -> bool:
    """True for two crossing bars of about one length."""
    w, h = int(pieces.width[i]), int(pieces.height[i])
    if not 0.7 < w / h < 1.4:
        return False
    row = pieces.lines.shape[1]
    at = pieces.spots(i)
    crop = np.zeros((h, w), np.bool_)
    crop[at // row - pieces.y0[i], at % row - pieces.x0[i]] = True
    third = slice(w // 3, w - w // 3), slice(h // 3, h - h // 3)
    corners = crop.copy()
    corners[:, third[0]] = False
    corners[third[1], :] = False
    return bool(
        crop[:, third[0]].any(axis=1).mean() > 0.9 and crop[third[1]].any(axis=0).mean() > 0.9 and corners.mean() < 0.04
    )
