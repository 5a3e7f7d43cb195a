"""Flags among the bodies of a sheet: what was taken for a part and is a label, and parts that are only the wires around one."""

from __future__ import annotations

from dataclasses import replace

from digitize.harness.place import Box
from digitize.ink.flags import MANY, as_usual
from digitize.ink.state import Symbol

_DOUBTFUL = 0.6
"""Bodies less probable than this give way to the flags that they hold."""
_PLAIN = ("module", "unknown")
"""What a bare outline is taken for, doubtfully: round one line of lettering it is a flag."""
_FRAMED = (*_PLAIN, "connector", "fuse_block", "relay", "switch", "motor", "alternator")
"""Parts in whose frame other things are drawn."""
_HUGS, _BROADER = 1.0, 3.0
"""What holds a flag, is longer by so much at each end, mm, and has so many times its area at most, is the wires around it.
A sign of no frame may be longer: none has an outline inside."""
_WHOLE = 0.85
"""A body that covers this share of a flag is as long as its outline."""


def with_flags(bodies: tuple[Symbol, ...], flags: tuple[Symbol, ...]) -> tuple[Symbol, ...]:
    """Bodies of a sheet with its flags behind them.

    What was taken for a part and lies within a flag is lettering. A body that is about the flag itself stays in its place:
    it is known what it is, should its lettering be no code. As high as the many flags of a sheet it is one more of them, and
    what it was taken for is the alternative. A doubtful body that holds a flag and more is a flag with the
    wires around it: no part but a box full of parts has another outline inside, and that is no doubtful one. Nor is it
    hardly larger than the flag: on a sheet of many flags even a body that looked sure is wires then.
    """
    kept: list[Symbol] = []
    taken: set[int] = set()
    usual = as_usual(flags, flags)
    for body in bodies:
        over = [(f.box.overlap(body.box), k) for k, f in enumerate(flags)]
        shared, k = max(over, default=(0.0, -1))
        area = body.box.width * body.box.height
        if shared <= 0.6 * area:
            held = shared > 0.9 * _area(flags[k].box) if flags else False
            if not (held and (body.probability < _DOUBTFUL or (len(flags) >= MANY and _hugs(body, flags[k].box)))):
                kept.append(body)
        elif shared > 0.6 * _area(flags[k].box) and not (body.kind in _PLAIN and body.probability < _DOUBTFUL):
            # one that covers a piece of the outline only is as large as the outline: else a stump of it would be a wire
            own = body if shared > _WHOLE * _area(flags[k].box) else replace(body, box=flags[k].box)
            if flags[k] in usual and body.kind != "connector" and body.taught is None:
                own = replace(flags[k], alternatives=((body.kind, body.probability),))
            kept.append(own)
            taken.add(k)
    return (*kept, *(f for k, f in enumerate(flags) if k not in taken))


def _hugs(body: Symbol, flag: Box) -> bool:
    """True for a body that is no longer than the flag it holds, but for _HUGS at each end, and not much larger."""
    b = body.box
    ends = (b.x0, b.x1, flag.x0, flag.x1)
    if flag.height > flag.width:
        ends = (b.y0, b.y1, flag.y0, flag.y1)
    long = max(ends[2] - ends[0], ends[1] - ends[3]) > _HUGS
    return not (long and body.kind in _FRAMED) and _area(b) <= _BROADER * _area(flag)


def _area(box: Box) -> float:
    return box.width * box.height
