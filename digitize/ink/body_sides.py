"""Sides of parts: the line of ink on which a side of a detected box lies, told from wires that pass close by."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from digitize.harness.place import Box
from digitize.sheet.runs import stretches
from digitize.sheet.state import PX_PER_MM


def side_of(
    ink: NDArray[np.uint8], at: float, ends: tuple[float, float], reach: float, off: float, *, flat: bool, outward: int
) -> float:
    """A side of a box on the line within ``reach`` mm of it, or else on one up to ``off`` mm outside; ``at`` where there is none."""
    near = _side(ink, at, *ends, reach, flat=flat, outward=outward)
    if near != at or off <= reach:
        return near
    beyond = at + outward * (off + reach) / 2
    far = _side(ink, beyond, *ends, (off - reach) / 2, flat=flat, outward=outward)
    return at if far == beyond else far


def clear_of_passing(box: Box, ink: NDArray[np.uint8]) -> Box:
    """The box of a sign that has no frame, mm, without the lines along its rim that run on straight past both ends of a side."""
    x0, x1 = (_clear(ink, at, (box.y0, box.y1), flat=False, outward=o) for at, o in ((box.x0, -1), (box.x1, 1)))
    y0, y1 = (_clear(ink, at, (box.x0, box.x1), flat=True, outward=o) for at, o in ((box.y0, -1), (box.y1, 1)))
    # a bar alone is hardly broader than what is looked at along its rim
    x0, x1 = (x0, x1) if x1 - x0 >= _LEFT * box.width else (box.x0, box.x1)
    y0, y1 = (y0, y1) if y1 - y0 >= _LEFT * box.height else (box.y0, box.y1)
    return Box(x0, y0, x1, y1)


_LEFT = 0.5
"""No less of a sign is left between such lines, in its breadth or height."""
_RIM, _ON, _DRAWN = 0.5, (0.3, 1.2), 0.9
"""A line so near to the rim, mm, that between these distances beyond both ends, mm, is drawn by such a share, passes."""


def _clear(ink: NDArray[np.uint8], at: float, ends: tuple[float, float], *, flat: bool, outward: int) -> float:
    """A side of a box, at ``at`` mm, moved inside the line that passes along it; ``at`` itself when none does."""
    picture = ink if flat else ink.T
    a, b, row = (round(v * PX_PER_MM) for v in (*ends, at))
    deep, (near, far) = round(_RIM * PX_PER_MM), (round(v * PX_PER_MM) for v in _ON)
    first, last = (row - 2, row + deep) if outward < 0 else (row - deep, row + 2)
    if first < 0 or last > len(picture) or a - far < 0 or b + far > picture.shape[1]:
        return at
    band = picture[first:last] > 0
    parts = (band[:, a - far : a - near], band[:, a:b], band[:, b + near : b + far])
    passing = np.flatnonzero(np.min([part.mean(axis=1) for part in parts], axis=0) >= _DRAWN)
    if not len(passing):
        return at
    inner = first + int(passing[-1 if outward < 0 else 0]) - outward * _RAGGED
    return (inner + 0.5 - 0.5 * outward) / PX_PER_MM


def _side(ink: NDArray[np.uint8], at: float, lo: float, hi: float, reach: float, *, flat: bool, outward: int) -> float:
    """The outer edge of the line of ink nearest to one side of a box, mm; ``at`` itself when there is none.

    A line that runs on past both ends of the side is no outline but a wire that passes close by; so is one that runs on past
    one end, and turns away at the other.
    """
    a, b = max(0, round(lo * PX_PER_MM)), round(hi * PX_PER_MM)
    first, last = max(0, round((at - reach) * PX_PER_MM)), round((at + reach) * PX_PER_MM)
    band = ink[first:last, a:b] if flat else ink[a:b, first:last].T
    if band.size == 0:
        return at
    drawn = (band > 0).mean(axis=1) >= 0.45
    picture = ink if flat else ink.T
    drawn &= ~_passing(picture, (first, last), (a, b))
    if not drawn.any():
        return at
    rows = np.nonzero(drawn)[0]
    lines = np.split(rows, np.flatnonzero(np.diff(rows) > 1) + 1)
    nearest = int(rows[np.argmin(np.abs(rows + first - at * PX_PER_MM))])
    line = next(r for r in lines if nearest in r)
    if _goes_past(picture, first + line, (a, b)):  # a wire that turns round a corner of the part has the part inside
        inner = [r for r in lines if outward * (r[0] - line[0]) < 0 and not _goes_past(picture, first + r, (a, b))]
        inner = [r for r in inner if _is_cornered(picture, first + r, (a, b), outward)]
        inner = [r for r in inner if not _are_joined(picture, first + r, first + line, (a, b))]
        if inner:
            line = max(inner, key=lambda r: outward * r[0])
            nearest = int(line[-1 if outward > 0 else 0])
    if _turns_away(picture, first + line, (a, b), outward):
        return at
    while 0 <= nearest + outward < len(drawn) and drawn[nearest + outward]:
        nearest += outward
    return (first + nearest + 0.5 + 0.5 * outward) / PX_PER_MM


_PAST = (1.7, 3.0)
"""Where beyond a side's ends a passing wire still has ink, mm: an outline has ended there, whatever the box is off by."""


_RAGGED = 2
"""The edge of a line wanders by so many px: a row there may have ink along the box and less of it beyond."""


def _passing(picture: NDArray[np.uint8], across: tuple[int, int], along: tuple[int, int]) -> NDArray[np.bool_]:
    """For each row (or column) of a band, whether its ink goes on past both ends of the side, or is the ragged edge of such."""
    near, far = (round(v * PX_PER_MM) for v in _PAST)
    rows = picture[across[0] : across[1]]
    before = rows[:, max(0, along[0] - far) : max(0, along[0] - near)]
    after = rows[:, along[1] + near : along[1] + far]
    if not before.size or not after.size:
        return np.zeros(len(rows), np.bool_)
    on = ((before > 0).mean(axis=1) > 0.8) & ((after > 0).mean(axis=1) > 0.8)
    around = np.lib.stride_tricks.sliding_window_view(np.pad(on, _RAGGED), 2 * _RAGGED + 1)
    return np.asarray(around.any(axis=1), dtype=np.bool_)


_INWARD = (0.25, 0.8)
"""How far in from the line of a side its neighbouring sides are looked for, mm."""

_CORNERED, _UPRIGHT = 2.0, 0.9
"""So far, mm, and so straight, sides go off from both ends of one that lies inside a wire: those of a contact are round."""


def _goes_past(picture: NDArray[np.uint8], rows: NDArray[np.int64], along: tuple[int, int]) -> bool:
    """True when a line in ``rows`` goes on unbroken past one end of a side."""
    far = round(_PAST[1] * PX_PER_MM)
    ends = (slice(max(0, along[0] - far), along[0] + 1), slice(along[1], along[1] + far))
    line = picture[rows[0] : rows[-1] + 1]
    return any(line[:, end].size and bool((line[:, end] > 0).any(axis=0).all()) for end in ends)


def _turns_away(picture: NDArray[np.uint8], rows: NDArray[np.int64], along: tuple[int, int], outward: int) -> bool:
    """True when a line in ``rows`` goes on unbroken past one end of a side, and no other side begins at either end.

    An outline turns inward at its corners; a wire that turns close by a part does not.
    """
    begin = (_side_begins(picture, rows, end, round(_PAST[0] * PX_PER_MM), outward) for end in along)
    return _goes_past(picture, rows, along) and not any(begin)


def _is_cornered(picture: NDArray[np.uint8], rows: NDArray[np.int64], along: tuple[int, int], outward: int) -> bool:
    """True when other sides go off inward at both ends of the line in ``rows``."""
    inked = along[0] + np.flatnonzero(picture[rows[0] : rows[-1] + 1, along[0] : along[1]].any(axis=0))
    near = round(_INWARD[0] * PX_PER_MM)
    deep = round(_CORNERED * PX_PER_MM)
    inner = slice(max(0, rows[0] - deep), rows[0]) if outward > 0 else slice(rows[-1] + 1, rows[-1] + 1 + deep)
    parts = (picture[inner, max(0, end - near) : end + near + 1] > 0 for end in (inked[0], inked[-1]))
    return all(part.size > 0 and bool(part.mean(axis=0).max() >= _UPRIGHT) for part in parts)


def _are_joined(
    picture: NDArray[np.uint8], inner: NDArray[np.int64], outer: NDArray[np.int64], along: tuple[int, int]
) -> bool:
    """True when ink leads from one line to the other along the inner one: they are turns of a coil."""
    low, high = min(inner[-1], outer[-1]) + 1, max(inner[0], outer[0])
    drawn = stretches(np.asarray(picture[inner[0] : inner[-1] + 1, along[0] : along[1]].any(axis=0), np.bool_))
    first, stop = max(drawn, key=lambda s: s[1] - s[0])
    between = picture[low:high, along[0] + first : along[0] + stop] > 0
    return bool(between.size and between.all(axis=0).any())


def _side_begins(picture: NDArray[np.uint8], rows: NDArray[np.int64], end: int, reach: int, outward: int) -> bool:
    """True when another side goes off inward from a line in ``rows`` within ``reach`` px of one of its ends."""
    near, deep = (round(v * PX_PER_MM) for v in _INWARD)
    inner = (
        slice(max(0, rows[0] - deep), max(0, rows[0] - near))
        if outward > 0
        else slice(rows[-1] + near, rows[-1] + deep)
    )
    part = picture[inner, max(0, end - reach) : end + reach] > 0
    return bool(part.size and part.all(axis=0).any())
