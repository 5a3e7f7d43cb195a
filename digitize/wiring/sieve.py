"""Which lines are wires: crumbs, title blocks, underlines and unknown parts are told from wires by what they lead to.

A *crumb* is a line without a code that leads nowhere: from nothing to nothing, round within a part's outline, or a spur.
A *leader* (``leaders``) leads from a note to what it speaks of.
A *tangle* is a small net of tees without dots that closes on itself: a part that nobody knew. It becomes an unknown
part, and the wires that reach it end there; a tangle that no wire reaches is unread lettering.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from digitize.harness.place import Box, length
from digitize.ink.meetings import opposite
from digitize.ink.state import Marks, Symbol
from digitize.reading.state import ReadText
from digitize.wiring.codes import Attached, attach_codes
from digitize.wiring.leaders import leaders_among
from digitize.wiring.lines import explain
from digitize.wiring.past_letters import past_letters
from digitize.wiring.repairs import away, is_dotted, worn_crossings
from digitize.wiring.shared_ways import with_shared_ways_parted
from digitize.wiring.touching import crossed_where_corners_touch
from digitize.wiring.trails import Trail, trails_of

_ROUNDS = 5
_OUTLINE = 1.8
"""A line that stays so near to a part's body, all the way, is the part's own, mm."""
_LARGEST_TANGLE = 26.0
"""Longest side of a part found by its tangle, mm."""
_STUB = 12.0
"""A dangling line that is shorter than this says nothing where wires carry codes, mm."""
_FROM_CROSSING = (2.0, 4.0)
"""Over how many mm the arms of a crossing are looked along: over a hop the way they leave it says little."""
_BETWEEN = 1.2
"""Ink between two connectors that is shorter than this, mm, is no wire: ways that stand close behind each other touch at their
tips (common practice, no source)."""
_SCRAP = 4.0
"""Two letters that ran into each other are no longer than this, mm."""
_SPUR, _AT_PART = 1.5, 1.3
"""What is shorter than this at a tee without a dot and stops farther off a part than that, mm, is what a letter left."""
_LONG, _BENT = 40.0, 1.1
"""Where wires carry no codes, a line at least so long, mm, and so many times as long as its ends are apart, is a wire though
nothing is seen at either end."""
_LINK = 16.0
"""Longest line inside a tangle, mm."""


@dataclass(frozen=True, slots=True)
class Lines:
    """Trails that are wires, with their codes; ``marks`` as they are after crumbs were dropped and parts added."""

    marks: Marks
    trails: tuple[Trail, ...]
    codes: tuple[Attached, ...]


def wires_of(marks: Marks, code_texts: Sequence[tuple[int, ReadText]]) -> Lines:
    """Follow the lines, drop what is no wire, and follow again: a crumb at a meeting makes a corner of a tee."""
    marks = worn_crossings(past_letters(crossed_where_corners_touch(with_shared_ways_parted(marks))))
    for n in range(_ROUNDS):
        trails = trails_of(marks, explain(marks))
        codes = _attached(code_texts, trails)
        coded = {a.trail for a in codes if a.belongs > 0.5}
        dotted = {k for k, m in enumerate(marks.meetings) if m.kind == "join" and _is_dot(marks, k)}
        usual = len(coded) > 0.7 * sum(length_of(t) > _STUB for t in trails)
        if not usual:
            coded |= {k for k, t in enumerate(trails) if _is_bent_line(t)}
        leaders = leaders_among(marks, trails) - coded
        dotted -= {s.what for k in leaders for s in trails[k].stops if s.kind == "join" and s.what is not None}
        drop = {
            k for k, t in enumerate(trails) if k not in coded and _is_crumb(marks, t, dotted, usual=usual)
        } | leaders
        inner, parts = _tangles(marks, trails, coded | drop, dotted)
        keep = _rooted(trails, set(range(len(trails))) - drop - inner, coded, dotted)
        if n == _ROUNDS - 1:
            break
        fewer = _without(marks, trails, keep, dotted)
        if fewer is None and not parts:
            break
        marks = replace(fewer or marks, symbols=(*marks.symbols, *parts))
    renumber = {k: i for i, k in enumerate(sorted(keep))}
    kept = tuple(trails[k] for k in sorted(keep))
    return Lines(marks, kept, tuple(replace(a, trail=renumber[a.trail]) for a in codes if a.trail in keep))


def _attached(code_texts: Sequence[tuple[int, ReadText]], trails: Sequence[Trail]) -> tuple[Attached, ...]:
    """Codes with the lines that they belong to; a scrap is none, though it may lie next to a code."""
    lines = [k for k, t in enumerate(trails) if not _is_scrap(t)]
    return tuple(replace(a, trail=lines[a.trail]) for a in attach_codes(code_texts, [trails[k] for k in lines]))


def _is_scrap(trail: Trail) -> bool:
    """True for a bit of line shorter than any code that leads nowhere, or only beyond lettering: a letter, dirt."""
    return all(s.kind == "open" or s.text is not None for s in trail.stops) and length_of(trail) < _SCRAP


def length_of(trail: Trail) -> float:
    """Length of a trail, mm."""
    return length(trail.points)


def _is_dot(marks: Marks, meeting: int) -> bool:
    return is_dotted(marks, marks.meetings[meeting])


def _is_crumb(marks: Marks, trail: Trail, dotted: set[int], *, usual: bool) -> bool:
    """True for a line without a code that leads nowhere, or stays within the outline of one part.

    ``usual``: most wires of this sheet carry codes, so that a short dangling line without one is none.
    """
    a, b = trail.stops
    kinds = {a.kind, b.kind}
    length = length_of(trail)
    at_dot = any(s.kind == "join" and s.what in dotted for s in (a, b))
    if kinds in ({"open"}, {"edge"}, {"open", "edge"}) or (
        "open" in kinds and length < (_STUB if usual and not at_dot else 3.0)
    ):
        return True
    if a.kind == b.kind and a.what == b.what and length < {"body": 25.0, "join": 8.0}.get(a.kind, 0.0):
        return True
    if kinds == {"open", "join"} and length < 5.0 and not at_dot:
        return True
    if kinds == {"body"} and a.what != b.what:
        ways = all(s.what is not None and marks.symbols[s.what].kind == "connector" for s in (a, b))
        return ways and length < _BETWEEN
    if kinds == {"body", "join"} and not at_dot and length < _SPUR and _falls_short(marks, trail):
        return True
    if at_dot or "edge" in kinds:
        return False
    box = Box.around(trail.points)
    return any(_holds(s.box.grown(_OUTLINE), box) for s in marks.symbols)


def _is_bent_line(trail: Trail) -> bool:
    """True for a long line round a corner with nothing at either end: only a wire is drawn so; where it leads is for a person."""
    over = math.dist(trail.points[0], trail.points[-1])
    return all(s.kind == "open" for s in trail.stops) and length_of(trail) >= max(_LONG, _BENT * over)


def _falls_short(marks: Marks, trail: Trail) -> bool:
    """True for a line that only looks towards a part from afar."""
    ends = zip(trail.stops, (trail.points[0], trail.points[-1]), strict=True)
    return any(
        stop.kind == "body" and stop.what is not None and not marks.symbols[stop.what].box.holds(at, _AT_PART)
        for stop, at in ends
    )


def _holds(outer: Box, inner: Box) -> bool:
    return outer.x0 <= inner.x0 and outer.y0 <= inner.y0 and outer.x1 >= inner.x1 and outer.y1 >= inner.y1


def _tangles(
    marks: Marks, trails: Sequence[Trail], skip: set[int], dotted: set[int]
) -> tuple[set[int], tuple[Symbol, ...]]:
    """Lines inside tangles, and the unknown parts that those tangles are which wires reach."""
    inside: dict[int, tuple[int, ...]] = {}
    for k, t in enumerate(trails):
        pair = tuple(s.what for s in t.stops if s.kind == "join" and s.what is not None and s.what not in dotted)
        if k not in skip and len(pair) == 2 and length_of(t) < _LINK:
            inside[k] = pair
    inner: set[int] = set()
    parts: list[Symbol] = []
    for joins in _groups(inside.values()):
        links = {k for k, ends in inside.items() if set(ends) <= joins}
        box = Box.around([p for k in links for p in trails[k].points])
        if len(links) < len(joins) or max(box.width, box.height) > _LARGEST_TANGLE:
            continue
        inner |= links
        reach = [
            k
            for k, t in enumerate(trails)
            if k not in links and any(s.kind == "join" and s.what in joins for s in t.stops)
        ]
        known = any(s.box.grown(_OUTLINE).holds(box.centre) for s in marks.symbols)
        if not known and any(length_of(trails[k]) > 4.0 for k in reach) and min(box.width, box.height) > 2.0:
            parts.append(Symbol("unknown", box.grown(0.2), 0.5))
    return inner, tuple(parts)


def _groups(pairs: Iterable[tuple[int, ...]]) -> list[set[int]]:
    """Joins linked with each other, directly or over others."""
    groups: list[set[int]] = []
    for pair in pairs:
        touched = [g for g in groups if g & set(pair)]
        groups = [g for g in groups if not g & set(pair)]
        groups.append(set(pair).union(*touched))
    return sorted(groups, key=min)


def _rooted(trails: Sequence[Trail], keep: set[int], coded: set[int], dotted: set[int]) -> set[int]:
    """Only nets that reach a part, or carry a code, or hold a dot: borders of title blocks and underlines do none."""
    joins = {k: tuple(s.what for s in trails[k].stops if s.kind == "join" and s.what is not None) for k in keep}
    net_of: dict[int, int] = {}
    for n, group in enumerate(_groups(j for j in joins.values() if j)):
        net_of.update(dict.fromkeys(group, n))
    members: dict[int, set[int]] = defaultdict(set)
    for k in sorted(keep):
        members[net_of[joins[k][0]] if joins[k] else -1 - k].add(k)
    out: set[int] = set()
    for net in members.values():
        stops = [s for k in net for s in trails[k].stops]
        if (
            net & coded
            or any(s.kind == "body" for s in stops)
            or any(s.what in dotted for s in stops if s.kind == "join")
        ):
            out |= net
    return out


def _without(marks: Marks, trails: Sequence[Trail], keep: set[int], dotted: set[int]) -> Marks | None:
    """Marks in which dropped lines no longer take part in joins without a dot; None when that changes nothing."""
    gone: dict[int, set[tuple[int, int]]] = defaultdict(set)
    for k, trail in enumerate(trails):
        if k not in keep:
            for stop, end in zip(trail.stops, trail.ends, strict=True):
                if stop.kind == "join" and stop.what is not None and stop.what not in dotted:
                    gone[stop.what].add(end)
    if not gone:
        return None
    meetings = list(marks.meetings)
    for k, ends in gone.items():
        m = marks.meetings[k]
        left = tuple(end for end in m.strokes if end not in ends)
        kind = "corner" if len(left) == 2 else "join"
        meetings[k] = replace(m, strokes=left, kind=kind, probability=0.9 if kind == "corner" else m.probability)
        if len(left) == 4 and m.kind == "join":
            # what ended at a crossing was a letter or dirt that touched it
            ways = (opposite([away(marks, end, over) for end in left])[0] for over in _FROM_CROSSING)
            through = max(ways, key=len)
            if len(through) == 2:
                meetings[k] = replace(meetings[k], kind="cross", probability=0.8, through=through)
    return replace(marks, meetings=tuple(m for m in meetings if len(m.strokes) > 1))
