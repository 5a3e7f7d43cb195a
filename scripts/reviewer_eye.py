"""What the simulated reviewer sees on the crop: whether an answer that the desk offers is true on the paper.

It judges each offer by what is drawn at the places that the offer itself names (an end, a terminal, a dot, a box), as a
person does who looks there; it never asks which offer would raise a score.
"""

from __future__ import annotations

import math
from collections import Counter

from digitize.harness.model import Wire, WireEnd
from digitize.harness.place import Box, Point
from fixtures.compare_match import END_NEAR_MATCHED, key_of, plain
from fixtures.truth import TrueWire
from review_ui.orders import (
    EndName,
    HookName,
    LineName,
    Order,
    OrderCode,
    OrderConfirm,
    OrderJoin,
    OrderMoveEnd,
    OrderPart,
    OrderPlain,
    OrderSplice,
    OrderWire,
)
from scripts.reviewer_truth import View

STUB = 8.0
"""How much of a wire (mm) is looked at to see which drawn line an end belongs to (own choice)."""

SAME_SPOT = 4.0
"""How far (mm) a dot may lie from the point that an offer names (own choice)."""


def true_here(view: View, order: Order) -> bool:
    """True when what the order says is so on the paper. Orders that only leave things as they are count as untrue."""
    match order:
        case OrderPlain(do="delete"):
            return _not_drawn(view, order.target)
        case OrderPlain(do="unsplice") | OrderPlain(do="remove"):
            return order.target not in view.matched
        case OrderConfirm(aspect="ends"):
            return all(t in view.right for t in order.targets)
        case OrderConfirm():
            return all(t in view.matched for t in order.targets)
        case OrderJoin():
            return bool(_of_end(view, order.first) & _of_end(view, order.second) - view.found)
        case OrderMoveEnd():
            return _moves_home(view, order)
        case OrderWire():
            return _is_drawn(view, order)
        case OrderSplice():
            return _dot_missed(view, order)
        case OrderPart():
            return _part_there(view, order)
        case OrderCode():
            return _code_there(view, order)
        case _:
            return False


def stub_of(view: View, wire: Wire, end: int) -> set[int]:
    """The true wire that a wire lies on at one of its ends; empty when nothing is drawn under it there."""
    at = wire.ends[end].at
    near = Counter(
        k
        for k, sheet, mm in view.steps(wire)
        if k is not None and sheet == wire.ends[end].sheet and math.dist(mm, at) <= STUB
    )
    if near:
        return {near.most_common(1)[0][0]}
    under = view.lies_on(wire)
    return set(under) if len(under) == 1 else set()


def _of_end(view: View, name: EndName) -> set[int]:
    wire = view.wires.get(name.wire)
    return set() if wire is None else stub_of(view, wire, name.end)


def _not_drawn(view: View, target: str) -> bool:
    """No line is drawn under the wire, or only one that another wire has already."""
    wire = view.wires.get(target)
    if wire is None or target in view.right:
        return False
    under = view.lies_on(wire)
    return not under or set(under) <= view.found


def _hooked(view: View, hook: HookName, sheet: str, at: Point, true: TrueWire) -> int | None:
    """Which end of a true wire lies at the terminal that ``hook`` means; None when neither does."""
    node = view.matched.get(hook.node)
    mine = view.at(sheet, at)
    for i, e in enumerate(true.ends):
        home = node == e.node or view.ground.parent_of(node) == e.node or view.ground.parent_of(e.node) == (node or "?")
        if e.sheet != view.true_sheet(sheet) or not home:
            continue
        lies_at = view.key(WireEnd(hook.node, hook.terminal, sheet, at), "offer")
        alone = node is not None and _alone(view, e.node) and math.dist(mine, e.at) <= END_NEAR_MATCHED
        if lies_at == key_of(e) or alone:
            return i
    return None


def _alone(view: View, node: str) -> bool:
    return len(view.ground.by_node[node]) == 1


def _moves_home(view: View, order: OrderMoveEnd) -> bool:
    wire = view.wires.get(order.target)
    if wire is None or order.to is None:
        return False
    at = view.ground.back(order.sheet, order.at)
    if wire.id in view.right:  # its end lies there already, and now it hangs there too
        if wire.ends[order.end].node is not None:
            return False
        return _hooked(view, order.to, order.sheet, at, view.ground.truth.wires[view.right[wire.id]]) is not None
    for k in stub_of(view, wire, order.end) - view.found:
        i = _hooked(view, order.to, order.sheet, at, view.ground.truth.wires[k])
        if i is not None:
            other = view.keys[wire.id][1 - order.end]
            return other != key_of(view.ground.truth.wires[k].ends[i])
    return False


def _is_drawn(view: View, order: OrderWire) -> bool:
    """A true wire that nothing has yet runs between the two places."""
    wanted = set(range(len(view.ground.pairs))) - view.found
    used: set[tuple[int, int]] = set()
    spots = (order.points[0], order.points[-1])
    for end, pixel in zip(order.ends, spots, strict=True):
        at = view.ground.back(order.sheet, pixel)
        if isinstance(end, EndName):
            wanted &= _of_end(view, end)
        elif isinstance(end, LineName):
            wanted = {k for k in wanted if _dot_there(view, order.sheet, at, view.ground.truth.wires[k])}
        elif isinstance(end, HookName):
            kept = set()
            for k in wanted:
                i = _hooked(view, end, order.sheet, at, view.ground.truth.wires[k])
                if i is not None and (k, i) not in used:
                    used.add((k, i))
                    kept.add(k)
            wanted = kept
        else:
            return False
    return bool(wanted)


def _dot_there(view: View, sheet: str, at: Point, true: TrueWire) -> bool:
    mine = view.at(sheet, at)
    dots = {s.id for s in view.ground.truth.splices}
    return any(
        e.node in dots and e.sheet == view.true_sheet(sheet) and math.dist(e.at, mine) <= SAME_SPOT for e in true.ends
    )


def _dot_missed(view: View, order: OrderSplice) -> bool:
    """A dot is drawn there that nothing has yet."""
    at = view.at(order.sheet, view.ground.back(order.sheet, order.at))
    return any(
        s.id not in view.back and s.sheet == view.true_sheet(order.sheet) and math.dist(s.at, at) <= SAME_SPOT
        for s in view.ground.truth.splices
    )


def _part_there(view: View, order: OrderPart) -> bool:
    corners = [view.at(order.sheet, view.ground.back(order.sheet, c)) for c in order.box]
    box = Box.around(corners)
    return any(
        c.sheet == view.true_sheet(order.sheet)
        and c.id not in view.back
        and c.kind == order.kind
        and plain(c.name) == order.name
        and c.box.overlap(box) > 0
        for c in view.ground.truth.components
    )


def _code_there(view: View, order: OrderCode) -> bool:
    for target in order.targets:
        wire = view.wires.get(target)
        true = None if wire is None else view.true_wire(wire)
        if true is None or not true.printed or true.code != order.code:
            return False
    return True
