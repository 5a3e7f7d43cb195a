"""Letters that touch a line: the line goes on past them, it does not turn off into their strokes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from digitize.harness.place import Box
from digitize.ink.meetings import opposite
from digitize.ink.state import Marks, Meeting
from digitize.wiring.lines import Explained, explain
from digitize.wiring.loose import End, loose_ends
from digitize.wiring.repairs import away

_LETTER = 3.5
"""The strokes of a letter that touches a line are no longer and no higher than this, mm."""
_FROM_CROSSING = (2.0, 4.0)
"""Over how many mm the arms of a crossing are looked along: over a hop the way they leave it says little."""
_AT_PART = 1.3
"""A stroke that stops so near to a part may be its lead, mm."""


def past_letters(marks: Marks) -> Marks:
    """Marks in which a line goes on past a letter where four arms meet, and two lines cross there where five do.

    At a bend or a hop, each half of the line may look as if it went straight on into a stroke of the letter. Arms that are
    as short as a letter and lead nowhere are none of a crossing: nobody draws two wires that stop just behind each other.
    """
    far = {e.end for e in loose_ends(marks)}
    doubtful = {
        k: idle
        for k, m in enumerate(marks.meetings)
        if m.kind == "cross" and _is_one_of_each(m, idle := _short(marks, m, far))
    }
    crowded = [k for k, m in enumerate(marks.meetings) if m.kind == "cross" and len(m.strokes) == 5]
    if not doubtful and not crowded:
        return marks
    ways = _Ways.of(marks, explain(marks))
    meetings = list(marks.meetings)
    for k, idle in doubtful.items():
        if all(ways.lead_nowhere(_other(meetings[k].strokes[i])) for i in idle):
            on = tuple(i for i in range(4) if i not in idle)
            meetings[k] = replace(meetings[k], probability=0.8, through=((on[0], on[1]), (min(idle), max(idle))))
    for k in crowded:
        on = tuple(i for i in range(5) if not _is_letter(ways, k, meetings[k].strokes[i]))
        if len(on) == 4:
            meetings[k] = replace(meetings[k], probability=0.8, through=_crossed(marks, meetings[k], on))
    return replace(marks, meetings=tuple(meetings))


@dataclass(frozen=True, slots=True)
class _Ways:
    """Where the ends of strokes lead: to a meeting (by its number), over a gap to another end, or nowhere (``open``)."""

    marks: Marks
    explained: Explained
    met: Mapping[End, int]
    bridged: Mapping[End, End]
    open: frozenset[End]

    @classmethod
    def of(cls, marks: Marks, explained: Explained) -> _Ways:
        return cls(
            marks,
            explained,
            {e: n for n, m in enumerate(marks.meetings) for e in m.strokes},
            {a: b for bridge in explained.bridges for a, b in ((bridge.a, bridge.b), (bridge.b, bridge.a))},
            frozenset(e.end for e in explained.open),
        )

    def lead_nowhere(self, end: End) -> bool:
        """True when a loose end just stops, or at best looks towards a part from afar."""
        if end in self.explained.bodies and end not in self.explained.beyond:
            points = self.marks.strokes[end[0]].points
            body = self.marks.symbols[self.explained.bodies[end]].box
            return not body.holds(points[-1] if end[1] else points[0], _AT_PART)
        return end in self.open


def _is_letter(ways: _Ways, k: int, end: End) -> bool:
    """True when all that hangs at meeting ``k`` by the stroke of ``end`` is as small as a letter and leads nowhere else."""
    marks = ways.marks
    hung, todo = {end[0]}, [_other(end)]
    while todo:
        at = todo.pop()
        if at in ways.met:
            if ways.met[at] == k:
                return False
            more = [e for e in marks.meetings[ways.met[at]].strokes if e != at]
        elif at in ways.bridged:
            more = [ways.bridged[at]]
        elif ways.lead_nowhere(at):
            more = []
        else:
            return False
        more = [e for e in more if e[0] not in hung]
        hung |= {e[0] for e in more}
        todo += [_other(e) for e in more]
        box = Box.around([p for n in hung for p in marks.strokes[n].points])
        if max(box.width, box.height) > _LETTER:
            return False
    return True


def _crossed(marks: Marks, m: Meeting, on: tuple[int, ...]) -> tuple[tuple[int, int], ...]:
    """Which two pairs of the four arms ``on`` go on into each other; as it was when they make no two lines."""
    ways = (opposite([away(marks, m.strokes[i], over) for i in on])[0] for over in _FROM_CROSSING)
    pairs = max(ways, key=len)
    return tuple((on[i], on[j]) for i, j in pairs) if len(pairs) == 2 else m.through


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
