"""Put an object into a harness or take it out, keeping every tuple sorted by id."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

from digitize.harness.model import (
    Component,
    Connector,
    DrawnConnector,
    DrawnGrommet,
    Finding,
    Grommet,
    Ground,
    Harness,
    PageLink,
    Splice,
    Wire,
)

if TYPE_CHECKING:
    from digitize.harness.edits_find import Thing

_WHERE: dict[type, str] = {
    Component: "components",
    Connector: "connectors",
    Splice: "splices",
    Grommet: "grommets",
    Ground: "grounds",
    Wire: "wires",
    PageLink: "links",
    Finding: "findings",
}


def put(harness: Harness, thing: Thing) -> Harness:
    """``harness`` with ``thing`` in place of the object of the same kind and id, or added when there is none."""
    if isinstance(thing, DrawnConnector | DrawnGrommet):
        return _put_drawn(harness, thing)
    name = _WHERE[type(thing)]
    old: tuple[Any, ...] = getattr(harness, name)
    if any(o.id == thing.id for o in old):
        new: tuple[Any, ...] = tuple(thing if o.id == thing.id else o for o in old)
    else:
        new = tuple(sorted((*old, thing), key=lambda o: o.id))
    change: dict[str, Any] = {name: new}
    return replace(harness, **change)


def drop(harness: Harness, thing: Thing) -> Harness:
    """``harness`` without ``thing``."""
    name = _WHERE[type(thing)]
    old: tuple[Any, ...] = getattr(harness, name)
    change: dict[str, Any] = {name: tuple(o for o in old if o.id != thing.id)}
    return replace(harness, **change)


def _put_drawn(harness: Harness, drawn: DrawnConnector | DrawnGrommet) -> Harness:
    """Replace one drawing of a connector or grommet inside the object it belongs to."""
    owners: tuple[Connector | Grommet, ...] = (
        harness.connectors if isinstance(drawn, DrawnConnector) else harness.grommets
    )
    owner = next(o for o in owners if any(p.id == drawn.id for p in o.places))
    places: Any = tuple(drawn if p.id == drawn.id else p for p in owner.places)
    return put(harness, replace(owner, places=places))
