"""What a loose end reaches: the body of a part, or the side of the frame behind which it goes on overleaf."""

from __future__ import annotations

import math

from digitize.harness.place import Box, Point
from digitize.ink.state import Marks, Symbol
from digitize.wiring.loose import LooseEnd, cut_back, heading
from digitize.wiring.nearby import Nearby

REACH = 1.3
"""How far from a part's body a wire may stop and still end at it, mm."""
_EDGE = 4.5
"""How far from the frame a wire may stop and still go on overleaf, mm."""
ARROW = 9.0
"""The same behind lettering that interrupts the line: only an arrow head stands between it and the frame, mm."""
LOOK = 4.0
"""Around a point so much of the sheet is looked at where ``_BESIDE`` or ``REACH`` is asked, mm: it is more than either."""
_BARB = 1.6
"""The last piece of a line that may be a barb of its arrow head, mm."""


def body_at(symbols: tuple[Symbol, ...], near: Nearby[int], e: LooseEnd) -> int | None:
    """The body that a loose end reaches: the nearest within reach that it does not lead away from."""
    best: tuple[float, int] | None = None
    for k in near.around(e.at, LOOK):
        s = symbols[k]
        distance = _to_box(s.box, e.at)
        if distance > REACH:
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


def body_within(symbols: tuple[Symbol, ...], near: Nearby[int], start: Point, stop: Point) -> int | None:
    """The first body that lettering reaches into: a block may hold a part's own letters behind the code."""
    there = near.at(Box.around((start, stop)))
    steps = max(2, math.ceil(math.dist(start, stop) / 0.4))
    for n in range(steps + 1):
        p = (start[0] + (stop[0] - start[0]) * n / steps, start[1] + (stop[1] - start[1]) * n / steps)
        for k in there:
            if symbols[k].box.holds(p, -0.1):
                return k
    return None


def body_ahead(symbols: tuple[Symbol, ...], near: Nearby[int], e: LooseEnd) -> int | None:
    """The part that a line stops short of: straight ahead, a contact or a lead of it that was not seen as its own."""
    ahead = [(e.at[0] + e.out[0] * step * 0.3, e.at[1] + e.out[1] * step * 0.3) for step in range(4, 21)]
    there = [k for k in near.at(Box.around(ahead)) if symbols[k].kind not in ("connector", "grommet")]
    return next((k for p in ahead for k in there if symbols[k].box.holds(p)), None)


def _to_box(box: Box, p: Point) -> float:
    """Distance from a point to a box, 0 inside, mm."""
    return math.hypot(max(box.x0 - p[0], p[0] - box.x1, 0.0), max(box.y0 - p[1], p[1] - box.y1, 0.0))


def at_barb(marks: Marks, e: LooseEnd) -> str | None:
    """The side of the frame that a line runs into whose last piece follows a barb of its arrow head."""
    points = marks.strokes[e.end[0]].points
    before = cut_back(points if e.end[1] else points[::-1], _BARB)
    return edge_at(marks.sheet.facts.frame, e.at, heading(before)) if len(before) > 1 else None


def edge_at(frame: Box | None, at: Point, out: Point, reach: float = _EDGE) -> str | None:
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


def turned(side: str, tip: Point) -> bool:
    """True when the last bit of a line runs along that side of the frame, or away from it: it bent right before its end."""
    return {"left": -tip[0], "right": tip[0], "top": -tip[1], "bottom": tip[1]}[side] < 0.3
