"""The states ``Scan`` and ``Sheet``."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from digitize.harness.edits import TeachSymbol
from digitize.harness.place import Box, Point
from digitize.sheet.mapping import SheetMapping  # needed at run time: SheetFacts is saved as JSON by its annotations
from digitize.sheet.part_mapping import PartOfSheet
from digitize.sheet.zones import ZoneGrid

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

PX_PER_MM = 12.0
"""Resolution of every flat image (304.8 dpi): all later stages see one scale whatever the scanner did."""

SHEET_KINDS = ("diagram", "chart", "index", "legend", "other")


@dataclass(frozen=True, slots=True)
class Scan:
    """A source page as it lies on disk.

    Attributes:
        sheet: the id its sheet gets, unique in the manual, e.g. ``page_03`` or ``book-p012``.
        path: the file; ``page`` the 0-based page in it (always 0 for single-page formats).
        sha256: of the file's bytes, hex.
        dpi: what the file states, None when it states nothing believable.
        rights: the user's rights note, carried to every export.
        parts: paths of the parts that the file at ``path`` was gathered of (``sheet.parts``); empty for a plain page.
    """

    sheet: str
    path: str
    page: int
    sha256: str
    dpi: float | None
    rights: str
    parts: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class SheetHints:
    """What the user's conventions say about one sheet. Everything may be None: then it is estimated from the page.

    Attributes:
        page_width, page_height: of the paper, mm, as the sheet is read (landscape: width > height).
        across, down: ``numbers`` or ``letters``: what names the columns and what names the rows.
        columns, rows: how many a sheet has.
        first_column, first_row: label of the leftmost column and of the top row of the first diagram sheet.
        letters_skipped: letters the axes leave out; () for none, None when not stated.
        labels_at: sides of the frame with labels: ``top bottom left right``.
        continues: True when the columns' labels go on from sheet to sheet.
        tick_marks: True when the borders of the zones are marked on the frame.
        diagram_number: place of this sheet among the diagram sheets, 1 for the first; None when it is no diagram.
        kind: one of SHEET_KINDS when the conventions say so.
        quarter_turns: turns (0..3, clockwise) that set the scan upright, when a person said so.
        lessons: symbols that a person has shown at the review desk, in that order.
    """

    page_width: float | None = None
    page_height: float | None = None
    across: str | None = None
    down: str | None = None
    columns: int | None = None
    rows: int | None = None
    first_column: str | None = None
    first_row: str | None = None
    letters_skipped: tuple[str, ...] | None = None
    labels_at: tuple[str, ...] | None = None
    continues: bool | None = None
    tick_marks: bool | None = None
    diagram_number: int | None = None
    kind: str | None = None
    quarter_turns: int | None = None
    lessons: tuple[TeachSymbol, ...] = ()


@dataclass(frozen=True, slots=True)
class SheetFacts:
    """Everything about a sheet but its pixels; can be saved as JSON.

    Attributes:
        width, height: of the flat page, mm.
        scan_width, scan_height: of the scan, px.
        dpi: used; ``dpi_stated`` False when it was estimated.
        mapping: sheet mm ↔ scan px.
        frame: the drawn border inside which the drawing stands, sheet mm; None when the page has none.
        zones: the grid; nominal when none is printed.
        border: the outer line of a double frame, sheet mm; None when the frame is single or there is none.
        ticks_across, ticks_down: x and y of the zone borders marked on the frame, sheet mm, rising; often empty.
        quarter_turns: turns (0..3, clockwise) that set the scan upright.
        parts: for a sheet scanned in overlapping parts, the way from the joined picture (the "scan" of ``mapping``) to the
            pixels of each part; empty for a page scanned in one piece.
        title, label: printed title and page label, None when not found (filled by reading).
        kind: one of SHEET_KINDS.
        kind_probability, frame_probability, zones_probability: 0..1.
    """

    sheet: str
    width: float
    height: float
    scan_width: int
    scan_height: int
    dpi: float
    dpi_stated: bool
    mapping: SheetMapping
    frame: Box | None
    frame_probability: float
    zones: ZoneGrid
    zones_probability: float
    kind: str
    kind_probability: float
    title: str | None = None
    label: str | None = None
    border: Box | None = None
    ticks_across: tuple[float, ...] = ()
    ticks_down: tuple[float, ...] = ()
    quarter_turns: int = 0
    parts: tuple[PartOfSheet, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class Sheet:
    """A page made flat.

    Attributes:
        grey: uint8 (H, W), PX_PER_MM px per mm, paper near 255 and ink near 0 after shading was evened out.
        ink: uint8 (H, W), 255 where there is ink, else 0.
    """

    facts: SheetFacts
    grey: NDArray[np.uint8]
    ink: NDArray[np.uint8]


def to_px(point: Point) -> Point:
    """Sheet mm → pixel of the flat image (origin top left, pixel centres at whole numbers)."""
    return (point[0] * PX_PER_MM - 0.5, point[1] * PX_PER_MM - 0.5)


def to_mm(x: float, y: float) -> Point:
    """Pixel of the flat image → sheet mm."""
    return ((x + 0.5) / PX_PER_MM, (y + 0.5) / PX_PER_MM)
