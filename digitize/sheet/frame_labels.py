"""The border of a page on which none is drawn, by the zone labels that stand in its margins at equal steps."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial

from digitize.harness.place import Box
from digitize.sheet.zone_fit import letter_index
from digitize.sheet.zone_lattice import Lattice, Spot, lattice_of

Label = tuple[str, Box, float]
"""Text as read, its box (sheet mm), the reader's probability (0..1)."""

_MARGIN = 0.16
"""Labels stand in so much of the page along its sides, as a share of it."""
_SPAN = 0.5
"""They span at least this share of the page: the pins of a part are numbered too."""
_SURE = 0.5
"""Readings below this probability are left out."""
_LONGEST = 3
_SKIPPED: tuple[tuple[str, ...], ...] = ((), ("I", "O"), ("I",), ("O",))


def frame_of_labels(labels: Sequence[Label], page: tuple[float, float]) -> Box | None:
    """The field that labels along two sides of the page divide, sheet mm; None unless both axes are told.

    ``page``: width and height, mm. One axis counts in numbers, the other in letters.
    """
    width, height = page
    across = _spans(labels, width, height, level=True)
    down = _spans(labels, width, height, level=False)
    found = [
        (a, d)
        for a, numbers in across
        for d, others in down
        if numbers != others and a[1] - a[0] >= _SPAN * width and d[1] - d[0] >= _SPAN * height
    ]
    if not found:
        return None
    (x0, x1), (y0, y1) = max(found, key=lambda f: (f[0][1] - f[0][0]) * (f[1][1] - f[1][0]))
    return Box(max(0.0, x0), max(0.0, y0), min(width, x1), min(height, y1))


def _spans(
    labels: Sequence[Label], width: float, height: float, *, level: bool
) -> list[tuple[tuple[float, float], bool]]:
    """(start, end) of the field along one axis, mm, and whether its labels are numbers; for every order that is seen."""
    orders: list[tuple[Callable[[str], int | None], bool]] = [(_number, True)]
    orders += [(partial(letter_index, skipped=skipped), False) for skipped in _SKIPPED]
    out = []
    for value_of, numbers in orders:
        spots = []
        for text, box, probability in labels:
            word = text.strip().upper()
            value = value_of(word) if 0 < len(word) <= _LONGEST and probability >= _SURE else None
            if value is None:
                continue
            (x, y), long, deep = box.centre, *((width, height) if level else (height, width))
            at, off = (x, y) if level else (y, x)
            if min(off, deep - off) <= _MARGIN * deep and 0 <= at <= long:
                side = "first" if off < deep / 2 else "second"
                spots.append(Spot(side, at, min(off, deep - off), box.height, value))
        lattice = lattice_of(spots)
        if lattice is not None:
            out.append((_field(lattice), numbers))
    return out


def _number(text: str) -> int | None:
    return int(text) if text.isascii() and text.isdigit() else None


def _field(lattice: Lattice) -> tuple[float, float]:
    """From half a step before the first label to half a step after the last."""
    ends = sorted(lattice.origin + lattice.step * v for v in (lattice.lowest, lattice.highest))
    half = abs(lattice.step) / 2
    return ends[0] - half, ends[1] + half
