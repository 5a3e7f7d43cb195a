"""A border that is drawn by its four corners alone: two short strokes meet at each, and nothing runs between them."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import product

import numpy as np

from digitize.harness.place import Point
from digitize.sheet.frame import FrameLines, Rule

_MEET_MM = 1.5
"""Two strokes whose ends are this near to each other make a corner."""

_ARM_MM = (7.0, 60.0)
"""Length of a corner's strokes (common practice, no source; below, lettering and symbols have corners too)."""

_ALIKE = 1.6
"""The eight strokes differ in length by no more than this factor: a draughtsman draws all corners alike."""

_SQUARE = 0.02
"""How far the sides may lean or differ, as a share of their length: the page may lie askew."""

_MOST = 10
"""So many corners nearest to each corner of the page are tried: wires have corners too, but farther in."""

_LEAST = 0.55
"""The border is at least this share of the page wide and high."""


@dataclass(frozen=True, slots=True)
class _Corner:
    at: Point
    arms: tuple[float, float]


def frame_of_corners(level: list[Rule], upright: list[Rule], width_mm: float, height_mm: float) -> FrameLines | None:
    """The border that four corners of a page show, None without them.

    ``level``, ``upright``: all rules of 7 mm and more, mm; ``width_mm``, ``height_mm``: the page's.
    """
    found = []
    for rightward, downward in ((True, True), (False, True), (False, False), (True, False)):
        edge = (0.0 if rightward else width_mm, 0.0 if downward else height_mm)
        found.append(_nearest(_corners(level, upright, rightward=rightward, downward=downward), edge))
    best: tuple[float, list[_Corner]] | None = None
    for four in product(*found):
        if not _is_border(four, width_mm, height_mm):
            continue
        arms = [a for c in four for a in c.arms]
        spread = max(arms) / min(arms)
        if spread <= _ALIKE and (best is None or spread < best[0]):
            best = (spread, list(four))
    if best is None:
        return None
    tl, tr, br, bl = (c.at for c in best[1])
    return FrameLines(_side(tl, bl), _side(tl, tr), _side(tr, br), _side(bl, br), 0.9)


def _nearest(corners: list[_Corner], edge: Point) -> list[_Corner]:
    return sorted(corners, key=lambda c: math.dist(c.at, edge))[:_MOST]


def _corners(level: list[Rule], upright: list[Rule], *, rightward: bool, downward: bool) -> list[_Corner]:
    """Where a level stroke that leads ``rightward`` from its end meets the end of an upright one that leads ``downward``."""
    arms, others = [r for r in level if _is_arm(r)], [r for r in upright if _is_arm(r)]
    if not arms or not others:
        return []
    first, top = 0 if rightward else -1, 0 if downward else -1
    x, y = np.array([(r.at[first], r.offset[first]) for r in arms]).T
    other_x, other_y = np.array([(r.offset[top], r.at[top]) for r in others]).T
    meets = (np.abs(x[:, None] - other_x) < _MEET_MM) & (np.abs(other_y - y[:, None]) < _MEET_MM)
    return [
        _Corner((float(other_x[j]), float(y[i])), (_length(arms[i]), _length(others[j])))
        for i, j in zip(*np.nonzero(meets), strict=True)
    ]


def _length(rule: Rule) -> float:
    return rule.end - rule.start


def _is_arm(rule: Rule) -> bool:
    return _ARM_MM[0] <= _length(rule) <= _ARM_MM[1]


def _is_border(four: tuple[_Corner, ...], width_mm: float, height_mm: float) -> bool:
    (ax, ay), (bx, by), (cx, cy), (dx, dy) = (c.at for c in four)
    wide, high = min(bx - ax, cx - dx), min(dy - ay, cy - by)
    if wide < _LEAST * width_mm or high < _LEAST * height_mm:
        return False
    lean = 1.0 + _SQUARE * max(wide, high)
    return (
        max(abs(ax - dx), abs(bx - cx), abs(ay - by), abs(dy - cy)) <= lean
        and abs((bx - ax) - (cx - dx)) + abs((dy - ay) - (cy - by)) <= lean
    )


def _side(a: Point, b: Point) -> Rule:
    """A straight side between two corners, as if it were drawn."""
    level = abs(b[0] - a[0]) > abs(b[1] - a[1])
    k = 0 if level else 1
    at = np.linspace(a[k], b[k], 9)
    return Rule(level, at, np.interp(at, [a[k], b[k]], [a[1 - k], b[1 - k]]), 1.0)
