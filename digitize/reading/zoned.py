"""The zone grid once more, now that the labels along the frame have been read."""

from __future__ import annotations

from dataclasses import replace

from digitize.reading.state import ReadMarks
from digitize.sheet.state import SheetFacts, SheetHints
from digitize.sheet.zone_labels import zones_from_labels


def zoned(read: ReadMarks, hints: SheetHints) -> ReadMarks:
    """The marks with the grid that the printed labels show, or the one it had when that is the surer one.

    A page without a frame keeps its nominal grid: short texts somewhere on it are no labels.
    """
    facts = read.marks.sheet.facts
    if facts.frame is None:
        return read
    labels = [(t.text, t.box, t.probability) for t in read.texts if t.text]
    grid, probability = zones_from_labels(
        facts.frame,
        labels,
        hints,
        ticks_across=facts.ticks_across,
        ticks_down=facts.ticks_down,
        page=(facts.width, facts.height),
    )
    keeps = not facts.zones.nominal and (grid.nominal or facts.zones_probability > probability)
    if keeps:
        return read
    return with_facts(read, replace(facts, zones=grid, zones_probability=probability))


def with_facts(read: ReadMarks, facts: SheetFacts) -> ReadMarks:
    """The same marks and texts on a sheet of which more is known."""
    return replace(read, marks=replace(read.marks, sheet=replace(read.marks.sheet, facts=facts)))
