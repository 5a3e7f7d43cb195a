"""Ids in connectors whose outer letters touch the outline: they were taken for a part of it, and their line is longer than it seemed.

The outline is the ink as far in from the paper around it as the pen is thick; what else is ink inside, in the rows of the
lettering that was found, is lettering too.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import cv2
import numpy as np
from numpy.typing import NDArray

from digitize.harness.place import Box
from digitize.ink.state import Symbol, TextBlock
from digitize.sheet.ranked import median
from digitize.sheet.runs import stretches
from digitize.sheet.state import PX_PER_MM

_SURE = 0.5
"""Blocks less probable than this, and what is less probable a connector, are left alone."""
_WITHIN, _LONG = 0.9, 1.3
"""So much of a block lies within the connector that it is in; that is so many times as long as high."""
_HIGH, _CENTRED = 0.4, 0.3
"""The label is so high at least, in the connector's height, and its middle so near to the connector's, in its width: one row of several
is lower, and a figure beside the outline is not in the middle."""
_PEN, _TALL, _NEXT = 0.1, 0.6, 0.8
"""A letter that was left out is so wide at least, in heights of the lettering, reaches over so much of its height and stands so
near to the next."""
_SPREAD = 2
"""Px by which the outline's inner edge wanders on worn copies."""
_PENS = (0.3, 0.4, 0.5, 0.6, 0.7)
"""Where along the oval its pen is measured, at top and foot."""

Mask = NDArray[np.uint8]


def whole_ids(texts: Sequence[TextBlock], bodies: Sequence[Symbol], ink: Mask) -> tuple[TextBlock, ...]:
    """The blocks of lettering of a sheet, those in connectors as long as their ink is; numbers and order stay.

    Args:
        texts: blocks, boxes in sheet mm.
        bodies: of all parts, sheet mm; ovals that letters touch were not seen whole, so what they are taken for counts.
        ink: uint8 (H, W) at PX_PER_MM, 255 = ink of the sheet.
    """
    out = list(texts)
    for body in bodies:
        if body.kind != "connector" or body.probability < _SURE:
            continue
        held = [k for k, t in enumerate(out) if body.box.holds(t.box.centre) and t.probability >= _SURE]
        inside = [k for k in held if body.box.overlap(out[k].box) > _WITHIN * out[k].box.width * out[k].box.height]
        if len(inside) != 1:
            continue
        text = out[inside[0]]
        upright = text.angle in (90, 270)
        drawn, box, own = (ink.T, body.box.swapped(), text.box.swapped()) if upright else (ink, body.box, text.box)
        if box.width < _LONG * box.height or not _is_label(box, own):
            continue
        longer = _longer(drawn, box, own)
        out[inside[0]] = replace(text, box=longer.swapped() if upright else longer)
    return tuple(out)


def _is_label(oval: Box, text: Box) -> bool:
    """True for level lettering that may be all that stands in a lying oval."""
    off = abs(text.centre[0] - oval.centre[0])
    return text.height >= _HIGH * oval.height and off <= _CENTRED * oval.width and text.width < oval.width


def _longer(ink: Mask, oval: Box, text: Box) -> Box:
    """The box of level lettering, drawn out over the letters at its ends that touch the outline of its lying oval."""
    x0, y0, x1, y1 = (round(v * PX_PER_MM) for v in (oval.x0, oval.y0, oval.x1, oval.y1))
    if x0 < _SPREAD or y0 < _SPREAD or x1 + _SPREAD > ink.shape[1] or y1 + _SPREAD > ink.shape[0]:
        return text
    part = ink[y0 - _SPREAD : y1 + _SPREAD, x0 - _SPREAD : x1 + _SPREAD] > 0
    inside = _letters_in(part)
    top, foot = (round(v * PX_PER_MM) - y0 + _SPREAD for v in (text.y0, text.y1))
    start, stop = (round(v * PX_PER_MM) - x0 + _SPREAD for v in (text.x0, text.x1))
    rows = inside[max(0, top) : foot]
    left, right = _reach(rows[:, :start][:, ::-1]), _reach(rows[:, stop:])
    return Box(text.x0 - left / PX_PER_MM, text.y0, text.x1 + right / PX_PER_MM, text.y1)


def _letters_in(part: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """The ink of an oval (bool, H x W, with a rim around it) without its outline and the wires that reach it."""
    _, paper = cv2.connectedComponents(np.pad(~part, 1, constant_values=True).astype(np.uint8), connectivity=4)
    near = cv2.distanceTransform((paper != paper[0, 0]).astype(np.uint8), cv2.DIST_L2, 5)[1:-1, 1:-1]
    pens = [_first_run(part[::step, round(at * part.shape[1])]) for at in _PENS for step in (1, -1)]
    return np.asarray(part & (near > median(np.array(pens, np.float64)) + _SPREAD))


def _first_run(line: NDArray[np.bool_]) -> int:
    """Length of the first run of ink on a line, px; 0 where there is none."""
    runs = stretches(line)
    return runs[0][1] - runs[0][0] if runs else 0


def _reach(rows: NDArray[np.bool_]) -> int:
    """How far letters go on from the first column of ``rows``, px: 0 where none is left; flecks of the outline are none."""
    high = len(rows)
    far = 0
    for start, stop in stretches(np.asarray(rows.sum(axis=0) > 1, np.bool_)):
        tall = np.flatnonzero(rows[:, start:stop].any(axis=1))
        if start - far > _NEXT * high:
            break
        if stop - start >= _PEN * high and tall[-1] + 1 - tall[0] >= _TALL * high:
            far = stop
    return far
