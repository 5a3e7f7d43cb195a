"""Upright lettering that the finder took to read the wrong way: read once more from its other end.

Whether a line along the page's height reads upwards or downwards is told by its points, which stand at the feet of its
letters; dirt stands anywhere. What is hardly believed is tried the other way.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from digitize.ink.state import Marks
from digitize.reading.crops import cut_blocks
from digitize.reading.whole import Look, Seen

DOUBTED = 0.5
"""Lines more likely lettering than not are tried the other way when no string has so much of the reader's probability."""
BELIEVED, TIMES = 0.6, 2.0
"""The other way stands with so much of it, and so many times as much as there was."""
FEWEST = 3
"""A reading of fewer letters says too little (own choice)."""


def turned_over(marks: Marks, seen: Sequence[Seen], look: Look) -> tuple[Marks, list[Seen]]:
    """``marks`` with lines turned that are read far better so, and what is seen in its blocks. ``look`` reads crops."""
    tried = [
        k
        for k, (block, view) in enumerate(zip(marks.texts, seen, strict=True))
        if block.angle in (90, 270) and block.probability >= DOUBTED and _chance(view) < DOUBTED
        and block.box.height > block.box.width
    ]  # fmt: skip
    if not tried:
        return marks, list(seen)
    over = [replace(marks.texts[k], angle=360 - marks.texts[k].angle) for k in tried]
    blocks, out = list(marks.texts), list(seen)
    for k, block, view in zip(tried, over, look(cut_blocks(marks, over), [FEWEST - 1] * len(over)), strict=True):
        if view is not None and _chance(view) >= max(BELIEVED, TIMES * _chance(seen[k])):
            blocks[k], out[k] = block, view
    return replace(marks, texts=tuple(blocks)), out


def _chance(view: Seen) -> float:
    """The reader's probability of the likeliest string."""
    return max((f.probability for found in (view.free, *view.by_kind.values()) for f in found), default=0.0)
