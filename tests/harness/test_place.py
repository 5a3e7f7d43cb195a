"""Boxes on a sheet: what holds several of them, and what is upright made level."""

import pytest

from digitize.harness.place import Box


def test_a_box_that_encloses_others_reaches_to_their_outermost_sides_and_a_swapped_one_back_to_itself():
    boxes = [Box(10, 20, 14, 22), Box(3, 21, 12, 30)]
    assert Box.enclosing(boxes) == Box(3, 20, 14, 30)
    assert Box.enclosing(boxes[:1]) == boxes[0]
    assert boxes[0].swapped() == Box(20, 10, 22, 14)
    assert boxes[0].swapped().swapped() == boxes[0]
    with pytest.raises(ValueError, match="no points"):
        Box.enclosing([])
