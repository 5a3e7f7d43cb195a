"""Symbols and circuits that a general-purpose library draws (schemdraw, MIT): found, and wired as its netlist says."""

from __future__ import annotations

import pytest

from fixtures.drawn_by_others import CIRCUITS, KINDS, row_of
from fixtures.drawn_by_others_read import Held, held

pytestmark = [
    pytest.mark.slow,
    pytest.mark.filterwarnings("ignore::DeprecationWarning"),  # the drawing library's own
    pytest.mark.filterwarnings("ignore::PendingDeprecationWarning"),
]


@pytest.fixture(scope="module")
def row() -> Held:
    return held(row_of(tuple(KINDS)))


def test_nearly_every_symbol_of_another_hand_is_found_as_a_part_with_two_terminals(row: Held):
    found = [p for p in row.found if p is not None and len(p.terminals) == 2]
    assert len(found) >= len(KINDS) - 2


def test_most_symbols_of_another_hand_get_a_right_kind(row: Held):
    wrong = [name for name, right in zip(KINDS, row.right, strict=True) if not right]
    assert len(wrong) <= 5, wrong  # measured: the looped lamp, the two fuses with lines in them


def test_every_earth_mark_of_another_hand_is_found(row: Held):
    assert sum(g is not None for g in row.grounds) >= len(KINDS) - 1


def test_rows_of_another_hand_stay_apart_and_reach_their_ground(row: Held):
    assert row.joined[0] >= 0.9 * row.joined[1]
    assert row.apart[0] == row.apart[1]


@pytest.mark.parametrize("name", sorted(CIRCUITS))
def test_a_circuit_of_another_hand_is_wired_as_its_netlist_says(name: str):
    got = held(CIRCUITS[name]())
    assert sum(p is not None for p in got.found) >= len(got.found) - 1
    assert got.joined[0] >= 0.9 * got.joined[1], got
    assert got.apart[0] >= 0.95 * got.apart[1], got
