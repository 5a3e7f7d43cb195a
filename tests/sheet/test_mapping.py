"""The mapping between sheet and scan has an exact inverse, whatever the camera and the curl did."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from pydantic import TypeAdapter

from digitize.sheet.mapping import Bow, SheetMapping

small = st.floats(-0.05, 0.05)
tiny = st.floats(-1e-5, 1e-5)
shift = st.floats(-4.0, 4.0)


@st.composite
def bows(draw: st.DrawFn, length: float, depth: float) -> Bow:
    n = draw(st.integers(2, 12))
    curve = st.lists(shift, min_size=n, max_size=n).map(tuple)
    return Bow(tuple(np.linspace(0, length, n).tolist()), draw(curve), draw(curve), 10.0, depth - 10.0)


@st.composite
def mappings(draw: st.DrawFn) -> SheetMapping:
    scale = draw(st.floats(5.0, 24.0))
    matrix = (
        (scale * (1 + draw(small)), scale * draw(small), draw(st.floats(-200, 200))),
        (scale * draw(small), scale * (1 + draw(small)), draw(st.floats(-200, 200))),
        (draw(tiny), draw(tiny), 1.0),
    )
    return SheetMapping(matrix, draw(st.none() | bows(420.0, 297.0)), draw(st.none() | bows(297.0, 420.0)))


points = st.lists(st.tuples(st.floats(-20, 440), st.floats(-20, 317)), min_size=1, max_size=20)


@given(mappings(), points)
def test_to_the_scan_and_back_is_the_same_point(mapping: SheetMapping, at: list[tuple[float, float]]) -> None:
    there = np.array(at)
    assert np.abs(mapping.to_sheet(mapping.to_scan(there)) - there).max() < 1e-6


@given(mappings(), points)
def test_from_the_scan_and_back_is_the_same_pixel(mapping: SheetMapping, at: list[tuple[float, float]]) -> None:
    pixels = mapping.to_scan(np.array(at))
    assert np.abs(mapping.to_scan(mapping.to_sheet(pixels)) - pixels).max() < 1e-5


@given(mappings())
def test_a_saved_mapping_is_the_same_mapping(mapping: SheetMapping) -> None:
    adapter = TypeAdapter(SheetMapping)
    assert adapter.validate_json(adapter.dump_json(mapping)) == mapping


def test_a_bow_moves_its_two_rules_by_what_it_says() -> None:
    bow = Bow((0.0, 100.0, 200.0), (0.0, 2.0, 0.0), (0.0, -1.0, 0.0), 20.0, 120.0)
    mapping = SheetMapping(((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)), bow_x=bow)
    moved = mapping.to_scan(np.array([[100.0, 20.0], [100.0, 120.0], [100.0, 70.0], [0.0, 70.0]]))
    assert np.allclose(moved[:, 1], [22.0, 119.0, 70.5, 70.0])
    assert np.allclose(moved[:, 0], [100, 100, 100, 0])
