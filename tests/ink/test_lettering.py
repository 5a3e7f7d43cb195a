"""Lettering is found, whole and alone, among wires, outlines, rules and dirt. Pictures are drawn here, in px at 12 px/mm."""

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from digitize.ink.lettering import ACCEPT, find_lettering
from digitize.sheet.mapping import SheetMapping
from digitize.sheet.state import PX_PER_MM, Sheet, SheetFacts
from digitize.sheet.zones import ZoneGrid

CAP = 21.0  # height in px of a capital of the Hershey simplex face at scale 1


def sheet_of(ink):
    """A sheet of which only the ink matters."""
    h, w = ink.shape
    one = SheetMapping(((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)))
    facts = SheetFacts(
        "s",
        w / PX_PER_MM,
        h / PX_PER_MM,
        w,
        h,
        304.8,
        True,
        one,
        None,
        0.0,
        ZoneGrid((), (), True),
        0.0,
        "diagram",
        0.5,
    )
    return Sheet(facts, 255 - ink, ink)


def page(width=120, height=60):
    """An empty page of ``width`` × ``height`` mm."""
    return np.zeros((int(height * PX_PER_MM), int(width * PX_PER_MM)), np.uint8)


def px(*mm):
    return tuple(round(v * PX_PER_MM) for v in mm)


def letter(ink, text, at, high=2.5, thick=3):
    """Draw ``text`` with its lower left corner at ``at`` mm, capitals ``high`` mm; returns its box in mm."""
    fresh = np.zeros_like(ink)
    cv2.putText(fresh, text, px(*at), cv2.FONT_HERSHEY_SIMPLEX, high * PX_PER_MM / CAP, 255, thick)
    fresh[:] = np.where(fresh > 127, 255, 0)  # OpenCV 5 smooths lettering
    ink |= fresh
    return box_of(fresh)


def box_of(mask):
    y, x = np.nonzero(mask)
    return tuple(v / PX_PER_MM for v in (x.min(), y.min(), x.max() + 1, y.max() + 1))


def iou(a, b):
    w, h = min(a[2], b[2]) - max(a[0], b[0]), min(a[3], b[3]) - max(a[1], b[1])
    if w <= 0 or h <= 0:
        return 0.0
    return w * h / ((a[2] - a[0]) * (a[3] - a[1]) + (b[2] - b[0]) * (b[3] - b[1]) - w * h)


def blocks(ink, least=ACCEPT):
    found = find_lettering(sheet_of(ink))
    return [b for b in found.blocks if b.probability >= least]


def corners(block):
    return block.box.x0, block.box.y0, block.box.x1, block.box.y1


def only(ink, box, least=ACCEPT):
    """The single block of a page, which must lie on ``box``."""
    found = blocks(ink, least)
    assert len(found) == 1, [(corners(b), b.angle) for b in found]
    assert iou(corners(found[0]), box) > 0.8
    return found[0]


def test_an_empty_page_holds_no_lettering():
    found = find_lettering(sheet_of(page()))
    assert found.blocks == ()
    assert not found.glyphs.any()


def test_a_label_is_one_block_that_reads_left_to_right():
    ink = page()
    box = letter(ink, "HORN RELAY", (30, 30))
    assert only(ink, box).angle == 0


def test_a_code_with_wide_spaces_is_one_block():
    ink = page()
    # a typewriter: every character, the space too, takes one step
    boxes = [letter(ink, c, (20 + 2.4 * k, 30), high=2.1) for k, c in enumerate("S4C 16 RED/BLU") if c != " "]
    only(ink, (boxes[0][0], boxes[0][1], boxes[-1][2], max(b[3] for b in boxes)))


def test_two_labels_on_one_line_stay_two():
    ink = page()
    letter(ink, "CHOKE", (10, 30))
    letter(ink, "CLOCK", (40, 30))
    assert len(blocks(ink)) == 2


def test_lettering_that_interrupts_a_wire_leaves_the_wire_out():
    ink = page()
    box = letter(ink, "12.05A 6.0 WS-VI", (40, 30), high=2.0)
    y = (box[1] + box[3]) / 2
    for a, b in ((5, box[0] - 0.8), (box[2] + 0.8, 115)):
        cv2.line(ink, px(a, y), px(b, y), 255, 5)
    only(ink, box)


def test_a_wire_right_under_the_letters_is_no_part_of_them():
    ink = page()
    box = letter(ink, "G8 4 BLK", (40, 30))
    cv2.line(ink, px(5, 30.25), px(115, 30.25), 255, 4)
    block = only(ink, box)
    assert block.probability > 0.8


def test_a_wire_through_the_letters_does_not_hide_them():
    ink = page()
    box = letter(ink, "R4A 18 PPL", (40, 30))
    cv2.line(ink, px(5, 28.6), px(115, 28.6), 255, 4)
    assert any(iou(corners(b), box) > 0.6 for b in blocks(ink))


def test_the_wire_stays_in_the_ink_that_is_no_lettering():
    ink = page()
    letter(ink, "R4A 18 PPL", (40, 30))
    before = ink.copy()
    cv2.line(ink, px(5, 31), px(115, 31), 255, 4)
    glyphs = find_lettering(sheet_of(ink)).glyphs
    assert np.count_nonzero(glyphs & before) > 0.95 * np.count_nonzero(before)
    assert not np.any(glyphs & ~before)


def test_lettering_in_an_oval_leaves_the_oval_out():
    ink = page()
    box = letter(ink, "Z213", (40, 30), high=2.2)
    middle = px((box[0] + box[2]) / 2, (box[1] + box[3]) / 2)
    cv2.ellipse(ink, middle, px(6, 2.6), 0, 0, 360, 255, 4)
    cv2.line(ink, px(5, middle[1] / PX_PER_MM), (middle[0] - px(6)[0], middle[1]), 255, 4)
    only(ink, box)


def test_a_single_letter_in_a_circle_is_found():
    ink = page()
    letter(ink, "BEAM", (80, 50), high=2.7)
    letter(ink, "SPEED", (80, 40), high=2.7)
    box = letter(ink, "M", (40, 30), high=2.7)
    cv2.circle(ink, px((box[0] + box[2]) / 2, (box[1] + box[3]) / 2), px(4)[0], 255, 4)
    assert any(iou(corners(b), box) > 0.7 for b in blocks(ink))


def test_lettering_that_reads_upwards_is_told_from_level_lettering():
    ink = page(60, 60)
    fresh = page(60, 60)
    letter(fresh, "T11B 14 GRY", (10, 30))
    ink |= np.ascontiguousarray(np.rot90(fresh))
    box = box_of(ink)
    assert only(ink, box).angle == 90


@pytest.mark.parametrize(("turns", "angle"), [(1, 90), (3, 270)])
def test_points_tell_whether_lettering_reads_up_or_down(turns, angle):
    fresh = page(60, 60)
    letter(fresh, "S.P. 4.5 GN", (10, 30))
    assert [b.angle for b in blocks(np.ascontiguousarray(np.rot90(fresh, turns)))] == [angle]


def test_lines_of_a_name_under_each_other_are_separate_blocks():
    ink = page()
    letter(ink, "HEATED REAR", (30, 30))
    letter(ink, "WINDOW", (33, 33.6))
    found = blocks(ink)
    assert [b.angle for b in found] == [0, 0]


def test_dotted_leaders_join_nothing_and_are_no_letters():
    ink = page()
    name = letter(ink, "HORN PUSH", (10, 30))
    zone = letter(ink, "F14", (90, 30))
    for x in np.arange(name[2] + 1.5, zone[0] - 1.5, 1.6):
        cv2.circle(ink, px(x, 29.8), 2, 255, -1)
    found = sorted(blocks(ink, 0.1), key=lambda b: b.box.x0)
    assert len(found) == 2
    assert iou(corners(found[0]), name) > 0.8
    assert iou(corners(found[1]), zone) > 0.8


def test_a_dash_in_a_table_cell_is_found():
    ink = page()
    for y in (20, 24, 28):
        cv2.line(ink, px(10, y), px(110, y), 255, 3)
    for x in (10, 20, 60, 110):
        cv2.line(ink, px(x, 20), px(x, 28), 255, 3)
    letter(ink, "C13C 16 LGN", (22, 23.2), high=2.2)
    cv2.line(ink, px(22, 26), px(23.2, 26), 255, 3)
    dash = (22, 25.9, 23.2, 26.1)
    assert any(abs(b.box.x0 - dash[0]) < 0.3 and abs(b.box.x1 - dash[2]) < 0.3 for b in blocks(ink))


def test_a_wire_across_the_space_between_words_does_not_split_a_code():
    ink = page()
    first = letter(ink, "T9 14", (20, 30), high=2.2)
    last = letter(ink, "BRN", (first[2] + 1.6, 30), high=2.2)
    cv2.line(ink, px(first[2] + 0.9, 10), px(first[2] + 0.9, 50), 255, 4)
    only(ink, (first[0], first[1], last[2], last[3]))


def test_rules_of_a_table_separate_its_cells():
    ink = page()
    for y in (27, 31):
        cv2.line(ink, px(10, y), px(60, y), 255, 3)
    for x in (10, 18, 60):
        cv2.line(ink, px(x, 10), px(x, 40), 255, 3)
    letter(ink, "10", (13, 30), high=2.3)
    letter(ink, "45.08 WS", (19.2, 30), high=2.3)
    assert len(blocks(ink)) == 2


def test_dashed_outlines_are_no_lettering():
    ink = page()
    for x in np.arange(20, 80, 3.2):
        for y in (20, 45):
            cv2.line(ink, px(x, y), px(x + 2, y), 255, 4)
    for y in np.arange(20, 45, 3.2):
        for x in (20, 80):
            cv2.line(ink, px(x, y), px(x, y + 2), 255, 4)
    assert blocks(ink) == []


def test_the_bars_of_a_ground_are_no_lettering():
    ink = page()
    cv2.line(ink, px(40, 10), px(40, 20), 255, 4)
    for k, half in enumerate((2.0, 1.3, 0.6)):
        cv2.line(ink, px(40 - half, 20 + 1.1 * k), px(40 + half, 20 + 1.1 * k), 255, 4)
    assert blocks(ink) == []


def test_specks_are_no_lettering():
    ink = page()
    rng = np.random.default_rng(7)
    for x, y in rng.uniform((2, 2), (118, 58), (300, 2)):
        cv2.circle(ink, px(x, y), int(rng.integers(1, 3)), 255, -1)
    assert blocks(ink) == []


def test_broken_letters_still_make_one_block():
    ink = page()
    box = letter(ink, "CIGAR LIGHTER", (30, 30), high=2.4)
    # a scratch takes a sliver out of the middle of every letter
    y = px((box[1] + box[3]) / 2)[0]
    ink[y - 1 : y + 2, px(44)[0] : px(50)[0]] = 0
    found = blocks(ink)
    assert any(iou(corners(b), box) > 0.8 for b in found)


def test_a_slash_deeper_than_the_line_keeps_its_code_whole():
    ink = page()
    first = letter(ink, "2.0 R", (20, 30))
    last = letter(ink, "N C5C", (first[2] + 2.2, 30))
    top, foot = first[1] - 0.8, first[3] + 0.8
    cv2.line(ink, px(first[2] + 0.5, foot), px(first[2] + 1.7, top), 255, 3)
    only(ink, (first[0], top, last[2], foot))


def test_a_slanting_line_at_the_end_of_a_word_is_no_slash():
    ink = page()
    box = letter(ink, "RELAY", (20, 30))
    cv2.line(ink, px(box[2] + 0.4, box[3] + 0.8), px(box[2] + 1.6, box[1] - 0.8), 255, 3)
    only(ink, box)


def test_an_arrow_behind_a_code_is_left_to_the_lines():
    ink = page()
    box = letter(ink, "35.02H 0.75 GN", (20, 30))
    tip, y = box[2] + 5.4, (box[1] + box[3]) / 2
    cv2.line(ink, px(box[2] + 0.6, y), px(tip - 1, y), 255, 4)
    cv2.fillPoly(ink, [np.array([px(tip, y), px(tip - 2.2, y - 1), px(tip - 2.2, y + 1)])], 255)
    only(ink, box)
    assert not find_lettering(sheet_of(ink)).glyphs[:, px(box[2] + 0.4)[0] :].any()


def test_a_terminal_behind_the_stub_of_a_wire_is_no_part_of_the_code():
    ink = page()
    box = letter(ink, "23.06 0.75 GN", (20, 30))
    y = (box[1] + box[3]) / 2
    cv2.line(ink, px(box[2] + 1.0, y), px(box[2] + 2.6, y), 255, 3)
    cv2.line(ink, px(box[2] + 2.6, y - 0.75), px(box[2] + 2.6, y + 0.75), 255, 3)
    letter(ink, "8", (box[2] + 3.4, 29.8), high=2.2)
    found = blocks(ink)
    assert any(iou(corners(b), box) > 0.9 for b in found)


def test_a_small_number_beside_a_name_stays_apart():
    ink = page()
    number = letter(ink, "3", (20, 30), high=1.9)
    name = letter(ink, "CONTROL", (number[2] + 1.7, 30))
    assert any(iou(corners(b), name) > 0.9 for b in blocks(ink))


def dot(ink, x, y, size=0.35):
    """A point whose foot is at (x, y) mm."""
    cv2.rectangle(ink, px(x, y - size), px(x + size, y), 255, -1)


def test_the_point_behind_a_sentence_belongs_to_it_even_when_it_stands_off():
    ink = page()
    box = letter(ink, "SWITCHES ARE AT REST", (10, 30))
    dot(ink, box[2] + 0.6 * 2.5, box[3])
    (found,) = find_lettering(sheet_of(ink)).blocks
    assert found.box.x1 == pytest.approx(box[2] + 0.6 * 2.5 + 0.35, abs=0.2)


def test_a_speck_above_the_foot_line_is_no_point_of_the_sentence():
    ink = page()
    box = letter(ink, "SWITCHES ARE AT REST", (10, 30))
    dot(ink, box[2] + 0.6 * 2.5, box[3] - 0.6)
    assert find_lettering(sheet_of(ink)).blocks[0].box.x1 == pytest.approx(box[2], abs=0.2)


def test_the_number_of_a_note_belongs_to_its_words():
    ink = page()
    number = letter(ink, "1", (10, 30))
    dot(ink, number[2] + 0.6, number[3])
    words = letter(ink, "SWITCHES AT REST", (number[2] + 1.7 * 2.5, 30))
    (found,) = find_lettering(sheet_of(ink)).blocks
    assert (found.box.x0, found.box.x1) == pytest.approx((number[0], words[2]), abs=0.2)


def test_ids_are_positions():
    ink = page()
    for k in range(4):
        letter(ink, "FUSE", (20, 10 + 10 * k))
    found = find_lettering(sheet_of(ink)).blocks
    assert [b.id for b in found] == list(range(len(found)))


WORDS = st.text(alphabet="ABCDEFGHKLMNOPRSTUVWXYZ0123456789", min_size=3, max_size=9)


@settings(deadline=None, max_examples=25)
@given(text=WORDS, high=st.floats(1.6, 5.5), x=st.floats(5, 40), y=st.floats(12, 50))
def test_any_word_of_any_size_is_found_whole(text, high, x, y):
    ink = page(200, 60)
    box = letter(ink, text, (x, y), high, thick=2 if high < 2.5 else 4)
    assert any(iou(corners(b), box) > 0.8 and b.angle == 0 for b in blocks(ink))


@settings(deadline=None, max_examples=10)
@given(shift=st.tuples(st.integers(0, 40), st.integers(0, 40)))
def test_moving_the_page_moves_the_blocks(shift):
    ink = page()
    letter(ink, "IDLE AIR", (30, 30))
    letter(ink, "7", (80, 30))
    moved = np.roll(ink, shift, axis=(0, 1))
    a, b = blocks(ink, 0.1), blocks(moved, 0.1)
    assert len(a) == len(b)
    for one, other in zip(a, b, strict=True):
        assert other.box.x0 - one.box.x0 == pytest.approx(shift[1] / PX_PER_MM)
        assert other.box.y0 - one.box.y0 == pytest.approx(shift[0] / PX_PER_MM)


def test_the_point_behind_a_sentence_belongs_to_it_and_a_leader_does_not():
    ink = page()
    box = letter(ink, "SHOWN AT REST", (10, 20))
    end = box[2] + 0.5
    cv2.circle(ink, px(end, 19.6), 3, 255, -1)
    assert corners(only(ink, (box[0], box[1], end + 0.25, box[3])))[2] > end
    for k in range(1, 5):
        cv2.circle(ink, px(end + 1.6 * k, 19.6), 3, 255, -1)
    assert corners(only(ink, box))[2] < end


@pytest.mark.parametrize(("gap", "found"), [(0.0, True), (1.2, False)], ids=["two letters each", "two bits"])
def test_a_name_on_a_wire_whose_letters_ran_into_two_pieces_is_one(gap: float, found: bool):
    """As high as other lettering, its feet on the wire: LE and FT of LEFT. Bits no longer than one letter are none."""
    ink = page()
    letter(ink, "FOG LAMP", (20, 40))
    x = 60.0
    for first, second in (("L", "E"), ("F", "T")):
        box = letter(ink, first, (x, 30))
        if not gap:
            x = letter(ink, second, (box[2] - 0.25, 30))[2]
        x += 0.8
    cv2.line(ink, px(5, 30.1), px(115, 30.1), 255, 4)
    names = [b for b in blocks(ink) if b.box.y1 < 32 and b.box.x0 > 55]
    assert bool(names) is found
