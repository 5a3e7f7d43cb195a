"""How large the page is: stated dpi, the conventions' page size, or a guess from the sheet's proportions."""

from __future__ import annotations

import math
from dataclasses import dataclass

from digitize.sheet.state import SheetHints

ISO_SHEETS = ((210.0, 297.0), (297.0, 420.0), (420.0, 594.0), (594.0, 841.0), (841.0, 1189.0))
"""ISO 216 A4 to A0, mm, short side first."""

INCH_SHEETS = ((215.9, 279.4), (279.4, 431.8), (431.8, 558.8), (558.8, 863.6))
"""Sizes of ANSI/ASME Y14.1 sheets A to D (from memory), mm, short side first."""

SCANNER_DPI = (300.0, 200.0, 400.0, 600.0, 150.0, 240.0)
"""Resolutions that scanning software offers; the first that makes a common sheet wins."""


USUAL_CAPITAL_MM = 2.0
LEAST_CAPITAL_MM, MOST_CAPITAL_MM = 1.2, 3.6
"""Capitals on wiring pages (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class PageSize:
    """Width and height of the paper as it lies in the scan, mm; ``stated`` False when it is a guess.

    ``by_dpi``: the dpi noted in the file says so, and nothing else.
    """

    width: float
    height: float
    stated: bool
    by_dpi: bool = False


def page_size(
    width_px: float,
    height_px: float,
    dpi: float | None,
    hints: SheetHints,
    slant: float = 0.0,
    *,
    whole: bool = True,
) -> PageSize:
    """The paper's size from its size in px.

    The conventions' size wins when its proportions fit the paper within 4 % (either way up), a scan without the paper's
    edges (``whole`` False) being a little more or less than that; then a believable dpi; then the common sheet that fits
    best, at a resolution scanners offer. ``slant`` widens the 4 % for a photo taken at an angle, which shortens one side
    of the paper: how much opposite sides differ, as a share.
    """
    aspect = width_px / height_px
    if hints.page_width and hints.page_height:
        for w, h in ((hints.page_width, hints.page_height), (hints.page_height, hints.page_width)):
            if abs(aspect / (w / h) - 1) < 0.04 + min(0.12, slant):
                return PageSize(w, h, stated=True) if whole else _scanned_past_the_edges(width_px, height_px, w, dpi)
    if dpi is not None and not _is_screens(dpi):
        return PageSize(width_px / dpi * 25.4, height_px / dpi * 25.4, stated=True, by_dpi=True)
    if hints.page_width:
        return PageSize(hints.page_width, hints.page_width / aspect, stated=True)
    if hints.page_height:
        return PageSize(hints.page_height * aspect, hints.page_height, stated=True)
    return guessed_size(width_px, height_px, whole=whole)


_RIM = 0.06
"""How much a scan may be larger or smaller than the paper in it, as a share ..."""

_RIM_STATED = 0.04
"""... and when the size of the paper is known, so that a scanner's odd dpi is not taken for a rim."""


def _scanned_past_the_edges(width_px: float, height_px: float, width_mm: float, dpi: float | None) -> PageSize:
    """The size of a scan whose paper measures ``width_mm`` but whose edges are not seen: a little more or less than that.

    The dpi noted in the file, else a scanner's usual one, is the truth when it is near; else the scan is the paper.
    """
    across = width_px / width_mm * 25.4
    for known in (() if dpi is None else (dpi,)) + SCANNER_DPI:
        if abs(across / known - 1) < _RIM_STATED:
            return PageSize(width_px / known * 25.4, height_px / known * 25.4, stated=True)
    return PageSize(width_mm, width_mm * height_px / width_px, stated=True)


_SCREEN_DPI = (72.0, 96.0, 144.0, 192.0)
"""What programs note that know no paper: points to the inch, and what is usual on screens."""


def _is_screens(dpi: float) -> bool:
    """True for a resolution that says something of a screen and nothing of paper."""
    return any(abs(dpi / usual - 1) < 0.004 for usual in _SCREEN_DPI)


def guessed_size(width_px: float, height_px: float, *, whole: bool = True) -> PageSize:
    """The paper's size when nobody states it: the common sheet that fits best, else an ordinary size."""
    dpis = _sheet_dpis(width_px, height_px, whole=whole)
    return _at_dpi(width_px, height_px, dpis[0] if dpis else _likely_dpi(max(width_px, height_px)))


def _at_dpi(width_px: float, height_px: float, dpi: float) -> PageSize:
    return PageSize(width_px / dpi * 25.4, height_px / dpi * 25.4, stated=False)


def _sheet_dpis(width_px: float, height_px: float, *, whole: bool = True) -> list[float]:
    """Resolutions at which the page is a common sheet, the likeliest first.

    The paper's edges, when all are seen (``whole``), give the dpi to a thousandth. Where the scan ends before or after the
    paper does, the scanner's own round number is nearer the truth.
    """
    long_px, short_px = max(width_px, height_px), min(width_px, height_px)
    found: list[tuple[float, float]] = []
    for short, long in (*ISO_SHEETS, *INCH_SHEETS):
        misfit = abs((long_px / short_px) / (long / short) - 1)
        true = long_px / (long / 25.4)
        for rank, dpi in enumerate(SCANNER_DPI):
            off = abs(true / dpi - 1)
            if off < _RIM and misfit < _RIM:
                found.append((off + misfit + 0.004 * rank, true if whole else dpi))
    return [dpi for _, dpi in sorted(found)]


def _likely_dpi(long_px: float) -> float:
    """No common sheet fits (a cropped figure, a photo): the dpi at which the page has an ordinary size."""
    for dpi in (300.0, 200.0, 150.0):
        if long_px / dpi * 25.4 >= 180.0:
            return dpi
    return 100.0 if long_px < 700 else 150.0


def size_by_lettering(
    width_px: float, height_px: float, guess: PageSize, letter_mm: float, *, whole: bool = True
) -> PageSize:
    """Correct a guessed size by the height its capitals would have, mm (0: no lettering found, nothing is changed).

    Another common sheet is taken when it makes the lettering more usual; a page of no common size gets the dpi that
    makes its capitals ``USUAL_CAPITAL_MM``.
    """
    if letter_mm <= 0:
        return guess
    dpi = width_px / guess.width * 25.4
    dpis = _sheet_dpis(width_px, height_px, whole=whole)
    if dpis:
        # the capital's height goes with 1 / dpi; a factor of two off costs as much as the least likely sheet
        return _at_dpi(
            width_px, height_px, min(dpis, key=lambda d: _unusual(letter_mm * dpi / d) + 0.1 * dpis.index(d))
        )
    if LEAST_CAPITAL_MM <= letter_mm <= MOST_CAPITAL_MM:
        return guess
    return _at_dpi(width_px, height_px, float(min(600.0, max(60.0, dpi * letter_mm / USUAL_CAPITAL_MM))))


def believable_capitals(letter_mm: float) -> bool:
    """False for capitals so small or so large that the size of the page must be wrong, by a half or more."""
    return LEAST_CAPITAL_MM / 1.5 <= letter_mm <= MOST_CAPITAL_MM * 1.5


USUAL_LINE_MM = 0.45
LEAST_LINE_MM, MOST_LINE_MM = 0.12, 0.9
"""Pens on wiring pages: ISO 128 offers 0.13 to 2 mm; 0.25 to 0.7 mm is common practice, no source."""


def size_by_lines(width_px: float, height_px: float, guess: PageSize, line_mm: float) -> PageSize:
    """Correct the guessed size of a figure without lettering by the width its lines would have, mm (0: no lines).

    Only a page of no common sheet's size is changed, and only when its lines would be drawn by no usual pen.
    """
    if line_mm <= 0 or LEAST_LINE_MM <= line_mm <= MOST_LINE_MM or _sheet_dpis(width_px, height_px):
        return guess
    dpi = width_px / guess.width * 25.4
    return _at_dpi(width_px, height_px, float(min(600.0, max(60.0, dpi * line_mm / USUAL_LINE_MM))))


def _unusual(letter_mm: float) -> float:
    """0 for capitals of a usual height, growing with the logarithm beyond."""
    if letter_mm < LEAST_CAPITAL_MM:
        return math.log2(LEAST_CAPITAL_MM / letter_mm)
    return max(0.0, math.log2(letter_mm / MOST_CAPITAL_MM))
