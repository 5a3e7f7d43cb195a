"""Plates of a battery that the box seen round it left outside: they are of it, no letters and no joins.

A battery is drawn as plates, long and short in turns, across the line that leads through them (IEC 60617-6, symbol 06-15-01,
from memory).
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from digitize.harness.place import Box
from digitize.ink.state import Symbol
from digitize.sheet.runs import stretches
from digitize.sheet.state import PX_PER_MM

_LONG = 0.6
"""A plate is long when it is at least so high, in the height of the box."""
_LEAST, _SHORT = 1.4, 0.3
"""No plate is shorter, mm, or in the height of the box: cables are not so thick."""
_BROAD = 1.3
"""No plate is broader, mm."""
_NEXT = 1.6
"""The next plate begins so near, mm."""
_CENTRED = 0.15
"""Its middle lies so near to the battery's, in the height of the box."""
_FRAME = (0.3, 0.9)
"""Within so many mm of its sides, so much of a framed battery is ink."""
_PLATES, _OVER = 6, 1.0
"""So many plates are looked for at most; a long one ends so near to the box, mm."""


def with_all_plates(body: Symbol, ink: NDArray[np.uint8]) -> Symbol:
    """The battery with its box drawn out over the plates right beside it; other symbols come back as they are.

    ``ink``: uint8 (H, W), 255 = all ink of the sheet, for plates look like letters.
    """
    if body.kind != "battery" or _is_framed(body.box, ink):
        return body
    b = body.box
    sides = [round(v * PX_PER_MM) for v in (b.x0, b.y0, b.x1, b.y1)]
    views = [(ink, sides), (ink.T, [sides[k] for k in (1, 0, 3, 2)])]
    flat, turned = (_long_plates(picture, side) for picture, side in views)
    if flat == turned:
        return body
    picture, (a0, c0, a1, c1) = views[flat < turned]
    lo, hi = a0 - _reach(picture, a0, (c0, c1), -1), a1 + _reach(picture, a1, (c0, c1), 1)
    box = (lo, c0, hi, c1) if flat > turned else (c0, lo, c1, hi)
    return replace(body, box=Box(*(v / PX_PER_MM for v in box))) if (lo, hi) != (a0, a1) else body


def _is_framed(b: Box, ink: NDArray[np.uint8]) -> bool:
    """True when all four sides of a box are drawn: such a battery has no plates."""
    x0, y0, x1, y1 = (round(v * PX_PER_MM) for v in (b.x0, b.y0, b.x1, b.y1))
    off = round(_FRAME[0] * PX_PER_MM)
    bands = [ink[max(0, y - off) : y + off + 1, x0:x1] for y in (y0, y1)]
    bands += [ink[y0:y1, max(0, x - off) : x + off + 1].T for x in (x0, x1)]
    return all(band.size and (band > 0).any(axis=0).mean() >= _FRAME[1] for band in bands)


def _long_plates(picture: NDArray[np.uint8], sides: list[int]) -> int:
    """How many long plates stand in a box."""
    a0, c0, a1, c1 = sides
    return sum(high >= _LONG * (c1 - c0) for _, _, high in _plates(picture, (max(0, a0), a1), (c0, c1)))


def _reach(picture: NDArray[np.uint8], side: int, across: tuple[int, int], way: int) -> int:
    """How far beyond ``side``, px, the last plate of a row of plates ends that begins there."""
    near, reach = round(_NEXT * PX_PER_MM), 0
    wide = near + round(_BROAD * PX_PER_MM) + 2
    for _ in range(_PLATES):
        at = side + way * reach
        lo, hi = (at, at + wide) if way > 0 else (max(0, at - wide), at)
        found = _plates(picture, (lo, hi), across)
        if way < 0:
            found = [(hi - lo - stop, hi - lo - start, high) for start, stop, high in found[::-1]]
        found = [plate for plate in found if plate[0] <= near and plate[1] < hi - lo]
        if not found:
            break
        reach += found[0][1]
    return reach


def _plates(picture: NDArray[np.uint8], along: tuple[int, int], across: tuple[int, int]) -> list[tuple[int, int, int]]:
    """First and last column (exclusive, from the first of ``along``) and height, px, of the plates in that part of a picture.

    ``across``: rows of the battery. What goes on past them, above and below, is a line that passes.
    """
    high, over = across[1] - across[0], round(_OVER * PX_PER_MM)
    top = max(0, across[0] - over)
    part = picture[top : across[1] + over, along[0] : along[1]] > 0
    least, middle = max(_LEAST * PX_PER_MM, _SHORT * high), (across[0] + across[1]) / 2 - top
    runs = [_middle_run(column) for column in part.T]
    stands = [least <= n < len(part) and abs(at - middle) <= _CENTRED * high for n, at in runs]
    return [
        (a, b, max(n for n, _ in runs[a:b]))
        for a, b in stretches(np.array(stands, np.bool_))
        if b - a <= _BROAD * PX_PER_MM
    ]


def _middle_run(column: NDArray[np.bool_]) -> tuple[int, float]:
    """Length and middle of the longest run of ink in a column, px."""
    start, stop = max(stretches(column), key=lambda run: run[1] - run[0], default=(0, 0))
    return stop - start, (start + stop) / 2
