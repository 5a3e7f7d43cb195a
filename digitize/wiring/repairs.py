"""What wear and lettering took from meetings: arms of crossings, stubs between a dot and the code behind it."""

from __future__ import annotations

import math
from collections.abc import Collection
from dataclasses import replace

from digitize.harness.place import Box, Point, Polyline
from digitize.ink.state import Marks, Meeting, Stroke, TextBlock
from digitize.wiring.gaps import GAP
from digitize.wiring.loose import End, LooseEnd, cut_back, facing, heading, loose_ends
from digitize.wiring.nearby import Nearby, spot
from digitize.wiring.over_texts import beside

_HOP = 1.8
"""A hop is at most so high, and half as wide, mm (common practice, no source)."""
_TEE = 35.0
"""Two arms of a tee that go on into each other bend by less, degrees."""
_HIDDEN = 0.8
"""Behind a crossing of thick lines a longer stub is no line of its own yet: so many widths more."""
_AT_DOT = 0.7
"""A meeting lies at most so far from the middle of the dot that marks it, mm."""
_TO_GROMMET = 1.7
"""A grommet stands at most so far behind the line that its wire crosses before it, mm."""
_ASIDE = 1.2
"""Its wire reaches and leaves it in one line, within so much, mm."""
_ON_HOP = -0.9
"""Lettering that takes the place of a hop's far leg begins so far behind the line that is hopped over, mm."""
_OFF_SYMBOLS = 0.5
"""A tee so near to a symbol is of its outline, mm."""
_LEFT = 0.9
"""Chance that two strokes are one line when what met them was none."""
_TO_DOT = 1.2
"""A worn line stops at most so far from the rim of the dot that it led to, mm."""


def is_dotted(marks: Marks, m: Meeting) -> bool:
    """True when a dot marks a meeting."""
    return any(math.dist(d.at, m.at) < _AT_DOT for d in marks.dots)


def is_bare_tee(marks: Marks, m: Meeting) -> bool:
    """True where three strokes meet that no dot joins, away from every symbol."""
    if m.kind != "join" or len(m.strokes) != 3 or len({k for k, _ in m.strokes}) != 3:
        return False
    return not is_dotted(marks, m) and not any(s.box.holds(m.at, _OFF_SYMBOLS) for s in marks.symbols)


def without_strokes(marks: Marks, gone: Collection[int], apart: Collection[int] = ()) -> Marks:
    """The marks without the strokes ``gone`` and the meetings ``apart`` (positions in ``marks``).

    Of the other meetings, one that is left with two strokes is a corner, and one with a single stroke is none.
    """
    number = {k: i for i, k in enumerate(k for k in range(len(marks.strokes)) if k not in gone)}
    meetings = []
    for k, m in enumerate(marks.meetings):
        place = {i: n for n, i in enumerate(i for i, (stroke, _) in enumerate(m.strokes) if stroke in number)}
        if k in apart or len(place) < 2:
            continue
        left = tuple((number[m.strokes[i][0]], m.strokes[i][1]) for i in place)
        through = tuple((place[i], place[j]) for i, j in m.through if i in place and j in place)
        if len(left) == 2 < len(m.strokes):
            meetings.append(Meeting(m.at, "corner", _LEFT, left))
        else:
            meetings.append(replace(m, strokes=left, through=through))
    return replace(marks, strokes=tuple(marks.strokes[k] for k in number), meetings=tuple(meetings))


def worn_crossings(marks: Marks) -> Marks:
    """Marks in which a tee without a dot that goes on right across it is the plain crossing it was.

    One arm of a crossing is easily worn away, and where lettering stands close behind a crossing the stub between is
    too short to be a line. A draughtsman would not stop a wire just short of another one.
    """
    loose = loose_ends(marks)
    ends_near = Nearby(loose, [spot(e.at) for e in loose])
    texts_near = Nearby(marks.texts, [t.box for t in marks.texts])
    used: set[End] = set()
    meetings, strokes = list(marks.meetings), list(marks.strokes)
    for k, m in enumerate(marks.meetings):
        if (
            m.kind != "join"
            or len(m.strokes) != 3
            or is_dotted(marks, m)
            or any(b.box.holds(m.at, 1.2) for b in marks.symbols if b.kind != "grommet")
        ):
            continue
        arms = [heading(_towards(marks, end)) for end in m.strokes]
        stem = min(range(3), key=lambda i: _straightness(arms, i))
        one, other = (i for i in range(3) if i != stem)
        if _bend(arms[one], arms[other]) > _TEE:
            under = _under_hop(marks, m)
            if under is None:
                continue
            stem = under
            one, other = (i for i in range(3) if i != stem)
        over = LooseEnd((-1, 0), m.at, arms[stem], arms[stem])
        hop = _before_hop(marks, m.strokes[stem], m.at)
        opposite = [
            e
            for e in ends_near.around(m.at, GAP)
            if e.end not in used
            and math.dist(e.at, m.at) <= GAP
            and (facing(over, e, 0.5) or (hop is not None and facing(hop, e, 0.5)))
        ]
        if opposite:
            fourth = min(opposite, key=lambda e: math.dist(e.at, m.at)).end
            used.add(fourth)
        elif (on := _interrupted(marks, texts_near, over, hop, marks.strokes[m.strokes[stem][0]].width)) is not None:
            tip = (on.at[0] + on.out[0] * 0.5, on.at[1] + on.out[1] * 0.5)
            strokes.append(replace(marks.strokes[m.strokes[stem][0]], points=(m.at, tip)))
            fourth = (len(strokes) - 1, 0)
        else:
            continue
        meetings[k] = replace(
            m, kind="cross", probability=0.8, strokes=(*m.strokes, fourth), through=((one, other), (stem, 3))
        )
    mended = _led_into_dots(replace(marks, meetings=tuple(meetings), strokes=tuple(strokes)))
    mended = _joined_beyond_lettering(mended, loose_ends(mended))
    return _led_through(mended, loose)


def _under_hop(marks: Marks, meeting: Meeting) -> int | None:
    """Which of three arms ends under the hop that the other two make; None when they make none."""
    flat = [_before_hop(marks, end, meeting.at) for end in meeting.strokes]
    found = []
    for stem in range(3):
        one, other = (flat[i] for i in range(3) if i != stem)
        if one is not None and other is not None and _bend(one.out, other.out) <= _TEE and facing(one, other, 0.5):
            found.append(stem)
    return found[0] if len(found) == 1 else None


def _before_hop(marks: Marks, end: End, at: Point) -> LooseEnd | None:
    """Where an arm that hops over the meeting at ``at`` would pass it if it did not, from its straight part; None if bent."""
    back = cut_back(_towards(marks, end), _HOP)
    if len(back) < 2 or math.dist(back[0], back[-1]) < 1.0:
        return None
    out = heading(back)
    along = (at[0] - back[-1][0]) * out[0] + (at[1] - back[-1][1]) * out[1]
    foot = (back[-1][0] + out[0] * along, back[-1][1] + out[1] * along)
    return LooseEnd((-1, 0), foot, out, out) if along > 0 and math.dist(foot, at) <= _HOP else None


def away(marks: Marks, end: End, over: float = 2.0) -> Point:
    """Unit vector in which a stroke leaves its end ``end``, over so many mm."""
    x, y = heading(_towards(marks, end), over)
    return (-x, -y)


def _joined_beyond_lettering(marks: Marks, loose: list[LooseEnd]) -> Marks:
    """Marks in which a dot right behind lettering has an arm towards it, where a line ends at the far side of that.

    The stub between lettering and dot is shorter than the dot is wide, so that no ink of its own is left of it.
    """
    meetings, strokes = list(marks.meetings), list(marks.strokes)
    for k, m in enumerate(marks.meetings):
        if m.kind != "join" or not is_dotted(marks, m):
            continue
        for block in marks.texts:
            flat = block.angle in (0, 180)
            if max(block.box.width, block.box.height) <= 6 or not _level(block.box, m.at, flat=flat):
                continue
            for sign in (1, -1):
                on = (float(sign), 0.0) if flat else (0.0, float(sign))
                if not -0.5 <= _before(block.box, m.at, flat=flat, sign=sign) <= 2.2 or _has_arm(marks, m, on):
                    continue
                if any(beside(block.box, e, flat=flat, sign=-sign) for e in loose):
                    strokes.append(Stroke((m.at, (m.at[0] + on[0] * 0.4, m.at[1] + on[1] * 0.4)), 0.3))
                    meetings[k] = replace(meetings[k], strokes=(*meetings[k].strokes, (len(strokes) - 1, 0)))
    return replace(marks, meetings=tuple(meetings), strokes=tuple(strokes))


def _led_through(marks: Marks, loose: list[LooseEnd]) -> Marks:
    """Marks in which a grommet that a line reaches from one side has a stub at the other, where lettering stands there.

    A wire goes through a grommet unchanged; where its code begins right behind, no ink of the wire is left between.
    """
    strokes = list(marks.strokes)
    for body in (s for s in marks.symbols if s.kind == "grommet"):
        b = body.box
        near = [e for e in loose if b.holds(e.at, 1.3)]
        for e in near:
            way = _way_through(e, b)
            flat = abs(way[0]) > 0.85
            along = way[0] if flat else way[1]
            middle = b.centre[0] if flat else b.centre[1]
            at = e.at[0] if flat else e.at[1]
            sign = 1 if along > 0 else -1
            if abs(along) < 0.85 or (middle - at) * sign <= 0:
                continue
            if any(facing(e, f, _ASIDE) or _is_across(e, f, b, flat=flat) for f in near if f is not e):
                continue
            edge = (b.x1 if sign > 0 else b.x0) if flat else (b.y1 if sign > 0 else b.y0)
            on = (float(sign), 0.0) if flat else (0.0, float(sign))
            tip = (edge + on[0] * 0.3, e.at[1]) if flat else (e.at[0], edge + on[1] * 0.3)
            if any(_begins_at(t.box, t.angle, tip, on) for t in marks.texts):
                foot = (tip[0] - on[0] * 0.4, tip[1] - on[1] * 0.4)
                strokes.append(replace(marks.strokes[e.end[0]], points=(foot, tip)))
    return replace(marks, strokes=tuple(strokes))


def _is_across(e: LooseEnd, f: LooseEnd, grommet: Box, *, flat: bool) -> bool:
    """True for ends on opposite sides of a grommet in one line, though one turns off right there."""
    along, aside = (0, 1) if flat else (1, 0)
    middle = grommet.centre[along]
    return abs(e.at[aside] - f.at[aside]) <= _ASIDE and (e.at[along] - middle) * (f.at[along] - middle) < 0


def _way_through(e: LooseEnd, grommet: Box) -> Point:
    """In which direction a line goes through a grommet: along its middle, though the line turns a corner right before it."""
    x, y = grommet.centre[0] - e.at[0], grommet.centre[1] - e.at[1]
    if min(abs(x), abs(y)) > _AT_DOT:
        return e.out
    return (math.copysign(1.0, x), 0.0) if abs(x) > abs(y) else (0.0, math.copysign(1.0, y))


def _led_into_dots(marks: Marks) -> Marks:
    """Marks in which a line that stops just short of a dot, and looks at it from where it has no arm, ends in it."""
    meetings, strokes = list(marks.meetings), list(marks.strokes)
    loose = loose_ends(marks)
    for k, m in enumerate(marks.meetings):
        dot = next((d for d in marks.dots if math.dist(d.at, m.at) < _AT_DOT), None) if m.kind == "join" else None
        if dot is None:
            continue
        for e in loose:
            dx, dy = m.at[0] - e.at[0], m.at[1] - e.at[1]
            ahead, aside = dx * e.out[0] + dy * e.out[1], abs(dx * e.out[1] - dy * e.out[0])
            if not 0 < ahead <= dot.diameter / 2 + _TO_DOT or aside > 0.4 * dot.diameter:
                continue
            if e.end in meetings[k].strokes or _has_arm(marks, meetings[k], (-e.out[0], -e.out[1])):
                continue
            points = strokes[e.end[0]].points
            points = (*points, m.at) if e.end[1] else (m.at, *points)
            strokes[e.end[0]] = replace(strokes[e.end[0]], points=points)
            meetings[k] = replace(meetings[k], strokes=(*meetings[k].strokes, e.end))
    return replace(marks, meetings=tuple(meetings), strokes=tuple(strokes))


def _has_arm(marks: Marks, meeting: Meeting, on: Point) -> bool:
    """True when an arm of the meeting already leads in direction ``on`` beyond its dot."""
    for end in meeting.strokes:
        into = heading(_towards(marks, end))
        if -(into[0] * on[0] + into[1] * on[1]) > 0.8:
            return True
    return False


def _grommet_ahead(marks: Marks, over: LooseEnd) -> bool:
    """True when a line that crosses here would run into a grommet right behind: the stub between is too short to be a line."""
    tip = (over.at[0] + over.out[0] * _TO_GROMMET, over.at[1] + over.out[1] * _TO_GROMMET)
    return any(s.kind == "grommet" and s.box.holds(tip) and not s.box.holds(over.at) for s in marks.symbols)


def _interrupted(
    marks: Marks, texts: Nearby[TextBlock], over: LooseEnd, hop: LooseEnd | None, width: float
) -> LooseEnd | None:
    """The way on of a line that crosses here, or hops over, where a grommet or lettering right behind hides it."""
    reach = 2.0 + _HIDDEN * width
    if _grommet_ahead(marks, over) or _lettering_ahead(texts, over, reach):
        return over
    return hop if hop is not None and _lettering_ahead(texts, hop, reach, _ON_HOP) else None


def _lettering_ahead(texts: Nearby[TextBlock], over: LooseEnd, reach: float, least: float = 0.0) -> bool:
    """True when a line that crosses here would run into lettering, in its reading direction, ``least`` to ``reach`` mm on."""
    for block in texts.around(over.at, reach):
        flat = block.angle in (0, 180)
        longest = block.box.width if flat else block.box.height
        along = over.out[0] if flat else over.out[1]
        sign = 1 if along > 0 else -1
        gap = _before(block.box, over.at, flat=flat, sign=sign)
        if abs(along) > 0.9 and longest > 6 and least <= gap <= reach and _level(block.box, over.at, flat=flat):
            return True
    return False


def _begins_at(box: Box, angle: int, at: Point, on: Point) -> bool:
    """True when a line of lettering begins at ``at`` (from 0.9 mm before it to 2.4 mm behind it) and runs on in ``on``."""
    flat = angle in (0, 180)
    longest = box.width if flat else box.height
    along = on[0] if flat else on[1]
    if abs(along) < 0.9 or longest <= 6 or not _level(box, at, flat=flat):
        return False
    return -0.9 <= _before(box, at, flat=flat, sign=1 if along > 0 else -1) <= 2.4


def _before(box: Box, at: Point, *, flat: bool, sign: int) -> float:
    """How far a point lies before a block of lettering in direction ``sign`` of its axis, mm; negative inside it."""
    if flat:
        return box.x0 - at[0] if sign > 0 else at[0] - box.x1
    return box.y0 - at[1] if sign > 0 else at[1] - box.y1


def _level(box: Box, at: Point, *, flat: bool) -> bool:
    """True when a point lies at the height of a line of lettering."""
    return box.y0 - 0.2 <= at[1] <= box.y1 + 0.2 if flat else box.x0 - 0.2 <= at[0] <= box.x1 + 0.2


def _towards(marks: Marks, end: End) -> Polyline:
    """The points of a stroke, running into the end ``end``."""
    points = marks.strokes[end[0]].points
    return points if end[1] else points[::-1]


def _bend(u: Point, v: Point) -> float:
    """How far two arms are from making one straight line, degrees; both vectors lead into the meeting."""
    return math.degrees(math.acos(max(-1.0, min(1.0, -(u[0] * v[0] + u[1] * v[1])))))


def _straightness(arms: list[Point], without: int) -> float:
    """Bend of the other two arms when ``without`` is the stem, degrees."""
    a, b = (arms[i] for i in range(3) if i != without)
    return _bend(a, b)
