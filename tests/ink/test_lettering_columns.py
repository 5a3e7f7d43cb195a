"""Characters under each other stay characters; equals signs of a list are found, the bars of an earth are none."""

import numpy as np
import pytest

from digitize.ink.lettering import find_lettering
from digitize.ink.lettering_columns import earth_bars, equals_signs
from digitize.ink.lettering_pieces import cut_pieces
from digitize.sheet.state import PX_PER_MM
from tests.ink.test_lettering import letter, page, sheet_of


def blocks(ink):
    return [b for b in find_lettering(sheet_of(ink)).blocks if b.probability >= 0.3]


def bars(*at, long=24, thick=3):
    """A picture of level bars with their upper left corners at ``at`` (x, y), px."""
    ink = np.zeros((600, 400), np.uint8)
    for x, y in at:
        ink[y : y + thick, x : x + long] = 255
    return ink


def test_letters_under_each_other_are_no_line_that_reads_upwards():
    ink = page()
    for k, name in enumerate("GHKMNP"):
        letter(ink, name, (20, 15 + 4.4 * k))
    found = blocks(ink)
    assert len(found) == 6
    assert {b.angle for b in found} == {0}


def test_a_word_that_reads_upwards_stays_one_line():
    ink = page(60, 60)
    letter(ink, "LAMP", (10, 30))
    turned = np.ascontiguousarray(np.rot90(ink))
    found = blocks(turned)
    assert [b.angle for b in found] == [90]


def test_equals_signs_between_keys_and_meanings_are_found_each_by_itself():
    ink = page()
    for k, (key, meaning) in enumerate((("B", "BLACK"), ("G", "GREEN"), ("R", "RED"), ("W", "WHITE"))):
        y = 15 + 5 * k
        letter(ink, key, (20, y))
        letter(ink, meaning, (33, y))
        top = round((y - 1.7) * PX_PER_MM)
        for dy in (0, 9):
            ink[top + dy : top + dy + 3, 27 * 12 : 27 * 12 + 24] = 255
    signs = [b for b in blocks(ink) if 26.5 < b.box.x0 < 27.5]
    assert len(signs) == 4
    assert all(b.angle == 0 and b.box.width < 2.5 for b in signs)
    assert len(blocks(ink)) == 12


def test_two_equals_signs_or_the_three_bars_of_a_ground_are_no_list():
    two = bars((100, 100), (100, 108), (100, 160), (100, 168))
    assert equals_signs(cut_pieces(two)) == []
    grounds = bars(*((100, y + d) for y in (60, 160, 260, 360) for d in (0, 9, 18)))
    assert equals_signs(cut_pieces(grounds)) == []
    three = bars(*((100, y + d) for y in (60, 120, 180) for d in (0, 8)))
    assert len(equals_signs(cut_pieces(three))) == 3


def earth(*, bars=6, at=(150, 200), upright=False, shrinks=6, lead=40):
    """Bars 44 px long and shorter, with a lead on the first one."""
    ink = np.zeros((600, 400), np.uint8)
    x, y = at
    ink[y - lead : y, x - 1 : x + 3] = 255
    for k in range(bars):
        half = 22 - shrinks * k // 2
        ink[y + 8 * k : y + 8 * k + 4, x - half : x + half] = 255
    return np.ascontiguousarray(ink.T) if upright else ink


@pytest.mark.parametrize("upright", [False, True])
@pytest.mark.parametrize(("lead", "found"), [(40, 6), (150, 5)], ids=["short", "of a long line"])
def test_the_bars_of_an_earth_are_no_letters_that_read_along_it(upright, lead, found):
    ink = earth(upright=upright, lead=lead)
    assert len(earth_bars(cut_pieces(ink))) == found  # with a short lead on it the first bar might be a letter as well
    assert all(b.probability < 0.5 for b in blocks(ink))


def test_a_letter_before_an_earth_is_not_of_it():
    ink = earth(lead=4)
    ink[170:190, 140:143] = ink[170:173, 140:160] = ink[180:183, 140:155] = 255
    assert len(earth_bars(cut_pieces(ink))) == 6


@pytest.mark.parametrize("drawn", [{"shrinks": 0}, {"bars": 3}], ids=["of one length", "too few"])
def test_bars_of_one_length_or_two_of_them_may_be_characters(drawn):
    assert len(earth_bars(cut_pieces(earth(**drawn)))) == 0
