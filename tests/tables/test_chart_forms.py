"""Charts of further offices: cavities side by side, connector and cavity in one, places behind the codes."""

import pytest

from digitize.harness.claim import Alternative
from digitize.tables.pins import cut_from_one, pins_parted
from digitize.tables.read import read_table
from fixtures.read_pages import ROWS, grid, read, small_table, text

SAYS = [(c, None if a == "-" else a, None if b == "-" else b) for c, a, b in ROWS]


def cells(table):
    return [(e.connector.value, r.cavity.value, r.a.value, r.b.value) for e in table.chart for r in e.rows]


def across(x, y, name="C101", place="LEFT PILLAR", rows=ROWS, left_set=False):
    """A table whose cavities stand side by side, each name in the middle of its column or at its left edge."""
    texts = [(name, x, y), (place, x + 16, y), ("CAV", x, y + 6), ("PLUG HALF", x, y + 11), ("SOCKET HALF", x, y + 16)]
    for k, line in enumerate(rows):
        for row, word in enumerate(line):
            middle = x + 40 + 32 * k
            at = middle - 12 if left_set else middle - 0.4 * 2.2 * len(word)
            texts.append((word, at, y + 6 + 5 * row))
    return texts


@pytest.mark.parametrize("left_set", [False, True])
@pytest.mark.parametrize("ruled", [False, True])
def test_a_table_whose_cavities_stand_side_by_side_is_read_column_by_column(ruled, left_set):
    rules = grid((19, 44, 76, 108, 140), (35, 40, 45, 50)) if ruled else []
    table = read_table(read(across(20, 30, left_set=left_set), "chart", rules))
    assert cells(table) == [("C101", *row) for row in SAYS]
    assert table.chart[0].location.value == "LEFT PILLAR"
    assert table.chart[0].half_names == ("PLUG HALF", "SOCKET HALF")


def test_such_tables_beside_and_below_each_other_stay_apart():
    texts = [*across(20, 30, rows=ROWS[:1]), *across(110, 30, "C102", "BOOT", ROWS[1:]), *across(20, 60, "K12", "DASH")]
    table = read_table(read(texts, "chart"))
    assert cells(table) == [
        ("C101", *SAYS[0]), ("C102", *SAYS[1]), ("C102", *SAYS[2]), *(("K12", *row) for row in SAYS),
    ]  # fmt: skip
    assert [e.location.value for e in table.chart] == ["LEFT PILLAR", "BOOT", "DASH"]


def test_one_line_of_codes_under_the_cavities_speaks_for_both_halves():
    texts = [t for t in across(20, 30) if t[2] != 46]
    assert cells(read_table(read(texts, "chart"))) == [("C101", c, a, a) for c, a, _ in SAYS]


def test_a_speck_between_the_lines_of_such_a_table_is_no_line_of_it():
    texts = [*across(20, 30), ("1", 60, 39.2, 0.6, 0.2)]
    assert cells(read_table(read(texts, "chart"))) == [("C101", *row) for row in SAYS]


def test_a_dash_beside_the_names_of_its_cavities_is_what_wear_left_of_a_letter():
    texts = [*across(20, 30), ("-", 126, 37.6, 0.2)]
    assert cells(read_table(read(texts, "chart"))) == [("C101", *row) for row in SAYS]


def test_bits_of_worn_letters_in_such_a_table_part_it_not_and_head_no_table_of_their_own():
    worn = next(t for t in across(20, 30) if t[0] == ROWS[1][1])
    texts = [t for t in across(20, 30) if t != worn] + [("K12", worn[1], worn[2]), ("4", 99, 43.4)]
    found = cells(read_table(read(texts, "chart")))
    assert found == [("C101", c, None if k == 1 else a, b) for k, (c, a, b) in enumerate(SAYS)]


def test_a_heading_over_columns_of_codes_is_no_table_across():
    texts = [("C101", 20, 30), ("CAV", 20, 36), ("PLUG HALF", 40, 36), ("SOCKET HALF", 90, 36)]
    for k, (cavity, a, b) in enumerate(ROWS):
        texts += [(cavity, 22, 42 + 5 * k), (a, 40, 42 + 5 * k), (b, 90, 42 + 5 * k)]
    assert cells(read_table(read(texts, "chart"))) == [("C101", *row) for row in SAYS]


def pins(sign="/", place=True):
    texts = [("PIN", 20, 30), ("PLUG SIDE", 45, 30), ("SOCKET SIDE", 85, 30), ("PLACE", 125, 30)]
    for k, (name, (cavity, a, b)) in enumerate([*(("C101", r) for r in ROWS), ("K12", ROWS[0])]):
        y = 36 + 5 * k
        texts += [(f"{name}{sign}{cavity}", 20, y), (a, 45, y), (b, 85, y)]
        if place and k in {0, 3}:
            texts.append(("BEHIND THE PANEL" if k == 0 else "BOOT", 125, y))
    return texts


@pytest.mark.parametrize("sign", ["/", "-", ":", "."])
def test_connector_and_cavity_in_one_are_taken_apart(sign):
    table = read_table(read(pins(sign), "chart"))
    assert cells(table) == [*(("C101", *row) for row in SAYS), ("K12", *SAYS[0])]
    assert [e.location.value for e in table.chart] == ["BEHIND THE PANEL", "BOOT"]


def test_a_pin_taken_for_a_longer_id_is_a_pin_where_its_column_says_so():
    worn = text(7, "C1013", 20, 60, probability=0.6, others=(("C101/3", 0.3),))
    column = [text(k, f"C101/{k + 1}", 20, 30 + 5 * k) for k in range(3)]
    parted = pins_parted([*column, worn])
    assert [t.text for t in parted[-2:]] == ["C101", "3"]
    assert cut_from_one(*parted[-2:])
    assert parted[-1].free == (Alternative("3", 0.3),)
    assert pins_parted([worn]) == [worn]


def test_an_id_and_a_cavity_right_behind_it_are_a_pin_where_its_column_says_so():
    column = [text(k, f"C101/{k + 1}", 20, 30 + 5 * k) for k in range(3)]
    name, cavity = text(7, "K12", 20, 45), text(8, "1", 27, 45)
    parted = pins_parted([*column, name, cavity])
    assert [t.text for t in parted[-2:]] == ["K12", "1"]
    assert cut_from_one(*parted[-2:])
    assert not cut_from_one(*pins_parted([name, cavity]))
    for other in (text(8, "1", 36, 45), text(8, "1", 27, 47), text(8, "S4C 16 RED", 27, 45)):
        assert not cut_from_one(*pins_parted([*column, name, other])[-2:])


def test_single_strings_with_a_sign_in_them_are_no_column_of_pins():
    apart = [text(0, "C101/3", 20, 30), text(1, "C102/4", 60, 30), text(2, "C103/5", 20, 35)]
    assert pins_parted(apart) == apart


@pytest.mark.parametrize("ruled", [False, True])
def test_what_wear_left_of_letters_in_the_heading_of_a_table_is_no_half_without_a_wire(ruled: bool):
    texts, rules = small_table(20, 30)
    spot = next(k for k, t in enumerate(texts) if t[0] == "UNDER THE SEAT")
    texts[spot : spot + 1] = [("UN", 40, 31), ("-", 46, 31.1, 0.2), ("THE SEAT", 52, 31)]
    (entry,) = read_table(read(texts, "chart", rules if ruled else [])).chart
    assert entry.connector.value == "C101"
    assert [(r.cavity.value, r.a.value, r.b.value) for r in entry.rows] == SAYS


def test_the_first_letters_of_a_worn_code_are_no_id_that_heads_its_table():
    texts, rules = small_table(20, 30)
    spot = next(k for k, t in enumerate(texts) if t[0].startswith("P2 10"))
    at = texts[spot]
    texts[spot : spot + 1] = [("P2", *at[1:]), ("10 BRN", at[1] + 12, at[2])]
    below = [r for r in rules if min(r[1], r[3]) >= 40.0]
    below += [(x0, max(40.0, y0), x1, y1) for x0, y0, x1, y1 in rules if x0 == x1]
    (entry,) = read_table(read(texts, "chart", below)).chart
    assert entry.connector.value == "C101"
