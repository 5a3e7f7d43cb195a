"""A small outline drawn into a wire, named by a connector's identifier: a connector, also where nobody knew the sign.

Common practice, no source: a single way is often no more than a square on its wire. To who follows lines that is a wire that
parts in two and comes together again right away, which no wire does. Only the identifier at it tells it from other small signs.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from shapely.geometry import Polygon

from digitize.harness.place import Box
from digitize.ink.state import Marks, Stroke, Symbol
from digitize.reading.state import ReadText
from digitize.wiring.identifiers import is_identifier, letters_of, names
from digitize.wiring.repairs import is_bare_tee, without_strokes

_LARGEST = 4.5
"""Longest side of such an outline, mm; one of less than the width of two lines is no outline but a thick spot."""
_ASIDE = 0.3
"""The wire leads into the middle of a side, so many of its lengths off at most: a loop on a wire lies to one side of it."""
_FILLED = 0.7
"""Both ways round enclose so much of their box: strokes of a letter that a wire runs through do not."""
_BELIEVED = 0.7


def with_outlined_connectors(marks: Marks, texts: Sequence[ReadText]) -> Marks:
    """The marks in which every such outline is a connector at which its wire ends on both sides.

    Sides of outlines that stand by themselves only: those of one connector with several ways share theirs.
    """
    elsewhere = {
        letters_of(t)
        for t in texts
        if is_identifier(t) and any(names(t.box, s.box) for s in marks.symbols if s.kind in {"grommet", "ground"})
    }
    ids = [t.box for t in texts if is_identifier(t) and letters_of(t) not in elsewhere]
    tees = {end: k for k, m in enumerate(marks.meetings) if is_bare_tee(marks, m) for end in m.strokes} if ids else {}
    between: dict[tuple[int, int], list[int]] = {}
    for n in range(len(marks.strokes)):
        one, other = tees.get((n, 0)), tees.get((n, 1))
        if one is not None and other is not None and one != other:
            between.setdefault((min(one, other), max(one, other)), []).append(n)
    found: list[tuple[Symbol, tuple[int, int], tuple[int, ...]]] = []
    for pair, ways in between.items():
        if len(ways) != 2:
            continue
        box = _outline(marks, pair, ways)
        if box is not None and any(names(b, box) for b in ids):
            found.append((Symbol("connector", box, _BELIEVED), pair, tuple(ways)))
    if not found:
        return marks
    told = replace(marks, symbols=(*marks.symbols, *(s for s, _, _ in found)))
    return without_strokes(told, {k for _, _, ways in found for k in ways}, {k for _, pair, _ in found for k in pair})


def _outline(marks: Marks, pair: tuple[int, int], ways: Sequence[int]) -> Box | None:
    """The box of an outline, to the outer edge of its strokes, when ``ways`` are one into which a wire leads on both sides."""
    strokes: list[Stroke] = [marks.strokes[n] for n in ways]
    box = Box.around([p for s in strokes for p in s.points])
    if max(box.width, box.height) > _LARGEST:
        return None
    (x, y), (u, v) = (marks.meetings[k].at for k in pair)
    level = abs(u - x) >= abs(v - y)
    wide, centre = (box.height, box.centre[1]) if level else (box.width, box.centre[0])
    if any(abs(at - centre) > _ASIDE * wide for at in ((y, v) if level else (x, u))):
        return None
    if _enclosed(strokes) < _FILLED * box.width * box.height:
        return None
    return box.grown(max(s.width for s in strokes) / 2)


def _enclosed(strokes: Sequence[Stroke]) -> float:
    """Area between two ways with the same ends, mm²."""
    one, other = (s.points for s in strokes)
    ring = [*one, *(reversed(other) if one[-1] == other[-1] else other)]
    return float(Polygon(ring).area)
