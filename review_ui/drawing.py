"""What was read of one sheet, as the desk draws it over the scan: everything in scan pixels, origin top left."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import numpy as np

from digitize.harness.claim import Claim
from digitize.harness.model import Harness, Terminal, Wire
from digitize.harness.place import Box, Place, Point
from digitize.settings import Settings
from digitize.sheet.mapping import SheetMapping
from digitize.sheet.state import SheetFacts

SURE = Settings().doubtful_below
"""From this probability on a claim is drawn as sure."""

DOUBTFUL = 0.6
"""Below this it is drawn as doubtful, in between as unsure (own choice)."""

Json = dict[str, Any]


def doubt_of(probability: float, by_person: bool) -> str:
    """``said`` (a person said so), ``sure``, ``unsure`` or ``doubtful``: how strongly the desk marks a claim."""
    if by_person:
        return "said"
    return "sure" if probability >= SURE else "unsure" if probability >= DOUBTFUL else "doubtful"


def said_by_person(claim: Claim) -> bool:
    """True when the last word on a claim is a person's."""
    return any(e.kind == "person" for e in claim.evidence)


def draw_sheet(harness: Harness, facts: SheetFacts, only: set[str] | None = None) -> Json:
    """Everything of ``harness`` on the sheet of ``facts``; ``only`` narrows it to the objects with these ids."""
    pen = Pen(facts)
    sheet = facts.sheet

    def wanted(id_: str) -> bool:
        return only is None or id_ in only

    return {
        "sheet": sheet,
        "wires": draw_wires(pen, (w for w in harness.wires if wanted(w.id)), sheet),
        "components": [
            {"id": c.id, "kind": c.kind, "text": c.name.value, "box": pen.box(c.place.box), "zone": c.place.zone,
             "doubt": doubt_of(min(c.name.probability, c.probability), said_by_person(c.name)), "terminals": pen.terminals(c.terminals)}
            for c in harness.components if c.place.sheet == sheet and wanted(c.id)
        ],
        "connectors": [
            {"id": p.id, "connector": c.id, "kind": "connector", "text": c.label.value, "box": pen.box(p.place.box), "zone": p.place.zone,
             "doubt": doubt_of(min(c.label.probability, p.probability), said_by_person(c.label)), "terminals": pen.terminals(p.terminals)}
            for c in harness.connectors for p in c.places if p.place.sheet == sheet and (wanted(p.id) or wanted(c.id))
        ],
        "grommets": [
            {"id": g.id, "kind": "grommet", "text": g.label.value, "box": pen.box(p.place.box), "zone": p.place.zone,
             "doubt": doubt_of(g.label.probability, said_by_person(g.label)), "terminals": []}
            for g in harness.grommets for p in g.places if p.place.sheet == sheet and wanted(g.id)
        ],
        "grounds": [
            {"id": g.id, "kind": "ground", "text": g.label.value, "box": pen.box(g.place.box), "zone": g.place.zone,
             "doubt": doubt_of(min(g.label.probability, g.probability), said_by_person(g.label)),
             "terminals": pen.terminals((Terminal("1", g.at),))}
            for g in harness.grounds if g.place.sheet == sheet and wanted(g.id)
        ],
        "splices": [
            {"id": s.id, "at": pen.point(s.at), "degree": s.degree, "zone": s.place.zone,
             "doubt": doubt_of(s.probability, s.probability == 1.0)}
            for s in harness.splices if s.place.sheet == sheet and wanted(s.id)
        ],
        "edges": [
            {"id": k.id, "at": pen.point(point.at), "side": point.edge, "text": k.code.value,
             "other": None if far is None else far.sheet, "doubt": doubt_of(k.probability if far else 0.0, k.probability == 1.0)}
            for k in harness.links if wanted(k.id)
            for point, far in ((k.a, k.b), (k.b, k.a)) if point is not None and point.sheet == sheet
        ],
    }  # fmt: skip


def draw_wires(pen: Pen, wires: Iterable[Wire], sheet: str) -> list[Json]:
    """The wires drawn on ``sheet``; all their points are mapped in one go, because there may be 30,000 of them."""
    here = [(w, [p.points for p in w.paths if p.sheet == sheet]) for w in wires]
    here = [(w, lines) for w, lines in here if lines]
    flat = pen.points([p for _, lines in here for line in lines for p in line])
    ends = pen.points([e.at for w, _ in here for e in w.ends])
    drawn: list[Json] = []
    at = 0
    for n, (wire, lines) in enumerate(here):
        placed = []
        for line in lines:
            placed.append(flat[at : at + len(line)])
            at += len(line)
        drawn.append({
            "id": wire.id, "text": wire.code.value, "lines": placed,
            "doubt": doubt_of(min(wire.code.probability, wire.probability), said_by_person(wire.code) and wire.probability == 1.0),
            "ends": [
                {"node": e.node, "terminal": e.terminal, "here": e.sheet == sheet, "at": ends[2 * n + i]} for i, e in enumerate(wire.ends)
            ],
        })  # fmt: skip
    return drawn


class Pen:
    """Sheet mm → scan px, rounded to a tenth of a pixel."""

    def __init__(self, facts: SheetFacts) -> None:
        self._mapping: SheetMapping = facts.mapping

    def points(self, points: list[Point]) -> list[list[float]]:
        """Many points at once."""
        if not points:
            return []
        placed: list[list[float]] = np.round(self._mapping.to_scan(np.array(points, dtype=np.float64)), 1).tolist()
        return placed

    def point(self, at: Point) -> list[float]:
        """One point."""
        return self.points([at])[0]

    def pixel(self, at: Point) -> tuple[float, float]:
        """One point, not rounded: what goes into an order comes back to the same place."""
        x, y = self._mapping.to_scan(np.array([at], dtype=np.float64))[0]
        return (float(x), float(y))

    def box(self, box: Box) -> list[list[float]]:
        """The four corners of a box, clockwise from its top left; on a skewed scan they are no upright rectangle."""
        return self.points([(box.x0, box.y0), (box.x1, box.y0), (box.x1, box.y1), (box.x0, box.y1)])

    def terminals(self, terminals: tuple[Terminal, ...]) -> list[Json]:
        """Terminals with their points."""
        return [
            {"id": t.id, "label": t.label, "at": at}
            for t, at in zip(terminals, self.points([t.at for t in terminals]), strict=True)
        ]

    def back(self, at: tuple[float, float]) -> Point:
        """Scan px → sheet mm."""
        x, y = self._mapping.to_sheet(np.array([at], dtype=np.float64))[0]
        return (float(x), float(y))


def extent(pen: Pen, places: Iterable[Place | tuple[str, Box]], sheet: str) -> list[float] | None:
    """[x0, y0, x1, y1] in scan px around all the places on ``sheet``; None when none is there."""
    boxes = [(p.sheet, p.box) if isinstance(p, Place) else p for p in places]
    corners = [c for s, box in boxes if s == sheet for c in pen.box(box)]
    if not corners:
        return None
    xs, ys = [c[0] for c in corners], [c[1] for c in corners]
    return [min(xs), min(ys), max(xs), max(ys)]


def graticule(facts: SheetFacts) -> Json:
    """The zone grid in scan px: columns along x and rows along y, with the labels printed on the frame."""
    pen = Pen(facts)
    mid_x, mid_y = facts.width / 2, facts.height / 2
    return {
        "nominal": facts.zones.nominal,
        "columns": [
            {"label": b.label, "start": pen.point((b.start, mid_y))[0], "end": pen.point((b.end, mid_y))[0]}
            for b in facts.zones.columns
        ],
        "rows": [
            {"label": b.label, "start": pen.point((mid_x, b.start))[1], "end": pen.point((mid_x, b.end))[1]}
            for b in facts.zones.rows
        ],
    }
