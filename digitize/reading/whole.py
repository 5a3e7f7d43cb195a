"""Blocks that hold only a part of a string: joined with their neighbours, or lengthened over ink that goes on beside them.

The finder cuts where letters run together, break or pale. Every place where ink continues a line (``continued``) is read
once more with that ink; the longer reading stands where it obeys a grammar that the part does not, or reads as well.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from digitize.harness.place import Box
from digitize.ink.state import Marks, TextBlock
from digitize.reading.continued import Ends, ends_of, grown, pale_ink
from digitize.reading.crops import cut_blocks
from digitize.reading.decode import Found
from digitize.reading.engines import Grey
from digitize.reading.weigh import Verdict

SURE = 0.9
"""A part that obeys a grammar with this share of belief is whole, unless ink goes on right beside it."""
LAWFUL, PLAIN = 0.5, 0.8
"""Least share of belief for a longer reading that is a code, or that obeys another grammar."""
FREE, LEAST_FREE = 0.6, 0.4
"""One that obeys no grammar needs so much of the belief in all its parts together, and so much at least."""
LEAST_MORE = 0.2
"""Less new length than this, in letter heights, is the edge of a letter."""
MOST_MORE_SURE = 3.3
"""A lone character, or what obeys a grammar already, is lengthened by at most so much, in letter heights: a tracer's name."""
SWALLOWED = 0.6
"""A block with this share of its area inside a longer one is a part of it."""
HELD = 0.85
"""A lone sign with this share of its area inside a string is a sign of that string and no string of its own."""
LEAST_HOLDER = 4
"""A string of so many characters may hold one."""
CUT = 0.05
_EVEN, UNEVEN = 1.35, 0.4
_WORN, _FOOT = 1.6, 0.12
"""A letter whose top or rim has worn away may be lower than that if it stands on the same foot line, in letter heights."""
_CODE_LETTERS = 4


@dataclass(frozen=True, slots=True)
class Seen:
    """One block as it was seen: its crop, the free readings, those along each grammar, how far each may be believed, and what stands.

    ``loose``: the grammar of codes was that of a manual that does not say how they are made.
    """

    crop: Grey
    free: tuple[Found, ...]
    by_kind: Mapping[str, tuple[Found, ...]]
    limits: Mapping[str, float]
    verdict: Verdict
    loose: bool = False


Look = Callable[[Sequence[Grey], Sequence[int]], list[Seen | None]]
"""Reads crops; those in which the first glance shows no more letters and digits than the number with them give None."""


@dataclass(frozen=True, slots=True)
class _Longer:
    """A block made longer: ``parts`` are the positions of the blocks that it takes the place of, its own first."""

    parts: tuple[int, ...]
    block: TextBlock
    near: bool


def whole_strings(marks: Marks, seen: Sequence[Seen], look: Look) -> tuple[Marks, list[Seen]]:
    """``marks`` with parts of strings joined, and what is seen in its blocks. ``look`` reads crops."""
    tries = list(_tries(marks, seen))
    if not tries:
        return _without_held(marks, seen)
    views = look(cut_blocks(marks, [t.block for t in tries]), [_letters(seen[t.parts[0]].verdict) for t in tries])
    good = [
        (t, v) for t, v in zip(tries, views, strict=True) if v is not None and _better(t, v, [seen[k] for k in t.parts])
    ]
    good.sort(key=lambda tv: (not tv[1].verdict.fits, -len(tv[1].verdict.text), -tv[1].verdict.share, tv[0].parts))
    gone: set[int] = set()
    new: dict[int, tuple[TextBlock, Seen]] = {}
    for longer, view in good:
        if not gone.intersection(longer.parts):
            gone.update(longer.parts)
            new[longer.parts[0]] = (_without_stubs(longer, view, [marks.texts[k] for k in longer.parts]), view)
    out: list[tuple[TextBlock, Seen]] = []
    for k, (block, view) in enumerate(zip(marks.texts, seen, strict=True)):
        if k in new:
            out.append(new[k])
        elif k not in gone:
            out.append((block, view))
    return _without_held(replace(marks, texts=tuple(block for block, _ in out)), [view for _, view in out])


def _without_held(marks: Marks, seen: Sequence[Seen]) -> tuple[Marks, list[Seen]]:
    """The blocks in which no lone sign lies inside a string, numbered anew: a slash deeper than its line, a dash over which it was joined."""
    if not marks.texts:
        return marks, list(seen)
    edges = np.array([(b.box.x0, b.box.y0, b.box.x1, b.box.y1) for b in marks.texts])
    bare = [v.verdict.text.replace(" ", "") for v in seen]
    holder = np.array([len(t) >= LEAST_HOLDER and v.verdict.share >= LAWFUL for t, v in zip(bare, seen, strict=True)])
    kept = []
    for k, text in enumerate(bare):
        x0, y0, x1, y1 = edges[k]
        wide = np.minimum(edges[:, 2], x1) - np.maximum(edges[:, 0], x0)
        high = np.minimum(edges[:, 3], y1) - np.maximum(edges[:, 1], y0)
        held = (wide > 0) & (high > 0) & (wide * high >= HELD * (x1 - x0) * (y1 - y0))
        if len(text) > 1 or text.isalnum() or not (held & holder).any():
            kept.append(k)
    blocks = tuple(replace(marks.texts[k], id=n) for n, k in enumerate(kept))
    return replace(marks, texts=blocks), [seen[k] for k in kept]


def _tries(marks: Marks, seen: Sequence[Seen]) -> list[_Longer]:
    out: list[_Longer] = []
    ink = pale_ink(marks.sheet.grey, marks.sheet.ink)
    for k, (block, view) in enumerate(zip(marks.texts, seen, strict=True)):
        text = view.verdict.text.replace(" ", "")
        if not text or text in "-./,'" or view.verdict.share < LAWFUL:
            continue
        ends = ends_of(ink, block.box, block.angle)
        for by, near in _options(ends, view.verdict, _height(block), len(text)):
            out.extend(t for t in _longer(marks, seen, k, by, near=near) if near or len(t.parts) > 1)
    return out


def _options(ends: Ends, verdict: Verdict, height: float, letters: int) -> list[tuple[tuple[float, float], bool]]:
    """How much longer a block is tried, mm at its start and end, and whether the ink stands right beside it."""
    least = LEAST_MORE * height
    first, last = (v if v >= least else 0.0 for v in ends.word)
    sure = verdict.fits and verdict.share > SURE
    if letters == 1 or sure:
        first, last = (v if v <= MOST_MORE_SURE * height else 0.0 for v in (first, last))
    found = [((first, 0.0), True), ((0.0, last), True), ((first, last), True)]
    if letters > 1 and not sure:
        first, last = (v if v >= least else 0.0 for v in ends.line)
        found += [((first, 0.0), False), ((0.0, last), False), ((first, last), False)]
    out: list[tuple[tuple[float, float], bool]] = []
    for by, near in found:
        if any(by) and by not in [o for o, _ in out]:
            out.append((by, near))
    return out


def _letters(verdict: Verdict) -> int:
    return sum(c.isalnum() for c in verdict.text)


def _height(block: TextBlock) -> float:
    return block.box.width if block.angle % 180 else block.box.height


def _longer(marks: Marks, seen: Sequence[Seen], k: int, by: tuple[float, float], *, near: bool) -> list[_Longer]:
    """The block ``k`` made longer, with the blocks in that stretch as its parts; none where a string of its own is there."""
    own = marks.texts[k]
    box = grown(own.box, own.angle, by)
    parts, sure, codes = [k], own.probability, 0
    for j, other in enumerate(marks.texts):
        inside = box.overlap(other.box) / max(1e-9, other.box.width * other.box.height)
        if j == k or inside < CUT:
            continue
        verdict = seen[j].verdict
        level = other.angle == own.angle and _even(own, other)
        if inside < SWALLOWED and not (level and len(verdict.text) > 1):
            continue  # the rim of a drawing
        if other.angle != own.angle and len(verdict.text) > 1 and other.probability > own.probability:
            return []
        # a slash is deeper than its line
        rest = inside >= SWALLOWED and verdict.text[:1] == "/" and len(verdict.text) > 1
        if other.angle == own.angle and not level and not rest:
            if verdict.text.strip("-.,'/1I"):
                return []
            continue
        codes += verdict.kind == "code" and verdict.fits and verdict.share > SURE
        parts.append(j)
        sure = max(sure, other.probability)
        if level:
            box = _hull(box, other.box)
    if codes > 1 or (codes and seen[k].verdict.kind == "code" and seen[k].verdict.fits):
        return []  # two codes stay two
    return [_Longer(tuple(parts), TextBlock(own.id, box, own.angle, sure), near)]


def _without_stubs(longer: _Longer, view: Seen, parts: Sequence[TextBlock]) -> TextBlock:
    """The longer block, no longer than its parts at an end where more was seen than is of the string: a stub of its wire."""
    said = view.verdict.text.replace(" ", "").upper()
    free = view.free[0].text.replace(" ", "") if view.free else said
    at = free.find(said)
    if at < 0 or free == said:
        return longer.block
    own, hull = longer.block.box, Box.enclosing([p.box for p in parts if p.angle == longer.block.angle])
    before, behind = at > 0, at + len(said) < len(free)
    first, last = before, behind
    if longer.block.angle in (90, 180):  # the line begins at the right, or at the foot
        first, last = behind, before
    if longer.block.angle % 180:
        box = replace(own, y0=hull.y0 if first else own.y0, y1=hull.y1 if last else own.y1)
    else:
        box = replace(own, x0=hull.x0 if first else own.x0, x1=hull.x1 if last else own.x1)
    return replace(longer.block, box=box)


def _even(own: TextBlock, other: TextBlock) -> bool:
    """True for blocks of one height, or nearly one and one foot, that stand on one line."""
    low, high = sorted((_height(own), _height(other)))
    a, b = own.box, other.box
    feet = {0: (a.y1, b.y1), 90: (a.x1, b.x1), 180: (a.y0, b.y0), 270: (a.x0, b.x0)}[own.angle]
    if abs(feet[0] - feet[1]) <= _FOOT * high:
        return high <= _WORN * low
    shift = max(abs(a.x0 - b.x0), abs(a.x1 - b.x1)) if own.angle % 180 else max(abs(a.y0 - b.y0), abs(a.y1 - b.y1))
    return high <= _EVEN * low and shift <= UNEVEN * high


def _hull(a: Box, b: Box) -> Box:
    return Box(min(a.x0, b.x0), min(a.y0, b.y0), max(a.x1, b.x1), max(a.y1, b.y1))


def _better(longer: _Longer, view: Seen, parts: Sequence[Seen]) -> bool:
    """True when the longer reading is the whole of which ``parts`` are parts."""
    said, own = view.verdict, parts[0].verdict
    bare = said.text.replace(" ", "")
    if len(bare) <= len(own.text.replace(" ", "")) or said.text in view.limits:
        return False
    codes = [p.verdict.text.replace(" ", "") for p in parts if p.verdict.kind == "code" and p.verdict.share > SURE]
    if said.fits and said.kind == "code" and len(bare) >= _CODE_LETTERS:
        return said.share >= LAWFUL and all(c in bare for c in codes)
    if codes:
        return False  # only a longer code takes the place of a code
    held = all(p.verdict.text.replace(" ", "") in bare for p in parts if p.verdict.share > FREE)
    if said.fits:
        seen_so = bool(view.free) and view.free[0].text.replace(" ", "") == bare and view.free[0].probability >= LAWFUL
        return longer.near and said.share >= PLAIN and seen_so and held
    if own.fits and own.share > SURE:
        return False
    if any(len(p.verdict.text) == 1 and p.verdict.text.isalnum() and p.verdict.share > SURE for p in parts[1:]):
        return False  # a terminal's number beside a name
    usual = math.prod(p.verdict.share for p in parts if p.verdict.text)
    return held and _letters(said) > _letters(own) and said.share >= max(LEAST_FREE, FREE * usual)
