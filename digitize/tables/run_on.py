"""A zone that ends one column of an index and the name that begins the next, found as one string: they are parted.

On grainy scans specks in the gap lead the eye on, and the narrow gap between two columns is bridged: ``H10 HEAT GAUGE``. Such
strings would make a column of names begin where zones stand.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from digitize.harness.claim import Alternative
from digitize.harness.place import Box
from digitize.reading.state import ReadText

_FEWEST = 3
"""So many zones alone stand where such a string begins."""
_NEAR = 2.0
"""They begin so near to where it does, in letter heights: zones are of two or three characters and may end alike."""


def with_zones_parted(
    texts: Sequence[ReadText], zones: Sequence[ReadText], tall: float, run_on: re.Pattern[str]
) -> list[ReadText]:
    """The texts of an index with such strings parted, in the case they are printed in; all as they are where there are none.

    Args:
        texts: what is read on the page, boxes in sheet mm.
        zones: those of them that are zones and nothing else.
        tall: height of the letters, mm.
        run_on: its groups ``zones`` and ``name`` tell what such a string holds, in whatever case.
    """
    shape = re.compile(run_on.pattern, re.IGNORECASE)
    out: list[ReadText] = []
    for t in texts:
        match = shape.match(t.text.strip())
        start = _name_start(t, texts, zones, tall) if match and t not in zones else None
        out += [t] if start is None else [_part(t, shape, "zones", start), _part(t, shape, "name", start)]
    return out


def _name_start(text: ReadText, texts: Sequence[ReadText], zones: Sequence[ReadText], tall: float) -> float | None:
    """Where the name of a string begins that goes on from a column of zones to one of names, mm; None where it does not."""
    column = [z for z in zones if abs(z.box.x0 - text.box.x0) < _NEAR * tall and z.box.x1 < text.box.x1 - tall]
    after = [n.box.x0 for z in column if (n := _next(z, texts)) is not None]
    if len(after) < _FEWEST:
        return None
    end, start = max(z.box.x1 for z in column), float(np.median(after))
    # where D1 is a name itself, a zone stands behind it, far beyond the end of what begins as a zone does
    return start if end < start < text.box.x1 - tall else None


def _next(text: ReadText, texts: Sequence[ReadText]) -> ReadText | None:
    """What stands next to the right on the same line."""
    level = [
        t for t in texts if t.box.x0 > text.box.x1 and abs(t.box.centre[1] - text.box.centre[1]) < 0.6 * text.box.height
    ]
    return min(level, key=lambda t: t.box.x0, default=None)


def _part(text: ReadText, shape: re.Pattern[str], group: str, start: float) -> ReadText:
    """One of the two strings, with the readings of the whole that hold such a one, in its part of the box."""
    box = text.box
    weight: dict[str, float] = {}
    for a in (Alternative(text.text, text.probability), *text.free):
        match = shape.match(a.text.strip())
        if match and (a.text != text.text or not weight):
            weight[match[group]] = max(weight.get(match[group], 0.0), a.probability)
    ranked = tuple(Alternative(s, p) for s, p in sorted(weight.items(), key=lambda q: -q[1]))
    if group == "zones":
        room = Box(box.x0, box.y0, start - 0.5, box.y1)
        return replace(text, text=ranked[0].text, kind="zone", box=room, free=ranked, by_kind=(("zone", ranked),))
    return replace(
        text, text=ranked[0].text, kind="word", box=Box(start, box.y0, box.x1, box.y1), free=ranked, by_kind=()
    )
