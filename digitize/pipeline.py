"""The order of the stages, nothing else: one sheet, then one manual. Every stage takes one frozen state to the next."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Protocol, TypeVar

from digitize.harness.model import Harness
from digitize.ink.lettering import find_lettering
from digitize.ink.marks import draw_marks
from digitize.ink.state import Marks
from digitize.ink.symbols import find_symbols
from digitize.ink.taught import find_taught, lesson_of, with_taught
from digitize.legend.conventions import Conventions
from digitize.legend.grammar import grammars
from digitize.reading.read import read_marks
from digitize.reading.readers import Readers
from digitize.reading.zoned import zoned
from digitize.sheet.parts import flat_page
from digitize.sheet.state import Scan, SheetFacts, SheetHints
from digitize.tables.kind import kind_of
from digitize.tables.read import read_table
from digitize.tables.state import SheetTable
from digitize.wiring.binding import ALL_EVIDENCE, EvidenceUsed, bind
from digitize.wiring.identifiers import stated_prefixes
from digitize.wiring.proposed import proposed_conventions
from digitize.wiring.proposed_work import Proposed
from digitize.wiring.state import SheetWiring
from digitize.wiring.understand import understand

State = TypeVar("State")


class Watch(Protocol):
    """Is told of every stage: it runs it, may time it, and may keep what came out under the stage's name."""

    def stage(self, name: str, work: Callable[[], State]) -> State:
        """Run ``work`` and give back its result."""
        ...


@dataclass(frozen=True, slots=True)
class SheetReading:
    """What one sheet came to: its wiring when it is a diagram, its table when it is a chart, an index or a legend."""

    facts: SheetFacts
    wiring: SheetWiring | None
    table: SheetTable | None


def read_sheet(scan: Scan, hints: SheetHints, conventions: Conventions, readers: Readers, watch: Watch) -> SheetReading:
    """One scanned page → what it says. Raises PageUnreadable."""
    return say_what(look_at(scan, hints, watch), hints, conventions, readers, watch)


def look_at(scan: Scan, hints: SheetHints, watch: Watch) -> Marks:
    """One scanned page → all its marks: the part of the way on which a manual's code conventions have no say.

    Raises PageUnreadable.
    """
    sheet = watch.stage("flat", lambda: flat_page(scan, hints))
    lettering = watch.stage("lettering", lambda: find_lettering(sheet))
    found = watch.stage("symbols", lambda: find_symbols(sheet))
    taught = find_taught(sheet, [lesson_of(edit) for edit in hints.lessons])
    symbols = with_taught(found.symbols, taught)
    return watch.stage("marks", lambda: draw_marks(sheet, lettering, symbols, found))


def say_what(marks: Marks, hints: SheetHints, conventions: Conventions, readers: Readers, watch: Watch) -> SheetReading:
    """The marks of one page → what it says under the conventions."""
    loose = not conventions.code.pattern
    read = watch.stage("reading", lambda: read_marks(marks, grammars(conventions), readers, loose=loose))
    read = watch.stage("zones", lambda: zoned(read, hints))
    read = watch.stage("kind", lambda: kind_of(read, hints))
    if read.marks.sheet.facts.kind == "diagram":
        wiring = watch.stage("wiring", lambda: understand(read, stated_prefixes(conventions)))
        return SheetReading(wiring.facts, wiring, None)
    table = watch.stage("table", lambda: read_table(read, conventions))
    return SheetReading(table.facts, None, table)


def bind_manual(
    readings: Sequence[SheetReading], conventions: Conventions, rights: str, used: EvidenceUsed = ALL_EVIDENCE
) -> Harness:
    """All sheets of a manual, in its order, → one harness with its findings. ``used``: less only to measure the lift."""
    return bind(
        [r.wiring for r in readings if r.wiring is not None],
        [r.table for r in readings if r.table is not None],
        conventions,
        rights,
        [r.facts.sheet for r in readings],
        used,
    )


def proposed_by(readings: Sequence[SheetReading], numbers: Mapping[str, int], stated: Conventions) -> Proposed:
    """Conventions that all sheets of a manual speak for; what is stated stays. ``numbers``: page of each sheet, from 1."""
    return proposed_conventions(
        [r.wiring for r in readings if r.wiring is not None],
        [r.table for r in readings if r.table is not None],
        numbers,
        stated,
    )
