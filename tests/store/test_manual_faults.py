"""The manual's file goes bad: one clear line for every fault, and nothing that was saved is lost."""

from __future__ import annotations

import hashlib
import sqlite3
from pathlib import Path

import cv2
import pytest

from digitize.errors import ManualWrong
from digitize.harness.edits import SetCode
from digitize.harness.edits_find import look_up
from digitize.sheet.state import Scan
from digitize.store import schema
from digitize.store.manual import Manual
from digitize.store.sheets import Outcome
from fixtures.small_harness import small_facts, small_harness, small_scan


def scan_of(path: Path, sheet: str = "page_01", page: int = 0) -> Scan:
    return Scan(sheet, str(path), page, hashlib.sha256(path.read_bytes()).hexdigest(), 203.2, "invented")


@pytest.fixture
def page(tmp_path: Path) -> Path:
    path = tmp_path / "pages" / "page_01.png"
    path.parent.mkdir()
    cv2.imwrite(str(path), small_scan(small_harness(), "page_01"))
    return path


@pytest.fixture
def manual(tmp_path: Path):
    with Manual.create(tmp_path / "demo.manual", "invented for tests") as made:
        made.save_harness(small_harness())
        yield made


def set_code(manual: Manual, target: str, code: str) -> SetCode:
    stand = look_up(manual.reviewed().harness, target)
    assert stand is not None
    return SetCode(target=target, anchor=stand.anchor(), code=code)


def code_of(manual: Manual, target: str) -> str | None:
    return next(w.code.value for w in manual.reviewed().harness.wires if w.id == target)


def test_a_file_written_by_another_process_says_that_it_is_locked(manual: Manual, tmp_path: Path):
    other = sqlite3.connect(tmp_path / "demo.manual", isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    with (
        Manual.open(tmp_path / "demo.manual", patience=0.05) as second,
        pytest.raises(ManualWrong, match="being written by another"),
    ):
        second.set_setting("a", "b")
    other.execute("ROLLBACK")
    other.close()


def test_a_missing_file_is_named(tmp_path: Path):
    with pytest.raises(ManualWrong, match=r"no manual at .*nowhere\.manual"):
        Manual.open(tmp_path / "nowhere.manual")


def test_an_existing_file_is_not_overwritten(manual: Manual, tmp_path: Path):
    with pytest.raises(ManualWrong, match="there already"):
        Manual.create(tmp_path / "demo.manual", "")


def test_a_folder_that_is_not_there_is_told(tmp_path: Path):
    with pytest.raises(ManualWrong, match="cannot be opened"):
        Manual.create(tmp_path / "no" / "such" / "demo.manual", "")


@pytest.mark.parametrize("content", [b"", b"hello", b"\x89PNG\r\n\x1a\n" * 200])
def test_a_file_that_is_no_manual_is_refused(tmp_path: Path, content: bytes):
    path = tmp_path / "cat.manual"
    path.write_bytes(content)
    with pytest.raises(ManualWrong, match="not a manual"):
        Manual.open(path)
    assert path.read_bytes() == content


def test_another_programs_database_is_refused_and_left_alone(tmp_path: Path):
    path = tmp_path / "other.manual"
    db = sqlite3.connect(path)
    db.execute("CREATE TABLE song (title TEXT)")
    db.commit()
    db.close()
    with pytest.raises(ManualWrong, match="another program"):
        Manual.open(path)


def test_a_truncated_file_is_told_at_once(manual: Manual, page: Path, tmp_path: Path):
    manual.save_sheet(scan_of(page), 1, "key", Outcome(small_facts()))
    manual.close()
    path = tmp_path / "demo.manual"
    content = path.read_bytes()
    path.write_bytes(content[: len(content) // 2])
    with pytest.raises(ManualWrong, match=r"damaged: \d+ of \d+ bytes"):
        Manual.open(path)


def test_a_rotten_page_in_the_file_is_told_when_it_is_met(manual: Manual, tmp_path: Path):
    manual.add_edit(set_code(manual, "w2", "L1"), who="tester", revision=manual.revision)
    manual.close()
    path = tmp_path / "demo.manual"
    content = bytearray(path.read_bytes())
    content[8192:] = b"\xa5" * (len(content) - 8192)
    path.write_bytes(bytes(content))
    with pytest.raises(ManualWrong, match="damaged"), Manual.open(path) as rotten:
        rotten.reviewed()


def test_a_manual_from_a_newer_version_is_refused(manual: Manual, tmp_path: Path):
    with manual._file.writing() as db:
        db.execute("INSERT INTO migration VALUES ('999 flying cars', '2999-01-01')")
    manual.close()
    with pytest.raises(ManualWrong, match=r"newer version.*flying cars"):
        Manual.open(tmp_path / "demo.manual")


def test_a_full_disk_loses_nothing_that_was_saved(manual: Manual, page: Path):
    manual.add_edit(set_code(manual, "w2", "L1"), who="tester", revision=manual.revision)
    pages = manual._file._writer.execute("PRAGMA page_count").fetchone()[0]
    manual._file._writer.execute(f"PRAGMA max_page_count = {pages}")
    with pytest.raises(ManualWrong, match="disk is full"):
        manual.save_sheet(scan_of(page), 1, "key", Outcome(small_facts()))
    assert code_of(manual, "w2") == "L1"
    assert manual.sheets() == ()
    manual._file._writer.execute(f"PRAGMA max_page_count = {pages + 1000}")
    manual.save_sheet(scan_of(page), 1, "key", Outcome(small_facts()))
    assert manual.check() == []


def test_a_read_only_manual_can_be_read_but_not_written(manual: Manual, tmp_path: Path):
    with Manual.open(tmp_path / "demo.manual", read_only=True) as reader:
        assert reader.harness() == small_harness()
        with pytest.raises(ManualWrong, match="may not be written"):
            reader.set_setting("a", "b")


def test_an_older_manual_gets_the_missing_tables(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    with monkeypatch.context() as older:
        older.setattr(schema, "MIGRATIONS", schema.MIGRATIONS[:1])
        Manual.create(tmp_path / "old.manual", "").close()
    with Manual.open(tmp_path / "old.manual") as opened:
        assert opened.edits() == ()
        names = [r[0] for r in opened._file._writer.execute("SELECT name FROM migration ORDER BY name")]
        assert names == [n for n, _ in schema.MIGRATIONS]


def test_a_failed_migration_leaves_the_file_as_it_was(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    def breaks(db: sqlite3.Connection) -> None:
        db.execute("CREATE TABLE half (a TEXT)")
        db.execute("CREATE TABLE half (a TEXT)")

    Manual.create(tmp_path / "old.manual", "kept").close()
    with monkeypatch.context() as newer:
        newer.setattr(schema, "MIGRATIONS", (*schema.MIGRATIONS, ("999 breaks", breaks)))
        with pytest.raises(ManualWrong):
            Manual.open(tmp_path / "old.manual")
    with Manual.open(tmp_path / "old.manual") as again:
        assert again.rights == "kept"
        assert again._file._writer.execute("SELECT count(*) FROM sqlite_master WHERE name = 'half'").fetchone() == (0,)
