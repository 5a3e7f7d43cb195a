"""The zone grid of a sheet: map-style references read from the labels printed on the frame."""

from __future__ import annotations

from dataclasses import dataclass

from digitize.harness.place import Point


@dataclass(frozen=True, slots=True)
class Band:
    """One column (start..end along x) or row (along y) of the grid, sheet mm, with its printed label."""

    label: str
    start: float
    end: float


@dataclass(frozen=True, slots=True)
class ZoneGrid:
    """Columns left to right and rows top to bottom. ``nominal``: no grid is printed and this one is only ours.

    A reference is the letter then the number, whichever of the two runs across.
    """

    columns: tuple[Band, ...]
    rows: tuple[Band, ...]
    nominal: bool

    def zone_at(self, point: Point, near: float = 1.5) -> tuple[str | None, tuple[str, ...]]:
        """The zone of ``point`` (sheet mm) and the neighbours whose border lies within ``near`` mm; clamped to the grid.

        Returns (None, ()) when the grid has no bands.
        """
        if not self.columns or not self.rows:
            return None, ()
        columns = _bands_at(self.columns, point[0], near)
        rows = _bands_at(self.rows, point[1], near)
        references = [reference(c.label, r.label) for r in rows for c in columns]
        return references[0], tuple(references[1:])


def reference(across: str, down: str) -> str:
    """Letter then number, from the label of a column and that of a row."""
    return down + across if across[:1].isdigit() else across + down


def _bands_at(bands: tuple[Band, ...], at: float, near: float) -> list[Band]:
    """The band that holds ``at`` (the nearest one outside the grid), then those whose border is within ``near``."""
    home = min(bands, key=lambda b: max(b.start - at, at - b.end, 0.0))
    return [home, *(b for b in bands if b is not home and b.start - near <= at <= b.end + near)]
