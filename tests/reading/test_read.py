"""From marks to read marks: turned blocks, ovals, grammars, missing engines."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytesseract
import pytest

from digitize import pipeline
from digitize.errors import PartMissing
from digitize.harness.place import Box
from digitize.ink.state import Marks
from digitize.legend.automata import automaton
from digitize.legend.conventions import CodeConventions, Conventions
from digitize.legend.shapes import DIGITS, Stretch, Words, literal, optional, sequence
from digitize.reading import read as read_module
from digitize.reading import readers as readers_module
from digitize.reading.crops import MARGIN, cut, cut_all
from digitize.reading.lettering import Lettering
from digitize.reading.read import read_crops, read_marks
from digitize.reading.readers import NO_NETWORK, NO_TESSERACT, Readers, probe_readers
from digitize.reading.tesseract import Tesseract
from digitize.reading.weigh import Verdict, weighed
from digitize.sheet.state import PX_PER_MM, SheetHints

GRAMMARS = {
    "code": automaton(
        sequence(
            Stretch("ABCDEFGH", 1, 1), Stretch(DIGITS, 1, 2), literal(" "), Words(("14", "16", "18")), literal(" "), Words(("RED", "BLK"))
        )
    ),
    "connector": automaton(sequence(Words(("C", "H")), Stretch(DIGITS, 1, 3))),
    "number": automaton(sequence(Stretch(DIGITS, 1, 3), optional(literal("A")))),
}  # fmt: skip


@pytest.fixture(scope="module")
def readers() -> Readers:
    return replace(probe_readers(), second=None)


@pytest.mark.parametrize("pattern", [(), ("{circuit}{number} {gauge} {colour}",)])
def test_whether_a_manual_says_how_its_codes_are_made_reaches_every_choice(
    make_marks: Callable[..., Marks], readers: Readers, monkeypatch: pytest.MonkeyPatch, pattern: tuple[str, ...]
) -> None:
    told: list[bool] = []

    def watched(*given: Any, loose: bool = False) -> Verdict:
        told.append(loose)
        return weighed(*given, loose=loose)

    monkeypatch.setattr(read_module, "weighed", watched)
    for stage in ("zoned", "kind_of"):
        monkeypatch.setattr(pipeline, stage, lambda read, _: read)
    monkeypatch.setattr(pipeline, "understand", lambda read, _: SimpleNamespace(facts=None, texts=read.texts))
    marks = make_marks(("A12 18 RED", 5, 5, 0, False), ("HORN", 5, 40, 0, False))
    marks = replace(marks, sheet=replace(marks.sheet, facts=replace(marks.sheet.facts, kind="diagram")))
    stated = Conventions(code=CodeConventions(pattern=pattern))
    watch = SimpleNamespace(stage=lambda _, work: work())
    pipeline.say_what(marks, SheetHints(), stated, readers, watch)
    assert set(told) == {not pattern}


def test_lettering_is_read_in_four_directions(make_marks: Callable[..., Marks], readers: Readers) -> None:
    marks = make_marks(
        ("A12 18 RED", 5, 5, 0, False),
        ("B7 14 BLK", 60, 10, 90, False),
        ("HORN", 5, 40, 180, False),
        ("C101", 90, 30, 270, False),
    )
    read = read_marks(marks, GRAMMARS, readers)
    assert [(t.text, t.kind) for t in read.texts] == [
        ("A12 18 RED", "code"),
        ("B7 14 BLK", "code"),
        ("HORN", "word"),
        ("C101", "connector"),
    ]
    assert [t.block for t in read.texts] == [0, 1, 2, 3]
    assert all(t.probability > 0.8 for t in read.texts)
    assert all(t.readers == (readers.first.name,) for t in read.texts)


def test_every_kind_has_its_own_ranked_readings(make_marks: Callable[..., Marks], readers: Readers) -> None:
    read = read_marks(make_marks(("C101", 10, 10, 0, False)), GRAMMARS, readers).texts[0]
    assert read.of_kind("connector")[0].text == "C101"
    assert sum(a.probability for a in read.of_kind("code")) < 0.05
    assert read.of_kind("zone") == ()
    assert read.free[0].text == "C101"
    for _, ranked in read.by_kind:
        assert sum(a.probability for a in ranked) <= 1 + 1e-6


def test_short_ids_in_ovals_are_read(make_marks: Callable[..., Marks], readers: Readers) -> None:
    ids = ("C4", "H20", "C101", "H7", "C33", "H115")
    marks = make_marks(*((text, 8 + 35 * (i % 3), 8 + 20 * (i // 3), 0, True) for i, text in enumerate(ids)))
    assert [t.text for t in read_marks(marks, GRAMMARS, readers).texts] == list(ids)


def test_the_oval_is_painted_out_and_the_letters_are_not(make_marks: Callable[..., Marks]) -> None:
    marks = make_marks(("H20", 20, 20, 0, True))
    bare = replace(marks, ovals=())
    with_ring, without = cut_all(bare)[0], cut_all(marks)[0]
    plain = cut_all(make_marks(("H20", 20, 20, 0, False)))[0]
    assert (with_ring < 128).sum() > (plain < 128).sum()
    assert abs(int((without < 128).sum()) - int((plain < 128).sum())) <= 0.02 * (plain < 128).sum()


def test_a_lone_dash_is_cut_with_the_room_of_a_capital(make_marks: Callable[..., Marks], readers: Readers) -> None:
    marks = make_marks(("-", 20, 20, 0, False), ("+", 40, 20, 0, False), ("4", 60, 20, 0, False))
    assert cut_all(marks)[0].shape[0] >= 1.6 * PX_PER_MM
    assert [t.text for t in read_marks(marks, GRAMMARS, readers).texts] == ["-", "+", "4"]


def test_a_block_at_the_edge_of_the_sheet_is_cut_with_paper_beyond() -> None:
    grey = np.full((60, 60), 255, np.uint8)
    crop = cut(grey, Box(-1.0, -1.0, 3.0, 1.5), 0)
    assert abs(crop.shape[0] - 2.5 * (1 + 2 * MARGIN) * PX_PER_MM) <= 1
    assert abs(crop.shape[1] - (4 + 2 * 2.5 * MARGIN) * PX_PER_MM) <= 1
    assert (crop == 255).all()


def test_a_sign_that_the_finder_doubts_is_believed_less(make_marks: Callable[..., Marks], readers: Readers) -> None:
    marks = make_marks(("1", 20, 20, 0, False), ("1", 60, 20, 0, False))
    sure, doubtful = (replace(t, probability=p) for t, p in zip(marks.texts, (0.95, 0.25), strict=True))
    read = read_marks(replace(marks, texts=(sure, doubtful)), GRAMMARS, readers).texts
    assert [t.text for t in read] == ["1", "1"]
    assert read[0].probability > 0.9
    assert 1 - read[1].probability > 2 * (1 - read[0].probability)


def test_no_texts_no_readings(make_marks: Callable[..., Marks], readers: Readers) -> None:
    assert read_marks(make_marks(), GRAMMARS, readers).texts == ()
    assert read_crops([], GRAMMARS, readers) == []


def test_both_readers_stand_in_the_provenance_of_what_both_saw(make_marks: Callable[..., Marks]) -> None:
    both = probe_readers()
    if both.second is None:
        pytest.skip("tesseract is not installed")
    smeared = cut_all(make_marks(("LINK", 20, 20, 0, False), size=24))[0]
    noise = np.random.default_rng(2).normal(0, 90, smeared.shape)
    read = read_crops([np.clip(smeared + noise, 0, 255).astype(np.uint8)], {}, both)[0]
    assert both.first.read([np.clip(smeared + noise, 0, 255).astype(np.uint8)])[0].probability < 0.8, "it is not sure"
    assert read.readers == both.names
    assert both.names[1].startswith("tesseract-")


def test_without_tesseract_the_network_reads_and_says_so(
    monkeypatch: pytest.MonkeyPatch, make_marks: Callable[..., Marks]
) -> None:
    monkeypatch.setattr(pytesseract.pytesseract, "tesseract_cmd", "/nowhere/tesseract")
    readers = probe_readers()
    assert readers.second is None
    assert readers.notes[0] == NO_TESSERACT
    assert isinstance(readers.first, Lettering)
    assert read_marks(make_marks(("HORN", 10, 10, 0, False)), {}, readers).texts[0].text == "HORN"


def test_without_weights_tesseract_reads_and_says_so(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, make_marks: Callable[..., Marks]
) -> None:
    if probe_readers().second is None:
        pytest.skip("tesseract is not installed")
    monkeypatch.setattr(readers_module, "WEIGHTS", tmp_path / "none.onnx")
    readers = probe_readers()
    assert isinstance(readers.first, Tesseract)
    assert readers.notes == (NO_NETWORK,)
    assert [
        t.text
        for t in read_marks(
            make_marks(("HORN RELAY", 10, 10, 0, False), ("STOP LAMP", 10, 30, 0, False)), {}, readers
        ).texts
    ] == ["HORN RELAY", "STOP LAMP"]


def test_without_any_reader_the_run_ends_with_advice(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr(readers_module, "WEIGHTS", tmp_path / "none.onnx")
    monkeypatch.setattr(pytesseract.pytesseract, "tesseract_cmd", "/nowhere/tesseract")
    with pytest.raises(PartMissing, match="install"):
        probe_readers()
