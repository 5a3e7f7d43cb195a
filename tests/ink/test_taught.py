"""A symbol shown once is found again, whichever way it lies; what only looks a little like it is not."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from digitize.errors import CalledWrongly
from digitize.harness.edits import Anchor, TeachSymbol
from digitize.harness.model import Terminal
from digitize.harness.place import Box
from digitize.ink.state import Symbol
from digitize.ink.taught import FOUND, Lesson, chance, find_taught, ink_in, lesson_of, picture_of, with_taught
from digitize.sheet.mapping import SheetMapping
from digitize.sheet.state import PX_PER_MM, Sheet, SheetFacts
from digitize.sheet.zones import ZoneGrid
from fixtures.small_page import Page

HORN = (((0, 2), (0, 5), (3, 5), (7, 7), (7, 0), (3, 2), (0, 2)), ((3, 2), (3, 5)), ((1, 2), (1, 0.5), (2.2, 0.5)))
"""An invented sounder, 7 × 7 mm: no two of its eight positions look the same."""


def placed(point: tuple[float, float], turns: int, mirrored: bool, side: float = 7.0) -> tuple[float, float]:
    x, y = (side - point[0], point[1]) if mirrored else point
    for _ in range(turns):
        x, y = side - y, x
    return x, y


def draw_horn(page: Page, x: float, y: float, turns: int = 0, mirrored: bool = False, size: float = 1.0) -> None:
    for line in HORN:
        page.line(*((x + size * px, y + size * py) for px, py in (placed(p, turns, mirrored) for p in line)))


def sheet_of(page: Page) -> Sheet:
    k = PX_PER_MM
    facts = SheetFacts(
        "page_01", 120, 80, 1440, 960, 304.8, True, SheetMapping(((k, 0, -0.5), (0, k, -0.5), (0, 0, 1))),
        None, 1.0, ZoneGrid((), (), nominal=True), 1.0, "diagram", 1.0,
    )  # fmt: skip
    return Sheet(facts, 255 - page.ink, page.ink)


@pytest.fixture(scope="module")
def lesson() -> Lesson:
    page = Page()
    draw_horn(page, 20, 20)
    picture = picture_of(sheet_of(page), Box(19.8, 19.8, 27.2, 27.2))
    return Lesson("hand-t1", "horn", picture, (("1", (0.2, 3.7)),), "right")


@settings(deadline=None, max_examples=25)
@given(
    st.floats(10, 100), st.floats(10, 60), st.integers(0, 3), st.booleans(), st.floats(0.92, 1.08)
)  # fmt: skip
def test_a_taught_symbol_is_found_in_every_heading_mirrored_and_a_little_larger(
    lesson: Lesson, x: float, y: float, turns: int, mirrored: bool, size: float
):
    page = Page()
    draw_horn(page, x, y, turns, mirrored, size)
    found = find_taught(sheet_of(page), [lesson])
    assert len(found) == 1
    (symbol,) = found
    assert symbol.kind == "horn"
    assert symbol.taught == "hand-t1"
    assert symbol.probability > 0.7
    middle = (x + 3.5 * size, y + 3.5 * size)
    assert symbol.box.centre == pytest.approx(middle, abs=0.5)
    ((name, at),) = symbol.terminals
    where = placed((0, 3.5), turns, mirrored)
    assert name == "1"
    assert at == pytest.approx((x + size * where[0], y + size * where[1]), abs=0.7)
    base = "left" if mirrored else "right"
    order = ("up", "right", "down", "left")
    assert symbol.heading == order[(order.index(base) + turns) % 4]


def test_wires_that_end_at_it_and_worn_ink_do_not_hide_a_taught_symbol(lesson: Lesson):
    page = Page()
    draw_horn(page, 60, 30)
    page.line((30, 33.5), (60, 33.5)).line((67, 33.5), (90, 33.5))
    dice = np.random.default_rng(1)
    page.ink[dice.random(page.ink.shape) < 0.02] = 0
    assert [s.taught for s in find_taught(sheet_of(page), [lesson])] == ["hand-t1"]


def test_crossing_wires_letters_and_plain_boxes_are_no_taught_symbol(lesson: Lesson):
    page = Page()
    for k in range(4):
        page.line((10, 20 + 5 * k), (110, 20 + 5 * k)).line((20 + 5 * k, 10), (20 + 5 * k, 60))
    page.part("module", 60, 50, 67, 57)
    cv2.putText(page.ink, "HB ARE", (700, 500), cv2.FONT_HERSHEY_SIMPLEX, 3.0, 255, 4)
    assert find_taught(sheet_of(page), [lesson]) == ()


def test_bare_paper_holds_no_taught_symbol(lesson: Lesson):
    page = Page()
    page.ink[:] = 0
    assert find_taught(sheet_of(page), [lesson]) == ()


def test_a_lesson_says_where_its_terminals_are_from_its_own_corner():
    edit = TeachSymbol(
        target="hand-t9", anchor=Anchor("sheet", "page_01", (24, 24)), kind="horn", name=None,
        box=Box(20, 20, 28, 28), terminals=(Terminal("1", (20, 24)), Terminal("2", (28, 24), "B")), picture="",
    )  # fmt: skip
    assert lesson_of(edit).terminals == (("1", (0, 4)), ("B", (8, 4)))


@pytest.mark.parametrize("box", [Box(50, 50, 58, 58), Box(20, 20, 21, 27), Box(-1, 20, 7, 28), Box(10, 10, 100, 70)])
def test_a_box_that_shows_no_symbol_is_refused_with_one_line(box: Box):
    page = Page()
    draw_horn(page, 20, 20)
    with pytest.raises(CalledWrongly) as refused:
        picture_of(sheet_of(page), box)
    assert "\n" not in str(refused.value)


def test_a_damaged_picture_is_told(lesson: Lesson):
    for damaged in ("", "%%%", lesson.picture[:20]):
        with pytest.raises(CalledWrongly, match="damaged"):
            ink_in(damaged)


def test_the_chance_falls_as_the_drawing_differs():
    cross = np.zeros((60, 60), np.uint8)
    cv2.line(cross, (5, 5), (55, 55), 255, 4)
    cv2.line(cross, (5, 55), (55, 5), 255, 4)
    worn = cross.copy()
    worn[:, 28:32] = 0
    half = cross.copy()
    half[:, 30:] = 0
    assert chance(cross, cross) > chance(cross, worn) > FOUND > chance(cross, half)
    assert chance(cross, np.zeros_like(cross)) == 0.0


def test_a_taught_symbol_takes_the_place_of_what_the_detector_made_of_it():
    taught = Symbol("horn", Box(20, 20, 28, 28), 0.9, taught="hand-t1")
    piece = Symbol("diode", Box(21, 21, 24, 24), 0.99)
    sure_round_it = Symbol("module", Box(10, 10, 60, 60), 0.95)
    doubtful_round_it = Symbol("module", Box(12, 12, 50, 50), 0.5)
    elsewhere = Symbol("lamp", Box(80, 20, 86, 26), 0.4)
    kept = with_taught([piece, sure_round_it, doubtful_round_it, elsewhere], [taught])
    assert kept == (sure_round_it, taught, elsewhere)
