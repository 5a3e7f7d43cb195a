"""What a question means: names may be slips of the keys, figures may not; of several things one is told from the other."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from digitize.commands_ask import show_trace
from digitize.errors import CalledWrongly, NotFound
from digitize.harness.claim import Claim
from digitize.harness.model import DrawnGrommet, Grommet, Harness
from digitize.store.manual import Manual
from digitize.trace.advice import Told, advise
from digitize.trace.follow import Circuits, trace
from digitize.trace.network import Positions
from digitize.trace.told import trace_as_text

from . import circuits as c


@pytest.mark.parametrize("asked", ["fuse 77", "fuse 8", "L2C 18 BLU", "K15", "L2A 19 BLU", "E99 18 BLK"])
def test_another_figure_or_letter_of_a_code_is_another_thing_and_no_slip(asked: str) -> None:
    with pytest.raises(NotFound, match="Nothing in the manual is called") as told:
        trace(c.lit_lamp(), asked)
    assert told.value.exit_code == 7
    assert told.value.advice.startswith("Nearest: ")


@pytest.mark.parametrize(("asked", "name"), [("side lanp", "SIDE LAMP"), ("lamp swich", "LAMP SWITCH")])
def test_a_slip_in_a_word_without_figures_is_forgiven_and_told(asked: str, name: str) -> None:
    t = trace(c.lit_lamp(), asked)
    assert t.start is not None
    assert t.start.name == name
    assert any("taken for" in n for n in t.notes)


def two_side_lamps() -> Harness:
    h = c.lit_lamp()
    lamp = next(part for part in h.components if part.name.value == "SIDE LAMP")
    return replace(h, components=(*h.components, replace(lamp, id="twin", place=c.place("p2", "B2"))))


@pytest.fixture
def manual(tmp_path: Path) -> Path:
    with Manual.create(tmp_path / "m.manual", "my own copy") as made:
        made.save_harness(two_side_lamps())
    return tmp_path / "m.manual"


def test_no_sheet_is_written_of_what_may_mean_several_things(manual: Path) -> None:
    sheet = manual.with_name("way.html")
    with pytest.raises(CalledWrongly, match="may mean 2 things") as told:
        show_trace(manual, "side lamp", as_json=False, sheet=sheet)
    assert "twin (SIDE LAMP, page WD-2, zone B2)" in told.value.advice
    assert not sheet.exists()


def test_json_is_printed_beside_a_sheet_too(manual: Path, capsys: pytest.CaptureFixture[str]) -> None:
    sheet = manual.with_name("way.html")
    show_trace(manual, "plate lamp", as_json=True, sheet=sheet)
    said = capsys.readouterr()
    assert sheet.exists()
    assert said.out.startswith("{")
    assert str(sheet) in said.err


def test_the_fault_command_tells_several_things_apart_by_name_and_place() -> None:
    with pytest.raises(CalledWrongly, match="may mean 2 things") as told:
        advise(Circuits(two_side_lamps()), Told(dark=["side lamp"]), Positions())
    assert "lamp (SIDE LAMP, page WD-1, zone C5), twin (SIDE LAMP, page WD-2, zone B2)" in told.value.advice


def test_the_two_sides_of_a_connector_are_told_apart_by_their_wires() -> None:
    with pytest.raises(CalledWrongly, match="has 2 points") as told:
        advise(Circuits(c.lit_lamp()), Told(volts=[("K14 A", 12.0)]), Positions())
    assert "k@1.a1 (L2A 18 BLU), k@1.b1 (L2A 18 GRN)" in told.value.advice


@pytest.mark.parametrize(("sure", "marked"), [(0.22, True), (0.95, False)])
def test_a_grommet_whose_name_was_hardly_read_is_marked_on_the_way(sure: float, marked: bool) -> None:
    h = c.lit_lamp()
    through = tuple(replace(w, grommets=("g1",)) if w.id == "w4" else w for w in h.wires)
    grommet = Grommet("g1", Claim("GX4", sure), (DrawnGrommet("g@1", c.place(), 0.9),))
    text = trace_as_text(trace(replace(h, wires=through, grommets=(grommet,)), "side lamp"))
    assert "passes grommet GX4" in text
    assert ("the name of grommet GX4 was read with 22% certainty" in text) is marked
