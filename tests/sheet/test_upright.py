"""Pages put into the scanner sideways or upside down are turned; their millimetres still lead back to the scan."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from digitize.sheet.flatten import flatten
from digitize.sheet.letters import find_letters
from digitize.sheet.state import SheetHints
from digitize.sheet.upright import _log_odds, _weights
from digitize.sheet.warp import turned, turned_to_scan

WORDS = (
    "FUEL PUMP RELAY",
    "R14B 18 BRN/RED",
    "LEFT REAR LAMP",
    "K7 GAUGE FEED 25A",
    "JUNCTION BLOCK 4",
    "PART VIEW F-F",
)


def lettered_page() -> np.ndarray:
    page = np.full((1170, 1654), 235, np.uint8)  # A4 landscape at 141 dpi would be small; 200 dpi of 210 x 148 mm
    for i, word in enumerate(WORDS * 2):
        x, y = 120 + 760 * (i % 2), 140 + 75 * i
        cv2.putText(page, word, (x, y), cv2.FONT_HERSHEY_SIMPLEX, 0.85, 25, 2, cv2.LINE_AA)
        cv2.line(page, (x - 40, y + 25), (x + 420, y + 25), 25, 3)
    cv2.circle(page, (1500, 200), 30, 25, 3)
    return page


@pytest.mark.parametrize("quarters", [0, 1, 2, 3])
def test_a_page_is_set_upright_from_any_side(scan_of, quarters: int) -> None:
    upright = lettered_page()
    scan = np.ascontiguousarray(np.rot90(upright, quarters))
    sheet = flatten(scan_of(200.0), scan)
    assert sheet.facts.quarter_turns == quarters
    assert sheet.facts.width > sheet.facts.height
    assert (sheet.facts.scan_height, sheet.facts.scan_width) == scan.shape
    # the circle stands at (1500, 200) px of the upright page: 190.5, 25.4 mm
    at = sheet.facts.mapping.to_scan(np.array([[1500.5 / 200 * 25.4, 200.5 / 200 * 25.4]]))[0]
    ring = scan[round(at[1]) - 34 : round(at[1]) + 35, round(at[0]) - 34 : round(at[0]) + 35]
    assert (ring < 120).sum() > 0.8 * 2 * np.pi * 30 * 3


def test_a_person_s_word_wins(scan_of) -> None:
    sheet = flatten(scan_of(200.0), lettered_page(), SheetHints(quarter_turns=2))
    assert sheet.facts.quarter_turns == 2


def test_a_page_without_lettering_stays_as_it_is(scan_of) -> None:
    page = np.full((800, 1100), 235, np.uint8)
    cv2.rectangle(page, (50, 50), (1000, 700), 20, 4)
    assert flatten(scan_of(200.0), page).facts.quarter_turns == 0


@pytest.mark.parametrize("quarters", [0, 1, 2, 3, 5])
def test_the_matrix_of_a_turn_names_the_same_pixel(quarters: int) -> None:
    grey = np.arange(6 * 9, dtype=np.uint8).reshape(6, 9)
    other = turned(grey, quarters)
    matrix = turned_to_scan(grey.shape, quarters)
    for y in range(other.shape[0]):
        for x in range(other.shape[1]):
            sx, sy, _ = matrix @ (x, y, 1)
            assert grey[int(sy), int(sx)] == other[y, x]


def test_turning_a_character_over_only_changes_the_sign_of_the_judgement() -> None:
    patches = np.random.default_rng(5).random((20, 256), dtype=np.float32)
    assert np.allclose(_log_odds(patches), -_log_odds(patches[:, ::-1]), atol=1e-4)
    assert sum(w.size for w in _weights()) < 50_000  # stays a few ten kB


def test_letters_in_a_line_are_told_from_scattered_spots() -> None:
    ink = np.zeros((300, 600), np.uint8)
    for i, char in enumerate("R14B18BRN"):
        cv2.putText(ink, char, (40 + 12 * i, 60), cv2.FONT_HERSHEY_SIMPLEX, 0.45, 255, 1)
    found = find_letters(ink, 4.0)
    assert found.across >= 6
    assert found.along == 0
    assert not found.on_its_side
    spots = np.zeros((300, 600), np.uint8)
    for i, (x, y) in enumerate(np.random.default_rng(1).integers(10, 280, (15, 2))):
        cv2.circle(spots, (int(x) * 2, int(y)), 3 + i % 4, 255, -1)
    assert find_letters(spots, 4.0).across <= 2
    assert find_letters(np.zeros((5, 5), np.uint8), 4.0).pieces == 0
