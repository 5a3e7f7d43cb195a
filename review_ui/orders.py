"""What the page may ask for, in ids and scan pixels; ``scribe`` writes it as edits."""

from __future__ import annotations

from typing import Annotated, Literal, Self

from pydantic import BaseModel, ConfigDict, Field, TypeAdapter, model_validator

from digitize.ink.state import SYMBOL_KINDS

Id = Annotated[str, Field(min_length=1, max_length=200)]
Printed = Annotated[str, Field(min_length=1, max_length=200, pattern=r"^\S(.*\S)?$")]
Ids = Annotated[tuple[Id, ...], Field(min_length=1, max_length=500)]
Pixel = tuple[Annotated[float, Field(ge=-1e6, le=1e6)], Annotated[float, Field(ge=-1e6, le=1e6)]]


PART_KINDS = tuple(k for k in SYMBOL_KINDS if k not in {"grommet", "ground"})
"""What can be boxed by hand."""


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


class LineName(_Order):
    """The line of a wire, somewhere between its ends."""

    line: Id


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
    """No join at this splice, no such wire, or no such part; a symbol that was taught (by its lesson) counts no longer."""

    do: Literal["unsplice", "delete", "remove", "forget"]
    target: Id


class OrderWire(_Order):
    """A wire drawn by hand: each end on a terminal, on another wire's end, on another wire's line, or loose."""

    do: Literal["wire"]
    sheet: Id
    points: Annotated[tuple[Pixel, ...], Field(min_length=2, max_length=500)]
    ends: tuple[HookName | EndName | LineName | None, HookName | EndName | LineName | None]
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


class OrderPart(_Order):
    """A symbol that was missed: ``box`` is [x0, y0, x1, y1]; for a connector the name is its id and must be given.

    ``teach``: other drawings of the same symbol are found from now on, on all sheets.
    """

    do: Literal["part"]
    sheet: Id
    box: tuple[Pixel, Pixel]
    kind: Literal[PART_KINDS]  # type: ignore[valid-type]
    name: Printed | None = None
    teach: bool = False

    @model_validator(mode="after")
    def _box_and_name_make_sense(self) -> Self:
        (x0, y0), (x1, y1) = self.box
        if x1 - x0 < 2 or y1 - y0 < 2:
            raise ValueError("the box has no extent: give its top left and its bottom right corner")
        if self.kind == "connector" and self.name is None:
            raise ValueError("a connector needs its id as name")
        return self


class OrderMerge(_Order):
    """Two parts are one; ``target`` stays."""

    do: Literal["merge_parts"]
    target: Id
    other: Id


class OrderSplit(_Order):
    """What lies in ``box`` (top left and bottom right corner) of the part ``target`` is a part of its own."""

    do: Literal["split_part"]
    target: Id
    sheet: Id
    box: tuple[Pixel, Pixel]
    kind: Literal[tuple(k for k in PART_KINDS if k != "connector")]  # type: ignore[valid-type]
    name: Printed | None = None


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


class OrderZoneLine(_Order):
    """A line of the zone grid is moved: ``line`` counts from 0 at the left or the top; ``at`` is a point on it."""

    do: Literal["zone_line"]
    sheet: Id
    axis: Literal["across", "down"]
    line: Annotated[int, Field(ge=0, le=200)]
    at: Pixel


class OrderConventions(_Order):
    """The manual's conventions, corrected: the whole text as TOML."""

    do: Literal["conventions"]
    text: Annotated[str, Field(max_length=100_000)]


Order = Annotated[
    OrderCode | OrderConnector | OrderName | OrderKind | OrderZone | OrderConfirm | OrderUnreadable | OrderJoin | OrderSplice
    | OrderAt | OrderPlain | OrderWire | OrderMoveEnd | OrderPartner | OrderPart | OrderMerge | OrderSplit | OrderAccept | OrderSheet
    | OrderZoneLine | OrderConventions,
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


class Handed(_Order):
    """A file that was handed in, by name."""

    name: Id


class ReadOrder(_Order):
    """Read the pages that wait; ``rights``: the user's note for them, None to leave it as it is."""

    rights: Annotated[str, Field(max_length=500)] | None = None


class Draft(_Order):
    """Conventions that are being typed."""

    text: Annotated[str, Field(max_length=100_000)]


HANDED: TypeAdapter[Handed] = TypeAdapter(Handed)
READ: TypeAdapter[ReadOrder] = TypeAdapter(ReadOrder)
DRAFT: TypeAdapter[Draft] = TypeAdapter(Draft)
