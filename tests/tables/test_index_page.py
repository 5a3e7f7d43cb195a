"""Index pages: columns, several zones, wrapped lines, sub-entries."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from digitize.tables.read import read_table
from fixtures.read_pages import NAMES, column, read


def entries(texts):
    table = read_table(read(texts, "index"))
    return [(line.name.value, tuple(z.value for z in line.zones)) for line in table.index]


def test_columns_are_read_downwards_then_to_the_right():
    first = column(20, [(0, n, f"A{k + 1}") for k, n in enumerate(NAMES[:3])])
    second = column(150, [(0, n, f"B{k + 1}") for k, n in enumerate(NAMES[3:])])
    assert entries([*second, *first]) == [
        *((n, (f"A{k + 1}",)) for k, n in enumerate(NAMES[:3])),
        *((n, (f"B{k + 1}",)) for k, n in enumerate(NAMES[3:])),
    ]


def test_headings_and_the_page_label_are_no_entries():
    texts = column(20, [(0, n, f"A{k + 1}") for k, n in enumerate(NAMES)])
    texts += [("COMPONENT", 20, 24), ("ZONE", 100, 24), ("VAN - INDEX", 150, 8, 4.5), ("TV-5", 200, 290)]
    assert len(entries(texts)) == len(NAMES)


def test_several_zones_of_one_name():
    texts = column(20, [(0, "FUSE BLOCK", "C3, E19, D11"), (0, "CLOCK", "B2"), (0, "RADIO", "B4")])
    assert entries(texts)[0] == ("FUSE BLOCK", ("C3", "E19", "D11"))


def test_zones_found_as_two_texts_are_both_the_names():
    texts = column(20, [(0, "FUSE BLOCK", "C3, E19,"), (0, "CLOCK", "B2"), (0, "RADIO", "B4")])
    texts.append(("D11", 110, texts[0][2]))
    assert entries(texts)[0] == ("FUSE BLOCK", ("C3", "E19", "D11"))


def test_zones_that_wrap_belong_to_the_entry_above():
    texts = column(20, [(0, "CLOCK", "B2"), (0, "FUSE BLOCK", "C3, E19"), (0, "", "D11"), (0, "RADIO", "B4")])
    assert ("FUSE BLOCK", ("C3", "E19", "D11")) in entries(texts)


def test_a_wrapped_name_is_one_entry():
    lines = [(0, "CLOCK", "B2"), (0, "REVERSING LAMP SWITCH", ""), (4, "ON GEARBOX", "C3"), (0, "RADIO", "B4")]
    assert ("REVERSING LAMP SWITCH ON GEARBOX", ("C3",)) in entries(column(20, lines))


def test_sub_entries_take_the_name_of_their_parent():
    lines = [(0, "LAMPS", ""), (4, "DIPPED BEAM", "B2"), (4, "NUMBER PLATE", "H9"), (0, "RADIO", "B4")]
    found = entries(column(20, lines))
    assert found == [("LAMPS, DIPPED BEAM", ("B2",)), ("LAMPS, NUMBER PLATE", ("H9",)), ("RADIO", ("B4",))]


def leaning(texts, by):
    """The texts of a page that lies askew: shifted to the right by ``by`` mm for each mm down."""
    return [(text, x + by * y, y, *more) for text, x, y, *more in texts]


@pytest.mark.parametrize("by", [0.025, -0.025])
def test_on_a_page_that_lies_askew_entries_below_are_no_sub_entries(by):
    lines = [(0, f"LAMP {chr(65 + k)}X", f"B{k + 1}") for k in range(16)]
    assert entries(leaning(column(20, lines), by)) == [(name, (zone,)) for _, name, zone in lines]
    lines[5:8] = [(0, "HORNS", ""), (4, "HIGH", "C2"), (4, "LOW", "C3")]
    found = entries(leaning(column(20, lines), by))
    assert found[5:7] == [("HORNS, HIGH", ("C2",)), ("HORNS, LOW", ("C3",))]
    assert len(found) == 15


def test_a_column_that_begins_with_many_sub_entries_does_not_lean():
    lines = [(0, "LIGHTS", ""), *((4, f"SIDE {chr(65 + k)}X", f"C{k + 1}") for k in range(20))]
    lines += [(0, f"VALVE {chr(65 + k)}X", f"B{k + 1}") for k in range(20)]
    found = entries(column(20, lines))
    assert found[:20] == [(f"LIGHTS, {name}", (zone,)) for _, name, zone in lines[1:21]]
    assert found[20:] == [(name, (zone,)) for _, name, zone in lines[21:]]


def test_a_name_whose_zone_was_not_found_is_kept():
    lines = [(0, "CLOCK", "B2"), (0, "HORN", ""), (0, "RADIO", "B4"), (0, "STARTER", "B5")]
    assert ("HORN", ()) in entries(column(20, lines))


def test_name_and_zone_found_as_one_text_are_parted():
    texts = [("HORN RELAY . . . . F5", 20, 30), ("CLOCK", 20, 35), ("B2", 100, 35), ("RADIO", 20, 40), ("B4", 100, 40)]
    assert entries(texts)[0] == ("HORN RELAY", ("F5",))


def test_zones_keep_their_alternatives():
    read_as = ("B8", 100, 30, 2.2, 0.6, (("B3", 0.3),))
    table = read_table(read([("CLOCK", 20, 30), read_as, ("RADIO", 20, 35), ("B4", 100, 35)], "index"))
    zone = table.index[0].zones[0]
    assert [a.text for a in zone.alternatives] == ["B8", "B3"]
    assert zone.probability < 0.75


def test_zones_may_stand_before_their_names():
    zones = ("E4", "B3", "A2, C7", "D11", "F5", "G6")
    texts = [("ZONE", 20, 24), ("COMPONENT", 45, 24), ("ZONE", 150, 24), ("COMPONENT", 175, 24)]
    for k, (zone, name) in enumerate(zip(zones, NAMES, strict=False)):
        x, y = 20 + 130 * (k // 3), 30 + 5 * (k % 3)
        texts += [(zone, x, y), (name, x + 25, y)]
    assert entries(texts) == [(name, tuple(zone.split(", "))) for zone, name in zip(zones, NAMES, strict=False)]


@pytest.mark.parametrize("lead", [False, True])
def test_an_entry_that_dirt_made_longer_to_the_left_is_no_parent_of_those_below_it(lead):
    texts = []
    for k, name in enumerate(NAMES):
        y, off = 40 + 6.0 * k, -3.0 if k == 1 else 0.0
        texts += [(f"{'ABCDEF'[k % 6]}{k + 1}", 20 if lead else 110, y), (name, 34 if lead else 20, y)]
        at = 2 * k if lead else 2 * k + 1
        texts[at] = (texts[at][0], texts[at][1] + off, y)
    assert entries(texts) == [(n, (f"{'ABCDEF'[k % 6]}{k + 1}",)) for k, n in enumerate(NAMES)]


def test_a_zone_that_lost_its_letter_is_no_name_and_makes_no_parent_of_its_entry():
    texts = []
    for k, name in enumerate(NAMES):
        zone = "21" if k == 1 else f"{'ABCDEF'[k % 6]}{k + 1}"
        texts += [(zone, 20, 40 + 6.0 * k), (name, 34, 40 + 6.0 * k)]
    found = entries(texts)
    assert [n for n, _ in found] == list(NAMES)
    assert [len(z) for _, z in found] == [0 if k == 1 else 1 for k in range(len(NAMES))]


def test_sub_entries_are_told_by_their_names_where_the_zones_stand_first():
    lines = [
        ("LAMPS", 34, ""),
        ("DIPPED BEAM", 38, "B2"),
        ("NUMBER PLATE", 38, "H9"),
        ("RADIO", 34, "B4"),
        ("CLOCK", 34, "C1"),
    ]
    lines += [(n, 34, f"E{k + 1}") for k, n in enumerate(NAMES)]
    texts = [(n, x, 40 + 6.0 * k) for k, (n, x, _) in enumerate(lines)]
    texts += [(z, 20, 40 + 6.0 * k) for k, (_, _, z) in enumerate(lines) if z]
    found = entries(texts)
    assert found[:3] == [("LAMPS, DIPPED BEAM", ("B2",)), ("LAMPS, NUMBER PLATE", ("H9",)), ("RADIO", ("B4",))]


def test_zones_found_as_one_text_with_the_names_behind_them_are_parted():
    texts = [
        (f"{zone} {name}", 20, 30 + 5 * k)
        for k, (zone, name) in enumerate(zip(("E4", "B3, B4", "A12"), NAMES, strict=False))
    ]
    assert entries(texts) == [(NAMES[0], ("E4",)), (NAMES[1], ("B3", "B4")), (NAMES[2], ("A12",))]


@settings(deadline=None, max_examples=30)
@given(st.permutations(range(len(NAMES) * 2)))
def test_the_order_in_which_texts_were_found_never_matters(order):
    texts = column(20, [(0, n, f"A{k + 1}") for k, n in enumerate(NAMES)])
    assert entries([texts[i] for i in order]) == entries(texts)


def test_a_name_that_looks_like_a_zone_is_a_name_where_the_names_begin():
    lines = list(zip(("E4", "B3", "A2, C7", "D11"), (*NAMES[:2], "D1", NAMES[3]), strict=True))
    texts = [t for k, (zone, name) in enumerate(lines) for t in ((zone, 20, 30 + 5 * k), (name, 45, 30 + 5 * k))]
    assert entries(texts) == [(name, tuple(zone.split(", "))) for zone, name in lines]


def narrow(run_on=()):
    """An index in two columns, a space apart; ``run_on``: lines in which a zone and the name behind it are one string."""
    first = [(n, x, y) for n, x, y, *_ in column(20, [(0, n, f"A{k + 1}") for k, n in enumerate(NAMES)])]
    (margin,) = {x for n, x, _ in first if n == "A1"}
    other = ["LAMP", "METER", "PUMP", "RELAY", "SENDER", "WIPER"][: len(NAMES)]
    second = [
        (n, x, y) for n, x, y, *_ in column(margin + 3 * 0.8 * 2.2, [(0, n, f"B{k + 1}") for k, n in enumerate(other)])
    ]
    for k in run_on:
        zone, name = next(t for t in first if t[0] == f"A{k + 1}"), next(t for t in second if t[0] == other[k])
        first.remove(zone)
        second.remove(name)
        first.append((f"{zone[0]} {name[0]}", *zone[1:]))
    told = [*((n, (f"A{k + 1}",)) for k, n in enumerate(NAMES)), *((n, (f"B{k + 1}",)) for k, n in enumerate(other))]
    return [*first, *second], told


@pytest.mark.parametrize("run_on", [(), (1,), (0, 2, 4)])
def test_a_zone_and_the_name_of_the_next_column_found_as_one_string_are_parted(run_on):
    texts, told = narrow(run_on)
    assert entries(texts) == told


def test_a_name_that_begins_as_a_zone_does_stays_whole_beside_names_that_are_such():
    lines = [
        (0, "D1", "A1"),
        (0, "D2", "A2"),
        (0, "D3", "B1"),
        (0, "D4 RELAY", "B2"),
        (0, "RADIO", "B4"),
        (0, "WIPER", "C1"),
    ]
    assert ("D4 RELAY", ("B2",)) in entries(column(20, lines))
