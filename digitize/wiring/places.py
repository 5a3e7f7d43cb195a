"""Bodies and the trails that stop at them → drawn places with terminals and labels."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from digitize.harness.claim import Claim
from digitize.harness.place import Box, Point
from digitize.ink.state import Symbol
from digitize.reading.state import ReadText
from digitize.wiring.fuse_bars import feed_fuses
from digitize.wiring.kinds import told_by_name
from digitize.wiring.names import claim_of, give_names, stack_names
from digitize.wiring.state import DrawnPlace, PlaceTerminal

StopKey = tuple[int, int]
"""(trail, 0 or 1): which end of which trail."""

_ONE_TERMINAL = 0.9
"""Stops nearer than this are one terminal, mm."""


@dataclass(frozen=True, slots=True)
class Placed:
    """The places of a sheet. ``terminal``: stop → (place id, terminal id). ``roles``: text position → role taken."""

    places: tuple[DrawnPlace, ...]
    terminal: dict[StopKey, tuple[str, str]]
    roles: dict[int, str]


def place_all(
    sheet: str,
    bodies: Sequence[Symbol],
    stops: dict[StopKey, tuple[int, Point]],
    texts: Sequence[ReadText],
    taken: set[int],
    ink: NDArray[np.uint8],
) -> Placed:
    """Drawn places for all bodies.

    Args:
        sheet: id of the sheet.
        bodies: Marks.symbols.
        stops: trail end → (position of the body it stops at, where).
        texts: all readings.
        taken: positions already used as wire codes, zone labels or the title.
        ink: of the sheet, uint8, 255 where ink, PX_PER_MM px per mm: what the lines inside a fuse block join.
    """
    at_body: dict[int, dict[StopKey, Point]] = {}
    for key, (reached, at) in stops.items():
        at_body.setdefault(reached, {})[key] = at
    roles: dict[int, str] = {}
    terminal: dict[StopKey, tuple[str, str]] = {}
    places: list[DrawnPlace] = []
    order = sorted(range(len(bodies)), key=lambda k: (bodies[k].box.y0, bodies[k].box.x0, bodies[k].kind))
    ids = {k: f"p{n:03d}" for n, k in enumerate(order)}
    for k in order:
        body = bodies[k]
        if body.kind == "connector":
            place = _connector(sheet, ids[k], body, at_body.get(k, {}), texts, taken, roles, terminal)
        elif body.kind in ("grommet", "ground"):
            place = _marked(sheet, ids[k], body, at_body.get(k, {}), texts, taken, roles, terminal)
        else:
            place = _part(ids[k], body, at_body.get(k, {}), texts, taken, roles, terminal)
        places.append(place)
    places = _fuses(sheet, places, order, bodies, texts, taken, roles, terminal, ink)
    places = _named(sheet, places, order, bodies, texts, taken, roles)
    return Placed(tuple(places), terminal, roles)


def _near(texts: Sequence[ReadText], taken: Iterable[int], box: Box, margin: float) -> list[tuple[float, int]]:
    """(distance from the middle of ``box``, text position) of the free texts whose middle lies within ``margin`` mm of it."""
    out = [
        (math.dist(t.box.centre, box.centre), k)
        for k, t in enumerate(texts)
        if k not in taken and box.holds(t.box.centre, margin)
    ]
    return sorted(out)


def _connector(
    sheet: str,
    own: str,
    body: Symbol,
    stops: dict[StopKey, Point],
    texts: Sequence[ReadText],
    taken: set[int],
    roles: dict[int, str],
    terminal: dict[StopKey, tuple[str, str]],
) -> DrawnPlace:
    """A connector: pairs of terminals, its id inside (or beside) it, cavity numbers in or at it."""
    used = taken | set(roles)
    inside = [k for _, k in _near(texts, used, body.box, 0.0)]
    beside = [k for _, k in _near(texts, used, body.box, 4.0) if k not in inside]
    label = max(inside, key=lambda k: _id_likeness(texts[k]), default=None)
    if label is None or (len(texts[label].text) <= 2 and _id_fit(texts[label]) < 0.3):
        # nothing but cavity letters inside: the id stands beside the outline
        fit = [k for k in beside if _id_likeness(texts[k]) > 0.3 and (label is None or _id_fit(texts[k]) > 0.5)]
        label = fit[0] if fit else label
    claim = Claim.unread(0.3)
    if label is not None:
        roles[label] = "connector"
        claim = claim_of([texts[label]], sheet, "connector")
    pairs = _pairs(body.box, stops)
    terminals: list[PlaceTerminal] = []
    cavities: list[str | None] = []
    upright = body.box.height > 1.2 * body.box.width
    for n, (a, b) in enumerate(pairs, start=1):
        for half, key in (("a", a), ("b", b)):
            for one in key:
                terminal[one] = (own, f"{half}{n}")
            if key:
                terminals.append(PlaceTerminal(f"{half}{n}", _middle([stops[one] for one in key])))
        at = _middle([stops[one] for one in (*a, *b)])
        cavity = _cavity(texts, used | set(roles), body.box, at, alone=len(pairs) == 1 and not upright)
        if cavity is not None:
            roles[cavity] = "cavity"
        cavities.append(texts[cavity].text if cavity is not None else None)
    return DrawnPlace(own, "connector", body.box, claim, tuple(terminals), body.probability, tuple(cavities))


def _id_likeness(t: ReadText) -> float:
    """How much a text looks like an identifier: obeys the grammar of ids, or has a digit or a letter at all."""
    return _id_fit(t) + 0.1 * min(len(t.text), 4) + 0.05 * t.box.height


def _id_fit(t: ReadText) -> float:
    """Chance that a text obeys the grammar of ids."""
    return sum(a.probability for a in t.of_kind("connector"))


def _pairs(box: Box, stops: dict[StopKey, Point]) -> list[tuple[list[StopKey], list[StopKey]]]:
    """Opposite stops of a connector, top to bottom (or left to right): each a list of stops at one terminal."""
    sides: dict[str, list[StopKey]] = {"left": [], "right": [], "top": [], "bottom": []}
    for key, at in sorted(stops.items()):
        off = {
            "left": abs(at[0] - box.x0),
            "right": abs(at[0] - box.x1),
            "top": abs(at[1] - box.y0),
            "bottom": abs(at[1] - box.y1),
        }
        sides[min(off, key=lambda s: off[s])].append(key)
    out: list[tuple[float, list[StopKey], list[StopKey]]] = []
    for first, second, axis in (("left", "right", 1), ("top", "bottom", 0)):
        a = _clusters(sides[first], stops, axis)
        b = _clusters(sides[second], stops, axis)
        for level, keys in a:
            partner = min(b, key=lambda c: abs(c[0] - level), default=None)
            if partner is not None and abs(partner[0] - level) < 2.5:
                b.remove(partner)
                out.append((level, keys, partner[1]))
            else:
                out.append((level, keys, []))
        out += [(level, [], keys) for level, keys in b]
    return [(a, b) for _, a, b in sorted(out, key=lambda o: o[0])]


def _clusters(keys: list[StopKey], stops: dict[StopKey, Point], axis: int) -> list[tuple[float, list[StopKey]]]:
    out: list[tuple[float, list[StopKey]]] = []
    for key in sorted(keys, key=lambda k: (stops[k][axis], k)):
        at = stops[key][axis]
        if out and abs(out[-1][0] - at) < _ONE_TERMINAL:
            out[-1][1].append(key)
        else:
            out.append((at, [key]))
    return out


def _middle(points: Sequence[Point]) -> Point:
    return (sum(p[0] for p in points) / len(points), sum(p[1] for p in points) / len(points))


def _cavity(texts: Sequence[ReadText], used: set[int], box: Box, at: Point, *, alone: bool) -> int | None:
    """The short text that names the cavity of a pair: inside at its level, or just above or below a single oval."""
    best: tuple[float, int] | None = None
    for k, t in enumerate(texts):
        if k in used or not 1 <= len(t.text) <= 3 or not t.text.isalnum():
            continue
        c = t.box.centre
        if box.holds(c, -0.3):
            distance = abs(c[1] - at[1]) if box.height >= box.width * 0.9 else abs(c[0] - at[0])
            reach = 2.2
        elif alone and box.grown(0.3).x0 <= c[0] <= box.grown(0.3).x1:
            distance = max(box.y0 - t.box.y1, t.box.y0 - box.y1)
            reach = 1.8
        else:
            continue
        if distance <= reach and (best is None or distance < best[0]):
            best = (distance, k)
    return best[1] if best else None


def _marked(
    sheet: str,
    own: str,
    body: Symbol,
    stops: dict[StopKey, Point],
    texts: Sequence[ReadText],
    taken: set[int],
    roles: dict[int, str],
    terminal: dict[StopKey, tuple[str, str]],
) -> DrawnPlace:
    """A grommet or a ground: one terminal ``1`` and a short id near it."""
    for key in stops:
        terminal[key] = (own, "1")
    near = []
    for k, t in enumerate(texts):
        if k in taken or k in roles or len(t.text) > 6 or not any(c.isalnum() for c in t.text):
            continue
        gap = math.hypot(
            max(t.box.x0 - body.box.x1, body.box.x0 - t.box.x1, 0),
            max(t.box.y0 - body.box.y1, body.box.y0 - t.box.y1, 0),
        )
        aside, off = (abs(a - b) for a, b in zip(t.box.centre, body.box.centre, strict=True))
        if gap < 2.0 and (aside < 5 or off < 1.2):  # the middle of a long name beside a broad sign is far off
            fits = sum(a.probability for a in t.of_kind("connector"))
            inside = body.kind == "grommet" and body.box.holds(t.box.centre)  # its pieces may have been read as letters
            near.append((gap - fits + (2.0 * (1 - fits) if inside else 0.0), k))
    claim = Claim.unread(0.6)
    if near:
        k = min(near)[1]
        roles[k] = body.kind
        claim = claim_of([texts[k]], sheet, "connector")
    at = _middle(list(stops.values())) if stops else (body.box.centre[0], body.box.y0)
    terminals = (PlaceTerminal("1", at),) if stops or body.kind == "ground" else ()
    return DrawnPlace(own, body.kind, body.box, claim, terminals, body.probability)


def _part(
    own: str,
    body: Symbol,
    stops: dict[StopKey, Point],
    texts: Sequence[ReadText],
    taken: set[int],
    roles: dict[int, str],
    terminal: dict[StopKey, tuple[str, str]],
) -> DrawnPlace:
    """Any other part: one terminal for each place where wires stop, labelled by the lettering just inside."""
    groups: list[tuple[Point, list[StopKey]]] = []
    for key, at in sorted(stops.items(), key=lambda s: (round(s[1][1], 1), s[1][0], s[0])):
        near = [g for g in groups if math.dist(g[0], at) < _ONE_TERMINAL]
        if near:
            near[0][1].append(key)
        else:
            groups.append((at, [key]))
    terminals = []
    for n, (at, keys) in enumerate(groups, start=1):
        # In a fuse block the lettering beside a terminal is a fuse's number or rating: fuses take theirs first.
        label = _terminal_label(texts, taken | set(roles), body.box, at) if body.kind != "fuse_block" else None
        if label is not None:
            roles[label] = "terminal"
        name = f"t{n}"
        for key in keys:
            terminal[key] = (own, name)
        printed = texts[label].text if label is not None else _shown_name(body, at)
        terminals.append(PlaceTerminal(name, at, printed))
    heading = body.heading if body.kind == "diode" else None
    unread = Claim.unread(0.5)
    sure = body.probability
    return DrawnPlace(own, body.kind, body.box, unread, tuple(terminals), sure, heading=heading, taught=body.taught)


def _shown_name(body: Symbol, at: Point) -> str | None:
    """The name that a person gave to the terminal here, when the symbol was taught; within 2.5 mm, else None."""
    named = [(math.dist(p, at), name) for name, p in body.terminals if name is not None]
    away, name = min(named, default=(math.inf, None))
    return name if away <= 2.5 else None


def _terminal_label(texts: Sequence[ReadText], used: set[int], box: Box, at: Point) -> int | None:
    """The short text inside a body nearest to a terminal, on its row (or column for a terminal at top or bottom)."""
    best: tuple[float, int] | None = None
    sideways = min(abs(at[0] - box.x0), abs(at[0] - box.x1)) < min(abs(at[1] - box.y0), abs(at[1] - box.y1))
    for k, t in enumerate(texts):
        if k in used or not 1 <= len(t.text) <= 3 or not box.holds(t.box.centre, 0.3):
            continue
        c = t.box.centre
        off, deep = (abs(c[1] - at[1]), abs(c[0] - at[0])) if sideways else (abs(c[0] - at[0]), abs(c[1] - at[1]))
        if off < 2.8 and deep < 6.0 and (best is None or off + 0.5 * deep < best[0]):
            best = (off + 0.5 * deep, k)
    return best[1] if best else None


def _named(
    sheet: str,
    places: list[DrawnPlace],
    order: list[int],
    bodies: Sequence[Symbol],
    texts: Sequence[ReadText],
    taken: set[int],
    roles: dict[int, str],
) -> list[DrawnPlace]:
    """Give the printed names to the parts."""
    words = [(k, t) for k, t in enumerate(texts) if k not in taken and k not in roles and _is_word(t, bodies)]
    names = stack_names([w for w in words if any(c.isalpha() for c in w[1].text)])
    given = give_names(names, [bodies[k] for k in order])
    out = list(places)
    for n, name in given.items():
        label = claim_of([texts[k] for k in names[name].texts], sheet)
        out[n] = told_by_name(replace(places[n], label=label))
        roles.update(dict.fromkeys(names[name].texts, "name"))
    return out


def _is_word(t: ReadText, bodies: Sequence[Symbol]) -> bool:
    """True for lettering that may be (part of) a name: not a code, and no doubtful scribble inside a part's drawing."""
    if len(t.text) < 2 or t.kind == "code" or t.angle != 0:
        return False
    return t.probability > 0.5 or not any(b.box.holds(t.box.centre) for b in bodies)


def _fuses(
    sheet: str,
    places: list[DrawnPlace],
    order: list[int],
    bodies: Sequence[Symbol],
    texts: Sequence[ReadText],
    taken: set[int],
    roles: dict[int, str],
    terminal: dict[StopKey, tuple[str, str]],
    ink: NDArray[np.uint8],
) -> list[DrawnPlace]:
    """Fuses take their number and rating from their row; what sits in a block, its output and its feed (``fuse_bars``)."""
    out = list(places)
    inside: dict[int, list[int]] = {}
    for n, k in enumerate(order):
        if bodies[k].kind not in ("fuse", "circuit_breaker"):
            continue
        fuse = out[n]
        box = fuse.box
        used = taken | set(roles)
        row = [
            (t.box.centre[0], q)
            for q, t in enumerate(texts)
            if q not in used
            and len(t.text) <= 5
            and abs(t.box.centre[1] - box.centre[1]) < 2.6
            and box.grown(9).holds(t.box.centre)
        ]
        rating = next(
            (q for x, q in sorted(row, reverse=True) if texts[q].text[:1].isdigit() and texts[q].text[-1:] in "Aa"),
            None,
        )
        number = next((q for x, q in sorted(row) if q != rating and texts[q].text.isalnum()), None)
        roles.update({q: role for q, role in ((number, "fuse_no"), (rating, "rating")) if q is not None})
        label = claim_of([texts[number]], sheet, "number") if number is not None else fuse.label
        fuse = replace(fuse, label=label, rating=texts[rating].text if rating is not None else None)
        block = next(
            (
                m
                for m, j in enumerate(order)
                if j != k and bodies[j].kind in ("fuse_block", "module") and bodies[j].box.holds(box.centre)
            ),
            None,
        )
        if block is not None:
            inside.setdefault(block, []).append(n)
        out[n] = fuse
    for block, members in inside.items():
        out[block], fed = feed_fuses(out[block], [out[n] for n in members], ink, terminal)
        for n, fuse in zip(members, fed, strict=True):
            out[n] = fuse
    return out
