"""Where the texts of a table page stand: ruled lines, rows and columns. All in sheet mm."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from digitize.harness.place import Box
from digitize.reading.state import ReadText
from digitize.sheet.state import PX_PER_MM

RULE_MIN = 8.0
"""A rule of a table is at least this long, mm."""

_HIGH, _STROKE, _OFF_MIDDLE = 0.6, 0.35, 0.28
"""Lettering that tells where the middle of its line is, a stroke that is no letter, and how far off the middle a dash stands at
most, in usual heights of lettering (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Rules:
    """Straight ruled lines: ``level`` as (y, x0, x1) and ``upright`` as (x, y0, y1), mm, sorted."""

    level: tuple[tuple[float, float, float], ...]
    upright: tuple[tuple[float, float, float], ...]

    def between(self, y: float, x0: float, x1: float) -> bool:
        """True when an upright rule stands between x0 and x1 at the height y."""
        return any(x0 < x < x1 and a - 1.0 <= y <= b + 1.0 for x, a, b in self.upright)

    def over(self, x: float, y0: float, y1: float) -> bool:
        """True when a level rule runs between y0 and y1 over the place x."""
        return any(y0 < y < y1 and a - 1.0 <= x <= b + 1.0 for y, a, b in self.level)


def find_rules(ink: NDArray[np.uint8]) -> Rules:
    """All ruled lines of a flat sheet (uint8, 255 where ink, PX_PER_MM px per mm), pieces in a row joined."""
    # a third of the resolution: a rule is at least 0.15 mm thick, and closing mends worn ones
    small = cv2.resize(ink, None, fx=1 / 3, fy=1 / 3, interpolation=cv2.INTER_AREA)
    dark = (small > 60).astype(np.uint8)
    mm = PX_PER_MM / 3
    return Rules(_runs(dark, mm), _runs(dark.T.copy(), mm))


def _runs(dark: NDArray[np.uint8], mm: float) -> tuple[tuple[float, float, float], ...]:
    n = int(RULE_MIN * mm)
    mended = cv2.morphologyEx(dark, cv2.MORPH_CLOSE, np.ones((1, int(0.6 * mm) | 1), np.uint8))
    # a rule may lean by a pixel or two over its length
    long = cv2.morphologyEx(mended, cv2.MORPH_OPEN, np.ones((1, n // 2), np.uint8))
    long = cv2.dilate(long, np.ones((3, 1), np.uint8))
    count, _, stats, _ = cv2.connectedComponentsWithStats(long, connectivity=8)
    out = []
    for k in range(1, count):
        x, y, w, h, _ = stats[k]
        # strokes of letters that stand under each other make no rule: their row is half empty
        if w >= n and h <= 2.5 * mm and dark[y : y + h, x : x + w].any(axis=0).mean() > 0.85:
            out.append((float(y + h / 2) / mm, float(x) / mm, float(x + w) / mm))
    return tuple(sorted(out))


@dataclass(frozen=True, slots=True)
class Row:
    """Texts on one line, left to right."""

    texts: tuple[ReadText, ...]

    @property
    def y(self) -> float:
        """Middle of the row, mm."""
        return float(np.median([t.box.centre[1] for t in self.texts]))

    @property
    def x0(self) -> float:
        """Where it starts, mm."""
        return self.texts[0].box.x0

    @property
    def box(self) -> Box:
        """Around all its texts."""
        boxes = [t.box for t in self.texts]
        return Box(
            min(b.x0 for b in boxes), min(b.y0 for b in boxes), max(b.x1 for b in boxes), max(b.y1 for b in boxes)
        )


def level_texts(texts: Sequence[ReadText]) -> list[ReadText]:
    """Texts that read left to right and in which something was read."""
    return [t for t in texts if t.angle == 0 and t.text.strip()]


def letter_height(texts: Sequence[ReadText]) -> float:
    """Usual height of a line of lettering, mm."""
    high = [t.box.height for t in texts if len(t.text) > 1]
    return float(np.median(high)) if high else 2.5


def without_bits(texts: Sequence[ReadText]) -> list[ReadText]:
    """``texts`` without low strokes at the top or the foot of their line: what wear left of letters. A dash stands in the middle."""
    tall = letter_height(texts)
    out: list[ReadText] = []
    for row in rows_of(texts):
        middles = [t.box.centre[1] for t in row.texts if t.box.height >= _HIGH * tall]
        y = float(np.median(middles)) if middles else None
        out += [
            t for t in row.texts
            if y is None or t.box.height >= _STROKE * tall or abs(t.box.centre[1] - y) <= _OFF_MIDDLE * tall
        ]  # fmt: skip
    return out


def rows_of(texts: Sequence[ReadText]) -> list[Row]:
    """Texts → rows from top to bottom: a text belongs to a row when the middles lie within 0.6 letter heights."""
    tall = letter_height(texts)
    rows: list[list[ReadText]] = []
    for text in sorted(texts, key=lambda t: (t.box.centre[1], t.box.x0)):
        y = text.box.centre[1]
        near = [r for r in rows[-4:] if abs(y - float(np.median([t.box.centre[1] for t in r]))) < 0.6 * tall]
        if near:
            near[-1].append(text)
        else:
            rows.append([text])
    return [Row(tuple(sorted(r, key=lambda t: t.box.x0))) for r in rows]


def clusters(values: Sequence[float], gap: float) -> list[tuple[float, int]]:
    """Values that lie within ``gap`` of their neighbour, as (median, count), rising."""
    out: list[list[float]] = []
    for v in sorted(values):
        if out and v - out[-1][-1] <= gap:
            out[-1].append(v)
        else:
            out.append([v])
    return [(float(np.median(c)), len(c)) for c in out]


def tables_of(rules: Rules) -> list[Box]:
    """Boxes of ruled tables: groups of level and upright rules that meet, with at least two of each."""
    lines = [Box(x0, y, x1, y) for y, x0, x1 in rules.level] + [Box(x, y0, x, y1) for x, y0, y1 in rules.upright]
    group = list(range(len(lines)))

    def root(i: int) -> int:
        while group[i] != i:
            group[i] = group[group[i]]
            i = group[i]
        return i

    n = len(rules.level)
    for i in range(n):
        a = lines[i].grown(1.2)
        for j in range(n, len(lines)):
            b = lines[j]
            if b.x0 <= a.x1 and b.x1 >= a.x0 and b.y0 <= a.y1 and b.y1 >= a.y0:
                group[root(i)] = root(j)
    members: dict[int, list[int]] = {}
    for i in range(len(lines)):
        members.setdefault(root(i), []).append(i)
    out = []
    for them in members.values():
        level, upright = sum(i < n for i in them), sum(i >= n for i in them)
        if level >= 2 and upright >= 2:
            boxes = [lines[i] for i in them]
            out.append(
                Box(
                    min(b.x0 for b in boxes),
                    min(b.y0 for b in boxes),
                    max(b.x1 for b in boxes),
                    max(b.y1 for b in boxes),
                )
            )
    return sorted(out, key=lambda b: (b.x0, b.y0))
