"""How an edit names what it is about: by id, and by where it stood and what it said (see ``edits_find``)."""

from __future__ import annotations

from dataclasses import dataclass

from digitize.harness.place import Point


@dataclass(frozen=True, slots=True)
class Anchor:
    """Where and what an edit's object was when the edit was made.

    Attributes:
        kind: one of ``edits_find.KINDS``.
        sheet: id of the sheet it was seen on.
        at: a point of it, mm on that sheet.
        seen: what it said (a code, a label, a name), None when it said nothing.
    """

    kind: str
    sheet: str
    at: Point
    seen: str | None = None


@dataclass(frozen=True, slots=True)
class EndRef:
    """One end (0 or 1) of a wire; the anchor's point is where that end lies."""

    wire: str
    end: int
    anchor: Anchor


@dataclass(frozen=True, slots=True)
class Hook:
    """What a wire's end is put on: a component, an oval, a splice or a ground, and the terminal on it."""

    node: str
    terminal: str
    anchor: Anchor
