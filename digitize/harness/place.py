"""Where something stands: millimetres on a flat sheet, origin at the top left corner of the page, x right, y down."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

Point = tuple[float, float]
"""(x, y) in sheet mm."""

Polyline = tuple[Point, ...]
"""At least two points, in sheet mm."""


def length(line: Polyline) -> float:
    """Length of a polyline in its own unit."""
    return sum(math.dist(p, q) for p, q in pairwise(line))


@dataclass(frozen=True, slots=True)
class Box:
    """An upright rectangle in sheet mm; ``x0 <= x1`` and ``y0 <= y1``."""

    x0: float
    y0: float
    x1: float
    y1: float

    @property
    def width(self) -> float:
        """Extent along x, mm."""
        return self.x1 - self.x0

    @property
    def height(self) -> float:
        """Extent along y, mm."""
        return self.y1 - self.y0

    @property
    def centre(self) -> Point:
        """Middle of the box, mm."""
        return ((self.x0 + self.x1) / 2, (self.y0 + self.y1) / 2)

    def grown(self, by: float) -> Box:
        """The same box with every side moved outward by ``by`` mm (inward when negative)."""
        return Box(self.x0 - by, self.y0 - by, self.x1 + by, self.y1 + by)

    def holds(self, point: Point, margin: float = 0.0) -> bool:
        """True when ``point`` lies in the box or within ``margin`` mm of it."""
        return self.x0 - margin <= point[0] <= self.x1 + margin and self.y0 - margin <= point[1] <= self.y1 + margin

    def overlap(self, other: Box) -> float:
        """Common area with ``other`` in mm², 0 when apart."""
        # most pairs of boxes on a page lie apart, and this is asked of tens of thousands
        if other.x0 >= self.x1 or self.x0 >= other.x1 or other.y0 >= self.y1 or self.y0 >= other.y1:
            return 0.0
        w = min(self.x1, other.x1) - max(self.x0, other.x0)
        h = min(self.y1, other.y1) - max(self.y0, other.y0)
        return w * h if w > 0.0 and h > 0.0 else 0.0

    def swapped(self) -> Box:
        """The box on the sheet with x and y changed: what is upright there is level."""
        return Box(self.y0, self.x0, self.y1, self.x1)

    @staticmethod
    def enclosing(boxes: Sequence[Box]) -> Box:
        """The smallest box that holds all ``boxes``. Raises ValueError when there are none."""
        return Box.around([p for b in boxes for p in ((b.x0, b.y0), (b.x1, b.y1))])

    @staticmethod
    def around(points: Polyline | list[Point]) -> Box:
        """The smallest box that holds all ``points``. Raises ValueError when there are none."""
        if not points:
            raise ValueError("no points to put a box around")
        xs = [p[0] for p in points]
        ys = [p[1] for p in points]
        return Box(min(xs), min(ys), max(xs), max(ys))


@dataclass(frozen=True, slots=True)
class Place:
    """Where a claim was seen.

    Attributes:
        sheet: id of the sheet, e.g. ``page_03``.
        box: where on it, sheet mm.
        zone: the map reference, e.g. ``C5``; None when the sheet has no zones at all.
        zone_alternatives: other zones it also lies in, or whose border it touches.
        zone_nominal: True when the page prints no grid and the zone is only our own division of it.
    """

    sheet: str
    box: Box
    zone: str | None = None
    zone_alternatives: tuple[str, ...] = ()
    zone_nominal: bool = False
