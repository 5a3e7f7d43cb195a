"""A page is looked at once: the second look starts from what the first one kept, and finds what a fresh one finds."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from digitize import pipeline
from digitize.batch import looked as looked_module
from digitize.batch.tasks import ReadTask, hints_for, read_task
from digitize.legend.conventions import Conventions, load_conventions
from digitize.reading.engines import Sighting
from digitize.reading.remembered import Remembering
from digitize.sheet.sources import find_scans

LEGEND = 6


def test_the_second_look_is_no_second_reading(
    demo_pages: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    scan = find_scans(demo_pages, "")[0][LEGEND - 1]
    # no size of the paper is stated, so that both looks have the same
    stated = load_conventions(demo_pages / "conventions.toml").model_copy(update={"page_size_mm": None})
    kept = tmp_path / "look"
    first = read_task(ReadTask(scan, hints_for(Conventions(), LEGEND), Conventions(), looked=str(kept)))
    assert first.reading.table is not None
    fresh = read_task(ReadTask(scan, hints_for(stated, LEGEND), stated))

    def never(*_: object) -> None:
        raise AssertionError("the page was looked at again")

    monkeypatch.setattr(pipeline, "flat_page", never)
    again = read_task(ReadTask(scan, hints_for(stated, LEGEND), stated, looked=str(kept)))
    assert again.reading.table is not None
    assert fresh.reading.table is not None
    assert again.reading.table.facts == fresh.reading.table.facts
    lines, freshly = again.reading.table.legend, fresh.reading.table.legend
    assert [(x.section, x.key.value, x.meaning.value) for x in lines] == [
        (x.section, x.key.value, x.meaning.value) for x in freshly
    ]
    # what the second reader makes of a smudge depends a little on which others it is shown with, and with it how clear
    # the page is said to be
    one, two = (
        [t for t in texts if t.probability > 0.3] for texts in (again.reading.table.texts, fresh.reading.table.texts)
    )
    assert [(t.text, t.role, t.box) for t in one] == [(t.text, t.role, t.box) for t in two]
    assert [t.probability for t in one] == pytest.approx([t.probability for t in two], abs=0.02)
    assert [x.key.probability for x in lines] == pytest.approx([x.key.probability for x in freshly], abs=0.02)
    assert next(stage for stage, _ in again.seconds) == "again"


def test_a_page_of_another_size_than_is_known_by_now_is_looked_at_again(demo_pages: Path, tmp_path: Path) -> None:
    scan = replace(find_scans(demo_pages, "")[0][LEGEND - 1], dpi=None)
    kept = tmp_path / "look"
    guessed = read_task(ReadTask(scan, hints_for(Conventions(), LEGEND), Conventions(), looked=str(kept))).reading.table
    assert guessed is not None
    half = Conventions(page_size_mm=(guessed.facts.width / 2, guessed.facts.height / 2))
    again = read_task(ReadTask(scan, hints_for(half, LEGEND), half, looked=str(kept)))
    assert again.reading.table is not None
    assert again.reading.table.facts.width == pytest.approx(guessed.facts.width / 2, rel=0.05)
    third = read_task(ReadTask(scan, hints_for(half, LEGEND), half, looked=str(kept)))
    assert next(stage for stage, _ in third.seconds) == "again", "the new look is kept in place of the old one"
    assert "flat" not in dict(third.seconds)


def test_a_full_disk_costs_time_only(demo_pages: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    scan = find_scans(demo_pages, "")[0][LEGEND - 1]

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(looked_module.Looked, "save", full)
    kept = tmp_path / "look"
    done = read_task(ReadTask(scan, hints_for(Conventions(), LEGEND), Conventions(), looked=str(kept)))
    assert done.reading.table is not None
    assert not kept.exists()


def test_a_crop_that_was_seen_is_not_asked_about_again() -> None:
    asked: list[int] = []

    class Counting:
        name = "counting-1"

        def read(self, crops):
            asked.append(len(crops))
            return [Sighting(str(c.sum()), 1.0, np.zeros((1, 2), np.float32)) for c in crops]

    one, two = np.full((2, 3), 7, np.uint8), np.full((3, 2), 7, np.uint8)
    reader = Remembering(Counting())
    assert [s.text for s in reader.read([one, one, two])] == ["42", "42", "42"]
    assert reader.read([two]) == [reader.memory[k] for k in list(reader.memory)[1:]]
    assert asked == [2]
    assert reader.name == "counting-1"
