"""Earth marks that are a single thick bar across the end of a wire, and that nobody took for a sign: their name tells them.

Common practice, no source: a bar at a wire's end with the name of a ground beyond it is an earth mark. In ink alone it is a tee
whose arms are short, thick, and lead nowhere.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from digitize.harness.place import Box, Point, length
from digitize.ink.state import Marks, Symbol
from digitize.reading.state import ReadText
from digitize.wiring.identifiers import NO_PREFIXES, Prefixes, at_sign, is_identifier, letters_of
from digitize.wiring.loose import End, heading
from digitize.wiring.repairs import is_bare_tee, without_strokes

_LONGEST, _THICK = 4.0, 1.5
"""Each half of the bar is so long at most, mm, and so many times as thick as its wire at least."""
_ACROSS = 0.4
"""The halves lead away across the wire, and from each other: cosines at most so far from 0, and from -1."""
_BEYOND, _ASIDE = 5.0, 2.5
"""The middle of the name lies so far beyond the bar at most, and so far to the side of the wire, mm."""
_BEFORE = 0.2
"""Its wire ends so far before the bar's rim, mm: as with all signs."""
_USUAL = 2
"""Where no manual states how grounds are named: so many grounds with one sort of names tell it."""
_SURE = 0.85


def with_barred_grounds(marks: Marks, texts: Sequence[ReadText], stated: Prefixes = NO_PREFIXES) -> Marks:
    """The marks with such bars as grounds, and no longer as strokes. ``stated``: what the manual says of names."""
    ids = [t for t in texts if is_identifier(t)]
    known = [letters_of(t) for s in marks.symbols if s.kind == "ground" for t in at_sign(s, ids)]
    named = stated.grounds | {n for n in known if known.count(n) >= _USUAL} - stated.connectors
    ids = [t for t in ids if letters_of(t) in named]
    if not ids:
        return marks
    met = [end for m in marks.meetings for end in m.strokes]
    gone: set[int] = set()
    shorter: dict[End, Point] = {}
    grounds: list[Symbol] = []
    for m in marks.meetings:
        if not is_bare_tee(marks, m):
            continue
        for stem in m.strokes:
            arms = [end for end in m.strokes if end != stem]
            if not all(_is_half(marks, end, stem, met) for end in arms):
                continue
            on, one, other = _leads(marks, stem), *(_leads(marks, (k, 1 - n)) for k, n in arms)
            if max(abs(_dot(on, one)), abs(_dot(on, other))) > _ACROSS or _dot(one, other) > _ACROSS - 1:
                continue
            if any(_is_beyond(t.box.centre, m.at, on) for t in ids):
                gone |= {k for k, _ in arms}
                half = max(marks.strokes[k].width for k, _ in arms) / 2
                shorter[stem] = (m.at[0] - on[0] * (half + _BEFORE), m.at[1] - on[1] * (half + _BEFORE))
                grounds.append(Symbol("ground", _around(marks, [k for k, _ in arms], half), _SURE))
                break
    if not grounds:
        return marks
    strokes = list(marks.strokes)
    for (k, end), tip in shorter.items():
        points = strokes[k].points
        strokes[k] = replace(strokes[k], points=(*points[:-1], tip) if end else (tip, *points[1:]))
    left = without_strokes(replace(marks, strokes=tuple(strokes)), gone)
    return replace(left, symbols=(*marks.symbols, *grounds))


def _is_half(marks: Marks, end: End, stem: End, met: Sequence[End]) -> bool:
    """True for a short thick stroke whose other end meets nothing."""
    stroke = marks.strokes[end[0]]
    thick = stroke.width >= _THICK * marks.strokes[stem[0]].width
    return thick and length(stroke.points) <= _LONGEST and (end[0], 1 - end[1]) not in met


def _leads(marks: Marks, end: End) -> Point:
    """Unit vector in which a stroke arrives at its end ``end``."""
    points = marks.strokes[end[0]].points
    return heading(points if end[1] else points[::-1])


def _dot(a: Point, b: Point) -> float:
    return a[0] * b[0] + a[1] * b[1]


def _is_beyond(text: Point, bar: Point, on: Point) -> bool:
    """True for lettering straight beyond a bar, seen from its wire that leads on in direction ``on``."""
    to = (text[0] - bar[0], text[1] - bar[1])
    return 0 < _dot(to, on) <= _BEYOND and abs(to[0] * on[1] - to[1] * on[0]) <= _ASIDE


def _around(marks: Marks, strokes: Sequence[int], half: float) -> Box:
    return Box.around([p for k in strokes for p in marks.strokes[k].points]).grown(half)
