"""What a person can say at the review desk. Every edit is an event: frozen, ordered, kept for ever, replayed.

An edit names its object twice: by ``target`` (its id) and by an ``Anchor`` (where it stood and what it said), so that
it finds its object again after a new digitization gave other ids. See ``edits_find`` for how, ``edits_apply`` for what
each edit does, ``edits_check`` for what must hold afterwards.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from digitize.errors import DigitizeError
from digitize.harness.edits_anchor import Anchor, EndRef, Hook
from digitize.harness.edits_manual import CONVENTIONS, SetConventions, SetGrid
from digitize.harness.grid import ZoneGrid
from digitize.harness.model import Harness, Terminal, WireCode
from digitize.harness.place import Box, Point, Polyline

__all__ = [
    "CONVENTIONS", "AcceptFinding", "AddConnector", "AddPart", "AddSplice", "AddWire", "Anchor", "Confirm",
    "Cut", "DeleteWire", "Edit", "EditRefused", "EditStale", "Effect", "EndRef", "ForgetSymbol", "Hook",
    "JoinEnds", "MarkSheet", "MergeParts", "MoveEnd", "NotReadable", "Recorded", "RemovePart",
    "RemoveSplice", "Rename", "Reviewed", "SetCode", "SetConnector", "SetConventions", "SetGrid", "SetKind",
    "SetPartner", "SetZone", "SplitPart", "TeachSymbol",
]  # fmt: skip


class EditStale(DigitizeError):
    """Somebody else changed the same object since this edit's ground was read; ``mine`` and ``theirs`` say both."""

    def __init__(self, mine: str, theirs: str) -> None:
        super().__init__(
            f"The object changed while you worked on it. Yours: {mine}. Now: {theirs}.",
            "Look at the new state, then make your edit again if it still holds.",
        )
        self.mine = mine
        self.theirs = theirs


class EditRefused(DigitizeError):
    """The edit cannot be done on the harness as it is now."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SetCode:
    """The code printed on a wire; None when none is printed. ``parsed`` is the same taken apart by the conventions."""

    target: str
    anchor: Anchor
    code: str | None
    parsed: WireCode | None = None
    do: Literal["set_code"] = "set_code"


@dataclass(frozen=True, slots=True, kw_only=True)
class SetConnector:
    """The id printed in one oval. The oval goes to the connector of that label; a new one is made when there is none."""

    target: str
    anchor: Anchor
    label: str
    do: Literal["set_connector"] = "set_connector"


@dataclass(frozen=True, slots=True, kw_only=True)
class Rename:
    """The printed name of a component, or the label of a ground, grommet or whole connector."""

    target: str
    anchor: Anchor
    name: str
    do: Literal["rename"] = "rename"


@dataclass(frozen=True, slots=True, kw_only=True)
class SetKind:
    """What kind of part a component's symbol stands for."""

    target: str
    anchor: Anchor
    kind: str
    do: Literal["set_kind"] = "set_kind"


@dataclass(frozen=True, slots=True, kw_only=True)
class SetZone:
    """The map reference of one component, oval, splice or ground."""

    target: str
    anchor: Anchor
    zone: str
    do: Literal["set_zone"] = "set_zone"


@dataclass(frozen=True, slots=True, kw_only=True)
class JoinEnds:
    """Two wire ends are one conductor: the two wires become one, which keeps the id of ``first``."""

    target: str
    anchor: Anchor
    first: EndRef
    second: EndRef
    do: Literal["join_ends"] = "join_ends"


@dataclass(frozen=True, slots=True, kw_only=True)
class AddSplice:
    """A missing join: the wires that pass or end within ``reach`` mm of the anchor's point meet there.

    ``target`` is the id of the new splice; ``wires`` narrows it to some wires (empty: all within reach).
    """

    target: str
    anchor: Anchor
    wires: tuple[str, ...] = ()
    reach: float = 1.5
    do: Literal["add_splice"] = "add_splice"


@dataclass(frozen=True, slots=True, kw_only=True)
class RemoveSplice:
    """Not a join: the wires at this splice pass each other. Ends that point the same way go on into each other."""

    target: str
    anchor: Anchor
    do: Literal["remove_splice"] = "remove_splice"


@dataclass(frozen=True, slots=True, kw_only=True)
class Cut:
    """The wire is not one conductor: it is cut at the anchor's point, both new ends dangle."""

    target: str
    anchor: Anchor
    do: Literal["cut"] = "cut"


@dataclass(frozen=True, slots=True, kw_only=True)
class DeleteWire:
    """No such wire is drawn."""

    target: str
    anchor: Anchor
    do: Literal["delete_wire"] = "delete_wire"


@dataclass(frozen=True, slots=True, kw_only=True)
class AddWire:
    """A wire that was missed. ``target`` is its new id; ``points`` in mm on the anchor's sheet; a None end dangles."""

    target: str
    anchor: Anchor
    points: Polyline
    ends: tuple[Hook | None, Hook | None]
    code: str | None = None
    parsed: WireCode | None = None
    do: Literal["add_wire"] = "add_wire"


@dataclass(frozen=True, slots=True, kw_only=True)
class MoveEnd:
    """One end of a wire belongs on another terminal (``to``), or dangles at ``at`` (``to`` None)."""

    target: str
    anchor: Anchor
    end: int
    to: Hook | None
    at: Point
    do: Literal["move_end"] = "move_end"


@dataclass(frozen=True, slots=True, kw_only=True)
class SetPartner:
    """The page-edge point where ``target`` (a link) goes on: that of the link ``partner``; None parts the two."""

    target: str
    anchor: Anchor
    partner: str | None
    partner_anchor: Anchor | None = None
    do: Literal["set_partner"] = "set_partner"


@dataclass(frozen=True, slots=True, kw_only=True)
class AddPart:
    """A component that was missed. ``target`` is its new id; ``box`` and the terminals in mm on the anchor's sheet."""

    target: str
    anchor: Anchor
    kind: str
    name: str | None
    box: Box
    terminals: tuple[Terminal, ...] = ()
    do: Literal["add_part"] = "add_part"


@dataclass(frozen=True, slots=True, kw_only=True)
class TeachSymbol:
    """A symbol shown once: it stands in ``box``, and other drawings of it are found when pages are read.

    ``target`` is the id of the lesson and of the part made here; ``heading`` the side it points to, if that matters;
    ``picture`` the ink in ``box`` as ``ink.taught`` wrote it. Only the names of terminals and their places count.
    """

    target: str
    anchor: Anchor
    kind: str
    name: str | None
    box: Box
    terminals: tuple[Terminal, ...] = ()
    heading: str | None = None
    picture: str = ""
    do: Literal["teach_symbol"] = "teach_symbol"


@dataclass(frozen=True, slots=True, kw_only=True)
class ForgetSymbol:
    """The lesson ``target`` no longer counts when pages are read; the part that it was shown on stays."""

    target: str
    anchor: Anchor
    do: Literal["forget_symbol"] = "forget_symbol"


@dataclass(frozen=True, slots=True, kw_only=True)
class AddConnector:
    """A drawn connector that was missed. ``target`` is the id of the new oval; wires that pass ``box`` are cut by it."""

    target: str
    anchor: Anchor
    label: str
    box: Box
    do: Literal["add_connector"] = "add_connector"


@dataclass(frozen=True, slots=True, kw_only=True)
class RemovePart:
    """No such component, oval or ground is drawn. Wires that an oval had cut run through again; other ends dangle."""

    target: str
    anchor: Anchor
    do: Literal["remove_part"] = "remove_part"


@dataclass(frozen=True, slots=True, kw_only=True)
class MergeParts:
    """Two components that were read are one part: ``other`` goes up in ``target``, with its terminals and its wires."""

    target: str
    anchor: Anchor
    other: str
    other_anchor: Anchor
    do: Literal["merge_parts"] = "merge_parts"


@dataclass(frozen=True, slots=True, kw_only=True)
class SplitPart:
    """One component that was read is two: what lies in ``box`` (mm on the anchor's sheet) becomes a part of its own.

    ``part`` is the id of the new component; terminals in ``box`` or within 1.5 mm of it go over to it with their wires.
    """

    target: str
    anchor: Anchor
    part: str
    box: Box
    kind: str
    name: str | None
    do: Literal["split_part"] = "split_part"


@dataclass(frozen=True, slots=True, kw_only=True)
class AcceptFinding:
    """The finding is known and left as it is, for this reason."""

    target: str
    anchor: Anchor
    reason: str
    do: Literal["accept_finding"] = "accept_finding"


@dataclass(frozen=True, slots=True, kw_only=True)
class Confirm:
    """What the program believes about this object (its code, label, name, join or ends) is right.

    ``aspect`` narrows it for a wire: ``code`` or ``ends``; ``all`` is both.
    """

    target: str
    anchor: Anchor
    aspect: Literal["all", "code", "ends"] = "all"
    do: Literal["confirm"] = "confirm"


@dataclass(frozen=True, slots=True, kw_only=True)
class NotReadable:
    """Nobody can read what is printed there; the program stops asking and claims nothing."""

    target: str
    anchor: Anchor
    do: Literal["not_readable"] = "not_readable"


@dataclass(frozen=True, slots=True, kw_only=True)
class MarkSheet:
    """A person went through the whole sheet (``done``), or takes that back."""

    target: str
    anchor: Anchor
    done: bool
    do: Literal["mark_sheet"] = "mark_sheet"


Edit = (
    SetCode | SetConnector | Rename | SetKind | SetZone | JoinEnds | AddSplice | RemoveSplice | Cut | DeleteWire
    | AddWire | MoveEnd | SetPartner | AddPart | TeachSymbol | ForgetSymbol | AddConnector | RemovePart | MergeParts
    | SplitPart | AcceptFinding | Confirm | NotReadable | MarkSheet | SetGrid | SetConventions
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Effect:
    """What an edit did.

    Attributes:
        status: ``applied``; ``orphaned`` when its object is gone; ``refused`` when its object is there but the edit
            makes no sense on it now (``says`` tells why). The last two leave the harness as it was.
        says: one line for a person.
        touched: ids of the objects it changed, removed or made.
        before, after: the value it changed, as text; None when it is not about a value.
    """

    status: str
    says: str
    touched: tuple[str, ...] = ()
    before: str | None = None
    after: str | None = None


@dataclass(frozen=True, slots=True)
class Recorded:
    """An edit as it stands in the book: who made it and when (ISO 8601, UTC), and whether it counts.

    Attributes:
        number: order in which edits were made, from 1.
        group: edits of one decision have one group; undo takes them back together.
        revision: the revision of the manual on which it was made.
        state: ``active``; ``undone`` (redo brings it back); ``dropped`` (undone, then something else was done).
    """

    number: int
    group: int
    who: str
    when: str
    revision: int
    state: str
    edit: Edit


@dataclass(frozen=True, slots=True)
class Reviewed:
    """A harness with a person's edits on it; ``effects`` in the order of the active edits replayed.

    Attributes:
        done: ids of the sheets that a person went through.
        grids: zone grids as a person laid them, by sheet.
    """

    harness: Harness
    effects: tuple[tuple[Recorded, Effect], ...] = ()
    done: frozenset[str] = field(default_factory=frozenset)
    grids: dict[str, ZoneGrid] = field(default_factory=dict)

    @property
    def orphans(self) -> tuple[tuple[Recorded, Effect], ...]:
        """The edits that did not find their object again, or no longer fit it."""
        return tuple((r, e) for r, e in self.effects if e.status != "applied")

    @property
    def conventions(self) -> tuple[int, str] | None:
        """(number of the edit, TOML) of the conventions as a person last corrected them; None when nobody did."""
        for recorded, _ in reversed(self.effects):
            if isinstance(recorded.edit, SetConventions):
                return recorded.number, recorded.edit.text
        return None
