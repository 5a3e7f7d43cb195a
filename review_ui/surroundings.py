"""What lies around a loose end or ahead of it: other ends, terminals, bodies and lines, as places where it may go on.

Lettering that stands in the line is looked across: where a code interrupts its wire, the wire goes on behind the code. All
distances in mm on paper; the reaches are our own choice.
"""

from __future__ import annotations

import math
from collections import defaultdict
from dataclasses import dataclass
from itertools import pairwise
from typing import Generic, TypeVar

import numpy as np

from digitize.harness.edits_find import nearest
from digitize.harness.model import Harness, PrintedText, Wire
from digitize.harness.place import Box, Point

NEAR = 4.0
"""Whatever lies as near as this is looked at, in any direction."""

AHEAD = 14.0
"""How far ahead of an end it is looked for the rest of its line."""

ASIDE = 0.3
"""How far, for each mm ahead, something may lie aside of the line."""

LETTERING = 3.0
"""How near to an end a string must stand to be taken to interrupt the line."""

APART = 1.5
"""How near two terminals of one part can stand."""

LEVER, LEVER_SLANT = (2.5, 14.0), 0.15
"""Length (mm) of a lever, and how much it leaves the level or upright for each mm."""

AROUND = 25.0
"""How far a loose end of another wire may lie in any direction: what belonged together was cut apart by something false."""

BESIDE_BODY = 1.5
"""How near to the rim of a body a line may stop to be taken to end there, wherever it points (mm; thrice a usual pen)."""

AT_TERMINAL = 3.0
"""How near to a terminal a line must come to a body to be taken to end there."""


@dataclass(frozen=True, slots=True)
class Target:
    """Where a line may go on.

    Attributes:
        kind: ``end`` (of another wire), ``terminal`` (that no wire comes to), ``body`` (of a part, where no terminal was read)
            or ``line`` (of another wire, somewhere between its ends).
        id: the wire, or the object that has the terminal.
        part: the number of the end (``0`` or ``1``), the terminal's id, ``new`` for a body, empty for a line.
        at: where, mm on the sheet asked about.
        away: mm from where the search began.
        weight: how likely it is against the others; only the order counts.
    """

    kind: str
    id: str
    part: str
    at: Point
    away: float
    weight: float


Piece = tuple[Wire, Point, Point]
"""A straight piece of a wire, and its two ends."""

Thing = TypeVar("Thing")


class Spread(Generic[Thing]):
    """Things spread over a sheet, to be asked which lie near a place: a large sheet has tens of thousands."""

    def __init__(self, things: list[Thing], extents: list[tuple[Point, Point]]) -> None:
        """``extents``: two opposite corners of each, mm."""
        corners = np.array(extents, dtype=np.float64).reshape(-1, 2, 2)
        self._things, self._low, self._high = things, corners.min(axis=1), corners.max(axis=1)

    def within(self, at: Point, reach: float) -> list[Thing]:
        """Those of which some part may lie no farther than ``reach`` mm from ``at``, in their order."""
        near = ((self._low <= np.add(at, reach)) & (self._high >= np.subtract(at, reach))).all(axis=1)
        return [self._things[k] for k in np.flatnonzero(near)]


class Surroundings:
    """Everything of a harness by sheets; made once for the questions that are shown at one time."""

    def __init__(self, harness: Harness) -> None:
        """Sort by sheets."""
        self.harness = harness
        self.wires: dict[str, list[Wire]] = defaultdict(list)
        self.texts: dict[str, list[PrintedText]] = defaultdict(list)
        self.bodies: dict[str, list[tuple[str, Box]]] = defaultdict(list)
        self._terminals: dict[str, list[tuple[str, str, Point]]] = defaultdict(list)
        used = {(e.node, e.terminal) for w in harness.wires for e in w.ends}
        edges = {(p.sheet, p.at) for k in harness.links for p in (k.a, k.b) if p is not None}
        self._edges = edges
        for wire in harness.wires:
            for sheet in {p.sheet for p in wire.paths}:
                self.wires[sheet].append(wire)
        for text in harness.texts:
            self.texts[text.place.sheet].append(text)
        parts = [(c.id, c.place, c.terminals) for c in harness.components]
        parts += [(p.id, p.place, p.terminals) for c in harness.connectors for p in c.places]
        self.used = used
        for id_, place, terminals in parts:
            self.bodies[place.sheet].append((id_, place.box))
            self._terminals[place.sheet] += [(id_, t.id, t.at) for t in terminals]
        for ground in harness.grounds:
            self._terminals[ground.place.sheet].append((ground.id, "1", ground.at))
        self._pieces: dict[str, Spread[Piece]] = {}
        self._loose_ends: dict[str, Spread[tuple[Wire, int]]] = {}

    def loose(self, wire: Wire) -> list[int]:
        """The ends of a wire that hang on nothing and leave the sheet nowhere."""
        return [i for i, e in enumerate(wire.ends) if e.node is None and (e.sheet, e.at) not in self._edges]

    def across(self, sheet: str, at: Point) -> tuple[Point, Point, str] | None:
        """The far end of a code that begins at ``at``, the direction in which it is left, and the code; None without one."""
        best: tuple[float, Point, Point, str] | None = None
        for text in self.texts[sheet]:
            box = text.place.box
            if text.role != "code" or not box.holds(at, LETTERING):
                continue
            (x, y), wide = box.centre, box.width >= box.height
            ends = ((box.x0, y), (box.x1, y)) if wide else ((x, box.y0), (x, box.y1))
            near, far = sorted(ends, key=lambda p: math.dist(p, at))
            away = math.dist(near, at)
            if away <= LETTERING + min(box.width, box.height) and (best is None or away < best[0]):
                long = math.dist(near, far) or 1.0
                best = (away, far, ((far[0] - near[0]) / long, (far[1] - near[1]) / long), text.text)
        return None if best is None else best[1:]

    def targets(
        self, sheet: str, at: Point, heading: Point, *, code: str | None = None, skip: str = "", reach: float = AHEAD
    ) -> list[Target]:
        """Where a line that stops at ``at`` and was going ``heading`` may go on, likeliest first.

        ``code`` is its own code: an end of a wire with the same one is likelier; ``skip`` is its own id.
        """
        found = [*self._ends(sheet, at, heading, reach, code, skip), *self._free(sheet, at, heading, reach, skip)]
        found += self._struck(sheet, at, heading, reach, skip)
        found += self._lines(sheet, at, heading, min(reach, AHEAD), skip)
        best: dict[tuple[str, str, str], Target] = {}
        for target in found:
            key = (target.kind, target.id, target.part)
            if key not in best or target.weight > best[key].weight:
                best[key] = target
        return sorted(best.values(), key=lambda t: (-t.weight, t.id, t.part))

    def _ends(
        self, sheet: str, at: Point, heading: Point, reach: float, code: str | None, skip: str
    ) -> list[Target]:  # fmt: skip
        found = []
        for wire, i in self._ends_on(sheet).within(at, max(_farthest(reach), AROUND)):
            end = wire.ends[i]
            if wire.id == skip:
                continue
            away = _ahead(at, heading, end.at, reach)
            if away is None and math.dist(at, end.at) <= AROUND:
                away = 2 * math.dist(at, end.at)
            if away is not None:
                known = 2.0 if code is not None and wire.code.value == code else 1.0
                clash = 0.4 if code is not None and wire.code.value not in {None, code} else 1.0
                found.append(Target("end", wire.id, str(i), end.at, away, 1.5 * known * clash * math.exp(-away / 8)))
        return found

    def _ends_on(self, sheet: str) -> Spread[tuple[Wire, int]]:
        """The loose ends on a sheet."""
        if sheet not in self._loose_ends:
            loose = [(w, i) for w in self.wires[sheet] for i in self.loose(w) if w.ends[i].sheet == sheet]
            self._loose_ends[sheet] = Spread(loose, [(w.ends[i].at, w.ends[i].at) for w, i in loose])
        return self._loose_ends[sheet]

    def _pieces_on(self, sheet: str) -> Spread[Piece]:
        """The straight pieces of the wires on a sheet."""
        if sheet not in self._pieces:
            pieces = [
                (w, one, two)
                for w in self.wires[sheet]
                for path in w.paths
                if path.sheet == sheet
                for one, two in pairwise(path.points)
            ]
            self._pieces[sheet] = Spread(pieces, [(one, two) for _, one, two in pieces])
        return self._pieces[sheet]

    def _free(self, sheet: str, at: Point, heading: Point, reach: float, skip: str) -> list[Target]:
        found = []
        for node, terminal, spot in self._terminals[sheet]:
            if (node, terminal) in self.used or node == skip:
                continue
            away = _ahead(at, heading, spot, reach)
            if away is not None:
                found.append(Target("terminal", node, terminal, spot, away, 1.3 * math.exp(-away / 8)))
        return found

    def _struck(self, sheet: str, at: Point, heading: Point, reach: float, skip: str) -> list[Target]:
        """Bodies that the line would run into or stops beside, where no terminal was read."""
        found = []
        for node, box in self.bodies[sheet]:
            if node == skip:
                continue
            spot = _touches(at, box) or _strikes(at, heading, box)
            if spot is None or math.dist(at, spot) > reach:
                continue
            if any(
                n == node and math.dist(p, spot) <= (APART if (n, t) in self.used else AT_TERMINAL)
                for n, t, p in self._terminals[sheet]
            ):
                continue
            away = math.dist(at, spot)
            found.append(Target("body", node, "new", spot, away, math.exp(-away / 8)))
        return found

    def _lines(self, sheet: str, at: Point, heading: Point, reach: float, skip: str) -> list[Target]:
        found = []
        for wire, one, two in self._pieces_on(sheet).within(at, _farthest(reach)):
            if wire.id == skip:
                continue
            _, _, spot = nearest((one, two), at)
            away = _ahead(at, heading, spot, reach)
            if away is not None and min(math.dist(spot, e.at) for e in wire.ends) > 1.0:
                found.append(Target("line", wire.id, "", spot, away, 0.5 * math.exp(-away / 4)))
        return found


def heading_of(wire: Wire, end: int) -> Point:
    """The direction in which a wire runs out of its end, as a unit vector; (0, 0) for a wire without extent."""
    line = wire.paths[0].points[::-1] if end == 0 else wire.paths[-1].points
    for point in line[-2::-1]:
        long = math.dist(point, line[-1])
        if long > 0.5:
            return ((line[-1][0] - point[0]) / long, (line[-1][1] - point[1]) / long)
    return (0.0, 0.0)


def foot_of(wire: Wire, end: int) -> Point:
    """Where a wire begins behind a slanting last piece, which is the lever of a switch rather than wire; else its end.

    Wires run level or upright, with corners that are cut off at most for a few mm (common practice, no source).
    """
    line = wire.paths[0].points[::-1] if end == 0 else wire.paths[-1].points
    (x0, y0), (x1, y1) = line[-2], line[-1]
    dx, dy = abs(x1 - x0), abs(y1 - y0)
    slants = min(dx, dy) > LEVER_SLANT * max(dx, dy)
    return line[-2] if slants and LEVER[0] <= math.hypot(dx, dy) <= LEVER[1] else line[-1]


def _ahead(at: Point, heading: Point, spot: Point, reach: float) -> float | None:
    """How far ``spot`` is when it lies near, or ahead and not far aside; None otherwise."""
    dx, dy = spot[0] - at[0], spot[1] - at[1]
    away = math.hypot(dx, dy)
    if away <= NEAR:
        return away
    along = dx * heading[0] + dy * heading[1]
    aside = abs(dx * heading[1] - dy * heading[0])
    return away if 0 < along <= reach and aside <= max(2.0, ASIDE * along) else None


def _farthest(reach: float) -> float:
    """No spot farther away than this is ahead (``_ahead``), mm."""
    return max(NEAR, math.hypot(reach, max(2.0, ASIDE * reach)))


def _touches(at: Point, box: Box) -> Point | None:
    """The point of the rim of ``box`` beside ``at``, which lies just outside of it; None when it lies farther off, or inside.

    A line wavers at its very end: where it points there says less than where it is.
    """
    spot = (min(max(at[0], box.x0), box.x1), min(max(at[1], box.y0), box.y1))
    return spot if 0.0 < math.dist(at, spot) <= BESIDE_BODY else None


def _strikes(at: Point, heading: Point, box: Box) -> Point | None:
    """Where a line from ``at`` along ``heading`` (nearly upright or level) meets the rim of ``box``; None when it misses."""
    if abs(heading[0]) >= abs(heading[1]):
        if heading[0] == 0 or not box.y0 - 1 <= at[1] <= box.y1 + 1:
            return None
        x = box.x0 if heading[0] > 0 else box.x1
        ahead = (x - at[0]) * heading[0]
        return (x, min(max(at[1], box.y0), box.y1)) if ahead > -2.0 else None
    if not box.x0 - 1 <= at[0] <= box.x1 + 1:
        return None
    y = box.y0 if heading[1] > 0 else box.y1
    ahead = (y - at[1]) * heading[1]
    return (min(max(at[0], box.x0), box.x1), y) if ahead > -2.0 else None
