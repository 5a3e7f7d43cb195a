"""Letters that touch a line: the line goes on past them, it does not turn off into their strokes."""

from __future__ import annotations

from dataclasses import replace

from digitize.harness.place import Box
from digitize.ink.state import Marks, Meeting
from digitize.wiring.lines import Explained, explain
from digitize.wiring.loose import End, loose_ends

_LETTER = 3.5
"""The strokes of a letter that touches a line are no longer and no higher than this, mm."""
_AT_PART = 1.3
"""A stroke that stops so near to a part may be its lead, mm."""


def past_letters(marks: Marks) -> Marks:
    """Marks in which a line goes on past a letter where four arms meet: the two arms that lead on are one line.

    At a bend or a hop, each half of the line may look as if it went straight on into a stroke of the letter. Arms that are
    as short as a letter and lead nowhere are none of a crossing: nobody draws two wires that stop just behind each other.
    """
    far = {e.end for e in loose_ends(marks)}
    doubtful = {
        k: idle
        for k, m in enumerate(marks.meetings)
        if m.kind == "cross" and _is_one_of_each(m, idle := _short(marks, m, far))
    }
    if not doubtful:
        return marks
    explained = explain(marks)
    meetings = list(marks.meetings)
    for k, idle in doubtful.items():
        if all(_leads_nowhere(marks, explained, _other(meetings[k].strokes[i])) for i in idle):
            on = tuple(i for i in range(4) if i not in idle)
            meetings[k] = replace(meetings[k], probability=0.8, through=((on[0], on[1]), (min(idle), max(idle))))
    return replace(marks, meetings=tuple(meetings))


def _short(marks: Marks, m: Meeting, far: set[End]) -> set[int]:
    """Which arms of a meeting are as short as strokes of a letter and meet nothing at their other end."""
    out = set()
    for i, end in enumerate(m.strokes):
        box = Box.around(marks.strokes[end[0]].points)
        if _other(end) in far and max(box.width, box.height) <= _LETTER:
            out.add(i)
    return out


def _is_one_of_each(m: Meeting, idle: set[int]) -> bool:
    """True for two arms of four that are not taken for one line."""
    return len(m.strokes) == 4 and len(m.through) == len(idle) == 2 and all(len(idle & {*p}) == 1 for p in m.through)


def _other(end: End) -> End:
    return (end[0], 1 - end[1])


def _leads_nowhere(marks: Marks, explained: Explained, end: End) -> bool:
    """True when a loose end just stops, or at best looks towards a part from afar."""
    if end in explained.bodies and end not in explained.beyond:
        points = marks.strokes[end[0]].points
        return not marks.symbols[explained.bodies[end]].box.holds(points[-1] if end[1] else points[0], _AT_PART)
    return any(e.end == end for e in explained.open)
