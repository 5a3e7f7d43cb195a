"""What exports share: the nodes of a harness by id, each with a name, a kind and a place."""

from __future__ import annotations

from dataclasses import dataclass

from digitize.harness.model import Harness, WireEnd
from digitize.harness.place import Place, Point


@dataclass(frozen=True, slots=True)
class FlatNode:
    """Something a wire may end at, reduced to what a table or a graph can hold.

    ``name``: printed name or id, "" when unread. ``at``: sheet mm. ``object``: the connector a drawing belongs to, else
    the node's own id. ``location``: the chart's words for where a connector sits, or the part of the vehicle.
    """

    id: str
    kind: str
    name: str
    place: Place
    at: Point
    object: str
    probability: float
    location: str = ""


def flat_nodes(harness: Harness) -> dict[str, FlatNode]:
    """All nodes by id, in the harness's own order."""
    out: dict[str, FlatNode] = {}
    for c in harness.components:
        out[c.id] = FlatNode(c.id, c.kind, c.name.value or "", c.place, c.place.box.centre, c.id, c.probability)
    for k in harness.connectors:
        where = ", ".join(w for w in (k.location, k.part) if w)
        for d in k.places:
            out[d.id] = FlatNode(
                d.id, "connector", k.label.value or "", d.place, d.place.box.centre, k.id, d.probability, where
            )
    for s in harness.splices:
        out[s.id] = FlatNode(s.id, "splice", "", s.place, s.at, s.id, s.probability)
    for g in harness.grounds:
        out[g.id] = FlatNode(g.id, "ground", g.label.value or "", g.place, g.at, g.id, g.probability)
    for m in harness.grommets:
        for q in m.places:
            out[q.id] = FlatNode(q.id, "grommet", m.label.value or "", q.place, q.place.box.centre, m.id, q.probability)
    return out


def cavity_of(harness: Harness, end: WireEnd) -> str:
    """The cavity a wire end sits in when it ends at a connector, "" when unknown or no connector."""
    if end.node is None or not end.terminal or not end.terminal[1:].isdigit():
        return ""
    for k in harness.connectors:
        for d in k.places:
            if d.id == end.node:
                n = int(end.terminal[1:]) - 1
                return (d.cavities[n] or "") if 0 <= n < len(d.cavities) else ""
    return ""
