"""Colours in words that were found in two pieces: a tracer in small letters stands apart from its main colour for the text
finder, which knows lines of lettering by their height. The two are one string again where both are colours and stand as
words of one line do.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from digitize.harness.claim import Alternative
from digitize.harness.place import Box
from digitize.legend.colour_words import named_colours
from digitize.reading.state import ReadText
from digitize.tables.claims import union

GAP = 1.4
"""Words of one line stand at most so many letter heights apart (common practice, no source)."""
LEVEL = 0.5
"""The middles of two words of one line differ by at most this share of the letter height: small letters are lower."""


def colours_joined(texts: Sequence[ReadText]) -> tuple[ReadText, ...]:
    """The same texts at the same positions; a joined string stands at its first piece, the second piece is left empty."""
    small = any(_is_small(a.text) for t in texts for a in t.of_kind("code")[:1])
    single = [k for k, t in enumerate(texts) if _is_single(t)]
    out = list(texts)
    used: set[int] = set()
    for k in single:
        if k in used:
            continue
        after = [n for n in single if n != k and n not in used and _follows(texts[k], texts[n])]
        if not after:
            continue
        n = min(after, key=lambda m: (_gap(texts[k], texts[m]), m))
        used |= {k, n}
        out[k] = _together(texts[k], texts[n], small=small)
        out[n] = replace(texts[n], text="", kind="word", probability=0.0, free=(), by_kind=())
    return tuple(out)


def _is_small(code: str) -> bool:
    head, _, tail = code.rpartition(" ")
    return head.isupper() and tail.islower()


def _is_single(t: ReadText) -> bool:
    pair = named_colours(t.text)
    return pair is not None and pair[1] is None


def _along(t: ReadText) -> tuple[float, float, float, float]:
    """(start, end, middle across, height) of a line as its reader sees it."""
    b: Box = t.box
    x, y = b.centre
    return {
        0: (b.x0, b.x1, y, b.height),
        90: (-b.y1, -b.y0, x, b.width),
        180: (-b.x1, -b.x0, y, b.height),
        270: (b.y0, b.y1, x, b.width),
    }[t.angle % 360]


def _gap(a: ReadText, b: ReadText) -> float:
    return _along(b)[0] - _along(a)[1]


def _follows(a: ReadText, b: ReadText) -> bool:
    """True when ``b`` stands right behind ``a`` on its line."""
    if a.angle != b.angle:
        return False
    tall = _along(a)[3]
    level = abs(_along(a)[2] - _along(b)[2]) <= LEVEL * tall
    return level and -0.2 * tall <= _gap(a, b) <= GAP * tall


def _together(a: ReadText, b: ReadText, *, small: bool) -> ReadText:
    text = f"{a.text} {b.text.lower() if small else b.text}"
    sure = a.probability * b.probability
    ranked = (Alternative(text, sure),)
    return replace(
        a,
        box=union([a.box, b.box]),
        text=text,
        kind="code",
        probability=sure,
        free=ranked,
        by_kind=(("code", ranked),),
        readers=tuple(dict.fromkeys((*a.readers, *b.readers))),
    )
