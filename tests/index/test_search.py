"""Finding things: by name, code, connector, zone and print, however they were typed."""

from __future__ import annotations

import json
import time
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from digitize.harness.claim import Claim
from digitize.harness.folding import LOOK_ALIKES, folded, plain, solid
from digitize.harness.model import Cavity, Component, Connector, Harness, IndexEntry, PrintedText, SheetNote
from digitize.harness.place import Box, Place
from digitize.index.search import Index
from digitize.index.told import found_as_json, found_as_text
from fixtures.small_harness import small_harness


def claim(value: str, probability: float = 0.97) -> Claim:
    return Claim(value, probability)


def spot(zone: str | None = "C5", sheet: str = "page_01", x: float = 10.0) -> Place:
    return Place(sheet, Box(x, 10, x + 8, 18), zone)


def part(name: str, zone: str = "C5", kind: str = "lamp", probability: float = 0.97, x: float = 10.0) -> Component:
    return Component(f"c-{name}", kind, claim(name, probability), spot(zone, x=x), (), 0.99)


def with_parts(*parts: Component, **more) -> Harness:
    note = SheetNote("page_01", 1, "diagram", "ENGINE", "WD-7", 400, 280)
    return Harness("ours", (note,), tuple(parts), **more)


def texts(harness: Harness, asked: str) -> list[tuple[str, str]]:
    return [(f.entry.text, f.how) for f in Index(harness).find(asked)]


NAMES = with_parts(
    part("HORN RELAY", "B6"), part("HORN", "B7"), part("AIR HORN PUMP", "C5"), part("LEFT SIDE LAMP", "C6"), part("LAMP", "H1")
)  # fmt: skip


def test_whole_words_come_before_beginnings_of_words() -> None:
    fuses = [
        replace(part(n, kind="fuse"), rating=r) for n, r in (("1", "7.5A"), ("7", "10A"), ("12", "3A"), ("3", "5A"))
    ]
    found = Index(with_parts(*fuses)).find
    assert found("fuse 7")[0].entry.text == "7"
    assert found("fuse 3")[0].entry.text == "3"


def test_the_same_words_come_before_longer_ones_that_begin_so_or_hold_them() -> None:
    assert texts(NAMES, "horn") == [("HORN", "exact"), ("HORN RELAY", "starts"), ("AIR HORN PUMP", "words")]


def test_words_are_found_in_any_order_and_by_their_beginnings() -> None:
    assert texts(NAMES, "lam le") == [("LEFT SIDE LAMP", "words")]


def test_case_accents_and_punctuation_do_not_matter() -> None:
    assert texts(with_parts(part("RÉGULATEUR-A.")), "regulateur a") == [("RÉGULATEUR-A.", "exact")]


@pytest.mark.parametrize(
    ("typed", "printed"), [("C1O5", "C105"), ("8ll", "B11"), ("S2 5", "5Z S"), ("K14B18RD", "K14B 18 RD")]
)
def test_look_alikes_and_missing_gaps_still_find_a_code(typed: str, printed: str) -> None:
    assert texts(with_parts(part(printed)), typed) == [(printed, "look-alike")]


def test_what_is_printed_so_comes_before_what_only_looks_so() -> None:
    assert texts(with_parts(part("CI05"), part("C105")), "C105") == [("C105", "exact"), ("CI05", "look-alike")]


@pytest.mark.parametrize("typed", ["C5", "c 5", "5C", "zone C5"])
def test_a_zone_gives_what_stands_there(typed: str) -> None:
    assert texts(NAMES, typed) == [("AIR HORN PUMP", "in zone")]


def test_a_thing_on_the_border_is_found_in_both_zones() -> None:
    on_border = replace(part("PUMP"), place=Place("page_01", Box(0, 0, 1, 1), "C5", ("C6",)))
    assert texts(with_parts(on_border), "C6") == [("PUMP", "in zone")]


def test_kind_zone_and_page_narrow_a_search() -> None:
    assert texts(NAMES, "lamp c6") == [("LEFT SIDE LAMP", "about")]
    assert ("LAMP", "about") in texts(NAMES, "lamp page wd 7")


def test_a_slip_of_the_keys_offers_the_nearest() -> None:
    found = Index(NAMES).find("HRON RELAY")
    assert found[0].entry.text == "HORN RELAY"
    assert found[0].how == "alike"
    assert 0.78 <= found[0].likeness < 1


def test_nothing_is_found_for_nothing_and_for_what_is_not_there() -> None:
    assert texts(NAMES, "  ") == []
    assert texts(NAMES, "q") == []
    assert texts(NAMES, "windscreen heater unit") == []
    assert "HORN" in Index(NAMES).nearest("HRN")


def test_the_surer_of_two_equal_names_comes_first() -> None:
    harness = with_parts(replace(part("FAN", "A1", probability=0.4), id="a"), replace(part("FAN", "A2"), id="b"))
    assert [f.entry.id for f in Index(harness).find("fan")] == ["b", "a"]


def test_connectors_are_found_by_place_in_the_vehicle_and_by_codes_that_only_the_chart_has() -> None:
    row = Cavity("A", claim("K9 18 RD"), claim("K9 18 BU"))
    harness = with_parts(connectors=(Connector("J7", claim("J7"), (), (row,), None, "BEHIND GLOVE BOX", "cabin"),))
    assert texts(harness, "glove")[0] == ("J7", "about")
    found = Index(harness).find("k9 18 bu")
    assert [(f.entry.kind, f.entry.id, f.entry.about) for f in found] == [("cavity", "J7", "cavity A of J7")]
    assert "in the chart" in found_as_text(harness, found)


def test_every_print_is_found_once() -> None:
    printed = (
        PrintedText("HORN", "name", spot("C5", x=20), 0.9), PrintedText("SEE NOTE 3", "note", spot("D1"), 0.9),
        PrintedText("HORN", "note", spot("A1", x=300), 0.9),
    )  # fmt: skip
    harness = with_parts(part("HORN"), texts=printed)
    assert texts(harness, "note")[0] == ("SEE NOTE 3", "words")
    assert [(f.entry.kind, f.entry.zone) for f in Index(harness).find("horn")] == [("lamp", "C5"), ("text", "A1")]


def test_index_entries_are_found_in_each_zone_they_name() -> None:
    harness = with_parts(index=(IndexEntry(claim("STALK"), ("B3", "D9"), Place("page_09", Box(0, 0, 1, 1)), 0.9),))
    assert [texts(harness, z) for z in ("B3", "D9")] == [[("STALK", "in zone")]] * 2


def test_a_wire_is_found_at_every_place_its_code_is_printed_at() -> None:
    found = Index(small_harness()).find("L6 0.8 BN")
    assert {f.entry.id for f in found} == {"w4", "w8"}


def test_text_for_people_marks_doubt_and_cannot_move_the_cursor() -> None:
    harness = with_parts(part("FAN\x1b[2J\nX", probability=0.6))
    told = found_as_text(harness, Index(harness).find("fan"))
    assert "\x1b" not in told
    assert len(told.splitlines()) == 1
    assert "60%, check on the page" in told
    assert "page WD-7, zone C5" in told


def test_json_says_where_to_look_and_keeps_the_rights_note() -> None:
    told = json.loads(json.dumps(found_as_json(NAMES, "HORN", Index(NAMES).find("HORN"))))
    assert told["format"] == "digitize-find-1"
    assert told["rights"] == "ours"
    assert told["found"][0] | {"box": 0} == {
        "kind": "lamp", "id": "c-HORN", "text": "HORN", "sheet": "page_01", "page": 1, "label": "WD-7", "zone": "B7",
        "zone_nominal": False, "box": 0, "probability": 0.97, "how": "exact", "likeness": 1.0, "about": None,
    }  # fmt: skip


def test_a_large_manual_is_searched_while_one_types(slowness: float) -> None:
    harness = with_parts(*(part(f"THING {i} {i * 7919 % 1000}", x=float(i)) for i in range(10_000)))
    index = Index(harness)
    began = time.process_time()
    assert len(index.find("thing 77")) == 50
    assert time.process_time() - began < 0.5 * slowness


@settings(deadline=None, max_examples=60)
@given(st.lists(st.text(min_size=1, max_size=12), min_size=1, max_size=8), st.text(max_size=12))
def test_every_name_finds_itself_and_no_question_breaks_it(names: list[str], asked: str) -> None:
    harness = with_parts(*(replace(part(n), id=f"c{i}") for i, n in enumerate(names)))
    index = Index(harness)
    index.find(asked)
    index.nearest(asked)
    for i, n in enumerate(names):
        if plain(n):
            assert f"c{i}" in {f.entry.id for f in index.find(n) if f.how == "exact"}


@given(st.text(max_size=20))
def test_folding_twice_changes_nothing(text: str) -> None:
    assert plain(plain(text)) == plain(text)
    assert folded(folded(text)) == folded(text)
    assert " " not in solid(text)
    assert not set(folded(text)) & {chr(c) for c in LOOK_ALIKES}
