"""Scan → Sheet: find the paper and the frame, set the page upright and flat, even out the light, tell ink from paper."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from digitize.errors import PageUnreadable
from digitize.sheet.curl import straights_of, uncurled
from digitize.sheet.frame import Rule, find_frame, find_rules, settled_box
from digitize.sheet.frame_corners import frame_of_corners
from digitize.sheet.kind import kind_of_page
from digitize.sheet.letters import Letters, find_letters
from digitize.sheet.light import even_out, ink_level_of, ink_of
from digitize.sheet.mapping import SheetMapping, as_matrix
from digitize.sheet.paper import Paper, find_paper
from digitize.sheet.size import (
    PageSize,
    believable_capitals,
    guessed_size,
    page_size,
    size_by_lettering,
    size_by_lines,
)
from digitize.sheet.skew import skew_of_ink, skew_of_page
from digitize.sheet.state import PX_PER_MM, Scan, Sheet, SheetFacts, SheetHints
from digitize.sheet.straighten import box_on, mapping_from_frame, turn
from digitize.sheet.ticks import find_ticks
from digitize.sheet.upright import upside_down
from digitize.sheet.warp import Shrunk, flat_picture, shrunk, turned, turned_to_scan, warp_shrunk
from digitize.sheet.zone_fit import nominal_zones, zones_from_hints

Matrix = NDArray[np.float64]

COARSE_PX_PER_MM = 4.0
"""Scale of the first flat picture, in which paper, skew, lettering and frame are found."""

EDGE_MM = 2.5
"""A rule this near to the edge of the paper is the edge itself or its shadow."""

MAX_SHEET_MEGAPIXELS = 250.0

_SHORTEST_RULE_MM = 10.0


@dataclass(frozen=True, slots=True, eq=False)
class _Look:
    """A first look at a page the way it lies: where the paper is, how large, and what is drawn on it, coarsely.

    ``base``: sheet mm → px of the picture looked at. ``level``, ``upright``: rules of 10 mm and more, sheet mm.
    """

    paper: Paper
    size: PageSize
    base: Matrix
    even: NDArray[np.uint8]
    ink: NDArray[np.uint8]
    letters: Letters
    level: list[Rule]
    upright: list[Rule]


def flatten(scan: Scan, grey: NDArray[np.uint8], hints: SheetHints | None = None) -> Sheet:
    """The page of ``scan``, whose pixels are ``grey`` (H, W), as a flat sheet at PX_PER_MM.

    Raises:
        PageUnreadable: too few pixels, or a size that cannot be a sheet.
    """
    hints = hints or SheetHints()
    where = f"{scan.path}, page {scan.page + 1}," if scan.page else scan.path
    if grey.ndim != 2 or min(grey.shape) < 16:
        raise PageUnreadable(
            f"{where} is only {grey.shape[-1]} × {grey.shape[0]} pixels.", "Scan it at 200 dpi or more."
        )
    turns = (hints.quarter_turns or 0) % 4
    picture = turned(grey, turns)
    look = _look(where, picture, scan.dpi, hints)
    if hints.quarter_turns is None:
        turns = _quarter_turns(look)
        if turns:
            picture = turned(grey, turns)
            look = _look(where, picture, scan.dpi, hints)
    width, height = look.size.width, look.size.height
    long_level = [r for r in look.level if r.end - r.start > 0.25 * min(width, height)]
    long_upright = [r for r in look.upright if r.end - r.start > 0.25 * min(width, height)]
    outer, inner = find_frame(long_level, long_upright, width, height)
    outer = outer or frame_of_corners(look.level, look.upright, width, height)
    if outer is not None:
        mapping = mapping_from_frame(look.base, outer)
    else:
        skew = turn(skew_of_page(long_level, long_upright, look.ink), width, height)
        mapping = SheetMapping(as_matrix(look.base @ skew))
        drawn = straights_of(look.level, look.upright, look.letters, COARSE_PX_PER_MM)
        drawn = drawn.moved(SheetMapping(as_matrix(skew)).to_sheet)
        mapping = uncurled(picture, mapping, (width, height), COARSE_PX_PER_MM, drawn)
    even = even_out(flat_picture(picture, mapping, width, height), PX_PER_MM)
    ink = ink_of(even, PX_PER_MM, ink_level_of(look.even))
    _clear_surround(ink, even, look.paper)
    border = settled_box(ink, box_on(outer, look.base, mapping)) if outer else None
    frame = settled_box(ink, box_on(inner, look.base, mapping)) if inner else border
    ticks = find_ticks(ink, frame, border if inner else None) if frame else ((), ())
    stated = zones_from_hints(frame, hints, *ticks) if frame and hints.kind in {None, "diagram"} else None
    kind, kind_probability = kind_of_page(look.ink, COARSE_PX_PER_MM, look.letters, look.level, look.upright, hints)
    to_scan = turned_to_scan(grey.shape, turns) @ np.array(mapping.matrix)
    facts = SheetFacts(
        sheet=scan.sheet,
        width=width,
        height=height,
        scan_width=grey.shape[1],
        scan_height=grey.shape[0],
        dpi=look.paper.width / width * 25.4,
        dpi_stated=look.size.stated,
        mapping=replace(mapping, matrix=as_matrix(to_scan)),
        frame=frame,
        frame_probability=outer.probability if outer else 0.9,
        zones=stated or nominal_zones(width, height, frame),
        zones_probability=_zones_probability(stated is not None, ticks, hints),
        kind=kind,
        kind_probability=kind_probability,
        border=border if inner else None,
        ticks_across=ticks[0],
        ticks_down=ticks[1],
        quarter_turns=turns,
    )
    return Sheet(facts, even, ink)


def _look(where: str, grey: NDArray[np.uint8], dpi: float | None, hints: SheetHints) -> _Look:
    """Look at the page; once more with another size when its lettering shows that the guess, or the dpi, was wrong."""
    paper = find_paper(grey)
    size = page_size(paper.width, paper.height, dpi, hints, paper.slant, whole=all(paper.seen))
    look = _look_at(where, grey, paper, size)
    if look.size.by_dpi and look.letters.in_lines < _SPARSE:
        # a picture made smaller or larger keeps the note of what it was made from: at the right size lettering shows
        guess = guessed_size(paper.width, paper.height, whole=all(paper.seen))
        other = _look_again(where, grey, paper, _look_at(where, grey, paper, guess))
        far_off = abs(math.log2(other.size.width / look.size.width)) > _FAR_OFF
        return other if far_off and _shows_more_lettering(other.letters, look.letters) else look
    return look if look.size.stated else _look_again(where, grey, paper, look)


_SPARSE = 0.2
"""Share of the pieces of ink that stand in lines of lettering, below which the noted dpi is doubted."""

_FAR_OFF = 0.8
"""How wrong a noted dpi must be, as a power of two: pictures are halved or worse, a map's lettering is merely small."""

_FEWEST_LETTERS = 20
"""Characters in lines that make lettering: fewer may be dashes, dirt or hatching."""


def _shows_more_lettering(other: Letters, noted: Letters) -> bool:
    """True when ``other`` shows lettering of a usual height, and far more of it than ``noted`` does."""
    count = other.across + other.along
    usual = believable_capitals(other.height / COARSE_PX_PER_MM)
    return usual and count >= max(_FEWEST_LETTERS, 4 * (noted.across + noted.along))


def _look_again(where: str, grey: NDArray[np.uint8], paper: Paper, look: _Look) -> _Look:
    """The look, or one at another size when lettering or lines show that the size was guessed wrong."""
    if look.letters.height > 0:
        letter = look.letters.height / COARSE_PX_PER_MM
        better = size_by_lettering(paper.width, paper.height, look.size, letter, whole=all(paper.seen))
    else:
        better = size_by_lines(paper.width, paper.height, look.size, _line_width(look.ink))
    if abs(better.width / look.size.width - 1) > 0.1:
        return _look_at(where, grey, paper, better)
    return look


def _line_width(ink: NDArray[np.uint8]) -> float:
    """Usual width of what is drawn, mm: the median over the middles of its strokes; 0 when nothing is drawn.

    ``ink``: uint8 (H, W) at COARSE_PX_PER_MM, 255 = ink.
    """
    half = cv2.distanceTransform(ink, cv2.DIST_L2, 3)
    middle = (half > 0) & (half >= cv2.dilate(half, np.ones((3, 3), np.uint8)))
    return max(0.0, 2.0 * float(np.median(half[middle])) - 1.0) / COARSE_PX_PER_MM if middle.any() else 0.0


def _look_at(where: str, grey: NDArray[np.uint8], paper: Paper, size: PageSize) -> _Look:
    width, height = size.width, size.height
    if width * height * PX_PER_MM**2 > MAX_SHEET_MEGAPIXELS * 1e6:
        raise PageUnreadable(
            f"{where} would be {width:.0f} × {height:.0f} mm on paper.",
            "State the page size in the conventions, or correct the dpi noted in the file.",
        )
    base = _paper_matrix(paper, width, height)
    small = shrunk(grey, base, width, height, COARSE_PX_PER_MM)
    even, ink = _coarse(small, base, width, height)
    if sum(paper.seen) < 2:  # the paper's own edges do not show how it lies
        angle = skew_of_ink(ink)
        if abs(angle) > np.deg2rad(0.2):
            base = base @ turn(angle, width, height)
            even, ink = _coarse(small, base, width, height)
    level, upright = find_rules(ink, COARSE_PX_PER_MM, _SHORTEST_RULE_MM)
    level = [r for r in level if EDGE_MM < r.middle < height - EDGE_MM or not (paper.seen[1] and paper.seen[3])]
    upright = [r for r in upright if EDGE_MM < r.middle < width - EDGE_MM or not (paper.seen[0] and paper.seen[2])]
    return _Look(paper, size, base, even, ink, find_letters(ink, COARSE_PX_PER_MM), level, upright)


def _quarter_turns(look: _Look) -> int:
    """Clockwise quarter turns that set the page upright."""
    if not look.letters.on_its_side:
        return 2 if upside_down(look.even, look.letters)[0] else 0
    even, ink = np.ascontiguousarray(np.rot90(look.even)), np.ascontiguousarray(np.rot90(look.ink))
    return 1 if upside_down(even, find_letters(ink, COARSE_PX_PER_MM))[0] else 3


def _zones_probability(stated: bool, ticks: tuple[tuple[float, ...], tuple[float, ...]], hints: SheetHints) -> float:
    """How sure the grid is before any label was read."""
    if not stated:
        return 0.5
    fits = len(ticks[0]) == (hints.columns or 0) - 1 and len(ticks[1]) == (hints.rows or 0) - 1
    return 0.98 if fits else 0.9


def _paper_matrix(paper: Paper, width: float, height: float) -> Matrix:
    """Sheet mm → px by the four corners of the paper."""
    corners = np.array([[0, 0], [width, 0], [width, height], [0, height]], dtype=np.float32)
    return np.asarray(cv2.getPerspectiveTransform(corners, paper.corners.astype(np.float32)), dtype=np.float64)


def _coarse(small: Shrunk, base: Matrix, width: float, height: float) -> tuple[NDArray[np.uint8], NDArray[np.uint8]]:
    """The page at COARSE_PX_PER_MM: evened grey, and ink with faint strokes kept."""
    even = even_out(warp_shrunk(small, base, width, height, COARSE_PX_PER_MM), COARSE_PX_PER_MM)
    return even, ink_of(even, COARSE_PX_PER_MM, 0.25)


def _clear_surround(ink: NDArray[np.uint8], even: NDArray[np.uint8], paper: Paper) -> None:
    """Take out slivers of the dark surround along the sides where the paper's edge was seen. Works in place."""
    margin = round(4.0 * PX_PER_MM)
    h, w = ink.shape
    if min(h, w) < 4 * margin:
        return
    strips = (
        (np.s_[:, :margin], np.s_[:, 0], paper.seen[0]),
        (np.s_[:margin, :], np.s_[0, :], paper.seen[1]),
        (np.s_[:, w - margin :], np.s_[:, -1], paper.seen[2]),
        (np.s_[h - margin :, :], np.s_[-1, :], paper.seen[3]),
    )
    for strip, edge, seen in strips:
        if not seen:
            continue
        part = ink[strip]
        _, labels = cv2.connectedComponents(part, connectivity=8)
        touching = np.unique(labels[edge])
        gone = np.isin(labels, touching[touching > 0])
        part[gone] = 0
        even[strip][gone] = 255
