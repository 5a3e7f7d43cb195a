"""What the desk has done to a manual: pages added behind those it has, all of it decoded again; edits always stay."""

from __future__ import annotations

import os
import shutil
from dataclasses import replace
from pathlib import Path

import pytest
from PIL import Image

from digitize.batch import desk_runs
from digitize.batch.at_desk import corrected_at_desk, note_base, used_conventions, wanted_conventions
from digitize.batch.desk_runs import add_pages, decode_again
from digitize.batch.looks import keep_look, look_file, looks_folder, make_room
from digitize.batch.manual_run import RunRequest, digitize_into
from digitize.batch.state import Failed, SheetOutcome
from digitize.batch.tasks import ReadTask, TimedReading
from digitize.harness.edits import Anchor, SetCode, SetConventions
from digitize.legend.conventions import Conventions, conventions_from, load_conventions
from digitize.legend.conventions_text import conventions_text
from digitize.pipeline import SheetReading
from digitize.sheet.state import Scan, SheetHints
from digitize.store.manual import Manual
from digitize.wiring.state import SheetWiring
from fixtures.small_harness import small_facts
from fixtures.small_manual import CONVENTIONS, build_manual

from .test_manual_run import Listener

OTHER = conventions_from('vehicle = "MARLOW 9 (invented)"\n[code]\npattern = "{circuit}{number} {gauge} {colour}"\n')


@pytest.fixture
def tasks(monkeypatch: pytest.MonkeyPatch) -> list[ReadTask]:
    """A quick stand-in reads: every page is an empty diagram, but those with ``bad`` in their names. Gives what it got."""
    seen: list[ReadTask] = []

    def run_sheets(given, jobs, work, on_result) -> None:
        for task in given:
            seen.append(task)
            if "bad" in task.sheet:
                on_result(SheetOutcome(task.sheet, None, Failed(task.sheet, "broke.", "Scan it."), 0.1, 1))
                continue
            facts = replace(small_facts(task.sheet), frame=None)
            reading = SheetReading(facts, SheetWiring(facts, (), (), (), (), (), ()), None)
            on_result(SheetOutcome(task.sheet, TimedReading(reading, (("flat", 0.1),), ("quick",)), None, 0.1, 1))

    monkeypatch.setattr(desk_runs, "run_sheets", run_sheets)
    return seen


def picture(folder: Path, name: str, shade: int = 200) -> Path:
    path = folder / name
    Image.new("L", (100, 80), shade).save(path)
    return path


def corrected(manual: Manual, text: str) -> None:
    note_base(manual)
    edit = SetConventions(target="conventions", anchor=Anchor("sheet", "", (0.0, 0.0)), text=text)
    manual.add_edit(edit, who="me", revision=manual.revision)


def test_added_pages_come_behind_and_the_others_are_left_alone(tmp_path: Path, tasks: list[ReadTask]):
    path = build_manual(tmp_path)
    hear = Listener()
    add_pages(path, [picture(tmp_path, "page_09.png"), picture(tmp_path, "page_10.png", 190)], 1, hear)
    with Manual.open(path) as manual:
        assert [(r.id, r.number) for r in manual.sheets()] == [
            ("page_01", 1), ("page_02", 2), ("page_09", 3), ("page_10", 4),
        ]  # fmt: skip
        assert used_conventions(manual) == CONVENTIONS
    assert [t.sheet for t in tasks] == ["page_09", "page_10"]
    assert all(t.conventions == CONVENTIONS for t in tasks)
    assert hear.begun == (2, 0)


def test_a_page_that_is_there_is_passed_over_and_its_name_is_not_taken_by_another(
    tmp_path: Path, tasks: list[ReadTask]
):
    path = build_manual(tmp_path)
    other = tmp_path / "other"
    other.mkdir()
    hear = Listener()
    add_pages(path, [tmp_path / "page_01.png", picture(other, "page_02.png")], 1, hear)
    assert tasks == []
    assert [f.what for f in hear.faults] == ["page_02.png: the manual has another page under this name."]
    with Manual.open(path) as manual:
        assert len(manual.sheets()) == 2
        assert manual.harness().wires


JOINED = """vehicle = "MARLOW 9 (invented)"
[code]
pattern = "{circuit}{number} {gauge} {colour}"
[[joined]]
sheet = "fold_out"
parts = ["scan_8.png", "scan_7.png"]
"""


def test_parts_that_the_conventions_state_are_added_as_one_sheet(tmp_path: Path, tasks: list[ReadTask]):
    path = build_manual(tmp_path)
    with Manual.open(path) as manual:
        corrected(manual, JOINED)
    hear = Listener()
    files = [
        picture(tmp_path, "scan_7.png"),
        picture(tmp_path, "scan_8.png", 190),
        picture(tmp_path, "page_09.png", 180),
    ]
    add_pages(path, files, 1, hear)
    assert [t.sheet for t in tasks] == ["fold_out", "page_09"]
    assert [Path(p).name for p in tasks[0].scan.parts] == ["scan_8.png", "scan_7.png"]
    with Manual.open(path) as manual:
        assert [r.id for r in manual.sheets()] == ["page_01", "page_02", "fold_out", "page_09"]
    add_pages(path, [picture(tmp_path, "page_10.png", 170)], 1, hear)  # no word of parts that did not come this time
    assert hear.faults == []


def test_a_stated_part_that_did_not_come_is_told_and_the_other_is_a_page(tmp_path: Path, tasks: list[ReadTask]):
    path = build_manual(tmp_path)
    with Manual.open(path) as manual:
        corrected(manual, JOINED)
    hear = Listener()
    add_pages(path, [picture(tmp_path, "scan_7.png")], 1, hear)
    assert [t.sheet for t in tasks] == ["scan_7"]
    assert ["scan_8.png" in f.what for f in hear.faults] == [True]


def test_parts_that_stand_as_pages_are_told_when_the_conventions_join_them(tmp_path: Path, tasks: list[ReadTask]):
    path = build_manual(tmp_path)
    add_pages(path, [picture(tmp_path, "scan_7.png"), picture(tmp_path, "scan_8.png", 190)], 1, Listener())
    with Manual.open(path) as manual:
        corrected(manual, JOINED)
    hear = Listener()
    decode_again(path, 1, hear)
    assert any("fold_out: scan_8.png, scan_7.png stand in this manual" in line for line in hear.notes)


def test_bad_files_get_one_line_each_and_the_others_are_read(tmp_path: Path, tasks: list[ReadTask]):
    path = build_manual(tmp_path)
    junk = tmp_path / "junk.png"
    junk.write_bytes(b"no picture")
    hear = Listener()
    add_pages(path, [junk, picture(tmp_path, "bad_one.png"), picture(tmp_path, "good.png")], 1, hear)
    assert [f.sheet for f in hear.faults] == ["junk", "bad_one"]
    with Manual.open(path) as manual:
        assert {r.id: r.failed is None for r in manual.sheets()} == {
            "page_01": True, "page_02": True, "bad_one": False, "good": True,
        }  # fmt: skip


def test_the_first_pages_of_an_empty_manual_are_looked_at_for_their_conventions(tmp_path: Path, tasks: list[ReadTask]):
    path = tmp_path / "new.manual"
    Manual.create(path, "mine").close()
    add_pages(path, [picture(tmp_path, "a.png"), picture(tmp_path, "b.png", 190)], 1, Listener())
    with Manual.open(path) as manual:
        assert manual.has_harness
        assert [r.id for r in manual.sheets()] == ["a", "b"]
        assert manual.setting("conventions_stated") == Conventions().model_dump_json()


def test_nothing_readable_leaves_an_empty_manual_empty(tmp_path: Path, tasks: list[ReadTask]):
    path = tmp_path / "new.manual"
    Manual.create(path, "mine").close()
    hear = Listener()
    add_pages(path, [picture(tmp_path, "bad.png")], 1, hear)
    assert [f.sheet for f in hear.faults] == ["bad"]
    with Manual.open(path) as manual:
        assert not manual.has_harness


def test_a_correction_decodes_every_page_the_open_one_first_and_keeps_edits(tmp_path: Path, tasks: list[ReadTask]):
    path = build_manual(tmp_path)
    with Manual.open(path) as manual:
        wire = SetCode(target="w2", anchor=Anchor("wire", "page_01", (95.0, 30.0), "L7 1.0 GN-WH"), code="L1 1.0 GN-WH")
        manual.add_edit(wire, who="me", revision=manual.revision)
        corrected(manual, conventions_text(OTHER))
    decode_again(path, 1, Listener(), first="page_02")
    assert [t.sheet for t in tasks] == ["page_02", "page_01"]
    assert all(t.conventions == OTHER for t in tasks)
    with Manual.open(path) as manual:
        assert used_conventions(manual) == wanted_conventions(manual) == OTHER
        assert [(r.edit.do, r.state) for r in manual.edits()] == [("set_code", "active"), ("set_conventions", "active")]
        manual.undo()
        assert wanted_conventions(manual) == CONVENTIONS
    decode_again(path, 1, Listener())
    with Manual.open(path) as manual:
        assert used_conventions(manual) == CONVENTIONS


def test_decoding_again_with_nothing_new_reads_nothing(tmp_path: Path, tasks: list[ReadTask]):
    path = build_manual(tmp_path)
    decode_again(path, 1, Listener())
    tasks.clear()
    decode_again(path, 1, Listener())
    assert tasks == []


def test_the_desks_corrections_count_until_the_file_changes(tmp_path: Path):
    with Manual.open(build_manual(tmp_path)) as manual:
        assert corrected_at_desk(manual, CONVENTIONS) == (None, False)
        manual.set_setting("conventions_stated", CONVENTIONS.model_dump_json())
        corrected(manual, conventions_text(OTHER))
        assert corrected_at_desk(manual, CONVENTIONS) == (OTHER, False)
        newer = CONVENTIONS.model_copy(update={"vehicle": "MARLOW 10 (invented)"})
        assert corrected_at_desk(manual, newer) == (None, True)
        assert corrected_at_desk(manual, newer) == (None, False), "once overruled, it stays so"


def test_reading_the_folder_again_keeps_the_desks_corrections(demo_pages: Path, demo_manual: Path, tmp_path: Path):
    """The real thing: codes are decoded again from the looks that the first reading left, without looking again."""
    path = tmp_path / "demo.manual"
    shutil.copy(demo_manual, path)
    stated = load_conventions(demo_pages / "conventions.toml")
    code = stated.code.model_copy(update={"example": None})
    without = stated.model_copy(update={"colours": dict(list(stated.colours.items())[:2]), "code": code})
    with Manual.open(path) as manual:
        before = {w.id: w.code.value for w in manual.harness().wires}
        corrected(manual, conventions_text(without))
    decode_again(path, 1, Listener())
    with Manual.open(path) as manual:
        assert used_conventions(manual) == without
        changed = {w.id: w.code.value for w in manual.harness().wires}
        assert changed != before
        stages = manual.sheets()[0].seconds
        assert "again" in stages
        assert "flat" not in stages
    digitize_into(RunRequest((demo_pages,), path, stated, None, 1), Listener())
    with Manual.open(path) as manual:
        assert used_conventions(manual) == without
        manual.undo()
    decode_again(path, 1, Listener())
    with Manual.open(path) as manual:
        assert {w.id: w.code.value for w in manual.harness().wires} == before


def test_looks_lie_where_only_their_user_writes(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    folder = looks_folder()
    assert folder is not None
    assert folder.stat().st_mode & 0o777 == 0o700
    folder.chmod(0o777)
    assert looks_folder() is None
    monkeypatch.setenv("XDG_CACHE_HOME", "/dev/null")
    assert looks_folder() is None


def test_a_look_is_known_by_its_scan_its_hints_and_the_code(tmp_path: Path):
    scan = Scan("a", "a.png", 0, "ff", 300.0, "")
    files = {
        look_file(tmp_path, scan, SheetHints(), "1"), look_file(tmp_path, scan, SheetHints(columns=8), "1"),
        look_file(tmp_path, scan, SheetHints(), "2"), look_file(tmp_path, replace(scan, sha256="fe"), SheetHints(), "1"),
    }  # fmt: skip
    assert len(files) == 4
    assert look_file(tmp_path, replace(scan, path="b.png"), SheetHints(), "1") in files


def test_the_oldest_looks_make_room(tmp_path: Path):
    for k in range(4):
        made = tmp_path / f"made{k}"
        made.write_bytes(b"x" * 10)
        keep_look(made, tmp_path / f"kept{k}")
        made.unlink()
    keep_look(tmp_path / "none", tmp_path / "kept9")
    killed, running = tmp_path / "digitize-killed", tmp_path / "digitize-running"
    for run in (killed, running):
        run.mkdir()
    os.utime(killed, (1, 1))
    make_room(tmp_path, 25)
    assert not killed.exists()
    running.rmdir()
    assert len(list(tmp_path.iterdir())) == 2
