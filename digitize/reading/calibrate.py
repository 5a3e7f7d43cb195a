"""From a reader's own confidence to the chance that the whole string is right.

Readers are over-confident, and it is the whole word that must be calibrated, not its letters (Slossberg et al.,
*On Calibration of Scene-Text Recognition Models*, arXiv 2012.12643). We fit, for each kind of string, a logistic curve
over the log odds of the word's probability (Platt 1999), which with slope alone is their word-level temperature, on
generated crops that the training never saw. The numbers stand beside the weights and are made by the training script. What
the page around a reading says about it is weighed in ``trust``.
"""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from digitize.harness.claim import Alternative
from digitize.reading.decode import Found

SHAPES = ("digits", "letters", "short", "long", "empty")
"""Kinds of string that need no grammar: digits and points only, letters and signs only, mixed up to 5, mixed longer."""

_EDGE = 1e-6


@dataclass(frozen=True, slots=True)
class Curve:
    """``chance = 1 / (1 + exp(-(slope * log_odds + offset)))``."""

    slope: float
    offset: float

    def of(self, probability: float) -> float:
        """The calibrated chance for a word probability, both 0..1."""
        x = self.slope * log_odds(probability) + self.offset
        return 1 / (1 + math.exp(-max(-60.0, min(60.0, x))))


@dataclass(frozen=True, slots=True)
class Calibration:
    """The curves of one reader by kind of string. A kind without a curve of its own uses ``other``."""

    curves: dict[str, Curve]
    other: Curve

    @staticmethod
    def load(path: Path) -> Calibration:
        """Read the JSON that the training script wrote. Raises FileNotFoundError, KeyError or ValueError when rotten."""
        raw = json.loads(path.read_text(encoding="utf-8"))
        curves = {k: Curve(float(v["slope"]), float(v["offset"])) for k, v in raw["curves"].items()}
        return Calibration(curves, curves.pop("other"))

    def chance(self, kind: str, probability: float) -> float:
        """The chance that a string of ``kind`` with word probability ``probability`` is entirely right."""
        return self.curves.get(kind, self.other).of(probability)

    def ranked(self, kind: str | None, found: Sequence[Found]) -> tuple[Alternative, ...]:
        """``found`` (best first) with calibrated probabilities; ``kind`` None takes each string's own shape.

        The best gets its curve's value. The others keep their proportions within what the best leaves over.
        """
        if not found:
            return ()
        best = found[0]
        chance = self.chance(kind or shape_of(best.text), best.probability)
        left = max(_EDGE, 1 - best.probability)
        scale = (1 - chance) / left
        out = [Alternative(best.text, chance)]
        out.extend(Alternative(f.text, min(chance, f.probability * scale)) for f in found[1:])
        return tuple(out)


def log_odds(probability: float) -> float:
    """``log(p / (1 - p))``, held within ±13.8 (p within a millionth of 0 and 1)."""
    p = min(max(probability, _EDGE), 1 - _EDGE)
    return math.log(p / (1 - p))


def shape_of(text: str) -> str:
    """Which of ``SHAPES`` ``text`` is."""
    solid = text.replace(" ", "")
    if not solid:
        return "empty"
    digits = any(c.isdigit() for c in solid)
    letters = any(c.isalpha() for c in solid)
    if digits and letters:
        return "short" if len(solid) <= 5 else "long"
    return "digits" if digits else "letters"


def fitted(probabilities: Sequence[float], right: Sequence[bool], prior: float = 4.0) -> Curve:
    """The curve of greatest likelihood for pairs of word probability and outcome (Newton's method).

    ``prior``: weight, in samples, that pulls towards slope 1 and offset 0, so that few samples change little.
    Raises ValueError when the lengths differ or there are none.
    """
    if len(probabilities) != len(right) or not probabilities:
        raise ValueError("as many outcomes as probabilities are needed, and at least one")
    x = np.array([[log_odds(p), 1.0] for p in probabilities])
    y = np.array(right, dtype=np.float64)
    start = np.array([1.0, 0.0])
    w = start.copy()
    for _ in range(60):
        chance = 1 / (1 + np.exp(-np.clip(x @ w, -60, 60)))
        gradient = x.T @ (y - chance) - prior * (w - start)
        curvature = (x * (chance * (1 - chance) + 1e-9)[:, None]).T @ x + prior * np.eye(2)
        step = np.linalg.solve(curvature, gradient)
        w = w + step * min(1.0, 2.0 / max(1e-12, float(np.abs(step).max())))
        if float(np.abs(step).max()) < 1e-8:
            break
    return Curve(max(0.05, float(w[0])), float(w[1]))


def expected_error(chances: Sequence[float], right: Sequence[bool], bins: int = 10) -> float:
    """Expected calibration error over ``bins`` equal-width bins (Naeini et al. 2015): weighted |mean chance - share right|."""
    p = np.asarray(chances, dtype=np.float64)
    y = np.asarray(right, dtype=np.float64)
    place = np.minimum((p * bins).astype(int), bins - 1)
    error = 0.0
    for b in range(bins):
        inside = place == b
        if inside.any():
            error += inside.mean() * abs(float(p[inside].mean()) - float(y[inside].mean()))
    return float(error)
