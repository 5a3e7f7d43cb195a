"""Symbols taught by example: one boxed drawing → the other drawings of the same symbol on a sheet.

The boxed ink is laid over the sheet's ink in four headings, each also mirrored, at a few sizes: first coarsely by normalised
correlation, then, where that is high, finely. A find is believed by how much of the example's ink is there and how much
of the ink that is there the example explains, both within the wobble of a pen.
"""

from __future__ import annotations

import base64
import binascii
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from digitize.errors import CalledWrongly
from digitize.harness.edits import TeachSymbol
from digitize.harness.place import Box, Point
from digitize.ink.state import Symbol
from digitize.sheet.state import PX_PER_MM, Sheet

SMALLEST, LARGEST = 2.0, 80.0
"""Sides of a box that can be taught, mm (own choice)."""

_LEAST_INK = 0.01
"""A box with a smaller share of ink shows nothing."""

_COARSE = 3.0
"""px/mm of the first search."""

_SIZES = (0.85, 0.92, 1.0, 1.08, 1.17)
"""Sizes tried, against the example: one manual draws a symbol at about one size (common practice, no source)."""

_LIKELY, _MOST = 0.42, 80
"""Correlation of the coarse search from which a spot is looked at closely, and how many spots of a sheet at most."""

_WOBBLE = 0.3
"""How far ink may lie from the example's and still be the same line, mm."""

_NEAR = 0.15
"""The same where a find is judged, once it lies as well as it can, mm."""

_CELLS = 4
"""The drawing is judged in 4 × 4 cells."""

_LEAST_FIT = 0.6
"""Finds that fit less are not judged."""

_SAME = 0.35
"""Finds that share so much of their union are one symbol."""

_LIKE_ITSELF = 0.95
"""A turned or mirrored example that is the example itself with this chance is not looked for once more."""

FOUND = 0.5
"""Finds less likely than this are not told."""

_HEADINGS = ("up", "right", "down", "left")


@dataclass(frozen=True, slots=True)
class Lesson:
    """One example.

    Attributes:
        id: of the edit that taught it.
        kind: one of ``ink.state.SYMBOL_KINDS``.
        picture: the boxed ink as ``picture_of`` wrote it.
        terminals: (name or None, mm from the box's top left corner).
        heading: ``left right up down`` as the example is drawn, None when that does not matter.
    """

    id: str
    kind: str
    picture: str
    terminals: tuple[tuple[str | None, Point], ...] = ()
    heading: str | None = None


@dataclass(frozen=True, slots=True, eq=False)
class _Variant:
    """The example turned clockwise by ``turns`` quarters after it was mirrored (left ↔ right) or not, at one size.

    ``ink``: uint8 (h, w) at PX_PER_MM, 255 = ink.
    """

    ink: NDArray[np.uint8]
    turns: int
    mirrored: bool
    size: float


@dataclass(frozen=True, slots=True, eq=False)
class _Find:
    """Where a variant lies: its top left corner in px of the sheet, how well it fits (0..1), and its probability."""

    variant: _Variant
    x: int
    y: int
    fit: float
    sure: float = 0.0

    @property
    def box(self) -> Box:
        h, w = self.variant.ink.shape
        return Box(self.x / PX_PER_MM, self.y / PX_PER_MM, (self.x + w) / PX_PER_MM, (self.y + h) / PX_PER_MM)


def lesson_of(edit: TeachSymbol) -> Lesson:
    """The lesson that an edit gives."""
    terminals = tuple((t.label or t.id, (t.at[0] - edit.box.x0, t.at[1] - edit.box.y0)) for t in edit.terminals)
    return Lesson(edit.target, edit.kind, edit.picture, terminals, edit.heading)


def picture_of(sheet: Sheet, box: Box) -> str:
    """The ink in ``box`` (sheet mm) as a 1-bit PNG at PX_PER_MM in base64: what a lesson keeps.

    Raises:
        CalledWrongly: the box is too small, too large, off the sheet, or next to nothing is drawn in it.
    """
    if not SMALLEST <= min(box.width, box.height) <= max(box.width, box.height) <= LARGEST:
        raise CalledWrongly(
            f"A box of {box.width:.1f} × {box.height:.1f} mm cannot be a symbol.",
            f"Box one symbol, {SMALLEST:.0f} to {LARGEST:.0f} mm on each side.",
        )
    x0, y0, x1, y1 = (round(v * PX_PER_MM) for v in (box.x0, box.y0, box.x1, box.y1))
    height, width = sheet.ink.shape
    part = sheet.ink[max(0, y0) : y1, max(0, x0) : x1]
    if x0 < 0 or y0 < 0 or x1 > width or y1 > height or float((part > 0).mean()) < _LEAST_INK:
        raise CalledWrongly("Next to nothing is drawn in the box.", "Box the symbol with all its lines.")
    done, png = cv2.imencode(".png", part, (cv2.IMWRITE_PNG_BILEVEL, 1))
    assert done
    return base64.b64encode(png.tobytes()).decode()


def ink_in(picture: str) -> NDArray[np.uint8]:
    """What ``picture_of`` wrote, uint8 (h, w), 255 = ink. Raises CalledWrongly when it is no such picture."""
    try:
        raw = np.frombuffer(base64.b64decode(picture, validate=True), np.uint8)
    except binascii.Error:
        raw = np.zeros(0, np.uint8)
    decoded = cv2.imdecode(raw, cv2.IMREAD_GRAYSCALE) if raw.size else None
    if decoded is None:
        raise CalledWrongly("The picture of a taught symbol is damaged.", "Undo that lesson and box the symbol again.")
    return np.where(decoded > 127, 255, 0).astype(np.uint8)


def find_taught(sheet: Sheet, lessons: Sequence[Lesson]) -> tuple[Symbol, ...]:
    """All drawings of taught symbols on a sheet, most probable first; where two lessons fit, the better one.

    Raises CalledWrongly when the picture of a lesson is damaged.
    """
    if not lessons:
        return ()
    coarse = _coarsened(sheet.ink)
    found: list[Symbol] = []
    for lesson in lessons:
        example = ink_in(lesson.picture)
        found += [
            _symbol(lesson, find, example.shape) for find in _finds(sheet.ink, coarse, example) if find.sure >= FOUND
        ]
    found.sort(key=lambda s: (-s.probability, s.box.y0, s.box.x0, s.taught or ""))
    kept: list[Symbol] = []
    for s in found:
        if not any(_share(s.box, k.box) > _SAME for k in kept):
            kept.append(s)
    return tuple(kept)


def with_taught(symbols: Sequence[Symbol], taught: Sequence[Symbol]) -> tuple[Symbol, ...]:
    """``symbols`` of the detector with the taught ones in place of what it made of them.

    What lies in a taught symbol, or is mostly it, is the taught symbol; of something larger round it only what is surer
    than it stays.
    """
    kept = []
    for s in symbols:
        area = max(1e-6, s.box.width * s.box.height)
        for t in taught:
            common = s.box.overlap(t.box)
            inside = common > 0.6 * area
            holds = common > 0.6 * t.box.width * t.box.height
            if inside or (holds and (_share(s.box, t.box) > _SAME or s.probability < t.probability)):
                break
        else:
            kept.append(s)
    return tuple(sorted((*taught, *kept), key=lambda s: -s.probability))


def chance(example: NDArray[np.uint8], part: NDArray[np.uint8]) -> float:
    """Probability that ``part`` of a sheet shows the symbol of ``example``; both uint8 (h, w), 255 = ink.

    From how much of the example's ink is there, how well the worst quarter of the drawing agrees (tic-tac-toe of crossing
    wires agrees with a lamp nearly everywhere), and the correlation of both. The weights were fitted to 13,666 spots of
    generated pages in three drawing styles; fitted to two of them, the third had 80 % of its symbols found, all rightly.
    """
    ink, there = example > 0, part > 0
    if not ink.any() or not there.any():
        return 0.0
    disc = _disc(_NEAR)
    shown = ink & (cv2.dilate(part, disc) > 0)
    explained = there & (cv2.dilate(example, disc) > 0)
    h, w = example.shape
    cells = []
    for i in range(_CELLS):
        for j in range(_CELLS):
            cell = np.s_[i * h // _CELLS : (i + 1) * h // _CELLS, j * w // _CELLS : (j + 1) * w // _CELLS]
            total = int(ink[cell].sum()) + int(there[cell].sum())
            if total > 0.04 * ink[cell].size:
                cells.append((int(shown[cell].sum()) + int(explained[cell].sum())) / total)
    worst = float(np.mean(sorted(cells)[: max(1, len(cells) // 4)])) if cells else 0.0
    one, other = (cv2.GaussianBlur(p, (0, 0), 1.5).astype(np.float32).ravel() for p in (example, part))
    alike = float(np.corrcoef(one, other)[0, 1]) if one.std() > 0 and other.std() > 0 else 0.0
    return 1.0 / (1.0 + math.exp(18.3 - 8.2 * float(shown.sum() / ink.sum()) - 4.6 * worst - 9.6 * alike))


def _disc(reach: float) -> NDArray[np.uint8]:
    """A disc of radius ``reach`` mm to widen strokes with."""
    r = round(reach * PX_PER_MM)
    return np.asarray(cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * r + 1, 2 * r + 1)), dtype=np.uint8)


def _coarsened(ink: NDArray[np.uint8]) -> NDArray[np.float32]:
    """Ink as darkness at ``_COARSE`` px/mm, blurred by about a pen's width so that small shifts matter little."""
    f = _COARSE / PX_PER_MM
    size = (max(1, round(ink.shape[1] * f)), max(1, round(ink.shape[0] * f)))
    small = cv2.resize(ink, size, interpolation=cv2.INTER_AREA).astype(np.float32)
    return np.asarray(cv2.GaussianBlur(small, (0, 0), 1.0), dtype=np.float32)


def _variants(example: NDArray[np.uint8]) -> list[_Variant]:
    """The example in every heading and mirrored, without those that look the same again."""
    kept: list[_Variant] = []
    for mirrored in (False, True):
        for turns in range(4):
            ink = np.ascontiguousarray(np.rot90(example[:, ::-1] if mirrored else example, -turns))
            if not any(k.ink.shape == ink.shape and chance(k.ink, ink) > _LIKE_ITSELF for k in kept):
                kept.append(_Variant(ink, turns, mirrored, 1.0))
    return kept


def _sized(variant: _Variant, size: float) -> _Variant:
    if size == 1.0:
        return variant
    h, w = variant.ink.shape
    bigger = cv2.resize(variant.ink, (max(2, round(w * size)), max(2, round(h * size))), interpolation=cv2.INTER_AREA)
    return replace(variant, ink=np.where(bigger > 100, 255, 0).astype(np.uint8), size=size)


def _finds(ink: NDArray[np.uint8], coarse: NDArray[np.float32], example: NDArray[np.uint8]) -> list[_Find]:
    """The spots where the example fits, best first, each once."""
    spots: list[tuple[float, int, int, _Variant]] = []
    for plain in _variants(example):
        for size in _SIZES:
            variant = _sized(plain, size)
            pattern = _coarsened(variant.ink)
            if pattern.shape[0] > coarse.shape[0] or pattern.shape[1] > coarse.shape[1]:
                continue
            match = _correlation(coarse, pattern)
            top = cv2.dilate(match, np.ones((5, 5), np.uint8))
            ys, xs = np.nonzero((match >= _LIKELY) & (match >= top))
            spots += [(float(match[y, x]), int(x), int(y), variant) for y, x in zip(ys, xs, strict=True)]
    spots.sort(key=lambda s: (-s[0], s[1], s[2]))
    looked: list[tuple[float, float]] = []
    found: list[_Find] = []
    reach = 0.3 * min(example.shape) / PX_PER_MM
    tries: dict[int, int] = {}
    for _, x, y, variant in spots:
        h, w = variant.ink.shape
        middle = (x / _COARSE + w / PX_PER_MM / 2, y / _COARSE + h / PX_PER_MM / 2)
        near = next((i for i, at in enumerate(looked) if math.dist(at, middle) < reach), None)
        if near is None:
            if len(looked) >= _MOST:
                continue
            near = len(looked)
            looked.append(middle)
        tries[near] = tries.get(near, 0) + 1
        if tries[near] <= 3:
            found.append(_settled(ink, variant, x, y))
    judged = [replace(f, sure=_judged(ink, f)) for f in found if f.fit >= _LEAST_FIT]
    judged.sort(key=lambda f: (-f.sure, f.x, f.y))
    kept: list[_Find] = []
    for find in judged:
        if not any(_share(find.box, k.box) > _SAME for k in kept):
            kept.append(find)
    return kept


def _judged(ink: NDArray[np.uint8], find: _Find) -> float:
    height, width = find.variant.ink.shape
    return chance(find.variant.ink, _patch(ink, find.x, find.y, width, height))


def _correlation(picture: NDArray[np.float32], pattern: NDArray[np.float32]) -> NDArray[np.float32]:
    """Normalised correlation of float pictures; 0 where there is less than a third or more than thrice the pattern's ink.

    On bare paper the correlation is nought by nought, and comes out as anything.
    """
    match = cv2.matchTemplate(picture, pattern, cv2.TM_CCOEFF_NORMED)
    h, w = pattern.shape
    around = cv2.boxFilter(picture, -1, (w, h), anchor=(0, 0), borderType=cv2.BORDER_CONSTANT)
    around = around[: match.shape[0], : match.shape[1]]
    level = float(pattern.mean())
    match[(around < level / 3) | (around > 3 * level)] = 0.0
    return np.asarray(np.nan_to_num(match, nan=0.0, posinf=0.0, neginf=0.0), dtype=np.float32)


def _settled(ink: NDArray[np.uint8], variant: _Variant, x: int, y: int) -> _Find:
    """The variant moved and sized to where it fits best near a spot of the coarse search."""
    f = PX_PER_MM / _COARSE
    slack = round(0.9 * PX_PER_MM)
    best: _Find | None = None
    for grow in (0.97, 1.0, 1.03):
        one = _sized(variant, grow)
        h, w = one.ink.shape
        left, top = round(x * f) - slack, round(y * f) - slack
        window = _patch(ink, left, top, w + 2 * slack, h + 2 * slack)
        soft = cv2.GaussianBlur(window, (0, 0), 2.0).astype(np.float32)
        match = _correlation(soft, cv2.GaussianBlur(one.ink, (0, 0), 2.0).astype(np.float32))
        dy, dx = np.unravel_index(int(np.argmax(match)), match.shape)
        part = window[dy : dy + h, dx : dx + w]
        find = _Find(replace(one, size=variant.size * grow), left + int(dx), top + int(dy), _fit(one.ink, part))
        if best is None or find.fit > best.fit:
            best = find
    assert best is not None
    return best


def _fit(example: NDArray[np.uint8], part: NDArray[np.uint8]) -> float:
    """How far two drawings of one shape (h, w) are the same, 0..1: the harmonic mean of how much of each lies on the other.

    Ink within ``_WOBBLE`` of the other's ink lies on it.
    """
    if not example.any() or not part.any():
        return 0.0
    disc = _disc(_WOBBLE)
    shown = float(((example > 0) & (cv2.dilate(part, disc) > 0)).sum()) / float((example > 0).sum())
    explained = float(((part > 0) & (cv2.dilate(example, disc) > 0)).sum()) / float((part > 0).sum())
    return float(2 * shown * explained / (shown + explained)) if shown + explained > 0 else 0.0


def _patch(ink: NDArray[np.uint8], left: int, top: int, width: int, height: int) -> NDArray[np.uint8]:
    """A part of the sheet, without ink where it lies beyond it."""
    out = np.zeros((height, width), np.uint8)
    h, w = ink.shape
    x0, y0, x1, y1 = max(0, left), max(0, top), min(w, left + width), min(h, top + height)
    if x1 > x0 and y1 > y0:
        out[y0 - top : y1 - top, x0 - left : x1 - left] = ink[y0:y1, x0:x1]
    return out


def _symbol(lesson: Lesson, find: _Find, shape: tuple[int, ...]) -> Symbol:
    """A find as a symbol, its terminals and heading turned as the drawing is."""
    v = find.variant
    height, width = (s / PX_PER_MM for s in shape[:2])
    terminals = []
    for name, (x, y) in lesson.terminals:
        px, py = _turned((width - x if v.mirrored else x, y), width, height, v.turns)
        terminals.append((name, (find.box.x0 + px * v.size, find.box.y0 + py * v.size)))
    heading = lesson.heading
    if heading in _HEADINGS:
        if v.mirrored and heading in ("left", "right"):
            heading = "left" if heading == "right" else "right"
        heading = _HEADINGS[(_HEADINGS.index(heading) + v.turns) % 4]
    return Symbol(lesson.kind, find.box, find.sure, heading, (), lesson.id, tuple(terminals))


def _turned(at: Point, width: float, height: float, turns: int) -> Point:
    """A point of a drawing of this size after clockwise quarter turns of the drawing."""
    x, y = at
    for _ in range(turns):
        x, y = height - y, x
        width, height = height, width
    return (x, y)


def _share(a: Box, b: Box) -> float:
    common = a.overlap(b)
    return common / (a.width * a.height + b.width * b.height - common + 1e-9)
