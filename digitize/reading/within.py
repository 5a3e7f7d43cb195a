"""A code inside a longer reading: what stands beside it in the crop (a stub, an arrow, a cavity's number) is not its own."""

from __future__ import annotations

from collections.abc import Sequence

from digitize.reading.decode import Found, Walk

LEAST_CHARACTERS = 6
"""A code of fewer characters is too easily found by chance (common practice, no source)."""
LEAST_SHARE = 0.6
"""The code makes up at least so much of what was read."""
SCALE = {" ": 0.5, "-": 0.35, ".": 0.35}
"""How far a code is believed that ends at this sign; a dash may as well lead to a tracer that was misread."""


def code_within(free: Sequence[Found], walk: Walk) -> tuple[Found, float] | None:
    """The longest string of the language of ``walk`` inside the best free reading, set off by a space, dash or point.

    Returns it with its probability (scaled down) and the most that it may be believed; None when there is none, or when
    the whole reading belongs to the language.
    """
    if not free or walk.takes(free[0].text) is not None:
        return None
    text = free[0].text
    best: tuple[int, str, float] | None = None
    for start in range(len(text)):
        if start and text[start - 1] not in SCALE:
            continue
        for stop in range(len(text), start + LEAST_CHARACTERS - 1, -1):
            part = text[start:stop]
            solid = len(part.replace(" ", ""))
            if stop < len(text) and text[stop] not in SCALE:
                continue
            if solid < max(LEAST_CHARACTERS, LEAST_SHARE * len(text.replace(" ", ""))) or part != part.strip(" -."):
                continue
            own = walk.takes(part)
            if own is not None:
                scale = SCALE.get(text[start - 1], 1.0) if start else 1.0
                scale *= SCALE.get(text[stop], 1.0) if stop < len(text) else 1.0
                if best is None or solid > best[0]:
                    best = (solid, own, scale)
                break
    return None if best is None else (Found(best[1], free[0].probability * best[2]), best[2])
