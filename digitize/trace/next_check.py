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

STEP_SHARE = 0.04
"""Share of the battery's voltage by which readings on both sides of an edge must differ, to be called by two words (own choice)."""

GAP_SHARE = 0.1
"""Share of the battery's voltage by which two figures must differ to be told apart with certainty (own choice)."""

LEAST_BITS = 0.1
"""A check that is expected to tell less is not proposed."""

RELEVANT = 0.02
"""Share of the likeliest suspect's probability from which a check is worth making to tell a suspect from it (own choice)."""

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
    full = ranking.circuit.values.battery_volts
    volts = np.stack([s.solution.volts[[nodes[k] for k in keys]] for s in counted if s.solution is not None])
    chances = np.array([s.probability for s in counted])
    likely = chances >= RELEVANT * chances.max()
    words = _in_words(volts, likely, (DEAD_SHARE * full, LIVE_SHARE * full), STEP_SHARE * full)
    relevant = np.where(likely, chances, 0.0)
    # in words first; by the meter's figure when words do not tell the likely suspects apart; then for the unlikely ones
    for weights, figures in ((relevant, False), (relevant, True), (chances, False)):
        shows = _by_figure(volts, likely, GAP_SHARE * full) if figures else words
        check = _best(keys, shows, weights, cost)
        if check is not None:
            i, bits = check
            return Check(keys[i], bits, cost(keys[i]), _readings(ranking, counted, shows[:, i], volts[:, i]))
    return None


def _in_words(
    volts: NDArray[np.float64], likely: NDArray[np.bool_], edges: Sequence[float], step: float
) -> NDArray[np.int64]:
    """Dead 0, between 1, live 2 at each point (column); an edge that only splits figures within ``step`` V counts for nothing."""
    shows = np.zeros(volts.shape, dtype=np.int64)
    for edge in edges:
        over = volts >= edge
        above = np.where(over & likely[:, None], volts, np.inf).min(axis=0)
        below = np.where(~over & likely[:, None], volts, -np.inf).max(axis=0)
        shows += over & (above - below >= step)
    return shows


def _by_figure(volts: NDArray[np.float64], likely: NDArray[np.bool_], gap: float) -> NDArray[np.int64]:
    """Groups of readings at each point (column): more than ``gap`` V lies between the figures of two likely suspects."""
    shows = np.zeros(volts.shape, dtype=np.int64)
    for i in range(volts.shape[1]):
        rising = np.sort(volts[likely, i])
        steps = np.diff(rising)
        wide = steps > gap
        if not wide.any() and rising[-1] - rising[0] > gap:
            wide = steps == steps.max()  # no clear gap, but the ends are far enough apart: split at the widest step
        shows[:, i] = np.digitize(volts[:, i], (rising[:-1][wide] + rising[1:][wide]) / 2)
    return shows


def _best(
    keys: Sequence[Key], shows: NDArray[np.int64], chances: NDArray[np.float64], cost: Callable[[Key], float]
) -> tuple[int, float] | None:
    """(index of the best point, expected bits); None when no point tells enough."""
    shares = np.stack([(shows == n).T @ chances for n in range(int(shows.max()) + 1)])  # by what is shown and point
    told = shares.sum(axis=0)
    part = np.divide(shares, told, out=np.zeros_like(shares), where=told > 0)
    logs = np.log2(part, out=np.zeros_like(part), where=part > 0)
    bits = -(part * logs).sum(axis=0) * told
    best: tuple[float, int] | None = None
    for i, key in enumerate(keys):
        worth = float(bits[i]) / cost(key)
        if bits[i] > LEAST_BITS and (best is None or worth > best[0] + 1e-9):
            best = worth, i
    return None if best is None else (best[1], float(bits[best[1]]))


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


def shown(ranking: Ranking, volts: float) -> str:
    """``live``, ``between`` or ``dead``: what a reading of ``volts`` V counts as."""
    full = ranking.circuit.values.battery_volts
    return SHOWN[int(np.digitize(volts, [DEAD_SHARE * full, LIVE_SHARE * full]))]


def _readings(
    ranking: Ranking, counted: Sequence[Suspect], shows: NDArray[np.int64], volts: NDArray[np.float64]
) -> tuple[Reading, ...]:
    """The readings of one check, the highest first."""
    made = []
    for n in sorted(set(shows.tolist()), reverse=True):
        mine = [(s, float(v)) for s, shown_here, v in zip(counted, shows, volts, strict=True) if shown_here == n]
        told = [v for i, (s, v) in enumerate(mine) if i == 0 or s.probability >= COUNTED]
        ids = tuple(s.fault.id for s, _ in mine if s.fault is not None)
        chance = sum(s.probability for s, _ in mine)
        made.append(Reading(shown(ranking, sum(told) / len(told)), chance, ids, (min(told), max(told))))
    return tuple(made)
