"""Loose ends that are the two sides of a gap: wear took the ink between them, or a corner."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace

from digitize.harness.place import length
from digitize.ink.state import Marks
from digitize.wiring.loose import Bridge, End, LooseEnd, cut_back, facing, heading
from digitize.wiring.nearby import Nearby, spot

_CORNER = 2.6
"""Longest way from a worn corner to the lines that made it, mm."""
_FRAYED, _FRAYED_GAP = 0.6, 2.0
"""Length of a frayed end, and the longest gap over which what lies before it counts, mm."""
_TIPS_ASIDE = 0.35
"""Ends right behind a bend lie so far out of line at most, mm, however long the gap is."""
_BEAD, _BEAD_GAP, _ROUGHLY = 2.2, 2.6, -0.6
"""Longest bead of a worn line and the longest gap before one, mm, and the cosine by which it looks against the line all the
same."""
_BEADS_APART, _BEADS_ASIDE = 1.0, 0.45
"""Two beads of one line lie so near, and so little out of line, mm."""
_USUAL, _THICK_ASIDE = 0.4, 0.3
"""Of a line thicker than this, mm, wear leaves now the one side and now the other: by so much of what it is thicker."""
GAP = 4.0
"""Longest gap in a worn line that is bridged when both sides are exactly in line, mm."""
_FILLS = 0.6
"""So much of that gap is the label's."""
_UNDER = 6.0
"""The same where the line runs under the outline of a label, across it: all that was there was taken away with it."""


def over_gaps(marks: Marks, ends: list[LooseEnd]) -> Iterator[Bridge]:
    """Pair ends that face each other over a short gap, nearest first.

    Where wear frayed an end, its last bit leads astray: of what is left, the line before that says how it would go on.
    """
    pairs = []
    for e, f in _near_pairs(ends, _UNDER):
        distance = math.dist(e.at, f.at)
        if e.end[0] == f.end[0] or distance > _UNDER:
            continue
        if distance > GAP:
            if _face(_bent(e), _bent(f), _TIPS_ASIDE) and _is_between(marks, e, f):
                pairs.append((1, distance, e.end, f.end))
            continue
        aside = 0.35 + 0.1 * distance + _thicker(marks, e, f)
        if _face(e, f, aside):
            pairs.append((0, distance, e.end, f.end))
        elif any(_face(a, b, _TIPS_ASIDE) for a in (e, _bent(e)) for b in (f, _bent(f))) or (
            distance <= _FRAYED_GAP
            and any(_face(a, b, aside) for a in (e, *_unfrayed(marks, e)) for b in (f, *_unfrayed(marks, f)))
        ):
            pairs.append((1, distance, e.end, f.end))
        elif distance <= _BEAD_GAP and (_before_bead(marks, e, f, aside) or _before_bead(marks, f, e, aside)):
            pairs.append((2, distance, e.end, f.end))
    used: set[End] = set()
    for frayed, distance, a, b in sorted(pairs):
        if not {a, b} & used:
            used |= {a, b}
            yield Bridge(a, b, "gap", None, max(0.6, 0.97 - 0.08 * distance - 0.04 * frayed))


def _near_pairs(ends: list[LooseEnd], reach: float) -> Iterator[tuple[LooseEnd, LooseEnd]]:
    """All pairs of ends that lie within ``reach`` mm of each other, and some a little farther apart, each pair once."""
    near = Nearby(range(len(ends)), [spot(e.at) for e in ends])
    for i, e in enumerate(ends):
        for j in near.around(e.at, reach + 0.1):
            if j > i:
                yield e, ends[j]


def _face(e: LooseEnd, f: LooseEnd, aside: float) -> bool:
    return facing(e, f, aside) and facing(f, e, aside)


def _is_between(marks: Marks, e: LooseEnd, f: LooseEnd) -> bool:
    """True when a block of lettering fills the gap between two ends, across its reading direction."""
    lo, hi = (min(e.at[0], f.at[0]), min(e.at[1], f.at[1])), (max(e.at[0], f.at[0]), max(e.at[1], f.at[1]))
    level = hi[0] - lo[0] > hi[1] - lo[1]
    middle = ((lo[0] + hi[0]) / 2, (lo[1] + hi[1]) / 2)
    for block in marks.texts:
        across = block.box.width if level else block.box.height
        fills = across >= _FILLS * (hi[0] - lo[0] if level else hi[1] - lo[1])
        if fills and level == (block.angle in (90, 270)) and block.box.grown(_TIPS_ASIDE).holds(middle):
            return True
    return False


def _before_bead(marks: Marks, e: LooseEnd, bead: LooseEnd, aside: float) -> bool:
    """True when a line looks at a bead that wear left of it: so short a stroke tells its own direction only roughly."""
    if _length(marks, bead) > _BEAD:
        return False
    roughly = e.out[0] * bead.out[0] + e.out[1] * bead.out[1] < _ROUGHLY
    if _length(marks, e) <= _BEAD:  # two beads: both are asked
        way = (e.out[0] - bead.out[0], e.out[1] - bead.out[1])
        size = math.hypot(*way) or 1.0
        on = (way[0] / size, way[1] / size)
        pair = replace(e, out=on), replace(bead, out=(-on[0], -on[1]))
        return (
            roughly
            and math.dist(e.at, bead.at) <= _BEADS_APART
            and _face(*pair, _BEADS_ASIDE + _thicker(marks, e, bead))
        )
    return roughly and facing(e, replace(bead, out=(-e.out[0], -e.out[1])), aside)


def _thicker(marks: Marks, e: LooseEnd, f: LooseEnd) -> float:
    """How far more than those of a usual line the ends of a thick one may lie out of line, mm."""
    return _THICK_ASIDE * max(0.0, max(marks.strokes[x.end[0]].width for x in (e, f)) - _USUAL)


def _length(marks: Marks, e: LooseEnd) -> float:
    return length(marks.strokes[e.end[0]].points)


def _bent(e: LooseEnd) -> LooseEnd:
    """The same end as its last bit alone would have it: the gap begins right behind a bend."""
    return replace(e, out=e.tip)


def _unfrayed(marks: Marks, e: LooseEnd) -> Iterator[LooseEnd]:
    """The same end as its last bit alone would have it, and as the straight line before its last bit would."""
    yield _bent(e)
    points = marks.strokes[e.end[0]].points
    before = cut_back(points if e.end[1] else points[::-1], _FRAYED)
    if len(before) > 1 and math.dist(before[0], before[-1]) >= _FRAYED:
        out = heading(before)
        yield replace(e, at=(before[-1][0] + out[0] * _FRAYED, before[-1][1] + out[1] * _FRAYED), out=out)


def round_corners(ends: list[LooseEnd]) -> Iterator[Bridge]:
    """Pair ends of which each runs into the other's line close by: a corner that wear has taken away."""
    pairs = []
    for e, f in _near_pairs(ends, _CORNER):
        distance = math.dist(e.at, f.at)
        turn = abs(e.out[0] * f.out[1] - e.out[1] * f.out[0])
        if e.end[0] == f.end[0] or distance > _CORNER or turn < 0.5:
            continue
        dx, dy = f.at[0] - e.at[0], f.at[1] - e.at[1]
        cross = e.out[0] * f.out[1] - e.out[1] * f.out[0]
        ahead_e = (dx * f.out[1] - dy * f.out[0]) / cross
        ahead_f = (dx * e.out[1] - dy * e.out[0]) / cross
        if -0.8 <= ahead_e <= _CORNER and -0.8 <= ahead_f <= _CORNER:
            pairs.append((distance, e.end, f.end))
    used: set[End] = set()
    for distance, a, b in sorted(pairs):
        if not {a, b} & used:
            used |= {a, b}
            yield Bridge(a, b, "gap", None, max(0.55, 0.9 - 0.12 * distance))
