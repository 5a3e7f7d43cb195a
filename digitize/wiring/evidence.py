"""Many readings of one fact become one posterior.

The model is naive Bayes over strings with a chance that a reading is about something else (a two-part mixture for each
source, as in the Dawid-Skene line of work on combining observers, *Applied Statistics* 28, 1979; pooling by products is
the logarithmic opinion pool of Genest and Zidek, *Statistical Science* 1, 1986). For a fact with prior ``π(s)`` and
readings ``i`` that give string ``s`` the probability ``p_i(s)`` and are about this fact with the chance ``b_i``::

    posterior(s)  ∝  π(s) · Π_i [ b_i · p_i(s) / π(s)  +  (1 - b_i) ]

so two readings that agree lift each other, a reading that is not about this fact changes nothing, and two sure readings
that disagree leave both doubtful. All strings that no reading lists are one rest with its own mass: a fact may be
something that nobody read.

A reader lists few alternatives. For a string that it does not list, ``p_i`` comes from a table of letters that look
alike (``confusion``). The table and the rates are common practice, no source; they are floors, not measurements.
The result never reaches 1: ``MOST_SURE`` caps what a machine may claim.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from rapidfuzz.distance import Levenshtein
from scipy.optimize import linear_sum_assignment

from digitize.harness.claim import Alternative, Claim, Evidence
from digitize.harness.place import Place

MOST_SURE = 0.998
"""Highest probability a machine gives: 1 in 500 is wrong for reasons the model does not know."""

LIKE_LETTERS = ("0ODQ", "1ILT7", "5S", "8B3", "6GC", "2Z", "UV", "EF", "MNW", "4A", "RKP", "HN", "XY")
"""Groups of characters that print alike when small."""

_LIKE = {(a, b) for group in LIKE_LETTERS for a in group for b in group if a != b}
_LIKE_COST = -math.log(0.02)
_OTHER_COST = -math.log(0.002)
_LOST_COST = -math.log(0.004)
_NEXT_LOST_COST = -math.log(0.2)
MOST_EDITS = 5
"""Strings that differ in more letters are never one misread for the other."""

LISTED = 0.05
"""Of several readings at least one must give a string so much to make it a candidate."""

Prior = Callable[[str], float]
"""The chance of a string before anything is read; tiny for each, since there are many."""


@dataclass(frozen=True, slots=True)
class Reading:
    """One source's word about one fact.

    ``alternatives`` ranked, over all strings (they may sum to less than 1); ``belongs`` the chance that the source is
    about this fact and tells the truth; ``evidence`` what is kept of it.
    """

    alternatives: tuple[Alternative, ...]
    belongs: float
    evidence: tuple[Evidence, ...] = ()

    def chance(self, text: str) -> float:
        """``p_i(text)``: listed, or the share of the rest that look-alike letters give to a string that is not listed.

        The share is ``confusion`` over the confusion of all strings together, about 0.1 for each letter.
        """
        for a in self.alternatives:
            if a.text == text:
                return a.probability
        shares = (confusion(a.text, text) / max(0.1 * len(a.text), 0.2) for a in self.alternatives[:4])
        return self.rest * min(1.0, max(shares, default=0.0))

    @property
    def rest(self) -> float:
        """Mass on strings that are not listed."""
        return max(1.0 - sum(a.probability for a in self.alternatives), 0.001)


@lru_cache(maxsize=200_000)
def confusion(printed: str, read: str) -> float:
    """The chance to read ``read`` for ``printed`` (or the other way round), 0..1: a price for each edit.

    Letters that are lost side by side are mostly lost together, so each after the first costs little.
    """
    if printed == read:
        return 1.0
    one, other = sorted((printed, read))
    if Levenshtein.distance(one, other, score_cutoff=MOST_EDITS) > MOST_EDITS:
        return 0.0
    cost = 0.0
    before: tuple[str, int, int] | None = None
    for op in Levenshtein.editops(one, other):
        tag, i, j = op.tag, op.src_pos, op.dest_pos
        if tag == "replace":
            cost += _LIKE_COST if (one[i], other[j]) in _LIKE else _OTHER_COST
        else:
            step = (i - 1, j) if tag == "delete" else (i, j - 1)
            cost += _NEXT_LOST_COST if before == (tag, *step) else _LOST_COST
        before = (tag, i, j)
    return math.exp(-cost)


def reading_of(claim: Claim, belongs: float = 1.0, kept: tuple[Evidence, ...] | None = None) -> Reading | None:
    """A claim as a reading; None when nothing was read. ``kept`` replaces the claim's own evidence."""
    alternatives = claim.alternatives
    if not alternatives:
        if claim.value is None:
            return None
        alternatives = (Alternative(claim.value, claim.probability),)
    # A calibrated first place may leave less for the others than they had: their shares are kept, their sum is not.
    first, others = alternatives[0], alternatives[1:]
    total, room = sum(a.probability for a in others), max(1.0 - first.probability, 0.0)
    if total > room:
        others = tuple(Alternative(a.text, a.probability * room / total) for a in others)
    return Reading((first, *others), belongs, claim.evidence if kept is None else kept)


@dataclass(frozen=True, slots=True)
class Lift:
    """What else is known of a fact: how many times likelier than the plain prior each string is.

    ``of`` gives that for a string, ``rest`` for all strings that nobody names; ``also`` are strings to weigh although
    no reading lists them.
    """

    of: Callable[[str], float]
    rest: float = 1.0
    also: tuple[str, ...] = ()


NO_LIFT = Lift(lambda _: 1.0)


def with_place(evidence: tuple[Evidence, ...], place: Place) -> tuple[Evidence, ...]:
    """The same evidence, with ``place`` where none was given."""
    return tuple(e if e.place is not None else replace(e, place=place) for e in evidence)


def pool(readings: Iterable[Reading], prior: Prior, lift: Lift = NO_LIFT) -> tuple[Alternative, ...]:
    """The posterior over all listed strings, ranked; sums to less than 1 by the rest's mass.

    The order of the readings does not matter. Ties are ranked by the string.
    """
    kept = sorted(readings, key=lambda r: ([(a.probability, a.text) for a in r.alternatives], r.belongs))
    # What no reading believes even a little is no candidate: else a string half way between two sure ones would win.
    least = 0.0 if len(kept) == 1 else LISTED
    named = {a.text for r in kept for a in r.alternatives if a.probability >= least or a == r.alternatives[0]}
    strings = sorted(named | set(lift.also))
    if not strings or not kept:
        return ()
    logs = {}
    for s in strings:
        p = prior(s)
        logs[s] = math.log(p * lift.of(s) + 1e-300) + sum(
            math.log(r.belongs * r.chance(s) / p + 1.0 - r.belongs + 1e-12) for r in kept
        )
    rest = math.log(lift.rest) + sum(math.log(r.belongs * r.rest + 1.0 - r.belongs + 1e-12) for r in kept)
    top = max(rest, *logs.values())
    total = math.exp(rest - top) + sum(math.exp(v - top) for v in logs.values())
    ranked = [Alternative(s, min(math.exp(v - top) / total, MOST_SURE)) for s, v in logs.items()]
    ranked.sort(key=lambda a: (-a.probability, a.text))
    return tuple(a for i, a in enumerate(ranked) if i == 0 or a.probability > 1e-4)[:8]


def claim_from(readings: Iterable[Reading], prior: Prior, lift: Lift = NO_LIFT) -> Claim:
    """The pooled claim with all evidence kept; unread when there is no reading."""
    kept = list(readings)
    ranked = pool(kept, prior, lift)
    evidence = tuple(sorted({e for r in kept for e in r.evidence}, key=_evidence_order))
    if not ranked:
        return Claim(None, 1.0, (), evidence)
    return Claim(ranked[0].text, ranked[0].probability, ranked, evidence)


def agreement(a: Reading | None, b: Reading | None, prior: Prior) -> float:
    """Bayes factor for "both are the same string" against "two strings drawn from the prior"; 1 when one is unread."""
    if a is None or b is None:
        return 1.0
    both = a.belongs * b.belongs
    strings = {x.text for x in a.alternatives} | {x.text for x in b.alternatives}
    return both * sum(a.chance(s) * b.chance(s) / prior(s) for s in sorted(strings)) + 1.0 - both


def share(weight: NDArray[np.float64], r: int, c: int) -> float:
    """Chance of pair (r, c) of a matching whose log odds against "no partner" are ``weight``.

    Of all the ways the two could go (to each other, to others, alone) the share of this one: an approximation that
    looks at one row and one column only.
    """
    rivals = np.concatenate([np.delete(weight[r], c), np.delete(weight[:, c], r), [0.0]])
    top = max(float(weight[r, c]), float(rivals.max()))
    this = math.exp(float(weight[r, c]) - top)
    return min(this / (this + float(np.exp(rivals - top).sum())), MOST_SURE)


def marginals(weight: NDArray[np.float64], rounds: int = 200) -> NDArray[np.float64]:
    """For every pair (row, column) the chance that it is one, when each row and column is in one pair at most.

    ``weight`` are log odds against "both stay alone". Belief propagation for matchings, exact where the likely pairs
    form no ring and near it else (Bayati and Nair, *A rigorous proof of the cavity method for counting matchings*, 2006;
    from memory).
    """
    odds = np.exp(np.clip(weight, -60.0, 30.0))
    rows = np.ones_like(odds)
    columns = np.ones_like(odds)
    for _ in range(rounds):
        to_columns, to_rows = odds * columns, odds * rows
        # Halved steps in the logarithm: plain ones swing to and fro between rivals of equal weight.
        rows = np.sqrt(rows / (1.0 + np.maximum(to_columns.sum(axis=1, keepdims=True) - to_columns, 0.0)))
        columns = np.sqrt(columns / (1.0 + np.maximum(to_rows.sum(axis=0, keepdims=True) - to_rows, 0.0)))
    both = odds * rows * columns
    return np.minimum(both / (1.0 + both), MOST_SURE)


def assign(weight: NDArray[np.float64]) -> list[tuple[int, int]]:
    """Pairs (row, column) with the greatest sum of weights; every row may stay alone at weight 0."""
    if not weight.size:
        return []
    # Every row may take a column of its own that stands for "no partner".
    alone = np.full((weight.shape[0], weight.shape[0]), -1e6)
    np.fill_diagonal(alone, 0.0)
    rows, columns = linear_sum_assignment(np.hstack([weight, alone]), maximize=True)
    return [(r, c) for r, c in zip(rows.tolist(), columns.tolist(), strict=True) if c < weight.shape[1]]


def _evidence_order(e: Evidence) -> tuple[str, str, str, float, tuple[str, float, float]]:
    place = (e.place.sheet, e.place.box.x0, e.place.box.y0) if e.place else ("", 0.0, 0.0)
    return (e.kind, e.says, e.by, e.probability, place)
