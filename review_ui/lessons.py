"""A symbol boxed at the desk and taught by example: the edits that this is, and which lessons count."""

from __future__ import annotations

from digitize.harness.edits import AddConnector, AddPart, Edit, ForgetSymbol, Reviewed, TeachSymbol
from digitize.harness.edits_teach import SAME, share
from digitize.harness.model import Component, Harness
from digitize.store.manual import Manual


def taught(manual: Manual, harness: Harness, drawn: list[Edit], kind: str) -> list[Edit]:
    """``drawn`` (the edits of boxing a part) with the lesson in its place: other drawings like it are found from now on.

    Raises CalledWrongly when next to nothing is drawn in the box, NotFound for an unknown sheet.
    """
    from digitize.batch.teaching import Shown, lesson_from  # it brings picture work that the first view can do without

    part = drawn[0]
    assert isinstance(part, AddPart | AddConnector)
    sheet = part.anchor.sheet
    if isinstance(part, AddConnector):
        lesson = lesson_from(manual, Shown(sheet, part.box, kind, part.label), f"{part.target}-lesson")
        return [part, lesson]
    lesson = lesson_from(manual, Shown(sheet, part.box, kind, part.name, part.terminals), part.target)
    there = [c for c in harness.components if c.place.sheet == sheet and share(c.place.box, part.box) >= SAME]
    return [lesson] if there else [lesson, *drawn[1:]]


def lesson_of_part(reviewed: Reviewed, thing: object) -> str | None:
    """The lesson by which a part was found or on which it was shown, while it counts."""
    if not isinstance(thing, Component):
        return None
    count = lessons_that_count(reviewed)
    return next((i for i in (thing.taught, thing.id) if i in count), None)


def lessons_that_count(reviewed: Reviewed) -> frozenset[str]:
    """Ids of the lessons that were given and not forgotten."""
    given = {r.edit.target for r, _ in reviewed.effects if isinstance(r.edit, TeachSymbol)}
    return frozenset(given - {r.edit.target for r, _ in reviewed.effects if isinstance(r.edit, ForgetSymbol)})
