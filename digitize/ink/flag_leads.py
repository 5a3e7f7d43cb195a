"""Wires are led a little way into the flags that they reach: a hop or a corner right beside a flag then stays a meeting."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from digitize.ink.flags import FLAG
from digitize.ink.state import Symbol
from digitize.sheet.state import PX_PER_MM

LEAD = 1.6
"""How far a wire is led into a flag, mm: longer than a spur that thinning grows on a thin line."""
_THICK = 2.4
"""The same in widths of a thick wire, whose spurs are longer."""
_SHARE = 0.3
"""No lead takes up more of the flag's length than this."""
_NEAR = (2, 5)
"""Where just outside the outline the wire is looked at, px: nearer is the outline's own ink, farther may be a hop."""

Mask = NDArray[np.uint8]


def lead_into_flags(lines: Mask, ink: Mask, bodies: tuple[Symbol, ...]) -> None:
    """Draw the leads on ``lines`` (uint8, 255 = ink), in place, after the flags' ink was taken out of it.

    ``ink``: the same before that. Only ends that a line reaches at their middle get a lead.
    """
    for body in bodies:
        if body.kind != FLAG:
            continue
        upright = body.box.height > body.box.width
        drawn, shown = (lines.T, ink.T) if upright else (lines, ink)
        b = body.box
        spans = ((b.y0, b.y1), (b.x0, b.x1)) if upright else ((b.x0, b.x1), (b.y0, b.y1))
        (x0, x1), (y0, y1) = ((round(v * PX_PER_MM) for v in span) for span in spans)
        _lead(drawn, shown, x1, (y0, y1), x1 - x0)
        mirrored = ink.shape[0 if upright else 1]
        _lead(drawn[:, ::-1], shown[:, ::-1], mirrored - x0, (y0, y1), x1 - x0)


def _lead(lines: Mask, ink: Mask, end: int, rows: tuple[int, int], long: int) -> None:
    """Lead the wire at the right end of a level flag into it. ``end``: first column outside the outline."""
    found = _wire_at(ink, end, rows)
    if found is None:
        return
    first, last = found
    wide = last - first + 1
    inner = end - round(min(_SHARE * long, max(LEAD * PX_PER_MM, _THICK * wide)))
    # as far as the wire's own ink goes on outside: the clearing of the flag may have cut into it
    outer = min(lines.shape[1], end + _NEAR[1])
    lines[first : last + 1, max(0, inner) : outer] = 255


def _wire_at(ink: Mask, end: int, rows: tuple[int, int]) -> tuple[int, int] | None:
    """First and last row of the line that leaves the middle of a flag's right end."""
    high = rows[1] - rows[0]
    for column in range(end + _NEAR[0], min(ink.shape[1], end + _NEAR[1])):
        inked = np.concatenate([[0], (ink[rows[0] : rows[1], column] > 0).astype(np.int8), [0]])
        starts, stops = np.nonzero(np.diff(inked) == 1)[0], np.nonzero(np.diff(inked) == -1)[0]
        for a, b in zip(starts, stops, strict=True):
            if abs((a + b) / 2 - high / 2) <= 0.2 * high and b - a <= 0.6 * high:
                return rows[0] + int(a), rows[0] + int(b) - 1
    return None
