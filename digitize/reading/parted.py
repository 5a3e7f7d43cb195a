"""Two strings found as one line, each read by itself: a terminal's mark beside a name, a code beside a name, key and meaning.

The finder joins what stands a word's space apart on one foot line. Where the gap is wider than this line's own spaces, or
a grammar takes one side only, the sides are two strings.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from digitize.ink.state import Marks, TextBlock
from digitize.reading.continued import grown
from digitize.reading.crops import MARGIN, cut_blocks
from digitize.reading.decode import Walk
from digitize.reading.engines import Grey
from digitize.reading.whole import LAWFUL, Look, Seen
from digitize.sheet.ranked import percentile
from digitize.sheet.state import PX_PER_MM

MARK_GAP, MARK_PITCHES = 0.95, 1.35
"""Behind a lone character a gap of so many letter heights, and so many times the pitch of the letters, is no word's space."""
WIDE_GAP = 1.2
"""Nor is one of so many letter heights ..."""
WIDER = 1.7
"""... that is so many times as wide as the other spaces of the line."""
CODE_GAP = 0.4
"""A code and what stands beside it are at least so many letter heights apart."""
LEAST_CODE = 6
"""A code of fewer characters is too easily found by chance (common practice, no source)."""
_LEAST_NAME = 3
_SPACE = 0.18
"""Narrower gaps stand inside words, in letter heights."""


@dataclass(frozen=True, slots=True)
class Part:
    """Where a line is parted: before and behind the gap, px of its crop; ``code``: the side that is a code, None for neither."""

    before: int
    behind: int
    code: int | None


def parted(marks: Marks, seen: Sequence[Seen], walks: Mapping[str, Walk], look: Look) -> tuple[Marks, list[Seen]]:
    """``marks`` with the lines parted that hold two strings, and what is seen in its blocks. ``look`` reads crops."""
    found = [(k, part) for k, view in enumerate(seen) for part in parts_of(view, walks.get("code"))]
    if not found:
        return marks, list(seen)
    halves = [_halves(marks.texts[k], seen[k].crop, part) for k, part in found]
    views = look(cut_blocks(marks, [block for pair in halves for block in pair]), [0] * (2 * len(halves)))
    new: dict[int, list[tuple[TextBlock, Seen]]] = {}
    for n, ((k, part), pair) in enumerate(zip(found, halves, strict=True)):
        first, last = views[2 * n : 2 * n + 2]
        if first is not None and last is not None and _agrees(seen[k], (first, last), part):
            new[k] = [(pair[0], first), (pair[1], last)]
    out = [
        each
        for k, (block, view) in enumerate(zip(marks.texts, seen, strict=True))
        for each in new.get(k, [(block, view)])
    ]
    blocks = tuple(replace(block, id=k) for k, (block, _) in enumerate(out))
    return replace(marks, texts=blocks), [view for _, view in out]


def parts_of(view: Seen, code: Walk | None) -> Iterator[Part]:
    """Where the line of ``view`` may be parted, none or one place."""
    said = view.free[0].text if view.free else ""
    tokens = said.split()
    if len(tokens) < 2 or (view.verdict.fits and view.verdict.text not in view.limits):
        return
    gaps = _spaces(view.crop, len(tokens) - 1)
    if gaps is None:
        return
    tall = view.crop.shape[0] / (1 + 2 * MARGIN)
    wide = [(b - a) / tall for a, b in gaps]
    for k in range(1, len(tokens)):
        sides = (" ".join(tokens[:k]), " ".join(tokens[k:]))
        lawful = [_is_code(s, code) for s in sides]
        if sum(lawful) == 1 and wide[k - 1] >= CODE_GAP and _is_name(sides[lawful.index(False)]):
            yield Part(*gaps[k - 1], lawful.index(True))
            return
    k = int(np.argmax(wide)) + 1
    others = max((w for n, w in enumerate(wide) if n != k - 1), default=0.0)
    sides = (" ".join(tokens[:k]), " ".join(tokens[k:]))
    lone = [len(s) == 1 and s.isalnum() for s in sides]
    if sum(lone) == 1 and _is_name(sides[lone.index(False)]) and wide[k - 1] >= max(MARK_GAP, WIDER * others):
        name = lone.index(False)
        margin = MARGIN * tall
        long = gaps[k - 1][0] - margin if name == 0 else view.crop.shape[1] - margin - gaps[k - 1][1]
        if others or wide[k - 1] >= MARK_PITCHES * long / tall / len(sides[name]):
            yield Part(*gaps[k - 1], None)
    elif others and wide[k - 1] >= max(WIDE_GAP, WIDER * others) and all(_is_name(s) for s in sides):
        yield Part(*gaps[k - 1], None)


def _is_name(text: str) -> bool:
    words = text.split()
    return len(words[0]) >= _LEAST_NAME and sum(c.isalpha() for c in text) >= max(
        _LEAST_NAME, 0.7 * len(text.replace(" ", ""))
    )


def _is_code(text: str, code: Walk | None) -> bool:
    """True for a sure code: a word alone (a colour) is taken by many manuals' ways of writing codes, and is half of any name."""
    if code is None or len(text.replace(" ", "")) < LEAST_CODE or not any(c.isdigit() for c in text):
        return False
    return code.takes(text) is not None


def _spaces(crop: Grey, count: int) -> list[tuple[int, int]] | None:
    """The ``count`` widest gaps between ink in ``crop``, from left to right, px; None when there are not so many."""
    light, dark = percentile(crop, 85), percentile(crop, 2)
    rows = slice(crop.shape[0] // 8, crop.shape[0] - crop.shape[0] // 8)
    ink = (crop[rows] < (float(light) + float(dark)) / 2).any(axis=0)
    on = np.flatnonzero(ink)
    if not len(on):
        return None
    steps = np.flatnonzero(np.diff(on) > _SPACE * crop.shape[0])
    if len(steps) < count:
        return None
    widest = steps[np.argsort(-np.diff(on)[steps], kind="stable")[:count]]
    return [(int(on[s]) + 1, int(on[s + 1])) for s in np.sort(widest)]


def _halves(block: TextBlock, crop: Grey, part: Part) -> tuple[TextBlock, TextBlock]:
    across = block.box.width if block.angle % 180 else block.box.height
    length = block.box.height if block.angle % 180 else block.box.width
    margin = (crop.shape[1] / PX_PER_MM - length) / 2 if length else MARGIN * across
    first, last = part.before / PX_PER_MM - margin, part.behind / PX_PER_MM - margin
    return (
        replace(block, box=grown(block.box, block.angle, (0.0, first - length))),
        replace(block, box=grown(block.box, block.angle, (-last, 0.0))),
    )


def _agrees(whole: Seen, halves: tuple[Seen, Seen], part: Part) -> bool:
    """True when the halves say what the whole line said."""
    if part.code is not None:
        own = halves[part.code].verdict
        return own.kind == "code" and own.fits and own.share >= LAWFUL and bool(halves[1 - part.code].verdict.text)
    bare = "".join(h.free[0].text for h in halves if h.free).replace(" ", "")
    return bare == whole.free[0].text.replace(" ", "")
