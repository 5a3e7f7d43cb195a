"""The craft under the edits of wires: divide one, merge two, hang an end on a terminal, count again."""

from __future__ import annotations

import math
from collections.abc import Collection
from dataclasses import replace

from digitize.harness.edits import (
    EditRefused,
    Hook,
)
from digitize.harness.edits_find import REACH, Stand, every_stand, find, nearest
from digitize.harness.edits_put import drop, put
from digitize.harness.model import (
    Component,
    DrawnConnector,
    Ground,
    Harness,
    PageLink,
    SheetPath,
    Splice,
    Terminal,
    Wire,
    WireEnd,
)
from digitize.harness.place import Place, Point, Polyline

NEW_TERMINAL = "new"
"""The terminal of a hook on a part or connector at which a terminal was missed: it is made where the wire's end lies."""

APART = 1.5
"""How near (mm) two terminals of one part may stand (own choice: half of what they are apart on dense sheets)."""

Piece = tuple[WireEnd, tuple[SheetPath, ...], WireEnd]
"""A part of a divided wire: its first end, what is drawn of it, its last end."""


def wire_of(stand: Stand) -> Wire:
    """The wire that was found; EditRefused when it is something else."""
    if not isinstance(stand.thing, Wire):
        raise EditRefused("it is no wire.", "")
    return stand.thing


def fresh(wanted: str, taken: Collection[str]) -> str:
    """``wanted``, or the first of ``stem/2``, ``stem/3`` … that is not taken, with ``stem`` as ``wanted`` without such a number.

    A piece of a piece counts on, so that ids do not grow with every cut.
    """
    if wanted not in taken:
        return wanted
    stem, _, number = wanted.rpartition("/")
    if not stem or not number.isdecimal():
        stem = wanted
    n = 2
    while f"{stem}/{n}" in taken:
        n += 1
    return f"{stem}/{n}"


def ids(harness: Harness) -> set[str]:
    """Every id that is taken."""
    return {s.id for s in every_stand(harness)}


def splices_at(wire: Wire) -> set[str]:
    """Ids of the splices at which the wire ends."""
    return {e.node for e in wire.ends if e.node is not None and e.terminal == "*"}


def merge(harness: Harness, one: tuple[Wire, int], two: tuple[Wire, int], *, meant: bool = False) -> Harness:
    """One wire from two through end ``one[1]`` and end ``two[1]``; it keeps the first one's id and runs away from it.

    ``meant``: a person put these very ends together, so that a loose one of them is no doubt any more.
    """
    a, b = one[0], two[0]
    before = a.paths if one[1] == 1 else _turned(a.paths)
    after = b.paths if two[1] == 0 else _turned(b.paths)
    if before[-1].sheet == after[0].sheet:
        seam = SheetPath(before[-1].sheet, _without_repeats((*before[-1].points, *after[0].points)))
        paths = (*before[:-1], seam, *after[1:])
    else:
        paths = (*before, *after)
    links = (*(a.links if one[1] == 1 else a.links[::-1]), *(b.links if two[1] == 0 else b.links[::-1]))
    strong, weak = (
        (a, b)
        if b.code.value is None or (a.code.value is not None and a.code.probability >= b.code.probability)
        else (b, a)
    )
    code = replace(
        strong.code,
        alternatives=(
            *strong.code.alternatives,
            *(x for x in weak.code.alternatives if all(x.text != y.text for y in strong.code.alternatives)),
        ),
        evidence=(*strong.code.evidence, *weak.code.evidence),
    )
    merged = Wire(
        a.id, code, strong.parsed, (a.ends[1 - one[1]], b.ends[1 - two[1]]), paths, min(_left(*one, meant=meant), _left(*two, meant=meant)),
        tuple(dict.fromkeys((*a.grommets, *b.grommets))), tuple(dict.fromkeys(links)),
    )  # fmt: skip
    harness = forget(put(drop(harness, b), merged), b.id, a.id)
    return recount(harness, {*splices_at(a), *splices_at(b)})


def _left(wire: Wire, end: int, *, meant: bool) -> float:
    """How sure a wire's ends are once ``end`` goes on: quite, when it was that one which hung on nothing."""
    return 1.0 if meant and wire.ends[end].node is None else wire.probability


def divide(wire: Wire, sheet: str, at: Point, spot: WireEnd | None) -> tuple[Piece, Piece]:
    """Cut a wire's paths at the point nearest to ``at`` on ``sheet``; both new ends are ``spot``, or dangle.

    Raises EditRefused when the wire is not drawn on ``sheet`` or ends at ``at`` already.
    """
    best: tuple[float, int, int, Point] | None = None
    for n, path in enumerate(wire.paths):
        if path.sheet != sheet:
            continue
        away, segment, foot = nearest(path.points, at)
        if best is None or away < best[0]:
            best = (away, n, segment, foot)
    if best is None:
        raise EditRefused(f"the wire is not drawn on sheet {sheet}.", "")
    _, n, segment, foot = best
    line = wire.paths[n].points
    seam = at if spot is not None else foot
    first = _without_repeats((*line[: segment + 1], foot, seam))
    second = _without_repeats((seam, foot, *line[segment + 1 :]))
    if len(first) < 2 or len(second) < 2:
        raise EditRefused("that is already its end.", "")
    end = spot or WireEnd(None, None, sheet, foot)
    return (
        (wire.ends[0], (*wire.paths[:n], SheetPath(sheet, first)), end),
        (end, (SheetPath(sheet, second), *wire.paths[n + 1 :]), wire.ends[1]),
    )


def set_pieces(harness: Harness, wire: Wire, pieces: list[tuple[str, Piece]]) -> Harness:
    """Put the pieces of a divided wire; each takes the links, grommets and page edges that lie on it."""
    links = {k.id: k for k in harness.links}
    drawn = {g.id: [p.place for p in g.places] for g in harness.grommets}
    for new_id, (start, paths, stop) in pieces:
        on = {p.sheet for p in paths}
        keep = tuple(k for k in wire.links if k not in links or _touches(paths, links[k]))
        passed = tuple(
            g for g in wire.grommets
            if any(p.sheet in on and _passes(paths, p) for p in drawn.get(g, [])) or not drawn.get(g)
        )  # fmt: skip
        harness = put(harness, replace(wire, id=new_id, ends=(start, stop), paths=paths, links=keep, grommets=passed))
    for grommet in harness.grommets:
        places = []
        for drawn_one in grommet.places:
            owner = drawn_one.wire
            if owner == wire.id:
                owner = next((i for i, (_, paths, _e) in pieces if _passes(paths, drawn_one.place)), wire.id)
            places.append(replace(drawn_one, wire=owner))
        if tuple(places) != grommet.places:
            harness = put(harness, replace(grommet, places=tuple(places)))
    return recount(harness, {e.node for _, (s, _p, t) in pieces for e in (s, t) if e.node})


def _touches(paths: tuple[SheetPath, ...], link: PageLink) -> bool:
    points = (link.a,) if link.b is None else (link.a, link.b)
    return any(p.sheet == e.sheet and nearest(p.points, e.at)[0] <= REACH for p in paths for e in points)


def _passes(paths: tuple[SheetPath, ...], place: Place) -> bool:
    grown = place.box.grown(1.0)
    return any(
        p.sheet == place.sheet and nearest(p.points, grown.centre)[0] <= max(grown.width, grown.height) / 2
        for p in paths
    )


def end_at(wire: Wire, sheet: str, at: Point, reach: float) -> int | None:
    """Which end of ``wire`` lies within reach of ``at`` on ``sheet``; None when it only passes there."""
    ends = [(math.dist(e.at, at), i) for i, e in enumerate(wire.ends) if e.sheet == sheet]
    best = min(ends, default=None)
    return None if best is None or best[0] > reach else best[1]


def grown(harness: Harness, hook: Hook | None, at: Point) -> tuple[Harness, Hook | None]:
    """The harness with the terminal that ``hook`` asks for, when that is a new one, and the hook with its id.

    A terminal of the same object within APART mm of ``at`` is taken instead. A connector gets a pair of them, the second one
    across the oval; its half is that of the terminals on the same side.
    """
    stand = None if hook is None or hook.terminal != NEW_TERMINAL else find(harness, hook.node, hook.anchor)
    if hook is None or stand is None or not isinstance(stand.thing, Component | DrawnConnector):
        return harness, hook
    thing = stand.thing
    near = min(thing.terminals, key=lambda t: math.dist(t.at, at), default=None)
    if near is not None and math.dist(near.at, at) <= APART:
        return harness, replace(hook, terminal=near.id)
    taken = {t.id for t in thing.terminals}
    if isinstance(thing, Component):
        id_ = next(f"t{n}" for n in range(1, len(taken) + 2) if f"t{n}" not in taken)
        return put(harness, replace(thing, terminals=(*thing.terminals, Terminal(id_, at)))), replace(
            hook, terminal=id_
        )
    x, y = thing.place.box.centre
    beside = abs(at[0] - x) * thing.place.box.height >= abs(at[1] - y) * thing.place.box.width
    far = (2 * x - at[0], at[1]) if beside else (at[0], 2 * y - at[1])
    other = {"a": "b", "b": "a"}
    bare = [
        (math.dist(t.at, far), f"{other[t.id[0]]}{t.id[1:]}")
        for t in thing.terminals
        if t.id[0] in other and f"{other[t.id[0]]}{t.id[1:]}" not in taken
    ]
    if bare and min(bare)[0] <= REACH:  # the half that was missed of a cavity that is there
        id_ = min(bare)[1]
        terminals = (*thing.terminals, Terminal(id_, at))
        return put(harness, replace(thing, terminals=terminals)), replace(hook, terminal=id_)
    n = 1 + max((int(t.id[1:]) for t in thing.terminals if t.id[1:].isdecimal()), default=0)
    half = "a" if near is None or near.id[0] not in other else near.id[0]
    pair = [Terminal(f"{half}{n}", at), Terminal(f"{other[half]}{n}", far)]
    oval = replace(
        thing,
        terminals=(*thing.terminals, *sorted(pair, key=lambda t: t.id)),
        cavities=(*thing.cavities, None),
    )
    return put(harness, oval), replace(hook, terminal=f"{half}{n}")


def hang(harness: Harness, hook: Hook | None, sheet: str, at: Point) -> WireEnd:
    """A wire end at ``hook``; dangling at ``at`` when there is no hook or its object is gone."""
    stand = None if hook is None else find(harness, hook.node, hook.anchor)
    if hook is None or stand is None:
        return WireEnd(None, None, sheet, at)
    match stand.thing:
        case Splice():
            return WireEnd(stand.id, "*", stand.thing.place.sheet, stand.thing.at)
        case Ground():
            return WireEnd(stand.id, "1", stand.thing.place.sheet, stand.thing.at)
        case Component() | DrawnConnector() as thing:
            terminal = _terminal(thing.terminals, hook.terminal, at)
            if terminal is None:
                return WireEnd(None, None, sheet, at)
            return WireEnd(stand.id, terminal.id, thing.place.sheet, terminal.at)
        case _:
            return WireEnd(None, None, sheet, at)


def _terminal(terminals: tuple[Terminal, ...], wanted: str, at: Point) -> Terminal | None:
    by_id = next((t for t in terminals if t.id == wanted), None)
    return by_id or min(terminals, key=lambda t: math.dist(t.at, at), default=None)


def recount(harness: Harness, splices: set[str]) -> Harness:
    """Set the degree of these splices to the number of wire ends there; one that nothing meets any more goes."""
    for splice in harness.splices:
        if splice.id not in splices:
            continue
        degree = sum(e.node == splice.id for w in harness.wires for e in w.ends)
        harness = put(harness, replace(splice, degree=degree)) if degree else drop(harness, splice)
    return harness


def forget(harness: Harness, old: str, new: str | None) -> Harness:
    """Let grommets that name wire ``old`` name ``new``."""
    for grommet in harness.grommets:
        if any(p.wire == old for p in grommet.places):
            places = tuple(replace(p, wire=new) if p.wire == old else p for p in grommet.places)
            harness = put(harness, replace(grommet, places=places))
    return harness


def _turned(paths: tuple[SheetPath, ...]) -> tuple[SheetPath, ...]:
    return tuple(SheetPath(p.sheet, p.points[::-1]) for p in reversed(paths))


def _without_repeats(points: Polyline) -> Polyline:
    kept = [points[0]]
    for p in points[1:]:
        if math.dist(p, kept[-1]) > 1e-9:
            kept.append(p)
    return tuple(kept)


def put_zone(harness: Harness, sheet: str, at: Point) -> str | None:
    """The zone of the nearest object of the sheet that has one (the harness keeps no grid)."""
    places = [c.place for c in harness.components]
    places += [s.place for s in harness.splices]
    places += [g.place for g in harness.grounds]
    places += [p.place for c in harness.connectors for p in c.places]
    near = [p for p in places if p.sheet == sheet and p.zone]
    best = min(near, key=lambda p: math.dist(p.box.centre, at), default=None)
    return None if best is None or math.dist(best.box.centre, at) > 10 * REACH else best.zone
