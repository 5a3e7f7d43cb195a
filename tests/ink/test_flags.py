"""Outlines close round a line of lettering on a wire are flags, whatever their shape; what wires enclose is none."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from digitize.harness.place import Box
from digitize.ink.flagged_bodies import with_flags
from digitize.ink.flags import FLAG, find_flags, whole_labels
from digitize.ink.sleeves import with_sleeves
from digitize.ink.state import Symbol, TextBlock
from digitize.sheet.state import PX_PER_MM

MM = int(PX_PER_MM)
SHAPES = {
    "rectangle": [(10, 9), (30, 9), (30, 12), (10, 12)],
    "pointed": [(10, 9), (30, 9), (31.5, 10.5), (30, 12), (10, 12), (8.5, 10.5)],
    "round": [(10, 9), (30, 9), (31, 9.5), (31.5, 10.5), (31, 11.5), (30, 12), (10, 12), (9, 11.5), (8.5, 10.5), (9, 9.5)],
}  # fmt: skip


def page(shape: str = "rectangle", *, wires: tuple[bool, bool] = (True, True)) -> NDArray[np.uint8]:
    """40 x 20 mm with an outline 3 mm high round (20, 10.5), and wires into its left and right end."""
    ink = np.zeros((20 * MM, 40 * MM), np.uint8)
    outline = np.array([[round(x * MM), round(y * MM)] for x, y in SHAPES[shape]], np.int32)
    cv2.polylines(ink, [outline], isClosed=True, color=255, thickness=3)
    x0, x1 = (int(v) for v in (outline[:, 0].min(), outline[:, 0].max()))
    for there, a, b in ((wires[0], 2 * MM, x0), (wires[1], x1, 38 * MM)):
        if there:
            cv2.line(ink, (a, round(10.5 * MM)), (b, round(10.5 * MM)), 255, 3)
    return ink


def found(ink: NDArray[np.uint8], *boxes: Box, angle: int = 0) -> tuple[Symbol, ...]:
    blocks = tuple(TextBlock(k, b, angle, 0.95) for k, b in enumerate(boxes or (Box(10.8, 9.6, 29.2, 11.4),)))
    return find_flags(ink, np.zeros_like(ink), blocks)


@pytest.mark.parametrize("shape", SHAPES)
@pytest.mark.parametrize("wires", [(True, True), (False, True)], ids=["two wires", "one wire"])
def test_an_outline_close_round_lettering_on_a_wire_is_a_flag(shape: str, wires: tuple[bool, bool]):
    (flag,) = found(page(shape, wires=wires))
    left, right = min(x for x, _ in SHAPES[shape]), max(x for x, _ in SHAPES[shape])
    assert flag.kind == FLAG
    assert (flag.box.y0, flag.box.y1) == pytest.approx((9, 12), abs=0.3)
    assert (flag.box.x0, flag.box.x1) == pytest.approx((left, right), abs=0.6)


def test_an_upright_flag_is_found_on_an_upright_wire():
    ink = np.ascontiguousarray(page().T)
    (flag,) = found(ink, Box(9.6, 10.8, 11.4, 29.2), angle=90)
    assert (flag.box.x0, flag.box.y0, flag.box.x1, flag.box.y1) == pytest.approx((9, 10, 12, 30), abs=0.3)


def test_a_wire_may_pass_behind_a_flag():
    ink = page()
    for a, b in ((2, 9), (12, 18)):
        cv2.line(ink, (20 * MM, a * MM), (20 * MM, b * MM), 255, 3)
    assert len(found(ink)) == 1


def test_a_flag_may_end_at_a_wire_that_runs_across_and_its_own_goes_on_behind_that():
    ink = page(wires=(False, True))
    cv2.line(ink, (round(30.3 * MM), 2 * MM), (round(30.3 * MM), 18 * MM), 255, 9)
    assert len(found(ink)) == 1
    ink[:, round(30.8 * MM) :] = 0
    assert not found(ink)


def test_a_side_that_wore_through_below_its_lettering_is_one_side():
    ink = page()
    ink[round(11.7 * MM) : round(12.4 * MM), round(22 * MM) : round(22.9 * MM)] = 0
    (flag,) = found(ink)
    assert (flag.box.x0, flag.box.x1) == pytest.approx((10, 30), abs=0.6)


@pytest.mark.parametrize(("share", "flags"), [(0.3, 1), (0.7, 0)])
def test_an_end_that_wore_through_closes_sides_that_end_together(share: float, flags: int):
    ink = page()
    long = (3 - 0.5) * share
    ink[
        round((10.5 - long / 2 - 0.3) * MM) : round((10.5 + long / 2 - 0.3) * MM), round(9.7 * MM) : round(10.3 * MM)
    ] = 0
    assert len(found(ink)) == flags


def test_a_box_that_no_wire_reaches_is_no_flag():
    assert not found(page(wires=(False, False)))


def test_lettering_that_wires_enclose_has_no_flag():
    ink = np.zeros((20 * MM, 40 * MM), np.uint8)
    for y in (9, 10.5, 12):
        spans = ((2, 38),) if y != 10.5 else ((2, 10), (30, 38))
        for a, b in spans:
            cv2.line(ink, (a * MM, round(y * MM)), (b * MM, round(y * MM)), 255, 3)
    for x in (10, 30):
        cv2.line(ink, (x * MM, 2 * MM), (x * MM, 18 * MM), 255, 3)
    assert not found(ink)


def test_a_part_with_a_wire_at_its_long_side_is_no_flag():
    ink = page()
    cv2.line(ink, (20 * MM, 12 * MM), (20 * MM, 18 * MM), 255, 3)
    assert not found(ink)


def test_a_flag_holds_one_line_of_lettering_even_when_a_slash_had_cut_it():
    ink = page()
    cv2.line(ink, (19 * MM, 12 * MM), (20 * MM, 9 * MM), 255, 3)
    halves = Box(10.8, 9.6, 18.4, 11.4), Box(20.6, 9.6, 29.2, 11.4)
    flags = found(ink, *halves)
    other = TextBlock(2, Box(10, 14, 20, 16), 0, 0.9)
    blocks = whole_labels((*(TextBlock(k, b, 0, 0.9) for k, b in enumerate(halves)), other), flags, page())
    assert [(b.id, b.box) for b in blocks] == [(0, Box(10.8, 9.6, 29.2, 11.4)), (1, other.box)]


def test_what_was_taken_for_a_part_within_a_flag_is_lettering_but_a_part_about_the_flag_stays():
    flag = Symbol(FLAG, Box(10, 9, 30, 12), 0.9)
    letters, connector = Symbol("switch", Box(12, 9.2, 16, 11.8), 0.5), Symbol("connector", Box(9.8, 9, 30, 12.2), 0.9)
    assert with_flags((letters,), (flag,)) == (flag,)
    assert with_flags((connector,), (flag,)) == (connector,)


def test_a_doubtful_part_that_holds_a_flag_and_a_wire_beside_it_is_none_but_a_box_of_parts_is_one():
    flag = Symbol(FLAG, Box(10, 9, 30, 12), 0.9)
    wires, block = Symbol("resistor", Box(8, 9, 30.1, 15), 0.5), Symbol("fuse_block", Box(5, 5, 32, 30), 0.9)
    assert with_flags((wires,), (flag,)) == (flag,)
    assert with_flags((block,), (flag,)) == (block, flag)
    assert with_flags((wires,), ()) == (wires,)


@pytest.mark.parametrize(("flags", "box", "left"), [
    (4, Box(9.5, 7, 30.5, 14), False),
    (3, Box(9.5, 7, 30.5, 14), True),  # few flags: no habit
    (4, Box(6, 7, 34, 14), True),  # longer than the flag: a box with more in it
    (4, Box(9.5, 2, 30.5, 14), True),
    (4, Box(6, 8, 30.5, 13), False),  # longer, and no frame in which other things are drawn
])  # fmt: skip
def test_on_a_sheet_of_flags_even_a_sure_part_hardly_larger_than_the_flag_in_it_is_the_wires_around(flags, box, left):
    all_flags = tuple(Symbol(FLAG, Box(10, 9 + 40 * k, 30, 12 + 40 * k), 0.9) for k in range(flags))
    part = Symbol("coil", box, 0.99)
    assert (part in with_flags((part,), all_flags)) is left
    framed = replace(part, kind="relay")
    assert (framed in with_flags((framed,), all_flags)) is (left or box.x0 < 9)


@pytest.mark.parametrize(("kind", "flags", "high", "is_flag"), [
    ("coil", 4, 3, True),
    ("connector", 4, 3, False),  # it may hold its id
    ("coil", 3, 3, False),  # few flags: no habit
    ("coil", 5, 4, False),  # higher than the others
])  # fmt: skip
def test_a_part_about_one_of_the_many_flags_of_a_sheet_is_a_flag_that_may_be_that_part(kind, flags, high, is_flag):
    others = [Symbol(FLAG, Box(10, 9 + 40 * k, 30, 12 + 40 * k), 0.9) for k in range(1, flags)]
    all_flags = (Symbol(FLAG, Box(10, 9, 30, 9 + high), 0.9), *others)
    part = Symbol(kind, Box(9.5, 9, 31, 9 + high), 0.99)  # a bit of a hop beside the flag was taken for a piece of it
    found = with_flags((part,), all_flags)[0]
    assert found == (Symbol(FLAG, all_flags[0].box, 0.9, alternatives=((kind, 0.99),)) if is_flag else part)


def hopping_page(*, thick: int = 3) -> tuple[NDArray[np.uint8], tuple[int, int]]:
    """A flag at (10..30, 9..12) mm whose right wire hops, right at the flag, over a wire that runs along its end."""
    ink = page(wires=(True, False))
    x, y = 30 * MM + 5, round(10.5 * MM)
    cv2.line(ink, (x, 2 * MM), (x, 18 * MM), 255, thick)
    cv2.ellipse(ink, (x, y), (15, 15), 0, 180, 360, 255, 3)
    cv2.line(ink, (x + 15, y), (38 * MM, y), 255, 3)
    return ink, (x, y)


@pytest.mark.parametrize("thick", [3, 9])
def test_a_wire_that_runs_across_right_beside_a_flag_is_no_side_of_it(thick: int):
    ink, _ = hopping_page(thick=thick)
    (flag,) = found(ink)
    assert (flag.box.x0, flag.box.x1) == pytest.approx((10, 30), abs=0.3)


@pytest.mark.parametrize("off", [5, 6])
def test_a_wire_so_near_that_the_ends_of_a_flags_sides_seem_to_reach_it_is_no_end_of_the_flag(off: int):
    ink = page()
    x = 30 * MM + 2 + off
    cv2.line(ink, (x, 2 * MM), (x, 18 * MM), 255, 4)
    (flag,) = found(ink)
    assert flag.box.x1 == pytest.approx(30.1, abs=0.15)


def test_a_wire_across_a_flag_near_its_end_is_not_its_end():
    ink = page()
    cv2.line(ink, (29 * MM, 2 * MM), (29 * MM, 18 * MM), 255, 3)
    (flag,) = found(ink)
    assert flag.box.x1 == pytest.approx(30.1, abs=0.15)


def test_the_leg_of_a_hop_that_was_taken_for_a_letter_does_not_move_the_end_of_its_flag():
    ink, (x, _) = hopping_page(thick=6)
    (flag,) = found(ink, Box(10.8, 9.6, x / MM - 0.3, 11.4))
    assert flag.box.x1 == pytest.approx(30.1, abs=0.15)


def test_a_thick_hop_that_covers_a_corner_of_a_flag_does_not_hide_it():
    ink = page(wires=(True, False))
    x, y = 31 * MM, round(10.5 * MM)
    cv2.line(ink, (x, 2 * MM), (x, 18 * MM), 255, 3)
    cv2.ellipse(ink, (x, y), (15, 15), 0, 180, 360, 255, 9)
    cv2.line(ink, (x + 15, y), (38 * MM, y), 255, 9)
    (flag,) = found(ink)
    assert (flag.box.x0, flag.box.x1) == pytest.approx((10, 30), abs=0.3)


def test_what_was_taken_for_a_part_in_most_of_a_flag_is_as_large_as_the_flag():
    flag, piece = Symbol(FLAG, Box(10, 9, 30, 12), 0.9), Symbol("fusible_link", Box(14, 8.9, 30, 12), 0.99)
    assert with_flags((piece,), (flag,)) == (Symbol("fusible_link", Box(10, 9, 30, 12), 0.99),)


def test_wires_that_cross_at_both_ends_of_lettering_are_no_flag():
    ink = page()
    for x in (10, 30):
        cv2.line(ink, (x * MM, 2 * MM), (x * MM, 18 * MM), 255, 3)
    assert not found(ink)


def test_another_letter_that_touches_a_corner_does_not_hide_a_flag():
    ink = page()
    cv2.line(ink, (round(7.5 * MM), 12 * MM), (10 * MM, 12 * MM), 255, 3)
    cv2.line(ink, (round(7.5 * MM), 12 * MM), (round(7.5 * MM), 14 * MM), 255, 3)
    (flag,) = found(ink)
    assert (flag.box.x0, flag.box.x1) == pytest.approx((10, 30), abs=0.3)


def test_bumps_of_a_worn_outline_are_no_wires():
    ink = page()
    for x in (12, 17, 26):
        ink[9 * MM - 5 : 9 * MM, x * MM : x * MM + 5] = 255
    assert len(found(ink)) == 1


def lettered(ink: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """The same with strokes along the whole inside of the flag, most of which touch its sides."""
    for x in range(11 * MM, 29 * MM, 16):
        cv2.line(ink, (x, 9 * MM), (x + 8, 12 * MM), 255, 4)
    return ink


def test_a_flag_is_found_by_the_few_letters_that_do_not_touch_its_outline():
    (flag,) = found(lettered(page()), Box(18.2, 9.6, 20.4, 11.4))
    assert (flag.box.x0, flag.box.x1) == pytest.approx((10, 30), abs=0.3)


def test_a_long_box_with_one_letter_and_paper_in_it_is_no_flag():
    ink = page()
    cv2.line(ink, (19 * MM, round(9.8 * MM)), (19 * MM, round(11.2 * MM)), 255, 4)
    assert not found(ink, Box(18.2, 9.6, 20.4, 11.4))


def test_the_block_of_a_flag_of_which_few_letters_were_seen_fills_it():
    flag = Symbol(FLAG, Box(10, 9, 30, 12), 0.9)
    seen = (TextBlock(0, Box(18, 9.6, 20.4, 11.4), 0, 0.9), TextBlock(1, Box(25, 9.6, 26, 11.4), 90, 0.6))
    (whole,) = whole_labels(seen, (flag,), page())
    assert (whole.box.x0, whole.box.x1) == pytest.approx((10.45, 29.55))
    assert whole.angle == 0


@pytest.mark.parametrize("upright", [False, True])
@pytest.mark.parametrize("drawn", [True, False])
def test_the_block_of_a_flag_reaches_over_letters_that_ran_into_its_end(drawn, upright):
    ink = page()
    for x in (25.0, 25.8, 26.6, 27.4, 28.2) if drawn else ():
        cv2.line(ink, (round(x * MM), round(9.2 * MM)), (round((x + 0.4) * MM), round(11.8 * MM)), 255, 5)
    flag, seen = Box(10, 9, 30, 12), Box(10.9, 9.6, 24.5, 11.4)
    if upright:
        ink, flag, seen = np.ascontiguousarray(ink.T), flag.swapped(), seen.swapped()
    (whole,) = whole_labels((TextBlock(0, seen, 90 if upright else 0, 0.9),), (Symbol(FLAG, flag, 0.9),), ink)
    box = whole.box.swapped() if upright else whole.box
    assert (box.x0, box.x1) == pytest.approx((10.9, 29.55 if drawn else 24.5))


def test_a_figure_beside_the_pointed_end_of_an_outline_is_none_of_its_letters():
    ink = page("pointed")
    cv2.line(ink, (round(7.2 * MM), round(9.1 * MM)), (round(7.2 * MM), round(10.3 * MM)), 255, 4)
    seen = TextBlock(0, Box(10.9, 9.6, 29.1, 11.4), 0, 0.9), TextBlock(1, Box(6.9, 9.0, 7.5, 10.4), 0, 0.3)
    found = whole_labels(seen, (Symbol(FLAG, Box(6.5, 9, 31.5, 12), 0.9),), ink)  # the figure touches it
    assert [t.box for t in found] == [t.box for t in seen]


@pytest.mark.parametrize(
    ("kind", "chance", "left"), [("module", 0.5, "flag"), ("module", 0.9, "module"), ("coil", 0.5, "coil")]
)
def test_a_bare_outline_round_a_line_of_lettering_is_a_flag_and_what_is_known_stays(kind, chance, left):
    flag = Symbol(FLAG, Box(10, 9, 30, 12), 0.9)
    assert [b.kind for b in with_flags((Symbol(kind, Box(10, 9, 30, 12), chance),), (flag,))] == [left]


def test_dense_lettering_in_a_flag_is_no_sleeve_and_a_sleeve_beside_it_is_one():
    flag = Symbol(FLAG, Box(10, 9, 30, 12), 0.9)
    within, beside = Symbol("sleeve", Box(14, 9, 22, 12), 0.9), Symbol("sleeve", Box(40, 9, 50, 12), 0.9)
    assert with_sleeves((flag,), (within, beside)) == (flag, beside)


def crowded(flags: int, *, high: float = 3.0) -> tuple[NDArray[np.uint8], list[Box]]:
    """Flags that stand clear below each other, and a last one, ``high`` mm, with a wire running past each of its ends."""
    ink = np.zeros(((flags + 1) * 10 * MM, 40 * MM), np.uint8)
    boxes = []
    for k in range(flags + 1):
        tall = high if k == flags else 3.0
        top, foot = round((10 * k + 5 - tall / 2) * MM), round((10 * k + 5 + tall / 2) * MM)
        cv2.rectangle(ink, (10 * MM, top), (30 * MM, foot), 255, 3)
        cv2.line(ink, (2 * MM, (10 * k + 5) * MM), (10 * MM, (10 * k + 5) * MM), 255, 3)
        cv2.line(ink, (30 * MM, (10 * k + 5) * MM), (38 * MM, (10 * k + 5) * MM), 255, 3)
        boxes.append(Box(10.8, 10 * k + 5 - tall / 2 + 0.6, 29.2, 10 * k + 5 + tall / 2 - 0.6))
    for x in (10, 30):
        cv2.line(ink, (x * MM, (10 * flags + 1) * MM), (x * MM, (10 * flags + 9) * MM), 255, 3)
    return ink, boxes


@pytest.mark.parametrize(
    ("flags", "high", "all_found"), [(4, 3.0, True), (2, 3.0, False), (4, 4.0, False)], ids=["usual", "few", "higher"]
)
def test_a_flag_between_wires_that_run_past_its_ends_is_told_by_the_others_of_its_sheet(
    flags: int, high: float, all_found: bool
):
    ink, boxes = crowded(flags, high=high)
    assert len(found(ink, *boxes)) == flags + all_found


@pytest.mark.parametrize(("flags", "crosses", "all_found"), [(4, False, True), (2, False, False), (4, True, False)])
def test_a_flag_whose_letters_were_hardly_taken_for_any_is_told_by_the_others_of_its_sheet(
    flags: int, crosses: bool, all_found: bool
):
    ink, boxes = crowded(flags)
    ink[10 * flags * MM :] = 0
    ink[(10 * flags + 3) * MM : (10 * flags + 8) * MM] = lettered(page())[8 * MM : 13 * MM]
    if crosses:
        for x in (10, 30):
            cv2.line(ink, (x * MM, (10 * flags + 1) * MM), (x * MM, (10 * flags + 9) * MM), 255, 3)
    last = [Box(x, 10 * flags + 4.6, x + 5, 10 * flags + 6.4) for x in (12, 20)]
    blocks = [TextBlock(k, b, 0, 0.95) for k, b in enumerate(boxes[:-1])] + [TextBlock(9, b, 0, 0.2) for b in last]
    assert len(find_flags(ink, np.zeros_like(ink), tuple(blocks))) == flags + all_found


@pytest.mark.parametrize("upright", [False, True])
def test_a_worn_end_and_the_stub_of_a_bent_wire_behind_it_are_no_letters_of_their_flag(upright: bool):
    ink = page(wires=(False, True))
    ink[round(11 * MM) : round(11.8 * MM), : round(10.4 * MM)] = 0
    bent = np.array([(10 * MM, round(10.5 * MM)), (9 * MM, round(10.5 * MM)), (9 * MM, 18 * MM)], np.int32)
    cv2.polylines(ink, [bent], isClosed=False, color=255, thickness=4)
    seen = Box(9.0, 9.4, 28, 11.6)
    if upright:
        ink, seen = np.ascontiguousarray(ink.T), seen.swapped()
    (flag,) = found(ink, seen, angle=90 if upright else 0)
    box = flag.box.swapped() if upright else flag.box
    assert (box.x0, box.x1) == pytest.approx((10, 30), abs=0.3)
    (label,) = whole_labels((TextBlock(0, seen, 90 if upright else 0, 0.9),), (flag,), ink)
    assert flag.box.overlap(label.box) == pytest.approx(label.box.width * label.box.height)


@pytest.mark.parametrize("upright", [False, True])
def test_ids_in_connectors_are_no_flags_and_make_none_of_lettering_that_wires_enclose(upright: bool):
    ink, boxes = crowded(4)
    outlines = [Box(10, 10 * k + 3.5, 30, 10 * k + 6.5) for k in range(4)]
    angle = 90 if upright else 0
    if upright:
        ink = np.ascontiguousarray(ink.T)
        boxes, outlines = [b.swapped() for b in boxes], [b.swapped() for b in outlines]
    blocks = tuple(TextBlock(k, b, angle, 0.95) for k, b in enumerate(boxes))
    assert len(find_flags(ink, np.zeros_like(ink), blocks)) == 5
    assert not find_flags(ink, np.zeros_like(ink), blocks, outlines)
    assert len(find_flags(ink, np.zeros_like(ink), blocks, outlines[:1])) == 3  # too few now to be a habit
