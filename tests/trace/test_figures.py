"""Figures to compare with, against the handbook values they come from."""

from __future__ import annotations

from dataclasses import replace

import pytest

from digitize.harness.model import WireCode
from digitize.trace.advice import Told, advise
from digitize.trace.figures import FOOT, circular_mils_needed
from digitize.trace.follow import Circuits
from digitize.trace.network import Positions

from . import circuits as c


def sized(**gauges: str):
    h = c.lit_lamp(conventions={"gauge system": "awg"})
    wires = tuple(
        replace(w, parsed=WireCode(w.code.value or "", gauge=gauges.get(w.id, "10"))) for w in h.wires
    )  # fmt: skip
    return replace(h, wires=wires)


def said(told: Told, h=None) -> dict[str, tuple[str, bool]]:
    """Figures by a word of theirs."""
    return {f.says: (f.subject, f.fits) for f in advise(Circuits(h or sized()), told, Positions()).figures}


def test_the_published_example_needs_6271_circular_mils():
    # Marine wire table, worked example: 10 A, 21 ft there and back, 3 % of 12 V.
    assert circular_mils_needed(10, 21 * FOOT, 0.36) == pytest.approx(6271, abs=0.5)
    with pytest.raises(ValueError, match="loses nothing"):
        circular_mils_needed(10, 1, 0)


def test_a_long_thin_wire_is_told_as_too_thin_with_what_it_loses():
    # 18 AWG is 6.385 ohm for 1,000 ft (NBS Handbook 100 with ASTM B258); 60 m of it before a 24 W lamp lose volts.
    told = Told(dark=("side lamp",), lengths=(("w5", 60.0),), watts=(("side lamp", 24.0),))
    lost = next(s for s in said(told, sized(w5="18")) if "60 m" in s)
    amps, volts = float(lost.split(" at ")[1].split(" A")[0]), float(lost.split("A: ")[1].split(" V")[0])
    assert volts == pytest.approx(amps * 60 / FOOT / 1000 * 6.385, rel=0.06)  # amperes are told with one figure
    assert "too thin" in lost
    assert said(told, sized(w5="18"))[lost] == ("w5", False)
    fits = next(s for s in said(Told(dark=("side lamp",), lengths=(("w5", 1.0),)), sized(w5="18")) if "1 m" in s)
    assert "too thin" not in fits


def test_a_fuse_is_held_against_its_thinnest_wire_by_the_table():
    # Marine table, 105 °C insulation, outside engine spaces: 18 AWG 20 A (printed), 14 AWG 35 A.
    told = Told(dark=("side lamp",))
    small = said(told, sized(w3="18"))
    assert any("may carry 20 A" in s and ok for s, (_, ok) in small.items())
    h = sized(w3="18")
    large = tuple(replace(p, rating="30A") if p.id == "f7" else p for p in h.components)
    too_large = said(told, replace(h, components=large))
    assert any("the fuse is too large for it" in s and not ok for s, (_, ok) in too_large.items())


def test_a_load_beyond_its_fuse_is_told():
    told = Told(dark=("side lamp",), watts=(("side lamp", 300.0),))
    assert any("carries" in s and "more than it is rated" in s and not ok for s, (_, ok) in said(told).items())


def test_a_wire_whose_size_was_not_read_says_so():
    told = Told(dark=("side lamp",), lengths=(("w5", 2.0),))
    assert any("its size was not read" in s for s in said(told, c.lit_lamp()))
