"""Even light and ink: the paper becomes white whatever lay on it, strokes stay, what shines through from behind does not."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

_STRIP_ROWS = 192
"""Pages are worked on in strips of so few rows that what is made of them stays in the processor's cache."""

_BACKGROUND_PX_PER_MM = 4.0
_PAPER_SPAN_MM = 2.0
"""Wider than any stroke (pens reach about 1.4 mm), narrower than the rim of a stain or a shadow."""

_SOLID_SPAN_MM = 16.0
"""Filled areas up to this size stay black."""

_NEIGHBOUR_MM = 0.3
"""A pixel is judged against the darkest one this near: half as dark is still the stroke, less is its blurred flank."""

FLANK_LEVEL = 0.2
"""Darkness that every pixel of a stroke must have, even where the stroke is faint."""

_SOFT_FROM = 8.0
"""From this many px/mm on, single noisy pixels are smoothed away; below, that would run letters together."""

INK_LEVEL = 0.30
"""Darkness (0 paper, 1 ink) that the heart of a stroke must reach on a worn page. What shines through stays below."""

CLEAN_INK_LEVEL = 0.15
"""The same on a page whose paper is bare between the strokes: hairlines of a small scan are kept."""


_SOLID = np.ceil(0.55 * np.arange(256)).astype(np.uint8)
"""What is darker than this beside such paper is no paper in shade."""


def even_out(grey: NDArray[np.uint8], px_per_mm: float) -> NDArray[np.uint8]:
    """Divide by the paper's own brightness and stretch so that paper is near 255 and ink near 0. Same shape."""
    if _is_one_tone(grey):
        return np.full_like(grey, 255)
    paper = _paper_level(grey, px_per_mm)
    ink = _ink_level(grey, paper)
    table = np.clip((np.arange(256) / 255.0 - ink) / (1.0 - ink) * 255.0, 0, 255).astype(np.uint8)
    out = np.asarray(cv2.resize(paper, grey.shape[::-1], interpolation=cv2.INTER_LINEAR), dtype=np.uint8)
    for top in range(0, len(out), _STRIP_ROWS):
        rows = out[top : top + _STRIP_ROWS]
        cv2.divide(grey[top : top + _STRIP_ROWS], rows, dst=rows, scale=255.0)
        cv2.LUT(rows, table, dst=rows)
    return out


def ink_of(even: NDArray[np.uint8], px_per_mm: float, level: float = INK_LEVEL) -> NDArray[np.uint8]:
    """255 where there is ink. ``even`` is what ``even_out`` gave.

    A pixel is ink when its darkness is at least half of the darkest within ``_NEIGHBOUR_MM`` and that one reaches ``level``:
    a faint stroke keeps its width, a black one does not grow by its blurred flanks. So is a pixel that stands out from both
    its sides by ``level``: where a hairline falls between two rows of the scanner it is fainter than beside that place.
    """
    reach = 2 * max(1, round(_NEIGHBOUR_MM * px_per_mm)) + 1
    kernel = np.ones((reach, reach), np.uint8)
    out = np.empty_like(even)
    height = even.shape[0]
    margin = reach + 2
    for top in range(0, height, _STRIP_ROWS):
        low, high = max(0, top - margin), min(height, top + _STRIP_ROWS + margin)
        soft = even[low:high] if px_per_mm < _SOFT_FROM else cv2.GaussianBlur(even[low:high], (3, 3), 0)
        darkest = cv2.erode(soft, kernel)
        # ink: 255 - v >= (255 - darkest) / 2  and  255 - darkest >= level * 255
        half = cv2.addWeighted(darkest, 0.5, darkest, 0.0, 127.5)
        ink = cv2.compare(soft, half, cv2.CMP_LE)
        if px_per_mm >= _SOFT_FROM:
            ink = cv2.bitwise_or(ink, _ridges(soft, round(_NEIGHBOUR_MM * px_per_mm), level))
        cv2.bitwise_and(ink, cv2.compare(darkest, 255 * (1 - level), cv2.CMP_LE), dst=ink)
        cv2.bitwise_and(ink, cv2.compare(soft, 255 * (1 - min(FLANK_LEVEL, 0.7 * level)), cv2.CMP_LE), dst=ink)
        out[top : min(top + _STRIP_ROWS, height)] = ink[top - low : top - low + _STRIP_ROWS]
    return out


def ink_level_of(even: NDArray[np.uint8]) -> float:
    """The level for ``ink_of`` that suits a page, CLEAN_INK_LEVEL to INK_LEVEL, from its evened picture at a few px/mm.

    Grain of the paper, and faint marks that never turn black (show-through, stains, folds), raise it.
    """
    rim = min(40, min(even.shape) // 8)
    inside = even[rim : even.shape[0] - rim, rim : even.shape[1] - rim]
    if inside.size == 0:
        return INK_LEVEL
    dark = 255 - inside
    bare = cv2.dilate(dark, np.ones((5, 5), np.uint8)) < INK_LEVEL * 255
    if not bare.any():
        return INK_LEVEL
    faint = float(np.mean(bare & (dark > 0.1 * 255)))
    grain = float(np.std(inside[bare]))
    dirt = min(1.0, max(faint / 0.001, (grain - 0.5) / 2.0, 0.0))
    return CLEAN_INK_LEVEL + dirt * (INK_LEVEL - CLEAN_INK_LEVEL)


def _is_one_tone(grey: NDArray[np.uint8]) -> bool:
    """True when nothing stands out from anything: a blank or a black page."""
    rim_y, rim_x = grey.shape[0] // 40, grey.shape[1] // 40
    inside = grey[rim_y : grey.shape[0] - rim_y, rim_x : grey.shape[1] - rim_x]
    sample = inside[:: max(1, grey.shape[0] // 1500), :: max(1, grey.shape[1] // 1500)]
    return int(sample.max()) - int(sample.min()) < 12


def _ridges(soft: NDArray[np.uint8], reach: int, level: float) -> NDArray[np.uint8]:
    """255 where a pixel is darker by ``level`` than both pixels ``reach`` px away in some one of four directions."""
    dark = cv2.bitwise_not(soft)
    padded = cv2.copyMakeBorder(dark, reach, reach, reach, reach, cv2.BORDER_REPLICATE)
    h, w = dark.shape
    slant = max(1, round(0.7 * reach))
    best = np.zeros_like(dark)
    for dx, dy in ((reach, 0), (0, reach), (slant, slant), (slant, -slant)):
        one = padded[reach + dy : reach + dy + h, reach + dx : reach + dx + w]
        other = padded[reach - dy : reach - dy + h, reach - dx : reach - dx + w]
        best = cv2.max(best, cv2.subtract(dark, cv2.max(one, other)))
    return np.asarray(cv2.compare(best, 255.0 * level, cv2.CMP_GE), dtype=np.uint8)


def _paper_level(grey: NDArray[np.uint8], px_per_mm: float) -> NDArray[np.uint8]:
    """Brightness of the bare paper, at ``_BACKGROUND_PX_PER_MM``."""
    scale = min(1.0, _BACKGROUND_PX_PER_MM / px_per_mm)
    small = cv2.resize(grey, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
    per_mm = px_per_mm * scale
    small = cv2.medianBlur(small, 3)
    near = _closed(small, _PAPER_SPAN_MM * per_mm)
    far = cv2.blur(_closed(near, _SOLID_SPAN_MM * per_mm), (2 * int(4 * per_mm) + 1,) * 2)
    # large solid patches are no shade of the paper: there the paper around them counts
    solid = cv2.compare(near, cv2.LUT(far, _SOLID), cv2.CMP_LT)
    level = cv2.copyTo(far, solid, near)
    level = cv2.blur(level, (2 * int(per_mm) + 1,) * 2)
    return np.asarray(np.maximum(level, 1), dtype=np.uint8)


def _closed(image: NDArray[np.uint8], span: float) -> NDArray[np.uint8]:
    size = 2 * max(1, round(span / 2)) + 1
    kernel = cv2.getStructuringElement(cv2.MORPH_ELLIPSE if size < 12 else cv2.MORPH_RECT, (size, size))
    return np.asarray(cv2.morphologyEx(image, cv2.MORPH_CLOSE, kernel), dtype=np.uint8)


def _ink_level(grey: NDArray[np.uint8], paper: NDArray[np.uint8]) -> float:
    """Brightness of well-inked strokes as a share of the paper's, 0..0.6."""
    step = max(1, min(grey.shape) // 1200)
    sample = np.ascontiguousarray(grey[::step, ::step])
    level = cv2.resize(paper, (sample.shape[1], sample.shape[0]), interpolation=cv2.INTER_LINEAR)
    share = np.asarray(cv2.divide(sample, level, dtype=cv2.CV_32F))
    dark = share[share < 0.6]
    if dark.size < 50:
        return 0.0
    return float(np.clip(np.percentile(dark, 25), 0.0, 0.5))
