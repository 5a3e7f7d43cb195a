"""What must hold of every harness: checked in tests after each edit, and at the desk before a snapshot is kept."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from digitize.harness.claim import Claim
from digitize.harness.edits_find import every_stand
from digitize.harness.model import Harness


def validate(harness: Harness) -> list[str]:
    """Every breach as one line; empty when the harness is sound.

    Ids are unique in the manual; wire ends exist with their terminal; every reference names something; all tuples are
    sorted by id; paths have two points at least; probabilities lie in 0..1; a splice counts the ends that meet there.
    """
    return [*_ids(harness), *_ends(harness), *_references(harness), *_order(harness), *_numbers(harness)]


def _ids(harness: Harness) -> Iterator[str]:
    counts = Counter(s.id for s in every_stand(harness) if s.kind not in {"connector", "grommet"})
    yield from (f"id {i} is given {n} times" for i, n in counts.items() if n > 1)
    for name, owners in (("connector", harness.connectors), ("grommet", harness.grommets)):
        owned = Counter(o.id for o in owners)
        yield from (f"{name} id {i} is given {n} times" for i, n in owned.items() if n > 1)


def _ends(harness: Harness) -> Iterator[str]:
    terminals: dict[str, set[str]] = {s.id: {"*"} for s in harness.splices}
    terminals |= {g.id: {"1"} for g in harness.grounds}
    terminals |= {c.id: {t.id for t in c.terminals} for c in harness.components}
    terminals |= {p.id: {t.id for t in p.terminals} for c in harness.connectors for p in c.places}
    met: Counter[str] = Counter()
    for wire in harness.wires:
        for end in wire.ends:
            if end.node is None:
                continue
            met[end.node] += 1
            if end.node not in terminals:
                yield f"wire {wire.id} ends at {end.node}, which does not exist"
            elif end.terminal not in terminals[end.node]:
                yield f"wire {wire.id} ends at terminal {end.terminal} of {end.node}, which has none such"
    for splice in harness.splices:
        if splice.degree != met[splice.id]:
            yield f"splice {splice.id} counts {splice.degree} ends but {met[splice.id]} meet there"


def _references(harness: Harness) -> Iterator[str]:
    wires = {w.id for w in harness.wires}
    links = {k.id for k in harness.links}
    grommets = {g.id for g in harness.grommets} | {p.id for g in harness.grommets for p in g.places}
    sheets = {s.id for s in harness.sheets}
    components = {c.id: c for c in harness.components}
    for wire in harness.wires:
        yield from (f"wire {wire.id} runs over link {k}, which does not exist" for k in wire.links if k not in links)
        yield from (
            f"wire {wire.id} passes grommet {g}, which does not exist" for g in wire.grommets if g not in grommets
        )
        yield from (
            f"wire {wire.id} is drawn on {p.sheet}, which does not exist" for p in wire.paths if p.sheet not in sheets
        )
    for grommet in harness.grommets:
        for place in grommet.places:
            if place.wire is not None and place.wire not in wires:
                yield f"grommet {place.id} is passed by wire {place.wire}, which does not exist"
    for component in harness.components:
        if component.parent is not None and component.parent not in components:
            yield f"component {component.id} sits in {component.parent}, which does not exist"
        own = {t.id for t in component.terminals}
        if len(own) != len(component.terminals):
            yield f"component {component.id} has two terminals of one id"
        above = components.get(component.parent or "")
        known = own | ({f"^{t.id}" for t in above.terminals} if above else set())  # ^ marks the fuse block's terminal
        yield from (
            f"component {component.id} joins {pair}, not both its terminals"
            for pair in component.joined
            if not set(pair) <= known
        )


def _order(harness: Harness) -> Iterator[str]:
    for name in ("components", "connectors", "splices", "grommets", "grounds", "wires", "links", "findings"):
        ids = [thing.id for thing in getattr(harness, name)]
        if ids != sorted(ids):
            yield f"{name} are not sorted by id"
    numbers = [s.number for s in harness.sheets]
    if numbers != sorted(numbers):
        yield "sheets are not sorted by number"


def _numbers(harness: Harness) -> Iterator[str]:
    for wire in harness.wires:
        if not wire.paths:
            yield f"wire {wire.id} is drawn nowhere"
        yield from (f"wire {wire.id} has a path of {len(p.points)} point" for p in wire.paths if len(p.points) < 2)
    for claim in _claims(harness):
        if not 0 <= claim.probability <= 1:
            yield f"probability {claim.probability} of {claim.value!r} is outside 0..1"
    sure = {s.id: getattr(s.thing, "probability", 0.0) for s in every_stand(harness)}
    yield from (f"probability {p} of {i} is outside 0..1" for i, p in sure.items() if not 0 <= p <= 1)


def _claims(harness: Harness) -> Iterator[Claim]:
    yield from (w.code for w in harness.wires)
    yield from (c.name for c in harness.components)
    yield from (c.label for c in harness.connectors)
    yield from (g.label for g in harness.grommets)
    yield from (g.label for g in harness.grounds)
    yield from (k.code for k in harness.links)
