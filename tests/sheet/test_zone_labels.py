"""The zone grid: from ISO counts, from conventions, from labels that are partly missing, misread, descending or uneven."""

from __future__ import annotations

import itertools
import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from digitize.harness.place import Box
from digitize.sheet.state import SheetHints
from digitize.sheet.zone_fit import (
    borders_from_ticks,
    labels_from,
    letter_index,
    letter_label,
    nominal_zones,
    zones_from_hints,
)
from digitize.sheet.zone_labels import Label, zones_from_labels

FRAME = Box(18.0, 18.0, 402.0, 270.0)


def around(at: float, cross: float, level: bool) -> Box:
    x, y = (at, cross) if level else (cross, at)
    return Box(x - 1, y - 1.3, x + 1, y + 1.3)


def labels_on(side: str, names: list[str], borders: list[float], probability: float = 0.95) -> list[Label]:
    level = side in {"top", "bottom"}
    cross = {"top": FRAME.y0 - 4, "bottom": FRAME.y1 + 4, "left": FRAME.x0 - 4, "right": FRAME.x1 + 4}[side]
    centres = [(a + b) / 2 for a, b in itertools.pairwise(borders)]
    return [(n, around(c, cross, level), probability) for n, c in zip(names, centres, strict=True)]


def even(start: float, end: float, count: int) -> list[float]:
    return [start + (end - start) * i / count for i in range(count + 1)]


COLUMNS = even(FRAME.x0, FRAME.x1, 12)
ROWS = even(FRAME.y0, FRAME.y1, 7)


def names(grid) -> tuple[list[str], list[str]]:
    return [b.label for b in grid.columns], [b.label for b in grid.rows]


@pytest.mark.parametrize(
    ("width", "height", "columns", "rows"),
    # ISO 5457:1999, table 2 (asserted so in two public code bases)
    [(297, 210, 6, 4), (420, 297, 8, 6), (594, 420, 12, 8), (841, 594, 16, 12), (1189, 841, 24, 16)],
)
def test_the_nominal_grid_has_the_fields_of_iso_5457(width: float, height: float, columns: int, rows: int) -> None:
    grid = nominal_zones(width, height)
    assert (len(grid.columns), len(grid.rows)) == (columns, rows)
    assert grid.nominal
    assert [b.end - b.start for b in grid.columns[1:-1]] == pytest.approx([50.0] * (columns - 2))
    assert not {"I", "O"} & {b.label for b in grid.rows}


def test_corner_fields_of_an_a3_sheet_take_the_remainder() -> None:
    # computed from ISO 5457:1999 (fields of 50 mm from the axes outwards): A3 width 60-50-50-50|50-50-50-60, height 48.5-50-50|50-50-48.5
    grid = nominal_zones(420, 297)
    assert [b.end - b.start for b in grid.columns] == pytest.approx([60, 50, 50, 50, 50, 50, 50, 60])
    assert [b.end - b.start for b in grid.rows] == pytest.approx([48.5, 50, 50, 50, 50, 48.5])


def test_letters_go_on_after_z_with_two() -> None:
    # ISO 5457: I and O are not used; after Z come AA, AB (read in a summary)
    assert labels_from("X", 5, ("I", "O")) == ("X", "Y", "Z", "AA", "AB")
    assert labels_from("H", 3, ("I", "O")) == ("H", "J", "K")


@given(st.integers(0, 2000), st.sampled_from([(), ("I", "O"), ("Q",)]))
def test_a_letter_and_its_place_are_two_names_of_one_thing(index: int, skipped: tuple[str, ...]) -> None:
    assert letter_index(letter_label(index, skipped), skipped) == index


def test_conventions_alone_give_the_grid_with_numbers_going_on() -> None:
    hints = SheetHints(across="numbers", down="letters", columns=12, rows=7, continues=True, diagram_number=3)
    grid = zones_from_hints(FRAME, hints)
    assert grid is not None
    assert names(grid) == ([str(n) for n in range(25, 37)], list("ABCDEFG"))
    assert grid.zone_at((FRAME.x0 + 1, FRAME.y0 + 1))[0] == "A25"


def test_conventions_that_do_not_say_which_sheet_it_is_give_nothing() -> None:
    assert (
        zones_from_hints(FRAME, SheetHints(across="numbers", down="letters", columns=12, rows=7, continues=True))
        is None
    )
    assert zones_from_hints(FRAME, SheetHints(across="numbers")) is None


def test_a_missing_tick_is_filled_in_and_a_stray_one_left_out() -> None:
    ticks = [10.0, 20.2, 40.0, 50.1, 57.0, 70.0]
    assert borders_from_ticks(8, 0.0, 80.0, ticks) == pytest.approx([0, 10, 20.2, 30, 40, 50.1, 60, 70, 80])
    assert borders_from_ticks(8, 0.0, 80.0, [33.0]) is None


@pytest.mark.parametrize("sides", [("top", "left"), ("bottom", "right"), ("top", "bottom", "left", "right")])
def test_labels_at_one_or_both_sides_are_enough(sides: tuple[str, ...]) -> None:
    labels: list[Label] = []
    for side in sides:
        level = side in {"top", "bottom"}
        labels += labels_on(
            side, [str(n) for n in range(1, 13)] if level else list("ABCDEFG"), COLUMNS if level else ROWS
        )
    grid, probability = zones_from_labels(FRAME, labels, SheetHints())
    assert names(grid) == ([str(n) for n in range(1, 13)], list("ABCDEFG"))
    assert not grid.nominal
    assert probability > 0.9


def test_letters_across_without_i_and_o_and_numbers_down() -> None:
    across = list("ABCDEFGHJKLM")
    labels = labels_on("top", across, COLUMNS) + labels_on("left", [str(n) for n in range(1, 8)], ROWS)
    grid, _ = zones_from_labels(FRAME, labels, SheetHints())
    assert names(grid) == (across, [str(n) for n in range(1, 8)])


def test_letters_with_i_are_read_with_i() -> None:
    across = list("ABCDEFGHIJKL")
    labels = labels_on("top", across, COLUMNS) + labels_on("left", [str(n) for n in range(1, 8)], ROWS)
    assert names(zones_from_labels(FRAME, labels, SheetHints())[0])[0] == across


def test_numbers_right_to_left_and_letters_bottom_to_top() -> None:
    # ASME Y14.1 as widely taught (from memory): A1 is at the lower right
    across, down = [str(n) for n in range(12, 0, -1)], list("GFEDCBA")
    labels = [*labels_on("top", across, COLUMNS), *labels_on("bottom", across, COLUMNS)]
    labels += [*labels_on("left", down, ROWS), *labels_on("right", down, ROWS)]
    grid, probability = zones_from_labels(FRAME, labels, SheetHints())
    assert names(grid) == (across, down)
    assert grid.zone_at((FRAME.x1 - 2, FRAME.y1 - 2))[0] == "A1"
    assert probability > 0.8


def test_numbers_that_go_on_from_the_page_before() -> None:
    across = [str(n) for n in range(29, 41)]
    labels = labels_on("bottom", across, COLUMNS) + labels_on("right", list("ABCDEFG"), ROWS)
    assert names(zones_from_labels(FRAME, labels, SheetHints())[0])[0] == across


def test_uneven_cells_follow_the_ticks() -> None:
    borders = [18.0, 60.0, 90.0, 150.0, 200.0, 290.0, 402.0]
    labels = labels_on("top", list("123456"), borders) + labels_on("left", list("ABCDEFG"), ROWS)
    grid, _ = zones_from_labels(FRAME, labels, SheetHints(), ticks_across=borders[1:-1])
    assert [b.end for b in grid.columns] == pytest.approx(borders[1:])
    assert names(grid)[0] == list("123456")


def test_uneven_cells_without_ticks_end_midway_between_labels() -> None:
    borders = [18.0, 88.0, 140.0, 205.0, 255.0, 330.0, 402.0]
    labels = labels_on("top", list("123456"), borders) + labels_on("bottom", list("123456"), borders)
    labels += labels_on("left", list("ABCDEFG"), ROWS)
    grid, _ = zones_from_labels(FRAME, labels, SheetHints())
    assert names(grid)[0] == list("123456")
    for band, border in zip(grid.columns, borders[1:-1], strict=False):
        assert abs(band.end - border) < 12


@pytest.mark.parametrize("seed", range(12))
def test_misread_and_missing_labels_are_outvoted(seed: int) -> None:
    dice = random.Random(seed)
    labels: list[Label] = []
    for side in ("top", "bottom", "left", "right"):
        level = side in {"top", "bottom"}
        good = labels_on(
            side, [str(n) for n in range(13, 25)] if level else list("ABCDEFG"), COLUMNS if level else ROWS
        )
        for text, box, probability in good:
            if dice.random() < 0.2:
                continue
            labels.append((dice.choice("0123456789ABCXZ") if dice.random() < 0.1 else text, box, probability))
    labels.append(("X7", Box(100, 275, 104, 278), 0.9))
    labels.append(("NOTES", Box(200, 272, 220, 276), 0.9))
    grid, probability = zones_from_labels(FRAME, labels, SheetHints())
    assert names(grid) == ([str(n) for n in range(13, 25)], list("ABCDEFG"))
    assert 0.1 < probability < 1


def test_look_alike_letters_and_figures_still_count() -> None:
    # a reader's classic confusions: O for 0, I for 1, B for 8
    across = ["I", "2", "3", "4", "S", "6", "7", "B", "9", "1O", "11", "12"]
    labels = labels_on("top", across, COLUMNS) + labels_on("left", ["A", "8", "C", "D", "E", "F", "G"], ROWS)
    assert names(zones_from_labels(FRAME, labels, SheetHints())[0]) == ([str(n) for n in range(1, 13)], list("ABCDEFG"))


def test_labels_that_contradict_the_page_order_win_over_the_conventions() -> None:
    hints = SheetHints(across="numbers", down="letters", columns=12, rows=7, continues=True, diagram_number=1)
    across = [str(n) for n in range(25, 37)]
    labels = (
        labels_on("top", across, COLUMNS)
        + labels_on("bottom", across, COLUMNS)
        + labels_on("left", list("ABCDEFG"), ROWS)
    )
    assert names(zones_from_labels(FRAME, labels, hints)[0])[0] == across


def test_conventions_fill_in_what_could_not_be_read() -> None:
    hints = SheetHints(across="numbers", down="letters", columns=12, rows=7, continues=True, diagram_number=2)
    grid, probability = zones_from_labels(FRAME, labels_on("top", ["13"], COLUMNS[:2]), hints)
    assert names(grid) == ([str(n) for n in range(13, 25)], list("ABCDEFG"))
    assert probability > 0.8


def test_no_labels_and_no_conventions_leave_a_nominal_grid() -> None:
    grid, probability = zones_from_labels(FRAME, [], SheetHints(), page=(420.0, 297.0))
    assert grid.nominal
    assert probability <= 0.5


def test_numbers_of_pins_inside_the_drawing_make_no_grid() -> None:
    labels = [(str(n), around(40.0 + 7 * n, FRAME.y0 + 30, True), 0.9) for n in range(1, 9)]
    grid, _ = zones_from_labels(FRAME, labels, SheetHints())
    assert grid.nominal


@given(
    st.lists(
        st.tuples(st.text("0123456789ABIOSZ", min_size=1, max_size=2), st.floats(0, 420), st.floats(0, 297)),
        max_size=25,
    )
)
def test_whatever_was_read_the_grid_covers_the_frame_without_gaps(texts: list[tuple[str, float, float]]) -> None:
    labels = [(t, Box(x - 1, y - 1, x + 1, y + 1), 0.8) for t, x, y in texts]
    grid, probability = zones_from_labels(FRAME, labels, SheetHints())
    assert 0 <= probability <= 1
    for bands, start, end in ((grid.columns, FRAME.x0, FRAME.x1), (grid.rows, FRAME.y0, FRAME.y1)):
        assert bands[0].start == pytest.approx(start)
        assert bands[-1].end == pytest.approx(end)
        for one, other in itertools.pairwise(bands):
            assert one.end == pytest.approx(other.start)
            assert one.start < one.end


def test_the_zone_of_a_point_on_a_border_names_its_neighbours() -> None:
    grid = zones_from_hints(FRAME, SheetHints(across="numbers", down="letters", columns=12, rows=7))
    assert grid is not None
    zone, others = grid.zone_at((FRAME.x0 + 32.3, FRAME.y0 + 18.0))
    assert zone == "A2"
    assert others == ("A1",)
