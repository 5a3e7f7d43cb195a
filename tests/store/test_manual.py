"""The manual's file: nothing lost, one clear line for every fault, edits kept over everything."""

from __future__ import annotations

import hashlib
import shutil
import threading
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pytest

from digitize.errors import NotFound
from digitize.harness.edits import AcceptFinding, Anchor, Confirm, Cut, EditRefused, EditStale, SetCode
from digitize.harness.edits_find import look_up
from digitize.harness.place import Box
from digitize.sheet.state import Scan
from digitize.store.manual import Manual
from digitize.store.sheets import Outcome, result_key
from digitize.store.tiles import cut_tiles, pyramid_of
from digitize.tables.state import SheetTable, TableText
from digitize.wiring.state import SheetWiring
from fixtures.small_harness import small_facts, small_harness, small_scan, with_new_ids
from fixtures.small_manual import CONVENTIONS


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


def test_states_come_back_as_they_went_in(manual: Manual, page: Path):
    facts = small_facts()
    wiring = SheetWiring(facts, (), (), (), (), ((1.5, 2.25),), ())
    manual.save_sheet(scan_of(page), 1, "key-1", Outcome(facts, wiring, stages={"flat": "1"}, seconds={"flat": 0.5}))
    got = manual.sheet_result("page_01")
    assert (got.facts, got.wiring, got.table) == (facts, wiring, None)
    assert got.record.seconds == {"flat": 0.5}
    table = SheetTable(
        replace(facts, kind="chart"), (), (), (), (TableText("C101", "chart_code", Box(0, 0, 1, 1), 0.5),)
    )
    manual.save_sheet(scan_of(page), 1, "key-2", Outcome(table.facts, table=table))
    assert manual.sheet_result("page_01").table == table
    assert [r.kind for r in manual.sheets()] == ["chart"]
    assert manual.facts("page_01") == table.facts
    assert manual.harness() == small_harness()


def test_only_what_is_new_or_changed_is_not_current(manual: Manual, page: Path):
    scan = scan_of(page)
    key = result_key(scan.sha256, 0, "conventions", "0.1")
    assert not manual.is_current("page_01", key)
    manual.save_sheet(scan, 1, key, Outcome(small_facts()))
    assert manual.is_current("page_01", key)
    others = [
        result_key("0" * 64, 0, "conventions", "0.1"), result_key(scan.sha256, 1, "conventions", "0.1"),
        result_key(scan.sha256, 0, "others", "0.1"), result_key(scan.sha256, 0, "conventions", "0.2"),
    ]  # fmt: skip
    assert len({key, *others}) == 5
    assert not any(manual.is_current("page_01", k) for k in others)


def test_a_failed_sheet_is_kept_with_its_reason_and_is_tried_again(manual: Manual, page: Path):
    manual.save_sheet(scan_of(page), 1, "key", Outcome(failed="page_01.png is truncated.", advice="Scan it again."))
    record = manual.sheets()[0]
    assert (record.failed, record.advice, record.kind) == ("page_01.png is truncated.", "Scan it again.", None)
    assert not manual.is_current("page_01", "key")


def test_the_manual_survives_without_its_folder(manual: Manual, page: Path, tmp_path: Path):
    before = page.read_bytes()
    manual.save_sheet(scan_of(page), 1, "key", Outcome(small_facts()))
    shutil.rmtree(page.parent)
    manual.close()
    moved = tmp_path / "elsewhere.manual"
    shutil.move(tmp_path / "demo.manual", moved)
    with Manual.open(moved) as again:
        assert again.source("page_01") == ("page_01.png", before)
        assert again.rights == "invented for tests"


def test_a_forgotten_sheet_takes_its_source_along_but_not_that_of_others(manual: Manual, page: Path):
    grey = small_scan(small_harness(), "page_01")
    for n, sheet in enumerate(("a", "b"), 1):
        manual.save_sheet(scan_of(page, sheet, n - 1), n, "key", Outcome(small_facts(sheet)))
        manual.add_tiles(sheet, grey)
    manual.forget_sheet("a")
    assert manual.source("b")[0] == "page_01.png"
    assert manual.pyramid("a") is None
    assert manual.tile("a", 0, 0, 0) is None
    manual.forget_sheet("b")
    with pytest.raises(NotFound):
        manual.source("b")
    with pytest.raises(NotFound):
        manual.sheet_result("b")


def test_sheets_can_be_put_in_another_order(manual: Manual, page: Path):
    for n, sheet in enumerate("ab", 1):
        manual.save_sheet(scan_of(page, sheet), n, "key", Outcome(small_facts(sheet)))
    manual.number_sheets(["b", "a"])
    assert [(r.id, r.number) for r in manual.sheets()] == [("b", 1), ("a", 2)]


def test_there_is_no_harness_before_the_first_digitization(tmp_path: Path):
    with (
        Manual.create(tmp_path / "empty.manual", "") as empty,
        pytest.raises(NotFound, match="is not finished: no page is read yet"),
    ):
        empty.harness()


def test_an_edit_is_there_after_a_restart_and_after_a_new_digitization(manual: Manual, tmp_path: Path):
    manual.add_edit(set_code(manual, "w2", "L1 1.0 GN-WH"), who="tester", revision=manual.revision)
    assert code_of(manual, "w2") == "L1 1.0 GN-WH"
    manual.close()
    with Manual.open(tmp_path / "demo.manual") as again:
        assert code_of(again, "w2") == "L1 1.0 GN-WH"
        assert again.harness() == small_harness(), "what the program read stays on record"
        again.save_harness(with_new_ids(small_harness(), shift=1.0))
        assert code_of(again, "nw2") == "L1 1.0 GN-WH"
        assert again.reviewed().orphans == ()


def test_undo_and_redo_know_no_limit_and_no_restart(manual: Manual, tmp_path: Path):
    codes = ["L1 1.0 GN-WH", "L2 1.0 GN-WH", "L3 1.0 GN-WH"]
    for code in codes:
        manual.add_edit(set_code(manual, "w2", code), who="tester", revision=manual.revision)
    manual.close()
    with Manual.open(tmp_path / "demo.manual") as again:
        seen = []
        while again.undo() is not None:
            seen.append(code_of(again, "w2"))
        assert seen == ["L2 1.0 GN-WH", "L1 1.0 GN-WH", "L7 1.0 GN-WH"]
        assert again.undo() is None
        while again.redo() is not None:
            pass
        assert code_of(again, "w2") == codes[-1]
        again.undo()
        again.add_edit(set_code(again, "w2", "L4 1.0 GN-WH"), who="tester", revision=again.revision)
        assert again.redo() is None, "what was undone before a new edit cannot come back"
        assert [e.state for e in again.edits()] == ["active", "active", "dropped", "active"], "but it stays in the book"


def test_edits_of_one_decision_are_undone_together(manual: Manual):
    manual.add_edit(
        [set_code(manual, "w2", "X1"), set_code(manual, "w3", "X2")], who="tester", revision=manual.revision
    )
    undo, redo = manual.next_to_move()
    assert (undo, redo) == ((1, "wire code “L7 1.0 GN-WH” is “X1” and 1 more like it"), None)
    change = manual.undo()
    assert change is not None
    assert len(change.moved) == 2
    assert (code_of(manual, "w2"), code_of(manual, "w3")) == ("L7 1.0 GN-WH", "L7A 0.8 GN-WH")


def test_an_edit_on_stale_ground_is_refused_with_both_versions(manual: Manual):
    ground = manual.revision
    mine = set_code(manual, "w2", "MINE")
    manual.add_edit(set_code(manual, "w2", "THEIRS"), who="somebody else", revision=ground)
    with pytest.raises(EditStale) as stale:
        manual.add_edit(mine, who="tester", revision=ground)
    assert "MINE" in stale.value.mine
    assert "THEIRS" in stale.value.theirs
    assert "somebody else" in stale.value.theirs
    assert code_of(manual, "w2") == "THEIRS"
    manual.add_edit(set_code(manual, "w7", "Z7 0.8 BK"), who="tester", revision=ground)
    assert code_of(manual, "w7") == "Z7 0.8 BK", "an edit elsewhere is not hindered"


def test_an_edit_on_what_was_digitized_otherwise_since_is_refused(manual: Manual):
    ground = manual.revision
    mine = set_code(manual, "w2", "MINE")
    other = replace(small_harness(), wires=tuple(
        replace(w, code=replace(w.code, value="L9 1.0 GN-WH")) if w.id == "w2" else w for w in small_harness().wires
    ))  # fmt: skip
    manual.save_harness(other)
    with pytest.raises(EditStale, match=r"L9 1\.0 GN-WH"):
        manual.add_edit(mine, who="tester", revision=ground)


def test_undo_of_another_persons_newer_decision_is_refused(manual: Manual):
    manual.add_edit(set_code(manual, "w2", "MINE"), who="tester", revision=manual.revision)
    manual.add_edit(set_code(manual, "w3", "THEIRS"), who="somebody else", revision=manual.revision)
    with pytest.raises(EditStale, match="THEIRS"):
        manual.undo(expected=1)
    assert code_of(manual, "w3") == "THEIRS"


def test_an_edit_that_does_not_fit_changes_nothing(manual: Manual):
    before = manual.revision
    with pytest.raises(EditRefused, match="gone"):
        manual.add_edit(Confirm(target="w99", anchor=Anchor("wire", "page_01", (1, 1))), who="tester", revision=before)
    assert manual.revision == before
    assert manual.edits() == ()


def test_a_story_tells_reading_and_edits(manual: Manual):
    manual.add_edit(set_code(manual, "w2", "L1 1.0 GN-WH"), who="tester", revision=manual.revision)
    told = manual.story("w2")
    assert [e.kind for e in told.evidence] == ["read", "person"]
    assert "tester" in told.evidence[-1].by
    with pytest.raises(NotFound):
        manual.story("w99")


def test_readers_do_not_wait_for_a_writer(manual: Manual):
    with manual._file.writing() as db:
        db.execute("INSERT INTO setting VALUES ('half', 'done')")
        got: list[str | None] = []
        reader = threading.Thread(target=lambda: got.append(manual.setting("half")))
        reader.start()
        reader.join(timeout=60)  # one that waited for the writer would still be waiting, since the writer ends below
        assert got == [None]


# tiles


@pytest.mark.parametrize("size", [(1, 1), (512, 512), (513, 40), (1500, 1100)])
def test_every_level_covers_the_whole_scan(size: tuple[int, int]):
    width, height = size
    grey = np.arange(width * height, dtype=np.uint32).reshape(height, width).astype(np.uint8)
    layout = pyramid_of(width, height)
    seen: dict[int, set[tuple[int, int]]] = {}
    for level, x, y, jpeg in cut_tiles(grey):
        seen.setdefault(level, set()).add((x, y))
        tile = cv2.imdecode(np.frombuffer(jpeg, np.uint8), cv2.IMREAD_GRAYSCALE)
        assert tile is not None
        assert tile.shape == (512, 512), "a map stretches a tile that is not whole"
    assert sorted(seen) == list(range(layout.levels))
    assert seen[0] == {(0, 0)}
    across, down = -(-width // 512), -(-height // 512)
    assert seen[layout.levels - 1] == {(x, y) for x in range(across) for y in range(down)}


def test_a_mark_stays_at_its_place_at_every_level():
    grey = np.full((1537, 2047), 255, np.uint8)
    grey[1024:1056, 1792:1824] = 0
    layout = pyramid_of(2047, 1537)
    for level, x, y, jpeg in cut_tiles(grey):
        tile = cv2.imdecode(np.frombuffer(jpeg, np.uint8), cv2.IMREAD_GRAYSCALE)
        assert tile is not None
        scale = 2 ** (layout.levels - 1 - level)
        rows, columns = np.nonzero(tile < 128)
        if len(rows):
            assert (rows.mean() + 0.5 + 512 * y) * scale == pytest.approx(1040, abs=scale)
            assert (columns.mean() + 0.5 + 512 * x) * scale == pytest.approx(1808, abs=scale)


def test_an_empty_scan_has_no_tiles():
    with pytest.raises(ValueError, match="no tiles"):
        pyramid_of(0, 5)


def test_tiles_show_the_scan_and_are_made_once(manual: Manual, page: Path):
    grey = small_scan(small_harness(), "page_01")
    manual.save_sheet(scan_of(page), 1, "key", Outcome(small_facts()))
    manual.add_tiles("page_01", grey)
    layout = manual.pyramid("page_01")
    assert layout is not None
    assert (layout.width, layout.height, layout.levels) == (1600, 1120, 3)
    jpeg = manual.tile("page_01", layout.levels - 1, 1, 0)
    assert jpeg is not None
    tile = cv2.imdecode(np.frombuffer(jpeg, np.uint8), cv2.IMREAD_GRAYSCALE)
    assert tile is not None
    assert np.abs(tile.astype(int) - grey[:512, 512:1024]).mean() < 3
    manual.add_tiles("page_01", np.zeros((10, 10), np.uint8))
    assert manual.pyramid("page_01") == layout, "the source did not change, so the tiles stay"
    with pytest.raises(NotFound):
        manual.add_tiles("page_77", grey)


def test_findings_follow_the_corrections_and_an_accepted_one_stays_accepted(manual: Manual, tmp_path: Path):
    manual.set_setting("conventions", CONVENTIONS.model_dump_json())

    def found() -> dict[str, str | None]:
        return {f.id: f.accepted for f in manual.reviewed().harness.findings}

    assert found() == {"dangling-end/w5/end 2": None, "dangling-end/w6/end 1": None}
    cut = Cut(target="w3", anchor=Anchor("wire", "page_01", (135.0, 70.0), "L7A 0.8 GN-WH"))
    manual.add_edit(cut, who="tester", revision=manual.revision)
    assert "dangling-end/w3/end 2" in found()
    stand = look_up(manual.reviewed().harness, "dangling-end/w3/end 2")
    assert stand is not None
    accept = AcceptFinding(target=stand.id, anchor=stand.anchor(), reason="spare wire")
    manual.add_edit(accept, who="tester", revision=manual.revision)
    assert found()["dangling-end/w3/end 2"] == "spare wire"
    with Manual.open(tmp_path / "demo.manual") as again:
        assert again.reviewed().orphans == ()
        assert found()["dangling-end/w3/end 2"] == "spare wire"
    manual.undo()
    manual.undo()
    assert "dangling-end/w3/end 2" not in found()
