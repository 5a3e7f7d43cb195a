"""Everything on the sheets but wires, as harness objects with stable ids; one object for each printed connector id."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from digitize.harness.claim import Alternative, Claim
from digitize.harness.model import (
    Component,
    Connector,
    DrawnConnector,
    DrawnGrommet,
    Grommet,
    Ground,
    Splice,
    Terminal,
)
from digitize.legend.conventions import Conventions
from digitize.wiring.binding_names import box_at, place_on, spot_ids
from digitize.wiring.evidence import MOST_SURE
from digitize.wiring.state import DrawnPlace, SheetWiring

Local = tuple[str, str]
"""(sheet id, id on that sheet)."""

NOT_COMPONENTS = frozenset({"connector", "grommet", "ground"})


@dataclass(frozen=True, slots=True)
class Objects:
    """What the sheets hold besides wires. ``id_of`` leads from (sheet, id on it) to the id in the harness.

    ``labels``: the label of each drawn connector and grommet by its harness id, before drawings are put together.
    """

    components: tuple[Component, ...]
    drawn_connectors: tuple[DrawnConnector, ...]
    splices: tuple[Splice, ...]
    drawn_grommets: tuple[DrawnGrommet, ...]
    grounds: tuple[Ground, ...]
    id_of: Mapping[Local, str]
    labels: Mapping[str, Claim] = field(default_factory=dict)


def objects_of(sheets: Sequence[SheetWiring]) -> Objects:
    """All objects of all sheets; the order of the sheets does not matter."""
    id_of: dict[Local, str] = {}
    labels: dict[str, Claim] = {}
    places: list[tuple[SheetWiring, DrawnPlace, str]] = []
    splices: list[Splice] = []
    for sheet in sheets:
        name = sheet.facts.sheet
        by_kind: dict[str, list[DrawnPlace]] = defaultdict(list)
        for p in sheet.places:
            by_kind[p.kind].append(p)
        for kind, drawn in by_kind.items():
            for p, id_ in spot_ids(((p, p.box.centre) for p in drawn), name, kind, _place_order):
                id_of[name, p.id] = id_
                places.append((sheet, p, id_))
        for s, id_ in spot_ids(((s, s.at) for s in sheet.splices), name, "splice", lambda s: (s.at, s.degree, s.id)):
            id_of[name, s.id] = id_
            splices.append(Splice(id_, place_on(sheet.facts, box_at(s.at)), s.at, s.degree, _machine(s.probability)))
    components, connectors, grommets, grounds = [], [], [], []
    for sheet, p, id_ in places:
        place = place_on(sheet.facts, p.box)
        sure = _machine(p.probability)
        if p.kind == "connector":
            connectors.append(DrawnConnector(id_, place, _terminals(p), _cavities(p), sure))
            labels[id_] = p.label
        elif p.kind == "grommet":
            grommets.append(DrawnGrommet(id_, place, sure))
            labels[id_] = p.label
        elif p.kind == "ground":
            at = p.terminals[0].at if p.terminals else p.box.centre
            grounds.append(Ground(id_, p.label, place, at, sure))
        else:
            parent = None if p.parent is None else id_of.get((sheet.facts.sheet, p.parent))
            components.append(
                Component(
                    id=id_,
                    kind=p.kind,
                    name=p.label,
                    place=place,
                    terminals=_terminals(p),
                    probability=sure,
                    case_ground=p.case_ground,
                    heading=p.heading,
                    parent=parent,
                    rating=p.rating,
                    joined=p.joined,
                    taught=p.taught,
                )
            )
    return Objects(
        tuple(sorted(components, key=lambda c: c.id)),
        tuple(sorted(connectors, key=lambda c: c.id)),
        tuple(sorted(splices, key=lambda s: s.id)),
        tuple(sorted(grommets, key=lambda g: g.id)),
        tuple(sorted(grounds, key=lambda g: g.id)),
        id_of,
        labels,
    )


def connectors_of(
    drawn: Sequence[DrawnConnector], labels: Mapping[str, Claim], conventions: Conventions
) -> tuple[Connector, ...]:
    """Drawings with one label become one connector with many places; an unread one stays by itself under its own id."""
    together: dict[str, list[DrawnConnector]] = defaultdict(list)
    for d in drawn:
        together[labels[d.id].value or d.id].append(d)
    out = []
    for name in sorted(together):
        places = sorted(together[name], key=lambda d: d.id)
        label = put_together([labels[d.id] for d in places])
        out.append(Connector(name, label, tuple(places), part=part_of(label.value, conventions)))
    return tuple(out)


def grommets_of(drawn: Sequence[DrawnGrommet], labels: Mapping[str, Claim]) -> tuple[Grommet, ...]:
    """As ``connectors_of``, for grommets."""
    together: dict[str, list[DrawnGrommet]] = defaultdict(list)
    for d in drawn:
        together[labels[d.id].value or d.id].append(d)
    return tuple(
        Grommet(
            name,
            put_together([labels[d.id] for d in sorted(here, key=lambda d: d.id)]),
            tuple(sorted(here, key=lambda d: d.id)),
        )
        for name, here in sorted(together.items())
    )


def put_together(claims: Sequence[Claim]) -> Claim:
    """Labels that read the same, at several places: the mean chance that one of these drawings is rightly labelled.

    They are readings of several drawings, not of one: one drawing's sure label says nothing about another's.
    """
    if len(claims) == 1:
        return claims[0]
    chances: dict[str, float] = defaultdict(float)
    for c in claims:
        for a in c.alternatives or (() if c.value is None else (Alternative(c.value, c.probability),)):
            chances[a.text] += a.probability / len(claims)
    ranked = tuple(
        Alternative(t, p) for t, p in sorted(chances.items(), key=lambda item: (-item[1], item[0])) if p > 1e-4
    )[:8]
    mean = sum(c.probability for c in claims) / len(claims)
    return Claim(claims[0].value, min(mean, MOST_SURE), ranked, tuple(e for c in claims for e in c.evidence))


def part_of(label: str | None, conventions: Conventions) -> str | None:
    """The part of the vehicle that the longest fitting prefix stands for."""
    if label is None:
        return None
    fitting = [p for p in conventions.connectors.prefixes if label.startswith(p)]
    return conventions.connectors.prefixes[max(fitting, key=len)] if fitting else None


def _terminals(p: DrawnPlace) -> tuple[Terminal, ...]:
    return tuple(Terminal(t.id, t.at, t.label) for t in p.terminals)


def _cavities(p: DrawnPlace) -> tuple[str | None, ...]:
    pairs = len({t.id[1:] for t in p.terminals if t.id[:1] in "ab"})
    return (*p.cavities, *((None,) * (pairs - len(p.cavities))))


def _place_order(p: DrawnPlace) -> tuple[float, float, float, float, str]:
    return (p.box.x0, p.box.y0, p.box.x1, p.box.y1, p.id)


def _machine(probability: float) -> float:
    return min(probability, MOST_SURE)
