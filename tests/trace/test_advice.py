"""What the person at the vehicle is told about a fault: cautions, suspects in words, the next check and its readings."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest

from digitize.commands_fault import show_fault
from digitize.errors import CalledWrongly, NotFound
from digitize.harness.claim import Claim
from digitize.harness.model import Harness
from digitize.store.manual import Manual
from digitize.trace.advice import Advice, Told, advise
from digitize.trace.advice_json import advice_as_json
from digitize.trace.advice_told import FAULT_WORDS, LEFT_ALONE, advice_as_text
from digitize.trace.circuit import EARTH, HEALTHY, NO_OHMS, Circuit
from digitize.trace.fault_html import fault_html
from digitize.trace.faults import SURE_OHMS, WEIGHTS
from digitize.trace.follow import Circuits
from digitize.trace.network import Network, Positions
from digitize.trace.typed import told_from

from . import circuits as c


def ask(*, positions=None, h=None, **told) -> Advice:
    return advise(Circuits(h or c.lit_lamp()), Told(**told), positions or Positions())


def test_cautions_come_first_and_nothing_dangerous_is_ever_proposed():
    text = advice_as_text(ask(dark=["side lamp"]))
    assert text.startswith("Cautions")
    after = text.split("Faults that would")[1].lower()
    for word in ("bridge", "pierce", "jumper", "backwards", "short the"):
        assert word not in after


def named(**names: str) -> Harness:
    """The lit lamp's harness with other names of its parts, by id."""
    h = c.lit_lamp()
    parts = tuple(replace(p, name=Claim(names[p.id], 0.97)) if p.id in names else p for p in h.components)
    return replace(h, components=parts)


@pytest.mark.parametrize(
    ("h", "told"),
    [
        (named(lamp="AIRBAG LAMP"), {"dark": ["airbag lamp"]}),
        (named(lamp="SRS MODULE"), {"dark": ["plate lamp"], "volts": [("lamp.1", 0.0)]}),
        (named(lamp="TRACTION INVERTER"), {"joined": [("lamp.2", "body", False)]}),
    ],
    ids=["load", "place", "continuity"],
)
def test_nothing_is_proposed_to_be_measured_in_a_circuit_that_is_to_be_left_alone(h, told):
    advice = ask(h=h, **told)
    assert advice.check is None
    assert advice.cautions[0].id in {"airbag", "traction"}
    assert advice_as_json(advice)["next_check"] is None
    assert LEFT_ALONE in advice_as_json(advice)["notes"]
    for said in (advice_as_text(advice), fault_html(advice, lambda *_: None)):
        assert "hand it to a licensed workshop" in " ".join(said.split())
        assert "Next check" not in said
        assert "inspect the first ones" not in said


def test_a_check_elsewhere_never_leads_into_a_circuit_that_is_to_be_left_alone():
    volts: list[tuple[str, float]] = []
    asked = []
    while (
        check := ask(h=named(sw="AIRBAG SWITCH"), dark=["plate lamp"], works=["side lamp"], volts=volts).check
    ) is not None:
        asked.append(check.key)
        place = f"{check.key[0]}.{check.key[1]}" if check.key[1] != "*" else check.key[0]
        volts.append((place, 12.3))
    assert asked
    assert all(node != "sw" for node, _ in asked)


def test_cautions_fit_the_places_that_were_told_and_the_suspects_too():
    by_place = ask(dark=["plate lamp"], volts=[("lamp.1", 0.0)], h=named(lamp="FUEL PUMP"))
    by_suspect = ask(dark=["side lamp"], h=named(sw="IGNITION SWITCH"))
    plain = [x.id for x in ask(dark=["side lamp"]).cautions]
    assert by_place.cautions[0].id == "fuel"
    assert by_suspect.cautions[0].id == "ignition"
    assert "fuel" not in plain
    assert plain.index("ignition") > plain.index("own-manual")


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
        ({"dark": ["side lamp"], "works": ["SIDE LAMP"]}, CalledWrongly, "to work and not to work"),
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
    told = told_from(
        works=["plate lamp"], dark=["side lamp"], volts=["LAMP SWITCH 2=12,4 V"], positions=["lamp switch=on"]
    )
    show_fault(path, told)
    assert "Faults that would" in capsys.readouterr().out
    show_fault(path, told_from(dark=["side lamp"]), as_json=True)
    assert json.loads(capsys.readouterr().out)["suspects"]


@pytest.mark.parametrize(
    ("said", "match"),
    [
        *(({"volts": [bad]}, "says no voltage") for bad in ("sw.2", "sw.2=", "=12", "sw.2=nan", "sw.2=many")),
        *(({"lengths": [bad]}, "says no length") for bad in ("w5", "w5=0", "w5=-2", "w5=far")),
        *(({"watts": [bad]}, "says no power") for bad in ("lamp=0", "lamp=")),
        *(({"joined": [bad]}, "does not name two places") for bad in ("sw.2", "=sw.2", "sw.2=")),
        ({"positions": ["lamp switch"]}, "says no position"),
    ],
)
def test_a_statement_that_says_nothing_is_one_clear_line(said, match: str) -> None:
    with pytest.raises(CalledWrongly, match=match):
        told_from(**said)


def test_no_continuity_through_a_connector_points_to_its_terminal():
    advice = ask(dark=["side lamp"], works=["plate lamp"], joined=[("k@1.a1", "k@1.b1", False)])
    best = advice.ranking.suspects[0].fault
    assert best is not None
    assert best.by == "k@1"
    assert "no continuity between connector K14, cavity A" in " ".join(advice_as_text(advice).split())


def test_continuity_clears_what_lies_between():
    advice = ask(dark=["side lamp"], works=["plate lamp"], joined=[("s1", "lamp.1", True), ("lamp.2", "body", True)])
    best = advice.ranking.suspects[0].fault
    assert best is not None
    assert best.id.startswith("load open lamp")
    between = {"w4", "k@1", "w5", "w7", "g1"}
    broken = [s for s in advice.ranking.suspects if s.fault and s.fault.by in between and s.fault.kind.endswith("open")]
    assert sum(s.probability for s in broken) < 0.05


def test_continuity_to_the_body_where_there_should_be_none_speaks_for_a_short():
    said = {"dark": ["side lamp", "plate lamp"], "joined": [("k@1.b1", "body", True)]}
    best = ask(**said).ranking.suspects[0].fault
    assert best is not None
    assert best.kind == "wire shorted"


def test_a_continuity_check_counts_no_lamp_and_no_diode_as_a_way():
    h = c.harness(
        [c.BATTERY, c.LAMP, c.part("d", "diode", "1", "2", heading="right")],
        [c.wire("w1", "bat.+", "lamp.1"), c.wire("w2", "lamp.2", "g.1"), c.wire("w3", "bat.+", "d.1"), c.wire("w4", "d.2", "g.1")],
        grounds=[c.ground("g")],
    )  # fmt: skip
    k = Circuit(Network(h))
    healthy = k.solve()
    at = [k.nodes[key] for key in (("lamp", "1"), ("lamp", "2"))]
    assert k.ohms_between(HEALTHY, healthy, at[0], at[1]) > NO_OHMS
    assert k.ohms_between(HEALTHY, healthy, at[1], EARTH) < SURE_OHMS


def test_the_switch_to_set_is_named_when_nothing_can_be_concluded():
    three = c.part("sw", "switch", "B", "S", "H", name="LAMP SWITCH")
    h = c.lit_lamp()
    swapped = tuple(three if p.id == "sw" else p for p in h.components)
    ends = {"w2": "sw.B", "w3": "sw.S"}
    wires = tuple(
        c.wire(w.id, "f7.2", ends[w.id]) if w.id == "w2" else c.wire(w.id, ends[w.id], "s1") if w.id == "w3" else w
        for w in h.wires
    )
    advice = ask(h=replace(h, components=swapped, wires=wires), dark=["side lamp"])
    assert not advice.told_something
    assert any('--position "LAMP SWITCH=' in n for n in advice.notes)


def test_pairs_of_faults_are_told_as_two():
    volts = [("s1", 12.4), ("lamp.1", 12.3), ("lamp.2", 12.3), ("other.1", 0.0), ("g1.1", 12.3)]
    text = advice_as_text(ask(dark=["side lamp", "plate lamp"], volts=volts))
    assert "two faults: " in text
