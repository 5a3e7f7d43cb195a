"""Sides of a part that cut through its coil are moved past it: else what is left of the coil ties its two wires together.

A coil drawn as a row of turns shows several strokes side by side where a line cuts across it; the wires that lead away from
a part never stand so close.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from digitize.harness.place import Box
from digitize.ink.state import Symbol
from digitize.sheet.runs import stretches
from digitize.sheet.state import PX_PER_MM

_WITHOUT = ("connector", "grommet", "ground", "fuse_block")
_TURNS = 4
"""A cut through a coil meets so many strokes at least."""
_APART = 1.2
"""They stand so close, mm: wires keep farther apart (common practice, no source)."""
_BROAD, _PEN, _ON = 0.9, 3, 12
"""They are no broader, mm, and seen over so many px: the rim of a rough line is neither. They begin so many px on at most."""
_DEEPEST = 3.6
"""So much of a coil is left outside at most, mm."""
_SHUT = 0.6
"""The turns of a coil are shut by lines along so much of it."""


def with_whole_coils(body: Symbol, ink: NDArray[np.uint8]) -> Symbol:
    """The body with those of its sides moved outward that cut through a coil.

    ``ink``: uint8 (H, W), 255 = ink without lettering. Kinds that never have one come back as they are.
    """
    if body.kind in _WITHOUT:
        return body
    b = body.box
    x0, x1 = (_past(ink, at, (b.y0, b.y1), flat=False, outward=o) for at, o in ((b.x0, -1), (b.x1, 1)))
    y0, y1 = (_past(ink, at, (b.x0, b.x1), flat=True, outward=o) for at, o in ((b.y0, -1), (b.y1, 1)))
    return replace(body, box=Box(x0, y0, x1, y1))


def _past(ink: NDArray[np.uint8], at: float, side: tuple[float, float], *, flat: bool, outward: int) -> float:
    """Where a side of a box, at ``at`` mm, has left the coil that it cuts through; ``at`` itself when it cuts through none."""
    picture = ink if flat else ink.T
    a, b = (max(0, round(v * PX_PER_MM)) for v in side)
    first = round(at * PX_PER_MM)
    if not 0 <= first < len(picture):
        return at
    low, high = (min(max(0, first + k * outward), len(picture) - 1) for k in (0, _ON - 1))
    near = picture[min(low, high) : max(low, high) + 1, a:b][::outward] > 0
    # the side may lie on the line that shuts the turns
    likely = (near[:, 1:] & ~near[:, :-1]).sum(axis=1) >= _TURNS - 1
    rows = [_closest(row) if maybe else [] for row, maybe in zip(near, likely, strict=True)]
    found = next((k for k in range(len(rows) - _PEN) if min(len(rows[k]), len(rows[k + _PEN])) >= _TURNS), None)
    if found is None:
        return at
    turns, first = rows[found], first + found * outward
    lo, hi = a + turns[0][0], a + turns[-1][1]
    shut = False
    for step in range(1, round(_DEEPEST * PX_PER_MM)):
        row = first + step * outward
        if not 0 <= row < len(picture):
            return at
        part = picture[row, lo:hi] > 0
        if not part.any():  # its turns end here, each for itself: what comes next is a wire that passes
            return row / PX_PER_MM
        shut |= float(part.mean()) >= _SHUT
        if shut and len(stretches(part)) < _TURNS and float(part.mean()) < _SHUT:
            return row / PX_PER_MM
    return at


def _closest(row: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """The longest row of runs of ink that stand close to each other."""
    best: list[tuple[int, int]] = []
    group: list[tuple[int, int]] = []
    runs = [r for r in stretches(row) if r[1] - r[0] <= _BROAD * PX_PER_MM]
    for before, run in pairwise([(-(10**6), -(10**6)), *runs]):
        group = [*group, run] if run[0] - before[1] <= _APART * PX_PER_MM else [run]
        best = max(best, group, key=len)
    return best
