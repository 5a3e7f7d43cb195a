"""Thick short bars where wires join: drawings that use a bar, as a terminal strip has it, where others draw filled dots.

Common practice, no source. A bar is made a dot before lines are followed: its wires are led to its middle, wherever along it
they come in, so that all that is known of dots holds for it.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from digitize.harness.place import Box, Point
from digitize.ink.rings import is_interrupted
from digitize.ink.state import Dot, Symbol, TextBlock
from digitize.sheet.state import PX_PER_MM, to_mm

_MM = PX_PER_MM
_LONG = (1.4, 7.0)
"""Length of a bar, mm."""
_THICK = (1.9, 6.0)
"""Its thickness, in widths of the lines that reach it …"""
_THIN = 1.6
"""… where none are so thick, and lines ran broad, at least so many …"""
_THICKEST = 2.2
"""… and in mm at most."""
_SLENDER = 1.7
"""It is at least so many times as long as thick; what is less is a dot, or a blot."""
_FILLED = 0.86
"""Share of its upright box that a bar fills."""
_ROUND = 0.35
"""How far outside a bar lines are looked for, mm."""
_FURTHER = 0.3
"""A line goes on so far behind that ring, mm; the barbs of an arrow's head end there."""
_ARM = 2.2
"""What crosses that ring is a line when it is no wider than so many usual widths …"""
_THINNER = 0.7
"""… and than this share of the bar's own thickness: a thick cable goes on as thick as it is."""
_ARMS = (3, 6)
"""Lines that a bar joins; with two it is a mark on a line, with one a ground."""
_BARBS = 2
"""A thick spot of which so many arms end at once is the head of an arrow."""
_HABIT = 2
"""So many bars on a sheet are its way to draw joins; one alone may be anything."""
_ALIKE = 0.2
"""The bars of a sheet differ in length and thickness by at most this share."""
_CABLE = 1.35
"""Where cables are much thicker than other lines, their bars are at least so many times as thick as the cables."""
_STOUT = 0.6
"""Such bars are at least so thick, in the length that they share with the other bars of the sheet."""
_UNSURE = 0.9
"""A part of which the net is less sure than this may be a bar."""
_MOST_OF_IT = 0.6
"""A part that is a bar is bar over this share of its box."""
_DISC = 1.35
"""Radius of the dot drawn in place of a bar, in widths of a line."""
_CODE = 6.0
"""Lettering at least so long may interrupt a line, mm."""
_USUAL_RUN = 1.2
"""Runs of ink longer than this do not tell how thick lines are, mm."""


@dataclass(frozen=True, slots=True)
class Bar:
    """A bar: box (x0, y0, x1, y1) and where lines come in, px; ``width``: that of a usual line, px."""

    box: tuple[int, int, int, int]
    arms: tuple[tuple[int, int], ...]
    width: float

    @property
    def size(self) -> tuple[int, int]:
        """Width and height, px."""
        x0, y0, x1, y1 = self.box
        return (x1 - x0 + 1, y1 - y0 + 1)

    @property
    def is_threaded(self) -> bool:
        """True when lines lead into both its narrow ends."""
        x0, y0, x1, y1 = self.box
        if x1 - x0 >= y1 - y0:
            return any(x < x0 for x, _ in self.arms) and any(x > x1 for x, _ in self.arms)
        return any(y < y0 for _, y in self.arms) and any(y > y1 for _, y in self.arms)

    @property
    def dot(self) -> Dot:
        """What it says."""
        x0, y0, x1, y1 = self.box
        return Dot(to_mm((x0 + x1) / 2, (y0 + y1) / 2), 2 * _DISC * self.width / _MM, 0.95)


def find_bars(ink: NDArray[np.uint8], blocks: Sequence[TextBlock] = ()) -> tuple[Bar, ...]:
    """Bars that join lines, in reading order; none where they are not the habit of the sheet.

    ``ink``: uint8 (H, W) at PX_PER_MM, 255 = line ink without lettering and symbols. ``blocks``: the lettering; feet of letters
    that stand on a line are no bars.
    """
    width = _line_width(ink)
    if width <= 0:
        return ()
    alike: list[Bar] = []
    for least in (_THICK[0], _THIN):
        found = _of_thickness(ink, width, blocks, least)
        alike = max((_like(b, found) for b in found), key=len, default=[])
        if len(alike) >= _HABIT:
            break
    else:
        return ()
    # a habit once known, wear may have left less of one of them
    for bar in _like(alike[0], _of_thickness(ink, width, blocks, _THIN)) if least > _THIN else ():
        if not any(math.dist(bar.dot.at, b.dot.at) < b.dot.diameter for b in alike):
            alike.append(bar)
    for bar in _on_cables(ink, alike):
        if not any(math.dist(bar.dot.at, b.dot.at) < b.dot.diameter for b in alike):
            alike.append(bar)
    return tuple(sorted(alike, key=lambda b: (b.box[1], b.box[0])))


def _of_thickness(ink: NDArray[np.uint8], width: float, blocks: Sequence[TextBlock], least: float) -> list[Bar]:
    """The bars of a sheet, ``least`` times as thick as lines are wide at least."""
    found = [b for level in (True, False) for b in _bars_along(ink, width, blocks, level=level, least=least)]
    return [b for b in found if not any(_is_foot(b, t.box) for t in blocks)]


def without_solid_bars(bodies: tuple[Symbol, ...], ink: NDArray[np.uint8]) -> tuple[Symbol, ...]:
    """The bodies but those that the net took for a part and that are solid bars with lines around them.

    No part is drawn as a filled bar that three lines reach (common practice, no source), but a ground may be: where the net is
    sure of its part, lines must lead into both ends of the bar and into its side. ``ink``: as for ``find_bars``, with the ink
    of symbols.
    """
    solid = [b for b in bodies if b.taught is None and _is_solid(b.box, ink)]
    width = _line_width(ink) if solid else 0.0
    return tuple(
        b
        for b in bodies
        if b not in solid or not any(b.probability < _UNSURE or bar.is_threaded for bar in _bars_in(b.box, ink, width))
    )


def _is_solid(box: Box, ink: NDArray[np.uint8]) -> bool:
    """True for a box of the size of a bar that is full of ink but for its rim: boxes are seldom drawn tight."""
    if max(box.width, box.height) > _LONG[1] + 2 * _ROUND or min(box.width, box.height) > _THICKEST + 2 * _ROUND:
        return False
    x0, y0, x1, y1 = (round(v * _MM) for v in (box.x0, box.y0, box.x1, box.y1))
    part = ink[max(0, y0) : y1, max(0, x0) : x1]
    return part.size > 0 and bool((part > 0).mean() > 0.5)


def _bars_in(box: Box, ink: NDArray[np.uint8], width: float) -> list[Bar]:
    """Bars that are most of what is in a box; their px are counted from somewhere near it.

    Two halves of a round sign stand so close that the slit between them closes up: that is a bar in the middle of a sign.
    """
    near = box.grown(2 * _ROUND)
    x0, y0, x1, y1 = (max(0, round(v * _MM)) for v in (near.x0, near.y0, near.x1, near.y1))
    part = np.ascontiguousarray(ink[y0:y1, x0:x1])
    x, y = box.centre[0] * _MM - x0, box.centre[1] * _MM - y0
    bars = [b for level in (True, False) for b in _bars_along(part, width, (), level=level)] if width > 0 else []
    least = _MOST_OF_IT * box.width * box.height * _MM**2
    return [
        b for b in bars if b.box[0] <= x <= b.box[2] and b.box[1] <= y <= b.box[3] and b.size[0] * b.size[1] >= least
    ]


def _on_cables(ink: NDArray[np.uint8], alike: Sequence[Bar]) -> list[Bar]:
    """Bars as long as those that are ``alike``, and as thick or thicker, on cables that are thicker than other lines."""
    long, short = (float(np.median([side(b.size) for b in alike])) for side in (max, min))
    width = alike[0].width
    stout = round(_STOUT * long)
    same = round((1 - _ALIKE) * long), max(3, round((1 - _ALIKE / 2) * short))
    found = []
    solid = [*_solid(ink, (stout, stout), level=True, step=3)]
    solid += [spot for level in (True, False) for spot in _solid(ink, same, level=level, step=1)]
    for x, y, w, h in solid:
        if abs(max(w, h) - long) > _ALIKE * long or (ink[y : y + h, x : x + w] > 0).mean() < _FILLED:
            continue
        box = (x, y, x + w - 1, y + h - 1)
        arms = _arms(ink, box, min(w, h) / _CABLE, width)
        if _ARMS[0] <= len(arms) <= _ARMS[1]:
            found.append(Bar(box, arms, width))
    return found


def _is_foot(bar: Bar, string: Box) -> bool:
    """True for what lies in or right below a much larger string."""
    x0, y0, x1, y1 = bar.box
    own = Box(*to_mm(x0, y0), *to_mm(x1, y1))
    return string.width * string.height > 3 * own.width * own.height and string.grown(0.4).holds(own.centre)


def _goes_on_in(block: TextBlock, at: Point) -> bool:
    """True for a place in a line of lettering, or where its next letter would stand."""
    b, flat = block.box, block.angle in (0, 180)
    high = b.height if flat else b.width
    on = Box(b.x0 - high, b.y0, b.x1 + high, b.y1) if flat else Box(b.x0, b.y0 - high, b.x1, b.y1 + high)
    return on.grown(0.1).holds(at)


def _like(bar: Bar, bars: Sequence[Bar]) -> list[Bar]:
    """Those of the size of ``bar``: one hand draws its bars alike, other thick spots are of any size."""
    sides = sorted(bar.size)
    return [
        b for b in bars if all(abs(p - q) <= max(2.0, _ALIKE * q) for p, q in zip(sorted(b.size), sides, strict=True))
    ]


def _bars_along(
    ink: NDArray[np.uint8], width: float, blocks: Sequence[TextBlock], *, level: bool, least: float = _THICK[0]
) -> list[Bar]:
    """The level bars, or the upright ones, ``least`` times as thick as lines are wide at least."""
    core = (round(_LONG[0] * _MM * 0.85), max(3, round(least * width)))
    found = []
    for x, y, w, h in _solid(ink, core, level=level):
        long, short = (w, h) if level else (h, w)
        if not (_LONG[0] * _MM <= long <= _LONG[1] * _MM and short <= min(_THICK[1] * width, _THICKEST * _MM)):
            continue
        if long < _SLENDER * short or (ink[y : y + h, x : x + w] > 0).mean() < _FILLED:
            continue
        box = (x, y, x + w - 1, y + h - 1)
        arms = _arms(ink, box, max(3.0, min(_ARM * width, _THINNER * short)), width, blocks)
        if sum(_ends(ink, box, arm, width) for arm in arms) >= _BARBS:
            continue
        if len(arms) == _ARMS[0] - 1:
            arms += _before_code(ink, box, blocks, level=level)
        if _ARMS[0] <= len(arms) <= _ARMS[1]:
            found.append(Bar(box, arms, width))
    return found


def _ends(ink: NDArray[np.uint8], box: tuple[int, int, int, int], arm: tuple[int, int], width: float) -> bool:
    """True for an arm that does not go on behind the ring on which it was found; of what lies outside ``ink`` nobody knows."""
    x0, y0, x1, y1 = box
    on, side = round(_FURTHER * _MM), max(1, round(width))
    across, down = (arm[0] > x1) - (arm[0] < x0), (arm[1] > y1) - (arm[1] < y0)
    x, y = arm[0] + on * across, arm[1] + on * down
    wide, high = (0, side) if across else (side, 0)
    beyond = ink[max(0, y - high) : max(0, y + high + 1), max(0, x - wide) : max(0, x + wide + 1)]
    return beyond.size > 0 and not beyond.any()


def _before_code(
    ink: NDArray[np.uint8], box: tuple[int, int, int, int], blocks: Sequence[TextBlock], *, level: bool
) -> tuple[tuple[int, int], ...]:
    """The end of a bar, px, right beside which a code begins that interrupts its wire: of the stub nothing is drawn then."""
    x0, y0, x1, y1 = box
    x, y = (x0 + x1) // 2, (y0 + y1) // 2
    radius = (x1 - x0 if level else y1 - y0) / 2 / _MM
    found = []
    for b in blocks:
        along = (b.angle in (0, 180)) == level and max(b.box.width, b.box.height) > _CODE
        if along and is_interrupted(to_mm(x, y), radius, b.box, ink, flat=level):
            behind = b.box.centre[0] * _MM > x if level else b.box.centre[1] * _MM > y
            found.append((x1 if behind else x0, y) if level else (x, y1 if behind else y0))
    return tuple(found)


def _solid(
    ink: NDArray[np.uint8], core: tuple[int, int], *, level: bool, step: int = 2
) -> Iterator[tuple[int, int, int, int]]:
    """(x, y, width, height), px, of what holds a solid ``core`` (length, thickness): no line and no crossing does.

    Looked for in every ``step``-th row and column first: at half the size it takes a quarter of the time.
    """
    small = np.ones([max(1, c // step) for c in (core[::-1] if level else core)], np.uint8)
    rough = cv2.erode(np.ascontiguousarray(ink[::step, ::step]), small)
    whole = np.ones(core[::-1] if level else core, np.uint8)
    reach = 2 * max(core)
    for contour in cv2.findContours(rough, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE)[0]:
        x, y, w, h = (step * v for v in cv2.boundingRect(contour))
        if max(w, h) > _LONG[1] * _MM:
            continue
        left, top = max(0, x - reach), max(0, y - reach)
        part = cv2.morphologyEx(ink[top : y + h + reach, left : x + w + reach], cv2.MORPH_OPEN, whole)
        for solid in cv2.findContours(part, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE)[0]:
            u, v, wide, high = cv2.boundingRect(solid)
            if u <= x - left + w and v <= y - top + h and u + wide >= x - left and v + high >= y - top:
                yield left + u, top + v, wide, high


def bars_as_dots(ink: NDArray[np.uint8], bars: tuple[Bar, ...]) -> None:
    """Put a dot in place of every bar, with its lines led to the dot. ``ink`` as for ``find_bars``, changed in place."""
    for bar in bars:
        x0, y0, x1, y1 = bar.box
        rim = round(0.17 * _MM)  # its edge is rough
        ink[max(0, y0 - rim) : y1 + rim + 1, max(0, x0 - rim) : x1 + rim + 1] = 0
        middle = (round((x0 + x1) / 2), round((y0 + y1) / 2))
        for arm in bar.arms:
            cv2.line(ink, arm, middle, 255, max(1, round(bar.width)))
        cv2.circle(ink, middle, round(_DISC * bar.width), 255, -1)


def with_bars(dots: tuple[Dot, ...], bars: Sequence[Bar]) -> tuple[Dot, ...]:
    """The dots in reading order, those that stand for bars among them."""
    return tuple(sorted((*dots, *(b.dot for b in bars)), key=lambda d: (d.at[1], d.at[0])))


def _line_width(ink: NDArray[np.uint8]) -> float:
    """Usual width of a line, px: the median of the short runs of ink along every eighth column and row."""
    runs: list[NDArray[np.int64]] = []
    for part in (ink[:, ::8].T, ink[::8]):
        flat = np.pad(part > 0, ((0, 0), (1, 1))).ravel()
        edges = np.flatnonzero(np.diff(flat.astype(np.int8)))
        runs.append(edges[1::2] - edges[::2])
    every = np.concatenate(runs)
    usual = every[(every >= 2) & (every <= _USUAL_RUN * _MM)]
    return float(np.median(usual)) if usual.size else 0.0


def _arms(
    ink: NDArray[np.uint8],
    box: tuple[int, int, int, int],
    widest: float,
    width: float,
    blocks: Sequence[TextBlock] = (),
) -> tuple[tuple[int, int], ...]:
    """Where lines cross a ring around a bar, px; nothing when something thicker than ``widest`` does, or the ring is cut off.

    A letter of one of the ``blocks`` that touches the bar is passed over.
    """
    off = round(_ROUND * _MM)
    x0, y0, x1, y1 = box[0] - off, box[1] - off, box[2] + off, box[3] + off
    if x0 < 0 or y0 < 0 or x1 >= ink.shape[1] or y1 >= ink.shape[0]:
        return ()
    ring = [
        *((x, y0) for x in range(x0, x1)),
        *((x1, y) for y in range(y0, y1)),
        *((x, y1) for x in range(x1, x0, -1)),
        *((x0, y) for y in range(y1, y0, -1)),
    ]
    inked = [bool(ink[y, x]) for x, y in ring]
    if all(inked) or not any(inked):
        return ()
    start = inked.index(False)  # so that no run is cut in two
    ring, inked = ring[start:] + ring[:start], inked[start:] + inked[:start]
    arms: list[tuple[int, int]] = []
    first: int | None = None
    for k, dark in enumerate([*inked, False]):
        if dark and first is None:
            first = k
        elif not dark and first is not None:
            middle = ring[(first + k - 1) // 2]
            if k - first <= widest:
                arms.append(middle)
            elif not any(_goes_on_in(t, to_mm(*middle)) for t in blocks):
                return ()
            first = None
    return tuple(a for k, a in enumerate(arms) if all(math.dist(a, b) > width for b in arms[:k]))
