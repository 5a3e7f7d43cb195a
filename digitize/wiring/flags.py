"""Flags that hold a wire's code are labels: the wire goes through them. What holds anything else stays a part.

Decided by what is read in it: one line of lettering that reads as a code, and as a code rather than as the id of a
connector. Where flags with codes are the habit of a sheet, one of their height whose lettering is unreadable is taken
for one too, and so is what else is as high and holds what is a code if it is anything. A part whose outline holds
nothing but a code along its whole length is a flag as well, whatever it was taken for.
"""

from __future__ import annotations

from collections.abc import Sequence
from collections.abc import Set as AbstractSet
from dataclasses import replace
from statistics import median

from digitize.harness.place import Box
from digitize.ink.flag_leads import LEAD
from digitize.ink.flags import FLAG
from digitize.ink.state import Marks, Symbol
from digitize.reading.state import ReadText
from digitize.wiring.repairs import without_strokes

_CODE, _SURELY = 0.3, 0.6
"""Chance that the lettering of a flag, or of what was taken for a part, is a code, from which on it is a label."""
_HABIT = 4
"""So many flags with codes are a habit of the sheet (own choice)."""
_ALIKE = 0.2
"""Flags are of one height when they differ by no more than this share of it."""
_FILLED = 0.6
"""Lettering takes up so much of the length of what is nothing but a label, its pointed ends not counted."""
_READ = 0.1
"""What is read with less chance than this in a part is a bit of its outline."""
_LETTERING = 0.5
"""Blocks less likely lettering than this are bits of what is drawn, or of letters."""
_RIM = 0.6
"""What is left of the outline of a label that was taken for a part runs at most so far outside the part's box, mm."""
_PART = 0.5
"""Chance that a flag that holds no code is a part."""


def without_flags(marks: Marks, texts: Sequence[ReadText]) -> Marks:
    """The marks without the outlines of labels; the label's block of lettering then fills the outline's box.

    So the ends of a line on both sides of a flag are ends beside lettering that interrupts it (``wiring.lines``). Flags
    that hold no code become parts, or connectors where they hold the id of one. ``texts``: in the order of marks.texts.
    """
    bits = {k for k, b in enumerate(marks.texts) if b.probability < _LETTERING}
    held = {k: _held(s, texts, bits) for k, s in enumerate(marks.symbols)}
    labels = {k for k, s in enumerate(marks.symbols) if held[k] and _is_label(s, [texts[t] for t in held[k]])}
    heights = [_high(marks.symbols[k].box) for k in labels]
    if len(heights) >= _HABIT:
        usual = median(heights)
        alike = [k for k, s in enumerate(marks.symbols) if abs(_high(s.box) - usual) <= _ALIKE * usual]
        labels |= {k for k in alike if _may_be_label(marks.symbols[k], [texts[t] for t in held[k]])}
    if not labels and not any(s.kind == FLAG for s in marks.symbols):
        return marks
    blocks = list(marks.texts)
    for k in labels:
        for t in held[k]:
            blocks[t] = replace(blocks[t], box=_between_leads(marks.symbols[k]))
    symbols = tuple(_as_part(s, [texts[t] for t in held[k]]) for k, s in enumerate(marks.symbols) if k not in labels)
    rims = [marks.symbols[k].box.grown(_RIM) for k in labels if marks.symbols[k].kind != FLAG]
    left = {n for n, s in enumerate(marks.strokes) if any(all(b.holds(p) for p in s.points) for b in rims)}
    return without_strokes(replace(marks, symbols=symbols, texts=tuple(blocks)), left)


def _held(symbol: Symbol, texts: Sequence[ReadText], bits: AbstractSet[int]) -> list[int]:
    """The lettering in a symbol's box, widest first; nothing when it is not one line along the whole box.

    ``bits``: blocks that are hardly lettering; within another line they are strokes of its letters.
    """
    box = symbol.box
    inside = [k for k, t in enumerate(texts) if t.text and box.holds(t.box.centre)]
    lines = [texts[k].box for k in inside if k not in bits]
    inside = [k for k in inside if k not in bits or not any(b.holds(texts[k].box.centre) for b in lines)]
    upright = box.height > box.width
    if symbol.kind != FLAG or symbol.alternatives:
        inside = [k for k in inside if texts[k].probability >= _READ]
    if symbol.kind != FLAG:
        own = [texts[k] for k in inside]
        long = sum(t.box.height if upright else t.box.width for t in own)
        if len(own) > 2 or long < _FILLED * (max(box.width, box.height) - _high(box)):
            return []
        if any((t.box.width if upright else t.box.height) < 0.35 * _high(box) for t in own):
            return []
    return sorted(inside, key=lambda k: -max(texts[k].box.width, texts[k].box.height))


def _between_leads(symbol: Symbol) -> Box:
    """The part of a label's box that no line is led into (``ink.flag_leads``)."""
    b = symbol.box
    if symbol.kind != FLAG:
        return b
    lead = min(LEAD, 0.3 * max(b.width, b.height))
    return (
        Box(b.x0, b.y0 + lead, b.x1, b.y1 - lead) if b.height > b.width else Box(b.x0 + lead, b.y0, b.x1 - lead, b.y1)
    )


def _high(box: Box) -> float:
    return min(box.width, box.height)


def _chance(t: ReadText, kind: str) -> float:
    return sum(a.probability for a in t.of_kind(kind))


def _is_label(symbol: Symbol, own: Sequence[ReadText]) -> bool:
    best = max(own, key=lambda t: _chance(t, "code"))
    chance = _chance(best, "code")
    if symbol.kind == FLAG and not symbol.alternatives:
        return (chance > _CODE or best.kind == "code") and not _is_id(own[0])
    # of what is known to be a part, only lettering that is a code as a whole makes a label
    return len(own) == 1 and chance > _SURELY and best.kind == "code" and not _is_id(best)


def _may_be_label(symbol: Symbol, own: Sequence[ReadText]) -> bool:
    """Whether a symbol as high as the labels of its sheet is one of them, however its lettering is read."""
    if any(_is_id(t) for t in own):
        return False
    bare = symbol.kind == FLAG and not symbol.alternatives
    return bare or (len(own) == 1 and own[0].kind == "code")


def _is_id(t: ReadText) -> bool:
    """True for what reads as the id of a connector rather than as a code."""
    return _chance(t, "connector") > max(_CODE, _chance(t, "code"))


def _as_part(symbol: Symbol, own: Sequence[ReadText]) -> Symbol:
    if symbol.kind != FLAG:
        return symbol
    if symbol.alternatives:  # what the flag was taken for
        kind, chance = symbol.alternatives[0]
        return replace(symbol, kind=kind, probability=chance, alternatives=symbol.alternatives[1:])
    return replace(symbol, kind="connector" if any(_is_id(t) for t in own) else "unknown", probability=_PART)
