"""Tables of short keys: found by their shape, ruled or not, and not where something else is listed. All invented."""

from __future__ import annotations

import pytest

from digitize.tables.key_table import find_key_tables
from digitize.tables.read import read_table
from fixtures.read_pages import NAMES, legend, read
from fixtures.small_harness import small_facts

ROWS = [
    ("1", "16", "RED"),
    ("2", "18", "BLUE WITH WHITE"),
    ("3", "10", "BLACK"),
    ("4", "18", "LIGHT GREEN"),
    ("12", "2.5", "BROWN/RED TRACER"),
]


def table(rows, x=300.0, y=30.0, headed=True):
    typed = [("NO.", x, y - 5), ("SIZE", x + 12, y - 5), ("COLOUR", x + 26, y - 5)] if headed else []
    for k, cells in enumerate(rows):
        typed += [(cell, x + 14 * n, y + 5 * k) for n, cell in enumerate(cells) if cell]
    return typed


def found(typed):
    return find_key_tables(small_facts("page_1"), read(typed).texts)


def said(lines):
    return [(x.key.value, x.gauge.value, x.colour.value, x.tracer.value) for x in lines]


def test_a_table_says_size_main_colour_and_tracer_of_each_key():
    (one,) = found([*table(ROWS), ("HEAD LAMP", 100, 100), ("7", 120, 140)])
    assert said(one.lines) == [
        ("1", "16", "RED", None), ("2", "18", "BLUE", "WHITE"), ("3", "10", "BLACK", None), ("4", "18", "LIGHT GREEN", None),
        ("12", "2.5", "BROWN", "RED"),
    ]  # fmt: skip
    assert one.lines[0].key.evidence[0].place is not None, "a person can look where it stands"
    assert len(one.blocks) == 3 * len(ROWS) + 3, "headings belong to it"


def test_letters_with_sizes_and_abbreviations_are_a_table_too():
    (one,) = found(
        table([("A", "16", "RD"), ("B", "18", "BU/WH"), ("C", "10", "BK"), ("D", "0.75", "GN-YE")], headed=False)
    )
    assert said(one.lines)[1] == ("B", "18", "BU", "WH")


def test_two_blocks_side_by_side_are_both_read():
    more = [("21", "16", "PINK"), ("22", "18", "GREY"), ("23", "10", "TAN"), ("24", "10", "SLATE")]
    tables = found([*table(ROWS, x=200), *table(more, x=300)])
    assert sorted(len(t.lines) for t in tables) == [4, 5]


def test_size_and_colour_found_as_one_text_are_parted():
    (one,) = found(
        [
            (s, x, 30 + 5 * k)
            for k, (a, b) in enumerate((("1", "16 RED"), ("2", "18 BLUE WITH WHITE"), ("3", "10 BK"), ("4", "12 TAN")))
            for s, x in ((a, 300), (b, 312))
        ]
    )
    assert said(one.lines)[:3] == [("1", "16", "RED", None), ("2", "18", "BLUE", "WHITE"), ("3", "10", "BK", None)]


@pytest.mark.parametrize(
    "typed",
    [
        [(s, x, 30 + 5 * k) for k, n in enumerate(NAMES) for s, x in ((str(k + 1), 300), ("10A", 312), (n, 330))],
        [(s, x, 30 + 5 * k) for k, (a, b) in enumerate((("B", "BLACK"), ("R", "RED"), ("W", "WHITE"), ("G", "GREEN"))) for s, x in ((a, 300), (b, 320))],
        [(s, x, 30 + 5 * k) for k, b in enumerate(("BLACK", "RED", "WHITE", "GREEN")) for s, x in (("7", 300), (b, 320))],
        table(ROWS[:3]),
    ],
    ids=["a list of fuses", "abbreviations of colours", "one key again and again", "three rows only"],
)  # fmt: skip
def test_other_lists_are_no_table_of_keys(typed):
    assert found(typed) == ()


def test_a_page_of_its_own_may_hold_the_table():
    texts, rules = legend()
    done = read_table(read([*texts, *table(ROWS, y=120)], "legend", rules))
    assert said(done.keys)[0] == ("1", "16", "RED", None)
