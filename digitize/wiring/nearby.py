"""Things on a sheet by where they are: on a dense page, asking each about each takes longer than everything else."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Generic, TypeVar

import shapely

from digitize.harness.place import Box, Point

Thing = TypeVar("Thing")


class Nearby(Generic[Thing]):
    """Things with their boxes in sheet mm, in a tree of boxes (shapely's STRtree): asked for an area, it gives those there."""

    def __init__(self, things: Sequence[Thing], boxes: Sequence[Box]) -> None:
        """``boxes``: one for each of ``things``, in the same order. Raises ValueError when they are not as many."""
        if len(things) != len(boxes):
            raise ValueError(f"{len(things)} things with {len(boxes)} boxes")
        self._things = tuple(things)
        corners = ([b.x0 for b in boxes], [b.y0 for b in boxes], [b.x1 for b in boxes], [b.y1 for b in boxes])
        self._tree = shapely.STRtree(shapely.box(*corners))

    def numbers(self, area: Box) -> list[int]:
        """Numbers of the things whose boxes overlap ``area`` or touch it, in ascending order."""
        found: list[int] = sorted(self._tree.query(shapely.box(area.x0, area.y0, area.x1, area.y1)).tolist())
        return found

    def at(self, area: Box) -> list[Thing]:
        """The things themselves, in the order in which they were given."""
        return [self._things[n] for n in self.numbers(area)]

    def around(self, point: Point, reach: float) -> list[Thing]:
        """The things at the square of ``reach`` mm to each side of ``point``: those within ``reach`` of it and a few more."""
        x, y = point
        return self.at(Box(x - reach, y - reach, x + reach, y + reach))


def spot(point: Point) -> Box:
    """The box of a single point."""
    return Box(point[0], point[1], point[0], point[1])
