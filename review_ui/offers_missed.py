"""Offers for what was missed altogether: a code without a line, a bare half of a connector, a part under its name."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from typing import Literal

from digitize.harness.edits_find import nearest
from digitize.harness.model import Component, DrawnConnector, Finding, Harness, PrintedText, Terminal, Wire
from digitize.harness.place import Box, Point
from digitize.wiring.kinds import kind_told
from review_ui.orders import (
    EndName,
    HookName,
    LineName,
    Order,
    OrderCode,
    OrderJoin,
    OrderMoveEnd,
    OrderPart,
    OrderPlain,
    OrderWire,
)
from review_ui.surroundings import Surroundings, Target, foot_of

BESIDE = 8.0
"""How far (mm) from a code a line may run to be offered as its wire."""

PART_REACH = 14.0
"""How far (mm) from a missed part its name is looked for."""

FROM_CODE = 40.0
"""How far (mm) from a code without a line it is looked for what the line joins."""

FROM_HALF = 60.0
"""How far (mm) from the bare half of a connector it is looked for where its line ends."""

Pixels = Callable[[str, Point], tuple[float, float]]
"""Sheet and mm → scan px. Raises NotFound for a sheet that was not read."""


@dataclass(frozen=True, slots=True)
class Offer:
    """One numbered answer: what it says, and the order that carries it out."""

    says: str
    order: Order


class Missed:
    """One harness with what lies around everything on it; offers for what is not there."""

    def __init__(self, harness: Harness, pixels: Pixels) -> None:
        """Sort the harness by ids and by sheets."""
        self.pixels = pixels
        self.around = Surroundings(harness)
        self.wires = {w.id: w for w in harness.wires}
        self.parts = {c.id: c for c in harness.components}
        self.ovals = {p.id: (c.label.value, p) for c in harness.connectors for p in c.places}
        self.grounds = {g.id: g for g in harness.grounds}
        self._components = harness.components

    def lettering(self, finding: Finding) -> Iterator[Offer]:
        """A code without a wire: the line runs up to the lettering at both ends of it, or past it."""
        place = finding.places[0]
        text = _at(self.around.texts[place.sheet], place.box)
        code = finding.subject.rpartition(" on ")[0] if text is None else text.text
        box = place.box
        wide = box.width >= box.height
        (x, y) = box.centre
        sides = (((box.x0, y), (-1.0, 0.0)), ((box.x1, y), (1.0, 0.0)))
        if not wide:
            sides = (((x, box.y0), (0.0, -1.0)), ((x, box.y1), (0.0, 1.0)))
        ends = [
            [
                t
                for t in self.around.targets(place.sheet, at, heading, code=code, reach=FROM_CODE)
                if t.kind != "line" and not self._other_code(t, code)
            ][:3]
            for at, heading in sides
        ]
        pairs = sorted(
            ((one, two) for one in ends[0] for two in ends[1] if one.id != two.id),
            key=lambda p: -p[0].weight * p[1].weight,
        )
        points = {t.at: self.pixels(place.sheet, t.at) for pair in pairs for t in pair}
        for one, two in pairs[:4]:
            order: Order = OrderWire(
                do="wire", sheet=place.sheet, points=(points[one.at], points[two.at]), ends=(_name(one), _name(two)), code=code
            )  # fmt: skip
            if one.kind == two.kind == "end":
                order = OrderJoin(do="join", first=_ended(one), second=_ended(two))
            yield Offer(f"A wire from {self.shown(one)} to {self.shown(two)}", order)
        for wire in self._beside(place.sheet, box, code):
            order = OrderCode(do="code", targets=(wire.id,), code=code)
            yield Offer(f"It is the code of the line beside it ({wire.code.value or 'no code was read'})", order)

    def _other_code(self, target: Target, code: str) -> bool:
        known = self.wires[target.id].code if target.kind == "end" else None
        return known is not None and known.value not in {None, code} and known.probability >= 0.9

    def _beside(self, sheet: str, box: Box, code: str) -> Iterable[Wire]:
        near = [
            (min(nearest(p.points, box.centre)[0] for p in w.paths if p.sheet == sheet), w.id, w)
            for w in self.around.wires[sheet]
            if w.code.value != code and w.code.probability < 0.9
        ]
        return [w for away, _, w in sorted(near)[:2] if away <= BESIDE]

    def half(self, finding: Finding, oval: DrawnConnector) -> Iterator[Offer]:
        """The bare half of a connector: a wire from there to what lies ahead."""
        id_ = finding.id.rpartition("/")[2]
        known = next((t for t in oval.terminals if t.id == id_), None)
        terminal = known or Terminal("new", finding.places[0].box.centre)
        sheet, box = oval.place.sheet, oval.place.box
        dx, dy = terminal.at[0] - box.centre[0], terminal.at[1] - box.centre[1]
        level = abs(dx) / max(box.width, 0.1) >= abs(dy) / max(box.height, 0.1)
        heading = (math.copysign(1.0, dx), 0.0) if level else (0.0, math.copysign(1.0, dy))
        for target in self.around.targets(sheet, terminal.at, heading, skip=oval.id, reach=FROM_HALF)[:5]:
            yield self.drawn(sheet, HookName(node=oval.id, terminal=terminal.id), terminal.at, target)
        yield Offer(f"No {self.called(oval.id)} is drawn there", OrderPlain(do="remove", target=oval.id))

    def poles(self, part: Component) -> Iterator[Offer]:
        """A part that too few wires come to: loose ends near it, first those that point at it."""
        sheet, box = part.place.sheet, part.place.box
        near: list[tuple[float, Wire, int]] = []
        for wire in self.around.wires[sheet]:
            for i in self.around.loose(wire):
                at = wire.ends[i].at
                away = math.hypot(max(box.x0 - at[0], at[0] - box.x1, 0), max(box.y0 - at[1], at[1] - box.y1, 0))
                if wire.ends[i].sheet == sheet and away <= PART_REACH:
                    near.append((away, wire, i))
        near.sort(key=lambda n: (n[0], n[1].id))
        for _, wire, i in near[:3]:
            at = wire.ends[i].at
            spot = (min(max(at[0], box.x0), box.x1), min(max(at[1], box.y0), box.y1))
            free = [
                t for t in part.terminals if (part.id, t.id) not in self.around.used and math.dist(t.at, at) <= PART_REACH
            ]  # fmt: skip
            hook = min(free, key=lambda t: math.dist(t.at, at), default=None)
            order = OrderMoveEnd(
                do="move_end", target=wire.id, end=end_number(i), sheet=sheet, at=self.pixels(sheet, hook.at if hook else spot),
                to=HookName(node=part.id, terminal=hook.id if hook else "new"),
            )  # fmt: skip
            yield Offer(f"{wire.code.value or 'The wire without a code'} comes to {self.called(part.id)}", order)

    # -- parts that were missed ----------------------------------------------------------------------------------------
    def part(self, sheet: str, at: Point) -> Iterator[Offer]:
        """Loose ends under a name that no part bears: the part itself was missed."""
        names = [t for t in self.around.texts[sheet] if t.role in {"name", "text", "note"} and kind_told(t.text)]
        taken = [(c.name.value or "", c.place) for c in self._components if c.place.sheet == sheet]
        near: list[tuple[float, PrintedText]] = []
        for text in names:
            box = text.place.box
            away = math.hypot(max(box.x0 - at[0], at[0] - box.x1, 0), max(box.y0 - at[1], at[1] - box.y1, 0))
            borne = any(text.text in name and _gap(place.box, box) <= PART_REACH for name, place in taken)
            if away <= PART_REACH and not borne:
                near.append((away, text))
        best = min(near, key=lambda n: n[0], default=None)
        if best is None:
            return
        name = _whole_name(best[1], [t for t in self.around.texts[sheet] if t.role in {"name", "text", "note"}])
        kind = kind_told(name)
        ends: list[Point] = []
        for w in self.around.wires[sheet]:
            for i in self.around.loose(w):
                if w.ends[i].sheet == sheet and math.dist(w.ends[i].at, at) <= PART_REACH:
                    ends += [w.ends[i].at, foot_of(w, i)]
        if kind is None or not ends:
            return
        box = Box.around(ends).grown(2.0)
        corners = (self.pixels(sheet, (box.x0, box.y0)), self.pixels(sheet, (box.x1, box.y1)))
        order = OrderPart(do="part", sheet=sheet, box=corners, kind=kind, name=name)
        yield Offer(f"A part was missed here: {name} ({kind.replace('_', ' ')})", order)

    # -- words ---------------------------------------------------------------------------------------------------------
    def drawn(self, sheet: str, start: HookName, at: Point, target: Target) -> Offer:
        """A wire drawn straight from a terminal to where a line may end."""
        points = (self.pixels(sheet, at), self.pixels(sheet, target.at))
        order = OrderWire(do="wire", sheet=sheet, points=points, ends=(start, _name(target)))
        return Offer(f"A wire to {self.shown(target)}", order)

    def shown(self, target: Target) -> str:
        """A place where a line may go on, in words."""
        if target.kind in {"end", "line"}:
            return f"the {'loose end' if target.kind == 'end' else 'line'} of {self.wires[target.id].code.value or 'a wire without a code'}"
        return f"{self.called(target.id)}{at_terminal(target.part)}"

    def called(self, node: str) -> str:
        """An object in words: its printed name, else what it is."""
        if node in self.parts:
            part = self.parts[node]
            return part.name.value or f"the {part.kind.replace('_', ' ')} without a name"
        if node in self.ovals:
            return f"connector {self.ovals[node][0] or 'without an id'}"
        if node in self.grounds:
            return f"ground {self.grounds[node].label.value or ''}".strip()
        return "the join"


def end_number(i: int) -> Literal[0, 1]:
    """An end's number as orders have it."""
    return 1 if i else 0


def at_terminal(part: str) -> str:
    """A terminal in words, where its name says something."""
    return f", terminal {part}" if part not in {"new", "1", "*"} else ""


def _name(target: Target) -> HookName | EndName | LineName:
    if target.kind == "end":
        return _ended(target)
    if target.kind == "line":
        return LineName(line=target.id)
    return HookName(node=target.id, terminal=target.part)


def _ended(target: Target) -> EndName:
    return EndName(wire=target.id, end=1 if target.part == "1" else 0)


def _at(texts: list[PrintedText], box: Box) -> PrintedText | None:
    return next((t for t in texts if t.place.box == box), None)


def _gap(one: Box, two: Box) -> float:
    return math.hypot(max(one.x0 - two.x1, two.x0 - one.x1, 0), max(one.y0 - two.y1, two.y0 - one.y1, 0))


def _whole_name(text: PrintedText, texts: list[PrintedText]) -> str:
    """A name with the line printed over or under it."""
    box = text.place.box
    lines = [
        t
        for t in texts
        if abs(t.place.box.centre[0] - box.centre[0]) <= max(box.width, t.place.box.width) / 2
        and _gap(t.place.box, box) <= 0.8 * box.height
        and t.text.upper() == t.text
    ]
    return " ".join(t.text for t in sorted(lines, key=lambda t: t.place.box.y0))[:200].strip() or text.text
