"""A manual without conventions is looked at twice, once only, and says what it worked out."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest
from PIL import Image

from digitize.batch import manual_run
from digitize.batch.manual_run import RunRequest, digitize_into
from digitize.batch.state import Failed, SheetOutcome
from digitize.batch.tasks import TimedReading
from digitize.commands_show import show_conventions, show_report
from digitize.errors import CalledWrongly
from digitize.harness.place import Box
from digitize.legend.conventions import Conventions, conventions_from, load_conventions
from digitize.pipeline import SheetReading
from digitize.store.manual import Manual
from digitize.wiring.state import SheetText, SheetWiring
from fixtures.small_harness import small_facts

CODES = [f"{c}{n} {g} {m}" for n in range(1, 13) for c, g, m in (("S", 16, "RED"), ("P", 10, "BLK/RED"))]
PATTERN = "{circuit}{number}{segment?} {gauge} {colour}{/tracer?}"


class Listener:
    """Keeps all that a run tells."""

    def __init__(self) -> None:
        self.faults: list[Failed] = []
        self.notes: list[str] = []
        self.pages: list[str] = []

    def begin(self, pages: int, unchanged: int) -> None:
        """``pages`` will be read."""
        self.begun = (pages, unchanged)

    def page(self, sheet: str, seconds: float) -> None:
        """One page was read."""
        self.pages.append(sheet)

    def failed(self, failed: Failed) -> None:
        """One page could not be read."""
        self.faults.append(failed)

    def note(self, line: str) -> None:
        """Something should be known."""
        self.notes.append(line)

    def end(self) -> None:
        """All pages are done."""
        self.ended = True


def folder_of(beside: Path, *numbers: int) -> Path:
    """``beside/pages`` with a page of its own grey for each number."""
    folder = beside / "pages"
    folder.mkdir(exist_ok=True)
    for n in numbers:
        Image.new("L", (200, 150), 255 - n).save(folder / f"page_{n}.png")
    return folder


class Reader:
    """Stands in for the pool: every page prints the same codes. Notes which pages it read, with which pattern."""

    def __init__(self) -> None:
        self.asked: list[tuple[str, tuple[str, ...]]] = []
        self.broken = ""

    def __call__(self, tasks, jobs, work, on_result) -> None:
        for task in tasks:
            self.asked.append((task.sheet, task.conventions.code.pattern))
            if task.sheet == self.broken:
                on_result(SheetOutcome(task.sheet, None, Failed(task.sheet, "It broke.", "Scan it."), 0.1, 1))
                continue
            texts = tuple(SheetText(s, "code", Box(1, 1, 9, 4), 0.95) for s in CODES)
            facts = small_facts(task.sheet)
            reading = SheetReading(facts, SheetWiring(facts, (), (), (), (), (), texts), None)
            on_result(SheetOutcome(task.sheet, TimedReading(reading, (("flat", 0.1),), ("quick",)), None, 0.1, 1))


@pytest.fixture
def reader(monkeypatch: pytest.MonkeyPatch) -> Reader:
    reader = Reader()
    monkeypatch.setattr(manual_run, "run_sheets", reader)
    monkeypatch.setattr(manual_run, "stages_version", lambda: "1")
    return reader


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return folder_of(tmp_path, 1, 2)


def run(folder: Path, stated: Conventions | None = None, **more):
    listener = Listener()
    request = RunRequest((folder,), folder.parent / "m.manual", stated or Conventions(), None, 1, **more)
    return digitize_into(request, listener), listener


def used(folder: Path) -> Conventions:
    with Manual.open(folder.parent / "m.manual") as manual:
        return Conventions.model_validate_json(manual.setting("conventions") or "")


def test_pages_are_read_again_with_what_the_first_look_found(folder: Path, reader: Reader) -> None:
    summary, listener = run(folder)
    assert [p for _, p in reader.asked] == [(), (), (PATTERN,), (PATTERN,)]
    assert summary.read == ("page_1", "page_2")
    assert used(folder).code.pattern == (PATTERN,)
    assert any("digitize conventions" in note for note in listener.notes)


def test_nothing_is_looked_at_again_when_nothing_changed(folder: Path, reader: Reader) -> None:
    run(folder)
    reader.asked.clear()
    summary, _ = run(folder)
    assert reader.asked == []
    assert summary.unchanged == ("page_1", "page_2")
    run(folder, again=True)
    assert len(reader.asked) == 4


def test_a_new_page_alone_is_looked_at(folder: Path, reader: Reader) -> None:
    run(folder)
    reader.asked.clear()
    folder_of(folder.parent, 3)
    summary, _ = run(folder)
    assert reader.asked[0] == ("page_3", ())
    assert {sheet for sheet, pattern in reader.asked if not pattern} == {"page_3"}
    assert set(summary.read) | set(summary.unchanged) == {"page_1", "page_2", "page_3"}


def test_a_stated_pattern_needs_no_first_look(folder: Path, reader: Reader) -> None:
    stated = conventions_from('[code]\npattern = "{gauge} {colour}"\n')
    run(folder, stated)
    assert [p for _, p in reader.asked] == [("{gauge} {colour}",)] * 2
    assert used(folder) == stated


def test_a_page_that_breaks_is_told_once(folder: Path, reader: Reader) -> None:
    reader.broken = "page_2"
    summary, listener = run(folder)
    assert [f.sheet for f in summary.failed] == ["page_2"]
    assert [f.sheet for f in listener.faults] == ["page_2"]
    assert summary.read == ("page_1",)


def test_the_proposal_can_be_confirmed(folder: Path, reader: Reader, capsys: pytest.CaptureFixture[str]) -> None:
    run(folder)
    kept = folder / "conventions.toml"
    show_conventions(folder.parent / "m.manual", kept)
    assert load_conventions(kept).code.pattern == (PATTERN,)
    assert "nobody has confirmed it" in kept.read_text(encoding="utf-8")
    with pytest.raises(CalledWrongly, match="already"):
        show_conventions(folder.parent / "m.manual", kept)
    capsys.readouterr()
    show_report(folder.parent / "m.manual", as_json=True)
    assert json.loads(capsys.readouterr().out)["conventions_proposed"] is True
    reader.asked.clear()
    run(folder, load_conventions(kept))
    show_conventions(folder.parent / "m.manual", None)
    assert "nobody has confirmed" not in capsys.readouterr().out


def test_pages_guessed_too_large_are_looked_at_again_before_anything_is_proposed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Three pages of 4677 px with lettering 33 px high: A4 at 400 dpi, each guessed to be A2 at 200."""
    asked: list[tuple[str, float | None]] = []

    def pool(tasks, jobs, work, on_result) -> None:
        for task in tasks:
            asked.append((task.sheet, task.hints.page_width))
            dpi = 200.0 if task.hints.page_width is None else 4677 / task.hints.page_width * 25.4
            facts = replace(
                small_facts(task.sheet), width=4677 / dpi * 25.4, height=3307 / dpi * 25.4, dpi=dpi,
                dpi_stated=task.hints.page_width is not None,
            )  # fmt: skip
            texts = tuple(SheetText(s, "code", Box(1, 1, 40, 1 + 33 / dpi * 25.4), 0.95) for s in CODES)
            reading = SheetReading(facts, SheetWiring(facts, (), (), (), (), (), texts), None)
            on_result(SheetOutcome(task.sheet, TimedReading(reading, (("flat", 0.1),), ("quick",)), None, 0.1, 1))

    monkeypatch.setattr(manual_run, "run_sheets", pool)
    monkeypatch.setattr(manual_run, "stages_version", lambda: "1")
    folder = folder_of(tmp_path, 1, 2, 3)
    run(folder)
    assert used(folder).page_size_mm == (297, 210)
    assert used(folder).code.pattern == (PATTERN,)
    assert [width for _, width in asked] == [None] * 3 + [297] * 6
    with Manual.open(folder.parent / "m.manual") as manual:
        [line] = [x for x in (manual.setting("proposed") or "").splitlines() if x.startswith("page_size_mm")]
    assert "400 dpi" in line, "the proposal says why"
    asked.clear()
    run(folder)
    assert asked == [], "nothing changed"
