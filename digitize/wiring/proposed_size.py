"""The size of the paper, where no file notes its resolution: one guess for the whole manual instead of one for each page.

A single page leaves open whether it is a large sheet scanned coarsely or a small one scanned finely: 4677 px are A4 at
400 dpi and A2 at 200. A manual is printed on one paper and scanned at one setting, so all its pages are asked together:
which common sheet fits them all, at which of a scanner's resolutions, and at which size their lettering is usual.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from statistics import fmean, median

from digitize.harness.place import Box
from digitize.legend.conventions import Conventions
from digitize.sheet.size import INCH_SHEETS, ISO_SHEETS, SCANNER_DPI
from digitize.sheet.state import SheetFacts
from digitize.tables.state import SheetTable
from digitize.wiring.proposed_work import Proposed, Work
from digitize.wiring.state import SheetWiring

Size = tuple[float, float]
SAID = "page_size_mm"

FEWEST_PAGES = 3
"""So many pages at least are asked together; one or two say no more than each by itself."""
ALIKE = 0.08
"""Pages whose longer sides differ by more than this share are not of one paper."""
RIM = 0.06
"""How much a scan may be larger or smaller than the paper in it, as a share (that of ``sheet.size``)."""
VARIED = 0.003
"""Scans whose sizes differ by this share were not cut by a scanner's window: each was cut around its page."""
CUT, CUT_AROUND = 2.0, 4.0
"""How much more a scan smaller than the paper costs than a larger one, and where each scan was cut around its page."""
RANKED = 0.004
"""What each less usual resolution costs (that of ``sheet.size``)."""
LETTERS = 0.1
"""What lettering costs that is twice, or half, as high as usual."""
USUAL_MM = 2.1
"""Height of a printed string's box on wiring pages, mm (common practice, no source)."""
SAME_SHAPE, SAME_SIZE = 0.04, 0.1
"""How far a page may be off a stated size, as shares of its proportions and of its length (those of ``sheet``)."""
FEWEST_STRINGS = 5
READ_WELL = 0.8


def propose_size(work: Work, sheets: Sequence[SheetWiring], tables: Sequence[SheetTable]) -> None:
    """Propose ``page_size_mm`` when all pages can be one common sheet, and no file notes its resolution."""
    if work.stated.page_size_mm is not None:
        return
    facts = [*(s.facts for s in sheets), *(t.facts for t in tables)]
    heights = {s.facts.sheet: _height(s.facts, ((t.text, t.probability, t.box) for t in s.texts)) for s in sheets}
    heights |= {t.facts.sheet: _height(t.facts, ((x.text, x.probability, x.box) for x in t.texts)) for t in tables}
    found = _common_size(facts, {k: h for k, h in heights.items() if h is not None})
    if found is not None:
        size, dpi = found
        why = f"{len(facts)} pages fit that at {dpi:.0f} dpi, and their lettering is {_mm(heights, dpi):.1f} mm high"
        work.put(SAID, size, why, 0.9)


def agrees(facts: SheetFacts, size: Size) -> bool:
    """False when a page has the shape of this size, either way up, but was looked at in a size a tenth larger or smaller."""
    if facts.dpi_stated:
        return True
    shape = max(facts.width, facts.height) / min(facts.width, facts.height)
    if abs(shape / (max(size) / min(size)) - 1) > SAME_SHAPE:
        return True
    return abs(max(facts.width, facts.height) / max(size) - 1) <= SAME_SIZE


def to_look_again(stated: Conventions, proposed: Conventions, facts: Iterable[SheetFacts]) -> Conventions | None:
    """What is stated with the proposed size of the paper, when pages were looked at in another; None when none was.

    What they say should then be read anew before anything else is proposed from it.
    """
    size = proposed.page_size_mm
    if size is None or stated.page_size_mm is not None or all(agrees(f, size) for f in facts):
        return None
    return stated.model_copy(update={"page_size_mm": size})


def with_size_of(first: Proposed, again: Proposed) -> Proposed:
    """What pages say that were looked at again in the proposed size, with the first look's words for that size."""
    return replace(
        again,
        remarks={k: v for k, v in first.remarks.items() if k == SAID} | dict(again.remarks),
        lines=(*(line for line in first.lines if line.key == SAID), *again.lines),
    )


def _height(facts: SheetFacts, strings: Iterable[tuple[str, float, Box]]) -> float | None:
    """Usual height of a page's strings in px of its scan; None where there are few."""
    found = [min(box.width, box.height) for text, sure, box in strings if sure >= READ_WELL and len(text) >= 3]
    return median(found) * facts.dpi / 25.4 if len(found) >= FEWEST_STRINGS else None


def _mm(heights: Mapping[str, float | None], dpi: float) -> float:
    return median(h for h in heights.values() if h is not None) / dpi * 25.4


def _common_size(facts: Sequence[SheetFacts], heights: Mapping[str, float]) -> tuple[Size, float] | None:
    """(page size in mm as most pages lie, dpi), or None when the pages do not agree on a common sheet."""
    sides = [sorted((f.width * f.dpi / 25.4, f.height * f.dpi / 25.4)) for f in facts]
    long = [s[1] for s in sides]
    if (
        len(facts) < FEWEST_PAGES
        or not heights
        or any(f.dpi_stated for f in facts)
        or max(long) > (1 + ALIKE) * min(long)
    ):
        return None
    around = max(long) > (1 + VARIED) * min(long)
    usual = median(heights.values())
    best: tuple[float, Size, float] | None = None
    for sheet in (*ISO_SHEETS, *INCH_SHEETS):
        for rank, dpi in enumerate(SCANNER_DPI):
            paper = (sheet[0] / 25.4 * dpi, sheet[1] / 25.4 * dpi)
            misfits = [_misfit((short, long), paper, around=around) for short, long in sides]
            if max(misfits) == math.inf:
                continue
            cost = fmean(misfits) + RANKED * rank + LETTERS * abs(math.log2(usual / dpi * 25.4 / USUAL_MM))
            if best is None or cost < best[0]:
                best = (cost, sheet, dpi)
    if best is None:
        return None
    level = 2 * sum(f.width >= f.height for f in facts) >= len(facts)
    short, wide = best[1]
    return ((wide, short) if level else (short, wide)), best[2]


def _misfit(scan: Size, paper: Size, *, around: bool) -> float:
    """How badly a scan of some size (short, long; px) fits a paper; infinite when it is too much larger or smaller."""
    over = scan[1] / paper[1] - 1
    aspect = abs(scan[1] / scan[0] / (paper[1] / paper[0]) - 1)
    if abs(over) > RIM or aspect > RIM:
        return math.inf
    return aspect + (over if over >= 0 else -over * (CUT_AROUND if around else CUT))
