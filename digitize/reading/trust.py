"""How far a reading on a page is believed: its own chance weighed with what the page around it says.

On a page most mistakes are specks, bits of symbols and halves of strings that look like signs, so a reader's own
confidence says too little. A logistic regression for each kind of string, fitted by ``scripts/fit_lettering`` on drawn pages
that no training saw, weighs the signs that ``Signs`` names. Kinds share one set of weights and differ from it only as far
as their own pages show (a ridge on the difference, common practice for few samples, no source).
"""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize

from digitize.harness.place import Box
from digitize.ink.state import Symbol
from digitize.reading.calibrate import log_odds

USUAL = 5.7
"""Clearness of a page of middling wear."""

LEAST_CLEAR = 5.1
"""A page that is less clear than this counts as no worse: below, old hands and dirt that is read as signs pull the mean down,
and each reading's own signs tell right from wrong (measured on drawn worn pages in a face that no fit saw)."""

SIGNS = ("offset", "reading", "block", "free", "symbol", "length", "clear")
"""What is weighed, in the order of the weights."""

_NEVER_AGAINST = ("reading", "block", "free", "clear")

Weights = tuple[float, ...]

_PLAIN: Weights = (0.0, 1.0, 0.5, 0.0, 0.0, 0.0, 0.0)
"""What is believed of a reader that nothing was fitted for."""

_SURE, _FOUND, _FREE = 9.0, 3.0, 6.0
"""Log odds are held within these: beyond, readers and finder say nothing more."""

THICKEST_DASH = 1.0
"""A lone dash is at most so thick, mm: no pen for lettering is broader (common practice, no source)."""
WIDEST_LETTER = 1.7
"""No letter is so many times as wide as high (common practice, no source)."""
MISSHAPEN = 0.005
"""Chance of a reading that cannot have the shape of its block."""
_FEW = 2

_WITH_LETTERING = frozenset(
    {
        "alternator", "connector", "gauge", "grommet", "module", "motor", "relay", "starter_solenoid", "switch", "unknown",
    }
)  # fmt: skip
"""Kinds of symbols that have lettering inside, drawn by one hand or another (common practice, no source)."""
_INSIDE, _AS_LARGE = 0.6, 40.0


@dataclass(frozen=True, slots=True)
class Signs:
    """What speaks for and against one reading.

    Attributes:
        reading: calibrated chance of the reading alone, 0..1.
        block: chance of its block being lettering, by the finder, 0..1.
        free: the reader's probability of the same string without any grammar, 0..1.
        symbol: it lies inside a symbol that has no lettering: hatching of a ground, turns of a coil.
        length: characters without spaces, at least 1.
        clear: how clear the page is (``clearness``).
    """

    reading: float
    block: float
    free: float
    symbol: bool = False
    length: int = 1
    clear: float = USUAL

    @property
    def row(self) -> tuple[float, ...]:
        """The values to be weighed, in the order of ``SIGNS``."""
        return (
            1.0,
            _held(self.reading, _SURE),
            _held(self.block, _FOUND),
            _held(self.free, _FREE),
            float(self.symbol),
            math.log(max(1, self.length)),
            max(self.clear, LEAST_CLEAR) - USUAL,
        )


@dataclass(frozen=True, slots=True)
class Trust:
    """The weights for each kind as ``trust_kind`` names them; ``other`` for kinds that have none of their own."""

    weights: dict[str, Weights]

    @staticmethod
    def load(path: Path) -> Trust:
        """Read what ``scripts/fit_lettering`` wrote. Raises FileNotFoundError, KeyError or ValueError when rotten."""
        raw = json.loads(path.read_text(encoding="utf-8"))
        if tuple(raw["signs"]) != SIGNS:
            raise ValueError(f"{path} weighs {', '.join(raw['signs'])}, not {', '.join(SIGNS)}: fit it anew")
        return Trust({kind: tuple(float(v) for v in values) for kind, values in raw["weights"].items()})

    def chance(self, kind: str, text: str, signs: Signs) -> float:
        """The chance that ``text``, of ``kind``, is right."""
        weights = self.weights.get(trust_kind(kind, text)) or self.weights.get("other", _PLAIN)
        x = sum(w * v for w, v in zip(weights, signs.row, strict=True))
        return 1 / (1 + math.exp(-max(-60.0, min(60.0, x))))


def in_drawing(box: Box, symbols: Sequence[Symbol]) -> bool:
    """True when ``box`` lies in a symbol of a kind that has no lettering inside and is not far larger than it."""
    area = max(1e-9, box.width * box.height)
    return any(
        s.kind not in _WITH_LETTERING
        and s.box.width * s.box.height < _AS_LARGE * area
        and box.overlap(s.box) > _INSIDE * area
        for s in symbols
    )


def misshapen(text: str, box: Box, angle: int) -> bool:
    """True when ``box`` (mm, read at ``angle``) cannot hold ``text``: a dash as thick as an arrow head, a W as long as a resistor."""
    bare = text.replace(" ", "")
    long, high = (box.height, box.width) if angle % 180 else (box.width, box.height)
    if bare == "-":
        return min(long, high) > THICKEST_DASH
    return bare.isalnum() and len(bare) <= _FEW and long > WIDEST_LETTER * len(bare) * high


def clearness(readings: Sequence[float]) -> float:
    """How clear a page is: the mean log odds of its readings' chances, each held within ±6; ``USUAL`` without readings."""
    held = [_held(p, 6.0) for p in readings]
    return sum(held) / len(held) if held else USUAL


def trust_kind(kind: str, text: str) -> str:
    """The group of readings that are trusted alike: the kind of string, lone characters and bars by themselves."""
    bare = text.replace(" ", "")
    if len(bare) == 1:
        return "bar" if bare in "-1I/" else "single"
    if kind == "word":
        return "short word" if len(bare) <= 3 else "word" if len(bare) <= 7 else "long word"
    return kind


def fitted_trust(
    rows: Sequence[tuple[str, Signs, bool]], usual_prior: float = 1.0, kind_prior: float = 10.0, least: int = 1
) -> Trust:
    """The weights of greatest likelihood for rows of (kind as ``trust_kind`` names it, signs, right).

    ``usual_prior``, ``kind_prior``: weight, in samples, that pulls the shared weights towards those of an unfitted reader and
    each kind's towards the shared ones. Kinds of fewer rows than ``least`` get none of their own. Raises ValueError when
    there are no rows.
    """
    if not rows:
        raise ValueError("at least one row is needed")
    kinds = sorted({kind for kind, _, _ in rows})
    kind_of = np.array([kinds.index(kind) for kind, _, _ in rows])
    x = np.array([signs.row for _, signs, _ in rows])
    y = np.array([right for *_, right in rows], dtype=np.float64)
    shape = (len(kinds) + 1, x.shape[1])
    plain = np.array(_PLAIN)

    def loss(flat: NDArray[np.float64]) -> tuple[float, NDArray[np.float64]]:
        usual, own = flat.reshape(shape)[0], flat.reshape(shape)[1:]
        z = (x * own[kind_of]).sum(axis=1)
        away, apart = usual - plain, own - usual
        against = float(np.sum(np.logaddexp(0.0, z) - y * z))
        against += usual_prior / 2 * float(away @ away) + kind_prior / 2 * float((apart**2).sum())
        slope = x * (1 / (1 + np.exp(-np.clip(z, -60, 60))) - y)[:, None]
        out = np.zeros(shape)
        out[0] = usual_prior * away - kind_prior * apart.sum(axis=0)
        np.add.at(out, 1 + kind_of, slope)
        out[1:] += kind_prior * apart
        return against, out.ravel()

    bounds = [(0.0, None) if sign in _NEVER_AGAINST else (None, None) for sign in SIGNS] * shape[0]
    best = minimize(
        loss, np.tile(plain, shape[0]), jac=True, method="L-BFGS-B", bounds=bounds, options={"maxiter": 2000}
    ).x.reshape(shape)
    counts = np.bincount(kind_of, minlength=len(kinds))
    found = {k: tuple(map(float, own)) for k, own, n in zip(kinds, best[1:], counts, strict=True) if n >= least}
    return Trust(found | {"other": tuple(map(float, best[0]))})


def _held(probability: float, most: float) -> float:
    return max(-most, min(most, log_odds(probability)))
