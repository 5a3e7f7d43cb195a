"""Edits at the page edge: which two points are one conductor, and which are not."""

from __future__ import annotations

import math
from dataclasses import replace

from digitize.harness.edits import (
    EditRefused,
    Effect,
    SetPartner,
)
from digitize.harness.edits_cutting import (
    fresh,
    ids,
    merge,
)
from digitize.harness.edits_find import REACH, Stand, find
from digitize.harness.edits_put import drop, put
from digitize.harness.model import (
    EdgePoint,
    Harness,
    PageLink,
    Wire,
    WireEnd,
)
from digitize.harness.place import Point


def set_partner(harness: Harness, edit: SetPartner, stand: Stand) -> tuple[Harness, Effect]:
    """Make two page-edge points one link and their wires one wire; or part a link again.

    Raises EditRefused when it or its partner is no page edge, or both are the same one.
    """
    link = stand.thing
    if not isinstance(link, PageLink):
        raise EditRefused("it is no page edge.", "")
    old = f"{link.b.sheet}" if link.b else None
    harness, touched = _part(harness, link)
    if edit.partner is None:
        return harness, Effect("applied", f"page edge {link.code.value or link.id} has no partner", touched, old)
    if edit.partner_anchor is None:
        raise EditRefused("the partner's place is not told.", "")
    there = find(harness, edit.partner, edit.partner_anchor)
    if there is None or not isinstance(there.thing, PageLink):
        raise EditRefused("the partner is gone.", "")
    if there.id == link.id:
        raise EditRefused("a page edge cannot be its own partner.", "")
    far = there.thing
    if far.b is not None:
        harness, more = _part(harness, far)
        touched = (*touched, *more)
        sheet, at = edit.partner_anchor.sheet, edit.partner_anchor.at
        far = min((k for k in harness.links if k.b is None), key=lambda k: _away(k.a, at, sheet))
    harness = drop(harness, far)
    harness = put(harness, replace(next(k for k in harness.links if k.id == link.id), b=far.a, probability=1.0))
    for wire in harness.wires:
        if far.id in wire.links:
            names = tuple(dict.fromkeys(link.id if n == far.id else n for n in wire.links))
            harness = put(harness, replace(wire, links=names))
    one, two = _loose_at(harness, link.a), _loose_at(harness, far.a)
    if one and two and one[0].id != two[0].id:
        harness = merge(harness, one, two)
        touched = (*touched, one[0].id, two[0].id)
    says = f"page edge {link.code.value or link.id} goes on at {far.a.sheet}"
    return harness, Effect("applied", says, tuple(dict.fromkeys((*touched, link.id, far.id))), old, far.a.sheet)


def _away(point: EdgePoint, at: Point, sheet: str) -> float:
    return math.dist(point.at, at) if point.sheet == sheet else math.inf


def _loose_at(harness: Harness, point: EdgePoint) -> tuple[Wire, int] | None:
    """The dangling wire end at a page-edge point."""
    ends = [(math.dist(w.ends[i].at, point.at), w, i) for w in harness.wires for i in (0, 1)
            if w.ends[i].node is None and w.ends[i].sheet == point.sheet]  # fmt: skip
    best = min(ends, key=lambda e: e[0], default=None)
    return None if best is None or best[0] > REACH else (best[1], best[2])


def _part(harness: Harness, link: PageLink) -> tuple[Harness, tuple[str, ...]]:
    """Undo a link: two links without a partner, and the wire over it becomes two wires that dangle there."""
    if link.b is None:
        return harness, (link.id,)
    other = replace(link, id=fresh(link.id, ids(harness)), a=link.b, b=None, probability=1.0)
    touched = [link.id, other.id]
    harness = put(put(harness, replace(link, b=None, probability=1.0)), other)
    for wire in harness.wires:
        if link.id not in wire.links:
            continue
        seam = _seam(wire, link)
        if seam is None:
            continue
        before, after = wire.paths[:seam], wire.paths[seam:]
        first = WireEnd(None, None, before[-1].sheet, before[-1].points[-1])
        second = WireEnd(None, None, after[0].sheet, after[0].points[0])
        new_id = fresh(wire.id, ids(harness))
        touched += [wire.id, new_id]
        here = link.a.sheet == first.sheet
        at = wire.links.index(link.id)
        names = (
            (*wire.links[:at], link.id if here else other.id),
            (other.id if here else link.id, *wire.links[at + 1 :]),
        )
        harness = put(harness, replace(wire, ends=(wire.ends[0], first), paths=before, links=names[0]))
        harness = put(harness, replace(wire, id=new_id, ends=(second, wire.ends[1]), paths=after, links=names[1]))
    return harness, tuple(touched)


def _seam(wire: Wire, link: PageLink) -> int | None:
    """Between which two paths of ``wire`` the link lies: the number of the later one."""
    assert link.b is not None
    best: tuple[float, int] | None = None
    for i in range(1, len(wire.paths)):
        p, q = wire.paths[i - 1], wire.paths[i]
        for a, b in ((link.a, link.b), (link.b, link.a)):
            if (p.sheet, q.sheet) == (a.sheet, b.sheet):
                away = math.dist(p.points[-1], a.at) + math.dist(q.points[0], b.at)
                if best is None or away < best[0]:
                    best = (away, i)
    return None if best is None else best[1]
