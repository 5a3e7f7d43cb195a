"""What the page says of a reading makes its chance honest; the shipped weights keep what they state."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from digitize.harness.place import Box
from digitize.ink.state import Symbol
from digitize.reading.calibrate import log_odds
from digitize.reading.readers import TRUST
from digitize.reading.trust import (
    LEAST_CLEAR,
    SIGNS,
    USUAL,
    Signs,
    Trust,
    clearness,
    fitted_trust,
    in_drawing,
    misshapen,
    trust_kind,
)

GOOD = Signs(0.97, 0.8, 0.9, length=4)


def drawn_rows(rng: np.random.Generator, many: int, offset: float, kind: str = "word") -> list[tuple[str, Signs, bool]]:
    """Rows that are right as often as known weights say."""
    rows = []
    for _ in range(many):
        signs = Signs(
            float(rng.beta(4, 1)), float(rng.beta(2, 1)), float(rng.beta(3, 1)), bool(rng.random() < 0.2),
            int(rng.integers(1, 12)), float(rng.uniform(5.2, 6)),
        )  # fmt: skip
        odds = float(np.dot((offset, 0.7, 0.9, 0.2, -1.5, 0.3, 2.0), signs.row))
        rows.append((kind, signs, bool(rng.random() < 1 / (1 + math.exp(-odds)))))
    return rows


def test_the_weights_behind_drawn_pages_are_found() -> None:
    rows = drawn_rows(np.random.default_rng(9), 9000, -0.4)
    assert fitted_trust(rows).weights["word"] == pytest.approx((-0.4, 0.7, 0.9, 0.2, -1.5, 0.3, 2.0), abs=0.3)


def test_a_kind_with_few_pages_of_its_own_is_trusted_as_all_are() -> None:
    rng = np.random.default_rng(3)
    rows = drawn_rows(rng, 4000, 0.5) + drawn_rows(rng, 4000, -2.0, "bar") + drawn_rows(rng, 3, -2.0, "zone")
    trust = fitted_trust(rows, least=40)
    assert "zone" not in trust.weights
    assert trust.chance("word", "HORN", GOOD) > trust.chance("zone", "C4", GOOD) > trust.chance("word", "-", GOOD)


def test_few_pages_change_little() -> None:
    trust = fitted_trust([("word", Signs(0.9, 0.9, 0.9), False)], usual_prior=20.0)
    assert trust.chance("word", "HORN", Signs(0.99, 0.9, 0.9)) > 0.9


def test_trust_needs_pages() -> None:
    with pytest.raises(ValueError, match="at least one"):
        fitted_trust([])


def test_without_weights_a_reading_is_believed_as_its_reader_and_the_finder_say() -> None:
    odds = log_odds(0.97) + 0.5 * log_odds(0.8)
    assert Trust({}).chance("word", "HORN", GOOD) == pytest.approx(1 / (1 + math.exp(-odds)))


def test_a_clear_page_is_one_whose_readings_are_sure() -> None:
    assert clearness([0.999, 0.99]) > clearness([0.9, 0.6])
    assert clearness([]) == USUAL


def test_lone_characters_and_bars_are_trusted_apart() -> None:
    assert [trust_kind("number", t) for t in ("1", "-", "7", "17")] == ["bar", "bar", "single", "number"]
    assert [trust_kind("word", t) for t in ("WWW", "HORN", "HORN RELAY")] == ["short word", "word", "long word"]


def test_strokes_of_a_symbol_are_told_from_lettering_inside_one() -> None:
    ground, plug = Box(10, 10, 16, 14), Box(30, 10, 44, 18)
    symbols = [Symbol("ground", ground, 0.9), Symbol("connector", plug, 0.9)]
    assert in_drawing(Box(11, 11.5, 14, 13.5), symbols)
    assert not in_drawing(Box(33, 12, 40, 15), symbols)  # an id stands in its connector
    assert not in_drawing(Box(11, 15, 14, 17), symbols)  # a name below the ground
    assert not in_drawing(Box(11, 11.5, 14, 13.5), [Symbol("ground", Box(0, 0, 90, 60), 0.9)])


@given(st.floats(0, 1), st.floats(0, 1), st.floats(0, 1), st.booleans(), st.integers(1, 60), st.floats(-6, 6))
def test_a_chance_is_a_chance_and_a_surer_reading_is_never_believed_less(
    reading: float, block: float, free: float, symbol: bool, length: int, clear: float
) -> None:
    trust = Trust.load(TRUST)
    signs = Signs(reading, block, free, symbol, length, clear)
    for kind, text in (("word", "HORN"), ("code", "A1 18 RED"), ("number", "7"), ("word", "-"), ("zone", "C4")):
        chance = trust.chance(kind, text, signs)
        assert 0 <= chance <= 1
        assert trust.chance(kind, text, replace(signs, reading=min(1.0, reading + 0.05))) >= chance - 1e-12


def test_weights_for_other_signs_are_refused(tmp_path: Path) -> None:
    old = tmp_path / "trust.json"
    old.write_text(json.dumps({"signs": ["reading", "block"], "weights": {"other": [1, 0.5]}}), encoding="utf-8")
    with pytest.raises(ValueError, match="fit it anew"):
        Trust.load(old)


def test_the_shipped_trust_holds_on_drawn_pages_that_it_was_not_fitted_on() -> None:
    # written by scripts/fit_lettering
    kept = json.loads(TRUST.read_text(encoding="utf-8"))
    assert tuple(kept["signs"]) == SIGNS
    assert Trust.load(TRUST).weights.keys() >= {"other", "code", "single", "bar", "word"}
    for level, most, least in (("clean", 0.02, 0.99), ("medium", 0.03, 0.99), ("heavy", 0.05, 0.985)):
        figures = kept["figures"][level]
        assert figures["blocks"] > 400
        assert figures["error"] <= most
        assert figures["at_095"] >= least
    assert "| heavy |" in TRUST.with_name("TRUST.md").read_text(encoding="utf-8")


def test_a_page_unlike_all_others_does_not_silence_its_sure_readings() -> None:
    trust = Trust.load(TRUST)
    sure, doubtful = Signs(0.998, 0.9, 0.97, length=5, clear=0.7), Signs(0.3, 0.3, 0.2, length=5, clear=0.7)
    assert trust.chance("word", "LAMPS", sure) > 0.5
    assert trust.chance("word", "LAMPS", doubtful) < 0.1
    assert trust.chance("word", "LAMPS", sure) < trust.chance("word", "LAMPS", replace(sure, clear=USUAL))
    assert trust.chance("word", "LAMPS", replace(sure, clear=LEAST_CLEAR)) == trust.chance("word", "LAMPS", sure)


@pytest.mark.parametrize(
    ("text", "size", "angle", "wrong"),
    [
        ("-", (1.6, 0.4), 0, False), ("-", (0.4, 1.6), 90, False), ("-", (3.8, 1.8), 0, True), ("W", (6.0, 1.8), 0, True),
        ("W", (3.4, 2.4), 0, False), ("W", (2.4, 3.4), 90, False), ("YY", (8.2, 1.8), 0, True), ("I", (0.3, 2.4), 0, False),
        ("12", (4.0, 2.4), 0, False), ("HORN", (40.0, 2.4), 0, False), ("/", (1.0, 3.0), 0, False),
    ],
)  # fmt: skip
def test_an_arrow_is_no_dash_and_a_resistor_no_letter(
    text: str,
    size: tuple[float, float],
    angle: int,
    wrong: bool,
) -> None:
    assert misshapen(text, Box(10, 10, 10 + size[0], 10 + size[1]), angle) is wrong
