"""A harness as the neutral prediction that an outside scorer reads (``heldout-prediction-1``), in pixels of the scans."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from digitize.harness.claim import Claim
from digitize.harness.model import EdgePoint, Harness, Terminal, Wire
from digitize.harness.place import Box, Place, Point
from digitize.sheet.state import SheetFacts

Row = dict[str, Any]

SCORED_CHECKS = {"index-zone": "index_zone", "chart-colour": "chart_colour"}
"""Our check ids and the outside words for the two kinds of finding that are scored."""


@dataclass(frozen=True, slots=True)
class Pages:
    """Page numbers from 1 in manual order, and the way back to scan pixels, for each sheet id."""

    numbers: Mapping[str, int]
    facts: Mapping[str, SheetFacts]

    def xy(self, sheet: str, point: Point) -> list[float]:
        """Sheet mm → scan px."""
        x, y = self.facts[sheet].mapping.to_scan(np.array([point], dtype=np.float64))[0]
        return [round(float(x), 1), round(float(y), 1)]

    def box(self, place: Place) -> list[float]:
        """The upright box in scan px around the four mapped corners of a box in sheet mm."""
        b: Box = place.box
        corners = np.array([(b.x0, b.y0), (b.x1, b.y0), (b.x1, b.y1), (b.x0, b.y1)], dtype=np.float64)
        p = self.facts[place.sheet].mapping.to_scan(corners)
        return [round(float(v), 1) for v in (*p.min(axis=0), *p.max(axis=0))]


def prediction(harness: Harness, pages: Pages) -> Row:
    """The whole prediction as plain JSON values."""
    return {
        "format": "heldout-prediction-1",
        "pages": [
            {
                "page": n,
                "kind": pages.facts[s].kind,
                "width": pages.facts[s].scan_width,
                "height": pages.facts[s].scan_height,
            }
            for s, n in sorted(pages.numbers.items(), key=lambda item: item[1])
            if s in pages.facts
        ],
        "texts": [
            {
                "page": pages.numbers[t.place.sheet],
                "text": t.text,
                "box": pages.box(t.place),
                "confidence": _sure(t.probability),
            }
            for t in harness.texts
            if t.text
        ],
        "nodes": list(_nodes(harness, pages)),
        "splices": [
            {
                "id": s.id,
                "page": pages.numbers[s.place.sheet],
                "xy": pages.xy(s.place.sheet, s.at),
                "degree": s.degree,
                "zone": s.place.zone,
                "confidence": _sure(s.probability),
            }
            for s in harness.splices
        ],
        "wires": [_wire(w, {s.id for s in harness.splices}, pages) for w in harness.wires],
        "continuations": [
            {
                "id": link.id,
                "code": link.code.value,
                "confidence": _sure(link.probability),
                "a": _edge(link.a, pages),
                "b": _edge(link.b, pages),
            }
            for link in harness.links
            if link.b is not None
        ],
        "index": [
            {"name": e.name.value, "zones": list(e.zones), "confidence": _sure(e.probability * e.name.probability)}
            for e in harness.index
            if e.name.value
        ],
        "chart": list(_chart(harness)),
        "findings": [
            {"kind": SCORED_CHECKS[f.check], "subject": f.subject, **({"cavity": f.cavity} if f.cavity else {})}
            for f in harness.findings
            if f.check in SCORED_CHECKS
        ],
    }


def _nodes(harness: Harness, pages: Pages) -> Iterable[Row]:
    for c in harness.components:
        sure = c.probability * c.name.probability
        row = _node(c.id, c.kind, c.name, c.place, sure, pages, c.terminals)
        yield row | {"case_ground": c.case_ground, "points": c.heading if c.kind == "diode" else None}
    for connector in harness.connectors:
        for p in connector.places:
            sure = p.probability * connector.label.probability
            yield _node(p.id, "connector", connector.label, p.place, sure, pages, p.terminals)
    for grommet in harness.grommets:
        for g in grommet.places:
            yield _node(g.id, "grommet", grommet.label, g.place, g.probability * grommet.label.probability, pages)
    for ground in harness.grounds:
        at = (Terminal("1", ground.at),)
        yield _node(ground.id, "ground", ground.label, ground.place, ground.probability, pages, at)


def _node(
    name: str, kind: str, label: Claim, place: Place, sure: float, pages: Pages, terminals: tuple[Terminal, ...] = ()
) -> Row:
    return {
        "id": name,
        "kind": kind,
        "label": label.value,
        "page": pages.numbers[place.sheet],
        "box": pages.box(place),
        "zone": place.zone,
        "confidence": _sure(sure),
        "case_ground": False,
        "points": None,
        "terminals": [{"id": t.id, "xy": pages.xy(place.sheet, t.at)} for t in terminals],
    }


def _wire(wire: Wire, splices: set[str], pages: Pages) -> Row:
    return {
        "id": wire.id,
        "code": wire.code.value,
        "confidence": _sure(wire.probability * wire.code.probability),
        "ends": [
            {
                "node": e.node,
                "terminal": None if e.node in splices else e.terminal,
                "page": pages.numbers[e.sheet],
                "xy": pages.xy(e.sheet, e.at),
            }
            for e in wire.ends
        ],
        "paths": [
            {"page": pages.numbers[p.sheet], "points": [pages.xy(p.sheet, q) for q in p.points]} for p in wire.paths
        ],
    }


def _edge(edge: EdgePoint, pages: Pages) -> Row:
    side = "link" if edge.edge == "arrow" else edge.edge
    return {"page": pages.numbers[edge.sheet], "edge": side, "xy": pages.xy(edge.sheet, edge.at)}


def _chart(harness: Harness) -> Iterable[Row]:
    for connector in harness.connectors:
        for cavity in connector.cavities:
            if connector.label.value and (cavity.a.value or cavity.b.value):
                yield {
                    "connector": connector.label.value,
                    "cavity": cavity.label,
                    "a": cavity.a.value,
                    "b": cavity.b.value,
                    "confidence": _sure(cavity.a.probability * cavity.b.probability),
                }


def _sure(probability: float) -> float:
    return round(min(1.0, max(0.0, probability)), 4)
