"""Grommets of two like pieces, one on either side of a wire, found by the name beside them; a ring is two halves.

The symbol net hardly knows some of them, and the finder of lettering takes two brackets, or a ring, beside a name for
letters. Common practice, no source: the wire goes straight through, the pieces stand opposite each other, and the name in
line with both.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import cv2
import numpy as np
from numpy.typing import NDArray

from digitize.harness.claim import Alternative
from digitize.harness.place import Box, Point
from digitize.ink.state import Marks, Meeting, Stroke, Symbol
from digitize.reading.state import ReadText
from digitize.sheet.state import PX_PER_MM
from digitize.wiring.identifiers import NO_PREFIXES, Prefixes, at_sign, is_identifier, letters_of

_FARTHEST = 11.0
"""The wire passes at most so far from the name, mm."""
_AROUND = 7.0
"""How far from the wire pieces are looked for, mm."""
_LEAST, _MOST = 1.0, 5.0
"""How long a piece is along the wire, mm."""
_CLEAR = 1.6
"""A piece stands at most so far off the wire's middle, mm."""
_LIKE = 0.4
"""The two pieces begin and end alike along the wire, and stand alike far off it, mm."""
_IN_LINE = 1.2
"""The middle of the pieces is in line with the middle of the name, mm."""
_LEVEL = 0.05
"""A wire that is upright or level leans no more than this."""
_HALF = 0.3
"""The wire runs at least so far to either side of the middle of the name, mm."""
_ROOM = 0.15
"""The wire with its edges is so much broader than its pen, mm."""
_WORN = np.ones((round(0.25 * PX_PER_MM),) * 2, np.uint8)
"""Gaps in a worn piece that are closed, px."""
_SURE = 0.85
_READ = 0.3
"""Least chance of a reading that ends in the name, where the pieces were taken for letters before it."""

Mask = NDArray[np.uint8]


@dataclass(frozen=True, slots=True)
class _Name:
    """A grommet's name: position in the texts, the reading, the box of the name alone (sheet mm) and its chance."""

    text: int
    said: str
    box: Box
    chance: float


def with_paired_signs(
    marks: Marks, texts: Sequence[ReadText], stated: Prefixes = NO_PREFIXES
) -> tuple[Marks, tuple[ReadText, ...]]:
    """The marks with such grommets, on which their wires end and go on, and the texts with the names alone.

    ``stated``: what the manual says of names; where it says nothing, names like those of the grommets that were found.
    """
    ids = [t for t in texts if is_identifier(t)]
    of = {kind: {letters_of(t) for s in marks.symbols if s.kind == kind for t in at_sign(s, ids)} for kind in _KINDS}
    letters = (of["grommet"] - of["connector"] - of["ground"]) | stated.grommets
    out = list(texts)
    for name in _names(texts, frozenset(letters - {""})) if letters else ():
        if any(at_sign(s, [replace(out[name.text], box=name.box)]) for s in marks.symbols if s.kind in _KINDS):
            continue
        for number, at, upright in _wires_beside(marks.strokes, name.box):
            box = _pair(marks.sheet.ink, name.box, at, marks.strokes[number].width, upright=upright)
            if box is not None and not any(s.box.overlap(box) > 0 for s in marks.symbols):
                marks = _on_wire(marks, number, Symbol("grommet", box, _SURE))
                out[name.text] = _alone(out[name.text], name)
                out = [t if k == name.text or not box.holds(t.box.centre) else _unread(t) for k, t in enumerate(out)]
                break
    return marks, tuple(out)


_KINDS = ("grommet", "connector", "ground")


def _names(texts: Sequence[ReadText], letters: frozenset[str]) -> Iterator[_Name]:
    """Level names of grommets, also behind pieces that were read as letters."""
    name = re.compile(rf"(?:.*\s)?((?:{'|'.join(sorted(map(re.escape, letters)))})\s?\d+)$", re.IGNORECASE)
    for k, t in enumerate(texts):
        if t.angle:
            continue
        for said, chance in ((t.text, t.probability), *((a.text, a.probability) for a in t.free[:1])):
            found = name.match(said.strip())
            if found and (chance >= _READ or is_identifier(t)):
                share = len(found[1]) / len(said.strip())
                yield _Name(k, found[1].upper(), replace(t.box, x0=t.box.x1 - share * t.box.width), chance)
                break


def _wires_beside(strokes: Sequence[Stroke], name: Box) -> list[tuple[int, Point, bool]]:
    """Straight stretches of wires in line with a name, the nearest first: stroke, the spot on it, and True for an upright one."""
    x, y = name.centre
    found = []
    for number, stroke in enumerate(strokes):
        for a, b in pairwise(stroke.points):
            low, high = sorted((a[1], b[1]))
            left, right = sorted((a[0], b[0]))
            if low + _HALF < y < high - _HALF and right - left < _LEVEL * (high - low):
                at = a[0] + (b[0] - a[0]) * (y - a[1]) / (b[1] - a[1])
                away = max(name.x0 - at, at - name.x1)
                found.append((away, (number, (at, y), True)))
            elif left + _HALF < x < right - _HALF and high - low < _LEVEL * (right - left):
                at = a[1] + (b[1] - a[1]) * (x - a[0]) / (b[0] - a[0])
                away = max(name.y0 - at, at - name.y1)
                found.append((away, (number, (x, at), False)))
    return [spot for away, spot in sorted(found) if 0 < away < _FARTHEST]


def _pair(ink: Mask, name: Box, at: Point, pen: float, *, upright: bool) -> Box | None:
    """The box of two like pieces on either side of a wire at ``at``, None where none stand.

    ``ink``: that of the sheet; ``pen``: breadth of the wire, mm.
    """
    out = round(_AROUND * PX_PER_MM)
    x, y = (round(v * PX_PER_MM) for v in at)
    if x < out or y < out or x + out >= ink.shape[1] or y + out >= ink.shape[0]:
        return None
    window = cv2.morphologyEx(ink[y - out : y + out + 1, x - out : x + out + 1], cv2.MORPH_CLOSE, _WORN)
    x0, y0, x1, y1 = (round(v * PX_PER_MM) for v in (name.x0 - 0.2, name.y0 - 0.2, name.x1 + 0.2, name.y1 + 0.2))
    window[max(0, y0 - y + out) : max(0, y1 - y + out), max(0, x0 - x + out) : max(0, x1 - x + out)] = 0
    if not upright:
        window = np.ascontiguousarray(window.T)  # rows along the wire from here on
    half = round((pen / 2 + _ROOM) * PX_PER_MM)
    window[:, out - half : out + half + 1] = 0
    _, _, stats, _ = cv2.connectedComponentsWithStats(window, connectivity=8)
    sides: tuple[list[NDArray[np.int32]], list[NDArray[np.int32]]] = ([], [])
    for across, along, wide, long, _ in stats[1:]:
        edges = np.array([across - out, along - out, across + wide - out, along + long - out])
        whole = min(along, across) > 0 and along + long < window.shape[0] and across + wide < window.shape[1]
        if whole and _LEAST <= long / PX_PER_MM <= _MOST and min(abs(edges[0]), abs(edges[2])) <= _CLEAR * PX_PER_MM:
            if edges[2] <= 0:
                sides[0].append(edges)
            elif edges[0] > 0:
                sides[1].append(edges)
    like = _LIKE * PX_PER_MM
    for one in sides[0]:
        for other in sides[1]:
            apart = (one[1] - other[1], one[3] - other[3], -one[2] - other[0])
            middle = (one[1] + one[3]) / 2
            if all(abs(d) <= like for d in apart) and abs(middle) <= _IN_LINE * PX_PER_MM:
                a0, l0, a1, l1 = (
                    float(v) / PX_PER_MM for v in (one[0], min(one[1], other[1]), other[2], max(one[3], other[3]))
                )
                b = (a0, l0, a1, l1) if upright else (l0, a0, l1, a1)
                return Box(at[0] + b[0], at[1] + b[1], at[0] + b[2], at[1] + b[3])
    return None


def _on_wire(marks: Marks, number: int, sign: Symbol) -> Marks:
    """The marks with a sign on a stroke, which is cut there; strokes that are pieces of the sign are none."""
    room = sign.box.grown(_LIKE)
    own = {k for k, s in enumerate(marks.strokes) if all(room.holds(p) for p in s.points)}
    stroke = marks.strokes[number]
    first, last = _outside(stroke.points, sign.box) if number not in own else (None, None)
    strokes, meetings = list(marks.strokes), marks.meetings
    if first is not None and last is not None:
        strokes[number] = replace(stroke, points=first)
        meetings = tuple(_led(m, (number, 1), (len(strokes), 1)) for m in meetings)
        strokes.append(replace(stroke, points=last))
    place = {old: new for new, old in enumerate(k for k in range(len(strokes)) if k not in own)}
    kept = tuple(
        replace(m, strokes=tuple((place[k], end) for k, end in m.strokes))
        for m in meetings
        if not own.intersection(k for k, _ in m.strokes)
    )
    return replace(
        marks,
        strokes=tuple(s for k, s in enumerate(strokes) if k not in own),
        meetings=kept,
        symbols=(*marks.symbols, sign),
    )


def _led(meeting: Meeting, old: tuple[int, int], new: tuple[int, int]) -> Meeting:
    return replace(meeting, strokes=tuple(new if s == old else s for s in meeting.strokes))


def _outside(points: Sequence[Point], box: Box) -> tuple[tuple[Point, ...] | None, tuple[Point, ...] | None]:
    """What of a line lies before a box that it crosses once, and what behind it; None, None where it does not cross."""
    for k, (a, b) in enumerate(pairwise(points)):
        cuts = []
        for axis, edges in ((0, (box.x0, box.x1)), (1, (box.y0, box.y1))):
            if a[axis] != b[axis]:
                cuts += [(e - a[axis]) / (b[axis] - a[axis]) for e in edges]
        spots = [(s, (a[0] + s * (b[0] - a[0]), a[1] + s * (b[1] - a[1]))) for s in sorted(cuts) if 0 < s < 1]
        spots = [(s, p) for s, p in spots if box.holds(p, 1e-6)]
        if len(spots) == 2:
            return (*points[: k + 1], spots[0][1]), (spots[1][1], *points[k + 1 :])
    return None, None


def _alone(text: ReadText, name: _Name) -> ReadText:
    """The name without what was read before it."""
    if text.text.strip().upper() == name.said:
        return text
    said = (Alternative(name.said, name.chance),)
    return replace(
        text, box=name.box, text=name.said, kind="connector", probability=name.chance, free=said, by_kind=(("connector", said),)
    )  # fmt: skip


def _unread(text: ReadText) -> ReadText:
    """A piece of a sign, which was taken for letters."""
    return replace(text, text="", kind="word", probability=0.0, free=(), by_kind=())
