"""Strings that the finder cut are read whole; what stands beside a string stays apart."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise

import cv2
import numpy as np
import pytest

from digitize.harness.place import Box
from digitize.ink.state import Marks, TextBlock
from digitize.legend.automata import automaton
from digitize.legend.shapes import DIGITS, Stretch, Words, literal, optional, sequence
from digitize.reading.continued import ends_of, pale_ink
from digitize.reading.decode import Found
from digitize.reading.read import read_marks
from digitize.reading.readers import Readers, probe_readers
from digitize.reading.weigh import Verdict
from digitize.reading.whole import Seen, whole_strings
from digitize.sheet.state import PX_PER_MM

COLOURS = Words(("RED", "BLK", "YEL"))
GRAMMARS = {
    "code": automaton(
        sequence(
            Stretch("ABCDEFGH", 1, 1), Stretch(DIGITS, 1, 2), literal(" "), Words(("14", "16", "18")), literal(" "), COLOURS,
            optional(sequence(literal("/"), COLOURS)),
        )
    ),
    "number": automaton(Stretch(DIGITS, 1, 3)),
}  # fmt: skip


@pytest.fixture(scope="module")
def readers() -> Readers:
    return replace(probe_readers(), second=None)


def cut_at(marks: Marks, *shares: float) -> Marks:
    """The marks with their only block cut into blocks at these shares of its length, as a finder may cut it."""
    box, angle = marks.texts[0].box, marks.texts[0].angle
    edges = (0.0, *shares, 1.0)
    parts = []
    for first, last in pairwise(edges):
        if angle == 90:
            own = Box(box.x0, box.y1 - last * box.height, box.x1, box.y1 - first * box.height)
        else:
            own = Box(box.x0 + first * box.width, box.y0, box.x0 + last * box.width, box.y1)
        parts.append(TextBlock(len(parts), own, angle, 0.9))
    return replace(marks, texts=tuple(parts))


@pytest.mark.parametrize("angle", [0, 90])
def test_a_code_cut_in_two_is_read_whole(angle: int, make_marks: Callable[..., Marks], readers: Readers) -> None:
    marks = cut_at(make_marks(("A12 18 RED", 30, 20, angle, False)), 0.36)
    read = read_marks(marks, GRAMMARS, readers)
    assert [t.text for t in read.texts] == ["A12 18 RED"]
    assert [t.id for t in read.marks.texts] == [0]
    assert read.texts[0].box == read.marks.texts[0].box


@pytest.mark.parametrize("angle", [0, 90])
def test_a_letter_whose_top_was_not_found_belongs_to_the_string_on_its_foot_line(
    angle: int, make_marks: Callable[..., Marks], readers: Readers
) -> None:
    marks = cut_at(make_marks(("A12 18 RED", 30, 20, angle, False)), 0.1)
    first, box = marks.texts[0], marks.texts[0].box
    low = replace(box, y0=box.y0 + 0.32 * box.height) if angle == 0 else replace(box, x0=box.x0 + 0.32 * box.width)
    worn = replace(marks, texts=(replace(first, box=low), *marks.texts[1:]))
    assert [t.text for t in read_marks(worn, GRAMMARS, readers).texts] == ["A12 18 RED"]


def test_lost_letters_at_either_end_are_found(make_marks: Callable[..., Marks], readers: Readers) -> None:
    whole = make_marks(("CHARGE", 30, 20, 0, False))
    for lost in (0, 1):
        marks = cut_at(whole, (0.17, 0.835)[lost])
        kept = replace(marks, texts=(replace(marks.texts[1 - lost], id=0),))
        assert [t.text for t in read_marks(kept, GRAMMARS, readers).texts] == ["CHARGE"]


def test_a_lost_tracer_is_found_behind_a_code_that_is_one_without_it(
    make_marks: Callable[..., Marks], readers: Readers
) -> None:
    marks = cut_at(make_marks(("B7 14 BLK/YEL", 30, 20, 0, False)), 0.64)
    kept = replace(marks, texts=marks.texts[:1])
    assert [t.text for t in read_marks(kept, GRAMMARS, readers).texts] == ["B7 14 BLK/YEL"]


@pytest.mark.parametrize(("rest", "texts"), [("/YEL", ["B7 14 BLK/YEL"]), ("XYEL", ["B7 14 BLK", "XYEL"])])
def test_a_rest_that_begins_with_a_deep_slash_is_joined_to_its_code(
    rest: str, texts: list[str], make_marks: Callable[..., Marks], readers: Readers
) -> None:
    marks = make_marks(("B7 14 BLK/YEL", 30, 20, 0, False))
    box = marks.texts[0].box
    parts = (
        Box(box.x0, box.y0, box.x0 + 0.64 * box.width, box.y1),
        Box(box.x0 + 0.66 * box.width, box.y0, box.x1, box.y1),
    )
    deep = replace(parts[1], y0=box.y0 - 0.5, y1=box.y1 + 0.5)
    marks = replace(marks, texts=(TextBlock(0, parts[0], 0, 0.9), TextBlock(1, deep, 0, 0.7)))
    said = (("B7 14 BLK", "code", True), (rest, "word", False))
    seen = [Seen(np.zeros((0, 0), np.uint8), (), {}, {}, Verdict(t, k, 0.95 if f else 0.4, fits=f)) for t, k, f in said]
    longer = Seen(np.zeros((0, 0), np.uint8), (), {}, {}, Verdict("B7 14 BLK/YEL", "code", 0.99, fits=True))
    _, views = whole_strings(marks, seen, lambda crops, _: [longer] * len(crops))
    assert [v.verdict.text for v in views] == texts


@pytest.mark.parametrize("angle", [0, 90, 270])
@pytest.mark.parametrize("seen_as", ["LB7 14 BLK/YEL", "B7 14 BLK/YEL"])
def test_a_stub_that_was_read_as_a_letter_is_no_part_of_the_block(
    angle: int, seen_as: str, make_marks: Callable[..., Marks]
) -> None:
    marks = make_marks(("LB7 14 BLK/YEL", 30, 20, angle, False))
    block = marks.texts[0]
    own = replace(block, box=_stretch(block.box, angle, 0.065, 1.0))
    part = Seen(np.zeros((0, 0), np.uint8), (), {}, {}, Verdict("B7 14", "word", 0.7, fits=False))
    free = (Found(seen_as, 0.7),)
    longer = replace(part, free=free, verdict=Verdict("B7 14 BLK/YEL", "code", 0.99, fits=True))
    whole, _ = whole_strings(replace(marks, texts=(own,)), [part], lambda crops, _: [longer] * len(crops))
    (found,) = whole.texts
    longer_by = max(found.box.width, found.box.height) - max(own.box.width, own.box.height)
    assert (longer_by > 0.3) == (seen_as[0] == "B")


def _stretch(box: Box, angle: int, start: float, stop: float) -> Box:
    """The part of a line between two shares of its length, from where it begins."""
    if angle == 0:
        return replace(box, x0=box.x0 + start * box.width, x1=box.x0 + stop * box.width)
    if angle == 90:
        return replace(box, y0=box.y1 - stop * box.height, y1=box.y1 - start * box.height)
    return replace(box, y0=box.y0 + start * box.height, y1=box.y0 + stop * box.height)


def test_a_number_beside_a_name_stays_apart(make_marks: Callable[..., Marks], readers: Readers) -> None:
    marks = make_marks(("SOCKET", 20, 20, 0, False), ("5", 39.5, 20, 0, False))
    assert [t.text for t in read_marks(marks, GRAMMARS, readers).texts] == ["SOCKET", "5"]


def test_a_sign_found_by_itself_inside_a_string_is_a_part_of_it(make_marks: Callable[..., Marks]) -> None:
    marks = make_marks(("A12 18 RED/BLK", 30, 20, 0, False))
    box = marks.texts[0].box
    slash = TextBlock(1, Box(box.x0 + 12, box.y0, box.x0 + 12.8, box.y1), 0, 0.7)
    digit = TextBlock(2, Box(box.x0 + 2, box.y0, box.x0 + 3, box.y1), 0, 0.7)
    dash = TextBlock(3, Box(box.x0, box.y1 + 4, box.x0 + 1, box.y1 + 4.3), 0, 0.7)
    marks = replace(marks, texts=(*marks.texts, slash, digit, dash))
    said = (("A12 18 RED/BLK", "code"), ("/", "word"), ("2", "number"), ("-", "word"))
    seen = [Seen(np.zeros((0, 0), np.uint8), (), {}, {}, Verdict(t, kind, 0.95, fits=True)) for t, kind in said]
    kept, views = whole_strings(marks, seen, lambda crops, _: [None] * len(crops))
    assert [v.verdict.text for v in views] == ["A12 18 RED/BLK", "2", "-"]
    assert [t.id for t in kept.texts] == [0, 1, 2]
    assert kept.texts[2].box == dash.box


def test_two_codes_side_by_side_stay_two(make_marks: Callable[..., Marks], readers: Readers) -> None:
    marks = make_marks(("A1 18 RED", 10, 20, 0, False), ("B2 14 BLK", 34, 20, 0, False))
    assert [t.text for t in read_marks(marks, GRAMMARS, readers).texts] == ["A1 18 RED", "B2 14 BLK"]


def page_of_bars(*bars: tuple[float, float, float, float]) -> np.ndarray:
    """A page, 60 x 30 mm, with filled bars (x0, y0, x1, y1 in mm)."""
    grey = np.full((int(30 * PX_PER_MM), int(60 * PX_PER_MM)), 255, np.uint8)
    for bar in bars:
        x0, y0, x1, y1 = (round(v * PX_PER_MM) for v in bar)
        cv2.rectangle(grey, (x0, y0), (x1 - 1, y1 - 1), 0, -1)
    return grey


LINE = Box(20, 10, 30, 12.5)


def gone_on(*bars: tuple[float, float, float, float], angle: int = 0) -> tuple[float, float]:
    grey = page_of_bars(*bars)
    return ends_of(pale_ink(grey, 255 - grey), LINE, angle).word


def test_ink_as_high_as_the_letters_goes_on() -> None:
    assert gone_on((31, 10, 31.4, 12.5)) == pytest.approx((0.0, 1.4), abs=0.1)
    assert gone_on((18.8, 10, 19.2, 12.5)) == pytest.approx((1.2, 0.0), abs=0.1)


def test_a_wire_or_a_bar_through_the_line_does_not_go_on() -> None:
    assert gone_on((31, 2, 31.4, 25)) == (0.0, 0.0)  # an upright wire
    assert gone_on((30.5, 11, 45, 11.4)) == (0.0, 0.0)  # a wire that the code interrupts
    assert gone_on((31, 10.8, 34.2, 11.8), (33.4, 11, 34.2, 29)) == (0.0, 0.0)  # a thick one that turns off
    assert gone_on(*((30.6 + k, 12.2, 30.8 + k, 12.5) for k in range(9)), (40, 10, 40.4, 12.5)) == (
        0.0,
        0.0,
    )  # a leader


def test_a_letter_that_touches_the_outline_of_a_part_still_goes_on() -> None:
    outline = ((32.2, 11, 32.6, 16), (32.2, 11, 36, 11.3), (35.6, 11, 36, 16), (36, 12, 50, 12.3))
    assert gone_on((30.6, 10, 32.2, 12.5), *outline) == pytest.approx((0.0, 2.2), abs=0.1)
    assert gone_on((30.6, 11, 32.2, 11.3), *outline) == (0.0, 0.0)  # a wire that leads to it


def test_a_slash_that_touches_the_letter_behind_it_goes_on_with_it() -> None:
    slash = [(30.6 + 0.1 * k, 12.2 - 0.09 * k, 30.9 + 0.1 * k, 12.5 - 0.09 * k) for k in range(25)]
    assert gone_on(*slash, (33.2, 10, 33.6, 12.5)) == pytest.approx((0.0, 3.6), abs=0.1)


def test_a_wire_that_turns_off_behind_its_code_is_no_letter_of_it() -> None:
    bend = [(33.4 + 0.1 * k, 12.0 - 0.1 * k, 33.7 + 0.1 * k, 12.3 - 0.1 * k) for k in range(21)]
    assert gone_on((30.8, 12.0, 33.5, 12.3), *bend, (35.4, 4, 35.7, 10.2)) == (0.0, 0.0)


def test_nothing_goes_on_from_a_dash_or_beyond_the_page() -> None:
    grey = page_of_bars((0, 10, 60, 12.5))
    ink = pale_ink(grey, 255 - grey)
    assert ends_of(ink, Box(20, 10, 22, 10.4), 0).line == (0.0, 0.0)
    assert ends_of(ink, Box(0, 10, 60, 12.5), 0).line == (0.0, 0.0)
    blank = np.full((200, 200), 255, np.uint8)
    assert not pale_ink(blank, 255 - blank).any()
