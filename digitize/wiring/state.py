"""The state ``SheetWiring``: what the marks of one diagram sheet mean on that sheet alone. Can be saved as JSON."""

from __future__ import annotations

from dataclasses import dataclass

from digitize.harness.claim import Claim
from digitize.harness.place import Box, Point, Polyline
from digitize.sheet.state import SheetFacts
from digitize.tables.state import KeyLine


@dataclass(frozen=True, slots=True)
class PlaceTerminal:
    """Where a run meets a place. Connector terminals come in pairs ``a1``/``b1``, ``a2``/``b2``."""

    id: str
    at: Point
    label: str | None = None


@dataclass(frozen=True, slots=True)
class DrawnPlace:
    """One drawing of a component, connector, grommet or ground.

    Attributes:
        id: unique on the sheet, e.g. ``p017``.
        kind: one of ``ink.state.SYMBOL_KINDS``.
        label: printed name (lines joined by a space), connector id, grommet id, fuse number.
        cavities: for a connector, the cavity printed at each pair of terminals, None where nothing is printed.
        case_ground: an earth mark hangs on its case.
        heading: for a diode the side its arrow points to.
        parent: for a fuse, the id of the fuse block on this sheet.
        rating: for a fuse, the printed rating.
        joined: pairs of terminal ids joined inside.
        taught: id of the lesson by which its symbol was found, else None.
    """

    id: str
    kind: str
    box: Box
    label: Claim
    terminals: tuple[PlaceTerminal, ...]
    probability: float
    cavities: tuple[str | None, ...] = ()
    case_ground: bool = False
    heading: str | None = None
    parent: str | None = None
    rating: str | None = None
    joined: tuple[tuple[str, str], ...] = ()
    taught: str | None = None


@dataclass(frozen=True, slots=True)
class DrawnSplice:
    """A dot where runs join; ``id`` unique on the sheet, e.g. ``s004``."""

    id: str
    at: Point
    degree: int
    probability: float


@dataclass(frozen=True, slots=True)
class RunEnd:
    """Where a run ends.

    ``kind``: ``place`` (``node`` is a DrawnPlace id and ``terminal`` one of its terminals), ``splice`` (``node`` a
    DrawnSplice id), ``edge`` (``node`` an EdgeMark id) or ``open`` (``node`` None: it just stops).
    """

    kind: str
    node: str | None
    terminal: str | None
    at: Point


@dataclass(frozen=True, slots=True)
class RunCode:
    """A code printed along a run: what was read, where, and how surely it belongs to this run (0..1).

    ``along``: how far from the run's first end it stands, 0..1. ``near_edge`` is the EdgeMark id when it stands at one.
    """

    claim: Claim
    box: Box
    belongs: float
    along: float
    near_edge: str | None = None


@dataclass(frozen=True, slots=True)
class Run:
    """One conductor on one sheet between two ends. ``grommets``: ids of places passed. ``width`` in mm."""

    id: str
    ends: tuple[RunEnd, RunEnd]
    points: Polyline
    width: float
    codes: tuple[RunCode, ...]
    grommets: tuple[str, ...]
    probability: float


@dataclass(frozen=True, slots=True)
class EdgeMark:
    """A run leaves the sheet here: ``edge`` is ``left right top bottom``, or ``arrow`` inside the sheet.

    ``text``: what is printed at it besides the code (a sheet or zone it names), None when nothing.
    """

    id: str
    edge: str
    at: Point
    text: Claim | None = None


@dataclass(frozen=True, slots=True)
class SheetText:
    """A string read on the sheet and what it was taken for (``code``, ``name``, ``connector``, ``zone``, ``title`` …).

    ``tail``: for colours in words, how high the last word's letters are against those of the first; small letters reach
    about 0.7. None where it was not measured.
    """

    text: str
    role: str
    box: Box
    probability: float
    alternatives: tuple[tuple[str, float], ...] = ()
    tail: float | None = None


@dataclass(frozen=True, slots=True)
class SheetWiring:
    """One diagram sheet, understood by itself. ``crossings`` are points where two runs pass without joining.

    ``keys``: what a table on the sheet says of the short keys on its wires.
    """

    facts: SheetFacts
    places: tuple[DrawnPlace, ...]
    splices: tuple[DrawnSplice, ...]
    runs: tuple[Run, ...]
    edges: tuple[EdgeMark, ...]
    crossings: tuple[Point, ...]
    texts: tuple[SheetText, ...]
    keys: tuple[KeyLine, ...] = ()
