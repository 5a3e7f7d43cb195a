"""The next check: the measurement that tells most per effort.

For every point a meter can reach, each suspect predicts a reading: live, dead or between. The expected information of the
check is the entropy of those readings; it is divided by what the check costs. On a linear path of equally likely faults
and equal effort that is the half-split of US Army subcourse IT0338: at or just before the midpoint, never more than
ceil(log2 N) checks.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from digitize.harness.graph import Key
from digitize.trace.faults import Ranking, Suspect

LIVE_SHARE = 0.75
"""From this share of the battery's voltage a point counts as live, below ``DEAD_SHARE`` as dead (own choice)."""

DEAD_SHARE = 0.2

SHOWN = ("dead", "between", "live")
"""What a meter may show, in rising order."""

LEAST_BITS = 0.1
"""A check that is expected to tell less is not proposed."""

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
    nodes = ranking.circuit.nodes
    keys = [k for k in (points if points is not None else reachable(ranking)) if k in nodes]
    counted = [s for s in ranking.suspects if s.fault is not None and s.solution is not None]
    if not keys or not counted:
        return None
    shows = _shown(ranking, counted, [nodes[k] for k in keys])
    chances = np.array([s.probability for s in counted])
    shares = np.stack([(shows == n).T @ chances for n in range(len(SHOWN))])  # by what is shown and point
    told = shares.sum(axis=0)
    part = np.divide(shares, told, out=np.zeros_like(shares), where=told > 0)
    logs = np.log2(part, out=np.zeros_like(part), where=part > 0)
    bits = -(part * logs).sum(axis=0) * told
    best: tuple[float, int] | None = None
    efforts = [cost(k) for k in keys]
    for i, effort_here in enumerate(efforts):
        worth = float(bits[i]) / effort_here
        if bits[i] > LEAST_BITS and (best is None or worth > best[0] + 1e-9):
            best = worth, i
    if best is None:
        return None
    i = best[1]
    return Check(keys[i], float(bits[i]), efforts[i], _readings(counted, shows[:, i], nodes[keys[i]]))


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


def _shown(ranking: Ranking, counted: Sequence[Suspect], nodes: Sequence[int]) -> NDArray[np.int64]:
    """What each suspect (row) makes a meter show at each node (column), as an index into ``SHOWN``."""
    full = ranking.circuit.values.battery_volts
    volts = np.stack([s.solution.volts[list(nodes)] for s in counted if s.solution is not None])
    return np.digitize(volts, [DEAD_SHARE * full, LIVE_SHARE * full])


def _readings(counted: Sequence[Suspect], shows: NDArray[np.int64], node: int) -> tuple[Reading, ...]:
    """The readings of one check, the live one first."""
    made = []
    for n in reversed(range(len(SHOWN))):
        mine = [s for s, shown in zip(counted, shows, strict=True) if shown == n]
        volts = [
            float(s.solution.volts[node])
            for i, s in enumerate(mine) if s.solution is not None and (i == 0 or s.probability >= COUNTED)
        ]  # fmt: skip
        if mine:
            ids = tuple(s.fault.id for s in mine if s.fault is not None)
            made.append(Reading(SHOWN[n], sum(s.probability for s in mine), ids, (min(volts), max(volts))))
    return tuple(made)
