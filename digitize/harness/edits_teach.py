"""Symbols taught by example: what a lesson does to the harness at once, and which lessons count.

A lesson is an edit like any other. At once it makes the boxed thing a part of the kind that was said. The other drawings
of the same symbol are found when pages are read with the lessons that count (``ink.taught``).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from digitize.harness.claim import Alternative, Claim, Evidence
from digitize.harness.edits import AddPart, Effect, ForgetSymbol, Recorded, TeachSymbol
from digitize.harness.edits_parts import add_part
from digitize.harness.edits_put import put
from digitize.harness.model import Component, Harness
from digitize.harness.place import Box

SAME = 0.4
"""A part whose box shares so much of the union with the boxed place is the one that was boxed (own choice)."""

NO_PARTS = ("connector", "grommet", "ground")
"""Kinds that are more than a part at one place: they are only found when the page is read again."""


def teach(harness: Harness, edit: TeachSymbol, by: str) -> tuple[Harness, Effect]:
    """The boxed place is a part of the kind that was said: the part read there already, or a new one."""
    says = f"a {edit.kind.replace('_', ' ')} is drawn like this"
    sheet = edit.anchor.sheet
    if all(s.id != sheet for s in harness.sheets):
        return harness, Effect("orphaned", f"{says}: sheet {sheet} is not in the manual.")
    if edit.kind in NO_PARTS:
        return harness, Effect("applied", says, (edit.target,), None, edit.kind)
    there = max(
        (c for c in harness.components if c.place.sheet == sheet),
        key=lambda c: share(c.place.box, edit.box),
        default=None,
    )
    if there is None or share(there.place.box, edit.box) < SAME:
        new = AddPart(
            target=edit.target,
            anchor=edit.anchor,
            kind=edit.kind,
            name=edit.name,
            box=edit.box,
            terminals=edit.terminals,
        )
        harness, effect = add_part(harness, new, by)
        return harness, replace(effect, says=says, after=edit.kind)
    known = replace(there, kind=edit.kind, probability=1.0, taught=edit.target, name=_name(there, edit.name, by))
    return put(harness, known), Effect("applied", says, (there.id, edit.target), there.kind, edit.kind)


def counting(book: Iterable[Recorded]) -> tuple[TeachSymbol, ...]:
    """The lessons that count, in the order in which they were given: not undone, not forgotten."""
    active = [r.edit for r in book if r.state == "active"]
    forgotten = {e.target for e in active if isinstance(e, ForgetSymbol)}
    return tuple(e for e in active if isinstance(e, TeachSymbol) and e.target not in forgotten)


def share(a: Box, b: Box) -> float:
    """Common area over the area of both together, 0..1."""
    common = a.overlap(b)
    return common / (a.width * a.height + b.width * b.height - common + 1e-9)


def _name(part: Component, name: str | None, by: str) -> Claim:
    old = part.name
    if name is None:
        return old
    ranked = (Alternative(name, 1.0), *(a for a in old.alternatives if a.text != name))
    return Claim(name, 1.0, ranked, (*old.evidence, Evidence("person", name, 1.0, by)))
