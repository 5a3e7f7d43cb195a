"""Edits that change the run of wires: join, cut, add, delete, splice, move an end."""

from __future__ import annotations

import math
from dataclasses import replace

from digitize.harness.claim import Alternative, Claim, Evidence
from digitize.harness.edits import (
    AddSplice,
    AddWire,
    Cut,
    EditRefused,
    Effect,
    JoinEnds,
    MoveEnd,
)
from digitize.harness.edits_cutting import (
    divide,
    end_at,
    forget,
    fresh,
    grown,
    hang,
    ids,
    merge,
    put_zone,
    recount,
    set_pieces,
    splices_at,
    wire_of,
)
from digitize.harness.edits_find import Stand, find_end, nearest
from digitize.harness.edits_put import drop, put
from digitize.harness.model import (
    Harness,
    SheetPath,
    Splice,
    Wire,
    WireEnd,
)
from digitize.harness.place import Box, Place, Point

LEFT_LOOSE = 0.3
"""How sure a wire's ends are at most when the dot at which it ended was none (own choice)."""


def add_wire(harness: Harness, edit: AddWire, by: str) -> tuple[Harness, Effect]:
    """A hand-drawn wire; an end whose object is gone dangles, and the effect says so."""
    says = f"a wire {edit.code or 'without a code'} is drawn here"
    if len(edit.points) < 2 or all(s.id != edit.anchor.sheet for s in harness.sheets):
        return harness, Effect("orphaned", f"{says}: sheet {edit.anchor.sheet} is not in the manual.")
    wire_id = fresh(edit.target, ids(harness))
    ends, lost = [], False
    for hook, at in zip(edit.ends, (edit.points[0], edit.points[-1]), strict=True):
        harness, found = grown(harness, hook, at)
        end = hang(harness, found, edit.anchor.sheet, at)
        lost = lost or (hook is not None and end.node is None)
        ends.append(end)
    code = Claim(edit.code, 1.0, _word(edit.code), (Evidence("person", edit.code or "nothing is printed", 1.0, by),))
    wire = Wire(wire_id, code, edit.parsed, (ends[0], ends[1]), (SheetPath(edit.anchor.sheet, edit.points),), 1.0)
    new = recount(put(harness, wire), splices_at(wire))
    if lost:
        says += "; the object at one end is gone, so that end dangles"
    return new, Effect("applied", says, (wire_id, *_nodes(wire)), None, edit.code)


def delete_wire(harness: Harness, wire: Wire) -> tuple[Harness, Effect]:
    """Take the wire out; grommets forget it, splices count again, page-edge links of it alone go too."""
    new = forget(drop(harness, wire), wire.id, None)
    used = {link for w in new.wires for link in w.links}
    for link in harness.links:
        if link.id in wire.links and link.id not in used:
            new = drop(new, link)
    new = recount(new, splices_at(wire))
    return new, Effect(
        "applied", f"wire {wire.code.value or wire.id} is not drawn", (wire.id, *_nodes(wire)), wire.code.value
    )


def cut(harness: Harness, edit: Cut, stand: Stand) -> tuple[Harness, Effect]:
    """Two wires out of one; the part with the first end keeps the id."""
    wire = wire_of(stand)
    first, second = divide(wire, edit.anchor.sheet, edit.anchor.at, None)
    other = fresh(wire.id, ids(harness))
    harness = set_pieces(harness, wire, [(wire.id, first), (other, second)])
    return harness, Effect("applied", f"wire {wire.code.value or wire.id} is cut", (wire.id, other))


def move_end(harness: Harness, edit: MoveEnd, stand: Stand) -> tuple[Harness, Effect]:
    """Put one end on another terminal; the drawn line is drawn on to it.

    Raises EditRefused when the wire has no such end, or the terminal is gone.
    """
    wire = wire_of(stand)
    if edit.end not in {0, 1}:
        raise EditRefused(f"a wire has ends 0 and 1, not {edit.end}.", "")
    old = wire.ends[edit.end]
    harness, to = grown(harness, edit.to, edit.at)
    new = hang(harness, to, old.sheet, edit.at)
    if edit.to is not None and new.node is None:
        raise EditRefused(f"{edit.to.node} is gone.", "")
    paths = list(wire.paths)
    index = 0 if edit.end == 0 else len(paths) - 1
    points = paths[index].points
    if math.dist(new.at, old.at) > 1e-9 and paths[index].sheet == new.sheet:
        points = (new.at, *points) if edit.end == 0 else (*points, new.at)
    paths[index] = SheetPath(paths[index].sheet, points)
    ends = (new, wire.ends[1]) if edit.end == 0 else (wire.ends[0], new)
    moved = replace(wire, ends=ends, paths=tuple(paths), probability=1.0)
    harness = recount(put(harness, moved), {*splices_at(wire), *splices_at(moved)})
    says = f"an end of wire {wire.code.value or wire.id} goes to {new.node or 'nothing'}"
    touched = tuple(dict.fromkeys((wire.id, *(n for n in (old.node, new.node) if n))))
    return harness, Effect("applied", says, touched, old.node, new.node)


def join_ends(harness: Harness, edit: JoinEnds) -> tuple[Harness, Effect]:
    """One wire out of two, through the two ends."""
    says = "two wire ends are one conductor"
    one, two = find_end(harness, edit.first), find_end(harness, edit.second)
    if one is None or two is None:
        return harness, Effect("orphaned", f"{says}: one of the ends is gone.")
    if one[0].id == two[0].id:
        return harness, Effect("refused", f"{says}: both are ends of one wire.")
    return merge(harness, one, two, meant=True), Effect("applied", says, (one[0].id, two[0].id))


def add_splice(harness: Harness, edit: AddSplice) -> tuple[Harness, Effect]:
    """Join all wires that pass or end within reach of a point in one splice there."""
    says = "wires are joined here"
    sheet, at = edit.anchor.sheet, edit.anchor.at
    near = []
    for wire in harness.wires:
        away = min((nearest(p.points, at)[0] for p in wire.paths if p.sheet == sheet), default=math.inf)
        if away <= edit.reach and (not edit.wires or wire.id in edit.wires):
            near.append(wire)
    if not near and edit.wires:
        return add_splice(harness, replace(edit, wires=()))
    there = next((s for s in harness.splices if s.place.sheet == sheet and math.dist(s.at, at) <= edit.reach), None)
    if there is not None:  # a dot that was read already: more lines meet there than were seen
        at = there.at
        near = [w for w in near if all(e.node != there.id for e in w.ends)]
        if not near:
            return harness, Effect("refused", f"{says}: all that pass there are joined already.")
    pieces = sum(2 if end_at(w, sheet, at, edit.reach) is None else 1 for w in near)
    if there is None and pieces < 3 and len(near) < 2:
        return harness, Effect("orphaned", f"{says}: fewer than two wires pass within {edit.reach:g} mm.")
    splice_id = fresh(edit.target, ids(harness)) if there is None else there.id
    touched = [splice_id]
    for wire in near:
        touched.append(wire.id)
        end = end_at(wire, sheet, at, edit.reach)
        spot = WireEnd(splice_id, "*", sheet, at)
        if end is not None:
            ends = (spot, wire.ends[1]) if end == 0 else (wire.ends[0], spot)
            paths = list(wire.paths)
            k = 0 if end == 0 else -1
            line = paths[k].points
            paths[k] = SheetPath(sheet, (at, *line) if end == 0 else (*line, at))
            harness = recount(put(harness, replace(wire, ends=ends, paths=tuple(paths))), splices_at(wire))
            continue
        first, second = divide(wire, sheet, at, spot)
        other = fresh(wire.id, ids(harness))
        touched.append(other)
        harness = set_pieces(harness, wire, [(wire.id, first), (other, second)])
    place = Place(sheet, Box(at[0] - 0.5, at[1] - 0.5, at[0] + 0.5, at[1] + 0.5), put_zone(harness, sheet, at))
    dot = Splice(splice_id, place, at, pieces, 1.0) if there is None else replace(there, probability=1.0)
    harness = recount(put(harness, dot), {splice_id})
    return harness, Effect("applied", says, tuple(touched))


def remove_splice(harness: Harness, stand: Stand) -> tuple[Harness, Effect]:
    """Pass wires through: the two ends that run most nearly straight on become one wire, and so on; a rest dangles.

    Raises EditRefused for what is no splice.
    """
    splice = stand.thing
    if not isinstance(splice, Splice):
        raise EditRefused("it is no splice.", "")
    ends = [(w.id, i) for w in harness.wires for i in (0, 1) if w.ends[i].node == splice.id]
    touched = tuple(dict.fromkeys((splice.id, *(w for w, _ in ends))))
    ways = {key: _heading(harness, *key) for key in ends}
    pairs = sorted(
        (ways[a][0] * ways[b][0] + ways[a][1] * ways[b][1], a, b)
        for n, a in enumerate(ends)
        for b in ends[n + 1 :]
        if a[0] != b[0]
    )
    chosen: list[tuple[tuple[str, int], tuple[str, int]]] = []
    used: set[tuple[str, int]] = set()
    for straight, a, b in pairs:
        if straight < -0.5 and a not in used and b not in used:  # within 60° of straight on
            chosen.append((a, b))
            used |= {a, b}
    for wire_id, i in ends:
        wire = next(w for w in harness.wires if w.id == wire_id)
        loose = replace(wire.ends[i], node=None, terminal=None)
        if not any((wire_id, i) in pair for pair in chosen):  # it must end somewhere else, and nobody said where
            wire = replace(wire, probability=min(wire.probability, LEFT_LOOSE))
        harness = put(harness, replace(wire, ends=(loose, wire.ends[1]) if i == 0 else (wire.ends[0], loose)))
    harness = drop(harness, splice)
    name: dict[tuple[str, int], tuple[str, int]] = {key: key for key in ends}
    for a, b in chosen:
        wires = {w.id: w for w in harness.wires}
        (wa, ea), (wb, eb) = name[a], name[b]
        if wa == wb:
            continue  # a loop that closes through this splice alone stays open
        harness = merge(harness, (wires[wa], ea), (wires[wb], eb))
        # in the merged wire, wa's other end is end 0 and wb's other end is end 1
        for key, (w, e) in list(name.items()):
            if (w, e) == (wa, 1 - ea):
                name[key] = (wa, 0)
            elif (w, e) == (wb, 1 - eb):
                name[key] = (wa, 1)
    return harness, Effect("applied", "wires pass here without a join", touched)


def _heading(harness: Harness, wire_id: str, end: int) -> Point:
    """Unit vector in which the wire leaves its end."""
    wire = next(w for w in harness.wires if w.id == wire_id)
    line = wire.paths[0].points if end == 0 else wire.paths[-1].points[::-1]
    for point in line[1:]:
        away = math.dist(line[0], point)
        if away > 1e-6:
            return ((point[0] - line[0][0]) / away, (point[1] - line[0][1]) / away)
    return (0.0, 0.0)


def _nodes(wire: Wire) -> tuple[str, ...]:
    return tuple(e.node for e in wire.ends if e.node is not None)


def _word(text: str | None) -> tuple[Alternative, ...]:
    return () if text is None else (Alternative(text, 1.0),)
