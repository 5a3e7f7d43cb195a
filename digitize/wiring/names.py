"""Which printed name belongs to which part: lines of lettering are stacked to names, names are given to bodies."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.optimize import linear_sum_assignment

from digitize.harness.claim import Alternative, Claim, Evidence
from digitize.harness.place import Box, Place
from digitize.ink.state import Symbol
from digitize.reading.alphabet import folded
from digitize.reading.state import ReadText

BY = "wiring 0.1.0"
_AWAY = 9.0
"""A name stands at most so far from its part, mm."""
_ROOMY = (
    "module",
    "relay",
    "switch",
    "gauge",
    "alternator",
    "starter_solenoid",
    "motor",
    "battery",
    "unknown",
    "fuse_block",
    "coil",
)
"""Kinds whose body may hold their name."""


@dataclass(frozen=True, slots=True)
class Name:
    """One or several lines of lettering that make a name.

    ``texts``: their positions, in reading order; ``letters``: how many letters (no digits) the name has.
    """

    texts: tuple[int, ...]
    box: Box
    letters: int


def stack_names(words: Sequence[tuple[int, ReadText]]) -> tuple[Name, ...]:
    """Stack lines of lettering that stand right above each other, in one size and on one axis or one margin."""
    groups: list[list[tuple[int, ReadText]]] = []
    for item in sorted(words, key=lambda w: (w[1].box.y0, w[1].box.x0)):
        fitting = [g for g in groups if _goes_on(g[-1][1], item[1])]
        if fitting:
            min(fitting, key=lambda g: abs(g[-1][1].box.centre[0] - item[1].box.centre[0])).append(item)
        else:
            groups.append([item])
    out = []
    for g in groups:
        boxes = [t.box for _, t in g]
        box = Box.enclosing(boxes)
        out.append(Name(tuple(k for k, _ in g), box, sum(c.isalpha() for _, t in g for c in t.text)))
    return tuple(out)


def _goes_on(upper: ReadText, lower: ReadText) -> bool:
    a, b = upper.box, lower.box
    if upper.angle != 0 or lower.angle != 0:
        return False
    height = (a.height + b.height) / 2
    gap = b.y0 - a.y1
    if not -0.2 * height <= gap <= 0.95 * height or abs(a.height - b.height) > 0.35 * height:
        return False
    shift = min(abs(a.centre[0] - b.centre[0]), abs(a.x0 - b.x0), abs(a.x1 - b.x1))
    return shift <= 0.6 * height and min(a.x1, b.x1) > max(a.x0, b.x0)


def give_names(names: Sequence[Name], bodies: Sequence[Symbol]) -> dict[int, int]:
    """Body → name (positions), so that the sum of distances is least.

    Connectors, grounds, grommets and fuses in blocks get none here. Solved as an assignment (Kuhn 1955, as in scipy): a greedy choice gives a name to the nearer of two lamps and leaves
    the other without.
    """
    takers = [
        k for k, b in enumerate(bodies) if b.kind not in ("connector", "ground", "grommet") and not _in_block(b, bodies)
    ]
    if not takers or not names:
        return {}
    cost = np.full((len(takers), len(names) + len(takers)), _AWAY)
    for i, k in enumerate(takers):
        for j, n in enumerate(names):
            cost[i, j] = min(_cost(n, bodies[k]), 4 * _AWAY)
    rows, cols = linear_sum_assignment(cost)
    return {takers[i]: int(j) for i, j in zip(rows, cols, strict=True) if j < len(names) and cost[i, j] < _AWAY}


def _in_block(body: Symbol, bodies: Sequence[Symbol]) -> bool:
    """True for a fuse inside a larger part: it has a number there, no name."""
    if body.kind not in ("fuse", "circuit_breaker"):
        return False
    return any(b is not body and b.box.holds(body.box.centre) and b.box.width > body.box.width for b in bodies)


def _cost(name: Name, body: Symbol) -> float:
    """Distance between a name and a body, mm; less when the name is above, or inside a body that holds names."""
    a, b = name.box, body.box
    if b.holds(a.centre):
        roomy = body.kind in _ROOMY and a.width < b.width and name.letters >= 3
        return 0.0 if roomy else 3.0 if abs(a.centre[1] - b.centre[1]) > 0.25 * b.height else 4 * _AWAY
    dx = max(a.x0 - b.x1, b.x0 - a.x1, 0.0)
    dy = max(a.y0 - b.y1, b.y0 - a.y1, 0.0)
    middle = abs(a.centre[0] - b.centre[0]) if dy > 0 else abs(a.centre[1] - b.centre[1])
    above = -0.6 if a.y1 <= b.y0 + 0.5 else 0.0
    return math.hypot(dx, dy) + 0.12 * middle + above + 0.7


def _spelt(text: str) -> str:
    """What two spellings of one reading have in common: a reader tells capitals and points only, the conventions the rest."""
    return folded(text).replace(" ", "").replace(",", ".")


def claim_of(texts: Sequence[ReadText], sheet: str, kind: str | None = None) -> Claim:
    """One claim from the lines of a label, joined by spaces.

    ``kind`` reads every line along that grammar where it fits; without it the best reading counts. The probability is
    the product over the lines; alternatives vary one line at a time.
    """
    ranked: list[tuple[Alternative, ...]] = []
    for t in texts:
        own = t.of_kind(kind) if kind else ()
        best = (Alternative(t.text, t.probability),)
        others = (a for a in t.free if _spelt(a.text) != _spelt(t.text))
        choices = own if own and sum(a.probability for a in own) > 0.02 else (*best, *others)
        ranked.append(tuple(choices[:5]))
    if not ranked or any(not r or not r[0].text for r in ranked):
        return Claim.unread(0.5)
    value = " ".join(r[0].text for r in ranked)
    probability = math.prod(r[0].probability for r in ranked)
    alternatives = [Alternative(value, probability)]
    for i, r in enumerate(ranked):
        for other in r[1:]:
            text = " ".join(other.text if j == i else q[0].text for j, q in enumerate(ranked))
            p = math.prod(other.probability if j == i else q[0].probability for j, q in enumerate(ranked))
            alternatives.append(Alternative(text, p))
    alternatives.sort(key=lambda a: -a.probability)
    boxes = [t.box for t in texts]
    box = Box.enclosing(boxes)
    by = f"{BY} from {'+'.join(sorted({r for t in texts for r in t.readers}))}"
    return Claim(
        value, probability, tuple(alternatives[:6]), (Evidence("read", value, probability, by, Place(sheet, box)),)
    )
