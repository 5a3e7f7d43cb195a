"""Characters on a page, found by their size and company alone: which way the lettering runs, and whether there is any."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from digitize.sheet.runs import patches_of, runs_of

HEIGHT_MM = (1.1, 6.0)
"""Height of printed capitals on wiring pages (common practice, no source)."""


@dataclass(frozen=True, slots=True, eq=False)
class Letters:
    """Characters that stand in lines with others of their height.

    Attributes:
        boxes: (n, 4) x, y, width, height in px of the ink image, of every piece of ink with a character's size.
        across: how many have their nearest fellow beside them; ``along``: above or below them (lettering on its side).
        pieces: how many pieces of ink of at least that size there are at all, to compare with.
        height: median height (for lettering on its side: width) of those that stand in lines, px; 0 when there are none.
    """

    boxes: NDArray[np.int32]
    across: int
    along: int
    pieces: int
    height: float = 0.0

    @property
    def in_lines(self) -> float:
        """Share of all pieces of ink that stand in a line of lettering, 0..1."""
        return (self.across + self.along) / max(1, self.pieces)

    @property
    def on_its_side(self) -> bool:
        """True when most of the lettering reads up or down the scan."""
        return self.along > 1.5 * self.across and self.along >= 12


def find_letters(ink: NDArray[np.uint8], px_per_mm: float) -> Letters:
    """Look for characters in an ink image (H, W; 255 ink)."""
    patches = patches_of(runs_of(ink))
    if not len(patches):
        return Letters(np.zeros((0, 4), np.int32), 0, 0, 0)
    low, high = HEIGHT_MM[0] * px_per_mm, HEIGHT_MM[1] * px_per_mm
    width, height, area = patches.width, patches.height, patches.area
    size = np.maximum(width, height)
    pieces = int(np.count_nonzero(size >= low))
    fits = (size >= low) & (size <= high) & (area < 0.8 * width * height + 4 * px_per_mm)
    boxes = np.column_stack([patches.x0, patches.y0, width, height])[fits].astype(np.int32)
    across, along = _in_lines(boxes), _in_lines(boxes[:, [1, 0, 3, 2]])
    tall = boxes[across, 3] if len(across) >= len(along) else boxes[along, 2]
    height_px = float(np.median(tall)) if len(tall) else 0.0
    return Letters(boxes, len(across), len(along), pieces, height_px)


def _in_lines(boxes: NDArray[np.int32]) -> NDArray[np.intp]:
    """Which boxes have a fellow of the same height beside them on the same line, nearer than any line spacing."""
    if len(boxes) < 2:
        return np.zeros(0, np.intp)
    x, y, w, h = (boxes[:, i].astype(np.float64) for i in range(4))
    centre = np.column_stack([x + w / 2, y + h / 2])
    tree = cKDTree(centre)
    near = tree.query(centre, k=min(6, len(boxes)))[1]
    me = np.repeat(np.arange(len(boxes)), near.shape[1])
    you = near.ravel()
    tall = h[me]
    alike = (
        (np.abs(h[you] - tall) < 0.18 * tall)
        & (np.abs(y[you] - y[me]) < 0.18 * tall)
        & (centre[you, 0] > centre[me, 0] + 0.3 * tall)
        & (x[you] - x[me] - w[me] < 0.6 * tall)
        & (w[me] < 1.4 * tall)
        & (w[you] < 1.4 * tall)
        & (me != you)
    )
    return np.unique(me[alike])
