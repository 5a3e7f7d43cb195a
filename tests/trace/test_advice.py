"""What the person at the vehicle is told about a fault: cautions, suspects in words, the next check and its readings."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest

from digitize.commands_ask import show_fault
from digitize.errors import CalledWrongly, NotFound
from digitize.store.manual import Manual
from digitize.trace.advice import FAULT_WORDS, Advice, advice_as_json, advice_as_text, advise
from digitize.trace.faults import WEIGHTS
from digitize.trace.follow import Circuits
from digitize.trace.network import Network, Positions

from . import circuits as c


def ask(*, works=(), dark=(), volts=(), positions=None, h=None) -> Advice:
    return advise(Circuits(h or c.lit_lamp()), works, dark, volts, positions or Positions())


def test_cautions_come_first_and_nothing_dangerous_is_ever_proposed():
    text = advice_as_text(ask(dark=["side lamp"]))
    assert text.startswith("Cautions")
    after = text.split("Faults that would")[1].lower()
    for word in ("bridge", "pierce", "jumper", "backwards", "short the"):
        assert word not in after


def test_the_likeliest_suspects_and_the_next_check_are_told_with_their_places():
    advice = ask(dark=["side lamp"], works=["plate lamp"])
    text = advice_as_text(advice)
    assert "SIDE LAMP (lamp) is burnt out or open inside - page WD-1, zone C5" in text
    assert "connector K14, cavity A (BEHIND LEFT LAMP)" in text
    assert "Next check: " in text
    assert "Black lead on clean metal" in text
    assert "live (" in text
    assert 'Then say what it read: --volts "' in text


def test_answering_the_checks_leads_to_the_fault():
    volts = [("k@1.a1", 12.3), ("k@1.b1", 0.0)]
    advice = ask(dark=["side lamp"], works=["plate lamp"], volts=volts)
    best = advice.ranking.suspects[0]
    assert best.fault is not None
    assert (best.fault.kind, best.fault.by) == ("connector open", "k@1")
    assert best.probability > 0.6


def test_every_kind_of_fault_has_words_and_a_weight():
    assert set(FAULT_WORDS) == set(WEIGHTS)


def test_a_lamp_that_nothing_could_light_concludes_nothing():
    advice = ask(dark=["side lamp"], positions=Positions(off=frozenset({"sw"})))
    text = advice_as_text(advice)
    assert "no current would reach SIDE LAMP" in text
    assert "Nothing can be concluded yet" in text
    assert advice.check is None
    assert advice_as_json(advice)["suspects"] == []


def test_json_has_suspects_and_check_with_places():
    made = json.loads(json.dumps(advice_as_json(ask(dark=["side lamp"]))))
    assert made["format"] == "digitize-fault-1"
    assert made["rights"] == "my own copy"
    assert sum(s["probability"] for s in made["suspects"]) == pytest.approx(1, abs=1e-3)
    check = made["next_check"]
    assert check["page"] == 1
    assert check["zone"]
    assert {r["shows"] for r in check["readings"]} <= {"live", "between", "dead"}


def test_a_battery_without_signs_feeds_from_the_post_that_is_not_earthed():
    # No signs printed at the posts: the post with a cable to ground is the negative one (common practice, no source).
    bat = replace(
        c.part("bat", "battery", "t1", "t2"),
        terminals=tuple(replace(t, label=None) for t in c.part("b", "battery", "t1", "t2").terminals),
    )
    h = c.harness(
        [bat, c.part("lamp", "lamp", "1", case_ground=True)],
        [c.wire("w1", "bat.t1", "g.1"), c.wire("w2", "bat.t2", "lamp.1")], grounds=[c.ground("g")],
    )  # fmt: skip
    assert Network(h).feeds == {("bat", "t2")}
    advice = ask(h=h, dark=["lamp"])
    assert advice.told_something


def test_a_lamp_with_one_wire_and_no_earth_drawn_counts_as_earthed_by_its_mounting():
    h = c.lit_lamp()
    parts = tuple(replace(p, case_ground=False) if p.id == "other" else p for p in h.components)
    advice = ask(h=replace(h, components=parts), works=["plate lamp"], dark=["side lamp"])
    assert advice.notes == ()


@pytest.mark.parametrize(
    ("said", "kind", "match"),
    [
        ({"dark": ["no such lamp at all"]}, NotFound, "Nothing in the manual"),
        ({"dark": ["lamp switch"]}, CalledWrongly, "nothing that works"),
        ({}, CalledWrongly, "Nothing was said"),
        ({"volts": [("lamp switch", 12.0)]}, CalledWrongly, r"2 points .* sw\.1, sw\.2|2 points"),
        ({"volts": [("nowhere.x", 12.0)]}, NotFound, "Nothing in the manual"),
    ],
)
def test_what_cannot_be_is_one_clear_line(said, kind, match: str) -> None:
    with pytest.raises(kind, match=match):
        ask(**said)


def test_the_command_reads_a_manual_and_refuses_nonsense(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "small.manual"
    with Manual.create(path, "invented for tests") as made:
        made.save_harness(c.lit_lamp())
    show_fault(
        path,
        works=["plate lamp"],
        dark=["side lamp"],
        volts=["LAMP SWITCH 2=12,4 V"],
        positions=["lamp switch=on"],
        as_json=False,
    )
    assert "Faults that would" in capsys.readouterr().out
    show_fault(path, works=[], dark=["side lamp"], volts=[], positions=[], as_json=True)
    assert json.loads(capsys.readouterr().out)["suspects"]
    for bad in ("sw.2", "sw.2=", "=12", "sw.2=nan", "sw.2=many"):
        with pytest.raises(CalledWrongly, match="says no voltage"):
            show_fault(path, works=[], dark=[], volts=[bad], positions=[], as_json=False)
