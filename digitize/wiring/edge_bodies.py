"""Marks at the page edge that are drawn as bodies: a triangle, a flag or a box with a letter or a sheet in it.

Common practice, no source: a wire that goes on overleaf ends at the border in a small outline, and what stands in it names
the place where it goes on, or is the same at both ends. Such an outline is no part: the wire runs on to the border.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from statistics import median

import networkx as nx
import numpy as np
from numpy.typing import NDArray

from digitize.harness.place import Box
from digitize.ink.state import Marks, Symbol
from digitize.reading.state import ReadText
from digitize.sheet.state import PX_PER_MM
from digitize.wiring.loose import heading
from digitize.wiring.names import claim_of
from digitize.wiring.state import EdgeMark

_NEAR = 4.0
"""An outline at the border stands at most so far from it, mm."""
_LARGEST = (26.0, 12.0)
"""Longest and highest of them, mm."""
_TOUCHES = 1.5
"""The wire ends this near to its mark, mm."""
_STRAIGHT = 0.8
"""It leads towards the border: the cosine of its angle to it is at least this."""
_SHORT = 2
"""A letter or figure of so many characters in an outline is a mark by itself; more must have company of its size."""
_HABIT = 2
"""Longer signs in outlines, a sheet's name say, make marks of them where so many stand at the borders of a sheet."""
_ALIKE = 0.2
"""Outlines there of the size of those marks (within this share) are marks too, also unread."""
_CORE = 0.2
"""The middle of an outline: so far from its centre, for its size."""
_LETTERED, _VARIES = (0.1, 0.9), 0.08
"""Share of ink there where lettering stands, and by how much most columns and rows of it differ from all ink and from none."""
_CLOSED = 0.5
"""An outline ends where it began, within so many mm."""
_BESIDE = 0.4
"""A line ends this far from the string that interrupts it, mm."""
_STUB_LEVEL = 0.1
"""A stub of a wire is level within so much of its length."""
_BEFORE = 4.0
"""A string that interrupts the wire ends at most so far before its mark, mm."""
_ROOM = 2.2
"""The outline round a code is less than so many times as high as its lettering."""
_LEVEL = 1.0
"""The mark and the end of its wire stand at one height, mm."""


@dataclass(frozen=True, slots=True)
class EdgeBody:
    """A mark at a side of the frame: where it stands, and the positions of the strings in it."""

    side: str
    box: Box
    texts: tuple[int, ...]


def without_edge_bodies(marks: Marks, texts: Sequence[ReadText]) -> tuple[Marks, tuple[EdgeBody, ...]]:
    """The marks with such outlines taken away and their wires led on to the border; and what was taken away."""
    frame = marks.sheet.facts.frame
    if frame is None:
        return marks, ()
    marks = _with_outlines(marks, frame, texts)
    found = _found(marks, frame, texts)
    kept, usual = _marks_among(found, marks, texts)
    if usual is not None:
        touched = _with_touched_outlines(marks, frame, usual)
        if touched is not marks:
            marks = touched
            found = _found(marks, frame, texts)
            kept, _ = _marks_among(found, marks, texts)
    signs = [
        (EdgeBody(s.side, s.box, _held(s.box, texts)), _reaching(marks, s.box, s.side, texts)) for s in marks.edge_signs
    ]
    leaving = [(found[k][0], *found[k][1]) for k in sorted(kept)]
    leaving += [(body, *reached) for body, reached in signs if reached is not None]
    if not leaving:
        return marks, ()
    strokes = list(marks.strokes)
    for body, (n, at), code in leaving:
        x = frame.x0 + 1.0 if body.side == "left" else frame.x1 - 1.0
        points = strokes[n].points
        border = (x, points[-at][1])
        if code is None:
            strokes[n] = replace(strokes[n], points=(*points, border) if at else (border, *points))
        else:  # the code goes on interrupting the line
            beyond = code.x0 - _BESIDE if body.side == "left" else code.x1 + _BESIDE
            strokes.append(replace(strokes[n], points=((beyond, border[1]), border)))
    symbols = tuple(
        s
        for k, s in enumerate(marks.symbols)
        if k not in kept and not any(body.box.holds(s.box.centre) for body, _, _ in leaving)
    )
    return replace(marks, strokes=tuple(strokes), symbols=symbols), tuple(body for body, _, _ in leaving)


Reached = tuple[tuple[int, int], Box | None]
"""An end of a line (stroke, 0 or 1), and the box of the string that interrupts the line there; None when it comes up to it."""
Found = dict[int, tuple[EdgeBody, Reached]]


def _found(marks: Marks, frame: Box, texts: Sequence[ReadText]) -> Found:
    """Position of a symbol → the outline at the border that it may be, and the one end of a line that leads to it."""
    found: Found = {}
    for k, symbol in enumerate(marks.symbols):
        if any(s.box.holds(symbol.box.centre) for s in marks.edge_signs):
            continue
        side = _side(symbol, frame)
        reached = None if side is None else _reaching(marks, symbol.box, side, texts)
        if side is not None and reached is not None:
            found[k] = (EdgeBody(side, symbol.box, _held(symbol.box, texts)), reached)
    return found


def _marks_among(found: Found, marks: Marks, texts: Sequence[ReadText]) -> tuple[set[int], tuple[float, float] | None]:
    """Which of them are marks, by what stands in them or by the size of those; and that size, when there is one."""
    said = {k for k, (body, _) in found.items() if _says_where(body, texts)}
    plain = {k for k in said if all(len(texts[i].text.strip()) <= _SHORT for i in found[k][0].texts)}
    arrows = [s.outline for s in marks.edge_signs if s.outline is not None]
    if not plain and len(said) < _HABIT and not arrows:
        return plain, None
    sizes = [(b.width, b.height) for b in (*(found[k][0].box for k in said), *arrows)]
    usual = (median(w for w, _ in sizes), median(h for _, h in sizes))
    alike = {k for k, (body, _) in found.items() if _of_size(body.box, usual)}
    ink = marks.sheet.ink
    return plain | {k for k in alike if k in said or _no_earth(marks.symbols[k], ink)}, usual


def _with_outlines(marks: Marks, frame: Box, texts: Sequence[ReadText]) -> Marks:
    """The marks in which an outline at the border that nobody took for a body is one, where a short sign stands in it.

    Drawn as a line that a wire reaches, such an outline runs from the wire's end back to it.
    """
    outlines: list[frozenset[int]] = []
    for k, stroke in enumerate(marks.strokes):
        if math.dist(stroke.points[0], stroke.points[-1]) > _CLOSED:
            continue
        symbol = _body_of(marks, {k})
        own = _held(symbol.box, texts)
        says = len(own) == 1 and len(texts[own[0]].text.strip()) <= _SHORT
        side = _side(symbol, frame)
        if not says or side is None:
            continue
        ways = len(_reaching_in(marks, frozenset({k})))
        # of the wire, a stub too short for a line may be all that is drawn between its code and the outline
        if ways == 1 or (ways == 0 and _interrupted(marks, symbol.box, side, texts) is not None):
            outlines.append(frozenset({k}))
    return _as_bodies(marks, outlines)


def _with_touched_outlines(marks: Marks, frame: Box, usual: tuple[float, float]) -> Marks:
    """The marks in which strokes at the border that hang together in the size of its marks, and that one wire reaches, are one.

    A letter that touches the outline around it parts it into several strokes. A stub of the wire, between them and the
    outline of its code, is none of them.
    """
    apart: nx.Graph[int] = nx.Graph()
    for k, stroke in enumerate(marks.strokes):
        box = Box.around(stroke.points)
        small = all(have <= (1 + _ALIKE) * most for have, most in zip((box.width, box.height), usual, strict=True))
        if small and min(box.x0 - frame.x0, frame.x1 - box.x1) <= _NEAR + usual[0] and not _is_stub(marks, k):
            apart.add_node(k)
    for meeting in marks.meetings:
        own = [k for k, _ in meeting.strokes if k in apart]
        apart.add_edges_from(pairwise(own))
    outlines = []
    for group in nx.connected_components(apart):
        symbol = _body_of(marks, group)
        if (
            len(group) > 1
            and _of_size(symbol.box, usual)
            and _side(symbol, frame) is not None
            and len(_reaching_in(marks, frozenset(group))) == 1
        ):
            outlines.append(frozenset(group))
    return _as_bodies(marks, outlines)


def _is_stub(marks: Marks, k: int) -> bool:
    """True for a level bit of a line that ends loose, as the outline of a code was taken away there, and meets others behind."""
    (x0, y0), (x1, y1) = marks.strokes[k].points[0], marks.strokes[k].points[-1]
    met = {at for m in marks.meetings for n, at in m.strokes if n == k}
    return len(met) == 1 and abs(y1 - y0) <= _STUB_LEVEL * abs(x1 - x0)


def _reaching_in(marks: Marks, group: frozenset[int]) -> list[int]:
    """The strokes outside ``group`` that meet it, one entry for each meeting they do so at."""
    return [n for m in marks.meetings if any(k in group for k, _ in m.strokes) for n, _ in m.strokes if n not in group]


def _body_of(marks: Marks, strokes: Collection[int]) -> Symbol:
    """What these strokes are when they are drawn around something: a symbol of unknown kind."""
    return Symbol("unknown", Box.around([p for k in strokes for p in marks.strokes[k].points]), 0.5)


def _as_bodies(marks: Marks, outlines: Sequence[frozenset[int]]) -> Marks:
    """The marks in which each group of strokes in ``outlines`` is a symbol of unknown kind; themselves where there is none."""
    if not outlines:
        return marks
    gone = frozenset().union(*outlines)
    bodies = tuple(_body_of(marks, group) for group in outlines)
    number = {k: n for n, k in enumerate(k for k in range(len(marks.strokes)) if k not in gone)}
    meetings = [
        replace(m, strokes=tuple((number[k], at) for k, at in m.strokes))
        for m in marks.meetings
        if not any(k in gone for k, _ in m.strokes)
    ]
    strokes = tuple(marks.strokes[k] for k in number)
    return replace(marks, strokes=strokes, meetings=tuple(meetings), symbols=(*marks.symbols, *bodies))


def _held(box: Box, texts: Sequence[ReadText]) -> tuple[int, ...]:
    return tuple(i for i, t in enumerate(texts) if t.text and box.holds(t.box.centre))


def named_edge(mark: EdgeMark, bodies: Sequence[EdgeBody], texts: Sequence[ReadText], sheet: str) -> EdgeMark:
    """The mark of a run that leaves the sheet, with what its outline says."""
    own = [
        b for b in bodies if b.texts and b.side == mark.edge and abs(b.box.centre[1] - mark.at[1]) < b.box.height / 2
    ]
    if not own:
        return mark
    body = min(own, key=lambda b: abs(b.box.centre[1] - mark.at[1]))
    return replace(mark, text=claim_of([texts[i] for i in body.texts], sheet))


def _side(symbol: Symbol, frame: Box) -> str | None:
    box = symbol.box
    if box.width > _LARGEST[0] or box.height > _LARGEST[1] or symbol.taught is not None:
        return None
    gaps = {"left": box.x0 - frame.x0, "right": frame.x1 - box.x1}
    side = min(gaps, key=lambda s: gaps[s])
    return side if -_NEAR / 2 <= gaps[side] <= _NEAR else None


def _only_end(marks: Marks, box: Box, side: str) -> tuple[int, int] | None:
    """The one end of a line at a body, when it comes straight from inside the sheet; None otherwise.

    A line of which both ends are there is a stub, or the outline itself.
    """
    near = box.grown(_TOUCHES)
    there = [(near.holds(s.points[0]), near.holds(s.points[-1])) for s in marks.strokes]
    ends = [(n, int(last)) for n, (first, last) in enumerate(there) if first != last]
    if len(ends) != 1:
        return None
    n, at = ends[0]
    points = marks.strokes[n].points if at else marks.strokes[n].points[::-1]
    x, y = points[-1]
    outward = -heading(points)[0] if side == "left" else heading(points)[0]
    inner = x >= box.x1 - _TOUCHES if side == "left" else x <= box.x0 + _TOUCHES
    return (n, at) if inner and outward > _STRAIGHT and abs(y - box.centre[1]) < max(_LEVEL, box.height / 3) else None


def _reaching(marks: Marks, box: Box, side: str, texts: Sequence[ReadText]) -> Reached | None:
    """The end of the line that leads to a sign: right at it, or before a string (its box) that interrupts the line there."""
    end = _only_end(marks, box, side)
    return (end, None) if end is not None else _interrupted(marks, box, side, texts)


def _interrupted(marks: Marks, box: Box, side: str, texts: Sequence[ReadText]) -> Reached | None:
    """The end of the line that leads to a sign before a string that interrupts it right there."""
    y = box.centre[1]
    for t in texts:
        if t.angle != 0 or abs(t.box.centre[1] - y) >= _LEVEL:
            continue
        # the outline round a code, whatever it was taken for, interrupts the line with all that is in it
        code = next((s.box for s in marks.symbols if _is_round(s.box, t.box)), t.box)
        gap = code.x0 - box.x1 if side == "left" else box.x0 - code.x1
        if -0.5 <= gap <= _BEFORE:
            far = Box(min(code.x0, box.x0), box.y0, max(code.x1, box.x1), box.y1)
            end = _only_end(marks, far, side)
            if end is not None:
                return end, code
    return None


def _is_round(box: Box, text: Box) -> bool:
    """True for the outline of one line of lettering."""
    return box.holds(text.centre) and text.width > 0.6 * box.width and text.height < box.height < _ROOM * text.height


def _says_where(body: EdgeBody, texts: Sequence[ReadText]) -> bool:
    """True when the outline holds one short line that is no wire's code and no part's name."""
    own = [texts[i] for i in body.texts]
    return len(own) == 1 and len(own[0].text.strip()) <= 12 and own[0].kind != "code"


def _no_earth(symbol: Symbol, ink: NDArray[np.uint8]) -> bool:
    """False for an earth mark: it too ends a wire, may stand at the border and be as large as the marks there.

    What has unread lettering in its middle is none: an earth has paper there, or ink, or bars.
    """
    if symbol.kind != "ground":
        return True
    b = symbol.box
    x0, x1, y0, y1 = (
        round((b.centre[axis] + sign * _CORE * size) * PX_PER_MM)
        for axis, size in ((0, b.width), (1, b.height))
        for sign in (-1, 1)
    )
    core = ink[max(0, y0) : y1, max(0, x0) : x1] > 0
    if not core.size or not _LETTERED[0] < core.mean() < _LETTERED[1]:
        return False
    return all(bool((np.minimum(share, 1 - share) > _VARIES).mean() > 0.5) for share in (core.mean(0), core.mean(1)))


def _of_size(box: Box, usual: tuple[float, float]) -> bool:
    return abs(box.width - usual[0]) <= _ALIKE * usual[0] and abs(box.height - usual[1]) <= _ALIKE * usual[1]
