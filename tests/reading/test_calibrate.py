"""Of the readings given 0.95, 95 in 100 are right."""

from __future__ import annotations

import math

import numpy as np
import pytest

from digitize.reading.calibrate import Calibration, Curve, expected_error, fitted, log_odds, shape_of
from digitize.reading.decode import Found


def test_an_over_confident_reader_is_brought_to_the_truth() -> None:
    rng = np.random.default_rng(5)
    true = Curve(0.6, -0.8)
    said = rng.beta(6, 1, size=6000)
    right = rng.random(6000) < [true.of(p) for p in said]
    curve = fitted(list(said), list(right))
    assert curve.slope == pytest.approx(0.6, abs=0.1)
    assert expected_error(list(said), list(right)) > 0.1
    assert expected_error([curve.of(p) for p in said], list(right)) < 0.02


def test_the_calibration_error_is_that_of_its_definition() -> None:
    # Naeini et al. 2015: two bins, weights 0.5 each, gaps 0.1 and 0.2
    assert expected_error([0.9, 0.9, 0.3, 0.3], [True, True, False, True]) == pytest.approx(0.5 * 0.1 + 0.5 * 0.2)


def test_few_samples_change_little() -> None:
    curve = fitted([0.9], [False])
    assert 0.5 < curve.of(0.9) < 0.9


def test_fitting_needs_outcomes() -> None:
    with pytest.raises(ValueError, match="at least one"):
        fitted([], [])


def test_alternatives_share_what_the_best_leaves_over() -> None:
    calibration = Calibration({"digits": Curve(1.0, -1.0)}, Curve(1.0, 0.0))
    ranked = calibration.ranked(None, [Found("15", 0.8), Found("75", 0.1), Found("16", 0.05)])
    assert ranked[0].probability == pytest.approx(1 / (1 + math.exp(1 - log_odds(0.8))))
    assert sum(a.probability for a in ranked) <= 1 + 1e-9
    assert [a.probability for a in ranked] == sorted((a.probability for a in ranked), reverse=True)


@pytest.mark.parametrize(
    ("text", "shape"),
    [("15", "digits"), ("7.5", "digits"), ("HORN", "letters"), ("C12", "short"), ("A1 18 RED", "long"), ("", "empty")],
)
def test_shapes_of_strings(text: str, shape: str) -> None:
    assert shape_of(text) == shape
