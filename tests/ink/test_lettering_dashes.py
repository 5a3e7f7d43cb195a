"""Over a dash two strings make one, and a bit that was cut off a wire is none of it. Frames are typed as numbers."""

import numpy as np
import pytest

from digitize.ink.lettering_lines import Frame, link


def frame(*pieces):
    """Pieces (u0, u1, v0, v1, alone, what) as they are seen level, px; ``what``: letter or dash."""
    u0, u1, v0, v1 = (np.array([p[k] for p in pieces], np.float64) for k in range(4))
    free = np.array([p[4] for p in pieces])
    letter, dash = (np.array([p[5] == what for p in pieces]) for what in ("letter", "dash"))
    none = np.zeros(len(pieces), np.bool_)
    ends = np.repeat(~free[:, None], 4, axis=1)
    return Frame(0, u0, u1, v0, v1, free, letter, dash, none, none, ends)


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
