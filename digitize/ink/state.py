"""The state ``Marks``: strokes, meetings, dots, ovals, boxes, symbols and blocks of lettering on one sheet."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from digitize.harness.place import Box, Point, Polyline

if TYPE_CHECKING:
    from digitize.sheet.state import Sheet

SYMBOL_KINDS = (
    "alternator", "battery", "capacitor", "circuit_breaker", "coil", "connector", "diode", "fuse", "fuse_block",
    "fusible_link", "gauge", "grommet", "ground", "heater", "horn", "lamp", "module", "motor", "relay", "resistor",
    "sensor", "socket", "solenoid", "sounder", "speaker", "starter_solenoid", "switch", "thermal_contact", "unknown",
    "variable_resistor",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class TextBlock:
    """One line of lettering, found but not read.

    ``box`` in sheet mm. ``angle`` is the direction the line reads in, degrees counter-clockwise: 0 left to right,
    90 bottom to top, 180 upside down, 270 top to bottom.
    """

    id: int
    box: Box
    angle: int
    probability: float


@dataclass(frozen=True, slots=True)
class Oval:
    """A closed oval, lozenge or round-ended outline that may be a connector; ``box`` is its outer edge, sheet mm."""

    box: Box
    probability: float


@dataclass(frozen=True, slots=True)
class Rectangle:
    """A closed upright rectangle (a part's outline, a table cell); ``dashed`` when drawn in dashes. Outer edge, mm."""

    box: Box
    dashed: bool
    probability: float


@dataclass(frozen=True, slots=True)
class Symbol:
    """A drawn symbol.

    ``box``: the body without the wires that reach it, sheet mm. ``heading``: ``left right up down`` where the symbol
    has a direction (a diode's arrow, the side a ground hangs to), else None. ``alternatives``: other kinds it may be.
    ``taught``: id of the lesson by which it was found, None for a kind known from the start; ``terminals``: (name or
    None, sheet mm) as that lesson shows them.
    """

    kind: str
    box: Box
    probability: float
    heading: str | None = None
    alternatives: tuple[tuple[str, float], ...] = ()
    taught: str | None = None
    terminals: tuple[tuple[str | None, Point], ...] = ()


@dataclass(frozen=True, slots=True)
class Dot:
    """A filled dot; ``diameter`` in mm."""

    at: Point
    diameter: float
    probability: float


@dataclass(frozen=True, slots=True)
class Stroke:
    """One straight or bent line of ink between two ends, with its mean ``width`` in mm."""

    points: Polyline
    width: float
    dashed: bool = False


@dataclass(frozen=True, slots=True)
class Meeting:
    """A point where lines meet. ``strokes`` are indexes into Marks.strokes with the end (0 first, 1 last) that lies here.

    ``kind``: ``join`` (all one conductor), ``cross`` (two lines pass), ``corner`` (two ends of one line).
    ``through``: for a cross, the pairs of entries of ``strokes`` (by position) that go on into each other.
    """

    at: Point
    kind: str
    probability: float
    strokes: tuple[tuple[int, int], ...]
    through: tuple[tuple[int, int], ...] = ()


@dataclass(frozen=True, slots=True)
class Habit:
    """How this sheet draws meetings, each a chance 0..1 (``ink.habit``).

    ``hops``: lines that pass each other do so with hops or gaps, not plainly. ``rings``: joins are open circles, not
    filled dots. ``marked_joins``: the share of joins that carry a dot or ring at all. ``dotted``: that a join here has one,
    told by the dots alone; what else meets without one (sides of parts nobody knew) says nothing against it.
    """

    hops: float
    rings: float
    marked_joins: float
    dotted: float = 0.0


@dataclass(frozen=True, slots=True)
class EdgeSign:
    """A sign at a ``side`` (left, right) of the frame at which a wire goes on overleaf.

    ``box`` reaches to the border; ``serifs``: how far those of a bracket reach into it from its stroke's inner edge; mm.
    ``outline``: of an arrow, without the paper between it and the border.
    """

    side: str
    box: Box
    serifs: float = 0.0
    outline: Box | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Marks:
    """All marks of one sheet. Ids of text blocks are their positions in ``texts``."""

    sheet: Sheet
    strokes: tuple[Stroke, ...]
    meetings: tuple[Meeting, ...]
    dots: tuple[Dot, ...]
    ovals: tuple[Oval, ...]
    rectangles: tuple[Rectangle, ...]
    symbols: tuple[Symbol, ...]
    texts: tuple[TextBlock, ...]
    habit: Habit | None = None
    edge_signs: tuple[EdgeSign, ...] = ()
