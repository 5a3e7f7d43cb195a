"""How far one gets when there is no way: to the open end, the page edge or the part where the drawing, or its reading, ends."""

from __future__ import annotations

from collections import deque
from collections.abc import Collection

from digitize.harness.graph import Key
from digitize.trace.legs import Legs
from digitize.trace.network import CONSUMERS, Network, Pass, Positions, walked

GOAL_WORDS = {
    "feed": "a battery, an alternator or a fuse",
    "source": "a battery or an alternator",
    "fuse": "a fuse",
    "ground": "ground",
}


def farthest(
    network: Network, key: Key, goal: str, positions: Positions, own: frozenset[str], legs: Legs
) -> tuple[list[Pass], str]:
    """The passages to the nearest place where something is missing, and what is missing there, in a sentence.

    An open end or an unpaired page edge comes before a switch that stands open, that before a part whose inside is not
    drawn, and loads come last: the likelier gap is told.
    """
    towards = "ground" if goal == "ground" else "source"
    reached: dict[Key, Pass | None] = {key: None}
    todo = deque([key])
    opened: list[Key] = []
    shut: list[Key] = []
    closed: list[Key] = []
    while todo:
        here = todo.popleft()
        drawn = [p for p in network.passages.get(here, ()) if walked(p, towards) and p.by not in own]
        on = [p for p in drawn if positions.passes(p)]
        if here[0] in network.graph.wires:
            opened.append(here)
        elif len(on) < len(drawn):
            shut.append(here)
        elif here != key and here[0] in network.graph.components and not any(p.end not in reached for p in on):
            closed.append(here)
        for p in on:
            if p.end not in reached:
                reached[p.end] = p
                todo.append(p.end)
    lost = f"No way to {GOAL_WORDS[goal]} was read."
    if len(reached) == 1:
        return [], f"{lost} No wire leads on from here."
    parts = network.graph.components
    ends = [*opened, *shut, *sorted(closed, key=lambda k: parts[k[0]].kind in CONSUMERS)]
    if not ends:
        return [], f"{lost} Its wires only lead back to where they came from."
    return _back(reached, ends[0]), f"{lost} {_told(network, ends[0], legs, shut)}{_others(len(ends) - 1)}"


def _told(network: Network, key: Key, legs: Legs, shut: Collection[Key]) -> str:
    stop = legs.stop(key)
    near = None if stop.spot.zone or stop.spot.at is None else legs.zone_near(stop.spot.sheet, stop.spot.at)
    zone = f", zone {stop.spot.zone}" if stop.spot.zone else f", near zone {near}" if near else ""
    where = f"page {stop.spot.page_name}{zone}"
    if key[0] in network.graph.wires:
        wire = network.graph.wires[key[0]]
        code = wire.code.value or "without a code"
        ends = network.harness.links
        unpaired = any(link.b is None and link.id in wire.links for link in ends)
        gap = "leaves the page and no partner of that page edge was read" if unpaired else "stops in the open"
        return f"The wire {code} {gap} ({where}): look there for where it goes on."
    name = stop.name or f"an unnamed {stop.kind.replace('_', ' ')}"
    kind = stop.kind.replace("_", " ")
    if key in shut:
        return f"{name} ({kind}, {where}) stands open in the position given."
    return f"It gets as far as {name} ({kind}), terminal {stop.terminal} ({where}): the page shows nothing that leads on inside."


def _others(more: int) -> str:
    return "" if more <= 0 else f" {more} more such end{'s' if more > 1 else ''} can be reached."


def _back(reached: dict[Key, Pass | None], end: Key) -> list[Pass]:
    way = []
    p = reached[end]
    while p is not None:
        way.append(p)
        p = reached[p.start]
    return way[::-1]
