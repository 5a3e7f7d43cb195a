"""A code among what is no part of it, and figures among letters of their shape."""

from __future__ import annotations

import pytest

from digitize.legend.automata import automaton
from digitize.legend.shapes import DIGITS, Stretch, Words, literal, optional, sequence
from digitize.reading.decode import Found, Walk
from digitize.reading.lexicon import with_noughts
from digitize.reading.weigh import weighed
from digitize.reading.within import code_within

CODE = Walk(
    automaton(
        sequence(
            Stretch(DIGITS, 2, 2),
            literal("."),
            Stretch(DIGITS, 2, 2),
            literal(" "),
            Words(("0.75", "2.5")),
            literal(" "),
            Words(("GN", "BK")),
            optional(sequence(literal("-"), Words(("GN", "BK")))),
        )
    )
)


@pytest.mark.parametrize(
    ("read", "code"),
    [
        ("8-23.06 0.75 GN", "23.06 0.75 GN"),
        ("23.06 0.75 GN-P", "23.06 0.75 GN"),
        ("23.06 2.5 BK-GN J", "23.06 2.5 BK-GN"),
        ("3 23.06 2.5 BK - 2", "23.06 2.5 BK"),
    ],
)
def test_a_code_is_found_among_stubs_and_numbers_and_believed_less(read: str, code: str) -> None:
    found = code_within([Found(read, 0.9)], CODE)
    assert found is not None
    assert found[0].text == code
    assert found[0].probability < 0.5
    assert found[1] <= 0.5


@pytest.mark.parametrize("read", ["23.06 0.75 GN", "23.06 0.75 GNX", "HORN RELAY", "", "123.06 0.75 GN"])
def test_no_code_is_cut_out_of_a_code_or_out_of_a_word(read: str) -> None:
    assert code_within([Found(read, 0.9)], CODE) is None


def test_a_year_holds_noughts_and_an_id_keeps_its_letter() -> None:
    assert with_noughts("MODEL 17OO ESTATE") == "MODEL 1700 ESTATE"
    assert [with_noughts(t) for t in ("O12", "T3OO", "3O", "DOOR", "1OO5X")] == ["O12", "T3OO", "3O", "DOOR", "1OO5X"]


def test_what_a_grammar_allows_keeps_its_letter_o() -> None:
    assert weighed([Found("17OO", 0.9)], {"connector": [Found("17OO", 0.9)]}).text == "17OO"
    assert weighed([Found("17OO", 0.9)], {}).text == "1700"
