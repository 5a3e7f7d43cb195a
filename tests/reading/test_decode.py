"""Searching a reader's probabilities: what is found obeys the grammar, and nothing better is overlooked."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from digitize.legend.automata import TabledAutomaton, automaton
from digitize.legend.shapes import DIGITS, Stretch, Words, literal, optional, sequence
from digitize.reading.alphabet import BLANK, CHARACTERS, WIDTH, column, folded
from digitize.reading.confusions import frames_of
from digitize.reading.decode import Lattice, Walk, greedy, search_along, search_free, total
from digitize.reading.engines import Frames

CODE = automaton(
    sequence(
        Stretch("ABC", 1, 1),
        Stretch(DIGITS, 1, 2),
        literal(" "),
        Words(("18", "2.5", "16")),
        literal(" "),
        Words(("RED", "BLK", "R/W")),
    )
)
NUMBER = automaton(sequence(Stretch(DIGITS, 1, 3), optional(Stretch("AB", 1, 1))))


def frames(*rows: dict[str, float]) -> Frames:
    """Rows of {character: probability}; what is left goes to the blank."""
    table = np.full((len(rows), WIDTH), 1e-9)
    for row, given_ in zip(table, rows, strict=True):
        for char, p in given_.items():
            row[column(char)] = p
        row[BLANK] = max(1e-9, 1 - sum(given_.values()))
    return np.log(table / table.sum(axis=1, keepdims=True)).astype(np.float32)


@st.composite
def any_frames(draw: st.DrawFn) -> Frames:
    """Between 1 and 24 frames over few characters, from sharp to flat."""
    rng = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    sharp = draw(st.sampled_from([3.0, 5.0, 9.0]))
    scores = rng.normal(size=(draw(st.integers(1, 24)), WIDTH)) * sharp
    scores[:, BLANK] += sharp
    scores[:, column(" ")] = -40  # spaces at the ends are dropped on purpose
    scores -= np.log(np.exp(scores).sum(axis=1, keepdims=True))
    return scores.astype(np.float32)


@given(any_frames(), st.sampled_from([CODE, NUMBER]))
@settings(deadline=None, max_examples=60)
def test_what_is_found_along_a_grammar_belongs_to_it(table: Frames, grammar: TabledAutomaton) -> None:
    found = search_along(Lattice.of(table), Walk(grammar))
    assert all(grammar.takes(f.text) for f in found)
    assert [f.probability for f in found] == sorted((f.probability for f in found), reverse=True)
    assert all(0 < f.probability <= 1 for f in found)


@given(any_frames())
@settings(deadline=None, max_examples=60)
def test_the_free_search_is_never_worse_than_the_best_path(table: Frames) -> None:
    best = search_free(Lattice.of(table, least=0.0, most=WIDTH - 1), width=64)[0]
    assert total(table, best.text) >= 0.98 * total(table, greedy(table))


@given(st.text(alphabet="AB12", max_size=3), st.integers(0, 2**32 - 1))
@settings(deadline=None, max_examples=40)
def test_the_sum_over_alignments_is_that_of_all_paths(text: str, seed: int) -> None:
    # by brute force over all paths of four frames with three outputs (Graves 2006, the definition)
    rng = np.random.default_rng(seed)
    outputs = [BLANK, column("A"), column("1")]
    p = np.full((4, WIDTH), 1e-12)
    p[:, outputs] = rng.dirichlet((1, 1, 1), size=4)
    p /= p.sum(axis=1, keepdims=True)
    summed = 0.0
    for path in np.ndindex(3, 3, 3, 3):
        columns = [outputs[k] for k in path]
        kept = [c for i, c in enumerate(columns) if c != BLANK and (i == 0 or columns[i - 1] != c)]
        if "".join(CHARACTERS[c - 1] for c in kept) == text:
            summed += float(np.prod([p[t, c] for t, c in enumerate(columns)]))
    assert total(np.log(p).astype(np.float32), text) == pytest.approx(summed, abs=1e-6)


def test_the_grammar_settles_one_and_capital_i() -> None:
    table = frames({"I": 0.7, "1": 0.29}, {}, {"5": 0.98})
    assert search_free(Lattice.of(table))[0].text == "I5"
    best = search_along(Lattice.of(table), Walk(NUMBER))[0]
    assert best.text == "15"
    assert best.probability == pytest.approx(0.29 * 0.98, rel=0.05)


def test_probabilities_along_a_grammar_are_not_shared_out_anew() -> None:
    table = frames_of("HORN", 0.95)
    assert sum(f.probability for f in search_along(Lattice.of(table), Walk(NUMBER))) < 1e-3


def test_a_point_that_a_copy_lost_is_put_back_by_the_grammar() -> None:
    best = search_along(Lattice.of(frames_of("A12 25 RED", 0.98)), Walk(CODE))[0]
    assert best.text == "A12 2.5 RED"


def test_the_stub_of_a_wire_is_no_dash_of_the_code() -> None:
    best = search_along(Lattice.of(frames_of("-B7 18 BLK-", 0.98)), Walk(CODE))[0]
    assert best.text == "B7 18 BLK"


def test_a_wide_gap_inside_a_number_is_passed_over() -> None:
    assert search_along(Lattice.of(frames_of("2 5 A", 0.98)), Walk(NUMBER))[0].text == "25A"


def test_small_letters_come_back_in_the_form_of_the_legend() -> None:
    colours = automaton(sequence(Words(("Br", "Gr")), literal("/"), Words(("Sw",))))
    assert search_along(Lattice.of(frames_of("BR/SW", 0.98)), Walk(colours))[0].text == "Br/Sw"
    assert Walk(colours).takes("BR/SW") == "Br/Sw"


def test_a_doubled_letter_needs_a_blank_between() -> None:
    assert search_free(Lattice.of(frames({"1": 0.99}, {"1": 0.99})))[0].text == "1"
    assert search_free(Lattice.of(frames({"1": 0.99}, {}, {"1": 0.99})))[0].text == "11"


def test_nothing_seen_gives_nothing() -> None:
    assert search_along(Lattice.of(frames({}, {})), Walk(NUMBER)) == ()
    assert search_free(Lattice.of(frames({}, {})))[0].text == ""


def test_print_is_folded_into_the_alphabet() -> None:
    assert folded("0,5 mm²  –  br/wt") == "0,5 MM2 - BR/WT"


def test_a_search_is_given_up_when_nothing_likely_enough_is_left() -> None:
    lattice = Lattice.of(frames_of("WINDOW", 0.98))
    assert search_along(lattice, Walk(NUMBER))
    assert search_along(lattice, Walk(NUMBER), least=1e-7) == ()


@pytest.mark.parametrize("least", [1e-12, 1e-7, 1e-4])
def test_what_is_likely_enough_is_found_all_the_same(least: float) -> None:
    lattice = Lattice.of(frames_of("A12 25 RED", 0.98))
    best = search_along(lattice, Walk(CODE))[0]
    found = search_along(lattice, Walk(CODE), least=least)
    assert found[0].text == best.text
    assert found[0].probability == pytest.approx(best.probability, rel=1e-3)
    assert all(f.probability >= least for f in found)


@pytest.mark.parametrize(("meant", "seen"), [(",", "."), (".", ",")])
def test_a_point_and_a_comma_are_one_sign_where_the_conventions_have_only_one_of_them(meant: str, seen: str) -> None:
    grammar = automaton(sequence(Words((f"0{meant}75", f"2{meant}5")), literal("-"), Stretch("AB", 1, 1)))
    best = search_along(Lattice.of(frames_of(f"0{seen}75-A", 0.98)), Walk(grammar))[0]
    assert best.text == f"0{meant}75-A"
    assert best.probability > 0.8


def test_where_the_conventions_have_both_signs_each_stays_what_it_is() -> None:
    both = automaton(sequence(Words(("0,75", "0.75"))))
    best = search_along(Lattice.of(frames_of("0.75", 0.98)), Walk(both))[0]
    assert best.text == "0.75"
