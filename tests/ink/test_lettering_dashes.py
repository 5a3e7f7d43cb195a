"""Over a dash two strings make one, and a bit that was cut off a wire is none of it. Frames are typed as numbers."""

import numpy as np
import pytest

from digitize.ink.lettering_lines import Frame, link


def frame(*pieces):
    """Pieces (u0, u1, v0, v1, alone, what) as they are seen level, px; ``what``: letter, dash or dot."""
    u0, u1, v0, v1 = (np.array([p[k] for p in pieces], np.float64) for k in range(4))
    free = np.array([p[4] for p in pieces])
    letter, dash, dot = (np.array([p[5] == what for p in pieces]) for what in ("letter", "dash", "dot"))
    none = np.zeros(len(pieces), np.bool_)
    ends = np.repeat(~free[:, None], 4, axis=1)
    return Frame(0, u0, u1, v0, v1, free, letter, dash, dot, none, ends)


def letters(start, count, *, top=100, high=19):
    return [(start + 17 * k, start + 17 * k + 13, top, top + high, True, "letter") for k in range(count)]


def longest(*pieces):
    found = link(frame(*pieces), np.zeros((200, 400), np.uint8))
    return sorted(max(found, key=lambda line: len(line.letters)).letters)


def test_two_strings_with_a_dash_between_are_one():
    assert longest(*letters(20, 4), (90, 100, 109, 112, True, "dash"), *letters(106, 2)) == [0, 1, 2, 3, 5, 6]


@pytest.mark.parametrize("high", [19, 34])
def test_of_bits_cut_off_wires_only_one_as_high_as_the_letters_stands_behind_their_dash(high):
    bit = (106, 130, 100 - (high - 19) // 2, 100 + high - (high - 19) // 2, False, "letter")
    found = longest(*letters(20, 4), (90, 100, 109, 112, True, "dash"), bit)
    assert found == ([0, 1, 2, 3, 5] if high == 19 else [0, 1, 2, 3])


@pytest.mark.parametrize(("up", "low", "joined"), [
    (0.45, 13, True),  # what wear left of the dash, and small letters behind it
    (0.45, 10, False),  # far too small
    (0.05, 13, False),  # a point
])  # fmt: skip
@pytest.mark.parametrize("small_first", [True, False])
def test_small_letters_and_figures_are_one_string_over_what_wear_left_of_a_dash(up, low, joined, small_first):
    middle, at = 119 - up * 19, 58 if small_first else 74
    speck = (at, at + 4, middle - 1.5, middle + 1.5, True, "dot")
    sizes = [(20, 2, low), (70, 4, 19)] if small_first else [(86, 2, low), (2, 4, 19)]
    strings = [piece for start, count, high in sizes for piece in letters(start, count, top=119 - high, high=high)]
    found = link(frame(*strings, speck), np.zeros((200, 400), np.uint8))
    assert sorted(len(line.letters) for line in found) == ([6] if joined else [2, 4])
