"""What a trace is: frozen, complete, in sheet mm; text, JSON and the printable sheet are made from it."""

from __future__ import annotations

from dataclasses import dataclass

from digitize.harness.graph import Key
from digitize.harness.place import Box, Point

CHECK_BELOW = 0.9
"""A hop less likely than this is doubtful; every hop that no person confirmed is to be checked on the page."""


@dataclass(frozen=True, slots=True)
class Spot:
    """Where to look: ``sheet`` id, ``page`` number in the manual, printed page ``label``, ``zone``, ``at`` and ``box`` in mm.

    ``nominal``: the page prints no grid and the zone is our own division.
    """

    sheet: str
    page: int
    label: str | None
    zone: str | None
    at: Point | None = None
    box: Box | None = None
    nominal: bool = False

    @property
    def page_name(self) -> str:
        """The page as a person looks for it: by the label printed on it, else by its number."""
        return self.label or str(self.page)


@dataclass(frozen=True, slots=True)
class Stop:
    """A point of the way: a terminal of a part, a side of a connector, a splice, a ground or an open end.

    ``kind`` as the model's kinds, or ``connector``, ``wire``, ``splice``, ``ground``, ``open end``; ``name`` as printed, ""
    if unread; ``about`` a fuse's rating and the block it sits in, else "".
    """

    id: str
    terminal: str
    kind: str
    name: str
    spot: Spot
    about: str = ""


@dataclass(frozen=True, slots=True)
class Turn:
    """A page turn on the way: where the wire leaves one page and where it comes in on the other."""

    leave: Spot
    enter: Spot


@dataclass(frozen=True, slots=True)
class Fitting:
    """What is known of a connector at the cavity passed.

    ``halves``: (name of the half, code that the chart gives there), each None when unknown, the half passed first first.
    ``location``: the chart's words for its place in the vehicle; ``part``: what its prefix stands for.
    """

    connector: str
    label: str | None
    cavity: str | None
    halves: tuple[tuple[str | None, str | None], tuple[str | None, str | None]]
    location: str | None
    part: str | None


@dataclass(frozen=True, slots=True)
class Leg:
    """One hop of the way.

    Attributes:
        kind: as ``network.Pass.kind``.
        id: the wire, connector drawing or part that is passed.
        printed: the code or name as printed; None when none was read.
        words: the code in words, or what the part does to the way.
        probability: chance that the way really goes here, 0..1.
        code_probability: chance that ``printed`` is read right, 0..1.
        confirmed: a person confirmed it, or went through the whole page.
        sure: drawn on the page; False when only the part's kind suggests it.
        notes: what to know at this hop.
    """

    kind: str
    id: str
    printed: str | None
    words: str
    start: Stop
    end: Stop
    turns: tuple[Turn, ...]
    grommets: tuple[str, ...]
    fitting: Fitting | None
    probability: float
    code_probability: float
    confirmed: bool
    sure: bool
    notes: tuple[str, ...] = ()

    @property
    def doubtful(self) -> bool:
        """Something about it is less likely than ``CHECK_BELOW``."""
        return not self.sure or min(self.probability, self.code_probability) < CHECK_BELOW

    @property
    def check(self) -> bool:
        """Look at the page before relying on it: doubtful, or confirmed by no one."""
        return self.doubtful or not self.confirmed


@dataclass(frozen=True, slots=True)
class Branch:
    """Another conductor at a stop of the way, and what is reached over it: what shares the circuit from there on.

    ``reaches``: names of loads and other parts, nearest first; ``more``: how many further ones were counted.
    """

    at: Stop
    wire: str
    printed: str | None
    words: str
    reaches: tuple[str, ...]
    more: int = 0


@dataclass(frozen=True, slots=True)
class Way:
    """A way from one terminal of the start.

    Attributes:
        goal: ``feed`` (to the fuse, or to the source when no fuse is on the way), ``source`` (on from the fuse),
            ``fuse`` (nearest fuse, whatever feeds it) or ``ground``.
        found: it reaches its goal; otherwise ``legs`` lead as far as one gets and ``missing`` says what is not there.
        ends: the last stop.
        keys: every key passed, from the start's terminal to the end.
    """

    goal: str
    found: bool
    ends: Stop
    legs: tuple[Leg, ...]
    keys: tuple[Key, ...]
    branches: tuple[Branch, ...] = ()
    missing: str = ""
    notes: tuple[str, ...] = ()

    @property
    def wires(self) -> int:
        """How many wires it runs over."""
        return sum(leg.kind == "wire" for leg in self.legs)

    @property
    def page_turns(self) -> int:
        """How many pages one has to turn to follow it."""
        return sum(len(leg.turns) for leg in self.legs)

    @property
    def probability(self) -> float:
        """Chance that all of it is right, if its hops were read independently."""
        product = 1.0
        for leg in self.legs:
            product *= leg.probability
        return product


@dataclass(frozen=True, slots=True)
class Control:
    """What must happen for a relay contact on the way to close: the ways of its coil."""

    id: str
    name: str
    ways: tuple[Way, ...]


@dataclass(frozen=True, slots=True)
class Candidate:
    """One of several things that the question may mean; asking again with ``ask`` means only this one."""

    ask: str
    kind: str
    name: str
    spot: Spot


@dataclass(frozen=True, slots=True)
class Caution:
    """One caution for the person at the vehicle; ``id`` is stable."""

    id: str
    text: str


@dataclass(frozen=True, slots=True)
class Trace:
    """The answer to "what feeds this, and where does it go to ground?".

    Attributes:
        asked: what was asked for, as typed.
        start: what it was taken for; None when it may mean several things (``candidates``).
        serves: for a start that is no load: names of what it feeds or earths.
        controls: relays that must close.
        notes: what to know of the start.
    """

    asked: str
    start: Stop | None
    ways: tuple[Way, ...]
    cautions: tuple[Caution, ...]
    rights: str
    vehicle: str = ""
    controls: tuple[Control, ...] = ()
    serves: tuple[str, ...] = ()
    candidates: tuple[Candidate, ...] = ()
    notes: tuple[str, ...] = ()
