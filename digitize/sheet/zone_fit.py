"""Fit the zone grid of a sheet: from the conventions, from the labels printed along the frame, or a nominal one."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

from digitize.harness.place import Box
from digitize.sheet.state import SheetHints
from digitize.sheet.zones import Band, ZoneGrid

ISO_SKIPPED = ("I", "O")
"""ISO 5457 does not use these two letters (read in a summary of the standard)."""

ISO_FIELD_MM = 50.0
"""ISO 5457: fields of 50 mm, measured outward from the middle of the sheet; the corner field takes the remainder."""

_ALPHABET = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"


@lru_cache(maxsize=4096)
def letter_label(index: int, skipped: tuple[str, ...] = ()) -> str:
    """The label with place ``index`` (0 = first) in the sequence A..Z, AA, AB, ... that leaves out ``skipped``."""
    letters = [c for c in _ALPHABET if c not in skipped]
    label = ""
    index += 1
    while index > 0:
        index, place = divmod(index - 1, len(letters))
        label = letters[place] + label
    return label


def letter_index(label: str, skipped: Sequence[str] = ()) -> int | None:
    """The inverse of ``letter_label``; None when ``label`` is not of that sequence."""
    letters = [c for c in _ALPHABET if c not in skipped]
    index = 0
    for char in label.upper():
        if char not in letters:
            return None
        index = index * len(letters) + letters.index(char) + 1
    return index - 1 if label else None


def labels_from(first: str, count: int, skipped: Sequence[str] = (), offset: int = 0) -> tuple[str, ...]:
    """``count`` labels that start ``offset`` places after ``first`` (a number or letters).

    Raises ValueError when ``first`` is neither.
    """
    if first.isdigit():
        start = int(first) + offset
        return tuple(str(start + i) for i in range(count))
    start_index = letter_index(first, skipped)
    if start_index is None:
        start_index = letter_index(first)  # the first label itself is one of those said to be skipped
        if start_index is None:
            raise ValueError(f"{first!r} is neither a number nor letters")
        skipped = ()
    return tuple(letter_label(start_index + offset + i, skipped) for i in range(count))


def even_bands(labels: Sequence[str], start: float, end: float) -> tuple[Band, ...]:
    """Bands of equal size from ``start`` to ``end``, mm."""
    step = (end - start) / len(labels)
    return tuple(Band(label, start + i * step, start + (i + 1) * step) for i, label in enumerate(labels))


def bands_between(labels: Sequence[str], borders: Sequence[float]) -> tuple[Band, ...]:
    """Bands between ``len(labels) + 1`` rising ``borders``, mm."""
    return tuple(Band(label, borders[i], borders[i + 1]) for i, label in enumerate(labels))


def zones_from_hints(
    frame: Box, hints: SheetHints, ticks_across: Sequence[float] = (), ticks_down: Sequence[float] = ()
) -> ZoneGrid | None:
    """The grid that the conventions state, laid over ``frame`` (sheet mm); None when they do not state all of it.

    Borders follow the ticks found on the frame when their number fits, else the frame is divided evenly.
    """
    if not hints.columns or not hints.rows or hints.across is None or hints.down is None:
        return None
    skipped = ISO_SKIPPED if hints.letters_skipped is None else hints.letters_skipped
    first_column = hints.first_column or ("1" if hints.across == "numbers" else "A")
    first_row = hints.first_row or ("1" if hints.down == "numbers" else "A")
    offset = 0
    if hints.continues:
        if hints.diagram_number is None:
            return None
        offset = (hints.diagram_number - 1) * hints.columns
    columns = labels_from(first_column, hints.columns, skipped, offset)
    rows = labels_from(first_row, hints.rows, skipped)
    return ZoneGrid(
        _bands(columns, frame.x0, frame.x1, ticks_across), _bands(rows, frame.y0, frame.y1, ticks_down), nominal=False
    )


def _bands(labels: Sequence[str], start: float, end: float, ticks: Sequence[float]) -> tuple[Band, ...]:
    borders = borders_from_ticks(len(labels), start, end, ticks)
    return even_bands(labels, start, end) if borders is None else bands_between(labels, borders)


def borders_from_ticks(count: int, start: float, end: float, ticks: Sequence[float]) -> list[float] | None:
    """Borders of ``count`` cells that follow ``ticks``; None when the ticks do not show such a division.

    A tick missing here and there is filled in from even division; a stray one is left out.
    """
    step = (end - start) / count
    inside = [t for t in ticks if start + 0.2 * step < t < end - 0.2 * step]
    if len(inside) == count - 1:
        return [start, *sorted(inside), end]
    near: list[float | None] = []
    for i in range(1, count):
        ideal = start + i * step
        closest = min(inside, key=lambda t: abs(t - ideal), default=None)
        near.append(closest if closest is not None and abs(closest - ideal) < 0.15 * step else None)
    found = sum(n is not None for n in near)
    if count < 3 or found < 0.6 * (count - 1):
        return None
    filled = [start + (i + 1) * step if n is None else n for i, n in enumerate(near)]
    return [start, *filled, end]


def nominal_zones(width: float, height: float, frame: Box | None = None) -> ZoneGrid:
    """Our own grid for a sheet that prints none: fields as in ISO 5457, counted over the page, laid over the frame.

    Numbers run left to right, letters top to bottom, I and O left out. ``width`` and ``height`` of the page in mm.
    """
    area = frame or Box(0.0, 0.0, width, height)
    columns = _iso_borders(width, area.x0, area.x1)
    rows = _iso_borders(height, area.y0, area.y1)
    return ZoneGrid(
        bands_between(labels_from("1", len(columns) - 1), columns),
        bands_between(labels_from("A", len(rows) - 1, ISO_SKIPPED), rows),
        nominal=True,
    )


def _iso_borders(side: float, start: float, end: float) -> list[float]:
    """Borders of the fields along a side of ``side`` mm: 50 mm steps from its middle, an even number of fields."""
    half = max(1, round(side / ISO_FIELD_MM / 2))
    middle = side / 2
    inner = [middle + ISO_FIELD_MM * i for i in range(-half + 1, half)]
    kept = [b for b in inner if start + 5.0 < b < end - 5.0]
    return [start, *kept, end]
