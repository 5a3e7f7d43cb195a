"""A folder into one manual file: what is read, what is kept, what is told. Pages are read by a quick stand-in."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest
from PIL import Image

from digitize.batch import manual_run
from digitize.batch.manual_run import RunRequest, RunSummary, digitize_into, page_numbers
from digitize.batch.state import Failed, SheetOutcome
from digitize.batch.tasks import ReadTask, TimedReading, hints_for
from digitize.commands_show import show_conventions, show_report
from digitize.errors import CalledWrongly, NotFound, NothingToRead, PageUnreadable
from digitize.harness.edits import AddPart
from digitize.harness.edits_anchor import Anchor
from digitize.harness.model import NO_RIGHTS_NOTE
from digitize.harness.place import Box
from digitize.legend.conventions import Conventions, conventions_from, load_conventions
from digitize.pipeline import SheetReading
from digitize.reading.lettering import WEIGHTS
from digitize.reading.readers import NO_GENERAL_NETWORK, NO_TESSERACT, probe_readers
from digitize.sheet.sources import SourceFailure
from digitize.sheet.state import Scan
from digitize.store.manual import Manual
from digitize.wiring.state import SheetWiring
from fixtures.small_harness import small_facts


class Listener:
    def __init__(self) -> None:
        self.faults: list[Failed] = []
        self.notes: list[str] = []
        self.pages: list[str] = []

    def begin(self, pages: int, unchanged: int) -> None:
        self.begun = (pages, unchanged)

    def page(self, sheet: str, seconds: float) -> None:
        self.pages.append(sheet)

    def failed(self, failed: Failed) -> None:
        self.faults.append(failed)

    def note(self, line: str) -> None:
        self.notes.append(line)

    def end(self) -> None:
        self.ended = True


@pytest.fixture(autouse=True)
def _quick_reader(monkeypatch: pytest.MonkeyPatch) -> None:
    """Pages in whose name ``bad`` stands fail; all others are empty diagrams."""

    def run_sheets(tasks, jobs, work, on_result) -> None:
        for task in reversed(tasks):  # the last ends first: order must not matter
            if "bad" in task.sheet:
                on_result(
                    SheetOutcome(task.sheet, None, Failed(task.sheet, f"{task.sheet} broke.", "Scan it."), 0.1, 1)
                )
                continue
            facts = replace(small_facts(task.sheet), frame=None)
            reading = SheetReading(facts, SheetWiring(facts, (), (), (), (), (), ()), None)
            on_result(SheetOutcome(task.sheet, TimedReading(reading, (("flat", 0.1),), ("quick",)), None, 0.1, 1))

    monkeypatch.setattr(manual_run, "run_sheets", run_sheets)
    monkeypatch.setattr(manual_run, "stages_version", lambda: "1")


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    pages = tmp_path / "pages"
    pages.mkdir()
    for n in (1, 2, 10):
        add_page(pages, f"page_{n}.png", n)
    return pages


def add_page(folder: Path, name: str, shade: int) -> None:
    Image.new("L", (200, 150), 255 - shade).save(folder / name)


def run(folder: Path, listener: Listener | None = None, **more: object) -> RunSummary:
    request = RunRequest((folder,), folder.parent / "m.manual", Conventions(), None, 1)
    return digitize_into(replace(request, **more), listener or Listener())


def test_pages_go_in_by_their_natural_order(folder: Path) -> None:
    summary = run(folder)
    assert summary.read == ("page_1", "page_2", "page_10")
    with Manual.open(folder.parent / "m.manual") as manual:
        assert [(r.number, r.id) for r in manual.sheets()] == [(1, "page_1"), (2, "page_2"), (3, "page_10")]
        assert [s.id for s in manual.harness().sheets] == ["page_1", "page_2", "page_10"]


def test_only_what_is_new_or_changed_is_read_again(folder: Path) -> None:
    run(folder)
    assert run(folder).unchanged == ("page_1", "page_2", "page_10")
    add_page(folder, "page_2.png", 77)
    add_page(folder, "page_3.png", 3)
    summary = run(folder)
    assert (summary.read, summary.unchanged) == (("page_2", "page_3"), ("page_1", "page_10"))
    assert run(folder, again=True).unchanged == ()


def test_other_conventions_or_other_code_make_results_old(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    run(folder)
    stated = conventions_from('[colours]\nRD = "red"\n')
    assert len(run(folder, conventions=stated).read) == 3
    named = conventions_from('vehicle = "VAN"\n[colours]\nRD = "red"\n')
    assert run(folder, conventions=named).read == (), "the vehicle's name changes nothing that is read"
    monkeypatch.setattr(manual_run, "stages_version", lambda: "2")
    assert len(run(folder, conventions=named).read) == 3


def test_a_bad_page_is_told_and_tried_again(folder: Path) -> None:
    add_page(folder, "page_5_bad.png", 5)
    (folder / "page_4.png").write_text("no picture", encoding="utf-8")
    listener = Listener()
    summary = run(folder, listener)
    assert {f.sheet for f in summary.failed} == {"page_4", "page_5_bad"} == {f.sheet for f in listener.faults}
    assert run(folder).unchanged == ("page_1", "page_2", "page_10")
    with Manual.open(folder.parent / "m.manual") as manual:
        numbers = {r.id: r.number for r in manual.sheets()}
        assert numbers["page_5_bad"] == 3
        assert "page_4" in (manual.setting("unread") or "")


def test_nothing_is_left_behind_when_no_page_could_be_read(tmp_path: Path) -> None:
    pages = tmp_path / "pages"
    pages.mkdir()
    add_page(pages, "bad.png", 1)
    with pytest.raises(NothingToRead):
        run(pages)
    assert not (tmp_path / "m.manual").exists()


def test_pages_that_are_missing_later_are_kept_and_named(folder: Path) -> None:
    run(folder)
    (folder / "page_2.png").unlink()
    assert run(folder).left_over == ("page_2",)
    with Manual.open(folder.parent / "m.manual") as manual:
        assert {r.id for r in manual.sheets()} == {"page_1", "page_2", "page_10"}


def test_a_page_that_is_gone_can_be_taken_out_and_its_edits_wait(folder: Path) -> None:
    run(folder)
    page = (folder / "page_2.png").read_bytes()
    (folder / "page_2.png").unlink()
    box = Box(10, 10, 20, 20)
    with Manual.open(folder.parent / "m.manual") as manual:
        add = AddPart(target="lamp", anchor=Anchor("component", "page_2", (15, 15)), kind="lamp", name="LAMP", box=box)
        manual.add_edit(add, who="tester", revision=manual.revision)
    summary = run(folder, drop=("page_2",))
    assert (summary.dropped, summary.left_over) == (("page_2",), ())
    with Manual.open(folder.parent / "m.manual") as manual:
        assert [(r.number, r.id) for r in manual.sheets()] == [(1, "page_1"), (2, "page_10")]
        assert [s.id for s in manual.harness().sheets] == ["page_1", "page_10"]
        after = manual.reviewed()
        assert after.harness.components == ()
        assert [e.status for _, e in after.orphans] == ["orphaned"]
    (folder / "page_2.png").write_bytes(page)
    run(folder)
    with Manual.open(folder.parent / "m.manual") as manual:
        assert [c.id for c in manual.reviewed().harness.components] == ["lamp"]


def test_only_a_sheet_of_the_manual_whose_page_is_gone_can_be_taken_out(folder: Path, tmp_path: Path) -> None:
    with pytest.raises(NotFound, match="new manual"):
        run(folder, drop=("page_2",))
    assert not (tmp_path / "m.manual").exists()
    run(folder)
    with pytest.raises(NotFound, match="no sheet page_3"):
        run(folder, drop=("page_3",))
    with pytest.raises(CalledWrongly, match="among the pages given"):
        run(folder, drop=("page_2",))
    with Manual.open(tmp_path / "m.manual") as manual:
        assert [r.id for r in manual.sheets()] == ["page_1", "page_2", "page_10"]


def test_pages_keep_their_numbers_when_one_before_them_is_gone_from_the_folder(folder: Path) -> None:
    run(folder)
    (folder / "page_1.png").unlink()
    add_page(folder, "page_3.png", 9)
    assert run(folder).unchanged == ("page_2", "page_10")
    with Manual.open(folder.parent / "m.manual") as manual:
        assert {r.id: r.number for r in manual.sheets()} == {"page_1": 1, "page_2": 2, "page_3": 3, "page_10": 4}


def test_pages_of_another_folder_go_before_those_that_the_manual_had(folder: Path) -> None:
    run(folder)
    other = folder.parent / "other"
    other.mkdir()
    add_page(other, "leaf_1.png", 7)
    run(other, into=folder.parent / "m.manual")
    with Manual.open(folder.parent / "m.manual") as manual:
        assert next(r.number for r in manual.sheets() if r.id == "leaf_1") == 1


def test_the_same_picture_twice_is_told(folder: Path) -> None:
    (folder / "page_11.png").write_bytes((folder / "page_10.png").read_bytes())
    listener = Listener()
    run(folder, listener)
    (line,) = (n for n in listener.notes if "same picture" in n)
    assert line.startswith("page_11 is the same picture as page_10")
    assert "--drop page_11 or --drop page_10" in line, "either may be the one that goes"


def test_without_a_rights_note_the_manual_says_so(folder: Path) -> None:
    run(folder)
    with Manual.open(folder.parent / "m.manual") as manual:
        assert manual.rights == NO_RIGHTS_NOTE
        assert manual.harness().rights == NO_RIGHTS_NOTE


def test_a_note_given_by_hand_is_not_replaced_by_one_that_the_conventions_held_all_along(folder: Path) -> None:
    stated = Conventions(rights="from the file")
    run(folder, rights="lent by a friend", conventions=stated)
    run(folder, conventions=stated)
    with Manual.open(folder.parent / "m.manual") as manual:
        assert manual.harness().rights == "lent by a friend"
    run(folder, conventions=Conventions(rights="another one"))
    with Manual.open(folder.parent / "m.manual") as manual:
        assert manual.rights == manual.harness().rights == "another one"


def test_the_conventions_that_are_written_out_carry_the_note_given_by_hand(folder: Path) -> None:
    run(folder, rights="lent by a friend", conventions=Conventions(vehicle="Wagon"))
    kept = folder.parent / "conventions.toml"
    show_conventions(folder.parent / "m.manual", kept)
    assert load_conventions(kept).rights == "lent by a friend"
    assert load_conventions(kept).vehicle == "Wagon"


def test_the_report_names_the_readers_and_always_ends_with_a_rights_note(folder: Path, capsys) -> None:
    run(folder)
    capsys.readouterr()
    show_report(folder.parent / "m.manual", as_json=False)
    lines = capsys.readouterr().out.splitlines()
    assert lines[-1] == f"Rights: {NO_RIGHTS_NOTE}"
    assert lines[-2].startswith(f"Lettering was read by: {WEIGHTS.stem}")


def test_a_manual_that_was_never_put_together_says_how_far_it_got(folder: Path) -> None:
    with (
        Manual.create(folder.parent / "new.manual", "") as manual,
        pytest.raises(NotFound, match="no page is read yet") as told,
    ):
        manual.harness()
    assert "the same command goes on" in told.value.advice


def test_what_is_kept_of_the_work_carries_the_rights_note(folder: Path) -> None:
    run(folder, rights="own copy", work_folder=folder.parent / "m.work")
    assert (folder.parent / "m.work" / "RIGHTS.txt").read_text() == "own copy\n"


def test_a_folder_for_the_work_that_cannot_be_made_is_told_before_anything_is_begun(folder: Path) -> None:
    (folder.parent / "m.work").write_text("a file")
    with pytest.raises(CalledWrongly, match="for --keep-work cannot be made"):
        run(folder, work_folder=folder.parent / "m.work")
    assert not (folder.parent / "m.manual").exists()


@pytest.mark.parametrize(("missing", "told"), [((NO_TESSERACT,), 1), ((NO_GENERAL_NETWORK,), 0)])
def test_a_reader_that_is_missing_is_told_when_a_run_begins(
    folder: Path, monkeypatch: pytest.MonkeyPatch, missing: tuple[str, ...], told: int
) -> None:
    found = replace(probe_readers(), second=None, notes=missing)
    monkeypatch.setattr(manual_run, "probe_readers", lambda: found)
    listener = Listener()
    run(folder, listener)
    assert sum(n in missing for n in listener.notes) == told
    with Manual.open(folder.parent / "m.manual") as manual:
        assert json.loads(manual.setting("readers") or "") == list(found.names)


def test_the_rights_note_stays_until_another_is_given(folder: Path) -> None:
    run(folder, rights="own copy")
    run(folder)
    with Manual.open(folder.parent / "m.manual") as manual:
        assert manual.rights == "own copy"
        assert manual.harness().rights == "own copy"
    run(folder, rights="lent")
    with Manual.open(folder.parent / "m.manual") as manual:
        assert manual.harness().rights == "lent"


def test_a_page_with_next_to_nothing_on_it_is_told(folder: Path) -> None:
    listener = Listener()
    run(folder, listener)
    assert len(listener.notes) == 3
    assert all("next to nothing" in note for note in listener.notes)


def test_page_numbers_count_the_pages_that_could_not_be_opened() -> None:
    scans = [Scan(f"p{n}", f"in/p{n}.png", 0, "", None, "") for n in (1, 3)]
    scans += [Scan(f"q-p00{n}", "in/q.tif", n - 1, "", None, "") for n in (1, 2)]
    broken = [SourceFailure("in/p2.png", 0, PageUnreadable("", ""))]
    assert page_numbers([Path("in")], scans, broken) == {"p1": 1, "p3": 3, "q-p001": 4, "q-p002": 5}


def test_hints_say_what_the_conventions_say_about_that_page() -> None:
    stated = conventions_from(
        'page_size_mm = [420, 297]\n[zones]\nacross = "numbers"\ndown = "letters"\ncolumns = 8\nrows = 6\nskipped = "IO"\n'
        '[[pages]]\npage = 1\nkind = "diagram"\n[[pages]]\npage = 2\nkind = "chart"\n[[pages]]\npage = 3\nkind = "diagram"\n'
    )
    third = hints_for(stated, 3)
    assert (third.page_width, third.kind, third.diagram_number, third.letters_skipped) == (
        420,
        "diagram",
        2,
        ("I", "O"),
    )
    assert (hints_for(stated, 2).kind, hints_for(stated, 2).diagram_number) == ("chart", None)
    assert hints_for(Conventions(), 1) == hints_for(Conventions(), 2), "nothing stated, nothing known"


def test_a_task_crosses_to_another_process() -> None:
    import pickle

    scan = Scan("p1", "p1.png", 0, "", None, "")
    task = ReadTask(scan, hints_for(Conventions(), 1), conventions_from('[colours]\nRD = "red"\n'))
    assert pickle.loads(pickle.dumps(task)) == task
    assert len(pickle.dumps(task)) < 20_000
