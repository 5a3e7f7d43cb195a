"""Overlapping scans of one sheet → one picture, with the way from its pixels to those of every part."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from digitize.errors import PageUnreadable
from digitize.sheet.mapping import as_matrix
from digitize.sheet.part_mapping import PartOfSheet
from digitize.sheet.register import Matrix, overlap_of
from digitize.sheet.sources import MAX_MEGAPIXELS

_COARSE = 16
"""The weights are worked out in px so many times as large as the picture's."""
_SEAM = 40.0
"""Width of the seam over which one part gives way to the next, px (about 3 mm at 300 dpi): wide enough for a soft change
of brightness, narrow enough that lines are not drawn twice."""
_STRIP = 256


@dataclass(frozen=True, slots=True, eq=False)
class Joined:
    """One picture, uint8 (H, W), at the scale and in the position of the first part; white where no part is."""

    grey: NDArray[np.uint8]
    parts: tuple[PartOfSheet, ...]


def join(pictures: Sequence[NDArray[np.uint8]], names: Sequence[tuple[str, int]], sheet: str) -> Joined:
    """Put the parts of a sheet together.

    Args:
        pictures: the parts, uint8 (H, W), in any order; each must overlap one of the others.
        names: (file name, page in it) of each.
        sheet: what to call the sheet in a fault.

    Raises:
        PageUnreadable: a part overlaps none of the others, or the whole is too large.
    """
    on_first = _laid(pictures, names, sheet)
    corners = np.concatenate([_corners(p.shape, m) for p, m in zip(pictures, on_first, strict=True)])
    low, high = np.floor(corners.min(axis=0)), np.ceil(corners.max(axis=0))
    width, height = int(high[0] - low[0]) + 1, int(high[1] - low[1]) + 1
    if width * height > MAX_MEGAPIXELS * 1e6:
        raise PageUnreadable(
            f"{sheet}, put together of {len(pictures)} parts, would have {width * height / 1e6:.0f} megapixels; "
            f"the limit is {MAX_MEGAPIXELS:.0f}.",
            "Scan its parts at a lower resolution.",
        )
    shift = np.array([[1, 0, -low[0]], [0, 1, -low[1]], [0, 0, 1.0]])
    placed = [shift @ m for m in on_first]
    grey = _blended(pictures, placed, (height, width))
    parts = tuple(
        PartOfSheet(name, page, p.shape[1], p.shape[0], as_matrix(np.linalg.inv(m).astype(np.float64)))
        for (name, page), p, m in zip(names, pictures, placed, strict=True)
    )
    return Joined(grey, parts)


def _laid(pictures: Sequence[NDArray[np.uint8]], names: Sequence[tuple[str, int]], sheet: str) -> list[Matrix]:
    """Px of each part → px of the first one, from neighbour to neighbour."""
    known: dict[int, Matrix] = {0: np.eye(3)}
    tried: set[tuple[int, int]] = set()
    while len(known) < len(pictures):
        for a, b in ((a, b) for a in sorted(known, reverse=True) for b in range(len(pictures)) if b not in known):
            if (a, b) in tried:
                continue
            tried.add((a, b))
            found = overlap_of(pictures[a], pictures[b])
            if found is not None:
                known[b] = known[a] @ found.matrix
                break
        else:
            lost = ", ".join(names[k][0] for k in range(len(pictures)) if k not in known)
            rest = ", ".join(names[k][0] for k in sorted(known))
            raise PageUnreadable(
                f"{sheet}: {lost} does not overlap {rest}.",
                "Scan the parts anew so that each shows a hand's breadth of its neighbour, or give them names of their own.",
            )
    return [known[k] for k in range(len(pictures))]


def _corners(shape: tuple[int, ...], matrix: Matrix) -> NDArray[np.float64]:
    h, w = shape[0] - 1, shape[1] - 1
    corners = np.array([[[0, 0], [w, 0], [w, h], [0, h]]], dtype=np.float64)
    return np.asarray(cv2.perspectiveTransform(corners, matrix)[0], dtype=np.float64)


def _blended(
    pictures: Sequence[NDArray[np.uint8]], placed: Sequence[Matrix], shape: tuple[int, int]
) -> NDArray[np.uint8]:
    """All parts on one canvas, strip by strip: each where it is deepest inside its own edges, with soft seams."""
    height, width = shape
    weights = _weights(pictures, placed, shape)
    tables = _levels(pictures, placed, shape)
    out = np.full((height, width), 255, np.uint8)
    for top in range(0, height, _STRIP):
        rows = min(_STRIP, height - top)
        total = np.zeros((rows, width), np.float32)
        weight = np.zeros((rows, width), np.float32)
        for picture, matrix, share, table in zip(pictures, placed, weights, tables, strict=True):
            ys = _corners(picture.shape, matrix)[:, 1]
            if ys.max() < top or ys.min() > top + rows:
                continue
            here = np.array([[1, 0, 0], [0, 1, -top], [0, 0, 1.0]])
            laid = cv2.warpPerspective(picture, here @ matrix, (width, rows), flags=cv2.INTER_LINEAR, borderValue=255)
            if table is not None:
                laid = cv2.LUT(laid, table)
            enlarge = np.array([[_COARSE, 0, (_COARSE - 1) / 2], [0, _COARSE, (_COARSE - 1) / 2 - top], [0, 0, 1.0]])
            own = cv2.warpPerspective(
                share, enlarge, (width, rows), flags=cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
            )
            total += laid * own
            weight += own
        drawn = weight > 1e-3
        strip = out[top : top + rows]
        strip[drawn] = np.clip(total[drawn] / weight[drawn] + 0.5, 0, 255).astype(np.uint8)
    return out


def _weights(
    pictures: Sequence[NDArray[np.uint8]], placed: Sequence[Matrix], shape: tuple[int, int]
) -> list[NDArray[np.float32]]:
    """How much each part counts, float32 at 1/_COARSE of the picture's size."""
    height, width = -(-shape[0] // _COARSE), -(-shape[1] // _COARSE)
    depths = []
    for picture, matrix in zip(pictures, placed, strict=True):
        corners = (_corners(picture.shape, matrix) + 0.5) / _COARSE - 0.5
        inside = np.zeros((height + 2, width + 2), np.uint8)
        cv2.fillConvexPoly(inside, np.round(corners + 1).astype(np.int32), 255)
        inside[0] = inside[-1] = 0
        inside[:, 0] = inside[:, -1] = 0
        depths.append(cv2.distanceTransform(inside, cv2.DIST_L2, 5)[1:-1, 1:-1] * _COARSE)
    weights = []
    for k, depth in enumerate(depths):
        others = (
            np.max([d for j, d in enumerate(depths) if j != k], axis=0) if len(depths) > 1 else np.zeros_like(depth)
        )
        share = np.clip((depth - others) / _SEAM + 0.5, 0.0, 1.0)
        weights.append(np.where(depth > 0, np.maximum(share, 1e-2 * (others <= 0)), 0.0).astype(np.float32))
    return weights


def _levels(
    pictures: Sequence[NDArray[np.uint8]], placed: Sequence[Matrix], shape: tuple[int, int]
) -> list[NDArray[np.uint8] | None]:
    """Tables that give every part the first one's paper and ink, measured where it overlaps those before it."""
    factor = min(1.0, 1500 / max(shape))
    size = (max(1, round(shape[1] * factor)), max(1, round(shape[0] * factor)))
    shrink = np.diag([factor, factor, 1.0])
    whole: NDArray[np.uint8] | None = None
    seen: NDArray[np.bool_] | None = None
    tables: list[NDArray[np.uint8] | None] = []
    for picture, matrix in zip(pictures, placed, strict=True):
        small = cv2.resize(picture, None, fx=factor, fy=factor, interpolation=cv2.INTER_AREA) if factor < 1 else picture
        own = np.diag([picture.shape[1] / small.shape[1], picture.shape[0] / small.shape[0], 1.0])
        laid = cv2.warpPerspective(small, shrink @ matrix @ own, size, flags=cv2.INTER_LINEAR)
        there = cv2.warpPerspective(np.full_like(small, 255), shrink @ matrix @ own, size, flags=cv2.INTER_NEAREST) > 0
        if whole is None or seen is None:
            whole, seen = laid.copy(), there.copy()
            tables.append(None)
            continue
        both = there & seen
        table = _table(laid[both], whole[both]) if int(both.sum()) > 500 else None
        if table is not None:
            laid = cv2.LUT(laid, table)
        whole[there & ~seen] = laid[there & ~seen]
        seen |= there
        tables.append(table)
    return tables


def _table(mine: NDArray[np.uint8], theirs: NDArray[np.uint8]) -> NDArray[np.uint8] | None:
    """Grey → grey, so that paper and ink of ``mine`` come to those of ``theirs``; None when either shows no ink."""
    ink, paper = np.percentile(mine, (1, 80))
    ink_to, paper_to = np.percentile(theirs, (1, 80))
    if paper - ink < 20 or paper_to - ink_to < 20:
        return None
    slope = (paper_to - ink_to) / (paper - ink)
    return np.asarray(np.clip(ink_to + (np.arange(256) - ink) * slope + 0.5, 0, 255), dtype=np.uint8)
