"""Wires are led a little way into the flags that they reach: a hop or a corner right beside a flag then stays a meeting.

Of a hop that begins at the flag itself only the far leg is seen, beyond the line that it passes: the lead goes to its crest.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from digitize.harness.place import Box
from digitize.ink.flags import FLAG
from digitize.ink.lettering import Lettering
from digitize.ink.state import Symbol
from digitize.sheet.runs import stretches
from digitize.sheet.state import PX_PER_MM

LEAD = 1.6
"""How far a wire is led into a flag, mm: longer than a spur that thinning grows on a thin line."""
_THICK, _FARTHEST = 2.4, 2.4
"""The same in widths of a thick wire, whose spurs are longer; and at most, mm: a hop's crest is broader than its wire."""
_SHARE = 0.3
"""No lead takes up more of the flag's length than this."""
_NEAR = (2, 5)
"""Where just outside the outline the wire is looked at, px: nearer is the outline's own ink, farther may be a hop."""
_MIDDLE, _PASSES = 0.2, 0.6
"""A wire leaves a flag within so much of its height of the middle; what covers so much of it is a line that passes."""
_SOLID = 0.85
"""Within a flag, a bar is ink over so much of its thickness."""
_BEHIND = 5
"""Behind what reaches into a flag the lead is so long at least, px."""
_STUB = 2.0
"""A stub of wire beside a flag that may have been taken for a letter is at most so long, mm."""
_STEEP, _PEN = 0.25, 6
"""Ink that lies by more than this share of its height off the middle, and is higher than so many px, is no level wire."""
_CREST, _THICKEST = 1.6, 1.2
"""How far from the middle of a flag a hop's crest may lie, and the broadest line that it passes right beside it, mm."""
_ON, _RIM, _GAP = 1.6, (8, 4), 0.3
"""A wire on which a flag's end lies goes straight on so far, mm, to both sides; it lies so far within the flag at most, and
beyond it, px; and other bodies are farther from it, mm."""
_BROAD = 9
"""Such a wire is no broader, px: worn copies thicken it."""
_SIDE = 7
"""So many px beyond a wire on which a flag's end lies no side of the flag stands."""
_FRINGE = 2
"""So many px of an outline's rough end may be left outside it."""
_CLEARED = 0.8
"""Of such a wire no more than this share is left beside the flag: its ink was taken out with the outline's."""

Mask = NDArray[np.uint8]


def give_back_beside(lines: Mask, lettering: Lettering, flags: tuple[Symbol, ...]) -> None:
    """Draw on ``lines`` (uint8, 255 = ink), in place, what was taken for letters of flags and lies beyond their ends.

    There the bend of a wire runs into the outline, or the leg of a hop: no letter stands outside.
    """
    for flag in flags:
        f = flag.box
        for block in lettering.blocks:
            b = block.box
            if not f.holds(b.centre):
                continue
            beyond = (
                ((b.x0, f.y0, f.x0, f.y1), (f.x1, f.y0, b.x1, f.y1))
                if f.width > f.height
                else ((f.x0, b.y0, f.x1, f.y0), (f.x0, f.y1, f.x1, b.y1))
            )
            for sides in beyond:
                x0, y0, x1, y1 = (max(0, round(v * PX_PER_MM)) for v in sides)
                lines[y0:y1, x0:x1] |= lettering.glyphs[y0:y1, x0:x1]


def lead_into_flags(lines: Mask, ink: Mask, bodies: tuple[Symbol, ...]) -> None:
    """Draw the leads on ``lines`` (uint8, 255 = ink), in place, after the flags' ink was taken out of it.

    ``ink``: the same before that. Only ends that a line reaches at their middle get a lead.
    """
    for body in bodies:
        if body.kind != FLAG:
            continue
        b = body.box
        upright = b.height > b.width
        drawn, shown = (lines.T, ink.T) if upright else (lines, ink)
        spans = ((b.y0, b.y1), (b.x0, b.x1)) if upright else ((b.x0, b.x1), (b.y0, b.y1))
        (x0, x1), rows = (tuple(round(v * PX_PER_MM) for v in span) for span in spans)
        width = ink.shape[0 if upright else 1]
        others = [(o.kind, o.box.swapped() if upright else o.box) for o in bodies if o is not body]
        for way, end in ((1, x1), (-1, width - x0)):
            here, there = drawn[:, ::way], shown[:, ::way]
            beside = others if way == 1 else [(kind, _mirrored(o, width / PX_PER_MM)) for kind, o in others]
            passed = _give_back_wire(here, there, end, (rows[0], rows[1]), beside)
            ahead = ((end + _NEAR[1]) / PX_PER_MM, (rows[0] + rows[1]) / 2 / PX_PER_MM)
            hops = not any(kind != FLAG and o.holds(ahead, _THICKEST) for kind, o in beside)
            _lead(here, there, (end, passed or end), (rows[0], rows[1]), x1 - x0, hops=hops)


def _mirrored(box: Box, width: float) -> Box:
    """``box`` on a sheet ``width`` mm wide that is turned over left to right."""
    return Box(width - box.x1, box.y0, width - box.x0, box.y1)


def _give_back_wire(
    lines: Mask, ink: Mask, end: int, rows: tuple[int, int], others: Sequence[tuple[str, Box]]
) -> int | None:
    """Draw the wire on which the right end of a level flag lies, if one does: it runs straight on above and below the flag.

    ``end``: first column outside the outline; ``others``: kinds and boxes of the other bodies, whose sides are no wires.
    Returns the first column beyond that wire.
    """
    on = round(_ON * PX_PER_MM)
    top, foot = rows[0] - on, rows[1] + on
    left, right = max(0, end - _RIM[0]), min(ink.shape[1], end + _RIM[1])
    if top < 0 or foot > ink.shape[0] or right <= left:
        return None
    inked = (ink[top:foot, left:right] > 0).sum(axis=0)
    first = last = int(inked.argmax())
    while last + 1 < len(inked) and inked[last + 1] >= _PASSES * inked[first]:
        last += 1
    column = left + (first + last) // 2
    x = column / PX_PER_MM
    for kind, other in others:
        b = other.grown(_GAP)
        above, below = (b.holds((x, row / PX_PER_MM)) for row in (top, foot))
        if not above and not below:
            continue
        if kind != FLAG or abs(x - b.centre[0]) > _MIDDLE * b.width:
            return None
        # the wire of another flag begins there
        top, foot = (
            max(top, round(b.y1 * PX_PER_MM)) if above else top,
            min(foot, round(b.y0 * PX_PER_MM)) if below else foot,
        )
    wide = [_width_at(ink, row, column) for row in (top, (top + rows[0]) // 2, (foot + rows[1]) // 2, foot - 1)]
    narrow = ink[top:foot, max(0, column - 1) : column + 2].any(axis=1)
    if not narrow.all() or min(wide) == 0 or max(wide) > _BROAD:
        return None
    pen = max(wide) // 2
    if float((lines[rows[0] : rows[1], max(0, column - pen) : column + pen + 1] > 0).mean()) > _CLEARED:
        return None  # it passes close by
    past = column + (max(wide) + 1) // 2 + 1
    beyond = ink[rows[0] : rows[1], past : past + _SIDE] > 0
    if beyond.size and float(beyond.mean(axis=0).max()) > _PASSES:
        return None  # it passes within the flag, whose side stands beyond it
    lines[top:foot, max(0, column - pen) : column + pen + 1] = 255
    return column + pen + 2


def _width_at(ink: Mask, row: int, column: int) -> int:
    """Length of the level run of ink at a spot, or right beside it, px; 0 when there is none."""
    at = next((c for c in (column, column - 1, column + 1) if 0 <= c < ink.shape[1] and ink[row, c]), None)
    if at is None:
        return 0
    first = last = at
    while first > 0 and ink[row, first - 1]:
        first -= 1
    while last + 1 < ink.shape[1] and ink[row, last + 1]:
        last += 1
    return last - first + 1


def _lead(
    lines: Mask, ink: Mask, rims: tuple[int, int], rows: tuple[int, int], long: int, *, hops: bool = True
) -> None:
    """Lead the wire at the right end of a level flag into it.

    ``rims``: first column outside the outline, and outside a wire on which that end of the flag lies. ``hops``: it may hop
    there; right before a part it does not, and what looks like a hop is the outline of the part.
    """
    end, beyond = rims
    found, hop = _wire_at(ink, beyond, rows), _hop_at(ink, end, rows) if hops and beyond == end else None
    middle = (rows[0] + rows[1]) // 2
    if hop is not None and (found is None or (hop.passes and abs(hop.row - middle) > _MIDDLE * (rows[1] - rows[0]))):
        inner = end - round(min(_SHARE * long, LEAD * PX_PER_MM))
        if hop.passes:  # what the near leg left beside the line would be one more line there
            lines[rows[0] : rows[1], end : hop.passes] = 0
        _slant(lines, (max(0, inner), middle), (hop.column, hop.row))
        return
    if found is None:
        return
    first, last = found
    _without_fringe(lines, end, rows, found)
    deep = _bar_within(lines, ink, end, rows)
    if deep:  # the lead goes on behind the bar, as thin as a wire
        first, last = (first + last) // 2 - 1, (first + last) // 2 + 1
    wide = last - first + 1
    inner = end - round(min(_SHARE * long, max(LEAD * PX_PER_MM, _THICK * wide, deep + _BEHIND), _FARTHEST * PX_PER_MM))
    # as far as the wire's own ink goes on outside: the clearing of the flag may have cut into it
    outer = min(lines.shape[1], beyond + _NEAR[1])
    lines[first : last + 1, max(0, inner) : outer] = 255
    # and on over a stub before a hop or a corner, which may have been taken for a letter
    stub = ink[first : last + 1, outer : beyond + round(_STUB * PX_PER_MM)]
    ends = np.flatnonzero(stub[len(stub) // 2] == 0)
    stub = stub[:, : ends[0]] if len(ends) else stub
    lines[first : last + 1, outer : outer + stub.shape[1]] |= stub


def _without_fringe(lines: Mask, end: int, rows: tuple[int, int], wire: tuple[int, int]) -> None:
    """Take what is left of a flag's rough end right outside it off ``lines``: a spur there would make a meeting of the wire."""
    fringe = lines[rows[0] : rows[1], end : end + _FRINGE]
    beyond = np.asarray(lines[rows[0] : rows[1], end + _FRINGE : end + 2 * _FRINGE].any(axis=1), np.bool_)
    beyond[max(0, wire[0] - _FRINGE - rows[0]) : wire[1] + 1 + _FRINGE - rows[0]] = True
    fringe[~beyond] = 0


def _bar_within(lines: Mask, ink: Mask, end: int, rows: tuple[int, int]) -> int:
    """Draw what a bar that joins wires right beside a flag has of its length within it: how much that is, px, 0 for none."""
    high = rows[1] - rows[0]
    runs = _runs(ink, min(ink.shape[1] - 1, end + _NEAR[0]), rows)
    runs = [(a, b) for a, b in runs if _PEN < b - a <= _PASSES * high and abs(a + b - sum(rows)) / 2 <= _MIDDLE * high]
    if len(runs) != 1:
        return 0
    a, b = runs[0]
    inside = ink[a:b, max(0, end - round(_FARTHEST * PX_PER_MM)) : end][:, ::-1] > 0
    paper = np.flatnonzero(inside.mean(axis=0) < _SOLID)
    deep = int(paper[0]) if len(paper) else 0
    outline = int((ink[rows[0] : rows[1], end - deep : end] > 0).all(axis=0).sum())  # its end is ink from side to side
    if deep < outline + _NEAR[0]:
        return 0
    # what of it was cleared right outside, with the outline, too
    lines[a:b, end - deep : end + _NEAR[1]] |= ink[a:b, end - deep : end + _NEAR[1]]
    return deep


def _wire_at(ink: Mask, end: int, rows: tuple[int, int]) -> tuple[int, int] | None:
    """First and last row of the line that leaves the middle of a flag's right end."""
    high = rows[1] - rows[0]
    for column in range(end + _NEAR[0], min(ink.shape[1], end + _NEAR[1])):
        for a, b in _runs(ink, column, rows):
            off = abs((a + b) / 2 - sum(rows) / 2)
            if off <= _MIDDLE * high and b - a <= _PASSES * high:
                if b - a <= _PEN:
                    return a, b - 1
                if off <= _STEEP * (b - a):
                    return _under_crest(ink, column, (a, b - 1))
                # the steep leg of a hop begins at the middle and reaches far up: its foot is what the lead goes on into
                foot = sum(rows) // 2
                return (foot - 1, foot + 1) if ink[foot, column - 1] else None
    return None


def _under_crest(ink: Mask, column: int, rows: tuple[int, int]) -> tuple[int, int]:
    """``rows`` of a broad wire; those of the thin wire that goes on right behind them where they are another's hop."""
    level, narrowest = sum(rows) // 2, rows
    around = (max(0, 2 * rows[0] - level), min(ink.shape[0], 2 * rows[1] - level))
    for further in range(column, min(ink.shape[1], column + round(_STUB * PX_PER_MM))):
        on = [(a, b - 1) for a, b in _runs(ink, further, around) if a <= level < b]
        if not on:
            break
        narrowest = min(narrowest, on[0], key=lambda r: r[1] - r[0])
    return narrowest if narrowest[1] - narrowest[0] < (rows[1] - rows[0]) / 2 else rows


class _Hop(NamedTuple):
    """Where a hop is first seen, and the first column of the line that it passes before that, 0 for none."""

    column: int
    row: int
    passes: int


def _hop_at(ink: Mask, end: int, rows: tuple[int, int]) -> _Hop | None:
    """A hop that begins at a flag's right end, beyond the line that it passes, if that runs along the end, or a little way
    off, and the near leg leads to it; else right at the end.
    """
    high, more = rows[1] - rows[0], round(_CREST * PX_PER_MM)
    around = (max(0, rows[0] - more), min(ink.shape[0], rows[1] + more))
    passed, leg, before = 0, None, (rows[0], rows[1])
    for column in range(end + _NEAR[0], min(ink.shape[1], end + _NEAR[1] + round(_THICKEST * PX_PER_MM))):
        runs = _runs(ink, column, around)
        if any(a < rows[1] and b > rows[0] and b - a > _PASSES * high for a, b in runs):
            passed = passed or column
            continue
        near = [(a, b) for a, b in runs if abs((a + b) / 2 - sum(rows) / 2) <= min(more, high / 2)]
        if passed and len(near) == 1:
            return _Hop(column, sum(near[0]) // 2, passed)
        on = [(a, b) for a, b in near if a < before[1] and b > before[0]]  # bumps of a rough line beside it are none
        if not passed and len(on) != 1 and (leg is not None or column >= end + _NEAR[1]):
            break
        if not passed and len(on) == 1:
            leg, before = leg or _Hop(column, sum(on[0]) // 2, 0), on[0]
    return leg


def _runs(ink: Mask, column: int, rows: tuple[int, int]) -> list[tuple[int, int]]:
    """First row of each run of ink in a column, and the row behind its last."""
    return [(rows[0] + a, rows[0] + b) for a, b in stretches(ink[rows[0] : rows[1], column] > 0)]


def _slant(lines: Mask, start: tuple[int, int], stop: tuple[int, int], pen: int = 3) -> None:
    """Draw a straight line from left to right, (column, row) to (column, row)."""
    (x0, y0), (x1, y1) = start, stop
    before = y0
    for column in range(x0, x1 + 1):
        row = round(y0 + (y1 - y0) * (column - x0) / max(1, x1 - x0))
        lines[max(0, min(before, row) - pen // 2) : max(before, row) + pen // 2 + 1, column] = 255
        before = row
