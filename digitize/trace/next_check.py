"""The next check: the measurement that tells most per effort.

For every point a meter can reach, each suspect predicts a reading: live, dead or between. The expected information of the
check is the entropy of those readings; it is divided by what the check costs. On a linear path of equally likely faults
and equal effort that is the half-split of US Army subcourse IT0338: at or just before the midpoint, never more than
ceil(log2 N) checks.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from digitize.harness.graph import Key
from digitize.trace.faults import Ranking

LIVE_SHARE = 0.75
"""From this share of the battery's voltage a point counts as live, below ``DEAD_SHARE`` as dead (own choice)."""

DEAD_SHARE = 0.2

COUNTED = 0.005
"""Suspects less probable than this do not widen the range of voltages that is told."""

EFFORT = {
    "fuse": 1.0,
    "load": 2.0,
    "switch": 2.0,
    "connector": 2.0,
    "connector unplaced": 4.0,
    "ground": 2.0,
    "splice": 6.0,
}
"""What it costs to get a probe on a point, relative to a fuse (own estimate)."""


@dataclass(frozen=True, slots=True)
class Reading:
    """What a check may show: ``live``, ``between`` or ``dead``, how likely that is, and which suspects (fault ids) say so."""

    shows: str
    probability: float
    suspects: tuple[str, ...]
    volts: tuple[float, float]


@dataclass(frozen=True, slots=True)
class Check:
    """Put the meter's red lead on ``key``, the black one on clean metal of the body, the circuit switched as stated.

    ``information`` in bits; ``effort`` relative to a fuse.
    """

    key: Key
    information: float
    effort: float
    readings: tuple[Reading, ...]


def next_check(
    ranking: Ranking, points: Sequence[Key] | None = None, effort: Callable[[Key], float] | None = None
) -> Check | None:
    """The best check, or None when no check tells the remaining suspects apart.

    Args:
        ranking: the suspects.
        points: keys to choose from; all that a probe can reach when left out.
        effort: what a point costs; by the kind of point when left out.
    """
    cost = effort or (lambda key: effort_at(ranking, key))
    best: Check | None = None
    for key in points if points is not None else reachable(ranking):
        check = _check(ranking, key, cost(key))
        if check.information > 1e-3 and (best is None or _worth(check) > _worth(best) + 1e-9):
            best = check
    return best


def _worth(c: Check) -> float:
    return c.information / c.effort


def reachable(ranking: Ranking) -> list[Key]:
    """Every point of the drawing that is a node, in a fixed order; the inside of parts and open ends are not."""
    net = ranking.circuit.network
    known = {*net.drawn, *net.splices, *net.grounds, *net.graph.components}
    return sorted(k for k in ranking.circuit.nodes if k[0] in known and k[1] not in {"inside", "case"})


def effort_at(ranking: Ranking, key: Key) -> float:
    """What it costs to probe a key."""
    net = ranking.circuit.network
    if key[0] in net.drawn:
        connector, _ = net.drawn[key[0]]
        return EFFORT["connector" if connector.location else "connector unplaced"]
    if key[0] in net.splices:
        return EFFORT["splice"]
    if key[0] in net.grounds:
        return EFFORT["ground"]
    kind = net.graph.components[key[0]].kind
    return EFFORT["fuse" if kind in {"fuse", "battery", "fuse_block"} else "switch" if kind == "switch" else "load"]


def _check(ranking: Ranking, key: Key, effort: float) -> Check:
    full = ranking.circuit.values.battery_volts
    node = ranking.circuit.nodes.get(key)
    shares: dict[str, float] = {"live": 0.0, "between": 0.0, "dead": 0.0}
    ids: dict[str, list[str]] = {s: [] for s in shares}
    volts: dict[str, list[float]] = {s: [] for s in shares}
    for s in ranking.suspects:
        if s.fault is None or s.solution is None or node is None:
            continue
        v = float(s.solution.volts[node])
        shows = "live" if v >= LIVE_SHARE * full else "dead" if v < DEAD_SHARE * full else "between"
        shares[shows] += s.probability
        ids[shows].append(s.fault.id)
        if s.probability >= COUNTED or not volts[shows]:
            volts[shows].append(v)
    told = sum(shares.values())
    bits = -sum(p / told * math.log2(p / told) for p in shares.values() if p > 0) if told > 0 else 0.0
    readings = tuple(
        Reading(shows, p, tuple(ids[shows]), (min(volts[shows]), max(volts[shows])))
        for shows, p in shares.items()
        if ids[shows]
    )
    return Check(key, bits * told, effort, readings)
