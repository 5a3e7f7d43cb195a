"""Why is it so? The story of one object: what was read, what speaks for it, and every edit that changed it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from digitize.harness.claim import Alternative, Claim, Evidence
from digitize.harness.edits import Effect, Recorded, Reviewed
from digitize.harness.edits_find import Stand, look_up
from digitize.harness.model import Component, Connector, DrawnConnector, Grommet, Ground, Harness, PageLink, Wire


@dataclass(frozen=True, slots=True)
class Chapter:
    """One edit in an object's story: the edit as recorded, and what it did."""

    recorded: Recorded
    effect: Effect


@dataclass(frozen=True, slots=True)
class Story:
    """All that is known of one object.

    Attributes:
        id, kind: the object's, as in ``edits_find.KINDS``.
        digitized: its claim as the program alone believed it; None for an object made by hand or without lettering.
        now: its claim after all edits; None when it has no lettering or was removed.
        gone: True when an edit removed it.
        readings: every ranked alternative that was ever considered.
        evidence: everything that speaks for or against, the program's first, then persons'.
        edits: all that touched it, undone ones too, in order.
    """

    id: str
    kind: str
    digitized: Claim | None
    now: Claim | None
    gone: bool
    readings: tuple[Alternative, ...]
    evidence: tuple[Evidence, ...]
    edits: tuple[Chapter, ...]


def story(harness: Harness, reviewed: Reviewed, edits: Iterable[Recorded], subject: str) -> Story | None:
    """The story of the object with id ``subject``; None when neither harness knows it.

    ``harness`` is as digitized, ``reviewed`` the same with the edits that count, ``edits`` the whole book.
    """
    first, last = look_up(harness, subject), look_up(reviewed.harness, subject)
    if first is None and last is None:
        return None
    chapters = [Chapter(r, e) for r, e in reviewed.effects if subject in e.touched or r.edit.target == subject]
    chapters.extend(
        Chapter(r, Effect(r.state, "taken back")) for r in edits if r.state != "active" and r.edit.target == subject
    )
    chapters.sort(key=lambda c: c.recorded.number)
    stand = last or first
    assert stand is not None
    before, after = claim_of(harness, first), claim_of(reviewed.harness, last)
    shown = after or before
    return Story(
        subject, stand.kind, before, after, last is None,
        shown.alternatives if shown else (), shown.evidence if shown else (), tuple(chapters),
    )  # fmt: skip


def claim_of(harness: Harness, stand: Stand | None) -> Claim | None:
    """The claim that an object's lettering makes: a wire's code, a component's name, else a label."""
    if stand is None:
        return None
    match stand.thing:
        case Wire() | PageLink() as thing:
            return thing.code
        case Component() as thing:
            return thing.name
        case Connector() | Grommet() | Ground() as thing:
            return thing.label
        case DrawnConnector():
            return next(c.label for c in harness.connectors if any(p.id == stand.id for p in c.places))
        case _:
            return None
