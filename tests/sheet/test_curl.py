"""A page of an open book, without a printed frame, comes out flat by its lines and rows of print; exactly invertible.

The outside check is geometry: paper on a cylinder under a lens (``fixtures.spoilt.in_a_book``), which knows nothing of bows.
"""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from digitize.sheet.curl import Line, bow_of_lines
from digitize.sheet.flatten import flatten
from digitize.sheet.mapping import SheetMapping
from digitize.sheet.state import SheetHints
from fixtures.spoilt import Spoilt, in_a_book

SIZE = SheetHints(page_width=297.0, page_height=210.0)
DPI = 150.0
PX = DPI / 25.4
NO_MATRIX = ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))


def page_of_lines() -> np.ndarray:
    """An A4 diagram page without a frame: wires of all lengths, mostly level and upright, with their codes."""
    page = np.full((round(210 * PX), round(297 * PX)), 235, np.uint8)
    dice = np.random.default_rng(3)
    for i, y in enumerate(np.linspace(16, 194, 16)):
        x0, x1 = (12.0, 100.0) if i % 3 == 0 else (dice.uniform(14, 120), dice.uniform(170, 280))
        points = np.array([[x0, y], [x1, y], [x1, y + 7]]) * PX
        cv2.polylines(page, [np.round(points).astype(np.int32)], False, 25, 2)
        cv2.putText(page, f"R{i}4B 18 RED", (round((x0 + 9) * PX), round((y - 1.2) * PX)), 0, 0.5, 25, 1, cv2.LINE_AA)
    cv2.line(page, (round(60 * PX), round(30 * PX)), (round(110 * PX), round(90 * PX)), 25, 2)  # a slanted one
    return page


def page_of_print() -> np.ndarray:
    """An A4 page of print in two columns, nothing drawn."""
    page = np.full((round(210 * PX), round(297 * PX)), 235, np.uint8)
    for y in np.linspace(18, 196, 30):
        for x in (12, 160):
            cv2.putText(
                page, f"LAMP {y:.0f} SEE PAGE {x} ROW {y * 3:.0f}", (round(x * PX), round(y * PX)), 0, 0.55, 25, 1
            )
    return page


def bend_left(spoilt: Spoilt, mapping: SheetMapping, width: float, height: float) -> float:
    """How far lines that are level on the flat sheet are from straight on the page itself, at most, mm."""
    worst = 0.0
    for y in np.linspace(0.12, 0.88, 9) * height:
        x = np.linspace(0.06, 0.94, 80) * width
        p = spoilt.origin(mapping.to_scan(np.column_stack([x, np.full(80, y)])))
        worst = max(worst, float(np.ptp(p[:, 1] - np.polyval(np.polyfit(p[:, 0], p[:, 1], 1), p[:, 0]))) / PX)
    return worst


@pytest.mark.parametrize("draw", [page_of_lines, page_of_print])
def test_a_page_of_an_open_book_is_flattened_by_what_stands_on_it(scan_of, draw) -> None:
    spoilt = in_a_book(draw(), DPI)
    facts = flatten(scan_of(DPI), spoilt.picture, SIZE).facts
    assert facts.frame is None
    unbent = SheetMapping(facts.mapping.matrix)
    assert bend_left(spoilt, unbent, facts.width, facts.height) > 3.0
    assert bend_left(spoilt, facts.mapping, facts.width, facts.height) < 1.0


def test_a_page_bound_at_its_top_is_flattened_too(scan_of) -> None:
    spoilt = in_a_book(page_of_lines(), DPI)
    facts = flatten(scan_of(DPI), np.ascontiguousarray(spoilt.picture.T), SheetHints(quarter_turns=0)).facts
    swapped = Spoilt(spoilt.picture, lambda p: spoilt.origin(p[:, ::-1]))
    assert facts.mapping.bow_y is not None

    class AcrossForAlong:
        """The mapping with x and y changed, so that lines down the page are measured."""

        def to_scan(self, points: np.ndarray) -> np.ndarray:
            return facts.mapping.to_scan(points[:, ::-1])

    assert bend_left(swapped, AcrossForAlong(), facts.height, facts.width) < 1.0


@pytest.mark.parametrize("draw", [page_of_lines, page_of_print])
def test_a_flat_page_is_not_bent(scan_of, draw) -> None:
    facts = flatten(scan_of(DPI), draw(), SIZE).facts
    assert facts.mapping.bow_x is None
    assert facts.mapping.bow_y is None


@settings(max_examples=20)
@given(
    top=st.floats(-9.0, 9.0),
    bottom=st.floats(-9.0, 9.0),
    reach=st.floats(70.0, 120.0),
    slant=st.floats(-0.01, 0.01),
    seed=st.integers(0, 9999),
)
def test_the_bow_found_undoes_the_bend_and_inverts_exactly(
    top: float, bottom: float, reach: float, slant: float, seed: int
) -> None:
    rng = np.random.default_rng(seed)
    lines = []
    for y in np.linspace(10, 190, 20):
        x = np.arange(*sorted((rng.uniform(0, 60), rng.uniform(150, 290))), 2.0)
        rise = np.maximum(0.0, 1 - x / reach) ** 2
        lines.append(
            Line(x, y + slant * x + rise * (top * (1 - y / 200) + bottom * y / 200) + rng.normal(0, 0.05, len(x)))
        )
    bow = bow_of_lines(lines, 297.0, 200.0)
    if max(abs(top), abs(bottom)) > 5.0:
        assert bow is not None
    if bow is None:
        return
    mapping = SheetMapping(NO_MATRIX, bow, None)
    points = rng.uniform((0, 0), (297, 200), (40, 2))
    assert np.abs(mapping.to_sheet(mapping.to_scan(points)) - points).max() < 1e-6
    for line in lines:
        flat = mapping.to_sheet(np.column_stack([line.at, line.offset]))
        assert np.std(flat[:, 1] - np.polyval(np.polyfit(flat[:, 0], flat[:, 1], 1), flat[:, 0])) < 0.35


def test_lines_that_are_each_bent_in_their_own_way_bend_no_page() -> None:
    rng = np.random.default_rng(5)
    x = np.arange(10.0, 280.0, 2.0)
    lines = [
        Line(x, y + rng.uniform(0.5, 1.5) * np.sin(x / rng.uniform(8, 60) + rng.uniform(0, 6)))
        for y in range(20, 190, 9)
    ]
    assert bow_of_lines(lines, 297.0, 200.0) is None
