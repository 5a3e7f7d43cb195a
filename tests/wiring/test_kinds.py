"""What a printed name tells about the kind of a part (common practice, no source)."""

from dataclasses import replace

import pytest

from digitize.harness.claim import Claim
from digitize.harness.place import Box
from digitize.wiring.kinds import kind_told, told_by_name
from digitize.wiring.state import DrawnPlace


@pytest.mark.parametrize(
    ("name", "kind"),
    [
        ("LAMP SWITCH", "switch"),
        ("SWITCH PANEL LAMP", "lamp"),
        ("HORN RELAY", "relay"),
        ("FUSE BLOCK", "fuse_block"),
        ("FUSE PANEL 2", "fuse_block"),
        ("RADIO FUSE", "fuse"),
        ("WIPER MOTOR", "motor"),
        ("GLOVE BOX", None),
        ("D1", None),
        ("", None),
    ],
)
def test_the_last_telling_word_counts(name, kind):
    assert kind_told(name) == kind


def place(kind: str, name: str, probability: float) -> DrawnPlace:
    return DrawnPlace("p1", kind, Box(0, 0, 8, 8), Claim(name, 0.95), (), probability)


def test_a_name_overrules_a_doubtful_drawing():
    assert told_by_name(place("fuse", "HORN PUSH", 0.4)).kind == "switch"


def test_a_sure_drawing_of_the_same_family_is_kept():
    assert told_by_name(place("variable_resistor", "FUEL SENDER", 0.9)).kind == "variable_resistor"


def test_a_taught_symbol_is_what_the_person_said_whatever_is_printed_beside_it():
    taught = replace(place("horn", "AIR SENSOR", 0.6), taught="hand-t1")
    assert told_by_name(taught) == taught


def test_agreement_makes_surer_and_a_name_that_tells_nothing_changes_nothing():
    assert told_by_name(place("lamp", "SIDE LAMP", 0.8)).probability == pytest.approx(0.9)
    assert told_by_name(place("lamp", "XYZ", 0.8)) == place("lamp", "XYZ", 0.8)
