"""From strokes and meetings to lines: what runs on through corners, plain crossings, gaps, lettering and grommets.

A *loose end* is the end of a stroke at which no other stroke meets it. Each is explained in this order: it runs straight into
a label beside a part, and so does another from the label's far side; it reaches the body of a part; it stands at the edge
of the drawing; it goes on beyond lettering that interrupts it, beyond a grommet or beyond a gap; or it just stops.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from digitize.harness.place import Box, Point
from digitize.ink.state import Marks, Symbol
from digitize.sheet.state import PX_PER_MM
from digitize.wiring.gaps import over_gaps, round_corners
from digitize.wiring.loose import Bridge, End, LooseEnd, cut_back, facing, heading, loose_ends
from digitize.wiring.nearby import Nearby, spot

_REACH = 1.3
"""How far from a part's body a wire may stop and still end at it, mm."""
_EDGE = 4.5
"""How far from the frame a wire may stop and still go on overleaf, mm."""
_ARROW = 9.0
"""The same behind lettering that interrupts the line: only an arrow head stands between it and the frame, mm."""
_BESIDE = 3.0
"""How far from lettering a line may stop and still be interrupted by it, mm."""
_LOOK = 4.0
"""Around a point so much of the sheet is looked at where ``_BESIDE`` or ``_REACH`` is asked, mm: it is more than either."""
_CABLE, _KNEE = 0.8, 0.35
"""A line so broad is a cable; on the side where it turns off right before its end its ink reaches so much farther, mm."""
_INTO = 0.1
"""A part reaches into a label beside it by so much of the label at most: else the lettering is the part's own."""
_STRAIGHT, _IN_LINE = 0.95, 0.4
"""Cosine by which both ends of an interrupted line look at each other right beside a part, and how far they are out of
line there at most, mm."""
_BEYOND = 2.6
"""How far behind the lettering a part may begin to which the interrupted line leads, mm."""
_STUB_GAP, _STUB = 1.5, 5.0
"""A stub that was taken for lettering begins so near behind the code, and its part is at most so far from it, mm."""
_BEAD, _RIM = 3.0, 0.3
"""A bit of a line that was taken for lettering is at most so long, and its stroke reaches so far out of the block, mm."""
_BARB = 1.6
"""The last piece of a line that may be a barb of its arrow head, mm."""


@dataclass(frozen=True, slots=True)
class Explained:
    """Every loose end, explained once. ``bodies``: end → position in Marks.symbols; ``edges``: end → side of the frame.

    ``beyond``: end → the text it runs into before it reaches that body or side, for ends with lettering in between.
    """

    bodies: dict[End, int]
    edges: dict[End, str]
    bridges: tuple[Bridge, ...]
    beyond: dict[End, int]
    open: tuple[LooseEnd, ...]


def explain(marks: Marks) -> Explained:
    """Explain every loose end of a sheet (see the module's text)."""
    loose = [_kneed(marks, e) for e in loose_ends(marks)]
    plain = list(_straight_over_texts(marks, loose))
    interrupted = {x for b in plain for x in (b.a, b.b)}
    loose = [e for e in loose if e.end not in interrupted]
    bodies: dict[End, int] = {}
    edges: dict[End, str] = {}
    beyond: dict[End, int] = {}
    passing: dict[int, list[LooseEnd]] = {}
    rest: list[LooseEnd] = []
    bodies_near = Nearby(range(len(marks.symbols)), [s.box for s in marks.symbols])
    for e in loose:
        k = _body_at(marks.symbols, bodies_near, e)
        if k is not None and marks.symbols[k].kind == "grommet":
            passing.setdefault(k, []).append(e)
        elif k is not None:
            bodies[e.end] = k
        elif (side := _edge_at(marks.sheet.facts.frame, e.at, e.out)) is not None and not _turned(side, e.tip):
            edges[e.end] = side
        else:
            rest.append(e)
    bridges = [*plain, *(b for k, ends in sorted(passing.items()) for b in _through_grommet(k, ends))]
    bridged = {x for b in bridges for x in (b.a, b.b)}
    rest += [e for ends in passing.values() for e in ends if e.end not in bridged]
    beads = _beads(marks)
    bridges += list(_over_texts(marks, rest, beads))
    bridged = {x for b in bridges for x in (b.a, b.b)}
    rest = [e for e in rest if e.end not in bridged]
    texts_near = Nearby(range(len(marks.texts)), [t.box for t in marks.texts])
    for e in rest:
        for t in texts_near.around(e.at, _LOOK):
            if t not in beads and e.end not in beyond:
                _beyond_text(marks, e, t, bodies_near, bodies, edges, beyond)
    rest = [e for e in rest if e.end not in beyond]
    bridges += list(over_gaps(marks, rest))
    bridged = {x for b in bridges for x in (b.a, b.b)}
    bridges += list(round_corners([e for e in rest if e.end not in bridged]))
    bridged = {x for b in bridges for x in (b.a, b.b)}
    for e in rest:
        if e.end not in bridged and (k := _body_ahead(marks.symbols, e)) is not None:
            bodies[e.end] = k
        elif e.end not in bridged and (side := _at_barb(marks, e)) is not None:
            edges[e.end] = side
    bridged |= set(bodies) | set(edges)
    return Explained(bodies, edges, tuple(bridges), beyond, tuple(e for e in rest if e.end not in bridged))


def _body_at(symbols: tuple[Symbol, ...], near: Nearby[int], e: LooseEnd) -> int | None:
    """The body that a loose end reaches: the nearest within reach that it does not lead away from."""
    best: tuple[float, int] | None = None
    for k in near.around(e.at, _LOOK):
        s = symbols[k]
        distance = _to_box(s.box, e.at)
        if distance > _REACH:
            continue
        # over a corner of the body it comes nearer before it leads away: a jog right before the part slants it
        half, ahead = ((e.at[0] + e.out[0] * on, e.at[1] + e.out[1] * on) for on in (0.5, 1.5))
        if _to_box(s.box, ahead) > distance + 0.3 and _to_box(s.box, half) > distance - 0.1:
            continue
        size = s.box.width * s.box.height
        score = distance + 1e-5 * size
        if best is None or score < best[0]:
            best = (score, k)
    return best[1] if best else None


def _body_within(symbols: tuple[Symbol, ...], start: Point, stop: Point) -> int | None:
    """The first body that lettering reaches into: a block may hold a part's own letters behind the code."""
    steps = max(2, math.ceil(math.dist(start, stop) / 0.4))
    for n in range(steps + 1):
        p = (start[0] + (stop[0] - start[0]) * n / steps, start[1] + (stop[1] - start[1]) * n / steps)
        for k, s in enumerate(symbols):
            if s.box.holds(p, -0.1):
                return k
    return None


def _body_ahead(symbols: tuple[Symbol, ...], e: LooseEnd) -> int | None:
    """The part that a line stops short of: straight ahead, a contact or a lead of it that was not seen as its own."""
    best: tuple[float, int] | None = None
    for step in range(4, 21):
        p = (e.at[0] + e.out[0] * step * 0.3, e.at[1] + e.out[1] * step * 0.3)
        for k, s in enumerate(symbols):
            if s.kind not in ("connector", "grommet") and s.box.holds(p) and (best is None or step < best[0]):
                best = (step, k)
    return best[1] if best else None


def _to_box(box: Box, p: Point) -> float:
    """Distance from a point to a box, 0 inside, mm."""
    return math.hypot(max(box.x0 - p[0], p[0] - box.x1, 0.0), max(box.y0 - p[1], p[1] - box.y1, 0.0))


def _at_barb(marks: Marks, e: LooseEnd) -> str | None:
    """The side of the frame that a line runs into whose last piece follows a barb of its arrow head."""
    points = marks.strokes[e.end[0]].points
    before = cut_back(points if e.end[1] else points[::-1], _BARB)
    return _edge_at(marks.sheet.facts.frame, e.at, heading(before)) if len(before) > 1 else None


def _edge_at(frame: Box | None, at: Point, out: Point, reach: float = _EDGE) -> str | None:
    """The side of the frame that a line runs into, None when it stops well inside."""
    if frame is None:
        return None
    sides = (
        ("left", at[0] - frame.x0, -out[0]),
        ("right", frame.x1 - at[0], out[0]),
        ("top", at[1] - frame.y0, -out[1]),
        ("bottom", frame.y1 - at[1], out[1]),
    )
    for name, distance, towards in sides:
        if distance <= reach and towards > 0.8:
            return name
    return None


def _turned(side: str, tip: Point) -> bool:
    """True when the last bit of a line runs along that side of the frame, or away from it: it bent right before its end."""
    return {"left": -tip[0], "right": tip[0], "top": -tip[1], "bottom": tip[1]}[side] < 0.3


def _through_grommet(body: int, ends: list[LooseEnd]) -> Iterator[Bridge]:
    """Pair the ends on opposite sides of a grommet that point at each other."""
    left = list(ends)
    while left:
        e = left.pop(0)
        opposite = [f for f in left if facing(e, f, aside=1.2)] or (left if len(ends) == 2 else [])
        if opposite:
            f = min(opposite, key=lambda f: math.dist(e.at, f.at))
            left.remove(f)
            yield Bridge(e.end, f.end, "grommet", body, 0.97)


def _beads(marks: Marks) -> frozenset[int]:
    """Numbers of the blocks that are bits of worn lines and no lettering: a stroke lies all within them."""
    small = [(t, b.box.grown(_RIM)) for t, b in enumerate(marks.texts) if max(b.box.width, b.box.height) <= _BEAD]
    short = [s.points for s in marks.strokes if math.dist(s.points[0], s.points[-1]) <= _BEAD]
    begin = Nearby(short, [spot(points[0]) for points in short])
    return frozenset(t for t, box in small if any(all(box.holds(p) for p in points) for points in begin.at(box)))


def _over_texts(marks: Marks, ends: list[LooseEnd], beads: frozenset[int]) -> Iterator[Bridge]:
    """Lines that lettering interrupts: an end on each side of a block, both in line with its reading direction."""
    used: set[End] = set()
    near = Nearby(ends, [spot(e.at) for e in ends])
    for t, block in enumerate(marks.texts):
        if t in beads:
            continue
        flat = block.angle in (0, 180)
        around = [e for e in near.at(block.box.grown(_LOOK)) if e.end not in used]
        before, after = ([e for e in around if beside(block.box, e, flat=flat, sign=sign)] for sign in (1, -1))
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


def _straight_over_texts(marks: Marks, ends: list[LooseEnd]) -> Iterator[Bridge]:
    """Lines that a label interrupts right beside a part: both ends run straight into the label, though the part is as near."""
    bodies = Nearby(marks.symbols, [s.box for s in marks.symbols])
    ends_near = Nearby(ends, [spot(e.at) for e in ends])
    for t, block in enumerate(marks.texts):
        b = block.box
        near = [s.box for s in bodies.at(b.grown(_LOOK)) if s.box.grown(_REACH).overlap(b) > 0]
        if not near or any(n.overlap(b) > _INTO * b.width * b.height for n in near):
            continue
        flat = block.angle in (0, 180)
        axis = 0 if flat else 1
        before, after = (
            [
                e
                for e in ends_near.at(b.grown(_LOOK))
                if beside(b, e, flat=flat, sign=sign) and min(e.out[axis] * sign, e.tip[axis] * sign) > _STRAIGHT
            ]
            for sign in (1, -1)
        )
        if len(before) == len(after) == 1 and before[0].end[0] != after[0].end[0]:
            one, other = before[0], after[0]
            between = Box.around((one.at, other.at)).grown(0.1)
            if _offset(one, other, flat=flat) <= _IN_LINE and not any(n.overlap(between) > 0 for n in near):
                yield Bridge(one.end, other.end, "text", t, 0.98)


def _kneed(marks: Marks, e: LooseEnd) -> LooseEnd:
    """The end of a cable that turns off right before it: so short a stub of so broad a line is no stroke, but its ink is there."""
    width = marks.strokes[e.end[0]].width
    if width < _CABLE:
        return e
    ink = marks.sheet.ink
    across = ((0.0, 1.0), (0.0, -1.0)) if abs(e.out[0]) > abs(e.out[1]) else ((1.0, 0.0), (-1.0, 0.0))
    reach = []
    for dx, dy in across:
        steps = 0
        x, y = e.at[0] * PX_PER_MM, e.at[1] * PX_PER_MM
        while steps < 3 * width * PX_PER_MM:
            column, row = round(x + dx * steps), round(y + dy * steps)
            if not (0 <= row < ink.shape[0] and 0 <= column < ink.shape[1] and ink[row, column]):
                break
            steps += 1
        reach.append(steps / PX_PER_MM)
    far, near = max(reach), min(reach)
    if far < width / 2 + _KNEE or near > width / 2 + _KNEE or far >= 3 * width:
        return e
    way = across[reach.index(far)]
    on = far - width / 2
    return LooseEnd(e.end, (e.at[0] + way[0] * on, e.at[1] + way[1] * on), way, way)


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


def _beyond_text(
    marks: Marks,
    e: LooseEnd,
    t: int,
    near: Nearby[int],
    bodies: dict[End, int],
    edges: dict[End, str],
    beyond: dict[End, int],
) -> None:
    """A line interrupted by the lettering ``t`` right before a part or the edge, with no stub left on the far side.

    ``near``: the parts by where they are.
    """
    block = marks.texts[t]
    flat = block.angle in (0, 180)
    for sign in (1, -1):
        if not beside(block.box, e, flat=flat, sign=sign):
            continue
        b = block.box
        far = (b.x1 if sign > 0 else b.x0, e.at[1]) if flat else (e.at[0], b.y1 if sign > 0 else b.y0)
        on = (float(sign), 0.0) if flat else (0.0, float(sign))
        there = LooseEnd(e.end, (far[0] + on[0] * 0.8, far[1] + on[1] * 0.8), on, on)
        k = _body_at(marks.symbols, near, there)
        if k is None:
            ahead = (far[0] + on[0] * _BEYOND, far[1] + on[1] * _BEYOND)
            k = _body_within(marks.symbols, e.at, ahead)
        if k is None:
            k = _body_behind_stub(marks, far, on)
        side = _edge_at(marks.sheet.facts.frame, far, on, _ARROW)
        if k is not None and marks.symbols[k].kind != "grommet":
            bodies[e.end] = k
            beyond[e.end] = t
        elif side is not None:
            edges[e.end] = side
            beyond[e.end] = t
        if e.end in beyond:
            return


def _body_behind_stub(marks: Marks, far: Point, on: Point) -> int | None:
    """The part that a stub behind the lettering, itself taken for lettering, leads to: one short block at its end.

    ``far``: where the lettering ends; ``on``: unit vector in which it reads on, or back.
    """
    for block in marks.texts:
        b = block.box
        if on[0]:
            start, long = ((b.x0 if on[0] > 0 else b.x1) - far[0]) * on[0], b.width
            level = b.y0 - 0.3 <= far[1] <= b.y1 + 0.3
        else:
            start, long = ((b.y0 if on[1] > 0 else b.y1) - far[1]) * on[1], b.height
            level = b.x0 - 0.3 <= far[0] <= b.x1 + 0.3
        if level and -0.3 <= start <= _STUB_GAP:
            reach = min(start + long + 0.8, _STUB)
            end = (far[0] + on[0] * reach, far[1] + on[1] * reach)
            k = _body_within(marks.symbols, far, end)
            if k is not None and marks.symbols[k].kind != "grommet":
                return k
    return None
