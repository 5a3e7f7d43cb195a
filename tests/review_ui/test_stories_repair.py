"""Every repair at the real desk, with a real mouse and real keys."""

from __future__ import annotations

from dataclasses import replace

import pytest
from playwright.sync_api import Browser, expect

from digitize.store.manual import Manual
from fixtures.small_harness import SCAN_PX_PER_MM, small_harness, with_new_ids

from .browser import Person, Served

pytestmark = pytest.mark.browser
K = SCAN_PX_PER_MM


def test_a_code_is_chosen_with_one_key(person: Person):
    person.bring_question("L7 1.0 GN-WH")
    person.key("2")
    person.says("L1 1.0 GN-WH")
    assert person.wire("w2")["text"] == "L1 1.0 GN-WH"
    assert person.ask("/desk/thing?id=w2")["evidence"][-1]["kind"] == "person"


def test_a_code_is_retyped_with_live_parsing(person: Person):
    person.bring_question("L7 1.0 GN-WH")
    person.key("t")
    person.page.keyboard.press("Control+a")
    person.type("L17 1.0 GN")
    expect(person.page.locator("#parsed")).to_contain_text("✓ fits the conventions: lamps, 1.0 mm², green")
    person.type("X")
    expect(person.page.locator("#parsed")).to_contain_text("not all in the tables")
    person.key("Backspace")
    person.key("Enter")
    person.says("L17 1.0 GN")
    assert person.wire("w2")["text"] == "L17 1.0 GN"


def test_later_and_not_readable(person: Person):
    first = person.page.locator("#card").inner_text()
    person.key("s")
    expect(person.page.locator("#card")).not_to_have_text(first)
    person.bring_question("Z1 0.8 BK")
    person.key("u")
    person.says("cannot be read")
    assert person.wire("w7")["text"] is None


def test_a_connector_id_is_corrected_at_the_oval(person: Person):
    person.key("h")
    person.settle()
    person.click_scan(60 * K, 110 * K)
    expect(person.page.locator("#slip .value")).to_have_text("C2O5")
    person.key("r")
    person.page.keyboard.press("Control+a")
    person.type("C205")
    person.key("Enter")
    person.says("C205")
    read = person.ask("/desk/sheets/page_01/read")
    assert {c["text"] for c in read["connectors"]} == {"C101", "C205"}


def test_a_missing_join_is_drawn_with_the_mouse(person: Person):
    person.key("h")
    person.settle()
    person.key("j")
    person.click_scan(135 * K, 60 * K)
    person.says("joined here")
    splices = person.ask("/desk/sheets/page_01/read")["splices"]
    assert sorted(s["degree"] for s in splices) == [3, 4]


def test_a_missing_piece_of_wire_is_drawn_from_loose_end_to_loose_end(person: Person):
    person.page.locator("#seek-words").click()
    person.type("B3")
    person.key("Enter")
    person.settle()
    person.page.locator("#map").focus()
    person.key("w")
    person.click_scan(110 * K + 4, 44 * K - 3)
    person.click_scan(110 * K - 3, 46 * K + 3, times=2)
    person.says("one conductor")
    assert [e["node"] for e in person.wire("w5")["ends"]] == ["s1", "C101@1"]
    assert person.wire("w6") is None


def test_a_wire_is_drawn_to_a_terminal_and_snaps_to_it(person: Person):
    person.key("h")
    person.settle()
    person.key("w")
    person.click_scan(64 * K + 5, 110 * K + 4)
    person.click_scan(150 * K, 120 * K)
    person.click_scan(180 * K - 4, 97 * K + 4, times=2)
    person.says("drawn here")
    drawn = next(w for w in person.ask("/desk/sheets/page_01/read")["wires"] if w["id"].startswith("hand-"))
    assert [(e["node"], e["terminal"]) for e in drawn["ends"]] == [("C205@1", "b1"), ("g1", "1")]
    assert drawn["lines"][0][0] == pytest.approx([64 * K - 0.5, 110 * K - 0.5], abs=0.6)


def test_a_wire_is_cut_and_its_end_moved_to_another_terminal(person: Person):
    person.key("h")
    person.settle()
    person.key("c")
    person.click_scan(135 * K, 75 * K)
    person.says("is cut")
    assert [e["node"] for e in person.wire("w3/2")["ends"]] == [None, "lampL"]
    person.key("e")
    person.click_scan(135 * K, 75 * K + 4)
    person.says("Holding this end")
    person.click_scan(114 * K, 60 * K)
    person.says("goes to C101@1")
    assert [e["node"] for e in person.wire("w3/2")["ends"]] == ["C101@1", "lampL"]


def test_a_wire_that_is_not_drawn_is_deleted_by_key(person: Person):
    person.key("h")
    person.settle()
    person.click_scan(50 * K, 30 * K)
    expect(person.page.locator("#slip .value")).to_have_text("A1 3.0 RD")
    person.key("Delete")
    person.says("not drawn")
    assert person.wire("w1") is None


def test_a_connector_that_was_missed_is_boxed_and_named(person: Person):
    person.key("h")
    person.settle()
    person.key("b")
    person.click_scan(150 * K, 56 * K)
    person.click_scan(158 * K, 64 * K)
    expect(person.page.locator("#part")).to_be_visible()
    person.page.locator("#part-kind").select_option("connector")
    person.page.locator("#part-name").fill("C301")
    person.key("Enter")
    person.says("C301")
    assert "C301" in {c["text"] for c in person.ask("/desk/sheets/page_01/read")["connectors"]}
    assert person.wire("w4/2")["ends"][1]["node"] == "C101@2"


def test_a_part_gets_another_kind_and_a_false_one_goes(person: Person):
    person.key("h")
    person.settle()
    person.click_scan(150 * K, 90 * K)
    expect(person.page.locator("#slip .value")).to_have_text("PARK LAMP LH")
    person.page.locator("#slip-kind").select_option("socket")
    person.says("is a socket")
    person.click_scan(75 * K, 30 * K)
    expect(person.page.locator("#slip .value")).to_have_text("7")
    person.key("Delete")
    person.says("not drawn")
    kinds = {c["id"]: c["kind"] for c in person.ask("/desk/sheets/page_01/read")["components"]}
    assert kinds == {"battery": "battery", "lampL": "socket"}


def test_a_join_becomes_a_crossing(person: Person):
    person.key("h")
    person.settle()
    person.click_scan(110 * K, 30 * K)
    expect(person.page.locator("#slip h2")).to_have_text("Join")
    person.page.locator("#unsplice").click()
    person.says("without a join")
    assert person.ask("/desk/sheets/page_01/read")["splices"] == []


def test_take_back_and_bring_back(person: Person):
    person.bring_question("L7 1.0 GN-WH")
    person.key("2")
    person.says("L1 1.0 GN-WH")
    person.key("Control+z")
    person.says("Taken back")
    assert person.wire("w2")["text"] == "L7 1.0 GN-WH"
    person.page.locator("#redo").click()
    person.says("Brought back")
    assert person.wire("w2")["text"] == "L1 1.0 GN-WH"


def test_undo_works_after_a_restart_of_the_desk(person: Person, served: Served):
    person.bring_question("L7 1.0 GN-WH")
    person.key("2")
    person.says("L1 1.0 GN-WH")
    served.stop()
    person.open(served.start())
    assert person.wire("w2")["text"] == "L1 1.0 GN-WH"
    expect(person.page.locator("#undo")).to_be_enabled()
    person.key("z")
    person.says("Taken back")
    assert person.wire("w2")["text"] == "L7 1.0 GN-WH"


def test_an_edit_is_kept_over_a_new_digitization_and_a_lost_one_is_listed(person: Person, served: Served):
    person.bring_question("L7 1.0 GN-WH")
    person.key("2")
    person.says("L1 1.0 GN-WH")
    person.bring_question("Z1 0.8 BK")
    person.key("2")
    person.says("Z7 0.8 BK")
    again = with_new_ids(small_harness(), shift=1.2)
    with Manual.open(served.manual) as manual:
        manual.save_harness(replace(again, wires=tuple(w for w in again.wires if w.id != "nw7")))
    expect(person.page.locator("#lost-list li")).to_contain_text("Z7 0.8 BK")
    assert person.wire("nw2")["text"] == "L1 1.0 GN-WH"


def test_a_stale_edit_is_refused_with_both_versions(person: Person, served: Served, browser: Browser):
    other_page = browser.new_page()
    other = Person(other_page)
    other.open(served.url)
    for somebody in (person, other):
        somebody.bring_question("L7 1.0 GN-WH")
    # the second window does not look again by itself while a person types
    other.key("t")
    person.key("2")
    person.says("L1 1.0 GN-WH")
    other.page.keyboard.press("Control+a")
    other.type("L9 1.0 GN-WH")
    other.key("Enter")
    expect(other.page.locator("#clash")).to_be_visible()
    expect(other.page.locator("#clash-mine")).to_contain_text("L9 1.0 GN-WH")
    expect(other.page.locator("#clash-theirs")).to_contain_text("L1 1.0 GN-WH")
    other.key("Enter")
    expect(other.page.locator("#clash")).to_be_hidden()
    assert other.wire("w2")["text"] == "L1 1.0 GN-WH"
    other_page.close()


def test_a_join_is_made_with_keys_alone(person: Person):
    """The question about the loose end brings it into the middle; the cross starts there."""
    assert person.question() == "Finding"
    person.key("q")
    person.settle()
    person.key("j")
    person.key(" ")
    person.says("one conductor")
    assert [e["node"] for e in person.wire("w5")["ends"]] == ["s1", "C101@1"]


def test_a_wire_is_drawn_with_keys_alone(person: Person):
    person.key("h")
    person.settle()
    person.key("w")
    person.walk_to(64 * K, 110 * K)
    person.key(" ")
    person.walk_to(180 * K, 97 * K)
    person.key(" ")
    person.key("Enter")
    person.says("drawn here")
    drawn = next(w for w in person.ask("/desk/sheets/page_01/read")["wires"] if w["id"].startswith("hand-"))
    assert [(e["node"], e["terminal"]) for e in drawn["ends"]] == [("C205@1", "b1"), ("g1", "1")]
