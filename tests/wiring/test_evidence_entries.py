"""A chart entry whose id was misread is known by its rows: the drawing that has these codes names it. All invented."""

from __future__ import annotations

from dataclasses import replace

import pytest

from digitize.harness.claim import Claim
from digitize.harness.place import Box
from digitize.tables.state import TableText
from digitize.wiring.binding import bind
from fixtures.typed_manual import STATED
from fixtures.typed_sheets import TypedSheet, chart_page, read

ROWS = (("1", read("H2 14 BLU"), read("H2A 14 BLU")),)


def drawn(label="K21"):
    sheet = TypedSheet("page_1").part("x", "horn", (100, 30), read("HORN"), case_ground=True)
    sheet.oval("k1", (60, 30), read(label, 0.99)).part("sw", "switch", (20, 30), read("HORN SWITCH"))
    return sheet.run("r1", "sw.2", "k1.a1", read("H2 14 BLU")).run("r2", "k1.b1", "x.1", read("H2A 14 BLU")).wiring()


def bound(*entries, label="K21"):
    return bind([drawn(label)], [chart_page("page_3", *entries)], STATED)


def test_an_id_that_lost_a_letter_in_the_chart_is_put_right_by_the_drawing():
    h = bound((read("K2", 0.75), read("BESIDE THE BATTERY"), ROWS))
    (connector,) = h.connectors
    assert (connector.id, connector.location) == ("K21", "BESIDE THE BATTERY")
    assert connector.places[0].cavities == ("1",)
    assert not [f for f in h.findings if f.check in {"connector-not-drawn", "connector-not-in-chart"}]


def test_a_connector_with_an_id_of_one_sign_is_no_trouble():
    h = bound((read("K2", 0.75), read("BESIDE THE BATTERY"), ROWS), label="7")
    assert {c.id for c in h.connectors} >= {"7"}


def test_an_entry_with_other_wires_keeps_its_id():
    other = (("1", read("S4 16 RED"), read("S4A 16 RED")),)
    h = bound((read("K2", 0.75), read("ELSEWHERE"), other))
    assert {c.id for c in h.connectors} == {"K2", "K21"}


def test_an_id_of_which_the_first_letter_has_worn_away_is_put_right_however_surely_the_rest_is_read():
    h = bound((read("21", 0.999), read("BESIDE THE BATTERY"), ROWS))
    (connector,) = h.connectors
    assert (connector.id, connector.location) == ("K21", "BESIDE THE BATTERY")


@pytest.mark.parametrize("label", ["21", "K2"])
def test_an_id_on_the_drawing_that_lost_a_sign_is_put_right_by_the_chart_and_not_the_chart_by_it(label: str):
    h = bound((read("K21", 0.99), read("BESIDE THE BATTERY"), ROWS), label=label)
    (connector,) = h.connectors
    assert (connector.id, connector.location) == ("K21", "BESIDE THE BATTERY")
    assert connector.places[0].cavities == ("1",)


def test_it_stays_as_it_is_read_where_the_chart_has_other_wires_for_the_longer_id():
    other = (("1", read("S4 16 RED"), read("S4A 16 RED")),)
    h = bound((read("K21", 0.99), read("ELSEWHERE"), other), label="K2")
    assert {c.id for c in h.connectors} == {"K2", "K21"}


UNREAD = Claim(None, 0.5)
OTHER = (read("K30", 0.99), read("ELSEWHERE"), (("1", read("S4 16 RED"), read("S4A 16 RED")),))


def test_rows_without_an_id_are_those_of_the_drawing_with_their_codes():
    h = bound(OTHER, (UNREAD, read("BESIDE THE BATTERY"), ROWS))
    assert {c.id: c.location for c in h.connectors} == {"K21": "BESIDE THE BATTERY", "K30": "ELSEWHERE"}
    assert not [f for f in h.findings if f.check == "chart-rows-of-nobody"]


def test_rows_without_an_id_whose_codes_nobody_drew_are_told_and_used_for_nothing():
    chart = chart_page("page_3", OTHER, (UNREAD, Claim(None, 0.9), (("1", read("R7 12 GRN"), read("R7 12 GRN")),)))
    row = chart.chart[1].rows[0]
    text = TableText("R7 12 GRN", "chart_code", row.box, 0.97)
    h = bind([drawn()], [replace(chart, texts=(text,))], STATED)
    assert {c.id for c in h.connectors} == {"K21", "K30"}
    (told,) = (f for f in h.findings if f.check == "chart-rows-of-nobody")
    assert "R7 12 GRN" in told.why
    assert [p.box for p in told.places] == [row.box]


def test_of_many_rows_of_nobody_a_few_are_named_and_the_others_counted():
    chart = chart_page("page_3", OTHER)
    texts = tuple(
        TableText(f"R{k} 12 GRN", "chart_code", Box(20, 100 + 5 * k, 60, 104 + 5 * k), 0.97) for k in range(9)
    )
    (told,) = (f for f in bind([drawn()], [replace(chart, texts=texts)], STATED).findings if "nobody" in f.check)
    assert "R5 12 GRN and 3 more belong" in told.why
    assert len(told.places) == 9


def test_a_surely_read_id_is_not_taken_away():
    h = bound((read("K99", 0.998), read("ELSEWHERE"), ROWS))
    assert {c.id for c in h.connectors} == {"K99", "K21"}


def test_of_two_entries_the_one_that_fits_takes_the_id():
    wrong = (("1", read("S4 16 RED"), read("S4A 16 RED")),)
    h = bound((read("K2", 0.75), read("THERE"), wrong), (read("KZ1", 0.7), read("HERE"), ROWS))
    named = next(c for c in h.connectors if c.id == "K21")
    assert named.location == "HERE"
