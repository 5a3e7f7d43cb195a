"""Lines that lettering interrupts: on its far side they go on, or a part or the side of the frame stands right there."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

from digitize.harness.place import Box, Point, length
from digitize.ink.state import Marks, Stroke, TextBlock
from digitize.wiring.loose import Bridge, End, LooseEnd
from digitize.wiring.nearby import Nearby, spot
from digitize.wiring.reached import ARROW, LOOK, REACH, body_at, body_within, edge_at

_BESIDE = 3.0
"""How far from lettering a line may stop and still be interrupted by it, mm."""
_INTO = 0.1
"""A part reaches into a label beside it by so much of the label at most: else the lettering is the part's own."""
_STRAIGHT, _TURNED, _IN_LINE = 0.95, 0.3, 0.4
"""Cosine by which the last bits of both ends of an interrupted line look at each other right beside a part, that by which what
is before them does where it bends, and how far they are out of line there at most, mm."""
_BEYOND = 2.6
"""How far behind the lettering a part may begin to which the interrupted line leads, mm."""
_WITHIN, _MIDDLE = 1.8, 0.3
"""So deep in a block ends the line that its last letter touches, mm, and so near to its middle, in letter heights."""
_BIT, _FOOT, _STANDS = 2.2, (0.2, 0.6), 0.8
"""A bit of a letter is at most so long, mm; a line on which lettering stands lies so far above and below its foot, in letter
heights, under so much of its length."""
_STUB_GAP, _STUB = 1.5, 5.0
"""A stub that was taken for lettering begins so near behind the code, and its part is at most so far from it, mm."""
_BEAD, _RIM = 3.0, 0.3
"""A bit of a line that was taken for lettering is at most so long, and its stroke reaches so far out of the block, mm."""


@dataclass(frozen=True, slots=True)
class Near:
    """What is on a sheet by where it is: numbers of its parts and of its lettering, and its strokes."""

    bodies: Nearby[int]
    texts: Nearby[int]
    strokes: Nearby[Stroke]

    @classmethod
    def of(cls, marks: Marks) -> Near:
        """All of ``marks``."""
        return cls(
            Nearby(range(len(marks.symbols)), [s.box for s in marks.symbols]),
            Nearby(range(len(marks.texts)), [t.box for t in marks.texts]),
            Nearby(marks.strokes, [Box.around(s.points) for s in marks.strokes]),
        )


def beads_of(marks: Marks) -> frozenset[int]:
    """Numbers of the blocks that are bits of worn lines and no lettering: a stroke lies all within them."""
    small = [(t, b.box.grown(_RIM)) for t, b in enumerate(marks.texts) if max(b.box.width, b.box.height) <= _BEAD]
    short = [s.points for s in marks.strokes if math.dist(s.points[0], s.points[-1]) <= _BEAD]
    begin = Nearby(short, [spot(points[0]) for points in short])
    return frozenset(t for t, box in small if any(all(box.holds(p) for p in points) for points in begin.at(box)))


def over_texts(marks: Marks, ends: list[LooseEnd], beads: frozenset[int]) -> Iterator[Bridge]:
    """Lines that lettering interrupts: an end on each side of a block, both in line with its reading direction."""
    used: set[End] = set()
    met = {end for m in marks.meetings for end in m.strokes}
    near = Nearby(ends, [spot(e.at) for e in ends])
    for t, block in enumerate(marks.texts):
        if t in beads:
            continue
        flat = block.angle in (0, 180)
        around = [e for e in near.at(block.box.grown(LOOK)) if e.end not in used]
        before, after = (
            [
                e
                for e in around
                if beside(block.box, e, flat=flat, sign=sign)
                or (_goes_on(marks, e, met) and _is_within(block.box, e, flat=flat, sign=sign))
            ]
            for sign in (1, -1)
        )
        pairs = sorted(
            (_offset(a, b, flat=flat), math.dist(a.at, b.at), a.end, b.end)
            for a in before
            for b in after
            if a.end[0] != b.end[0]
        )
        for offset, _, a, b in pairs:
            if offset <= 1.5 and not {a, b} & used:
                used |= {a, b}
                yield Bridge(a, b, "text", t, 0.98)


def straight_over_texts(marks: Marks, ends: list[LooseEnd]) -> Iterator[Bridge]:
    """Lines that a label interrupts right beside a part: both ends run straight into the label, though the part is as near."""
    bodies = Nearby(marks.symbols, [s.box for s in marks.symbols])
    ends_near = Nearby(ends, [spot(e.at) for e in ends])
    for t, block in enumerate(marks.texts):
        b = block.box
        near = [s.box for s in bodies.at(b.grown(LOOK)) if s.box.grown(REACH).overlap(b) > 0]
        if not near or any(n.overlap(b) > _INTO * b.width * b.height for n in near):
            continue
        flat = block.angle in (0, 180)
        axis = 0 if flat else 1
        before, after = (
            [
                e
                for e in ends_near.at(b.grown(LOOK))
                if beside(b, e, flat=flat, sign=sign)
                and e.tip[axis] * sign > _STRAIGHT
                and e.out[axis] * sign > _TURNED
            ]
            for sign in (1, -1)
        )
        if len(before) == len(after) == 1 and before[0].end[0] != after[0].end[0]:
            one, other = before[0], after[0]
            between = Box.around((one.at, other.at)).grown(0.1)
            if _offset(one, other, flat=flat) <= _IN_LINE and not any(n.overlap(between) > 0 for n in near):
                yield Bridge(one.end, other.end, "text", t, 0.98)


def _offset(a: LooseEnd, b: LooseEnd, *, flat: bool) -> float:
    return abs(a.at[1] - b.at[1]) if flat else abs(a.at[0] - b.at[0])


def beside(box: Box, e: LooseEnd, *, flat: bool, sign: int) -> bool:
    """True when a line ends just before (sign 1) or behind (-1) a block of lettering and looks into it."""
    level, low, high = (e.at[1], box.y0, box.y1) if flat else (e.at[0], box.x0, box.x1)
    if not low - 0.2 <= level <= high + 0.2:
        return False
    lo, hi, at = (box.x0, box.x1, e.at[0]) if flat else (box.y0, box.y1, e.at[1])
    gap = lo - at if sign > 0 else at - hi
    if not -0.9 <= gap <= _BESIDE:
        return False
    axis = 0 if flat else 1
    # Right at the lettering, a corner of the line may have been taken for a letter: there the heading says little. A bit
    # farther off, a blunt end of a slanting bit may still lead astray.
    least = -0.35 if gap < 1.0 else 0.3 if gap < 1.6 else 0.55
    return max(e.out[axis] * sign, e.tip[axis] * sign) > least


def _goes_on(marks: Marks, e: LooseEnd, met: set[End]) -> bool:
    """True for the end of a line that is long, or meets others at its far end."""
    return (e.end[0], 1 - e.end[1]) in met or length(marks.strokes[e.end[0]].points) > _STUB


def _is_within(box: Box, e: LooseEnd, *, flat: bool, sign: int) -> bool:
    """True when a line ends in a block that its last letter, which touches it, was left out of: the box reaches to its bend."""
    axis = 0 if flat else 1
    middle, high = (box.y0 + box.y1, box.height) if flat else (box.x0 + box.x1, box.width)
    into = e.at[axis] - (box.x0, box.y0)[axis] if sign > 0 else (box.x1, box.y1)[axis] - e.at[axis]
    level = abs(e.at[1 - axis] - middle / 2) <= _MIDDLE * high
    return level and 0.0 < into <= _WITHIN and e.tip[axis] * sign > _STRAIGHT


def beyond_text(
    marks: Marks,
    near: Near,
    e: LooseEnd,
    t: int,
    bodies: dict[End, int],
    edges: dict[End, str],
    beyond: dict[End, int],
) -> None:
    """A line interrupted by the lettering ``t`` right before a part or the edge, with no stub left on the far side."""
    block = marks.texts[t]
    flat = block.angle in (0, 180)
    for sign in (1, -1):
        if not beside(block.box, e, flat=flat, sign=sign):
            continue
        b = block.box
        far = (b.x1 if sign > 0 else b.x0, e.at[1]) if flat else (e.at[0], b.y1 if sign > 0 else b.y0)
        on = (float(sign), 0.0) if flat else (0.0, float(sign))
        there = LooseEnd(e.end, (far[0] + on[0] * 0.8, far[1] + on[1] * 0.8), on, on)
        k = body_at(marks.symbols, near.bodies, there)
        if k is None:
            ahead = (far[0] + on[0] * _BEYOND, far[1] + on[1] * _BEYOND)
            k = body_within(marks.symbols, near.bodies, e.at, ahead)
        if k is None:
            k = _body_behind_stub(marks, near, far, on)
        side = edge_at(marks.sheet.facts.frame, far, on, ARROW)
        if k is not None and marks.symbols[k].kind != "grommet":
            bodies[e.end] = k
            beyond[e.end] = t
        elif side is not None:
            edges[e.end] = side
            beyond[e.end] = t
        if e.end in beyond:
            return


def is_letters_bit(marks: Marks, near: Near, e: LooseEnd, block: TextBlock) -> bool:
    """True for a stub in front of lettering that stands on a wire: a bit of its last letter, which touched another wire."""
    if length(marks.strokes[e.end[0]].points) > _BIT:
        return False
    b = block.box
    if block.angle in (0, 180):
        foot, start, stop, high, axis = b.y1, b.x0, b.x1, b.height, 0
    else:
        foot, start, stop, high, axis = b.x1, b.y0, b.y1, b.width, 1
    under = 0.0
    for stroke in near.strokes.at(b.grown(_FOOT[1] * high)):
        for p, q in pairwise(stroke.points):
            if all(-_FOOT[0] * high <= v[1 - axis] - foot <= _FOOT[1] * high for v in (p, q)):
                under += max(0.0, min(stop, max(p[axis], q[axis])) - max(start, min(p[axis], q[axis])))
    return under > _STANDS * (stop - start)


def _body_behind_stub(marks: Marks, near: Near, far: Point, on: Point) -> int | None:
    """The part that a stub behind the lettering, itself taken for lettering, leads to: one short block at its end.

    ``far``: where the lettering ends; ``on``: unit vector in which it reads on, or back.
    """
    for t in near.texts.around(far, _STUB_GAP):
        b = marks.texts[t].box
        if on[0]:
            start, long = ((b.x0 if on[0] > 0 else b.x1) - far[0]) * on[0], b.width
            level = b.y0 - 0.3 <= far[1] <= b.y1 + 0.3
        else:
            start, long = ((b.y0 if on[1] > 0 else b.y1) - far[1]) * on[1], b.height
            level = b.x0 - 0.3 <= far[0] <= b.x1 + 0.3
        if level and -0.3 <= start <= _STUB_GAP:
            reach = min(start + long + 0.8, _STUB)
            end = (far[0] + on[0] * reach, far[1] + on[1] * reach)
            k = body_within(marks.symbols, near.bodies, far, end)
            if k is not None and marks.symbols[k].kind != "grommet":
                return k
    return None
