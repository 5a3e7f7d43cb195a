"""The model of one manual's harness. All frozen; an edit makes a new harness (see ``edits``).

A *place* is one drawing of an object on one sheet. A connector drawn on five sheets is one ``Connector`` with five
``DrawnConnector`` places. Wires end at places, at splices or at grounds: a ``WireEnd`` names the id of the place or
object and the terminal on it.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from digitize.harness.claim import Claim
from digitize.harness.place import Place, Point, Polyline


@dataclass(frozen=True, slots=True)
class Terminal:
    """Where a conductor meets a component. ``id`` is unique in its component; ``at`` in mm on the component's sheet."""

    id: str
    at: Point
    label: str | None = None


@dataclass(frozen=True, slots=True)
class Component:
    """One part drawn at one place (a part drawn twice with one name is two components with one name).

    Attributes:
        kind: ``lamp``, ``motor``, ``switch``, ``relay``, ``fuse``, ``fuse_block``, ``diode``, ``battery``, ``module``,
            ``unknown`` …: the words of ``ink.state.SYMBOL_KINDS``.
        name: the printed name, lines joined by a space; for a fuse its number.
        case_ground: an earth mark sits on its case: its return is the case.
        heading: for a diode the side its arrow points to (``left right up down``), else None.
        parent: id of the fuse block a fuse sits in, else None.
        rating: printed rating, e.g. ``25A``.
        joined: pairs of terminal ids that are joined inside (a bus bar, a closed path at rest); trace may cross a
            component only along these or its kind's usual paths.
        taught: id of the lesson by which its symbol was found (see ``edits.TeachSymbol``); None for a known symbol.
    """

    id: str
    kind: str
    name: Claim
    place: Place
    terminals: tuple[Terminal, ...]
    probability: float
    case_ground: bool = False
    heading: str | None = None
    parent: str | None = None
    rating: str | None = None
    joined: tuple[tuple[str, str], ...] = ()
    taught: str | None = None


@dataclass(frozen=True, slots=True)
class DrawnConnector:
    """One oval of a connector on one sheet. Terminals come in pairs ``a1``/``b1``, ``a2``/``b2`` …: the two halves.

    ``cavities`` names the cavity of each pair in order (None when neither printed nor found in the chart).
    """

    id: str
    place: Place
    terminals: tuple[Terminal, ...]
    cavities: tuple[str | None, ...]
    probability: float


@dataclass(frozen=True, slots=True)
class Cavity:
    """One row of the connector chart: what it says is in a cavity on each half, verbatim; None where it prints a dash."""

    label: str
    a: Claim
    b: Claim


@dataclass(frozen=True, slots=True)
class Connector:
    """One connector, drawn in one or many places.

    ``location`` is the chart's words for where it sits; ``part`` the part of the vehicle its prefix stands for.
    """

    id: str
    label: Claim
    places: tuple[DrawnConnector, ...]
    cavities: tuple[Cavity, ...] = ()
    half_names: tuple[str, str] | None = None
    location: str | None = None
    part: str | None = None


@dataclass(frozen=True, slots=True)
class Splice:
    """A filled dot where conductors join; ``degree`` is how many meet there."""

    id: str
    place: Place
    at: Point
    degree: int
    probability: float


@dataclass(frozen=True, slots=True)
class DrawnGrommet:
    """One drawing of a grommet; ``wire`` is the id of the wire that passes it, None when unknown."""

    id: str
    place: Place
    probability: float
    wire: str | None = None


@dataclass(frozen=True, slots=True)
class Grommet:
    """A pass-through, drawn in one or many places. Wires go through it unchanged."""

    id: str
    label: Claim
    places: tuple[DrawnGrommet, ...]


@dataclass(frozen=True, slots=True)
class Ground:
    """A ground symbol at the end of a wire; it has the single terminal ``1``."""

    id: str
    label: Claim
    place: Place
    at: Point
    probability: float


@dataclass(frozen=True, slots=True)
class WireCode:
    """A printed wire code taken apart; ``printed`` is the verbatim string and always wins."""

    printed: str
    circuit: str | None = None
    number: str | None = None
    segment: str | None = None
    gauge: str | None = None
    colour: str | None = None
    tracer: str | None = None


@dataclass(frozen=True, slots=True)
class WireEnd:
    """Where a wire ends.

    ``node`` is the id of a Component, a DrawnConnector, a Splice or a Ground; None for a dangling end. ``terminal`` is
    the terminal's id on it (``*`` for a splice). ``at`` in mm on ``sheet``.
    """

    node: str | None
    terminal: str | None
    sheet: str
    at: Point


@dataclass(frozen=True, slots=True)
class SheetPath:
    """The part of a wire that is drawn on one sheet, sheet mm."""

    sheet: str
    points: Polyline


@dataclass(frozen=True, slots=True)
class Wire:
    """One conductor between two ends, over one or many sheets.

    ``code`` holds the printed code (value None: a wire without a code); ``grommets`` the ids of grommets passed;
    ``links`` the ids of the page-edge links it runs over, in order; ``probability`` that both ends are right.
    """

    id: str
    code: Claim
    parsed: WireCode | None
    ends: tuple[WireEnd, WireEnd]
    paths: tuple[SheetPath, ...]
    probability: float
    grommets: tuple[str, ...] = ()
    links: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class EdgePoint:
    """Where a wire leaves a sheet: ``edge`` is ``left right top bottom``, or ``arrow`` for a reference in the middle."""

    sheet: str
    edge: str
    at: Point
    zone: str | None = None


@dataclass(frozen=True, slots=True)
class PageLink:
    """Two page-edge points that are one conductor. ``b`` is None when no partner was found (a finding says so)."""

    id: str
    code: Claim
    a: EdgePoint
    b: EdgePoint | None
    probability: float


@dataclass(frozen=True, slots=True)
class IndexEntry:
    """One line of the manual's own index: a name and its zones, as printed."""

    name: Claim
    zones: tuple[str, ...]
    place: Place
    probability: float


@dataclass(frozen=True, slots=True)
class Finding:
    """An inconsistency: where, why, and what would settle it.

    ``check`` is the id of a documented check (see ``checks``); ``severity`` one of ``note``, ``doubt``, ``fault``;
    ``accepted`` the reason a person gave for leaving it, else None.
    """

    id: str
    check: str
    severity: str
    subject: str
    why: str
    settle: str
    places: tuple[Place, ...]
    cavity: str | None = None
    accepted: str | None = None


@dataclass(frozen=True, slots=True)
class SheetNote:
    """What the harness keeps of a sheet: its id in manual order, title, kind, size in mm and printed page label."""

    id: str
    number: int
    kind: str
    title: str | None
    label: str | None
    width: float
    height: float


NO_RIGHTS_NOTE = "No rights note was given with this manual: ask whoever holds the rights before you pass it on."
"""What travels with a manual and its exports until a note is given."""


@dataclass(frozen=True, slots=True)
class Harness:
    """The whole manual. Every tuple is sorted by id (sheets by number), so equal manuals compare equal."""

    rights: str
    sheets: tuple[SheetNote, ...]
    components: tuple[Component, ...] = ()
    connectors: tuple[Connector, ...] = ()
    splices: tuple[Splice, ...] = ()
    grommets: tuple[Grommet, ...] = ()
    grounds: tuple[Ground, ...] = ()
    wires: tuple[Wire, ...] = ()
    links: tuple[PageLink, ...] = ()
    index: tuple[IndexEntry, ...] = ()
    findings: tuple[Finding, ...] = ()
    texts: tuple[PrintedText, ...] = ()
    conventions: dict[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class PrintedText:
    """Every string read from any sheet, so that all of it can be searched. ``role`` is what it was taken for."""

    text: str
    role: str
    place: Place
    probability: float
