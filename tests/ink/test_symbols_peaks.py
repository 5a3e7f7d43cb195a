"""From the net's maps to symbols: peaks, boxes, headings, doubles."""

import numpy as np
import pytest

from digitize.harness.place import Box
from digitize.ink.state import SYMBOL_KINDS, Symbol
from digitize.ink.symbols_boxes import is_drawn, refined
from digitize.ink.symbols_peaks import backed_by_strokes, calibrated, reached_by_wires, symbols_of
from fixtures.pen import paint
from fixtures.primitives import Ellipse, Lettering, Line
from fixtures.symbols import VARIANTS, draw_symbol

CELL = 2 / 3
K = len(SYMBOL_KINDS)


def empty() -> np.ndarray:
    return np.full((K + 12, 40, 40), -9.0, np.float32)


def put(
    maps: np.ndarray, kind: str, row: int, column: int, reach: tuple[float, ...], logit: float = 3.0, side: int = 0
) -> None:
    maps[SYMBOL_KINDS.index(kind), row, column] = logit
    first = K + (4 if kind in ("fuse_block", "module") else 0)
    for dy, dx in ((0, 0), (0, 1), (1, 0), (0, -1), (-1, 0)):
        for i, r in enumerate(reach):
            shift = (dx, dy, -dx, -dy)[i]
            maps[first + i, row + dy, column + dx] = np.log(np.expm1((r + shift) / 4))
    maps[K + 8 + side, row - 1 : row + 2, column - 1 : column + 2] = 5.0


def test_a_peak_becomes_one_symbol_with_its_box_in_mm() -> None:
    maps = empty()
    put(maps, "lamp", 10, 20, (5, 4, 5, 4))
    (found,) = symbols_of(maps, CELL)
    assert found.kind == "lamp"
    assert found.probability == pytest.approx(calibrated(1 / (1 + np.exp(-3.0)), told_apart=False))
    assert (found.box.x0, found.box.x1) == pytest.approx((15.5 * CELL, 25.5 * CELL))
    assert (found.box.y0, found.box.y1) == pytest.approx((6.5 * CELL, 14.5 * CELL))
    assert found.heading is None


def test_a_diode_says_which_way_it_points() -> None:
    for side, word in enumerate(("right", "down", "left", "up")):
        maps = empty()
        put(maps, "diode", 10, 20, (3, 3, 3, 3), side=side)
        assert symbols_of(maps, CELL)[0].heading == word


def test_two_kinds_that_claim_one_body_are_one_symbol_with_an_alternative() -> None:
    maps = empty()
    put(maps, "fuse", 10, 20, (5, 3, 5, 3), 2.0)
    put(maps, "resistor", 10, 21, (5, 3, 5, 3), 1.0)
    (found,) = symbols_of(maps, CELL)
    assert found.kind == "fuse"
    assert [a[0] for a in found.alternatives] == ["resistor"]


def test_doubt_between_two_components_is_no_doubt_that_there_is_one() -> None:
    maps = empty()
    put(maps, "lamp", 10, 20, (5, 4, 5, 4), -0.9)
    put(maps, "motor", 10, 20, (5, 4, 5, 4), -1.0)
    (found,) = symbols_of(maps, CELL)
    assert found.kind == "lamp"
    assert found.probability == pytest.approx(calibrated(0.289 + 0.269, told_apart=False), abs=0.01)
    assert found.probability > calibrated(0.289, told_apart=False) + 0.2
    assert [a[0] for a in found.alternatives] == ["motor"]


def test_a_frame_around_two_fuses_is_a_fuse_block() -> None:
    maps = empty()
    put(maps, "module", 20, 20, (15, 12, 15, 12))
    put(maps, "fuse", 16, 20, (5, 1.5, 5, 1.5))
    put(maps, "fuse", 24, 20, (5, 1.5, 5, 1.5))
    assert sorted(s.kind for s in symbols_of(maps, CELL)) == ["fuse", "fuse", "fuse_block"]


def test_a_faint_frame_is_a_block_where_it_holds_two_fuses_and_no_surer_body_has_the_ground() -> None:
    maps = empty()
    put(maps, "fuse_block", 20, 20, (15, 12, 15, 12), -1.5)
    assert symbols_of(maps, CELL) == ()
    put(maps, "fuse", 16, 20, (5, 1.5, 5, 1.5))
    put(maps, "fuse", 24, 20, (5, 1.5, 5, 1.5))
    assert sorted(s.kind for s in symbols_of(maps, CELL)) == ["fuse", "fuse", "fuse_block"]
    put(maps, "fuse_block", 10, 20, (15, 8, 15, 8))
    (block,) = (s for s in symbols_of(maps, CELL) if s.kind == "fuse_block")
    assert block.box.centre[1] == pytest.approx(10.5 * CELL)


def test_a_faint_fuse_is_believed_in_a_row_of_its_like_and_nowhere_else() -> None:
    maps = empty()
    put(maps, "fuse_block", 20, 20, (15, 14, 15, 14))
    put(maps, "fuse", 12, 20, (5, 1.5, 5, 1.5))
    put(maps, "fuse", 26, 20, (5, 1.5, 5, 1.5))
    put(maps, "fuse", 19, 20, (5, 1.5, 5, 1.5), -1.7)
    put(maps, "fuse", 37, 20, (2, 1.5, 2, 1.5), -1.7)
    assert sorted(round(s.box.centre[1] / CELL - 0.5) for s in symbols_of(maps, CELL) if s.kind == "fuse") == [
        12,
        19,
        26,
    ]


def test_a_fuse_that_shares_its_middle_with_the_block_has_the_size_of_its_like() -> None:
    maps = empty()
    put(maps, "fuse_block", 20, 20, (15, 14, 15, 14))
    for row in (14, 26):
        put(maps, "fuse", row, 20, (5, 1.5, 5, 1.5))
    put(maps, "fuse", 20, 20, (6, 9, 6, 9), 0.5)
    fuses = [s.box for s in symbols_of(maps, CELL) if s.kind == "fuse"]
    assert len(fuses) == 3
    assert all(f.height == pytest.approx(3 * CELL, abs=0.05) for f in fuses)


def test_a_find_without_strokes_is_hardly_one() -> None:
    drawn = np.zeros((60, 60), np.uint8)
    lamp = Symbol("lamp", Box(5.0, 5.0, 12.0, 12.0), 0.9)
    assert backed_by_strokes(lamp, drawn, 1 / 3).probability < 0.1
    drawn[15:36, 15] = drawn[15:36, 35] = drawn[15, 15:36] = drawn[35, 15:36] = 255
    assert backed_by_strokes(lamp, drawn, 1 / 3).probability == pytest.approx(0.9)


def test_a_small_part_that_no_wire_reaches_is_doubted() -> None:
    wires = np.zeros((60, 60), np.uint8)
    lamp = Symbol("lamp", Box(8.0, 8.0, 13.0, 13.0), 0.9)
    assert reached_by_wires(lamp, wires, 1 / 3).probability == pytest.approx(0.36)
    assert reached_by_wires(Symbol("ground", lamp.box, 0.9), wires, 1 / 3).probability == 0.9
    wires[31, 43:60] = 255
    assert reached_by_wires(lamp, wires, 1 / 3).probability == 0.9


def test_a_fuse_in_the_middle_of_its_block_stays_a_symbol_of_its_own() -> None:
    maps = empty()
    put(maps, "fuse", 20, 20, (5, 2, 5, 2))
    put(maps, "fuse_block", 20, 20, (15, 12, 15, 12))
    assert {s.kind for s in symbols_of(maps, CELL)} == {"fuse", "fuse_block"}


def test_neighbours_of_one_kind_stay_apart() -> None:
    maps = empty()
    put(maps, "connector", 10, 12, (5, 2, 5, 2))
    put(maps, "connector", 16, 12, (5, 2, 5, 2))
    assert len(symbols_of(maps, CELL)) == 2


def test_chances_rise_with_the_score_and_stay_between_0_and_1() -> None:
    for told in (True, False):
        chances = [calibrated(s, told_apart=told) for s in np.linspace(0, 1, 41)]
        assert chances == sorted(chances)
        assert 0 <= chances[0] < 0.05
        assert 0.9 < chances[-1] <= 1


def test_nothing_is_found_where_no_map_rises() -> None:
    assert symbols_of(empty(), CELL) == ()


@pytest.mark.parametrize("off", [-0.5, 0.3, 0.5])
def test_an_oval_is_measured_on_its_outline_and_not_on_the_wires_that_reach_it(off: float) -> None:
    shapes = [
        Ellipse((20, 20), 6, 2.5, 0.35),
        Line(((2, 20), (14, 20)), 0.4),
        Line(((26, 20), (38, 20)), 0.4),
        Lettering("C204", (20, 20), 2.0, "plotter"),
        Lettering("12", (20, 15.2), 1.8, "plotter"),
    ]
    picture = paint(shapes, 40, 40, 12)
    box = refined(Symbol("connector", Box(14 + off, 17.5 - off, 26 + off, 22.5 + off), 0.9), picture).box
    assert (box.x0, box.x1) == pytest.approx((13.8, 26.2), abs=0.3)
    assert (box.y0, box.y1) == pytest.approx((17.3, 22.7), abs=0.3)


@pytest.mark.parametrize("kind", ["lamp", "fuse", "connector", "ground", "diode", "motor", "resistor", "relay"])
def test_measured_boxes_come_nearer_to_the_drawn_ones(kind: str) -> None:
    before = after = 0.0
    for variant in range(len(VARIANTS[kind])):
        drawing = draw_symbol(kind, "plate", (30.0, 30.0), variant=variant)
        wires = [
            Line((p, (p[0] + dx * 12, p[1] + dy * 12)), 0.4)
            for _, p, side in drawing.terminals
            for dx, dy in [AWAY[side]]
        ]
        picture = paint([*drawing.primitives, *wires], 60, 60, 12)
        b = drawing.box
        rough = Box(b.x0 - 0.4, b.y0 + 0.3, b.x1 + 0.3, b.y1 - 0.4)
        fine = refined(Symbol(kind, rough, 0.9), picture).box
        before += 1.4
        after += abs(fine.x0 - b.x0) + abs(fine.y0 - b.y0) + abs(fine.x1 - b.x1) + abs(fine.y1 - b.y1)
    assert after < 0.75 * before


AWAY = {"right": (1, 0), "left": (-1, 0), "up": (0, -1), "down": (0, 1)}


def test_a_shape_seen_in_the_grain_of_the_paper_is_no_symbol_and_a_dashed_one_is() -> None:
    rng = np.random.default_rng(7)
    grain = np.zeros((400, 400), np.uint8)
    for x, y in rng.integers(20, 380, (60, 2)):
        grain[y : y + 5, x : x + 7] = 255
    body = Symbol("variable_resistor", Box(10.0, 10.0, 17.0, 16.0), 0.5)
    assert not is_drawn(body, grain)
    large = Symbol("module", Box(2.0, 2.0, 30.0, 30.0), 0.9)
    assert not is_drawn(large, grain)
    dashed = grain.copy()
    dashed[24, 24:380:40] = 255
    for x in range(24, 360, 40):
        dashed[24:27, x : x + 24] = 255
    assert is_drawn(large, dashed)
    assert not is_drawn(Symbol("lamp", Box(50.0, 50.0, 55.0, 55.0), 0.5), grain), "it lies off the sheet"
