"""The zone grid once more, now that the labels along the frame have been read."""

from __future__ import annotations

from dataclasses import replace

from digitize.reading.state import ReadMarks
from digitize.sheet.frame_labels import frame_of_labels
from digitize.sheet.state import SheetFacts, SheetHints
from digitize.sheet.zone_labels import zones_from_labels


def zoned(read: ReadMarks, hints: SheetHints) -> ReadMarks:
    """The marks with the grid that the printed labels show, or the one it had when that is the surer one.

    A page without a frame keeps its nominal grid, since short texts somewhere on it are no labels, unless texts in its
    margins stand at equal steps and count on along two sides: these then tell the frame too.
    """
    facts = read.marks.sheet.facts
    labels = [(t.text, t.box, t.probability) for t in read.texts if t.text]
    frame = facts.frame or frame_of_labels(labels, (facts.width, facts.height))
    if frame is None:
        return read
    grid, probability = zones_from_labels(
        frame,
        labels,
        hints,
        ticks_across=facts.ticks_across,
        ticks_down=facts.ticks_down,
        page=(facts.width, facts.height),
    )
    if facts.frame is None and grid.nominal:
        return read
    keeps = not facts.zones.nominal and (grid.nominal or facts.zones_probability > probability)
    if keeps:
        return read
    sure = facts.frame_probability if facts.frame is not None else probability
    known = replace(facts, frame=frame, frame_probability=sure, zones=grid, zones_probability=probability)
    return with_facts(read, known)


def with_facts(read: ReadMarks, facts: SheetFacts) -> ReadMarks:
    """The same marks and texts on a sheet of which more is known."""
    return replace(read, marks=replace(read.marks, sheet=replace(read.marks.sheet, facts=facts)))
