"""Charts that print connector and cavity as one (``A107/3``): taken apart, so that they read like two columns."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import replace

from digitize.harness.claim import Alternative
from digitize.harness.place import Box
from digitize.reading.state import ReadText

_ID, _CAVITY = re.compile(r"[A-Z]{1,4}[- .]?\d{1,4}[A-Z]?"), re.compile(r"[A-Z]{1,2}|\d{1,3}")
PIN = re.compile(rf"({_ID.pattern}) ?[/:.-] ?({_CAVITY.pattern})")
"""An id with a figure, a sign, and a cavity of a letter or a figure (common practice, no source)."""

FEWEST = 3
"""So many pins under each other, with one id twice among them, are a column of them; fewer may be anything."""

_IN_LINE_MM = 2.0
_LEVEL, _NEAR = 0.4, 1.6
"""A cavity whose sign wore off stands so level with its id and so near behind it, in its height."""


def pins_parted(texts: Sequence[ReadText]) -> list[ReadText]:
    """``texts`` with every pin of a column of pins as two: the id, and the cavity where it stands; the rest as it is.

    In such a column a string that may be read as a pin of an id that stands there is one, whatever else it may be read as.
    The two parts share the border between them, which tells them from strings that were found apart (``cut_from_one``).
    """
    pins = [(t, found[1]) for t in texts if (found := _pin(t.text))]
    apart = _found_apart(texts, [p for p, _ in pins])
    out: list[ReadText] = []
    for t in texts:
        if id(t) in apart:
            out.append(apart[id(t)])
            continue
        ids = [name for p, name in pins if abs(p.box.x0 - t.box.x0) < _IN_LINE_MM]
        may_be = [a.text for a in (Alternative(t.text, t.probability), *t.free) if (m := _pin(a.text)) and m[1] in ids]
        column = len(ids) >= FEWEST and len(set(ids)) < len(ids)
        out += _parts(t, may_be[0]) if column and may_be else (t,)
    return out


def _found_apart(texts: Sequence[ReadText], pins: Sequence[ReadText]) -> dict[int, ReadText]:
    """Ids under the ``pins`` of a column, each with a cavity right behind it: the sign between the two wore off.

    By the ``id`` of the text, what it is as a part of a pin.
    """
    out: dict[int, ReadText] = {}
    for t in texts:
        if sum(abs(p.box.x0 - t.box.x0) < _IN_LINE_MM for p in pins) < FEWEST or not _ID.fullmatch(
            t.text.strip().upper()
        ):
            continue
        high = t.box.height
        for u in texts:
            level = abs(u.box.centre[1] - t.box.centre[1]) < _LEVEL * high
            if level and 0 <= u.box.x0 - t.box.x1 < _NEAR * high and _CAVITY.fullmatch(u.text.strip().upper()):
                out[id(t)] = replace(t, box=Box(t.box.x0, t.box.y0, u.box.x0, t.box.y1))
                out[id(u)] = replace(u, block=t.block)
                break
    return out


def _pin(text: str) -> re.Match[str] | None:
    return PIN.fullmatch(text.strip().upper())


def cut_from_one(left: ReadText, right: ReadText) -> bool:
    """True for the two parts of a pin."""
    return left.block == right.block and left.box.x1 == right.box.x0


def _parts(text: ReadText, whole: str) -> tuple[ReadText, ReadText]:
    """The two parts of a pin that may be read as ``whole``."""
    readings = [(a.text, a.probability) for a in text.free]
    if whole not in dict(readings):
        readings.append((whole, text.probability))
    left, right = _halves(readings, 1), _halves(readings, 2)
    b = text.box
    cut = b.x0 + len(left[0].text) / len(whole) * b.width
    return (
        _said(text, left, Box(b.x0, b.y0, cut, b.y1), "connector"),
        _said(text, right, Box(cut, b.y0, b.x1, b.y1), "number"),
    )


def _halves(readings: Iterable[tuple[str, float]], part: int) -> list[Alternative]:
    """Ranked readings of one part: all readings of the whole that are pins, those alike in it together."""
    total: dict[str, float] = {}
    for whole, p in readings:
        found = _pin(whole)
        if found:
            total[found[part]] = min(1.0, total.get(found[part], 0.0) + p)
    return [Alternative(t, p) for t, p in sorted(total.items(), key=lambda q: (-q[1], q[0]))]


def _said(text: ReadText, readings: list[Alternative], box: Box, kind: str) -> ReadText:
    best = readings[0]
    ranked = tuple(readings)
    return replace(
        text, box=box, text=best.text, kind=kind, probability=best.probability, free=ranked, by_kind=((kind, ranked),)
    )
