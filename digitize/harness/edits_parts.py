"""Edits that add or remove a symbol: a component, a drawn connector, a ground."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise

from digitize.harness.claim import Alternative, Claim, Evidence
from digitize.harness.edits import AddConnector, AddPart, EditRefused, Effect
from digitize.harness.edits_cutting import fresh, ids, merge, put_zone, recount, set_pieces, splices_at
from digitize.harness.edits_find import Stand, point_along
from digitize.harness.edits_put import drop, put
from digitize.harness.model import (
    Component,
    Connector,
    DrawnConnector,
    Ground,
    Harness,
    SheetPath,
    Terminal,
    Wire,
    WireEnd,
)
from digitize.harness.place import Box, Place, Point, Polyline, length

STEP = 0.2
"""How finely (mm) a wire is followed to see where it enters and leaves a connector."""


def add_part(harness: Harness, edit: AddPart, by: str) -> tuple[Harness, Effect]:
    """A component boxed by hand; its wires are moved onto its terminals by edits of their own."""
    says = f"a {edit.kind.replace('_', ' ')} is drawn here"
    if all(s.id != edit.anchor.sheet for s in harness.sheets):
        return harness, Effect("orphaned", f"{says}: sheet {edit.anchor.sheet} is not in the manual.")
    part_id = fresh(edit.target, ids(harness))
    place = Place(edit.anchor.sheet, edit.box, put_zone(harness, edit.anchor.sheet, edit.box.centre))
    part = Component(part_id, edit.kind, _said(edit.name, by), place, edit.terminals, 1.0)
    return put(harness, part), Effect("applied", says, (part_id,), None, edit.name)


def add_connector(harness: Harness, edit: AddConnector, by: str) -> tuple[Harness, Effect]:
    """An oval boxed by hand: every wire that passes it becomes two, one on each half; one that ends in it ends there."""
    sheet, says = edit.anchor.sheet, f"connector {edit.label} is drawn here"
    passing: dict[str, tuple[Wire, int]] = {}
    for wire in harness.wires:
        for n, path in enumerate(wire.paths):
            if path.sheet == sheet and _inside(path.points, edit.box):
                passing.setdefault(wire.id, (wire, n))
    if not passing:
        return harness, Effect("orphaned", f"{says}: no wire passes there.")
    oval = fresh(edit.target, ids(harness))
    terminals: list[Terminal] = []
    touched = [oval]
    for count, (wire, n) in enumerate(passing.values(), 1):
        entry, leaving = _crossed(wire.paths[n].points, edit.box)
        a, b = Terminal(f"a{count}", entry[-1]), Terminal(f"b{count}", leaving[0])
        terminals += [a, b]
        touched.append(wire.id)
        on_a, on_b = WireEnd(oval, a.id, sheet, a.at), WireEnd(oval, b.id, sheet, b.at)
        first = (wire.ends[0], (*wire.paths[:n], SheetPath(sheet, entry)), on_a)
        second = (on_b, (SheetPath(sheet, leaving), *wire.paths[n + 1 :]), wire.ends[1])
        pieces = []
        if length(entry) > STEP or n > 0:
            pieces.append((wire.id, first))
        if length(leaving) > STEP or n < len(wire.paths) - 1:
            pieces.append((fresh(wire.id, ids(harness)) if pieces else wire.id, second))
        if not pieces:
            continue  # the whole wire lies inside the oval: leave it as it is
        touched += [i for i, _ in pieces]
        harness = recount(set_pieces(harness, wire, pieces), splices_at(wire))
    place = Place(sheet, edit.box, put_zone(harness, sheet, edit.box.centre))
    drawn = DrawnConnector(oval, place, tuple(terminals), (None,) * (len(terminals) // 2), 1.0)
    home = next((c for c in harness.connectors if c.label.value == edit.label), None)
    if home is None:
        home = Connector(fresh(edit.label, ids(harness)), _said(edit.label, by), ())
    harness = put(harness, replace(home, places=tuple(sorted((*home.places, drawn), key=lambda p: p.id))))
    return harness, Effect("applied", says, tuple(dict.fromkeys((*touched, home.id))), None, edit.label)


def remove_part(harness: Harness, stand: Stand) -> tuple[Harness, Effect]:
    """Take a symbol out; nothing that was read of its wires is lost.

    Raises EditRefused for what is no part, drawn connector or ground.
    """
    thing = stand.thing
    at_it = tuple(w.id for w in harness.wires if any(e.node == stand.id for e in w.ends))
    says = f"{stand.says or stand.id} is not drawn"
    if isinstance(thing, DrawnConnector):
        harness = _run_through(harness, thing)
        owner = next(c for c in harness.connectors if any(p.id == thing.id for p in c.places))
        left = tuple(p for p in owner.places if p.id != thing.id)
        if left or owner.cavities or owner.location is not None:
            harness = put(harness, replace(owner, places=left))
        else:
            harness = drop(harness, owner)
        return _loosened(harness, thing.id), Effect("applied", says, (thing.id, owner.id, *at_it), stand.says)
    if isinstance(thing, Component):
        for child in harness.components:
            if child.parent == thing.id:
                inner = tuple(pair for pair in child.joined if not any(t.startswith("^") for t in pair))
                harness = put(harness, replace(child, parent=None, joined=inner))
        return _loosened(drop(harness, thing), thing.id), Effect("applied", says, (thing.id, *at_it), stand.says)
    if isinstance(thing, Ground):
        return _loosened(drop(harness, thing), thing.id), Effect("applied", says, (thing.id, *at_it), stand.says)
    raise EditRefused("only a part, a drawn connector or a ground can be taken out so.", "")


def _run_through(harness: Harness, oval: DrawnConnector) -> Harness:
    """Merge the two wires at each pair of terminals that has exactly one on each half."""
    for pair in range(1, len(oval.terminals) // 2 + 1):
        halves = [_ends_at(harness, oval.id, f"{half}{pair}") for half in "ab"]
        if [len(h) for h in halves] == [1, 1] and halves[0][0][0].id != halves[1][0][0].id:
            harness = merge(harness, halves[0][0], halves[1][0])
    return harness


def _ends_at(harness: Harness, node: str, terminal: str) -> list[tuple[Wire, int]]:
    return [(w, i) for w in harness.wires for i, e in enumerate(w.ends) if e.node == node and e.terminal == terminal]


def _loosened(harness: Harness, node: str) -> Harness:
    """Wire ends at ``node`` dangle."""
    for wire in harness.wires:
        if any(e.node == node for e in wire.ends):
            one, two = (replace(e, node=None, terminal=None) if e.node == node else e for e in wire.ends)
            harness = put(harness, replace(wire, ends=(one, two)))
    return harness


def _inside(line: Polyline, box: Box) -> bool:
    return any(box.holds(p) for p in _walked(line))


def _walked(line: Polyline) -> list[Point]:
    whole = length(line)
    steps = max(1, math.ceil(whole / STEP))
    return [point_along(line, i / steps) for i in range(steps + 1)] if whole else [line[0]]


def _crossed(line: Polyline, box: Box) -> tuple[Polyline, Polyline]:
    """The part of ``line`` before it enters ``box`` and the part after it leaves; each has two points at least."""
    walked = _walked(line)
    within = [i for i, p in enumerate(walked) if box.holds(p)]
    first, last = within[0], within[-1]
    steps = max(1, len(walked) - 1)
    whole = length(line)
    before = _portion(line, 0.0, whole * first / steps, line[0], walked[first])
    after = _portion(line, whole * last / steps, whole, walked[last], line[-1])
    return before, after


def _portion(line: Polyline, start: float, stop: float, first: Point, last: Point) -> Polyline:
    """The corners of ``line`` between two distances along it, between ``first`` and ``last``."""
    kept, gone = [first], 0.0
    for p, q in pairwise(line):
        gone += math.dist(p, q)
        if start < gone < stop:
            kept.append(q)
    return (*kept, last)


def _said(text: str | None, by: str) -> Claim:
    ranked = () if text is None else (Alternative(text, 1.0),)
    return Claim(text, 1.0, ranked, (Evidence("person", text or "nothing is printed", 1.0, by),))
