"""Zone labels in order are believed though each of them was read with doubt; signs strewn in a margin are no labels."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from digitize.harness.place import Box
from digitize.sheet.state import SheetHints
from digitize.sheet.zone_labels import Label, zones_from_labels
from digitize.sheet.zone_lattice import Spot, lattice_of

FRAME = Box(10.0, 12.0, 190.0, 128.0)


def sign(text: str, x: float, y: float, height: float = 1.8, probability: float = 0.03) -> Label:
    return (text, Box(x - 0.7, y - height / 2, x + 0.7, y + height / 2), probability)


def strewn(seed: int, count: int) -> list[Label]:
    """Signs of all sizes anywhere in the four margins."""
    rng = np.random.default_rng(seed)
    found = []
    for _ in range(count):
        along, out = rng.uniform(0, 1), rng.uniform(-8.0, 8.0)
        x, y = (10 + 180 * along, rng.choice([12 - out, 128 + out]))
        if rng.random() < 0.4:
            x, y = rng.choice([10 - out, 190 + out]), 12 + 116 * along
        found.append(sign(str(rng.choice(list("1234567890ABCDEFGH"))), x, y, float(rng.uniform(1.0, 3.0))))
    return found


def test_labels_read_with_doubt_settle_the_grid_when_they_count_on_at_equal_steps() -> None:
    # a map's grid: the first column begins where the drawing does, not at the frame, and the last row is cut short
    across = [sign(c, 34.0 + 27.5 * i, 8.0) for i, c in enumerate("ABCDEF")]
    down = [sign(str(i + 1), x, 29.0 + 34.5 * i) for i in range(3) for x in (7.0, 193.0)]
    short = [sign("4", 193.0, 122.0, 2.2)]
    degrees = [sign(t, x, 8.3, 1.2) for t, x in (("99", 48.0), ("9", 75.5), ("8", 77.0), ("1", 103.0))]
    grid, probability = zones_from_labels(FRAME, [*across, *down, *short, *degrees], SheetHints())
    assert not grid.nominal
    assert "".join(b.label for b in grid.columns) == "ABCDEF"
    assert "".join(b.label for b in grid.rows) == "1234"
    assert [b.start for b in grid.columns[1:]] == pytest.approx([34 + 27.5 * (i - 0.5) for i in range(1, 6)], abs=0.3)
    assert grid.rows[3].start == pytest.approx(29 + 34.5 * 2.5, abs=0.3)
    assert 0.5 < probability < 0.97  # never as sure as with labels that were read without doubt


@pytest.mark.parametrize("seed", range(12))
def test_doubtful_signs_strewn_in_the_margins_make_no_grid(seed: int) -> None:
    assert zones_from_labels(FRAME, strewn(seed, 40), SheetHints())[0].nominal


@given(
    first=st.integers(1, 30),
    count=st.integers(5, 12),
    step=st.floats(14.0, 60.0),
    falls=st.booleans(),
    seed=st.integers(0, 10_000),
)
def test_equal_steps_are_found_among_other_signs_in_any_order(
    first: int, count: int, step: float, *, falls: bool, seed: int
) -> None:
    rng = np.random.default_rng(seed)
    values = range(first, first + count)
    places = [step * (i + 0.5) + rng.normal(0, 0.01 * step) for i in range(count)]
    spots = [Spot("top", at, 4.0, 2.0, v) for at, v in zip(places, reversed(values) if falls else values, strict=True)]
    spots += [Spot("top", float(rng.uniform(0, step * count)), 4.0, 1.3, int(rng.integers(1, 40))) for _ in range(8)]
    rng.shuffle(spots)
    lattice = lattice_of(spots)
    assert lattice is not None
    assert lattice.step == pytest.approx(-step if falls else step, rel=0.03)
    borders = lattice.borders(0.0, step * count, spots)
    assert len(borders) == count + 1
    assert all(b > a for a, b in pairwise(borders))


def test_four_signs_in_order_may_be_an_accident() -> None:
    assert lattice_of([Spot("top", 20.0 * i, 4.0, 2.0, i) for i in range(4)]) is None
