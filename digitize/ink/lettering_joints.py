"""Joins drawn as open circles among the pieces of ink: no letters, though an O looks alike."""

from __future__ import annotations

import numpy as np

from digitize.ink.lettering_pieces import Pieces
from digitize.ink.rings import find_rings, is_met_across, is_met_at_corner
from digitize.sheet.state import PX_PER_MM


def joints_of(pieces: Pieces, piece: int, *, upright: bool) -> tuple[tuple[float, float], ...]:
    """The middles, page px, of the open circles that a piece is part of and that lines meet from both sides or at a corner.

    ``upright``: from above and below, across letters that stand upright; else from the left and right. Bits of the lines
    may hang on the circle, and one of them be all that there is of its line. A circle that a line runs through is none.
    """
    if pieces.free[piece]:
        return ()
    x0, y0 = int(pieces.x0[piece]), int(pieces.y0[piece])
    h, w = int(pieces.height[piece]), int(pieces.width[piece])
    rim = min(h, w) // 2
    left, top = max(0, x0 - rim), max(0, y0 - rim)
    inked = np.where(pieces.lines[top : y0 + h + rim, left : x0 + w + rim] > 0, 255, 0).astype(np.uint8)
    lines = inked.copy()
    inked[y0 - top : y0 - top + h, x0 - left : x0 - left + w][pieces.picture(piece)] = 255
    return tuple(
        (left + ring.at[0] * PX_PER_MM, top + ring.at[1] * PX_PER_MM)
        for ring in find_rings(inked)
        if is_met_across(inked, ring, upright=upright) or is_met_at_corner(inked, ring, lines)
    )
