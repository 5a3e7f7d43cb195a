"""Words that stand again and again put right a look-alike of themselves, and nothing else. All invented."""

from __future__ import annotations

import pytest

from digitize.harness.claim import Alternative, Claim
from digitize.wiring.binding import EvidenceUsed, bind
from digitize.wiring.evidence_words import Words
from fixtures.typed_sheets import TypedSheet, read

NAMES = [
    Claim(name, 0.99)
    for name in ("L/H FRONT INDICATOR", "R/H FRONT INDICATOR", "INDICATOR SWITCH", "HORN RELAY", "RELAV BOX")
]


@pytest.mark.parametrize(
    ("read_as", "meant"),
    [
        ("R/H INOICATOR LAMP", "R/H INDICATOR LAMP"),
        ("REAR INDICATOR", "REAR INDICATOR"),
        ("REAR INDUCTOR", "REAR INDUCTOR"),
        ("RELAV BOX", "RELAV BOX"),
        ("H0RN RELAY", "H0RN RELAY"),
    ],
    ids=[
        "a look-alike of a word that stands often",
        "right already",
        "another word",
        "known only once",
        "known only once",
    ],
)
def test_only_look_alikes_of_known_words_are_put_right(read_as, meant):
    assert Words.of([*NAMES, Claim(read_as, 0.95)]).respelled(Claim(read_as, 0.95)).value == meant


def test_the_reading_stays_among_the_alternatives_and_nothing_becomes_certain():
    name = Words.of(NAMES).respelled(Claim("R/H INOICATOR", 0.95, (Alternative("R/H INOICATOR", 0.95),)))
    assert name.value == "R/H INDICATOR"
    assert "R/H INOICATOR" in {a.text for a in name.alternatives}
    assert 0.5 < name.probability < 1.0
    assert sum(a.probability for a in name.alternatives) <= 1.0 + 1e-9


def test_an_unread_name_stays_unread():
    assert Words.of(NAMES).respelled(Claim.unread()).value is None


def test_names_of_parts_are_put_right_in_binding_unless_habits_are_left_out():
    sheet = TypedSheet("page_1")
    for k, name in enumerate(("FRONT INDICATOR", "REAR INDICATOR", "SIDE INOICATOR")):
        sheet.part(f"p{k}", "lamp", (30 + 40 * k, 30), read(name))
    assert {c.name.value for c in bind([sheet.wiring()], ()).components} >= {"SIDE INDICATOR"}
    plain = bind([sheet.wiring()], (), used=EvidenceUsed(habits=False))
    assert {c.name.value for c in plain.components} >= {"SIDE INOICATOR"}
