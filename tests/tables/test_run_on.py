"""Which strings of an index are a zone and the name of the next column, and which are names."""

from digitize.tables.index_page import HEAD, looks_like_zones
from digitize.tables.run_on import with_zones_parted
from fixtures.read_pages import column, text


def parted(typed):
    texts = [text(k, *t) for k, t in enumerate(typed)]
    zones = [t for t in texts if looks_like_zones(t)]
    return with_zones_parted(texts, zones, 2.2, HEAD)


def between(zones):
    """Zones under each other with names behind them, and below them one string of both."""
    out = [(z, 100, 30 + 5 * k) for k, z in enumerate(zones)]
    out += [("LAMP", 106, 30 + 5 * k) for k in range(len(zones))]
    return [*out, ("B9 HORN", 100, 30 + 5 * len(zones))]


def test_both_parts_keep_their_place_and_the_chance_of_the_whole():
    (zone, name) = parted(between(["A1", "A2", "B4"]))[-2:]
    assert (zone.text, zone.kind, name.text, name.kind) == ("B9", "zone", "HORN", "word")
    assert zone.box.x0 == 100
    assert zone.box.x1 < name.box.x0 == 106
    assert zone.probability == name.probability == 0.96


def test_readings_of_the_whole_are_readings_of_its_parts():
    typed = [
        *between(["A1", "A2", "B4"])[:-1],
        ("B9 HORN", 100, 45, 2.2, 0.7, [("B8 HORN", 0.2), ("B9 HORM", 0.05), ("B9HORN", 0.04)]),
    ]
    (zone, name) = parted(typed)[-2:]
    assert [(a.text, a.probability) for a in zone.of_kind("zone")] == [("B9", 0.7), ("B8", 0.2)]
    assert [(a.text, a.probability) for a in name.free] == [("HORN", 0.7), ("HORM", 0.05)]


def test_a_name_stays_as_it_is_printed():
    (zone, name) = parted([*between(["A1", "A2", "B4"])[:-1], ("B9 Horn, left", 100, 45)])[-2:]
    assert (zone.text, name.text) == ("B9", "Horn, left")


def test_two_zones_above_a_string_are_no_column():
    assert parted(between(["A1", "A2"]))[-1].text == "B9 HORN"


def test_a_name_that_begins_as_others_that_look_like_zones_is_one():
    typed = column(20, [(0, "D1", "A1"), (0, "D2", "A2"), (0, "D3", "B1"), (0, "D4 RELAY", "B2")])
    assert [t.text for t in parted(typed)] == [t[0] for t in typed]


def test_zones_with_nothing_behind_them_tell_of_no_next_column():
    typed = [(z, 100, 30 + 5 * k) for k, z in enumerate(("A1", "A2", "B4"))]
    assert parted([*typed, ("B9 HORN", 100, 45)])[-1].text == "B9 HORN"
