"""The queue asks first what other claims hang on, and what looks alike only once."""

from __future__ import annotations

from dataclasses import replace

import pytest
from playwright.sync_api import Page, expect

from digitize.harness.model import Finding, Ground, Harness, PrintedText
from digitize.harness.place import Box, Place
from fixtures.small_harness import claim, small_harness
from fixtures.small_manual import build_manual
from review_ui.doubts import MOST_ALIKE, Known, Neighbours, queue

from .browser import Person, Served


def bare_grounds(count: int, sheet: str = "page_01") -> tuple[Ground, ...]:
    """Grounds of which nothing could be read, 8 mm apart."""
    places = [Place(sheet, Box(12.0 + 8 * i, 120, 18.0 + 8 * i, 126), "D1") for i in range(count)]
    return tuple(
        Ground(f"bare{sheet}{i:02}", claim(None, 0.6), place, place.box.centre, 0.9) for i, place in enumerate(places)
    )


def with_grounds(*grounds: Ground) -> Harness:
    harness = small_harness()
    return replace(harness, grounds=tuple(sorted((*harness.grounds, *grounds), key=lambda g: g.id)))


def test_grounds_without_letters_are_one_question_for_each_sheet():
    asked = [
        d
        for d in queue(with_grounds(*bare_grounds(5), *bare_grounds(3, "page_02")))
        if d.value is None and d.kind == "ground"
    ]
    assert sorted(len(d.targets) for d in asked) == [3, 5]
    assert all(len({sheet for sheet, _ in d.spots}) == 1 for d in asked)


def test_a_name_near_one_of_many_symbols_is_no_answer_for_all():
    harness = with_grounds(*bare_grounds(3))
    near = PrintedText("HEATER", "name", Place("page_01", Box(12, 128, 24, 131), "D1"), 0.9)
    harness = replace(harness, texts=(near,))
    alone = next(d for d in queue(with_grounds(*bare_grounds(1))) if d.value is None and d.kind == "ground")
    many = next(d for d in queue(harness) if d.value is None and d.kind == "ground")
    assert Neighbours(harness).of(alone) == ["HEATER"]
    assert Neighbours(harness).of(many) == []


def test_one_answer_settles_no_more_symbols_than_the_page_shows():
    asked = [d for d in queue(with_grounds(*bare_grounds(MOST_ALIKE + 3))) if d.value is None and d.kind == "ground"]
    assert sorted(len(d.targets) for d in asked) == [3, MOST_ALIKE]


def test_the_ends_of_a_wire_are_asked_before_the_letters_at_grounds():
    harness = with_grounds(*bare_grounds(MOST_ALIKE))
    wires = tuple(replace(w, probability=0.3) if w.id == "w3" else w for w in harness.wires)
    kinds = [(d.kind, d.targets[0]) for d in queue(replace(harness, wires=wires))]
    letters = next(i for i, (kind, _) in enumerate(kinds) if kind == "ground")
    assert kinds.index(("ends", "w3")) < letters


def test_a_wire_that_meets_others_is_asked_before_one_that_meets_none():
    harness = small_harness()
    harness = replace(harness, splices=tuple(replace(s, probability=1.0) for s in harness.splices))
    wires = tuple(replace(w, probability=0.5) if w.id in {"w3", "w7"} else w for w in harness.wires)
    asked = [
        d.targets[0] for d in queue(replace(harness, wires=wires)) if d.kind == "ends" and d.targets[0] in {"w3", "w7"}
    ]
    assert asked == ["w3", "w7"], "w3 hangs on a join of three wires"


def test_a_wire_that_is_hardly_drawn_is_asked_before_one_that_may_well_stop_in_the_open():
    """Where a wire runs that nobody drew, a drawn one was missed: both ends of both follow from the answer."""
    harness = small_harness()
    doubtful = {"w7": 0.1, "w5": 0.4}
    wires = tuple(replace(w, probability=doubtful.get(w.id, w.probability)) for w in harness.wires)
    asked = [d.targets[0] for d in queue(replace(harness, wires=wires)) if d.kind in {"ends", "finding"}]
    assert asked.index("w7") < asked.index("dangling-end/w5/end 2")


@pytest.mark.parametrize(("check", "follows"), [("dangling-end", 4), ("index-zone", 1), ("chart-colour", 1)])
def test_a_finding_about_the_way_of_current_counts_more_than_one_about_a_table(check: str, follows: int):
    spot = Place("page_01", Box(10, 10, 12, 12))
    finding = Finding("f", check, "doubt", "w1", "why.", "settle.", (spot, spot))
    asked = next(d for d in queue(replace(small_harness(), findings=(finding,))) if d.kind == "finding")
    assert asked.follows == follows


def test_an_edit_makes_only_its_own_questions_anew():
    harness = small_harness()
    known: Known = {}
    before = {d.targets: d for d in queue(harness, known) if d.kind == "code"}
    wires = tuple(replace(w, code=claim("L7 1.0 GN-WH", 0.99)) if w.id == "w2" else w for w in harness.wires)
    after = {d.targets: d for d in queue(replace(harness, wires=wires), known) if d.kind == "code"}
    assert before.keys() - after.keys() == {("w2",)}
    assert all(after[t] is before[t] for t in after)
    assert {d.targets for d in queue(harness, known) if d.kind == "code"} == before.keys(), "and undo asks it again"


def test_one_label_at_many_grounds_is_one_question():
    grounds = [replace(g, label=claim("G1O2", 0.7, ("G102", 0.2))) for g in bare_grounds(4)]
    asked = [d for d in queue(with_grounds(*grounds)) if d.kind == "ground" and d.value == "G1O2"]
    assert [len(d.targets) for d in asked] == [4]


def test_a_doubtful_dot_is_asked_about_before_the_shaky_wires_that_meet_there():
    harness = small_harness()
    wires = tuple(replace(w, probability=0.2) if w.id in {"w2", "w3"} else w for w in harness.wires)
    order = [(d.kind, d.targets[0]) for d in queue(replace(harness, wires=wires))]
    assert order.index(("join", "s1")) < min(order.index(("ends", "w2")), order.index(("ends", "w3")))


def test_a_loose_end_that_a_person_left_is_not_asked_about_as_a_wire():
    harness = small_harness()
    left = tuple(replace(f, accepted="so") if f.subject == "w5" else f for f in harness.findings)
    wires = tuple(replace(w, probability=0.3) if w.id == "w5" else w for w in harness.wires)
    asked = queue(replace(harness, findings=left, wires=wires))
    assert ("ends", ("w5",)) not in {(d.kind, d.targets) for d in asked}


@pytest.mark.browser
def test_one_key_joins_two_loose_ends_from_their_question(page: Page, tmp_path):
    served = Served(build_manual(tmp_path, small_harness()), tmp_path / "log")
    served.start()
    try:
        person = Person(page)
        person.open(served.url)
        for _ in range(20):
            if "It goes on as" in page.locator("#card").inner_text():
                break
            person.key("s")
            person.settle()
        expect(page.locator('#card [data-choice="1"]')).to_contain_text("It goes on as")
        page.screenshot(path=tmp_path / "offers.png")
        person.key("1")
        person.says("one conductor")
        assert person.ask("/desk/thing?id=w6")["gone"] or person.ask("/desk/thing?id=w5")["gone"]
    finally:
        served.stop()


@pytest.mark.browser
def test_one_key_says_that_nothing_is_printed_at_many_symbols(page: Page, tmp_path):
    harness = replace(with_grounds(*bare_grounds(6)), findings=())
    served = Served(build_manual(tmp_path, harness), tmp_path / "log")
    served.start()
    try:
        person = Person(page)
        person.open(served.url)
        wanted = "6 symbols at which no letters could be read"
        for _ in range(20):
            if wanted in page.locator("#card").inner_text():
                break
            person.key("s")
            person.settle()
        expect(page.locator("#card")).to_contain_text(wanted)
        expect(page.locator("#card .crops img")).to_have_count(6)
        expect(page.locator('#card [data-choice="1"]')).to_contain_text("Nothing is printed there")
        page.screenshot(path=tmp_path / "grounds.png")
        person.key("1")
        person.says("is right")
        told = person.ask("/desk/thing?id=barepage_0100")
        assert told["claim"] == {"value": None, "probability": 1.0}
        person.key("z")
        person.says("Taken back")
        assert person.ask("/desk/thing?id=barepage_0100")["claim"]["probability"] == 0.6
    finally:
        served.stop()
