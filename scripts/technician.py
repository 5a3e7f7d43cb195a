"""A simulated technician: sees which loads work, makes every check that is proposed, and is to find the fault planted.

Used by ``scripts/bench ask`` and by the tests. What the meter reads is the solution of the circuit with the planted fault.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import cache

from digitize.harness.graph import Key
from digitize.trace.circuit import Circuit, Solution
from digitize.trace.faults import (
    DARK_SHARE,
    WORKS_SHARE,
    Fault,
    Ranking,
    Reads,
    Statement,
    Works,
    power_share,
    rank,
)
from digitize.trace.next_check import DEAD_SHARE, GAP_SHARE, LIVE_SHARE, next_check, reachable

SETTLED = 0.95
"""The technician stops when one suspect is as probable as this."""

MOST_CHECKS = 25

CLOSE = 0.25
"""Suspects with this share of the best one's probability are still looked at by hand; the fault must be among them."""


@dataclass(frozen=True, slots=True)
class Search:
    """One planted fault: whether it was found, after how many checks, and what was left at the end."""

    planted: Fault
    found: bool
    checks: int
    left: tuple[str, ...]


def searches(circuit: Circuit, faults: Sequence[Fault] | None = None) -> Iterator[Search]:
    """A search for every fault that a person can see anything of; ``faults``: all of the circuit's when left out."""
    base = rank(circuit, [])
    solved = {
        s.fault.id: (s.fault, s.solution) for s in base.suspects if s.fault is not None and s.solution is not None
    }
    points = reachable(base)
    wanted = set(solved) if faults is None else {f.id for f in faults}
    for planted, truth in (solved[k] for k in sorted(wanted)):
        said = what_is_seen(circuit, base.healthy, truth)
        if all(s.works for s in said):
            continue  # nothing is wrong that a person could see
        ranking, checks = search(circuit, base, truth, said, points)
        best = ranking.suspects[0].probability
        left = [s.fault for s in ranking.suspects if s.fault is not None and s.probability > CLOSE * best]
        found = any(f.id == planted.id or alike(circuit, solved[f.id][1], truth, points) for f in left)
        yield Search(planted, found, checks, tuple(f.id for f in left))


def what_is_seen(circuit: Circuit, healthy: Solution, truth: Solution) -> list[Works]:
    """Which loads are lit and which are dark; what glows weakly is not spoken of."""
    found = []
    for part in sorted(circuit.consumers):
        share = power_share(circuit, healthy, truth, part)
        if share is not None and not DARK_SHARE <= share <= WORKS_SHARE:
            found.append(Works(part, share > WORKS_SHARE))
    return found


def search(
    circuit: Circuit, base: Ranking, truth: Solution, said: Sequence[Statement], points: Sequence[Key]
) -> tuple[Ranking, int]:
    """(the ranking at the end, checks made)."""
    statements, open_points = list(said), list(points)
    ranking = rank(circuit, statements, known=base)
    checks = 0
    while checks < MOST_CHECKS and (ranking.suspects[0].fault is None or ranking.suspects[0].probability < SETTLED):
        check = next_check(ranking, open_points)
        if check is None:
            break
        open_points.remove(check.key)
        statements.append(Reads(check.key, circuit.volts_at(truth, check.key) or 0.0))
        ranking = rank(circuit, statements, known=base)
        checks += 1
    return ranking, checks


def alike(circuit: Circuit, one: Solution, other: Solution, points: Sequence[Key]) -> bool:
    """Whether no meter on any point tells two solutions apart."""
    near = GAP_SHARE * circuit.values.battery_volts + 0.05
    return all(abs(one.volts[circuit.nodes[p]] - other.volts[circuit.nodes[p]]) < near for p in points)


@dataclass(frozen=True, slots=True)
class Checks:
    """Checks needed for all planted faults together: ours, and the fewest that any order of checks needs."""

    faults: int
    ours: int
    optimum: int


def against_every_order(circuit: Circuit) -> Checks:
    """Our checks against the best of all trees of checks, found by trying every one; equal effort, equally likely faults.

    Exponential in the points that tell suspects apart: for small circuits only.
    """
    healthy_ranking = rank(circuit, [])
    points = reachable(healthy_ranking)
    solved = {s.fault: s.solution for s in healthy_ranking.suspects if s.fault is not None and s.solution is not None}
    full = circuit.values.battery_volts

    def shows(f: Fault, p: Key) -> int:
        volts = float(solved[f].volts[circuit.nodes[p]])
        return 2 if volts >= LIVE_SHARE * full else 0 if volts < DEAD_SHARE * full else 1

    seen: dict[tuple[bool, ...], list[Fault]] = {}
    for f, s in solved.items():
        works = [power_share(circuit, healthy_ranking.healthy, s, p) for p in sorted(circuit.consumers)]
        seen.setdefault(tuple(w is None or w > WORKS_SHARE for w in works), []).append(f)
    total = ours = best = 0
    for lit, faults in seen.items():
        if all(lit):
            continue
        signs = {f: tuple(shows(f, p) for p in points) for f in faults}
        best += fewest(signs)
        total += len(faults)
        ours += sum(_ours(circuit, planted, signs, points) for planted in faults)
    return Checks(total, ours, best)


def fewest(signs: dict[Fault, tuple[int, ...]]) -> int:
    """Checks of the best tree, summed over the faults: which point to look at first, tried for every set that can be left."""
    alike_ones: dict[tuple[int, ...], int] = {}
    for s in signs.values():
        alike_ones[s] = alike_ones.get(s, 0) + 1
    wide = range(len(next(iter(signs.values()))))

    @cache
    def cost(left: frozenset[tuple[int, ...]]) -> float:
        if len(left) <= 1:
            return 0
        cheapest = math.inf
        for splits in {tuple(frozenset(s for s in left if s[n] == v) for v in (0, 1, 2)) for n in wide}:
            parts = [p for p in splits if p]
            if len(parts) > 1:
                cheapest = min(cheapest, sum(alike_ones[s] for s in left) + sum(cost(p) for p in parts))
        return cheapest

    return int(cost(frozenset(alike_ones)))


def _ours(circuit: Circuit, planted: Fault, signs: dict[Fault, tuple[int, ...]], points: Sequence[Key]) -> int:
    """Checks that our order makes until only faults that no check tells apart are left."""
    equal: Callable[[Key], float] = lambda _: 1.0  # noqa: E731
    at = {p: n for n, p in enumerate(points)}
    left = list(signs)
    made = 0
    while len({signs[f] for f in left}) > 1:
        level = [Fault(f.id, f.kind, f.by, f.key, f.change, 1.0) for f in left]
        check = next_check(rank(circuit, [], level), points, equal)
        assert check is not None, "faults that read differently somewhere have a check that tells them apart"
        left = [f for f in left if signs[f][at[check.key]] == signs[planted][at[check.key]]]
        made += 1
    return made
