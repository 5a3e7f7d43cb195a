"""Ends of lines beside lettering: which of them the lettering interrupts."""

from __future__ import annotations

import pytest

from digitize.harness.place import Box
from digitize.wiring.lines import LooseEnd, beside

CODE = Box(10, 10, 30, 12)


@pytest.mark.parametrize(
    ("x", "out", "interrupted"),
    [
        (31.3, (-0.50, 0.87), True),  # a slanting bit right behind the code, with a blunt end
        (31.3, (0.2, 0.98), False),  # it passes the code
        (32.5, (-0.50, 0.87), False),  # too far off for a slant
        (32.5, (-0.95, 0.31), True),
    ],
)
def test_a_line_that_lettering_interrupts_looks_into_it_the_more_the_farther_off_it_ends(
    x: float, out: tuple[float, float], interrupted: bool
):
    assert beside(CODE, LooseEnd((0, 1), (x, 11.0), out, out), flat=True, sign=-1) is interrupted
