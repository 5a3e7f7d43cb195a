"""What else hangs on a way: where paths part, and what shares the feed or the ground from there on."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Sequence
from dataclasses import replace

from digitize.harness.graph import Key
from digitize.trace.legs import Legs
from digitize.trace.network import CONSUMERS, Network, Pass, Positions
from digitize.trace.state import Branch, Way
from digitize.trace.told import stop_name

NAMED = CONSUMERS | {"alternator", "battery", "fuse_block", "module", "relay", "sensor", "starter_solenoid"}
"""Kinds whose names say what a branch is for."""

ENDS = frozenset({"load", "coil", "sender", "case", "bar"})
"""Passages over which a branch is not followed: what lies behind them is another part of the circuit."""

MOST_NAMES = 8
MOST_KEYS = 2000
"""Keys looked at for all branches of one way: enough for any circuit one would print, and quick on the largest harness."""


def branches_along(
    network: Network, passes: Sequence[Pass], keys: Sequence[Key], positions: Positions, legs: Legs
) -> tuple[Branch, ...]:
    """The other conductors at every stop of a way but the last, in order."""
    on_way = set(keys)
    taken = {p.by for p in passes}
    left = MOST_KEYS
    found = []
    if passes and passes[0].end[1] == "case":
        return ()  # what else is fed there belongs to the feed's way
    for key in keys[:-1]:
        for p in network.passages.get(key, ()):
            if p.kind != "wire" or p.by in taken or p.end in on_way:
                continue
            names, seen = _reached(network, [p.end], on_way, frozenset(), positions, left)
            left -= seen
            w = network.graph.wires[p.by]
            found.append(
                Branch(
                    legs.stop(key), w.id, w.code.value, legs.wording.code(w.parsed), tuple(names[:MOST_NAMES]),
                    max(0, len(names) - MOST_NAMES),
                )
            )  # fmt: skip
    return tuple(found)


def served_from(network: Network, keys: Iterable[Key], own: frozenset[str], positions: Positions) -> tuple[str, ...]:
    """Names of what is reached from ``keys`` without passing ``own`` or any load, nearest first; grounds are left out."""
    names, _ = _reached(network, list(keys), set(network.graph.grounds), own, positions, MOST_KEYS)
    return tuple(names)


def _reached(
    network: Network, starts: Sequence[Key], barred: set[Key], own: frozenset[str], positions: Positions, most: int
) -> tuple[list[str], int]:
    """(names reached, keys looked at)."""
    seen = dict.fromkeys(starts)
    todo = deque(starts)
    names: dict[str, None] = {}
    looked = 0
    while todo and looked < most:
        key = todo.popleft()
        looked += 1
        name = None if key[0] in own else _name(network, key)
        if name is not None:
            names.setdefault(name)
        if key in network.graph.grounds or key in network.feeds:
            continue
        for p in network.passages.get(key, ()):
            if p.kind in ENDS or p.by in own or p.end in seen or p.end in barred or not positions.passes(p):
                continue
            seen[p.end] = None
            todo.append(p.end)
    return list(names), looked


def _name(network: Network, key: Key) -> str | None:
    node = key[0]
    if node in network.grounds:
        label = network.grounds[node].label.value
        return f"ground {label}" if label else "ground"
    c = network.graph.components.get(node)
    if c is None or c.kind not in NAMED:
        return None
    if c.kind == "relay" and not any(p.kind == "coil" for p in network.passages.get(key, ())):
        return None
    return c.name.value or f"an unnamed {c.kind.replace('_', ' ')} ({c.id})"


def noted(way: Way, note: str) -> Way:
    """``way`` with one more note."""
    return replace(way, notes=(*way.notes, note))


def over_feed(way: Way, ways: Sequence[Way]) -> Way:
    """``way`` with a note when it leads to ground over a wire that also leads to a feed: no return takes that way."""
    if way.goal != "ground":
        return way
    fed = {leg.id for other in ways if other.goal in {"feed", "source"} for leg in other.legs if leg.kind == "wire"}
    at = next((i for i, leg in enumerate(way.legs) if leg.kind == "wire" and leg.id in fed), None)
    if at is None:
        return way
    before = stop_name(way.legs[at].start)
    return noted(
        way, f"from {before} on it runs back over the feed, which no return does: what earths it is switched inside "
        f"{before}, or was not read; look at the page there",
    )  # fmt: skip
