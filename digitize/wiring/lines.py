"""From strokes and meetings to lines: what runs on through corners, plain crossings, gaps, lettering and grommets.

A *loose end* is the end of a stroke at which no other stroke meets it. Each is explained in this order: it runs straight into
a label beside a part, and so does another from the label's far side; it reaches the body of a part; it stands at the edge
of the drawing; it goes on beyond lettering that interrupts it, beyond a grommet or beyond a gap; or it just stops.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from digitize.ink.state import Marks
from digitize.sheet.state import PX_PER_MM
from digitize.wiring.gaps import over_gaps, round_corners
from digitize.wiring.loose import Bridge, End, LooseEnd, facing, loose_ends
from digitize.wiring.over_texts import Near, beads_of, beyond_text, is_letters_bit, over_texts, straight_over_texts
from digitize.wiring.reached import LOOK, at_barb, body_ahead, body_at, edge_at, turned

_CABLE, _KNEE = 0.8, 0.35
"""A line so broad is a cable; on the side where it turns off right before its end its ink reaches so much farther, mm."""
_AS_BEFORE = 0.93
"""Cosine between the way over its last bit and that before it under which a line has turned in its stroke already."""


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
    plain = list(straight_over_texts(marks, loose))
    interrupted = {x for b in plain for x in (b.a, b.b)}
    loose = [e for e in loose if e.end not in interrupted]
    bodies: dict[End, int] = {}
    edges: dict[End, str] = {}
    beyond: dict[End, int] = {}
    passing: dict[int, list[LooseEnd]] = {}
    rest: list[LooseEnd] = []
    near = Near.of(marks)
    for e in loose:
        k = body_at(marks.symbols, near.bodies, e)
        if k is not None and marks.symbols[k].kind == "grommet":
            passing.setdefault(k, []).append(e)
        elif k is not None:
            bodies[e.end] = k
        elif (side := edge_at(marks.sheet.facts.frame, e.at, e.out)) is not None and not turned(side, e.tip):
            edges[e.end] = side
        else:
            rest.append(e)
    bridges = [*plain, *(b for k, ends in sorted(passing.items()) for b in _through_grommet(k, ends))]
    bridged = {x for b in bridges for x in (b.a, b.b)}
    rest += [e for ends in passing.values() for e in ends if e.end not in bridged]
    beads = beads_of(marks)
    bridges += list(over_texts(marks, rest, beads))
    bridged = {x for b in bridges for x in (b.a, b.b)}
    rest = [e for e in rest if e.end not in bridged]
    for e in rest:
        for t in near.texts.around(e.at, LOOK):
            if t not in beads and e.end not in beyond and not is_letters_bit(marks, near, e, marks.texts[t]):
                beyond_text(marks, near, e, t, bodies, edges, beyond)
    rest = [e for e in rest if e.end not in beyond]
    bridges += list(over_gaps(marks, rest))
    bridged = {x for b in bridges for x in (b.a, b.b)}
    bridges += list(round_corners([e for e in rest if e.end not in bridged]))
    bridged = {x for b in bridges for x in (b.a, b.b)}
    for e in rest:
        if e.end not in bridged and (k := body_ahead(marks.symbols, near.bodies, e)) is not None:
            bodies[e.end] = k
        elif e.end not in bridged and (side := at_barb(marks, e)) is not None:
            edges[e.end] = side
    bridged |= set(bodies) | set(edges)
    return Explained(bodies, edges, tuple(bridges), beyond, tuple(e for e in rest if e.end not in bridged))


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


def _kneed(marks: Marks, e: LooseEnd) -> LooseEnd:
    """The end of a cable that turns off right before it: so short a stub of so broad a line is no stroke, but its ink is there."""
    width = marks.strokes[e.end[0]].width
    if width < _CABLE or e.out[0] * e.tip[0] + e.out[1] * e.tip[1] < _AS_BEFORE:
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
