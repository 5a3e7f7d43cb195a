"""Taught at the desk: the lesson is kept as an edit, found on the other pages, and counts when pages are read again."""

from __future__ import annotations

from pathlib import Path

import pytest

from digitize.batch.teaching import Shown, lesson_from, where_else
from digitize.errors import CalledWrongly, NotFound
from digitize.harness.edits import ForgetSymbol
from digitize.harness.edits_teach import counting
from digitize.harness.place import Box
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
