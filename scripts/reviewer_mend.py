"""How the simulated reviewer puts a wire right: the next single repair, in the words that the desk's page sends.

It does what a person does who looks at the scan: a wire that is not drawn goes away, one that runs on past a join is joined
there, one that was read in pieces is put together, an end on the wrong terminal is moved.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

from digitize.harness.model import Component, DrawnConnector, Ground, Terminal, Wire
from digitize.harness.place import Point
from fixtures.compare_match import END_NEAR, Key, distance_to, key_of, nearest
from fixtures.truth import TrueComponent, TrueConnector
from review_ui.orders import (
    PART_KINDS,
    EndName,
    HookName,
    LineName,
    Order,
    OrderAt,
    OrderConfirm,
    OrderJoin,
    OrderMoveEnd,
    OrderPart,
    OrderPlain,
    OrderSplice,
    OrderWire,
)
from scripts.reviewer_truth import View

NEW_DOT = 4.0
"""How near (mm) to where a wire goes over into another the missing dot or symbol may lie (own choice)."""

DOT_REACH = 1.5
"""How near (mm) to a dot a line must run for the desk to join it there (that of ``AddSplice``)."""


@dataclass(frozen=True, slots=True)
class Step:
    """One order with its cost at the desk, and whether it changes what was read."""

    order: Order
    keys: int
    clicks: int
    corrects: bool = True


def next_step(view: View, wire: Wire) -> Step | None:
    """The next repair of ``wire``; None when both its ends are right, or when nothing more can be done from here."""
    if wire.id in view.right:
        return None
    under = view.lies_on(wire)
    if not under:
        return Step(OrderPlain(do="delete", target=wire.id), 1, 1)
    if len(under) > 1:
        parted = _part(view, wire, set(under))
        if parted is not None:
            return parted
    k = under.most_common(1)[0][0]
    if k in view.found:
        return Step(OrderPlain(do="delete", target=wire.id), 1, 1)
    return _towards(view, wire, k)


def draw(view: View, k: int) -> Step | None:
    """Draw the true wire ``k`` that nothing read lies on; None when it is not on one sheet that was read."""
    true = view.ground.truth.wires[k]
    sheet = view.ground.sheet_to.get(true.paths[0].sheet)
    if len(true.paths) != 1 or sheet is None:
        return None
    line = tuple(view.ground.pixel(true.paths[0].sheet, p) for p in true.paths[0].points)
    ends = (_hook(view, key_of(true.ends[0])), _hook(view, key_of(true.ends[1])))
    code = true.code if true.printed else None
    return Step(
        OrderWire(do="wire", sheet=sheet, points=line, ends=ends, code=code),
        2 + len(code or ""),
        len(line),
        corrects=True,
    )


def anew(view: View, wire: Wire) -> tuple[int | None, Step]:
    """Give up on a wire: the true wire to draw instead (None when it is there already), and the order that takes it away."""
    under = view.lies_on(wire)
    k = under.most_common(1)[0][0] if under else None
    return (None if k in view.found else k), Step(OrderPlain(do="delete", target=wire.id), 1, 1)


def sure(wire: Wire) -> Step:
    """Say that both ends are right."""
    return Step(OrderConfirm(do="confirm", targets=(wire.id,), aspect="ends"), 1, 0, corrects=False)


def _part(view: View, wire: Wire, under: set[int]) -> Step | None:
    """The wire runs over several true ones: put in the join or the symbol where it changes over, else cut it there."""
    told = [s for s in view.steps(wire) if s[0] in under]
    for before, after in pairwise(told):
        if before[0] == after[0] or before[1] != after[1]:
            continue
        assert before[0] is not None and after[0] is not None  # noqa: PT018  both are in ``under``
        sheet = before[1]
        at = ((before[2][0] + after[2][0]) / 2, (before[2][1] + after[2][1]) / 2)
        true_at = view.at(sheet, at)
        shared = _shared(view, before[0], after[0], true_at)
        if shared is not None:
            node, spot = shared
            missing = _missing(view, node)
            if missing is not None:
                return missing
            if node in {s.id for s in view.ground.truth.splices} and _touches(view, wire, node):
                pixel = view.ground.pixel(view.true_sheet(sheet), spot)
                return Step(OrderSplice(do="splice", sheet=sheet, at=pixel), 1, 1)
        pixel = view.ground.pixel(view.true_sheet(sheet), true_at)
        return Step(OrderAt(do="cut", target=wire.id, sheet=sheet, at=pixel), 1, 1)
    return None


def _touches(view: View, wire: Wire, node: str) -> bool:
    """True when the wire runs over the dot that was read there, so that one click joins it."""
    dot = next((s for s in view.harness.splices if s.id == view.back.get(node)), None)
    if dot is None:
        return True
    return any(
        p.sheet == dot.place.sheet and distance_to(dot.at, a, b) <= DOT_REACH
        for p in wire.paths
        for a, b in pairwise(p.points)
    )


def _shared(view: View, one: int, two: int, at: Point) -> tuple[str, Point] | None:
    """The node nearest to ``at`` (truth mm) at which both true wires end."""
    wires = view.ground.truth.wires
    near = [
        (math.dist(e.at, at), e.node, e.at)
        for e in wires[one].ends
        if any(e.node == f.node and e.sheet == f.sheet for f in wires[two].ends)
    ]
    best = min(near, default=None)
    return None if best is None or best[0] > NEW_DOT * 3 else (best[1], best[2])


def _missing(view: View, node: str) -> Step | None:
    """Box a symbol or dot that was not read; None when it was, or when it is of a kind that cannot be boxed."""
    if node in view.back:
        return None
    truth = view.ground.truth
    for splice in truth.splices:
        if splice.id == node:
            sheet = view.ground.sheet_to.get(splice.sheet)
            if sheet is None:
                return None
            return Step(OrderSplice(do="splice", sheet=sheet, at=view.ground.pixel(splice.sheet, splice.at)), 1, 1)
    things: list[TrueComponent | TrueConnector] = [*truth.components, *truth.connectors]
    for thing in things:
        if thing.id != node:
            continue
        kind, name = (thing.kind, thing.name) if isinstance(thing, TrueComponent) else ("connector", thing.label)
        sheet = view.ground.sheet_to.get(thing.sheet)
        if sheet is None or kind not in PART_KINDS:
            return None
        corners = (
            view.ground.pixel(thing.sheet, (thing.box.x0, thing.box.y0)),
            view.ground.pixel(thing.sheet, (thing.box.x1, thing.box.y1)),
        )
        return Step(
            OrderPart(do="part", sheet=sheet, box=corners, kind=kind, name=name or None), 3 + len(name or ""), 3
        )
    return None


def _towards(view: View, wire: Wire, k: int) -> Step | None:
    """The wire lies on the true wire ``k`` alone, but an end is wrong: take the false thing away, join, or move the end."""
    true = view.ground.truth.wires[k]
    want = (key_of(true.ends[0]), key_of(true.ends[1]))
    mine = view.keys[wire.id]
    for end, key in zip(wire.ends, mine, strict=True):
        away = _take_away(view, end.node) if key not in want else None
        if away is not None:
            return away
    free = [i for i in (0, 1) if mine[i] not in want]
    if mine[0] == mine[1] and not free:
        free = [1]
    joined = _join(view, wire, k, free) or _freed(view, wire, k, free)
    if joined is not None:
        return joined
    left = [w for w in want if w not in mine] or [want[1]]
    if len(free) == 2:  # both wrong: the end goes where it is nearer
        free.sort(key=lambda i: _away(view, wire, i, left[0]))
    return _move(view, wire, free[0], left[0]) if free else None


def _take_away(view: View, node: str | None) -> Step | None:
    """Take away a dot or an oval that is not on the paper; None for everything else."""
    if node is None or node in view.matched:
        return None
    if any(s.id == node for s in view.harness.splices):
        return Step(OrderPlain(do="unsplice", target=node), 1, 1)
    if any(p.id == node for c in view.harness.connectors for p in c.places):
        return Step(OrderPlain(do="remove", target=node), 1, 1)
    return None


def _freed(view: View, wire: Wire, k: int, free: list[int]) -> Step | None:
    """A stub with a loose end: nobody drags it over the rest of its line, which was read and ends at a false dot beside it.

    The dot is taken away; what is left then are two loose ends that are joined.
    """
    mine = view.lies_on(wire)[k]
    loose = [wire.ends[i] for i in free if wire.ends[i].node is None]
    for other in view.harness.wires if loose else ():
        if other.id in view.right or not any(_take_away(view, e.node) for e in other.ends):
            continue
        under = view.lies_on(other)
        if under.most_common(1)[:1] != [(k, under[k])] or under[k] < 2 * mine:
            continue
        for end in other.ends:
            away = _take_away(view, end.node)
            if away and any(e.sheet == end.sheet and math.dist(e.at, end.at) <= NEW_DOT for e in loose):
                return away
    return None


def _join(view: View, wire: Wire, k: int, free: list[int]) -> Step | None:
    """Another piece of the same true wire with a loose end: the two become one."""
    best: tuple[float, int, str, int] | None = None
    for i in free:
        if wire.ends[i].node is not None:
            continue
        for other in view.harness.wires:
            if other.id == wire.id or other.id in view.right:
                continue
            for j, end in enumerate(other.ends):
                if end.node is None and end.sheet == wire.ends[i].sheet:
                    away = math.dist(end.at, wire.ends[i].at)
                    if (
                        (best is None or away < best[0])
                        and view.lies_on(other).most_common(1)[:1]
                        and k in view.lies_on(other)
                    ):
                        best = (away, i, other.id, j)
    if best is None:
        return None
    first = EndName(wire=wire.id, end=1 if best[1] else 0)
    return Step(OrderJoin(do="join", first=first, second=EndName(wire=best[2], end=1 if best[3] else 0)), 1, 2)


def _away(view: View, wire: Wire, end: int, key: Key) -> float:
    sheet, at = view.ground.sheet_at[key]
    mine = wire.ends[end]
    return math.dist(view.at(mine.sheet, mine.at), at) if view.true_sheet(mine.sheet) == sheet else math.inf


def _move(view: View, wire: Wire, end: int, key: Key) -> Step | None:
    if view.ground.sheet_at[key][0] != view.true_sheet(wire.ends[end].sheet):
        return None  # the rest of it is on another sheet: a page edge's question
    true_sheet, at = view.ground.sheet_at[key]
    missing = _missing(view, key[0])
    if missing is not None:
        line = _line_through(view, wire, key[0]) if wire.ends[end].node is None else None
        if line is None:
            return missing
        points = (
            view.ground.pixel(true_sheet, view.at(wire.ends[end].sheet, wire.ends[end].at)),
            view.ground.pixel(true_sheet, at),
        )
        ends = (EndName(wire=wire.id, end=1 if end else 0), LineName(line=line))
        return Step(OrderWire(do="wire", sheet=wire.ends[end].sheet, points=points, ends=ends), 1, 2)
    order = OrderMoveEnd(
        do="move_end", target=wire.id, end=1 if end else 0, sheet=wire.ends[end].sheet, to=_hook(view, key),
        at=view.ground.pixel(true_sheet, at),
    )  # fmt: skip
    return Step(order, 1, 2)


def _line_through(view: View, wire: Wire, node: str) -> str | None:
    """Another wire that runs over a dot that was missed: this one is drawn on to it, which makes the dot."""
    dot = next((s for s in view.ground.truth.splices if s.id == node), None)
    if dot is None:
        return None
    for other in view.harness.wires:
        for path in other.paths:
            if other.id != wire.id and view.true_sheet(path.sheet) == dot.sheet:
                line = [view.at(path.sheet, p) for p in path.points]
                if any(distance_to(dot.at, a, b) <= DOT_REACH for a, b in pairwise(line)):
                    return other.id
    return None


def _hook(view: View, key: Key) -> HookName | None:
    """The terminal of the harness that stands for a true one; None when there is none, then the end is set down loose."""
    node = view.back.get(key[0])
    if node is None:
        return None
    if any(s.id == node for s in view.harness.splices):
        return HookName(node=node, terminal="*")
    _, at = view.ground.sheet_at[key]
    best: tuple[float, str] | None = None
    for sheet, terminal in _terminals(view, node):
        mine = view.at(sheet, terminal.at)
        away = math.dist(mine, at)
        if nearest(view.ground.by_node[key[0]], mine, END_NEAR) == key and (best is None or away < best[0]):
            best = (away, terminal.id)
    return None if best is None else HookName(node=node, terminal=best[1])


def _terminals(view: View, node: str) -> list[tuple[str, Terminal]]:
    things: list[Component | DrawnConnector] = [
        *view.harness.components,
        *(p for c in view.harness.connectors for p in c.places),
    ]
    found = [(t.place.sheet, terminal) for t in things if t.id == node for terminal in t.terminals]
    grounds: list[Ground] = [g for g in view.harness.grounds if g.id == node]
    return found or [(g.place.sheet, Terminal("1", g.at)) for g in grounds]
