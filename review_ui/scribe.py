"""Writes orders as edits: looks the objects up, anchors them, takes codes apart by the conventions."""

from __future__ import annotations

import math
from collections.abc import Callable
from uuid import uuid4

from digitize.errors import NotFound
from digitize.harness.edits import (
    CONVENTIONS,
    AcceptFinding,
    AddConnector,
    AddPart,
    AddSplice,
    AddWire,
    Anchor,
    Confirm,
    Cut,
    DeleteWire,
    Edit,
    EditRefused,
    EndRef,
    ForgetSymbol,
    Hook,
    JoinEnds,
    MarkSheet,
    MergeParts,
    MoveEnd,
    NotReadable,
    RemovePart,
    RemoveSplice,
    Rename,
    SetCode,
    SetConnector,
    SetConventions,
    SetGrid,
    SetKind,
    SetPartner,
    SetZone,
    SplitPart,
)
from digitize.harness.edits_find import REACH, Stand, look_up, nearest, point_along, stands
from digitize.harness.model import Connector, Harness, Terminal, Wire, WireCode
from digitize.harness.place import Box, Point, length
from digitize.legend.codes import parse_code
from digitize.legend.conventions import Conventions, conventions_from
from digitize.sheet.state import SheetFacts
from review_ui.drawing import Pen
from review_ui.orders import (
    EndName,
    HookName,
    LineName,
    Order,
    OrderAccept,
    OrderAt,
    OrderCode,
    OrderConfirm,
    OrderConnector,
    OrderConventions,
    OrderJoin,
    OrderKind,
    OrderMerge,
    OrderMoveEnd,
    OrderName,
    OrderPart,
    OrderPartner,
    OrderPlain,
    OrderSheet,
    OrderSplice,
    OrderSplit,
    OrderUnreadable,
    OrderWire,
    OrderZone,
    OrderZoneLine,
)
from review_ui.surroundings import foot_of


class Scribe:
    """Writes orders as edits: looks the objects up, anchors them, takes codes apart by the conventions."""

    def __init__(self, harness: Harness, conventions: Conventions, facts: Callable[[str], SheetFacts]) -> None:
        """``facts`` gives a sheet's facts or raises NotFound."""
        self._harness = harness
        self._conventions = conventions
        self._facts = facts

    def edits(self, order: Order) -> list[Edit]:
        """The edits for an order. Raises NotFound when it names something that is not there, ConventionsWrong."""
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
                return [self._splice(order)]
            case OrderAt():
                stand = self._one(order.target)
                at = self._mm(order.sheet, order.at)
                return [Cut(target=stand.id, anchor=Anchor("wire", order.sheet, at, stand.says))]
            case OrderWire():
                return self._wire(order)
            case OrderPart():
                return self._part(order)
            case OrderMerge():
                one, two = self._one(order.target), self._one(order.other)
                return [MergeParts(target=one.id, anchor=one.anchor(), other=two.id, other_anchor=two.anchor())]
            case OrderSplit():
                return [self._split(order)]
            case OrderPlain(do="forget"):
                return [ForgetSymbol(target=order.target, anchor=Anchor("sheet", "", (0.0, 0.0)))]
            case OrderConventions():
                conventions_from(order.text)  # refused here when they are wrong, with every fault
                return [SetConventions(target=CONVENTIONS, anchor=Anchor("sheet", "", (0.0, 0.0)), text=order.text)]
            case OrderZoneLine():
                return [self._zone_line(order)]
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
            case OrderPlain(do="remove"):
                # a connector without letters has the id of its only drawing: the drawing is meant
                drawn = next((s for s in stands(self._harness, "drawn_connector") if s.id == order.target), stand)
                return RemovePart(target=drawn.id, anchor=drawn.anchor())
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

    def _splice(self, order: OrderSplice) -> Edit:
        """A join at a point; where only two loose ends lie, they are one conductor and no splice is needed."""
        at = self._mm(order.sheet, order.at)
        near = [
            w for w in self._harness.wires
            if any(p.sheet == order.sheet and nearest(p.points, at)[0] <= REACH for p in w.paths) and (not order.wires or w.id in order.wires)
        ]  # fmt: skip
        loose = [
            (w, i)
            for w in near
            for i, e in enumerate(w.ends)
            if e.node is None and e.sheet == order.sheet and math.dist(e.at, at) <= REACH
        ]
        if len(near) == 2 and len(loose) == 2 and loose[0][0].id != loose[1][0].id:
            first, second = (self._end(EndName(wire=w.id, end=1 if i else 0)) for w, i in loose)
            return JoinEnds(target=first.wire, anchor=self._one(first.wire).anchor(), first=first, second=second)
        return AddSplice(target=_new("s"), anchor=Anchor("splice", order.sheet, at), wires=order.wires)

    def _wire(self, order: OrderWire) -> list[Edit]:
        """The wire, and what it is joined to. A line between two loose ends alone is a join of the two."""
        one, two = order.ends
        if isinstance(one, EndName) and isinstance(two, EndName):
            return [self._join(OrderJoin(do="join", first=one, second=two))]
        pen = Pen(self._facts(order.sheet))
        points = tuple(pen.back(p) for p in order.points)
        hooks = tuple(self._hook(e) if isinstance(e, HookName) else None for e in order.ends)
        parsed: WireCode | None = None if order.code is None else parse_code(order.code, self._conventions)
        middle = point_along(points, 0.5) if length(points) else points[0]
        wire = AddWire(
            target=_new("w"), anchor=Anchor("wire", order.sheet, middle, order.code), points=points,
            ends=(hooks[0], hooks[1]), code=order.code, parsed=parsed,
        )  # fmt: skip
        edits: list[Edit] = [wire]
        touched = list(enumerate(zip(order.ends, (points[0], points[-1]), strict=True)))
        # splices first: a join with another wire's end takes the new wire's id away
        for n, (end, at) in sorted(touched, key=lambda t: isinstance(t[1][0], EndName)):
            spot = Anchor("wire", order.sheet, at, order.code)
            if isinstance(end, EndName):
                old = self._end(end)
                edits.append(
                    JoinEnds(
                        target=old.wire,
                        anchor=self._one(end.wire).anchor(),
                        first=old,
                        second=EndRef(wire.target, n, spot),
                    )
                )
            elif isinstance(end, LineName):
                met = (self._one(end.line).id, wire.target)
                edits.append(
                    AddSplice(target=_new("s"), anchor=Anchor("splice", order.sheet, at), wires=met, reach=REACH)
                )
        return edits

    def _part(self, order: OrderPart) -> list[Edit]:
        """A boxed symbol. Loose wire ends in the box or close to it become its terminals, numbered as they stand."""
        pen = Pen(self._facts(order.sheet))
        one, two = pen.back(order.box[0]), pen.back(order.box[1])
        box = Box.around([one, two])
        if order.kind == "connector":
            assert order.name is not None
            spot = Anchor("drawn_connector", order.sheet, box.centre, order.name)
            return [AddConnector(target=_new("c"), anchor=spot, label=order.name, box=box)]
        loose = [
            (w, i, foot_of(w, i)) for w in self._harness.wires for i, e in enumerate(w.ends)
            if e.node is None and e.sheet == order.sheet and box.holds(e.at, REACH)
        ]  # fmt: skip
        terminals = tuple(Terminal(str(n), at) for n, (_, _, at) in enumerate(loose, 1))
        spot = Anchor("component", order.sheet, box.centre, order.name)
        part = AddPart(target=_new("p"), anchor=spot, kind=order.kind, name=order.name, box=box, terminals=terminals)
        moves = [
            MoveEnd(target=w.id, anchor=self._one(w.id).anchor(), end=i, to=Hook(part.target, t.id, spot), at=t.at)
            for (w, i, _), t in zip(loose, terminals, strict=True)
        ]
        return [part, *moves]

    def _split(self, order: OrderSplit) -> SplitPart:
        stand = self._one(order.target)
        box = Box.around([self._mm(order.sheet, corner) for corner in order.box])
        anchor = stand.anchor()
        if anchor.sheet != order.sheet:
            raise EditRefused("The box lies on another sheet than the part.", "Box it on the part's own sheet.")
        return SplitPart(target=stand.id, anchor=anchor, part=_new("p"), box=box, kind=order.kind, name=order.name)

    def _zone_line(self, order: OrderZoneLine) -> SetGrid:
        """The grid with the line at its new place. Raises EditRefused when it would pass its neighbour."""
        stand = self._one(order.sheet)
        grid = self._facts(order.sheet).zones
        bands, word = (grid.columns, "columns") if order.axis == "across" else (grid.rows, "rows")
        at = self._mm(order.sheet, order.at)[0 if order.axis == "across" else 1]
        try:
            moved = grid.moved(order.axis, order.line, round(at, 2))
        except ValueError as fault:
            raise EditRefused(
                f"The line cannot stand there: {fault}.", "Set it between the two lines beside it."
            ) from fault
        beside = [b.label for b in bands[max(0, order.line - 1) : order.line + 1]]
        line = f"between {word} {' and '.join(beside)}" if len(beside) == 2 else f"at the outer side of {beside[0]}"
        return SetGrid(target=stand.id, anchor=stand.anchor(), grid=moved, line=line)

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
