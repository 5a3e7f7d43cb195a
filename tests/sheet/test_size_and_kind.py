"""How large a page is when nothing says so, and what kind of page it looks like."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from digitize.sheet.flatten import flatten
from digitize.sheet.size import page_size, size_by_lettering, size_by_lines
from digitize.sheet.state import SheetHints


@pytest.mark.parametrize(
    ("pixels", "millimetres"),
    # ISO 216 sheet sizes at the resolutions scanners offer
    [((3508, 2480), 297), ((4961, 3508), 420), ((3307, 2339), 420), ((9933, 7016), 841), ((1754, 1240), 297)],
)
def test_a_common_sheet_is_recognised_by_its_pixels(pixels: tuple[int, int], millimetres: float) -> None:
    size = page_size(*pixels, None, SheetHints())
    assert size.width == pytest.approx(millimetres, rel=0.01)
    assert not size.stated


def test_conventions_win_over_a_resolution_that_contradicts_them() -> None:
    size = page_size(4961, 3508, 600.0, SheetHints(page_width=420.0, page_height=297.0))
    assert (size.width, size.height) == (420.0, 297.0)
    assert size.stated


def test_conventions_for_another_shape_of_page_are_not_forced_onto_it() -> None:
    size = page_size(9921, 3508, 300.0, SheetHints(page_width=420.0, page_height=297.0))
    assert size.width == pytest.approx(840, abs=1)


def test_a_page_that_lies_on_its_side_gets_its_size_turned() -> None:
    size = page_size(3508, 4961, None, SheetHints(page_width=420.0, page_height=297.0))
    assert (size.width, size.height) == (297.0, 420.0)


def test_lettering_tells_a4_at_600_dpi_from_a2_at_300() -> None:
    first = page_size(7016, 4961, None, SheetHints())
    letter_px = 2.2 / 25.4 * 600
    letter_mm_by_first_guess = letter_px / (7016 / first.width)
    assert size_by_lettering(7016, 4961, first, letter_mm_by_first_guess).width == pytest.approx(297, abs=1)
    letter_px = 2.2 / 25.4 * 300
    letter_mm_by_first_guess = letter_px / (7016 / first.width)
    assert size_by_lettering(7016, 4961, first, letter_mm_by_first_guess).width == pytest.approx(594, abs=1)


def lines_of_text(page: np.ndarray, rows: int, x: int = 120) -> None:
    for i in range(rows):
        cv2.putText(page, f"LAMP RELAY NO {i} SEE B{i}", (x, 110 + 42 * i), cv2.FONT_HERSHEY_SIMPLEX, 0.7, 25, 2)


def blank() -> np.ndarray:
    return np.full((1170, 1654), 235, np.uint8)


def test_a_table_looks_like_a_chart(scan_of) -> None:
    page = blank()
    for i in range(12):
        cv2.line(page, (100, 80 + 60 * i), (900, 80 + 60 * i), 25, 2)
        cv2.putText(page, f"A{i} R14B 18 BRN", (120, 120 + 60 * i), cv2.FONT_HERSHEY_SIMPLEX, 0.7, 25, 2)
    for x in (100, 480, 900):
        cv2.line(page, (x, 80), (x, 740), 25, 2)
    facts = flatten(scan_of(200.0), page).facts
    assert facts.kind == "chart"
    assert facts.kind_probability < 1


def test_lines_of_lettering_alone_look_like_an_index(scan_of) -> None:
    page = blank()
    lines_of_text(page, 22)
    lines_of_text(page, 22, 900)
    assert flatten(scan_of(200.0), page).facts.kind == "index"


def test_wires_and_lettering_look_like_a_diagram(draw_page, scan_of) -> None:
    page = draw_page(dpi=200.0).grey
    for i in range(12):
        cv2.line(page, (300 + 60 * i, 200 + 20 * i), (300 + 60 * i, 800), 25, 3)
        cv2.line(page, (300 + 60 * i, 250 + 40 * i), (1200 - 10 * i, 250 + 40 * i), 25, 3)
    assert flatten(scan_of(200.0), page).facts.kind == "diagram"


def test_the_conventions_word_about_the_kind_is_kept(scan_of) -> None:
    facts = flatten(scan_of(200.0), blank(), SheetHints(kind="legend")).facts
    assert facts.kind == "legend"
    assert facts.kind_probability > 0.95


@pytest.mark.parametrize("screen", [72.0, 96.0, 143.9926])
def test_a_screens_resolution_says_nothing_of_paper(screen: float) -> None:
    assert not page_size(1690, 738, screen, SheetHints()).stated
    assert page_size(1690, 738, 200.0, SheetHints()).stated


def test_a_figure_without_lettering_is_sized_by_its_lines() -> None:
    guess = page_size(1690, 738, None, SheetHints())
    coarse = size_by_lines(1690, 738, guess, 1.4)
    assert coarse.width == pytest.approx(guess.width * 0.45 / 1.4, rel=0.05)
    assert size_by_lines(1690, 738, guess, 0.5) == guess
    assert size_by_lines(1690, 738, guess, 0.0) == guess


def test_a_common_sheet_keeps_its_size_whatever_its_lines() -> None:
    guess = page_size(4961, 3508, None, SheetHints())
    assert size_by_lines(4961, 3508, guess, 2.0) == guess


@pytest.mark.parametrize("shrunk", [1, 2])
def test_a_scan_a_little_larger_than_its_page_keeps_the_scanners_round_dpi(shrunk: int) -> None:
    # an A3 page scanned at 300 dpi with a rim of 5 mm on a lid as white as the paper: 430 × 307 mm
    pixels = (5079 // shrunk, 3626 // shrunk)
    seen = page_size(*pixels, None, SheetHints(), whole=True)
    assert seen.width == pytest.approx(420, abs=3)  # the edges seen are the paper's own
    cut = page_size(*pixels, None, SheetHints(), whole=False)
    assert pixels[0] / cut.width * 25.4 == pytest.approx(300 / shrunk, abs=0.01)


def test_a_picture_made_smaller_is_not_taken_at_the_dpi_of_what_it_was_made_from(draw_page, scan_of) -> None:
    page = draw_page(420.0, 297.0, 150.0, (14.0, 14.0, 406.0, 283.0))
    for row in range(12):
        cv2.putText(page.grey, "A NOTE IN PLAIN LETTERING", (900, 500 + 60 * row), 0, 0.55, 25, 2, cv2.LINE_AA)
    assert flatten(scan_of(600.0), page.grey).facts.dpi == pytest.approx(150, rel=0.05)  # states 600
    assert flatten(scan_of(150.0), page.grey).facts.dpi_stated


def test_a_stated_page_size_is_the_papers_and_not_that_of_the_rim_around_it() -> None:
    # 300 dpi scans of an A3 sheet, 9 mm larger than it and 6 mm smaller; edges not seen
    hints = SheetHints(page_width=420.0, page_height=297.0)
    for pixels in ((5067, 3583), (4890, 3460)):
        assert page_size(*pixels, None, hints, whole=False).width == pytest.approx(pixels[0] / 300 * 25.4, abs=0.01)
        assert page_size(*pixels, None, hints, whole=True).width == 420.0
    # the dpi noted in the file wins over a scanner's usual one when it is near
    noted = page_size(4550, 3220, 275.0, hints, whole=False)
    assert noted.width == pytest.approx(4550 / 275 * 25.4)
