"""The quick median and percentile give what numpy gives."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from digitize.sheet.ranked import median, percentile

LISTS = st.lists(st.integers(-300, 300), min_size=1, max_size=40)


@given(LISTS, st.sampled_from(["u1", "i8", "f4", "f8"]), st.floats(0, 100))
def test_ranks_are_those_of_numpy_for_every_kind_of_number(numbers: list[int], kind: str, share: float) -> None:
    """Numpy is the outside reference; its float32 interpolation is rounded to float32, ours is not."""
    array = np.array(numbers).astype(np.int64).astype(kind)
    assert median(array) == float(np.median(array))
    assert_allclose(percentile(array, share), float(np.percentile(array, share)), rtol=3e-7, atol=1e-5)


def test_many_numbers_rank_like_few() -> None:
    """Above the length up to which numbers are sorted."""
    array = np.random.default_rng(3).normal(size=(90, 101))
    assert median(array) == float(np.median(array))
    assert percentile(array, 85) == float(np.percentile(array, 85))


def test_a_plain_list_is_ranked_and_nothing_has_no_rank() -> None:
    assert median([3, 1, 2]) == 2.0
    assert percentile([10.0, 20.0], 50) == pytest.approx(15.0)
    assert math.isnan(median([]))
    assert math.isnan(percentile(np.zeros(0), 90))
