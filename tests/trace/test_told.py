"""A trace as people and programs get it: cautions first, every doubt marked, nothing lost."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from pathlib import Path

import pytest

from digitize.commands_ask import show_trace
from digitize.commands_find import show_found
from digitize.errors import CalledWrongly, NotFound
from digitize.store.manual import Manual
from digitize.trace.advice_told import CONTINUITY, FAULT_WORDS, HOW, LEFT_ALONE, NO_CHECK
from digitize.trace.as_json import trace_as_json
from digitize.trace.cautions import ALWAYS, FITTING, cautions_for
from digitize.trace.follow import trace
from digitize.trace.told import trace_as_text
from fixtures.small_harness import small_harness

from . import circuits as c


def told(asked: str = "side lamp", **more) -> str:
    return trace_as_text(trace(c.lit_lamp(), asked, **more))


def test_cautions_come_before_the_first_way():
    text = told()
    assert text.index("Disconnect the battery") < text.index("To its feed")
    for caution in ALWAYS:
        assert " ".join(caution.text.split()) in " ".join(text.replace("  ! ", "").split())


@pytest.mark.parametrize(
    ("said", "caution"),
    [
        ("IGNITION COIL", "ignition"), ("through the coil, 1 to 2", "ignition"), ("FUEL PUMP", "fuel"), ("RADIATOR FAN", "moving"),
        ("AIR BAG MODULE", "airbag"), ("AIRBAG LAMP", "airbag"), ("starter_solenoid", "starting"), ("ALTERNATOR", "charging"),
        ("starter motor", "moving"),
    ],
)  # fmt: skip
def test_cautions_fit_the_circuit_and_stand_first(said: str, caution: str) -> None:
    given = [x.id for x in cautions_for([said])]
    first = given.index("own-manual")
    assert caution in given[:first]
    assert set(given) >= {x.id for x in ALWAYS}
    assert len(given) == len(set(given))


def test_a_circuit_without_dangers_of_its_own_gets_the_usual_cautions_only():
    assert cautions_for(["SIDE LAMP", "PLATE LAMP", "coiled lead", "fantail"]) == ALWAYS


def test_what_a_name_would_warn_of_is_said_though_the_name_was_not_read():
    said = " ".join(c.text.lower() for c in cautions_for([]))
    for word in (
        "battery",
        "fuse",
        "pierce",
        "hot",
        "start by themselves",
        "high voltage",
        "airbag",
        "own manual",
        "licensed",
    ):
        assert word in said


TOLD = (
    [x.text for x in ALWAYS]
    + [x.text for x, _ in FITTING]
    + [HOW, CONTINUITY, NO_CHECK, LEFT_ALONE, *FAULT_WORDS.values()]
)
DANGEROUS = re.compile(r"(\w+\W+)?(?:pierce|bridge|feed \w+ \w+ backwards|feed anything)")


@pytest.mark.parametrize("text", TOLD)
def test_no_text_ever_tells_to_bridge_pierce_or_backfeed(text: str) -> None:
    refused = {"never", "or", "nor", "not"}
    for found in DANGEROUS.finditer(text.lower()):
        assert (found[1] or "").strip(" ,;") in refused, f"{found[0]!r} in {text!r}"


@pytest.mark.parametrize(
    "wrong",
    ["Pierce the insulation, never feed a circuit backwards.", "Bridge the fuse.", "then feed a circuit backwards"],
)
def test_the_look_for_dangerous_texts_finds_them(wrong: str) -> None:
    with pytest.raises(AssertionError):
        test_no_text_ever_tells_to_bridge_pierce_or_backfeed(wrong)


def test_a_question_that_may_mean_several_things_is_answered_with_cautions_and_the_rights_note_too():
    h = c.lit_lamp()
    lamp = next(part for part in h.components if part.name.value == "SIDE LAMP")
    text = trace_as_text(trace(replace(h, components=(*h.components, replace(lamp, id="twin"))), "side lamp"))
    assert "may mean" in text
    for caution in ALWAYS:
        assert " ".join(caution.text.split()) in " ".join(text.replace("  ! ", "").split())
    assert text.rstrip().endswith("Rights: my own copy")


def test_columns_line_up():
    hops = [line for line in told().splitlines() if line[:6].strip().isdigit() and " wire " in line]
    assert len(hops) >= 4
    feed = hops[:4]
    assert len({line.index("%") for line in feed}) == 1


def test_every_hop_says_how_sure_it_is_and_to_check_it():
    h = c.lit_lamp()
    shaky = tuple(replace(w, probability=0.62) if w.id == "w4" else w for w in h.wires)
    text = trace_as_text(trace(replace(h, wires=shaky), "side lamp"))
    assert "62% DOUBTFUL, check on the page" in text
    assert "96% check on the page" in text
    assert "confirmed" in trace_as_text(trace(h, "side lamp", done=["p1"]))


def test_connector_place_branch_and_rights_are_told():
    text = told()
    assert "cavity A; sits: BEHIND LEFT LAMP, front" in text
    assert "+ parts here: L2B 18 BLU to PLATE LAMP" in text
    assert text.rstrip().endswith("Rights: my own copy")


def test_a_page_turn_names_page_and_zone():
    links = [c.link("x", ("p1", "right", "C14"), ("p2", "left", "C15"))]
    h = c.harness(
        [c.BATTERY, c.LAMP], [c.wire("w1", "lamp.1", "bat.+", sheets=("p1", "p2"), links=("x",))], links=links
    )
    assert "turn to page WD-2, zone C15 (leaves page WD-1, zone C14)" in trace_as_text(trace(h, "side lamp"))


def test_candidates_are_told_with_what_to_ask():
    h = c.harness([c.part("a", "lamp", "1", name="FAN", zone="B2"), c.part("b", "motor", "1", name="FAN", zone="A1")])
    text = trace_as_text(trace(h, "fan"))
    assert "may mean 2 things" in text
    assert "  b  motor  FAN  page WD-1, zone A1" in text


def test_json_holds_the_whole_trace_and_says_its_format():
    made = json.loads(json.dumps(trace_as_json(trace(c.lit_lamp(), "side lamp"))))
    assert made["format"] == "digitize-trace-1"
    assert list(made).index("cautions") < list(made).index("ways")
    assert made["rights"] == "my own copy"
    feed = made["ways"][0]
    assert (feed["goal"], feed["found"], feed["wires"], feed["page_turns"]) == ("feed", True, 4, 0)
    hop = feed["hops"][1]
    assert hop["connector"] == {
        "id": "K14", "label": "K14", "cavity": "A", "location": "BEHIND LEFT LAMP", "part_of_vehicle": "front",
        "halves": [{"name": None, "chart_code": None}, {"name": None, "chart_code": None}],
    }  # fmt: skip
    assert hop["check_on_page"] is True
    assert hop["from"]["zone"] == "B3"
    assert feed["branches"][0]["reaches"] == ["PLATE LAMP"]
    assert feed["keys"][0] == ["lamp", "1"]


@pytest.fixture
def manual(tmp_path: Path) -> Path:
    path = tmp_path / "small.manual"
    with Manual.create(path, "invented for tests") as made:
        made.save_harness(small_harness())
    return path


def test_the_commands_answer_from_a_manual_s_file(manual: Path, capsys: pytest.CaptureFixture[str]) -> None:
    show_trace(manual, "park lamp lh", as_json=False)
    assert "To its feed: fuse 7 (15A)" in capsys.readouterr().out
    show_trace(manual, "lampL", as_json=True, to="ground")
    assert [w["goal"] for w in json.loads(capsys.readouterr().out)["ways"]] == ["ground"]
    show_found(manual, "lh park", as_json=False)
    assert "PARK LAMP LH" in capsys.readouterr().out
    show_found(manual, "C2O5", as_json=True)
    assert json.loads(capsys.readouterr().out)["found"][0]["text"] == "C2O5"


def test_what_is_not_there_is_a_clear_line(manual: Path) -> None:
    with pytest.raises(NotFound, match="Nothing in the manual is called 'REAR FOG GUARD'"):
        show_trace(manual, "REAR FOG GUARD", as_json=False)
    with pytest.raises(NotFound, match="Nearest"):
        show_found(manual, "rear fog guard", as_json=False)
    with pytest.raises(CalledWrongly, match="all, feed, ground, fuse"):
        show_trace(manual, "lampL", as_json=False, to="moon")
    with pytest.raises(CalledWrongly, match="SWITCH=off"):
        show_trace(manual, "lampL", as_json=False, positions=["lamp switch"])
