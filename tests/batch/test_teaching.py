"""Taught at the desk: the lesson is kept as an edit, found on the other pages, and counts when pages are read again."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from digitize.batch.manual_run import key_for
from digitize.batch.tasks import hints_for
from digitize.batch.teaching import Shown, lesson_from, where_else
from digitize.errors import CalledWrongly, NotFound
from digitize.harness.edits import Anchor, ForgetSymbol, TeachSymbol
from digitize.harness.edits_teach import counting, share
from digitize.harness.place import Box
from digitize.legend.conventions import Conventions
from digitize.pipeline import look_at
from digitize.sheet.sources import find_scans
from digitize.sheet.state import Scan
from digitize.store.manual import Manual
from fixtures.small_harness import small_harness
from fixtures.small_manual import build_manual


@pytest.fixture
def manual(tmp_path: Path):
    with Manual.open(build_manual(tmp_path)) as opened:
        yield opened


def a_part() -> tuple[str, Box]:
    part = max(small_harness().components, key=lambda c: c.place.box.width * c.place.box.height)
    return part.place.sheet, part.place.box.grown(0.5)


def test_a_lesson_is_kept_with_its_picture_and_finds_its_own_example(manual: Manual):
    sheet, box = a_part()
    lesson = lesson_from(manual, Shown(sheet, box, "horn", "CALL HORN"), "hand-t1")
    change = manual.add_edit(lesson, who="tester", revision=manual.revision)
    assert [e.status for e in change.effects] == ["applied"]
    kept = counting(manual.edits())
    assert kept == (lesson,)
    found = list(where_else(manual, kept[0], [sheet]))
    assert any(s == sheet and symbol.box.overlap(box) > 0.8 * box.width * box.height for s, symbol in found)
    part = max(
        (c for c in manual.reviewed().harness.components if c.place.sheet == sheet),
        key=lambda c: c.place.box.overlap(box),
    )
    assert (part.kind, part.name.value, part.probability) == ("horn", "CALL HORN", 1.0)


def test_a_lesson_that_was_undone_or_forgotten_does_not_count(manual: Manual):
    sheet, box = a_part()
    lesson = lesson_from(manual, Shown(sheet, box, "horn"), "hand-t1")
    manual.add_edit(lesson, who="tester", revision=manual.revision)
    manual.undo()
    assert counting(manual.edits()) == ()
    manual.redo()
    assert counting(manual.edits()) == (lesson,)
    forget = ForgetSymbol(target="hand-t1", anchor=lesson.anchor)
    manual.add_edit(forget, who="tester", revision=manual.revision)
    assert counting(manual.edits()) == ()


def test_an_unknown_kind_or_sheet_is_one_clear_line(manual: Manual):
    sheet, box = a_part()
    with pytest.raises(CalledWrongly, match="no kind of symbol called teapot"):
        lesson_from(manual, Shown(sheet, box, "teapot"), "hand-t1")
    with pytest.raises(NotFound, match="no sheet page_99"):
        lesson_from(manual, Shown("page_99", box, "horn"), "hand-t1")


def test_a_lesson_makes_every_kept_result_old():
    scan = Scan("page_01", "page_01.png", 0, "ff", 300.0, "")
    lesson = TeachSymbol(
        target="hand-t1", anchor=Anchor("sheet", "page_01", (5, 5)), kind="horn", name=None, box=Box(0, 0, 10, 10)
    )
    before, after = (key_for(scan, 1, Conventions(), "1", lessons) for lessons in ((), (lesson,)))
    assert before != after


class Straight:
    def stage(self, name, work):
        return work()


def test_a_symbol_taught_on_one_page_is_found_on_another_when_that_is_read(demo_pages: Path, demo_manual: Path):
    """The real thing: a sensor boxed on the first page of the demo manual makes those of the second page taught ones."""
    with Manual.open(demo_manual) as manual:
        parts = [c for c in manual.harness().components if c.kind == "sensor"]
        sheets = sorted({c.place.sheet for c in parts})
        assert len(sheets) >= 2
        home = next(c for c in parts if c.place.sheet == sheets[0])
        there = [c.place.box for c in parts if c.place.sheet == sheets[1]]
        lesson = lesson_from(manual, Shown(sheets[0], home.place.box.grown(0.2), "horn"), "hand-t1")
        number = next(r.number for r in manual.sheets() if r.id == sheets[1])
    scan = next(s for s in find_scans(demo_pages, "")[0] if s.sheet == sheets[1])
    hints = replace(hints_for(Conventions(), number), lessons=(lesson,))
    marks = look_at(scan, hints, Straight())
    taught = [s for s in marks.symbols if s.taught == "hand-t1"]
    assert taught
    assert all(s.kind == "horn" for s in taught)
    assert all(any(share(s.box, box) > 0.4 for box in there) for s in taught)
