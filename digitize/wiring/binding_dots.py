"""Dots at which only two runs meet: mostly no splice but ink on a line (an arrowhead at the page edge, a worn corner).

A splice joins three conductors or more. Where a doubtful dot joins two runs whose codes do not speak against it, the two
are taken for one conductor and the dot is left out. A sure dot stays and becomes a finding.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from networkx.utils import UnionFind

from digitize.harness.claim import Claim
from digitize.harness.place import Box
from digitize.wiring.binding_names import place_on
from digitize.wiring.evidence import Prior, Reading, agreement, pool, reading_of, with_place
from digitize.wiring.state import Run, SheetWiring

Local = tuple[str, str]
"""(sheet id, id on that sheet)."""

Tip = tuple[Local, int]
"""A run and one of its ends (0 or 1)."""

SURE_DOT = 0.9
AGAINST = 0.5
"""Bayes factor of the two runs' codes below which they are two wires."""


@dataclass(frozen=True, slots=True)
class PassedDots:
    """``through`` leads from a run's end at such a dot to the end of the other run there, both ways."""

    through: Mapping[Tip, Tip]
    dots: frozenset[Local]


def code_reading(claim: Claim, belongs: float, sheet: SheetWiring, box: Box) -> Reading | None:
    """One printed code as a reading, with its place put into evidence that has none."""
    return reading_of(claim, belongs, with_place(claim.evidence, place_on(sheet.facts, box)))


def code_readings(run: Run, sheet: SheetWiring) -> list[Reading]:
    """Every code printed along one run."""
    return [r for c in run.codes if (r := code_reading(c.claim, c.belongs, sheet, c.box)) is not None]


def pooled(readings: Sequence[Reading], prior: Prior) -> Reading | None:
    """Several readings of one code as one; None when there are none."""
    return Reading(pool(readings, prior), 1.0) if readings else None


def passed_dots(sheets: Sequence[SheetWiring], prior: Prior) -> PassedDots:
    """All such dots of all sheets; the order of anything does not matter."""
    through: dict[Tip, Tip] = {}
    dots: set[Local] = set()
    for sheet in sheets:
        name = sheet.facts.sheet
        doubtful = {s.id: s for s in sheet.splices if s.probability < SURE_DOT}
        meeting: dict[str, list[tuple[Run, int]]] = defaultdict(list)
        for run in sheet.runs:
            for i, end in enumerate(run.ends):
                if end.kind == "splice" and end.node in doubtful:
                    meeting[end.node].append((run, i))
        joined = UnionFind(r.id for r in sheet.runs)
        # the most doubtful first: where they close a ring of runs the surest stays, so that the ring has ends
        for dot in sorted(meeting, key=lambda d: (doubtful[d].probability, doubtful[d].at, d)):
            tips = meeting[dot]
            if len(tips) != 2 or joined[tips[0][0].id] == joined[tips[1][0].id]:
                continue
            (a, i), (b, j) = tips
            codes = [pooled(code_readings(r, sheet), prior) for r in (a, b)]
            if agreement(codes[0], codes[1], prior) >= AGAINST:
                one, other = ((name, a.id), i), ((name, b.id), j)
                through[one], through[other] = other, one
                dots.add((name, dot))
                joined.union(a.id, b.id)
    return PassedDots(through, frozenset(dots))


def chain_from(tip: Tip, passed: PassedDots) -> list[Local]:
    """The run of ``tip`` and all that follow it from there over passed dots, nearest first."""
    chain: list[Local] = []
    here: Tip | None = tip
    while here is not None and here[0] not in chain:
        chain.append(here[0])
        here = passed.through.get((here[0], 1 - here[1]))
    return chain
