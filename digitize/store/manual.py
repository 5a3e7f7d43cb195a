"""A manual: one SQLite file that keeps the pages, what was read, the harness and every edit."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from types import TracebackType
from typing import Self

import numpy as np
from numpy.typing import NDArray

from digitize.errors import NotFound
from digitize.harness.edits import AcceptFinding, Edit, Recorded, Reviewed
from digitize.harness.model import NO_RIGHTS_NOTE, Harness
from digitize.harness.story import Story, story
from digitize.sheet.state import Scan, SheetFacts
from digitize.store import edit_book, sheets
from digitize.store.edit_book import Change
from digitize.store.file import ManualFile
from digitize.store.sheets import Outcome, SheetRecord, SheetResult
from digitize.store.tiles import Pyramid, cut_tiles, pixels_of, pyramid_of

PATIENCE = 5.0
"""Seconds to wait for another program that is writing the file."""


class Manual:
    """One manual. Thread-safe: readers never wait, writers take turns. Use as a context manager, or ``close`` it.

    Every method raises ManualWrong (exit code 6) when the file is rotten, locked, read-only or the disk is full.
    """

    def __init__(self, file: ManualFile) -> None:
        """Use ``open`` or ``create``."""
        self._file = file
        self._digitized: tuple[int, Harness] | None = None
        self._reviewed: tuple[int, Reviewed] | None = None
        self._latest: tuple[int, Reviewed] | None = None

    @classmethod
    def open(cls, path: str | Path, *, read_only: bool = False, patience: float = PATIENCE) -> Self:
        """Open a manual and bring its tables up to date. ``patience``: seconds to wait for another writer."""
        return cls(ManualFile(Path(path), new=False, read_only=read_only, patience=patience))

    @classmethod
    def create(cls, path: str | Path, rights: str) -> Self:
        """A new manual with the user's rights note, which every export will carry. Refuses to overwrite a file."""
        manual = cls(ManualFile(Path(path), new=True, read_only=False, patience=PATIENCE))
        manual.set_setting("rights", rights)
        return manual

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, value: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Fold the write-ahead log into the file and let go of it."""
        self._file.close()

    @property
    def path(self) -> Path:
        """The manual's file."""
        return self._file.path

    # settings

    @property
    def rights(self) -> str:
        """The user's rights note; ``NO_RIGHTS_NOTE`` until there is one."""
        return self.setting("rights") or NO_RIGHTS_NOTE

    def setting(self, name: str) -> str | None:
        """A value kept under ``name``; None when there is none."""
        with self._file.reading() as db:
            row = db.execute("SELECT value FROM setting WHERE name = ?", (name,)).fetchone()
        return None if row is None else str(row[0])

    def set_setting(self, name: str, value: str) -> None:
        """Keep ``value`` under ``name``."""
        with self._file.writing() as db:
            db.execute(
                "INSERT INTO setting VALUES (?, ?) ON CONFLICT DO UPDATE SET value = excluded.value", (name, value)
            )

    @property
    def revision(self) -> int:
        """Grows with every digitization, edit, undo and redo."""
        with self._file.reading() as db:
            return edit_book.revision_of(db)

    # sheets

    def is_current(self, sheet: str, key: str) -> bool:
        """True when the sheet was read without failure under this key (see ``sheets.result_key``)."""
        with self._file.reading() as db:
            row = db.execute("SELECT 1 FROM sheet WHERE id = ? AND key = ? AND failed IS NULL", (sheet, key)).fetchone()
        return row is not None

    def save_sheet(self, scan: Scan, number: int, key: str, outcome: Outcome) -> None:
        """Save what became of one sheet, with the bytes of its source file (``number`` is its place in the manual, from 1)."""
        with self._file.writing() as db:
            sheets.write(db, scan, number, key, outcome)

    def forget_sheet(self, sheet: str) -> None:
        """Take a sheet out of the manual (its page is no longer among the sources). The edits on it stay in the book."""
        with self._file.writing() as db:
            sheets.forget(db, sheet)

    def number_sheets(self, order: Sequence[str]) -> None:
        """Give the sheets the numbers 1, 2, … in this order; the manual may have got pages in between."""
        with self._file.writing() as db:
            db.executemany("UPDATE sheet SET number = ? WHERE id = ?", [(n, s) for n, s in enumerate(order, 1)])

    def sheets(self) -> tuple[SheetRecord, ...]:
        """All sheets, failed ones too, in the manual's order."""
        with self._file.reading() as db:
            return sheets.records(db)

    def sheet_result(self, sheet: str) -> SheetResult:
        """What one sheet came to. Raises NotFound."""
        with self._file.reading() as db:
            return sheets.result(db, sheet)

    def facts(self, sheet: str) -> SheetFacts | None:
        """A sheet's size, mapping and zones; None for a failed or unknown one."""
        with self._file.reading() as db:
            return sheets.facts_of(db, sheet)

    def source(self, sheet: str) -> tuple[str, bytes]:
        """(file name, bytes) of the source file that the sheet came from. Raises NotFound."""
        with self._file.reading() as db:
            row = db.execute(
                "SELECT source.name, source.bytes FROM sheet JOIN source USING (sha256) WHERE sheet.id = ?", (sheet,)
            ).fetchone()
        if row is None:
            raise NotFound(f"There is no sheet {sheet} in the manual.", "List its sheets to see their ids.")
        return str(row[0]), bytes(row[1])

    # tiles

    def add_tiles(self, sheet: str, grey: NDArray[np.uint8]) -> None:
        """Cut the scan (uint8 (H, W), its own pixels) into tiles for the desk; again only when the source changed.

        Raises NotFound when the sheet is not saved.
        """
        with self._file.reading() as db:
            row = db.execute("SELECT sha256 FROM sheet WHERE id = ?", (sheet,)).fetchone()
            had = db.execute("SELECT sha256 FROM pyramid WHERE sheet = ?", (sheet,)).fetchone()
        if row is None:
            raise NotFound(f"There is no sheet {sheet} to add tiles to.", "Save the sheet first.")
        if had == row:
            return
        layout = pyramid_of(grey.shape[1], grey.shape[0])
        with self._file.writing() as db:
            db.execute("DELETE FROM tile WHERE sheet = ?", (sheet,))
            db.executemany("INSERT INTO tile VALUES (?, ?, ?, ?, ?)", ((sheet, *tile) for tile in cut_tiles(grey)))
            db.execute(
                "INSERT OR REPLACE INTO pyramid VALUES (?, ?, ?, ?, ?, ?)",
                (sheet, row[0], layout.width, layout.height, layout.side, layout.levels),
            )

    def make_tiles(self, sheet: str) -> bool:
        """Cut the tiles of a sheet from its kept source, unless they are there; True when that was needed.

        Raises NotFound for an unknown sheet, PageUnreadable when its source never could be read.
        """
        if self.pyramid(sheet) is not None:
            return False
        name, content = self.source(sheet)
        page = next(r.page for r in self.sheets() if r.id == sheet)
        self.add_tiles(sheet, pixels_of(name, content, page))
        return True

    def pyramid(self, sheet: str) -> Pyramid | None:
        """The layout of a sheet's tiles; None when they were not made yet or belong to an older source."""
        with self._file.reading() as db:
            row = db.execute(
                "SELECT width, height, side, levels FROM pyramid JOIN sheet ON sheet.id = pyramid.sheet"
                " AND sheet.sha256 = pyramid.sha256 WHERE sheet = ?",
                (sheet,),
            ).fetchone()
        return None if row is None else Pyramid(*row)

    def tile(self, sheet: str, level: int, x: int, y: int) -> bytes | None:
        """One tile as JPEG; None outside the picture."""
        with self._file.reading() as db:
            row = db.execute(
                "SELECT jpeg FROM tile WHERE sheet = ? AND level = ? AND x = ? AND y = ?", (sheet, level, x, y)
            ).fetchone()
        return None if row is None else bytes(row[0])

    # the harness and its edits

    def save_harness(self, harness: Harness) -> int:
        """Keep a newly digitized harness; the edits stay and are replayed on it. Returns the new revision."""
        with self._file.writing() as db:
            revision = edit_book.write_digitized(db, harness)
        self._digitized = (revision, harness)
        return revision

    @property
    def has_harness(self) -> bool:
        """Whether the manual was digitized at all; does not load the harness."""
        with self._file.reading() as db:
            return db.execute("SELECT 1 FROM digitized").fetchone() is not None

    def harness(self) -> Harness:
        """The harness as digitized, without any edit. Raises NotFound before the first digitization."""
        with self._file.reading() as db:
            row = db.execute("SELECT revision FROM digitized").fetchone()
            if row is not None and self._digitized is not None and self._digitized[0] == row[0]:
                return self._digitized[1]
            found = edit_book.digitized(db)
        if found is None:
            raise NotFound(
                f"The manual {self.path} is not finished: {self._so_far()}.",
                "Read its folder again: the same command goes on from there.",
            )
        self._digitized = (found[1], found[0])
        return found[0]

    def _so_far(self) -> str:
        read = sum(record.failed is None for record in self.sheets())
        return (
            f"{read} page{'s' if read != 1 else ''} read so far, not yet put together"
            if read
            else "no page is read yet"
        )

    def reviewed(self) -> Reviewed:
        """The harness with all edits that count, what each did, and which sheets a person marked as done."""
        return self.reviewed_at()[1]

    def reviewed_at(self) -> tuple[int, Reviewed]:
        """The revision and the reviewed harness that belong together."""
        revision, latest = self.latest_at()
        if self._reviewed is None or self._reviewed[0] != revision:
            with self._file.reading() as db:
                checked = replace(latest, harness=edit_book.recheck(db, latest.harness)) if latest.effects else latest
            self._reviewed = (revision, checked)
        return self._reviewed

    def latest_at(self) -> tuple[int, Reviewed]:
        """Like ``reviewed_at``, but its findings may be those from before the last edits: for answers that must be quick."""
        with self._file.reading() as db:
            db.execute("BEGIN")  # one snapshot for revision, harness and edits
            try:
                revision = edit_book.revision_of(db)
                for known in (self._reviewed, self._latest):
                    if known is not None and known[0] == revision:
                        return known
                self._reviewed = self._latest = (revision, edit_book.review(db, self.harness()))
            finally:
                db.execute("COMMIT")
        return self._latest

    def edits(self) -> tuple[Recorded, ...]:
        """Every edit ever made, in order, with its state."""
        with self._file.reading() as db:
            return edit_book.all_edits(db)

    def add_edit(self, edit: Edit | Sequence[Edit], *, who: str, revision: int) -> Change:
        """Make one decision (several edits are undone together), on the ground of ``revision``.

        Raises:
            EditStale: one of its objects changed after ``revision``; says both versions.
            EditRefused: it does not fit the harness as it is; nothing was changed.
        """
        edits = tuple(edit) if isinstance(edit, Sequence) else (edit,)
        with self._file.writing() as db:
            # no one else can write now, so this is the newest state
            on_findings = any(isinstance(e, AcceptFinding) for e in edits)
            reviewed = self.reviewed() if on_findings else self.latest_at()[1]
            change, after = edit_book.make(db, reviewed, edits, who, revision)
        self._latest = (change.revision, after)  # findings are found anew when somebody asks for them
        return change

    def undo(self, expected: int | None = None) -> Change | None:
        """Take the last decision back; None when there is none. Raises EditStale when it is not group ``expected``."""
        with self._file.writing() as db:
            return edit_book.take_back(db, expected)

    def redo(self, expected: int | None = None) -> Change | None:
        """Bring the last undone decision back; None when there is none. Raises EditStale like ``undo``."""
        with self._file.writing() as db:
            return edit_book.bring_back(db, expected)

    def next_to_move(self) -> tuple[tuple[int, str] | None, tuple[int, str] | None]:
        """(group, description) of what ``undo`` and ``redo`` would move; None where there is nothing."""
        with self._file.reading() as db:
            return edit_book.next_to_move(db)

    def story(self, subject: str) -> Story:
        """Why an object is as it is. Raises NotFound."""
        told = story(self.harness(), self.latest_at()[1], self.edits(), subject)
        if told is None:
            raise NotFound(f"There is nothing with the id {subject} in the manual.", "Search for it by name or code.")
        return told

    def check(self) -> list[str]:
        """SQLite's own full check of the file, one line for each fault; empty when it is sound."""
        with self._file.reading() as db:
            rows = [str(row[0]) for row in db.execute("PRAGMA integrity_check")]
        return [] if rows == ["ok"] else rows
