"""What the page may ask for, and the edits that come of it. The page speaks in ids and scan pixels, edits in sheet mm."""

from __future__ import annotations

from collections.abc import Callable
from typing import Annotated, Literal
from uuid import uuid4

from pydantic import BaseModel, ConfigDict, Field, TypeAdapter

from digitize.errors import NotFound
from digitize.harness.edits import (
    AcceptFinding,
    AddSplice,
    AddWire,
    Anchor,
    Confirm,
    Cut,
    DeleteWire,
    Edit,
    EndRef,
    Hook,
    JoinEnds,
    MarkSheet,
    MoveEnd,
    NotReadable,
    RemoveSplice,
    Rename,
    SetCode,
    SetConnector,
    SetKind,
    SetPartner,
    SetZone,
)
from digitize.harness.edits_find import Stand, length, look_up, point_along
from digitize.harness.model import Connector, Harness, Wire, WireCode
from digitize.harness.place import Box, Point
from digitize.ink.state import SYMBOL_KINDS
from digitize.legend.codes import parse_code
from digitize.legend.conventions import Conventions
from digitize.sheet.state import SheetFacts
from review_ui.drawing import Pen

Id = Annotated[str, Field(min_length=1, max_length=200)]
Printed = Annotated[str, Field(min_length=1, max_length=200, pattern=r"^\S(.*\S)?$")]
Ids = Annotated[tuple[Id, ...], Field(min_length=1, max_length=500)]
Pixel = tuple[Annotated[float, Field(ge=-1e6, le=1e6)], Annotated[float, Field(ge=-1e6, le=1e6)]]


class _Order(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)


class EndName(_Order):
    """One end (0 or 1) of a wire."""

    wire: Id
    end: Literal[0, 1]


class HookName(_Order):
    """A terminal of an object."""

    node: Id
    terminal: Id


class OrderCode(_Order):
    """A wire code, typed or chosen; None: none is printed."""

    do: Literal["code"]
    targets: Ids
    code: Printed | None


class OrderConnector(_Order):
    """A connector id for drawn connectors."""

    do: Literal["connector"]
    targets: Ids
    label: Printed


class OrderName(_Order):
    """A name for components, grounds, grommets."""

    do: Literal["name"]
    targets: Ids
    name: Printed


class OrderKind(_Order):
    """A kind of part, one of ``ink.state.SYMBOL_KINDS``."""

    do: Literal["kind"]
    target: Id
    kind: Literal[SYMBOL_KINDS]  # type: ignore[valid-type]


class OrderZone(_Order):
    """A zone."""

    do: Literal["zone"]
    target: Id
    zone: Annotated[str, Field(pattern=r"^[A-Za-z0-9]{1,6}$")]


class OrderConfirm(_Order):
    """What is believed is right."""

    do: Literal["confirm"]
    targets: Ids
    aspect: Literal["all", "code", "ends"] = "all"


class OrderUnreadable(_Order):
    """Nobody can read it."""

    do: Literal["unreadable"]
    targets: Ids


class OrderJoin(_Order):
    """Two wire ends are one conductor."""

    do: Literal["join"]
    first: EndName
    second: EndName


class OrderSplice(_Order):
    """Wires meet at a point."""

    do: Literal["splice"]
    sheet: Id
    at: Pixel
    wires: Annotated[tuple[Id, ...], Field(max_length=50)] = ()


class OrderAt(_Order):
    """Cut a wire at a point."""

    do: Literal["cut"]
    target: Id
    sheet: Id
    at: Pixel


class OrderPlain(_Order):
    """No join at this splice, or no such wire."""

    do: Literal["unsplice", "delete"]
    target: Id


class OrderWire(_Order):
    """A wire drawn by hand."""

    do: Literal["wire"]
    sheet: Id
    points: Annotated[tuple[Pixel, ...], Field(min_length=2, max_length=500)]
    ends: tuple[HookName | None, HookName | None]
    code: Printed | None = None


class OrderMoveEnd(_Order):
    """An end of a wire to another terminal, or loose at a point."""

    do: Literal["move_end"]
    target: Id
    end: Literal[0, 1]
    sheet: Id
    to: HookName | None
    at: Pixel


class OrderPartner(_Order):
    """The page edge at which a page edge goes on; None: at none."""

    do: Literal["partner"]
    target: Id
    partner: Id | None


class OrderAccept(_Order):
    """A finding stays as it is, for a reason."""

    do: Literal["accept"]
    target: Id
    reason: Printed


class OrderSheet(_Order):
    """A sheet is done, or open again."""

    do: Literal["sheet"]
    target: Id
    done: bool


Order = Annotated[
    OrderCode | OrderConnector | OrderName | OrderKind | OrderZone | OrderConfirm | OrderUnreadable | OrderJoin | OrderSplice
    | OrderAt | OrderPlain | OrderWire | OrderMoveEnd | OrderPartner | OrderAccept | OrderSheet,
    Field(discriminator="do"),
]  # fmt: skip


class Request(_Order):
    """One decision: an order made on what the page knew at ``revision``."""

    revision: Annotated[int, Field(ge=0)]
    order: Order


class Move(_Order):
    """Undo or redo of the decision that the page shows as the next."""

    group: Annotated[int, Field(ge=1)]


REQUEST: TypeAdapter[Request] = TypeAdapter(Request)
MOVE: TypeAdapter[Move] = TypeAdapter(Move)


class Scribe:
    """Writes orders as edits: looks the objects up, anchors them, takes codes apart by the conventions."""

    def __init__(self, harness: Harness, conventions: Conventions, facts: Callable[[str], SheetFacts]) -> None:
        """``facts`` gives a sheet's facts or raises NotFound."""
        self._harness = harness
        self._conventions = conventions
        self._facts = facts

    def edits(self, order: Order) -> list[Edit]:
        """The edits for an order. Raises NotFound when it names something that is not in the harness."""
        match order:
            case OrderCode():
                parsed = None if order.code is None else parse_code(order.code, self._conventions)
                return [
                    SetCode(target=s.id, anchor=s.anchor(), code=order.code, parsed=parsed)
                    for s in self._all(order.targets)
                ]
            case OrderConnector():
                return [
                    SetConnector(target=s.id, anchor=s.anchor(), label=order.label) for s in self._all(order.targets)
                ]
            case OrderName():
                return [Rename(target=s.id, anchor=s.anchor(), name=order.name) for s in self._all(order.targets)]
            case OrderConfirm():
                return [
                    Confirm(target=s.id, anchor=s.anchor(), aspect=order.aspect) for s in self._owners(order.targets)
                ]
            case OrderUnreadable():
                return [NotReadable(target=s.id, anchor=s.anchor()) for s in self._owners(order.targets)]
            case OrderJoin():
                return [self._join(order)]
            case OrderSplice():
                at = self._mm(order.sheet, order.at)
                return [AddSplice(target=_new("s"), anchor=Anchor("splice", order.sheet, at), wires=order.wires)]
            case OrderAt():
                stand = self._one(order.target)
                at = self._mm(order.sheet, order.at)
                return [Cut(target=stand.id, anchor=Anchor("wire", order.sheet, at, stand.says))]
            case OrderWire():
                return [self._wire(order)]
            case _:
                return [self._on_one(order)]

    def _on_one(
        self, order: OrderKind | OrderZone | OrderPlain | OrderMoveEnd | OrderPartner | OrderAccept | OrderSheet
    ) -> Edit:
        stand = self._one(order.target)
        anchor = stand.anchor()
        match order:
            case OrderKind():
                return SetKind(target=stand.id, anchor=anchor, kind=order.kind)
            case OrderZone():
                return SetZone(target=stand.id, anchor=anchor, zone=order.zone.upper())
            case OrderPlain(do="unsplice"):
                return RemoveSplice(target=stand.id, anchor=anchor)
            case OrderPlain():
                return DeleteWire(target=stand.id, anchor=anchor)
            case OrderMoveEnd():
                hook = None if order.to is None else self._hook(order.to)
                return MoveEnd(
                    target=stand.id, anchor=anchor, end=order.end, to=hook, at=self._mm(order.sheet, order.at)
                )
            case OrderPartner():
                far = None if order.partner is None else self._one(order.partner)
                return SetPartner(
                    target=stand.id,
                    anchor=anchor,
                    partner=far.id if far else None,
                    partner_anchor=far.anchor() if far else None,
                )
            case OrderAccept():
                return AcceptFinding(target=stand.id, anchor=anchor, reason=order.reason)
            case OrderSheet():
                return MarkSheet(target=stand.id, anchor=anchor, done=order.done)

    def _join(self, order: OrderJoin) -> JoinEnds:
        first, second = self._end(order.first), self._end(order.second)
        stand = self._one(order.first.wire)
        return JoinEnds(target=stand.id, anchor=stand.anchor(), first=first, second=second)

    def _wire(self, order: OrderWire) -> AddWire:
        pen = Pen(self._facts(order.sheet))
        points = tuple(pen.back(p) for p in order.points)
        ends = tuple(None if e is None else self._hook(e) for e in order.ends)
        parsed: WireCode | None = None if order.code is None else parse_code(order.code, self._conventions)
        middle = point_along(points, 0.5) if length(points) else points[0]
        return AddWire(
            target=_new("w"), anchor=Anchor("wire", order.sheet, middle, order.code), points=points,
            ends=(ends[0], ends[1]), code=order.code, parsed=parsed,
        )  # fmt: skip

    def _end(self, name: EndName) -> EndRef:
        stand = self._one(name.wire)
        if not isinstance(stand.thing, Wire):
            raise NotFound(f"{name.wire} is no wire.", "Point at the end of a wire.")
        end = stand.thing.ends[name.end]
        return EndRef(name.wire, name.end, Anchor("wire", end.sheet, end.at, stand.says))

    def _hook(self, name: HookName) -> Hook:
        stand = self._one(name.node)
        return Hook(name.node, name.terminal, stand.anchor())

    def _mm(self, sheet: str, at: tuple[float, float]) -> Point:
        return Pen(self._facts(sheet)).back(at)

    def _all(self, targets: tuple[str, ...]) -> list[Stand]:
        return [self._one(t) for t in targets]

    def _owners(self, targets: tuple[str, ...]) -> list[Stand]:
        """The objects, each once; for ovals of one connector the connector, which is judged as a whole."""
        owner = {p.id: c for c in self._harness.connectors for p in c.places}
        found: dict[str, Stand] = {}
        for target in targets:
            stand = self._one(target)
            if target in owner:
                whole: Connector = owner[target]
                boxes: tuple[tuple[str, Box], ...] = tuple((p.place.sheet, p.place.box) for p in whole.places)
                stand = Stand(whole.id, "connector", whole, whole.label.value, boxes=boxes)
            found.setdefault(stand.id, stand)
        return list(found.values())

    def _one(self, target: str) -> Stand:
        stand = look_up(self._harness, target)
        if stand is None:
            raise NotFound(
                f"There is nothing with the id {target} in the manual.",
                "It may have been removed; look at the sheet again.",
            )
        return stand


def _new(kind: str) -> str:
    return f"hand-{kind}-{uuid4().hex[:8]}"
