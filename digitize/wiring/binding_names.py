"""Ids that stay the same when the same pages are read again: sheet, kind and the place to the millimetre."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from itertools import pairwise
from typing import TypeVar

from digitize.harness.place import Box, Place, Point, Polyline
from digitize.sheet.state import SheetFacts

T = TypeVar("T")


def natural_key(name: str) -> tuple[tuple[int, int, str], ...]:
    """Sort key that puts ``page_9`` before ``page_10``."""
    return tuple((0, int(p), "") if p.isdigit() else (1, 0, p) for p in re.split(r"(\d+)", name) if p)


def spot_ids(
    things: Iterable[tuple[T, Point]], sheet: str, kind: str, order: Callable[[T], object]
) -> list[tuple[T, str]]:
    """An id for each thing from where it stands, e.g. ``page_03.lamp.124-087`` (x and y in whole mm).

    Two things at one spot are told apart by a letter, in the order of ``order``; so the order of ``things`` never
    matters.
    """
    standing: dict[str, list[T]] = {}
    for thing, at in things:
        standing.setdefault(f"{sheet}.{kind}.{round(at[0]):03d}-{round(at[1]):03d}", []).append(thing)
    named = []
    for spot in sorted(standing):
        here = sorted(standing[spot], key=order)  # type: ignore[arg-type]
        named += [(t, spot + ("" if i == 0 else _letters(i))) for i, t in enumerate(here)]
    return named


def _letters(i: int) -> str:
    """1 → b, 2 → c …, 26 → ab."""
    return ("" if i < 26 else chr(96 + i // 26)) + chr(97 + i % 26)


def middle(points: Polyline) -> Point:
    """The point half way along a polyline."""
    lengths = [((b[0] - a[0]) ** 2 + (b[1] - a[1]) ** 2) ** 0.5 for a, b in pairwise(points)]
    left = sum(lengths) / 2
    for (a, b), length in zip(pairwise(points), lengths, strict=True):
        if length > 0 and left <= length:
            t = left / length
            return (a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1]))
        left -= length
    return points[-1]


def place_on(facts: SheetFacts, box: Box) -> Place:
    """A box on a sheet as a Place: its zone is that of the box's middle, the alternatives are all others it touches."""
    zone, others = facts.zones.zone_at(box.centre)
    touched = set(others)
    for corner in ((box.x0, box.y0), (box.x1, box.y0), (box.x0, box.y1), (box.x1, box.y1)):
        there, near = facts.zones.zone_at(corner)
        touched |= {z for z in (there, *near) if z is not None}
    touched.discard(zone or "")
    return Place(facts.sheet, box, zone, tuple(sorted(touched, key=natural_key)), facts.zones.nominal)


def box_at(point: Point, half: float = 0.8) -> Box:
    """A small box around a point, mm."""
    return Box(point[0] - half, point[1] - half, point[0] + half, point[1] + half)
