"""The zone grid of a sheet: map-style references from columns and rows, and the zones of everything on the sheet."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, replace

from digitize.harness.claim import Claim
from digitize.harness.model import EdgePoint, Harness
from digitize.harness.place import Box, Place, Point


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

    def moved(self, axis: str, line: int, to: float) -> ZoneGrid:
        """The grid with one line moved to ``to`` (mm): ``axis`` is ``across`` or ``down``, lines count from 0.

        Raises ValueError when there is no such line, or when it would come within a millimetre of its neighbour.
        """
        bands = self.columns if axis == "across" else self.rows
        if not 0 <= line <= len(bands):
            raise ValueError(f"the grid has no line {line} {axis}")
        before = bands[line - 1].start if line else None
        after = bands[line].end if line < len(bands) else None
        if (before is not None and to < before + 1) or (after is not None and to > after - 1):
            raise ValueError("a zone line cannot pass its neighbour")
        shifted = tuple(
            replace(b, start=to if i == line else b.start, end=to if i == line - 1 else b.end)
            for i, b in enumerate(bands)
        )
        grid = replace(self, columns=shifted) if axis == "across" else replace(self, rows=shifted)
        return replace(grid, nominal=False)


def reference(across: str, down: str) -> str:
    """Letter then number, from the label of a column and that of a row."""
    return down + across if across[:1].isdigit() else across + down


def regrid(harness: Harness, sheet: str, grid: ZoneGrid) -> Harness:
    """``harness`` with the zones of everything on ``sheet`` worked out anew from ``grid``."""

    def put(place: Place) -> Place:
        return placed(place.sheet, place.box, grid) if place.sheet == sheet else place

    def point(at: EdgePoint) -> EdgePoint:
        return replace(at, zone=grid.zone_at(at.at)[0]) if at.sheet == sheet else at

    def claim(old: Claim) -> Claim:
        return _claim_put(old, sheet, put)

    return replace(
        harness,
        components=tuple(replace(c, name=claim(c.name), place=put(c.place)) for c in harness.components),
        connectors=tuple(
            replace(c, label=claim(c.label), places=tuple(replace(p, place=put(p.place)) for p in c.places))
            for c in harness.connectors
        ),
        splices=tuple(replace(s, place=put(s.place)) for s in harness.splices),
        grommets=tuple(
            replace(g, label=claim(g.label), places=tuple(replace(p, place=put(p.place)) for p in g.places))
            for g in harness.grommets
        ),
        grounds=tuple(replace(g, label=claim(g.label), place=put(g.place)) for g in harness.grounds),
        wires=tuple(replace(w, code=claim(w.code)) for w in harness.wires),
        links=tuple(
            replace(k, code=claim(k.code), a=point(k.a), b=None if k.b is None else point(k.b)) for k in harness.links
        ),
        findings=tuple(replace(f, places=tuple(put(p) for p in f.places)) for f in harness.findings),
        texts=tuple(replace(t, place=put(t.place)) if t.place.sheet == sheet else t for t in harness.texts),
    )


def placed(sheet: str, box: Box, grid: ZoneGrid) -> Place:
    """A box on a sheet: its zone is that of its middle, the alternatives are all others that it touches."""
    zone, others = grid.zone_at(box.centre)
    touched = set(others)
    for corner in ((box.x0, box.y0), (box.x1, box.y0), (box.x0, box.y1), (box.x1, box.y1)):
        there, near = grid.zone_at(corner)
        touched |= {z for z in (there, *near) if z is not None}
    touched.discard(zone or "")
    return Place(sheet, box, zone, tuple(sorted(touched, key=_natural)), grid.nominal)


def _natural(name: str) -> tuple[tuple[int, int, str], ...]:
    """Sort key that puts ``B9`` before ``B10``."""
    return tuple((0, int(p), "") if p.isdigit() else (1, 0, p) for p in re.split(r"(\d+)", name) if p)


def _claim_put(claim: Claim, sheet: str, put: Callable[[Place], Place]) -> Claim:
    if not any(e.place is not None and e.place.sheet == sheet for e in claim.evidence):
        return claim
    evidence = tuple(e if e.place is None else replace(e, place=put(e.place)) for e in claim.evidence)
    return replace(claim, evidence=evidence)


def _bands_at(bands: tuple[Band, ...], at: float, near: float) -> list[Band]:
    """The band that holds ``at`` (the nearest one outside the grid), then those whose border is within ``near``."""
    home = min(bands, key=lambda b: max(b.start - at, at - b.end, 0.0))
    return [home, *(b for b in bands if b is not home and b.start - near <= at <= b.end + near)]
