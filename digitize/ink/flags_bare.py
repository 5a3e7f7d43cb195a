"""Flags in which no lettering was seen: on a sheet of many flags, an outline as high as they are is one more of them.

In worn copies the letters of a tight flag touch both its long sides, and what is left of them is no line of lettering.
"""

from __future__ import annotations

from collections.abc import Sequence
from statistics import median

import numpy as np
from numpy.typing import NDArray

from digitize.harness.place import Box
from digitize.ink.flags import FLAG, MANY, is_inked, is_reached
from digitize.ink.state import Symbol
from digitize.sheet.runs import patches_of, runs_of
from digitize.sheet.state import PX_PER_MM

_SIDE = 3.0
"""Long sides are straight runs of ink at least so long, mm; letters have none."""
_THICKEST = 1.0
"""The thickest long side, a little aslant, mm."""
_AS_HIGH, _AS_LONG = 0.25, 0.6
"""The outline is as high as the flags of its sheet within so much, and its long sides end together within so much, mm."""
_SLIM, _LONGEST = 4.0, 70.0
"""It is at least so many times as long as high, and no longer than this, mm."""
_CLOSED, _WITHIN = 0.75, 0.7
"""So much of its short ends is ink in some column within so much of where its long sides end, mm."""
_SURE, _LARGER = 0.6, 2.0
"""Within a part at least so probable and so many times as large it is a piece of what is drawn there."""

Mask = NDArray[np.uint8]


def bare_flags(ink: Mask, flags: Sequence[Symbol], bodies: Sequence[Symbol]) -> tuple[Symbol, ...]:
    """Further flags of a sheet, boxes (sheet mm) at the outer edge of their outline; none where flags are no habit of it.

    Args:
        ink: uint8 (H, W) at PX_PER_MM, 255 = ink of the sheet, lettering and all.
        flags: those that were found round their lettering.
        bodies: of parts, sheet mm; what was taken for a part may be such a flag.
    """
    if len(flags) < MANY:
        return ()
    usual = median(min(f.box.width, f.box.height) for f in flags)
    found = _outlines(ink, usual) + [b.swapped() for b in _outlines(ink.T, usual)]
    known = [f.box for f in flags]
    out: list[Symbol] = []
    for box in found:
        area = box.width * box.height
        within = any(
            b.probability >= _SURE and b.box.overlap(box) > 0.8 * area and b.box.width * b.box.height > _LARGER * area
            for b in bodies
        )
        if not within and not any(box.overlap(k) > 0 for k in known):
            known.append(box)
            out.append(Symbol(FLAG, box, 0.9))
    return tuple(out)


def _outlines(ink: Mask, usual: float) -> list[Box]:
    """Level outlines ``usual`` mm high with ink all along their inside, reached by a wire."""
    runs = runs_of(ink)
    lines = patches_of(runs.only(runs.length >= int(_SIDE * PX_PER_MM)))
    thin = np.flatnonzero((lines.height <= _THICKEST * PX_PER_MM) & (lines.width <= _LONGEST * PX_PER_MM))
    x0, y0, x1, y1 = (v[thin] for v in (lines.x0, lines.y0, lines.x1, lines.y1))
    out = []
    order = np.argsort(y0, kind="stable")
    for k in order:
        high = y1 - y0[k]
        near = (abs(high - usual * PX_PER_MM) <= _AS_HIGH * PX_PER_MM) & (abs(x0 - x0[k]) <= _AS_LONG * PX_PER_MM)
        near &= abs(x1 - x1[k]) <= _AS_LONG * PX_PER_MM
        for j in np.flatnonzero(near):
            box = _closed(ink, (int(x0[k]), int(x0[j])), (int(x1[k]), int(x1[j])), (int(y0[k]), int(y1[j])))
            if box is not None and box.width >= _SLIM * box.height and is_inked(ink, box) and is_reached(ink, box):
                out.append(box)
    return out


def _closed(ink: Mask, lefts: tuple[int, int], rights: tuple[int, int], rows: tuple[int, int]) -> Box | None:
    """The outline between two long sides in ``rows`` that begin at ``lefts`` and end before ``rights``, px; None when it is open."""
    reach = round(_WITHIN * PX_PER_MM)
    ends = []
    for first, last in ((min(lefts) - reach, max(lefts) + reach), (min(rights) - reach, max(rights) + reach)):
        part = ink[rows[0] : rows[1], max(0, first) : last] > 0
        full = np.flatnonzero(part.mean(axis=0) >= _CLOSED)
        if not len(full):
            return None
        ends.append((max(0, first) + int(full[0]), max(0, first) + int(full[-1]) + 1))
    return Box(ends[0][0] / PX_PER_MM, rows[0] / PX_PER_MM, ends[1][1] / PX_PER_MM, rows[1] / PX_PER_MM)
