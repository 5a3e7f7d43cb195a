"""Usual values: all documented, all changeable, and a change is heeded."""

from __future__ import annotations

import dataclasses
import re
from pathlib import Path

import pytest

from digitize.errors import CalledWrongly
from digitize.trace.advice import Told, advise
from digitize.trace.assumed import assumed, values_from
from digitize.trace.circuit import LOAD_OHMS, Circuit, Values
from digitize.trace.follow import Circuits
from digitize.trace.network import Network, Positions

from . import circuits as c

README = Path(__file__).resolve().parents[2] / "README.md"


def test_every_value_of_the_circuit_can_be_changed_by_name():
    numbers = {f.name for f in dataclasses.fields(Values) if f.name not in {"lengths", "ohms", "load_ohms"}}
    names = [a.name for a in assumed()]
    assert len(names) == len(set(names)) == len(numbers) + len(LOAD_OHMS)
    assert numbers <= set(names)


def test_the_readme_lists_every_value_with_its_default():
    text = README.read_text(encoding="utf-8")
    for a in assumed():
        row = re.search(rf"^\| `{a.name}` \| (\S+) \| (\S+) \| (.+) \|$", text, re.MULTILINE)
        assert row is not None, a.name
        assert (float(row[1]), row[2], row[3]) == (a.usual, a.unit, a.meaning)


def test_what_is_assumed_changes_the_readings():
    k = Circuit(Network(c.lit_lamp()), values_from(["battery_volts=13,8", "lamp_ohms=1200"]))
    s = k.solve()
    assert k.volts_at(s, ("bat", "+")) == pytest.approx(13.8, abs=0.05)
    lamp = k.consumers["lamp"][0]
    assert abs(s.amps[lamp]) < 0.02
    told = Told(dark=("side lamp",))
    usual, other = (
        advise(Circuits(c.lit_lamp()), told, Positions(), v) for v in (None, values_from(["battery_volts=24"]))
    )
    assert other.ranking.circuit.values.battery_volts == 24
    assert usual.ranking.circuit.values.battery_volts == 12.6


@pytest.mark.parametrize(
    ("said", "match"),
    [
        ("colour=12", "no value 'colour'"), ("lamp_ohms", "no value above 0"), ("lamp_ohms=0", "no value above 0"),
        ("lamp_ohms=many", "no value above 0"), ("pull_in_volts=2", "let go below"),
    ],
)  # fmt: skip
def test_what_cannot_be_assumed_is_one_clear_line(said: str, match: str) -> None:
    with pytest.raises(CalledWrongly, match=match):
        values_from([said])
