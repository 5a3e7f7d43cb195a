"""Wires that run into a taped bundle and come out elsewhere: which end goes on into which.

By their codes first: two ends at different mouths of one sleeve that carry the same code are one conductor. What is left
at two mouths, when it is as many here as there and at most one of a pair has a code, goes on in order, as a draughtsman
draws it (common practice, no source). An end that finds no partner stays open and is told as such.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations

from digitize.harness.place import Box, Point
from digitize.ink.sleeves import SLEEVE
from digitize.ink.state import Symbol
from digitize.reading.state import ReadText
from digitize.wiring.codes import Attached
from digitize.wiring.sieve import Lines, length_of
from digitize.wiring.trails import Stop, Trail

_MOUTH = 9.0
"""Ends nearer than this along a sleeve are at one mouth, mm."""
_TOUCH = 1.5
"""Pieces of a bent sleeve lie so near to each other, mm."""
_ACROSS = 0.8
"""A line that goes on straight across a sleeve lies so exactly opposite, mm."""
_SAME = 0.3
"""Two codes are taken for the same one when they are so with at least this chance."""
BY_CODE, BY_ORDER, ACROSS = 0.96, 0.6, 0.9
"""Chance that a match is right when the codes agree for sure, when only the order speaks, for a line straight across."""


@dataclass(frozen=True, slots=True, eq=False)
class _Entry:
    """An end of a trail at a sleeve: which, where, and what may be read on the trail (text → chance)."""

    trail: int
    side: int
    at: Point
    codes: Mapping[str, float]


@dataclass(frozen=True, slots=True)
class _Match:
    a: _Entry
    b: _Entry
    probability: float


def through_sleeves(lines: Lines, texts: Sequence[ReadText]) -> Lines:
    """The lines with those that a sleeve interrupts put together, and the sleeves gone from the symbols.

    A filled band at which no two codes agree is no sleeve (it may be a bus bar): it stays as an unknown part.
    """
    symbols = lines.marks.symbols
    sleeves = {k for k, s in enumerate(symbols) if s.kind == SLEEVE}
    if not sleeves:
        return lines
    read: dict[int, list[Attached]] = defaultdict(list)
    for a in lines.codes:
        read[a.trail].append(a)
    said = {n: _said([texts[a.text] for a in found]) for n, found in read.items()}
    matches: list[_Match] = []
    unknown: set[int] = set()
    for group in _groups(symbols, sleeves):
        entries = [
            _Entry(n, side, stop.at, said.get(n, {}))
            for n, trail in enumerate(lines.trails)
            for side, stop in enumerate(trail.stops)
            if stop.kind == "body" and stop.what in group
        ]
        boxes = [symbols[k].box for k in sorted(group)]
        found = _matched(entries, boxes)
        if all(symbols[k].heading == "filled" for k in group) and not any(m.probability > BY_ORDER for m in found):
            unknown |= group
        else:
            matches += found
    return _joined(lines, matches, sleeves - unknown)


def _said(texts: Sequence[ReadText]) -> dict[str, float]:
    """What the codes on a trail may say, the surest text counts."""
    best: dict[str, float] = {}
    for t in texts:
        for a in t.of_kind("code") or t.free:
            best[a.text] = max(best.get(a.text, 0.0), a.probability)
    return best


def _groups(symbols: Sequence[Symbol], sleeves: set[int]) -> list[set[int]]:
    """Pieces that touch are one sleeve."""
    groups: list[set[int]] = []
    for k in sorted(sleeves):
        near = [g for g in groups if any(symbols[k].box.grown(_TOUCH).overlap(symbols[j].box) > 0 for j in g)]
        groups = [g for g in groups if g not in near] + [{k}.union(*near)]
    return groups


def _matched(entries: list[_Entry], boxes: Sequence[Box]) -> list[_Match]:
    """Pairs of ends that are one conductor."""
    left = list(entries)
    out = _across(left, boxes)
    left = [e for e in left if not any(e in (m.a, m.b) for m in out)]
    mouth = _mouths(left, boxes)
    every = [
        (_agree(a.codes, b.codes), a, b)
        for a, b in combinations(left, 2)
        if mouth[a] != mouth[b] and a.trail != b.trail
    ]
    every = [p for p in every if p[0] >= _SAME]
    while pairs := [p for p in every if p[1] in left and p[2] in left]:
        best = max(p[0] for p in pairs)
        # of several equally good partners the ones in the same place of their order are taken
        sure, a, b = min(
            (p for p in pairs if p[0] > best - 0.02), key=lambda p: (_rank_apart(p[1], p[2], left, mouth), -p[0])
        )
        rivals = [q for q in every if (q[1] in (a, b)) != (q[2] in (a, b)) and q[0] > 0.8 * sure]
        out.append(_Match(a, b, (BY_CODE if not rivals else 0.7) * min(1.0, sure + 0.5 * (1 - sure))))
        left = [e for e in left if e not in (a, b)]
    by_mouth: dict[int, list[_Entry]] = defaultdict(list)
    for e in left:
        by_mouth[mouth[e]].append(e)
    sides = [_in_order(es) for es in by_mouth.values()]
    if len(sides) == 2 and len(sides[0]) == len(sides[1]):
        for a, b in zip(*sides, strict=True):
            if not (a.codes and b.codes) and a.trail != b.trail:
                out.append(_Match(a, b, BY_ORDER))
    return out


def _across(entries: Sequence[_Entry], boxes: Sequence[Box]) -> list[_Match]:
    """Lines that pass over a sleeve at right angles: their two ends lie exactly opposite each other."""
    out: list[_Match] = []
    for a, b in combinations(entries, 2):
        box = min(boxes, key=lambda q: math.dist(q.centre, a.at))
        flat = box.width >= box.height
        along, over = (0, 1) if flat else (1, 0)
        breadth = box.height if flat else box.width
        inner = (box.x0, box.x1) if flat else (box.y0, box.y1)
        if (
            a.trail != b.trail
            and abs(a.at[along] - b.at[along]) < _ACROSS
            and abs(abs(a.at[over] - b.at[over]) - breadth) < 3.0
            and inner[0] + 2.0 < a.at[along] < inner[1] - 2.0
            and not (a.codes and b.codes and _agree(a.codes, b.codes) < _SAME)
            and not any(e in (m.a, m.b) for m in out for e in (a, b))
        ):
            out.append(_Match(a, b, ACROSS))
    return out


def _mouths(entries: Sequence[_Entry], boxes: Sequence[Box]) -> dict[_Entry, int]:
    """Ends near each other on one side of a sleeve are at one mouth."""
    found: list[list[_Entry]] = []
    for e in sorted(entries, key=lambda e: (e.at, e.trail, e.side)):
        near = [m for m in found if any(_near(e, o, boxes) for o in m)]
        found = [m for m in found if m not in near]
        found.append([e, *(o for m in near for o in m)])
    return {e: n for n, mouth in enumerate(found) for e in mouth}


def _near(a: _Entry, b: _Entry, boxes: Sequence[Box]) -> bool:
    return math.dist(a.at, b.at) < _MOUTH and _side(a.at, boxes) == _side(b.at, boxes)


def _side(at: Point, boxes: Sequence[Box]) -> tuple[int, str]:
    """The piece of the sleeve an end lies at, and the side of it."""
    k = min(range(len(boxes)), key=lambda k: _off(boxes[k], at))
    b = boxes[k]
    away = {"left": b.x0 - at[0], "right": at[0] - b.x1, "top": b.y0 - at[1], "bottom": at[1] - b.y1}
    return k, max(away, key=lambda s: away[s])


def _off(box: Box, at: Point) -> float:
    return math.hypot(max(box.x0 - at[0], at[0] - box.x1, 0.0), max(box.y0 - at[1], at[1] - box.y1, 0.0))


def _in_order(entries: Sequence[_Entry]) -> list[_Entry]:
    """Ends of one mouth across it: top to bottom, or left to right where they lie level."""
    box = Box.around([e.at for e in entries])
    return sorted(entries, key=lambda e: e.at[::-1] if box.height >= box.width else e.at)


def _rank_apart(a: _Entry, b: _Entry, left: Sequence[_Entry], mouth: Mapping[_Entry, int]) -> int:
    ranks = [_in_order([e for e in left if mouth[e] == mouth[x]]).index(x) for x in (a, b)]
    return abs(ranks[0] - ranks[1])


def _agree(a: Mapping[str, float], b: Mapping[str, float]) -> float:
    """Chance that both carry one code."""
    return min(1.0, sum(p * b.get(text, 0.0) for text, p in a.items()))


def _joined(lines: Lines, matches: Sequence[_Match], gone: set[int]) -> Lines:
    trails: dict[int, Trail] = dict(enumerate(lines.trails))
    place = {(n, side): (n, side) for n in trails for side in (0, 1)}
    codes = list(lines.codes)
    for m in matches:
        (n, s), (k, t) = place[m.a.trail, m.a.side], place[m.b.trail, m.b.side]
        if n == k:
            continue  # both ends of what is one line by now: no ring is made of it
        first, second = _turned(trails[n], last=s), _turned(trails[k], last=1 - t)
        whole = replace(
            first,
            stops=(first.stops[0], second.stops[1]),
            ends=(first.ends[0], second.ends[1]),
            points=(*first.points, *second.points),
            bridges=(*first.bridges, *second.bridges),
            probability=first.probability * second.probability * m.probability,
        )
        total, one, two = length_of(whole), length_of(first), length_of(second)
        for i, c in enumerate(codes):
            if c.trail == n:
                codes[i] = replace(c, along=(c.along if s == 1 else 1 - c.along) * one / max(total, 1e-6))
            elif c.trail == k:
                back = (c.along if t == 0 else 1 - c.along) * two
                codes[i] = replace(c, trail=n, along=(total - two + back) / max(total, 1e-6))
        trails[n] = whole
        del trails[k]
        for key, (owner, side) in place.items():
            if (owner, side) == (n, 1 - s):
                place[key] = (n, 0)
            elif (owner, side) == (k, 1 - t):
                place[key] = (n, 1)
    symbols = lines.marks.symbols
    number = {old: new for new, old in enumerate(k for k in range(len(symbols)) if k not in gone)}
    kept = tuple(
        replace(s, kind="unknown", heading=None, probability=0.5) if s.kind == SLEEVE else s
        for k, s in enumerate(symbols)
        if k not in gone
    )
    order = {old: new for new, old in enumerate(sorted(trails))}
    return Lines(
        replace(lines.marks, symbols=kept),
        tuple(_renumbered(trails[k], number) for k in sorted(trails)),
        tuple(replace(c, trail=order[c.trail]) for c in codes),
    )


def _turned(trail: Trail, last: int) -> Trail:
    """The trail run through so that its side ``last`` comes last."""
    if last == 1:
        return trail
    return replace(
        trail, stops=trail.stops[::-1], ends=trail.ends[::-1], points=trail.points[::-1], bridges=trail.bridges[::-1]
    )


def _renumbered(trail: Trail, number: Mapping[int, int]) -> Trail:
    """Bodies by their new places; an end at a sleeve that found no partner is open."""

    def stop(old: Stop) -> Stop:
        if old.kind != "body" or old.what is None:
            return old
        return replace(old, what=number[old.what]) if old.what in number else Stop("open", old.at, text=old.text)

    bridges = tuple(
        replace(b, what=number[b.what]) if b.over == "grommet" and b.what is not None and b.what in number else b
        for b in trail.bridges
    )
    return replace(trail, stops=(stop(trail.stops[0]), stop(trail.stops[1])), bridges=bridges)
