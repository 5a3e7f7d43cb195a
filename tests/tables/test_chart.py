"""Connector charts in the layouts that manuals use."""

from dataclasses import replace

from digitize.harness.claim import Alternative
from digitize.tables.read import read_table
from fixtures.read_pages import ROWS, grid, read, small_table


def cells(table):
    return {(e.connector.value, r.cavity.value): (r.a.value, r.b.value) for e in table.chart for r in e.rows}


def wanted(name="C101", rows=ROWS):
    return {(name, c): (None if a == "-" else a, None if b == "-" else b) for c, a, b in rows}


def test_a_ruled_table_gives_id_place_halves_and_cells():
    texts, rules = small_table(20, 30)
    table = read_table(read(texts, "chart", rules))
    assert cells(table) == wanted()
    entry = table.chart[0]
    assert entry.location.value == "UNDER THE SEAT"
    assert entry.half_names == ("PLUG HALF", "SOCKET HALF")


def test_tables_side_by_side_are_separate_connectors():
    one, first = small_table(20, 30)
    two, second = small_table(200, 30, "C102", "BEHIND THE FASCIA", ROWS[:1])
    table = read_table(read([*one, *two], "chart", [*first, *second]))
    assert cells(table) == wanted() | wanted("C102", ROWS[:1])


def test_an_unruled_list_is_read_by_its_columns():
    texts = []
    for x, name in ((20, "C101"), (220, "K12")):
        texts += [(name, x, 30), ("ABOVE THE PEDALS", x + 30, 30)]
        for k, (cavity, a, b) in enumerate(ROWS):
            texts += [(cavity, x + 2, 36 + 5 * k), (a, x + 15, 36 + 5 * k), (b, x + 65, 36 + 5 * k)]
    assert cells(read_table(read(texts, "chart"))) == wanted() | wanted("K12")


def test_in_one_large_table_an_id_holds_until_the_next():
    xs, texts = (20, 45, 120, 135, 190, 245), []
    lines = [("C101", "LEFT PILLAR", *ROWS[0]), ("", "", *ROWS[1]), ("", "", *ROWS[2]), ("C102", "BOOT", *ROWS[2])]
    for k, line in enumerate(lines):
        texts += [(word, x + 2, 41 + 5 * k) for word, x in zip(line, xs, strict=False) if word]
    texts += [
        ("CONNECTOR", 21, 36),
        ("LOCATION", 60, 36),
        ("PIN", 121, 36),
        ("MALE SIDE", 140, 36),
        ("FEMALE SIDE", 195, 36),
    ]
    table = read_table(read(texts, "chart", grid(xs, range(35, 61, 5))))
    assert cells(table) == wanted() | wanted("C102", ROWS[2:])
    assert [e.location.value for e in table.chart] == ["LEFT PILLAR", "BOOT"]


def test_rows_at_the_top_of_a_column_go_on_with_the_connector_before_but_less_surely():
    one, first = small_table(20, 200, rows=ROWS[:2])
    texts = [*one]
    y = 30
    for cavity, a, b in ROWS[2:]:
        texts += [(cavity, 203, y + 1), (a, 213, y + 1), (b, 262, y + 1)]
    rules = [*first, *grid((200, 211, 260, 310), (y, y + 5))]
    table = read_table(read(texts, "chart", rules))
    assert cells(table) == wanted()
    assert table.chart[1].connector.probability < table.chart[0].connector.probability


def test_an_empty_cell_and_a_dash_are_both_none():
    rows = [("A", "S4C 16 RED/BLU", ""), ("B", "P2 10 BRN", "-")]
    texts, rules = small_table(20, 30, rows=rows)
    table = read_table(read([t for t in texts if t[0]], "chart", rules))
    assert [r.b.value for r in table.chart[0].rows] == [None, None]


def test_a_code_found_in_two_pieces_is_one_cell():
    texts, rules = small_table(20, 30, rows=[("A", "S4C 16", "P2 10 BRN"), ("B", "P2 10 BRN", "P2 10 BRN")])
    texts.append(("RED/BLU", 48, 41))
    table = read_table(read(texts, "chart", rules))
    assert table.chart[0].rows[0].a.value == "S4C 16 RED/BLU"


def test_dirt_beside_a_code_is_no_part_of_it():
    texts, rules = small_table(20, 30)
    texts += [("-", 60, 41), ("1", 66, 41)]
    assert cells(read_table(read(texts, "chart", rules))) == wanted()


def test_alternatives_of_a_cell_obey_the_grammar_first():
    texts, rules = small_table(20, 30, rows=ROWS[:1])
    bad = ("S4C I6 RED/BLU", 33, 41, 2.2, 0.5, (("S4C 16 RED/BLU", 0.4),))
    texts = [bad if t[1:] == (33, 41) else t for t in texts]
    table = read_table(read([*texts, ("B", 23, 46), ("P2 10 BRN", 33, 46), ("P2 10 BRN", 82, 46)], "chart", rules))
    cell = table.chart[0].rows[0].a
    assert cell.value == "S4C 16 RED/BLU"
    assert {a.text for a in cell.alternatives} == {"S4C 16 RED/BLU", "S4C I6 RED/BLU"}
    assert cell.evidence[0].place is not None


def test_every_text_is_kept_with_its_role():
    texts, rules = small_table(20, 30)
    table = read_table(read([*texts, ("SOME NOTE", 300, 200)], "chart", rules))
    roles = {t.text: t.role for t in table.texts}
    assert roles["C101"] == "chart_id"
    assert roles["P2 10 BRN"] == "chart_code"
    assert roles["SOME NOTE"] == "text"
    assert len(table.texts) == len(texts) + 1


def test_a_table_whose_rules_are_worn_away_is_still_read():
    one, first = small_table(20, 30)
    worn, _ = small_table(200, 30, "C102", "BEHIND THE FASCIA", ROWS[:1])
    table = read_table(read([*one, *worn], "chart", first))
    assert cells(table) == wanted() | wanted("C102", ROWS[:1])


def test_a_dash_left_of_a_rule_makes_no_column():
    texts, rules = small_table(20, 30, rows=ROWS[:1])
    table = read_table(read([*texts, ("-", 22.5, 36.5, 0.6)], "chart", rules))
    assert cells(table) == wanted(rows=ROWS[:1])


def test_where_wires_carry_short_keys_the_narrow_column_is_that_of_the_cavities():
    rows = [("1", "12", "7"), ("2", "7", "7"), ("3", "-", "-"), ("4", "3", "21")]
    texts, rules = small_table(20, 30, rows=rows)
    page = read(texts, "chart", rules)
    # under such conventions every short number is a code
    keyed = tuple(replace(t, kind="code", by_kind=(("code", t.free),)) if t.text.isdigit() else t for t in page.texts)
    assert cells(read_table(replace(page, texts=keyed))) == wanted(rows=rows)


def listed(x, entries, y=40):
    """Texts of an unruled list from ``x``: id and place on the first line of each connector only, cavities far right."""
    texts = []
    for name, place, rows in entries:
        texts += [(name, x, y), (place, x + 14, y)]
        for cavity, a, b in rows:
            texts += [(cavity, x + 110, y), (a, x + 118, y), (b, x + 145, y)]
            y += 4.5
        y += 3
    return texts


def test_a_list_in_two_stacks_with_cavities_far_from_the_ids_is_one_column_each():
    one = listed(10, [("C101", "LEFT PILLAR", ROWS), ("C102", "BOOT", ROWS[:2]), ("K7", "UNDER THE SEAT", ROWS[1:])])
    empty = [("A", "-", "-"), ("B", "-", "-"), *ROWS[2:]]
    two = listed(200, [("D201", "REAR PANEL", empty), ("D202", "RIGHT PILLAR", ROWS[:2])])
    table = read_table(read([*one, *two], "chart"))
    assert cells(table) == (
        wanted() | wanted("C102", ROWS[:2]) | wanted("K7", ROWS[1:]) | wanted("D201", empty) | wanted("D202", ROWS[:2])
    )
    assert [e.location.value for e in table.chart] == [
        "LEFT PILLAR", "BOOT", "UNDER THE SEAT", "REAR PANEL", "RIGHT PILLAR",
    ]  # fmt: skip


CODES = "S4C 16 RED/BLU", "P2 10 BRN"


def test_unread_cavities_are_counted_from_those_that_were_read():
    """Letters that stand under each other may be lost; the order tells them, less surely than reading does."""
    rows = [(c, *CODES) for c in ("", "", "C", "", "", "F", "")]
    texts, rules = small_table(20, 30, rows=rows)
    entry = read_table(read([t for t in texts if t[0]], "chart", rules)).chart[0]
    assert [r.cavity.value for r in entry.rows] == list("ABCDEFG")
    read_, counted = entry.rows[2].cavity.probability, entry.rows[0].cavity.probability
    assert counted < read_
    assert any(e.kind == "order" for e in entry.rows[4].cavity.evidence)


def test_what_the_order_does_not_lead_to_stays_unread():
    rows = [("", *CODES), ("", *CODES), ("E", *CODES), ("", *CODES), ("F", *CODES)]
    texts, rules = small_table(20, 30, rows=rows)
    entry = read_table(read([t for t in texts if t[0]], "chart", rules)).chart[0]
    assert [r.cavity.value for r in entry.rows] == [None, None, "E", None, "F"]


def test_a_connector_without_a_read_cavity_counts_as_its_page_does():
    one, first = small_table(20, 30, rows=[(str(k), *CODES) for k in range(1, 6)])
    two, second = small_table(200, 30, "C102", rows=[("", *CODES)] * 3)
    table = read_table(read([t for t in [*one, *two] if t[0]], "chart", [*first, *second]))
    assert [r.cavity.value for r in table.chart[1].rows] == ["1", "2", "3"]


def test_a_cell_takes_the_reader_s_word_for_a_whole_code_over_a_likelier_string_of_look_alikes():
    texts, rules = small_table(20, 30, rows=ROWS[:1])
    table = read(texts, "chart", rules)
    known = (Alternative("S4C 16 RED/BLU", 0.02),)
    unsure = [
        replace(t, probability=0.99, free=(Alternative("S4C 16 RED/8LU", 0.94), *known), by_kind=(("code", known),))
        if t.kind == "code"
        else t
        for t in table.texts
    ]
    assert any(t.kind == "code" for t in table.texts)
    cell = read_table(replace(table, texts=tuple(unsure))).chart[0].rows[0].a
    assert cell.value == "S4C 16 RED/BLU"
    assert cell.probability > 0.9
