"""The full stop of a numbered note is not lost under the arm of its last letter."""

import numpy as np

from digitize.reading.last_point import ends_in_point, without_points

NOTE = "1. LAMPS ARE SHOWN LIT"


def line(*, point: bool, speck: bool = False):
    """The end of an upright line, letters 28 px high: an I and a T, a point under the arm of the T."""
    crop = np.full((42, 120), 240, np.uint8)
    crop[7:35, 60:65] = 20
    crop[7:11, 80:106] = 20
    crop[7:35, 91:95] = 20
    if point:
        crop[30:35, 101:106] = 20
    if speck:
        crop[18:23, 101:106] = 20
    return crop


def test_a_point_on_the_foot_line_is_seen_and_a_speck_above_it_is_not():
    assert ends_in_point(line(point=True))
    assert not ends_in_point(line(point=False))
    assert not ends_in_point(line(point=False, speck=True))
    assert not ends_in_point(np.full((42, 120), 240, np.uint8))


def test_notes_of_one_sheet_end_alike():
    crops = [line(point=False)] * 3
    other = "2. DOORS ARE SHOWN OPEN"
    assert without_points([NOTE, other, "HORN"], crops) == []
    assert without_points([NOTE, other + ".", "HORN"], crops) == [0]
    assert without_points([NOTE, other, "HORN"], [line(point=False), line(point=True), crops[2]]) == [0, 1]


def test_names_codes_and_titles_never_gain_a_point():
    crops = [line(point=True)] * 4
    assert without_points(["LEFT INNER WING", "A12 18 RED/BLK", "2 SPEED WIPER MOTOR", "SHEET 1 OF 3"], crops) == []
