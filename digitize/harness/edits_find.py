"""Find an edit's object again: by its id, else the nearest object of its kind where the edit's anchor stands."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

from digitize.harness.edits import Anchor, EndRef
from digitize.harness.model import (
    Component,
    Connector,
    DrawnConnector,
    DrawnGrommet,
    Finding,
    Grommet,
    Ground,
    Harness,
    PageLink,
    SheetNote,
    Splice,
    Wire,
)
from digitize.harness.place import Box, Point, Polyline, length

REACH = 3.0
"""How far (mm) an object may have moved between two digitizations and still be taken for the same one. Own choice: less
than the pitch of parallel wires (4 to 6 mm on dense sheets), more than the wobble between two scans of one page."""

KINDS = (
    "wire", "component", "connector", "drawn_connector", "splice", "grommet", "drawn_grommet", "ground", "link",
    "finding", "sheet",
)  # fmt: skip

Thing = (
    Wire | Component | Connector | DrawnConnector | Splice | Grommet | DrawnGrommet | Ground | PageLink | Finding
    | SheetNote
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Stand:
    """An object with where it stands: ``lines`` are (sheet, polyline) it lies on, ``boxes`` (sheet, box) it fills."""

    id: str
    kind: str
    thing: Thing
    says: str | None
    lines: tuple[tuple[str, Polyline], ...] = ()
    boxes: tuple[tuple[str, Box], ...] = ()

    def distance(self, sheet: str, at: Point) -> float:
        """Millimetres from ``at`` on ``sheet`` to the object; infinite when it does not stand on that sheet."""
        best = math.inf
        for s, line in self.lines:
            if s == sheet:
                best = min(best, nearest(line, at)[0])
        for s, box in self.boxes:
            if s == sheet:
                best = min(
                    best, math.hypot(max(box.x0 - at[0], at[0] - box.x1, 0), max(box.y0 - at[1], at[1] - box.y1, 0))
                )
        return best

    def anchor(self) -> Anchor:
        """An anchor for an edit on this object: the middle of its longest line, or of its first box."""
        if self.lines:
            sheet, line = max(self.lines, key=lambda pair: length(pair[1]))
            return Anchor(self.kind, sheet, point_along(line, 0.5), self.says)
        if self.boxes:
            return Anchor(self.kind, self.boxes[0][0], self.boxes[0][1].centre, self.says)
        return Anchor(self.kind, "", (0.0, 0.0), self.says)


def stands(harness: Harness, kind: str) -> Iterator[Stand]:
    """Every object of ``kind`` (one of KINDS; an unknown kind raises ValueError), in the harness's own order."""
    match kind:
        case "wire":
            for w in harness.wires:
                yield Stand(w.id, kind, w, w.code.value, lines=tuple((p.sheet, p.points) for p in w.paths))
        case "component":
            for c in harness.components:
                yield Stand(c.id, kind, c, c.name.value, boxes=((c.place.sheet, c.place.box),))
        case "connector":
            for k in harness.connectors:
                yield Stand(k.id, kind, k, k.label.value, boxes=tuple((p.place.sheet, p.place.box) for p in k.places))
        case "drawn_connector":
            for k in harness.connectors:
                for p in k.places:
                    yield Stand(p.id, kind, p, k.label.value, boxes=((p.place.sheet, p.place.box),))
        case "splice":
            for s in harness.splices:
                yield Stand(s.id, kind, s, None, boxes=((s.place.sheet, _spot(s.at)),))
        case "grommet":
            for g in harness.grommets:
                yield Stand(g.id, kind, g, g.label.value, boxes=tuple((p.place.sheet, p.place.box) for p in g.places))
        case "drawn_grommet":
            for g in harness.grommets:
                for d in g.places:
                    yield Stand(d.id, kind, d, g.label.value, boxes=((d.place.sheet, d.place.box),))
        case "ground":
            for e in harness.grounds:
                yield Stand(e.id, kind, e, e.label.value, boxes=((e.place.sheet, e.place.box),))
        case "link":
            for n in harness.links:
                points = (n.a,) if n.b is None else (n.a, n.b)
                yield Stand(n.id, kind, n, n.code.value, boxes=tuple((p.sheet, _spot(p.at)) for p in points))
        case "finding":
            for f in harness.findings:
                yield Stand(f.id, kind, f, f.why, boxes=tuple((p.sheet, p.box) for p in f.places))
        case "sheet":
            for n2 in harness.sheets:
                yield Stand(n2.id, kind, n2, n2.title, boxes=((n2.id, Box(0, 0, n2.width, n2.height)),))
        case _:
            raise ValueError(f"no kind of object is called {kind!r}")


def every_stand(harness: Harness) -> Iterator[Stand]:
    """All objects of all kinds."""
    for kind in KINDS:
        yield from stands(harness, kind)


def look_up(harness: Harness, target: str) -> Stand | None:
    """The object with this id, whatever its kind; None when there is none."""
    return next((s for s in every_stand(harness) if s.id == target), None)


def find(harness: Harness, target: str, anchor: Anchor) -> Stand | None:
    """The object that an edit means.

    By id, when that object still stands within REACH of the anchor or still says the same; else the nearest object of
    the anchor's kind within REACH (one that says the same before one that does not); None when it is gone. An id alone is not enough: after a new digitization the same
    id could have fallen to another object, and an edit must not land on a stranger.
    """
    best: tuple[tuple[bool, float], Stand] | None = None
    same_words: Stand | None = None
    for stand in stands(harness, anchor.kind):
        away = stand.distance(anchor.sheet, anchor.at)
        if stand.id == target:
            if away <= REACH or not anchor.sheet or anchor.kind == "sheet":
                return stand
            if stand.says is not None and stand.says == anchor.seen:
                same_words = stand
        rank = (stand.says != anchor.seen, away)
        if away <= REACH and (best is None or rank < best[0]):
            best = (rank, stand)
    return same_words or (best[1] if best else None)


def find_end(harness: Harness, ref: EndRef) -> tuple[Wire, int] | None:
    """The wire end that ``ref`` means: that wire's end when it still lies there, else the nearest end within REACH."""
    best: tuple[float, int, Wire, int] | None = None
    for wire in harness.wires:
        for index, end in enumerate(wire.ends):
            if end.sheet != ref.anchor.sheet:
                continue
            away = math.dist(end.at, ref.anchor.at)
            if away > REACH:
                continue
            stranger = 0 if (wire.id == ref.wire and index == ref.end) else 1 if wire.id == ref.wire else 2
            if best is None or (stranger, away) < (best[1], best[0]):
                best = (away, stranger, wire, index)
    return None if best is None else (best[2], best[3])


def nearest(line: Polyline, at: Point) -> tuple[float, int, Point]:
    """(distance in mm, index of the segment, foot point) of the point of ``line`` nearest to ``at``."""
    best = (math.dist(line[0], at), 0, line[0])
    for i, (p, q) in enumerate(pairwise(line)):
        dx, dy = q[0] - p[0], q[1] - p[1]
        span = dx * dx + dy * dy
        t = 0.0 if span == 0 else min(1.0, max(0.0, ((at[0] - p[0]) * dx + (at[1] - p[1]) * dy) / span))
        foot = (p[0] + t * dx, p[1] + t * dy)
        away = math.dist(foot, at)
        if away < best[0]:
            best = (away, i, foot)
    return best


def point_along(line: Polyline, share: float) -> Point:
    """The point at ``share`` (0..1) of the way along ``line``."""
    left = length(line) * share
    for p, q in pairwise(line):
        step = math.dist(p, q)
        if step >= left and step > 0:
            t = left / step
            return (p[0] + t * (q[0] - p[0]), p[1] + t * (q[1] - p[1]))
        left -= step
    return line[-1]


def _spot(at: Point) -> Box:
    return Box(at[0], at[1], at[0], at[1])
