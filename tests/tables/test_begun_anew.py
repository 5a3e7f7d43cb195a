"""A connector whose heading was not known as one is told by its cavities, which are counted from the first on again."""

import pytest

from digitize.tables.read import read_table
from fixtures.read_pages import ROWS, grid, read, small_table


def entries(texts, rules):
    return [
        (e.connector.value, e.location.value, [(r.cavity.value, r.a.value) for r in e.rows])
        for e in read_table(read(texts, "chart", rules)).chart
    ]


FIRST = [("A", "S4C 16 RED/BLU"), ("B", None), ("C", "P2 10 BRN")]


def column(heading, *rows):
    """A table of C101, and at the top of the next column rows, under a line (cavity, place) if there is one."""
    texts, rules = small_table(20, 200)
    y = 30
    lines = [*([(heading[0], heading[1], "")] if heading else []), *rows]
    for k, (cavity, a, b) in enumerate(lines):
        texts += [(t, x, y + 1 + 5 * k) for t, x in ((cavity, 203), (a, 213), (b, 262)) if t]
    return texts, [*rules, *grid((200, 211, 260, 310), range(y, y + 5 * len(lines) + 1, 5))]


NEW = ("A", "R7 12 GRN", "R7 12 GRN")
NEXT = ("B", "R8 12 GRN", "R8 12 GRN")


def test_rows_under_a_heading_that_lost_a_letter_are_another_connector_s():
    found = entries(*column(("102", "BEHIND THE FASCIA"), NEW, NEXT))
    assert found[0] == ("C101", "UNDER THE SEAT", FIRST)
    assert found[1] == ("102", "BEHIND THE FASCIA", [("A", "R7 12 GRN"), ("B", "R8 12 GRN")])


@pytest.mark.parametrize("heading", [("102", "BEHIND THE FASCIA"), None])
def test_so_are_rows_further_down_in_one_list_under_a_heading_or_room_for_one(heading):
    texts = [("C101", 20, 30), ("UNDER THE SEAT", 50, 30)]
    lines = [*ROWS, (*heading, "") if heading else ("", "", ""), NEW, NEXT]
    for k, (cavity, a, b) in enumerate(lines):
        texts += [(t, x, 36 + 5 * k) for t, x in ((cavity, 22), (a, 35), (b, 85)) if t]
    found = entries(texts, [])
    assert found[0] == ("C101", "UNDER THE SEAT", FIRST)
    assert found[1] == (*(heading or (None, None)), [("A", "R7 12 GRN"), ("B", "R8 12 GRN")])


def test_rows_whose_heading_is_gone_belong_to_nobody():
    found = entries(*column(None, NEW, NEXT))
    assert [(name, len(rows)) for name, _, rows in found] == [("C101", 3), (None, 2)]


def test_rows_that_go_on_counting_go_on_with_the_connector():
    found = entries(*column(None, ("D", "R7 12 GRN", "R7 12 GRN"), ("E", "R8 12 GRN", "R8 12 GRN")))
    assert [name for name, _, _ in found] == ["C101", "C101"]


def test_a_second_table_of_one_connector_stays_its_own():
    one, first = small_table(20, 30)
    two, second = small_table(200, 30)
    assert [name for name, _, _ in entries([*one, *two], [*first, *second])] == ["C101", "C101"]


def test_a_cavity_that_lost_a_figure_is_no_first_one():
    rows = [("1", *ROWS[0][1:]), ("2", *ROWS[2][1:])]
    texts, rules = small_table(20, 30, rows=rows)
    more = [("10", "R7 12 GRN", "R7 12 GRN"), ("1", "R8 12 GRN", "R8 12 GRN"), ("12", "R9 12 GRN", "R9 12 GRN")]
    y = max(t[2] for t in texts) + 5
    for k, (cavity, a, b) in enumerate(more):
        texts += [(cavity, 23, y + 5 * k), (a, 33, y + 5 * k), (b, 82, y + 5 * k)]
    found = entries(texts, [*rules, *grid((20, 31, 80, 130), (y - 1, y + 14))])
    assert {name for name, _, _ in found} == {"C101"}
