"""The manual's own habits as evidence for codes that are hard to read.

Codes repeat, and their slots have small alphabets: a circuit and number that stand on one wire mostly stand on others
too, with the same size and colour; wires that meet at splices are mostly of one circuit. Nothing of that is assumed. It
is counted over the wires of this manual whose codes are sure, each left out of its own count, and used for the doubtful
ones as the ratio of two chances: of this string for this wire, and of this string for any wire.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

from digitize.harness.claim import Claim
from digitize.harness.model import WireCode
from digitize.wiring.binding_wires import Strand
from digitize.wiring.evidence import Lift
from digitize.wiring.evidence_codes import CodeSense

SURE = 0.95
FEWEST_PAIRS = 12
"""So many sure pairs of neighbours must have been counted before neighbours speak for each other."""
FEWEST_CODES = 25
"""So many sure codes must there be before habits speak."""
STRONGEST = 60.0
"""No habit makes a string more than so many times likelier, or less likely."""

Slot = Callable[[WireCode], object]


def _id(code: WireCode) -> object:
    return (code.circuit, code.number)


def _look(code: WireCode) -> object:
    return (code.gauge, code.colour, code.tracer)


def _all(code: WireCode) -> object:
    return (_id(code), _look(code))


@dataclass(frozen=True, slots=True)
class Habits:
    """What was counted over sure codes: how often each segment, each circuit with number, each look of one."""

    total: int
    segments: Counter[str]
    ids: Counter[object]
    looks: Mapping[object, Counter[object]]
    known_id: float
    known_look: float

    @staticmethod
    def of(codes: Sequence[WireCode]) -> Habits | None:
        """None when there are too few sure codes."""
        if len(codes) < FEWEST_CODES:
            return None
        ids = Counter(_id(c) for c in codes)
        looks: dict[object, Counter[object]] = defaultdict(Counter)
        for c in codes:
            looks[_id(c)][_look(c)] += 1
        again = [c for c in codes if ids[_id(c)] > 1]
        same = sum(looks[_id(c)][_look(c)] > 1 for c in again)
        return Habits(
            len(codes),
            Counter(c.segment or "" for c in codes),
            ids,
            looks,
            (len(again) + 1) / (len(codes) + 2),
            (same + 1) / (len(again) + 2),
        )

    def factor(self, code: WireCode) -> float:
        """How much likelier this code is than its slots would have it if any value were as good."""
        seen = self.segments
        kinds = len(seen) + 5
        factor = _held((seen[code.segment or ""] + 0.5) / (self.total + 0.5 * kinds) * kinds)
        if code.number is None:
            return factor
        # An id is one of thousands that the slots allow; a few dozen are in use.
        known = self.ids[_id(code)] > 0
        factor *= _held(self.known_id * 1000.0 / len(self.ids) if known else 1.0 - self.known_id)
        if known:
            here = self.looks[_id(code)]
            usual = here[_look(code)] > 0
            factor *= _held(self.known_look * 100.0 / len(here) if usual else 1.0 - self.known_look)
        return factor


@dataclass(frozen=True, slots=True)
class Neighbours:
    """What two wires at one splice share, as events that exclude each other: everything, the id alone, the look alone.

    ``rates``: how often two sure neighbours share that; ``chances``: how often any two sure wires do.
    """

    rates: tuple[float, float, float]
    chances: tuple[float, float, float]

    @staticmethod
    def of(groups: Sequence[Sequence[WireCode]], codes: Sequence[WireCode]) -> Neighbours | None:
        """None when too few sure pairs stand at splices."""
        pairs = [p for group in groups for p in combinations(group, 2)]
        if len(pairs) < FEWEST_PAIRS:
            return None
        everything = sum(_all(a) == _all(b) for a, b in pairs)
        ids = sum(_id(a) == _id(b) for a, b in pairs) - everything
        looks = sum(_look(a) == _look(b) for a, b in pairs) - everything
        rates = tuple((n + 0.5) / (len(pairs) + 2.0) for n in (everything, ids, looks))
        return Neighbours(
            (rates[0], rates[1], rates[2]), (_twins(codes, _all), _twins(codes, _id), _twins(codes, _look))
        )

    def factor(self, code: WireCode, others: Sequence[tuple[WireCode, float]]) -> float:
        """Against "any wire", given the neighbours' codes with their chances."""
        total = sum(p for _, p in others)
        if total <= 0.0:
            return 1.0
        factor = 1.0 - sum(self.rates)
        for slot, rate, chance in zip((_all, _id, _look), self.rates, self.chances, strict=True):
            share = sum(p for o, p in others if slot(o) == slot(code)) / total
            factor += rate * share / chance
        trust = min(1.0, total)
        return _held(trust * factor + 1.0 - trust)


def _twins(codes: Sequence[WireCode], slot: Slot) -> float:
    counts = Counter(slot(c) for c in codes)
    return max(sum((n / len(codes)) ** 2 for n in counts.values()), 0.005)


def _held(factor: float) -> float:
    return min(max(factor, 1.0 / STRONGEST), STRONGEST)


def habit_lifts(strands: Sequence[Strand], claims: Mapping[str, Claim], codes: CodeSense) -> dict[str, Lift]:
    """For each wire with a doubtful code, what the manual's habits and its neighbours make of each string."""
    groups = _groups(strands)
    sure = {i: c for i, claim in claims.items() if (c := _sure(claim, codes)) is not None}
    at_hand = [sure[i] for i in sorted(sure)]
    habits = Habits.of(at_hand)
    near = Neighbours.of([[sure[i] for i in g if i in sure] for g in groups], at_hand)
    if habits is None and near is None:
        return {}
    group_of = {i: g for g in groups for i in g}
    believed = {s.id: s.probability for s in strands}
    lifts = {}
    for id_, claim in claims.items():
        if claim.value is None or id_ in sure:
            continue
        others = []
        for other in group_of.get(id_, ()):
            code = codes.parse(claims[other].value or "") if other != id_ else None
            if code is not None:
                # A wrong join makes wrong neighbours.
                others.append((code, claims[other].probability * believed[other] * believed[id_]))
        lifts[id_] = _lift(claim, others, habits, near, codes)
    return lifts


def _sure(claim: Claim, codes: CodeSense) -> WireCode | None:
    return codes.parse(claim.value) if claim.value is not None and claim.probability >= SURE else None


def _lift(
    claim: Claim,
    others: Sequence[tuple[WireCode, float]],
    habits: Habits | None,
    near: Neighbours | None,
    codes: CodeSense,
) -> Lift:
    def of(text: str) -> float:
        factor = codes.fits(text)
        code = codes.parse(text)
        if code is None:
            return factor
        if habits is not None:
            factor *= habits.factor(code)
        if near is not None:
            factor *= near.factor(code, others)
        return factor

    top = codes.parse(claim.value or "")
    return Lift(of, 1.0, tuple(sorted(_mended(top, [o for o, _ in others]))) if top is not None else ())


def _mended(code: WireCode, others: Sequence[WireCode]) -> set[str]:
    """The printed string with one field put as a neighbour has it."""
    out = set()
    for other in others:
        for name in ("circuit", "number", "gauge", "colour", "tracer"):
            mine, theirs = getattr(code, name), getattr(other, name)
            if mine and theirs and mine != theirs and code.printed.count(mine) == 1:
                out.add(code.printed.replace(mine, theirs))
    return out


def _groups(strands: Sequence[Strand]) -> list[list[str]]:
    """Ids of wires that hang together through splices alone, two and more."""
    at: dict[str, list[str]] = defaultdict(list)
    for s in strands:
        for end in s.ends:
            if end.terminal == "*" and end.node is not None:
                at[end.node].append(s.id)
    root = {s.id: s.id for s in strands}

    def find(i: str) -> str:
        while root[i] != i:
            root[i] = root[root[i]]
            i = root[i]
        return i

    for node in sorted(at):
        for other in at[node][1:]:
            a, b = sorted((find(at[node][0]), find(other)))
            root[b] = a
    groups: dict[str, list[str]] = defaultdict(list)
    for s in strands:
        groups[find(s.id)].append(s.id)
    return [sorted(g) for _, g in sorted(groups.items()) if len(g) > 1]
