"""Promises about frames, bodies and what is left of the ink as lines."""

import cv2
import numpy as np
import pytest

from digitize.harness.place import Box
from digitize.ink.bodies import bodies_of, fitted, is_hollow
from digitize.ink.lettering import Lettering
from digitize.ink.marks import _sorted, _without_bracket_letters, with_inner_frame
from digitize.ink.state import EdgeSign, Rectangle, Symbol, TextBlock
from digitize.sheet.mapping import SheetMapping
from digitize.sheet.state import PX_PER_MM, Sheet, SheetFacts
from digitize.sheet.zones import ZoneGrid


def sheet(frames: list[tuple[float, float, float, float]], frame: Box, border: Box | None = None) -> Sheet:
    ink = np.zeros((int(100 * PX_PER_MM), int(140 * PX_PER_MM)), np.uint8)
    for x0, y0, x1, y1 in frames:
        a, b = (round(x0 * PX_PER_MM), round(y0 * PX_PER_MM)), (round(x1 * PX_PER_MM), round(y1 * PX_PER_MM))
        cv2.rectangle(ink, a, b, 255, 4)
    k = PX_PER_MM
    facts = SheetFacts(
        "page_01", 140, 100, 1680, 1200, 304.8, True, SheetMapping(((k, 0, 0), (0, k, 0), (0, 0, 1))), frame, 1.0,
        ZoneGrid((), (), nominal=True), 1.0, "diagram", 1.0, border=border,
    )  # fmt: skip
    return Sheet(facts, 255 - ink, ink)


def corners(box: Box | None) -> tuple[float, ...]:
    assert box is not None
    return (box.x0, box.y0, box.x1, box.y1)


@pytest.mark.parametrize("inset", [1.0, 2.5, 6.5])
def test_the_drawing_begins_inside_the_inner_of_two_border_lines(inset):
    inner = (10 + inset, 10 + inset, 130 - inset, 90 - inset)
    found = with_inner_frame(sheet([(10, 10, 130, 90), inner], Box(10, 10, 130, 90)))
    assert corners(found.facts.frame) == pytest.approx(inner, abs=0.35)


def test_a_single_border_stays_where_it_is():
    found = with_inner_frame(sheet([(10, 10, 130, 90)], Box(10, 10, 130, 90)))
    assert corners(found.facts.frame) == pytest.approx((10, 10, 130, 90), abs=0.01)


def test_a_wire_along_one_side_is_no_border():
    drawn = sheet([(10, 10, 130, 90)], Box(10, 10, 130, 90))
    cv2.line(drawn.ink, (round(14 * PX_PER_MM), 130), (round(14 * PX_PER_MM), 1070), 255, 4)
    assert corners(with_inner_frame(drawn).facts.frame) == pytest.approx((10, 10, 130, 90), abs=0.01)


def test_a_frame_that_lies_unevenly_in_its_border_is_none():
    drawn = sheet([(10, 10, 130, 90)], Box(20, 15, 130, 90), Box(10, 10, 130, 90))
    assert corners(with_inner_frame(drawn).facts.frame) == pytest.approx((10, 10, 130, 90), abs=0.01)


def test_a_detected_box_moves_onto_the_outline_that_is_drawn():
    drawn = sheet([(40, 30, 60, 50)], Box(0, 0, 140, 100))
    snapped = fitted(Symbol("relay", Box(41, 29.2, 59.3, 50.6), 0.9), drawn.ink)
    assert corners(snapped.box) == pytest.approx((39.8, 29.8, 60.2, 50.2), abs=0.3)


def test_the_box_around_a_zigzag_is_not_drawn_in_to_a_row_that_cuts_it():
    drawn = sheet([], Box(0, 0, 140, 100))
    tips = [(40, 40), *((40.7 + 0.7 * k, 38.85 if k % 2 else 41.15) for k in range(7)), (45.6, 40)]
    points = np.round(np.array([(30, 40), *tips, (56, 40)]) * PX_PER_MM).astype(np.int32)
    cv2.polylines(drawn.ink, [points], isClosed=False, color=255, thickness=5)
    box = Box(40, 38.7, 45.6, 41.3)
    rows = (drawn.ink[round(38.7 * PX_PER_MM) : round(41.3 * PX_PER_MM), 40 * 12 : round(45.6 * 12)] > 0).mean(axis=1)
    assert rows.max() >= 0.45  # as much ink as a side has
    assert fitted(Symbol("resistor", box, 0.9), drawn.ink).box == box


def test_a_resistor_that_is_drawn_as_a_frame_has_the_frame_for_its_box():
    drawn = sheet([(40, 38, 48, 42)], Box(0, 0, 140, 100))
    snapped = fitted(Symbol("resistor", Box(40.4, 38.4, 47.5, 41.7), 0.9), drawn.ink)
    assert corners(snapped.box) == pytest.approx((39.8, 37.8, 48.2, 42.2), abs=0.3)


def test_a_doubtful_box_with_nothing_in_it_is_hollow_and_one_with_lettering_is_not():
    drawn = sheet([(40, 30, 60, 50)], Box(0, 0, 140, 100))
    box = Symbol("module", Box(40, 30, 60, 50), 0.5)
    assert is_hollow(box, drawn.ink)
    cv2.putText(drawn.ink, "TIMER", (round(43 * PX_PER_MM), round(41 * PX_PER_MM)), 0, 1.4, 255, 4)
    assert not is_hollow(box, drawn.ink)


@pytest.mark.parametrize(("long", "chance", "kept"), [(5.5, 0.99, True), (5.5, 0.6, False), (12.0, 0.99, False)])
def test_a_sure_symbol_is_no_piece_of_a_pair_of_letters_no_longer_than_high(long, chance, kept):
    plates, pair = Symbol("battery", Box(30, 30, 33, 35), chance), TextBlock(0, Box(30, 29.8, 30 + long, 35.2), 0, 0.93)
    pair = TextBlock(0, Box(29.9, 29.9, 29.9 + long + 1.2, 35.1), 0, 0.93)
    assert bool(bodies_of((plates,), (), (), (pair,), None)) is kept


def test_a_symbol_inside_a_line_of_lettering_is_lettering():
    text = TextBlock(0, Box(10, 10, 50, 13), 0, 0.95)
    lamp = Symbol("lamp", Box(20, 10.2, 24, 12.8), 0.6)
    assert bodies_of((lamp,), (), (), (text,), None) == ()


@pytest.mark.parametrize(("chance", "kept"), [(0.995, True), (0.93, False)])
def test_a_sure_grommet_is_no_piece_of_its_own_two_brackets_that_were_taken_for_letters(chance: float, kept: bool):
    grommet = Symbol("grommet", Box(20, 20, 23.2, 22.5), chance)
    brackets = TextBlock(0, Box(19.9, 19.9, 24.3, 22.5), 0, 0.93)
    assert bool(bodies_of((grommet,), (), (), (brackets,), None)) is kept


def test_a_doubtful_piece_of_a_fuse_block_gives_way_to_the_outline_drawn_round_it():
    piece = Symbol("fuse_block", Box(40, 30, 70, 45), 0.4)
    fuses = tuple(Symbol("fuse", Box(50, y, 60, y + 4), 0.99) for y in (33, 40, 47, 54))
    outline = Rectangle(Box(40, 30, 70, 60), dashed=True, probability=0.9)
    blocks = [b.box for b in bodies_of((piece, *fuses), (), (outline,), (), None) if b.kind == "fuse_block"]
    assert blocks == [outline.box]
    assert [b.box for b in bodies_of((piece, *fuses), (), (), (), None) if b.kind == "fuse_block"] == [piece.box]


def test_a_fuse_stays_a_part_of_its_own_inside_its_block_and_a_lamp_does_not():
    block = Rectangle(Box(40, 30, 70, 60), dashed=True, probability=0.9)
    inner = (Symbol("fuse", Box(50, 35, 58, 39), 0.9), Symbol("lamp", Box(50, 45, 56, 51), 0.5))
    kinds = sorted(s.kind for s in bodies_of(inner, (), (block,), (), None))
    assert kinds == ["fuse", "fuse_block"]


def test_the_title_block_in_the_corner_of_the_frame_is_no_part():
    corner = Rectangle(Box(80, 80, 130, 90), dashed=False, probability=0.95)
    assert bodies_of((), (), (corner,), (), Box(10, 10, 130, 90)) == ()


def test_a_part_that_the_net_saw_between_a_wire_and_the_corner_of_the_frame_is_none():
    frame, corner = Box(10, 10, 130, 90), Box(9.8, 60, 50, 90.4)
    assert bodies_of((Symbol("module", corner, 0.6),), (), (), (), frame) == ()
    kept = (Symbol("module", Box(9.8, 50, 50, 80), 0.6), Symbol("ground", Box(11, 84, 15, 89), 0.6))
    assert sorted(bodies_of(kept, (), (), (), frame), key=lambda s: s.kind, reverse=True) == list(kept), (
        "one side, small"
    )


def test_a_wire_that_passes_close_by_a_part_is_no_side_of_it():
    drawn = sheet([], Box(0, 0, 140, 100))
    cv2.circle(drawn.ink, (round(50 * PX_PER_MM), round(40 * PX_PER_MM)), round(3 * PX_PER_MM), 255, 4)
    cv2.line(
        drawn.ink,
        (round(20 * PX_PER_MM), round(44.1 * PX_PER_MM)),
        (round(90 * PX_PER_MM), round(44.1 * PX_PER_MM)),
        255,
        5,
    )
    kept = fitted(Symbol("sensor", Box(47, 37, 53, 43), 0.9), drawn.ink)
    assert kept.box.y1 == pytest.approx(43, abs=0.3)


def test_the_ragged_edge_of_a_wire_that_passes_close_by_is_no_side_either():
    drawn = sheet([], Box(0, 0, 140, 100)).ink
    lever = [(round(x * PX_PER_MM), round(42.0 * PX_PER_MM)) for x in (49, 51)]
    cv2.line(drawn, *lever, 255, 5)
    row = round(43.9 * PX_PER_MM)
    drawn[row : row + 4, round(20 * PX_PER_MM) : round(90 * PX_PER_MM)] = 255
    drawn[row + 4, round(47 * PX_PER_MM) : round(52 * PX_PER_MM)] = 255  # beyond the part this row is paper
    switch = Symbol("switch", Box(47, 38, 53, 43), 0.7)
    for x in (47, 53):
        cv2.circle(drawn, (round(x * PX_PER_MM), round(38.5 * PX_PER_MM)), 6, 255, 2)
    assert fitted(switch, drawn).box.y1 == pytest.approx(43, abs=0.3)
    drawn[row - 8 : row - 4, round(47 * PX_PER_MM) : round(53 * PX_PER_MM)] = 255  # its outline, close to the wire
    assert fitted(switch, drawn).box.y1 == pytest.approx((row - 4) / PX_PER_MM, abs=0.01)


def test_a_wire_that_turns_close_by_a_part_is_no_side_of_it_and_a_frame_whose_side_runs_on_is():
    drawn = sheet([], Box(0, 0, 140, 100)).ink
    mm = lambda *at: tuple(round(v * PX_PER_MM) for v in at)  # noqa: E731  # points of the drawing
    for x in (47, 53):
        cv2.circle(drawn, mm(x, 38.5), 6, 255, 2)
    cv2.line(drawn, mm(46.5, 44), mm(90, 44), 255, 4)
    cv2.line(drawn, mm(46.5, 44), mm(46.5, 70), 255, 4)
    switch = Symbol("switch", Box(47, 38, 53, 43), 0.7)
    assert fitted(switch, drawn).box.y1 == 43
    turned = Symbol("switch", Box(38, 47, 43, 53), 0.7)
    assert fitted(turned, np.ascontiguousarray(drawn.T)).box.x1 == 43
    cv2.line(drawn, mm(53.5, 37), mm(53.5, 44), 255, 4)
    assert fitted(switch, drawn).box.y1 == pytest.approx(44.2, abs=0.2), "a side begins there: it is a frame"


@pytest.mark.parametrize(("length", "stays"), [(1.0, True), (1.9, True), (0.1, False)])
def test_a_stub_between_a_part_and_a_code_stays_a_line(length, stays):
    ink = np.zeros((600, 900), np.uint8)
    x0 = round(20.35 * PX_PER_MM)
    cv2.line(ink, (x0, 300), (x0 + round(length * PX_PER_MM), 300), 255, 4)
    _, stay, _ = _sorted(ink, (Symbol("grommet", Box(16, 22, 20, 28), 0.9),))
    assert stay.tolist() == [stays]


def test_a_crumb_of_a_parts_outline_is_no_stub():
    ink = np.zeros((600, 900), np.uint8)
    cv2.circle(ink, (round(20.9 * PX_PER_MM), 300), 6, 255, -1)
    assert not _sorted(ink, (Symbol("lamp", Box(16, 22, 20, 28), 0.9),))[1].any()


def test_letters_that_ran_into_each_other_are_no_lines_and_a_crossing_that_looks_like_a_letter_is_one():
    ink = np.zeros((600, 900), np.uint8)
    for x in range(120, 420, 24):
        cv2.rectangle(ink, (x, 240), (x + 24, 268), 255, 8)
    word = TextBlock(0, Box(9.5, 19.5, 32, 23), 0, 0.3)
    assert not _sorted(ink, (), (word,))[1].any()
    ink[:] = 0
    cv2.line(ink, (300, 200), (300, 240), 255, 6)
    cv2.line(ink, (280, 220), (320, 220), 255, 6)
    assert _sorted(ink, (), (TextBlock(0, Box(23, 16, 27, 20.4), 0, 0.9),))[1].all()


def test_a_round_part_keeps_its_box_where_a_wire_turns_below_it():
    drawn = sheet([], Box(0, 0, 140, 100))
    cv2.circle(drawn.ink, (round(50 * PX_PER_MM), round(40 * PX_PER_MM)), round(2.8 * PX_PER_MM), 255, 4)
    path = np.array([[20, 44], [53.4, 44], [53.4, 60]]) * PX_PER_MM
    cv2.polylines(drawn.ink, [path.round().astype(np.int32)], isClosed=False, color=255, thickness=4)
    kept = fitted(Symbol("sensor", Box(47.2, 37.2, 52.8, 42.8), 0.9), drawn.ink)
    assert corners(kept.box) == pytest.approx((47.2, 37.2, 52.8, 42.8), abs=0.3)


def test_a_round_part_keeps_its_box_where_its_own_wire_comes_back_close_along_it():
    drawn = sheet([], Box(0, 0, 140, 100))
    cv2.circle(drawn.ink, (round(50 * PX_PER_MM), round(40 * PX_PER_MM)), round(3.3 * PX_PER_MM), 255, 4)
    path = np.array([[46.7, 40], [43, 40], [43, 43.9], [53.6, 43.9], [53.6, 60]]) * PX_PER_MM
    cv2.polylines(drawn.ink, [path.round().astype(np.int32)], isClosed=False, color=255, thickness=4)
    kept = fitted(Symbol("sensor", Box(46.7, 36.7, 53.3, 43.3), 0.9), drawn.ink)
    assert corners(kept.box) == pytest.approx((46.7, 36.7, 53.3, 43.3), abs=0.05)


def test_a_small_square_part_with_a_letter_in_it_is_still_drawn_to_its_outline():
    drawn = sheet([(48, 38, 52, 42)], Box(0, 0, 140, 100))
    cv2.putText(drawn.ink, "M", (round(48.7 * PX_PER_MM), round(41.2 * PX_PER_MM)), 0, 1.1, 255, 4)
    kept = fitted(Symbol("motor", Box(48.5, 38.4, 51.6, 41.7), 0.9), drawn.ink)
    assert corners(kept.box) == pytest.approx((47.8, 37.8, 52.2, 42.2), abs=0.3)


def test_a_bracket_that_was_taken_for_a_letter_is_none_and_other_letters_stay():
    glyphs = np.zeros((600, 600), np.uint8)
    glyphs[240:280, 100:180] = 255
    glyphs[240:280, 400:440] = 255
    lettering = Lettering((), glyphs)
    left = _without_bracket_letters(lettering, (EdgeSign("left", Box(5.0, 19.0, 15.0, 24.0), 1.0),))
    assert not left.glyphs[:, :200].any()
    assert left.glyphs[240:280, 400:440].all()
    assert glyphs[250, 150] == 255
    assert _without_bracket_letters(lettering, ()) is lettering


@pytest.mark.parametrize(
    ("seen", "snaps"),
    [
        (Box(62, 38, 92, 84), True),
        (Box(62, 38, 92, 70), False),
        (Box(64, 38, 90, 84), False),
        (Box(62, 62, 92, 84), False),
    ],
    ids=["cut at the top", "ends inside", "narrower", "short"],
)
def test_a_long_part_of_which_the_detector_saw_one_end_reaches_to_its_outline(seen, snaps):
    outline = Rectangle(Box(62, 20, 92, 84), dashed=True, probability=0.9)
    bodies = bodies_of((Symbol("fuse_block", seen, 0.93),), (), (outline,), (), Box(5, 5, 300, 200))
    sure = [b for b in bodies if b.probability == 0.93]
    assert [corners(b.box) == corners(outline.box) for b in sure] == ([True] if snaps else [False] * len(sure))


@pytest.mark.parametrize(("chance", "framed", "kept"), [(0.68, True, False), (0.9, True, True), (0.68, False, True)])
def test_a_doubtful_sign_astride_a_side_of_a_sure_part_with_a_frame_is_none(chance: float, framed: bool, kept: bool):
    block = Symbol("fuse_block", Box(20, 20, 50, 54), 0.99)
    corner = Symbol("switch", Box(16.5, 49.5, 23.5, 55.0), chance)
    rectangles = (Rectangle(Box(20.1, 20.1, 49.9, 53.9), dashed=True, probability=0.9),) if framed else ()
    found = bodies_of((block, corner), (), rectangles, (), None)
    assert [s.kind for s in found] == (["switch"] if kept else ["fuse_block"])
