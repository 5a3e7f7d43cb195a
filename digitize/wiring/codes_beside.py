"""Codes that are printed level beside an upright run, instead of upright along it.

Many houses never turn their lettering: at an upright run the code stands to its right or left, its end as far off as
everywhere on the sheet (common practice, no source). Whether a sheet does so is measured on the codes that stand along no
level run at all; then a code that stands badly along a level run, and well beside an upright one, belongs to that one.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from statistics import median

from digitize.harness.place import Box, Point
from digitize.wiring.trails import Trail

_FAR = 3.0
"""A code beside an upright run begins at most so far from it, mm."""
_FEWEST = 3
"""So many codes along no level run, equally far from an upright one on the same side, make a habit (own choice)."""
_EQUAL = 0.4
"""Distances that differ by no more are equal, mm."""
_LOST = 1.2
"""What stands this badly along a level run, or worse, stands along none, mm of cost as in ``codes``."""
_TURNED = 0.25
"""What a code beside an upright run costs more than one along a level run, where both are habits of the sheet, mm."""
_STRANGE = 1.6
"""The same where no habit speaks for it."""


@dataclass(frozen=True, slots=True)
class Beside:
    """An upright trail beside a level text: ``side`` of the run that the text is on, ``distance`` from its end, mm."""

    trail: int
    side: str
    distance: float
    at: Point


def beside_runs(box: Box, trails: Sequence[Trail], boxes: Sequence[Box]) -> list[Beside]:
    """The nearest upright run at each end of a level text; ``boxes``: around the trails."""
    best: dict[str, Beside] = {}
    level = box.centre[1]
    slack = 0.3 * box.height
    for k, (trail, around) in enumerate(zip(trails, boxes, strict=True)):
        if around.x0 > box.x1 + _FAR or around.x1 < box.x0 - _FAR or around.y0 > level or around.y1 < level:
            continue
        for p, q in zip(trail.points, trail.points[1:], strict=False):
            if abs(q[0] - p[0]) > 0.2 * abs(q[1] - p[1]):
                continue
            if not min(p[1], q[1]) <= level - slack or not max(p[1], q[1]) >= level + slack:
                continue
            x = p[0] + (q[0] - p[0]) * (level - p[1]) / (q[1] - p[1])
            for side, distance in (("right", box.x0 - x), ("left", x - box.x1)):
                if -0.3 <= distance <= _FAR and (side not in best or distance < best[side].distance):
                    best[side] = Beside(k, side, max(0.0, distance), (x, level))
    return list(best.values())


def beside_costs(
    found: Mapping[int, Sequence[Beside]], along: Mapping[int, float]
) -> dict[int, list[tuple[float, Beside]]]:
    """For each text how badly each upright run beside it fits, in mm of distance.

    Args:
        found: text → what ``beside_runs`` found.
        along: text → cost of the best level run that it stands along; texts along none are left out.
    """
    lost = {k: near for k, near in found.items() if near and along.get(k, _LOST) >= _LOST}
    habit = _habit(lost)
    out: dict[int, list[tuple[float, Beside]]] = {}
    for k, near in found.items():
        costs = []
        for b in near:
            if habit is not None and b.side == habit[0] and abs(b.distance - habit[1]) <= _EQUAL:
                costs.append((abs(b.distance - habit[1]) + _TURNED, b))
            elif k in lost:
                costs.append((0.5 * b.distance + _STRANGE, b))
        if costs:
            out[k] = costs
    return out


def _habit(lost: Mapping[int, Sequence[Beside]]) -> tuple[str, float] | None:
    """The side and distance at which codes along no level run stand beside upright ones; None when they do not agree."""
    best: tuple[int, str, float] | None = None
    for side in ("right", "left"):
        distances = [b.distance for near in lost.values() for b in near if b.side == side]
        if not distances:
            continue
        usual = median(distances)
        equal = sum(abs(d - usual) <= _EQUAL for d in distances)
        if equal >= max(_FEWEST, 0.5 * len(lost)) and (best is None or equal > best[0]):
            best = (equal, side, usual)
    return best[1:] if best is not None else None
