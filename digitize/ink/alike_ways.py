"""Ways of a connector that are drawn like its other ways, in a row with them.

Common practice, no source: where every way of a connector has a sign of its own (a pair of arrow heads, a plug in a
socket), the signs stand below each other, all alike, each on its wire. A wire that runs into such a sign and out of it
again is told by the sign beside it that the detector was sure of.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import cv2
import numpy as np
from numpy.typing import NDArray

from digitize.harness.place import Box
from digitize.ink.state import Symbol, TextBlock
from digitize.sheet.state import PX_PER_MM

_SURE = 0.6
"""A sign that the detector believes in less is no pattern for others."""
_LARGEST = 6.0
"""Longest side of the sign of a single way, mm."""
_PITCH = 8.0
"""Farthest from the middle of one way to that of the next, mm (own choice: rows are drawn 3 to 8 mm apart)."""
_ASIDE = 0.5
"""How far beside the row a way may stand, mm."""
_ALIKE = 0.7
"""Least correlation of two signs of one kind (own choice; on five drawn connectors the next way had 0.92 and more)."""
_CLOSELY_ALIKE = 0.75
"""The same pixel by pixel."""
_WORTH_A_LOOK, _VERY_ALIKE = 0.5, 0.85
"""The same of a sign that stands alone, coarsely and pixel by pixel."""
_PATTERN, _USUAL, _PATTERNS = 0.8, 3, 2
"""How sure a sign must be to be looked for at lettering, how many of them a sheet must show, and how many are looked for."""
_LETTERED, _SHORT_TEXT, _NEAR_TEXT = 0.5, 14.0, 4.5
"""Least belief in lettering at which signs are looked for, its longest side, and how far around it, mm: ids are short and stand
at their connector (common practice, no source)."""
_SLIP = 6
"""The boxes of two signs of a kind may be off from each other by so many px."""
_BESIDE = (0.3, 0.8)
"""Where outside a sign its wire is looked at, mm."""
_MIDDLE = 0.25
"""A wire enters a sign within so much of its height of the middle."""
_COARSE = 3
"""Signs are compared on ink so many times as coarse."""

Mask = NDArray[np.uint8]


def with_surer_signs(symbols: tuple[Symbol, ...], ink: Mask) -> tuple[Symbol, ...]:
    """The symbols, those small connectors surer that look very much like the surest on the sheet, each on its wire.

    ``ink``: uint8 (H, W) at PX_PER_MM, 255 = all ink of the sheet.
    """
    out = list(symbols)
    for upright in (False, True):
        drawn = ink.T if upright else ink
        small = [k for k, s in enumerate(out) if s.kind == "connector" and max(s.box.width, s.box.height) <= _LARGEST]
        boxes = {k: out[k].box.swapped() if upright else out[k].box for k in small}
        usual = {k: box for k, box in boxes.items() if on_a_wire(drawn, box)}
        if sum(out[k].probability >= _PATTERN for k in usual) < _USUAL:
            for k, agreed in _agreed(drawn, usual, {k: out[k].probability for k in usual}).items():
                out[k] = replace(out[k], probability=agreed)
        patterns = [(softened(cut_out(drawn, box)), box, out[k].probability) for k, box in usual.items()]
        patterns = [(sign, box, sure) for sign, box, sure in patterns if sure >= _PATTERN]
        for k, box in usual.items():
            if out[k].probability < _PATTERN:
                alike = max((_stood_in(drawn, sign, own, box) * sure for sign, own, sure in patterns), default=0.0)
                if alike >= _VERY_ALIKE * _PATTERN:
                    out[k] = replace(out[k], probability=max(out[k].probability, min(1.0, alike)))
    return tuple(out)


def _agreed(ink: Mask, boxes: dict[int, Box], sure: dict[int, float]) -> dict[int, float]:
    """How sure signs are that were doubtful one by one, where several look very much alike: not all of them are mistaken."""
    signs = {k: softened(cut_out(ink, box)) for k, box in boxes.items()}
    out = {}
    for k, box in boxes.items():
        like = [j for j in boxes if j == k or _stood_in(ink, signs[k], box, boxes[j]) >= _VERY_ALIKE]
        if len(like) >= _USUAL:
            out[k] = max(sure[k], 1 - math.prod(1 - sure[j] for j in like))
    return out


def _stood_in(ink: Mask, sign: NDArray[np.float32], own: Box, box: Box) -> float:
    """Correlation of a softened ``sign``, whose box is ``own``, with the ink at ``box``, middle on middle, a little to and fro."""
    (x, y), (w, h) = box.centre, (own.width / 2, own.height / 2)
    return likeness(ink, sign, round((x - w) * PX_PER_MM), round((y - h) * PX_PER_MM), _SLIP)[0]


def with_alike_ways(symbols: tuple[Symbol, ...], ink: Mask) -> tuple[Symbol, ...]:
    """Symbols (sheet mm) with the ways of connectors that look like a way beside them.

    ``ink``: uint8 (H, W) at PX_PER_MM, 255 = all ink of the sheet.
    """
    found = list(symbols)
    todo = [s for s in symbols if s.kind == "connector" and s.probability >= _SURE]
    while todo:
        sign = todo.pop()
        if max(sign.box.width, sign.box.height) > _LARGEST:
            continue
        for upright in (False, True):
            drawn, box = (ink.T, sign.box.swapped()) if upright else (ink, sign.box)
            if not on_a_wire(drawn, box):
                continue
            for at, alike in _next_to(drawn, box):
                new = at.swapped() if upright else at
                if not any(s.box.overlap(new) > 0 for s in found):
                    found.append(Symbol("connector", new, alike * sign.probability))
                    todo.append(found[-1])
    return tuple(found)


def with_named_signs(symbols: tuple[Symbol, ...], ink: Mask, texts: Sequence[TextBlock]) -> tuple[Symbol, ...]:
    """Symbols with connectors of a single way that look very much like sure ones of the sheet and stand at short lettering.

    A connector of one way stands alone, with its id above or below it; no sign beside it tells it. Looked at are the
    places around ``texts`` only, on sheets that show at least ``_USUAL`` sure signs of the kind.
    """
    signs = [
        s
        for s in sorted(symbols, key=lambda s: -s.probability)
        if s.kind == "connector" and s.probability >= _PATTERN and max(s.box.width, s.box.height) <= _LARGEST
    ]
    found = list(symbols)
    for upright in (False, True):
        drawn = ink.T if upright else ink
        boxes = [(s.box.swapped() if upright else s.box, s.probability) for s in signs]
        usual = [(box, sure) for box, sure in boxes if on_a_wire(drawn, box)]
        if len(usual) < _USUAL:
            continue
        patterns = _unlike(drawn, usual)
        for text in texts:
            near = text.box.swapped() if upright else text.box
            if text.probability < _LETTERED or max(text.box.width, text.box.height) > _SHORT_TEXT:
                continue
            for at, alike in _around(drawn, near, patterns):
                new = at.swapped() if upright else at
                if not any(s.box.overlap(new) > 0 for s in found) and text.box.overlap(new) == 0:
                    found.append(Symbol("connector", new, alike))
    return tuple(found)


def _unlike(ink: Mask, signs: Sequence[tuple[Box, float]]) -> list[tuple[NDArray[np.float32], Box, float]]:
    """The first of the signs, coarsely, and the first that looks otherwise: arrow heads point one way or the other."""
    out: list[tuple[NDArray[np.float32], Box, float]] = []
    for box, sure in signs:
        own = _coarse(cut_out(ink, box))
        like = [o for o, _, _ in out if _correlation(o, cv2.resize(own, o.shape[::-1])) >= _ALIKE]
        if own.std() > 0 and not like and len(out) < _PATTERNS:
            out.append((own, box, sure))
    return out


def _around(
    ink: Mask, text: Box, patterns: Sequence[tuple[NDArray[np.float32], Box, float]]
) -> Sequence[tuple[Box, float]]:
    """Where around lettering one of the patterns stands on a level wire, and how far it is believed, 0..1."""
    region = Box(text.x0 - _NEAR_TEXT, text.y0 - _NEAR_TEXT, text.x1 + _NEAR_TEXT, text.y1 + _NEAR_TEXT)
    left, top = max(0, round(region.x0 * PX_PER_MM)), max(0, round(region.y0 * PX_PER_MM))
    strip = _coarse(cut_out(ink, region))
    out = []
    for own, box, sure in patterns:
        if strip.shape[0] < own.shape[0] or strip.shape[1] < own.shape[1] or strip.std() == 0:
            continue
        _, best, _, (x, y) = cv2.minMaxLoc(cv2.matchTemplate(strip, own, cv2.TM_CCOEFF_NORMED))
        if best < _WORTH_A_LOOK:
            continue
        alike, at = _closely(ink, box, left + x * _COARSE, top + y * _COARSE)
        if alike >= _VERY_ALIKE and on_a_wire(ink, at):
            out.append((at, alike * sure))
    return out


def _closely(ink: Mask, box: Box, x: int, y: int) -> tuple[float, Box]:
    """How much the ink within a coarse pixel of (x, y), px, looks like that in ``box``, pixel by pixel, 0..1; and where."""
    best, (left, top) = likeness(ink, softened(cut_out(ink, box)), x, y, _COARSE)
    x0, y0 = left / PX_PER_MM, top / PX_PER_MM
    return min(1.0, best), Box(x0, y0, x0 + box.width, y0 + box.height)


def likeness(ink: Mask, sign: NDArray[np.float32], x: int, y: int, slip: int) -> tuple[float, tuple[int, int]]:
    """Correlation of a softened sign with the ink whose corner is within ``slip`` px of (x, y), where it fits best; and that corner.

    ``ink``: uint8 (H, W), 255 = ink. 0 where the page ends or nothing is drawn.
    """
    left, top = max(0, x - slip), max(0, y - slip)
    part = ink[top : y + sign.shape[0] + slip, left : x + sign.shape[1] + slip]
    if part.shape[0] < sign.shape[0] or part.shape[1] < sign.shape[1] or not part.any() or part.all():
        return 0.0, (left, top)
    around = softened(part)
    _, best, _, (dx, dy) = cv2.minMaxLoc(cv2.matchTemplate(around, sign, cv2.TM_CCOEFF_NORMED))
    return float(best), (left + dx, top + dy)


def softened(ink: Mask) -> NDArray[np.float32]:
    """Ink without its rough edge, as two drawings of one sign are compared point by point."""
    return np.asarray(cv2.GaussianBlur(np.ascontiguousarray(ink), (5, 5), 0), np.float32)


def cut_out(ink: Mask, box: Box) -> Mask:
    """What of ``ink`` lies in a box (sheet mm), uint8 (height, width)."""
    x0, y0, x1, y1 = (max(0, round(v * PX_PER_MM)) for v in (box.x0, box.y0, box.x1, box.y1))
    return ink[y0:y1, x0:x1]


def _correlation(one: NDArray[np.float32], other: NDArray[np.float32]) -> float:
    a, b = one - one.mean(), other - other.mean()
    return float((a * b).sum() / max(1e-6, np.sqrt((a * a).sum() * (b * b).sum())))


def _next_to(ink: Mask, box: Box) -> Sequence[tuple[Box, float]]:
    """Boxes of the signs near above and below one on a level wire that look like it, and how much, 0..1."""
    x0, y0, x1, y1 = (round(v * PX_PER_MM) for v in (box.x0, box.y0, box.x1, box.y1))
    aside, far = round(_ASIDE * PX_PER_MM), round(_PITCH * PX_PER_MM)
    if x0 < aside or x1 + aside > ink.shape[1] or y0 < 0 or y1 > ink.shape[0]:
        return []
    own = _coarse(ink[y0:y1, x0:x1])
    out = []
    for first, last in ((max(0, y0 - far), y0), (y1, min(ink.shape[0], y1 + far))):
        strip = _coarse(ink[first:last, x0 - aside : x1 + aside])
        if strip.shape[0] < own.shape[0] or own.std() == 0 or strip.std() == 0:
            continue
        score = cv2.matchTemplate(strip, own, cv2.TM_CCOEFF_NORMED)
        while score.max() >= _WORTH_A_LOOK:  # a farther sign may be more alike than the next
            _, best, _, (x, y) = cv2.minMaxLoc(score)
            score[max(0, y - own.shape[0]) : y + own.shape[0]] = 0
            left, top = x0 - aside + x * _COARSE, first + y * _COARSE
            dx, dy = (left - x0) / PX_PER_MM, (top - y0) / PX_PER_MM
            at = Box(box.x0 + dx, box.y0 + dy, box.x1 + dx, box.y1 + dy)
            if best < _ALIKE:  # coarse pixels may fall unlike on it
                best, at = _closely(ink, box, left, top)
                if best < _CLOSELY_ALIKE:
                    continue
            if on_a_wire(ink, at):
                out.append((at, min(1.0, float(best))))
    return out


def on_a_wire(ink: Mask, box: Box) -> bool:
    """True when ink leads level into the middle of both sides of a box; a letter's stroke may stand above or below it.

    ``ink``: uint8 (H, W) at PX_PER_MM, 255 = ink; ``box``: sheet mm.
    """
    high = box.height * PX_PER_MM
    top, foot = round(box.y0 * PX_PER_MM), round(box.y1 * PX_PER_MM)
    near, far = _BESIDE
    for a, b in ((box.x0 - far, box.x0 - near), (box.x1 + near, box.x1 + far)):
        part = ink[max(0, top) : foot, max(0, round(a * PX_PER_MM)) : max(0, round(b * PX_PER_MM))] > 0
        rows = np.flatnonzero(part.mean(axis=1) > 0.8) if part.size else np.zeros(0, np.int64)
        lines = [line for line in np.split(rows, np.flatnonzero(np.diff(rows) > 1) + 1) if len(line)]
        off = [abs(float(line.mean()) - high / 2) for line in lines]
        if not lines or min(off) > _MIDDLE * high or len(lines[int(np.argmin(off))]) > 0.5 * high:
            return False
    return True


def _coarse(ink: Mask) -> NDArray[np.float32]:
    size = (max(1, ink.shape[1] // _COARSE), max(1, ink.shape[0] // _COARSE))
    return np.asarray(cv2.resize(np.ascontiguousarray(ink), size, interpolation=cv2.INTER_AREA), np.float32)
