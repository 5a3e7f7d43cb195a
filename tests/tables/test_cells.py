"""Cells of charts that were found in pieces, and cavity names that settle one another."""

from dataclasses import replace

import pytest

from digitize.harness.claim import Alternative
from digitize.legend.automata import automaton
from digitize.legend.conventions import Conventions
from digitize.legend.grammar import grammars
from digitize.legend.shapes import Words, optional, sequence
from digitize.tables.cavities import cavities_settled
from digitize.tables.cells import cells_joined
from digitize.tables.layout import Rules
from digitize.tables.read import read_table
from fixtures.read_pages import ROWS, read, small_table

STATED = Conventions.model_validate(
    {
        "code": {"pattern": "{gauge} {colour}{/tracer?} {circuit}{number}{segment?}"},
        "circuits": {"L": "lamps", "F": "fans"},
        "colours": {"W": "white", "O": "orange"},
        "gauges": {"sizes": ["1.0", "2.0"]},
    }
)
CODE = grammars(STATED)["code"]
CELL = Rules((), ((10.0, 0.0, 99.0), (90.0, 0.0, 99.0)))


def texts_of(*words):
    return list(read(words, "chart").texts)


def strings(texts):
    return sorted(t.text for t in texts)


def test_pieces_of_one_cell_are_one_code_and_a_lost_stroke_between_them_is_put_back():
    pieces = texts_of(("2.0 W", 20, 20), ("O", 31, 20), ("L4", 35, 20))
    assert strings(cells_joined(pieces, CELL, CODE)) == ["2.0 W/O L4"]


def test_a_rule_between_two_pieces_keeps_them_apart():
    pieces = texts_of(("2.0 W", 20, 20), ("L4", 32, 20))
    parted = replace(CELL, upright=(*CELL.upright, (31.0, 0.0, 99.0)))
    assert strings(cells_joined(pieces, CELL, CODE)) == ["2.0 W L4"]
    assert strings(cells_joined(pieces, parted, CODE)) == ["2.0 W", "L4"]


def test_words_that_make_no_code_and_whole_codes_stay_as_they_are():
    pieces = texts_of(("BELOW", 20, 20), ("DASH", 32, 20), ("2.0 W L4", 20, 40), ("F1", 38, 40))
    assert strings(cells_joined(pieces, CELL, CODE)) == ["2.0 W L4", "BELOW", "DASH", "F1"]


def test_a_joined_code_is_no_surer_than_its_pieces():
    pieces = texts_of(("2.0 W", 20, 20), ("L4", 32, 20))
    doubtful = [
        replace(pieces[0], probability=0.5, free=(Alternative("2.0 W", 0.5), Alternative("2.0 O", 0.3))),
        pieces[1],
    ]
    (joined,) = cells_joined(doubtful, CELL, CODE)
    assert joined.text == "2.0 W L4"
    assert joined.probability <= 0.5
    assert [a.text for a in joined.free] == ["2.0 W L4", "2.0 O L4"]


def settled(*names):
    texts, rules = small_table(20, 30, rows=[(n, a, b) for n, (_, a, b) in zip(names, ROWS * 2, strict=False)])
    table = read_table(read(texts, "chart", rules))
    return [r.cavity.value for r in cavities_settled(table.chart)[0].rows]


def test_a_figure_among_letters_is_the_letter_that_looks_like_it():
    assert settled("A", "8", "C", "D") == ["A", "B", "C", "D"]


def test_a_letter_among_figures_is_the_figure_that_looks_like_it():
    assert settled("1", "2", "3", "A", "S") == ["1", "2", "3", "4", "5"]


def test_a_gap_in_the_order_stays_a_gap():
    assert settled("A", "B", "F", "K") == ["A", "B", "F", "K"]


def test_figures_that_count_on_stay_figures():
    assert settled("1", "2", "4", "8") == ["1", "2", "4", "8"]


def test_an_unread_name_between_two_is_the_one_that_fits():
    texts, rules = small_table(
        20, 30, rows=[(n, a, b) for n, (_, a, b) in zip(("1", "", "3"), (ROWS[0], ROWS[2], ROWS[2]), strict=True)]
    )
    rows = read_table(read(texts, "chart", rules)).chart[0].rows
    assert [r.cavity.value for r in rows] == ["1", "2", "3"]
    assert rows[1].cavity.probability <= 0.8
    assert rows[1].cavity.evidence[-1].kind == "order"


@pytest.mark.parametrize(
    ("names", "chance", "found"),
    [
        (("A", "B", "U", "D"), 0.2, ["A", "B", "C", "D"]),  # hardly read, and its neighbours leave one name
        (("A", "B", "U", "D"), 0.9, ["A", "B", "U", "D"]),
        (("A", "B", "U", "F"), 0.2, ["A", "B", "U", "F"]),  # they leave none
        (("U", "B", "C", "D"), 0.2, ["U", "B", "C", "D"]),  # nothing stands before it
    ],
)
def test_a_name_that_is_hardly_read_gives_way_to_the_one_that_its_neighbours_leave(names, chance, found):
    texts, rules = small_table(20, 30, rows=[(n, a, b) for n, (_, a, b) in zip(names, ROWS * 2, strict=False)])
    spot = next(k for k, t in enumerate(texts) if t[0] == "U")
    texts[spot] = (*texts[spot], 2.2, chance)
    assert [r.cavity.value for r in read_table(read(texts, "chart", rules)).chart[0].rows] == found


def test_in_a_ruled_cell_a_whole_code_may_go_on():
    worded = automaton(sequence(Words(("RED", "BLUE")), optional(Words((" white", " black")))))
    code = texts_of(("BLUE", 20, 20), ("WHITE", 31, 20))
    (joined,) = cells_joined(code, CELL, worded)
    assert joined.text == "BLUE white", "the grammar's own form"
    assert len(cells_joined(code, Rules((), ()), worded)) == 2, "without rules it may be two columns"


def rows_of(*rows):
    texts, rules = small_table(20, 30, rows=rows)
    return [(r.cavity.value, r.a.value) for r in read_table(read(texts, "chart", rules)).chart[0].rows]


def test_a_row_that_says_nothing_and_has_the_name_of_the_unread_one_beside_it_is_the_end_of_a_worn_rule():
    a, b = ROWS[0][1:]
    assert rows_of(("L", "", ""), ("", a, b), ("2", a, b)) == [("1", a), ("2", a)]
    assert rows_of(("1", a, b), ("", a, b), ("2", "", ""), ("3", a, b)) == [("1", a), ("2", a), ("3", a)]


def test_an_empty_cavity_stays_where_the_order_has_room_for_it():
    a, b = ROWS[0][1:]
    assert rows_of(("1", "", ""), ("", a, b), ("3", a, b)) == [("1", None), ("2", a), ("3", a)]
