"""Of the readings given 0.95, 95 in 100 are right."""

from __future__ import annotations

import json
import math

import numpy as np
import pytest

from digitize.reading.calibrate import (
    USUAL,
    Calibration,
    Curve,
    Trust,
    clearness,
    expected_error,
    fitted,
    fitted_trust,
    log_odds,
    shape_of,
    trust_kind,
)
from digitize.reading.decode import Found
from digitize.reading.readers import TRUST


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


def test_trust_weighs_the_reading_its_block_and_its_page() -> None:
    rng = np.random.default_rng(9)
    rows = []
    for _ in range(4000):
        reading, found, clear = rng.beta(4, 1), rng.beta(2, 1), rng.uniform(5.2, 6)
        odds = 0.7 * log_odds(reading) + 0.9 * log_odds(found) + 0.5 * 5 * (clear - USUAL) - 0.4
        rows.append((float(reading), float(found), float(clear), bool(rng.random() < 1 / (1 + math.exp(-odds)))))
    weights = fitted_trust(rows)
    assert weights == pytest.approx((0.7, 0.9, 0.5, -0.4), abs=0.15)


def test_a_clear_page_is_one_whose_readings_are_sure() -> None:
    assert clearness([0.999, 0.99]) > clearness([0.9, 0.6])
    assert clearness([]) == USUAL


def test_few_pages_change_little() -> None:
    weights = fitted_trust([(0.9, 0.9, USUAL, False)])
    assert Trust({"other": weights}).chance("word", "HORN", 0.99, 0.9) > 0.9


def test_trust_needs_pages() -> None:
    with pytest.raises(ValueError, match="at least one"):
        fitted_trust([])


def test_lone_characters_and_bars_are_trusted_apart() -> None:
    assert [trust_kind("number", t) for t in ("1", "-", "7", "17")] == ["bar", "bar", "single", "number"]
    assert [trust_kind("word", t) for t in ("WWW", "HORN", "HORN RELAY")] == ["short word", "word", "long word"]


def test_the_shipped_trust_holds_on_drawn_pages_that_it_was_not_fitted_on() -> None:
    # written by scripts/fit_lettering
    kept = json.loads(TRUST.read_text(encoding="utf-8"))
    assert Trust.load(TRUST).weights.keys() >= {"other", "code", "single", "bar", "word"}
    for level, most, least in (("clean", 0.02, 0.995), ("medium", 0.03, 0.99), ("heavy", 0.05, 0.98)):
        figures = kept["figures"][level]
        assert figures["blocks"] > 500
        assert figures["error"] <= most
        assert figures["at_095"] >= least
    assert "| heavy |" in TRUST.with_name("TRUST.md").read_text(encoding="utf-8")
