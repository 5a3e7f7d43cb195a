"""What ink is cut into does not depend on how large a part of the page is worked on at a time."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from digitize.ink import lettering_bridges
from digitize.ink.lettering_pieces import cut_pieces
from tests.ink.test_lettering import letter, page, px


@pytest.mark.parametrize("band", [7, 40, 333])
def test_letters_with_lines_through_them_are_the_same_whatever_the_bands(band: int, monkeypatch: pytest.MonkeyPatch):
    ink = page()
    for k in range(8):
        y = 6 + 6.4 * k
        box = letter(ink, "R4A 18 PPL", (30, y))
        cv2.line(ink, px(5, box[1] + 0.3 * k), px(115, box[1] + 0.3 * k), 255, 4)
        cv2.line(ink, px(31 + 2 * k, 2), px(31 + 2 * k, 58), 255, 4)
    whole = cut_pieces(ink)
    monkeypatch.setattr(lettering_bridges, "_BAND", band)
    parts = cut_pieces(ink)
    assert np.array_equal(whole.pixels, parts.pixels)
    assert np.array_equal(whole.lines, parts.lines)
    assert len(whole) > 40
