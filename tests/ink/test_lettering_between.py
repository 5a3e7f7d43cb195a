"""A line parts two letters where rules meet it, or where the gap is too wide for a space; a wire may cross the space."""

from __future__ import annotations

import numpy as np
import pytest

from digitize.ink.lettering_between import barred, window

TALL = 20.0


def lines(*, top: str = "", foot: str = "") -> np.ndarray:
    """An upright bar at x = 50 on a picture 100 px square, and level rules above and below letters at y 40 to 60.

    ``top`` and ``foot`` hold ``l`` for a rule to the left of the bar and ``r`` for one to the right.
    """
    out = np.zeros((100, 100), np.uint8)
    out[30:71, 49:52] = 255
    for sides, y in ((top, 33), (foot, 67)):
        if "l" in sides:
            out[y : y + 3, 20:50] = 255
        if "r" in sides:
            out[y : y + 3, 50:80] = 255
    return out


@pytest.mark.parametrize(
    ("top", "foot", "parts"),
    [("lr", "lr", True), ("l", "l", True), ("r", "r", True), ("", "", False), ("l", "r", False), ("lr", "", False)],
)
def test_a_bar_in_a_space_parts_where_rules_meet_it_on_one_side_above_and_below(top: str, foot: str, parts: bool):
    assert barred(0, lines(top=top, foot=foot), (44, 57), (40, 60), TALL) is parts


def test_a_bar_in_a_gap_wider_than_a_space_parts_by_itself():
    assert barred(0, lines(), (40, 60), (40, 60), TALL)


def test_no_line_is_looked_for_between_letters_that_nearly_touch():
    assert not barred(0, lines(top="lr", foot="lr"), (49, 51), (40, 60), TALL)


@pytest.mark.parametrize("angle", [0, 90, 270])
def test_a_window_shows_the_page_as_it_is_read(angle: int):
    upright = np.arange(100 * 100, dtype=np.uint32).reshape(100, 100).astype(np.uint8)
    turned = {0: upright, 90: np.rot90(upright, 1), 270: np.rot90(upright, -1)}[angle]
    # in the frame of 90 degrees u runs up the page, so it counts from the foot with a minus
    u, v = {0: ((10, 30), (40, 60)), 90: ((-89, -69), (40, 60)), 270: ((10, 30), (-59, -39))}[angle]
    seen = window(angle, np.ascontiguousarray(turned), u, v)
    assert seen.shape == (20, 20)


def turning(*, end: int, start: int = 0, side: int = 50, wide: int = 3) -> np.ndarray:
    """A wire that comes from above, letters at y 40 to 60, and ends at the given row."""
    out = np.zeros((100, 100), np.uint8)
    out[start:end, side - 1 : side - 1 + wide] = 255
    return out


@pytest.mark.parametrize(
    ("end", "start", "parts"),
    [(50, 0, True), (44, 0, False), (58, 0, True), (50, 30, False), (41, 0, False)],
    ids=["to the middle", "hardly in", "over most", "from too near", "ends above"],
)
def test_a_wire_that_turns_off_between_two_strings_parts_them(end: int, start: int, parts: bool):
    for picture in (turning(end=end, start=start), turning(end=end, start=start)[::-1]):
        v = (40, 60)
        assert barred(0, np.ascontiguousarray(picture), (40, 60), v, TALL) is parts


def test_a_wire_that_turns_off_in_a_rounded_corner_parts_too():
    picture = turning(end=44)
    for row, column in enumerate((50, 50, 51, 51, 52, 53, 54), start=44):
        picture[row, column : column + 3] = 255
    assert barred(0, picture, (40, 60), (40, 60), TALL)
