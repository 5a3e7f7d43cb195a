"""How far a page lies askew is told by its rules, or, where they are few and lie otherwise, by all that is printed on it."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from digitize.sheet.frame import Rule
from digitize.sheet.skew import skew_of_page


def lines(degrees: float = 0.0) -> NDArray[np.uint8]:
    """Forty lines of lettering, so many degrees clockwise askew."""
    ink = np.zeros((600, 800), np.uint8)
    for k in range(40):
        for x in range(60, 740, 9):
            cv2.rectangle(ink, (x, 40 + 13 * k), (x + 5, 46 + 13 * k), 255, -1)
    turn = cv2.getRotationMatrix2D((400, 300), -degrees, 1.0)
    return cv2.warpAffine(ink, turn, (800, 600))


def rule(degrees: float) -> Rule:
    at = np.linspace(0.0, 200.0, 9)
    return Rule(level=True, at=at, offset=50 + at * np.tan(np.deg2rad(degrees)), share=1.0)


@pytest.mark.parametrize(
    ("rules", "degrees"),
    [([0.9], 0.0), ([0.9, 0.8], 0.0), ([0.9] * 6, 0.9), ([0.2], 0.2), ([], 0.0)],
    ids=["a fold", "two folds", "many rules", "one that agrees", "none"],
)
def test_few_rules_at_odds_with_all_that_is_printed_are_folds(rules: list[float], degrees: float):
    assert np.rad2deg(skew_of_page([rule(d) for d in rules], [], lines())) == pytest.approx(degrees, abs=0.06)


def test_a_print_askew_is_told_past_a_straight_fold():
    assert np.rad2deg(skew_of_page([rule(0.0)], [], lines(1.2))) == pytest.approx(1.2, abs=0.1)
