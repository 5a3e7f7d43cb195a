"""What is known of wire codes before they are read, and how the codes of one circuit speak for each other.

Wires that meet at splices are mostly of one circuit and often of one colour and size. How often is not assumed: it is
counted in this manual, over the wires whose codes are sure, and only then used for the doubtful ones.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from itertools import combinations

from digitize.harness.claim import Claim
from digitize.harness.model import WireCode
from digitize.legend.codes import parse_code
from digitize.legend.conventions import Conventions
from digitize.wiring.binding_wires import Strand
from digitize.wiring.evidence import NO_LIFT, Lift

ONE_CODE = 1e-3
"""Prior of one code: a manual has hundreds (common practice, no source)."""

FIELDS = ("circuit", "number", "gauge", "colour", "tracer")
SURE = 0.95
FEWEST_PAIRS = 12
"""So many sure pairs must have been counted before neighbours speak for each other."""


@dataclass(frozen=True, slots=True)
class CodeSense:
    """Codes under one manual's conventions, each taken apart once."""

    conventions: Conventions
    parsed: dict[str, WireCode | None] = field(default_factory=dict)

    def parse(self, text: str) -> WireCode | None:
        """``parse_code``, remembered."""
        if text not in self.parsed:
            self.parsed[text] = parse_code(text, self.conventions)
        return self.parsed[text]

    @staticmethod
    def prior(text: str) -> float:
        """The chance of a code before it is read; the same for every string."""
        del text
        return ONE_CODE

    def fits(self, text: str) -> float:
        """How many times likelier a string is for fitting the stated pattern and tables; 1 when nothing is stated."""
        if not self.conventions.code.pattern:
            return 1.0
        code = self.parse(text)
        if code is None:
            return 0.02
        known = (
            (code.circuit, self.conventions.circuits),
            (code.gauge, self.conventions.gauges.sizes),
            (code.colour, self.conventions.colours),
            (code.tracer, self.conventions.colours),
        )
        return 1.0 if all(value is None or not table or value in table for value, table in known) else 0.1

    def lift(self) -> Lift:
        """Only what the conventions say."""
        return Lift(self.fits)

    def same_id(self, a: str, b: str) -> bool:
        """Two different codes with one circuit, number and segment: size or colour must be a mistake."""
        one, other = self.parse(a), self.parse(b)
        if a == b or one is None or other is None or one.number is None:
            return False
        return (one.circuit, one.number, one.segment) == (other.circuit, other.number, other.segment)


def neighbour_lifts(strands: Sequence[Strand], claims: Mapping[str, Claim], codes: CodeSense) -> dict[str, Lift]:
    """For each doubtful wire that meets others at splices, what their codes make likely. Absent: nothing is known."""
    groups = _groups(strands)
    rates, spread = _rates(groups, claims, codes)
    if not rates:
        return {}
    lifts = {}
    for group in groups:
        for id_ in group:
            claim = claims[id_]
            if claim.value is None or claim.probability >= SURE:
                continue
            others = [claims[o] for o in group if o != id_ and claims[o].value is not None]
            lift = _lift(claim, others, rates, spread, codes)
            if lift is not NO_LIFT:
                lifts[id_] = lift
    return lifts


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


def _value(code: WireCode, name: str) -> str:
    return getattr(code, name) or ""


def _rates(
    groups: list[list[str]], claims: Mapping[str, Claim], codes: CodeSense
) -> tuple[dict[str, float], dict[str, float]]:
    """For each field how often two sure neighbours share it, and how often any two sure wires do."""
    same: Counter[str] = Counter()
    pairs = 0
    sure: list[WireCode] = []
    for group in groups:
        here = []
        for id_ in group:
            c = claims[id_]
            code = codes.parse(c.value) if c.value is not None and c.probability >= SURE else None
            if code is not None:
                here.append(code)
        sure += here
        for a, b in combinations(here, 2):
            pairs += 1
            same.update(f for f in FIELDS if _value(a, f) == _value(b, f))
    if pairs < FEWEST_PAIRS:
        return {}, {}
    rates = {f: (same[f] + 1) / (pairs + 2) for f in FIELDS}
    spread = {}
    for f in FIELDS:
        counts = Counter(_value(c, f) for c in sure)
        total = sum(counts.values())
        spread[f] = max(sum((n / total) ** 2 for n in counts.values()), 0.01)
    return rates, spread


def _lift(
    claim: Claim, others: Sequence[Claim], rates: Mapping[str, float], spread: Mapping[str, float], codes: CodeSense
) -> Lift:
    """A factor for each field: shared with the neighbours at the counted rate, against shared by chance."""
    weights: dict[str, dict[str, float]] = {f: defaultdict(float) for f in FIELDS}
    for o in others:
        code = codes.parse(o.value or "")
        if code is not None:
            for f in FIELDS:
                weights[f][_value(code, f)] += o.probability
    if not any(weights.values()):
        return NO_LIFT
    totals = {f: sum(w.values()) for f, w in weights.items()}

    def of(text: str) -> float:
        code = codes.parse(text)
        if code is None:
            return codes.fits(text)
        factor = codes.fits(text)
        for f in FIELDS:
            share = weights[f].get(_value(code, f), 0.0) / totals[f] if totals[f] else 0.0
            trust = min(1.0, totals[f])
            near = rates[f] * share / max(spread[f], 1e-3) + (1.0 - rates[f])
            factor *= trust * near + 1.0 - trust
        return min(max(factor, 1e-3), 1e4)

    top = codes.parse(claim.value or "")
    also = tuple(sorted(_mended(top, weights))) if top is not None else ()
    return Lift(of, 1.0, also)


def _mended(code: WireCode, weights: Mapping[str, Mapping[str, float]]) -> set[str]:
    """The printed string with one field, or colour and size, put as the neighbours have it."""
    out = set()
    for f in FIELDS:
        mine = _value(code, f)
        if not mine or code.printed.count(mine) != 1:
            continue
        for theirs in weights[f]:
            if theirs and theirs != mine:
                out.add(code.printed.replace(mine, theirs))
    return out
