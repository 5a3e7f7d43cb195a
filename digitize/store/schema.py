"""The tables of a manual's file, laid by named migrations that the file itself records.

A migration is never changed after it was released; a new one is added at the end. A file that names a migration we do
not know was written by a newer version and is refused. Nothing here needs more than SQLite 3.40.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

from digitize.errors import ManualWrong

APPLICATION_ID = 0x44475A4D
"""Marks a SQLite file as a manual of this program (PRAGMA application_id)."""


def lay_sheets(db: sqlite3.Connection) -> None:
    """Settings, source files, sheets with their results, and the harness as last digitized."""
    _lay(
        db,
        """
        CREATE TABLE setting (name TEXT PRIMARY KEY, value TEXT NOT NULL) STRICT, WITHOUT ROWID;
        CREATE TABLE source (sha256 TEXT PRIMARY KEY, name TEXT NOT NULL, bytes BLOB NOT NULL) STRICT;
        CREATE TABLE sheet (
            id TEXT PRIMARY KEY, number INTEGER NOT NULL, file TEXT NOT NULL, page INTEGER NOT NULL,
            sha256 TEXT NOT NULL, dpi REAL, rights TEXT NOT NULL, key TEXT NOT NULL,
            kind TEXT, facts TEXT, wiring TEXT, chart TEXT,
            stages TEXT NOT NULL, seconds TEXT NOT NULL, failed TEXT, advice TEXT, saved TEXT NOT NULL
        ) STRICT;
        CREATE INDEX sheet_in_order ON sheet (number, id);
        CREATE TABLE digitized (one INTEGER PRIMARY KEY CHECK (one = 1), harness TEXT NOT NULL, revision INTEGER NOT NULL, saved TEXT NOT NULL) STRICT;
    """,
    )


def lay_edits(db: sqlite3.Connection) -> None:
    """The book of edits. ``changed`` is the revision in which the edit was last made, undone or redone."""
    _lay(
        db,
        """
        CREATE TABLE edit (
            number INTEGER PRIMARY KEY, grouped INTEGER NOT NULL, who TEXT NOT NULL, made TEXT NOT NULL,
            revision INTEGER NOT NULL, changed INTEGER NOT NULL,
            state TEXT NOT NULL CHECK (state IN ('active', 'undone', 'dropped')),
            body TEXT NOT NULL, touched TEXT NOT NULL
        ) STRICT;
        CREATE INDEX edit_by_state ON edit (state, number);
    """,
    )


def lay_tiles(db: sqlite3.Connection) -> None:
    """The scan cut into tiles for the desk: level 0 is the whole page in one tile, the last one is the scan itself."""
    _lay(
        db,
        """
        CREATE TABLE pyramid (
            sheet TEXT PRIMARY KEY, sha256 TEXT NOT NULL, width INTEGER NOT NULL, height INTEGER NOT NULL,
            side INTEGER NOT NULL, levels INTEGER NOT NULL
        ) STRICT;
        CREATE TABLE tile (sheet TEXT NOT NULL, level INTEGER NOT NULL, x INTEGER NOT NULL, y INTEGER NOT NULL, jpeg BLOB NOT NULL) STRICT;
        CREATE UNIQUE INDEX tile_at ON tile (sheet, level, x, y);
    """,
    )


MIGRATIONS: tuple[tuple[str, Callable[[sqlite3.Connection], None]], ...] = (
    ("001 sheets and results", lay_sheets),
    ("002 the book of edits", lay_edits),
    ("003 tiles for the desk", lay_tiles),
)
"""In the order in which they are applied. Full-text search of labels is the next one."""


def migrate(db: sqlite3.Connection, path: Path) -> list[str]:
    """Bring the file up to date inside one transaction for each migration; returns the names newly applied.

    Raises ManualWrong when the file is some other program's or was written by a newer version of this one.
    """
    found = db.execute("PRAGMA application_id").fetchone()[0]
    known = [name for name, _ in MIGRATIONS]
    tables = {row[0] for row in db.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
    if tables and found != APPLICATION_ID:
        raise ManualWrong(
            f"The file {path} is a database of another program.", "Name the .manual file that digitize made."
        )
    done = [row[0] for row in db.execute("SELECT name FROM migration ORDER BY name")] if "migration" in tables else []
    strange = [name for name in done if name not in known]
    if strange:
        raise ManualWrong(
            f"The manual {path} was written by a newer version of digitize ({strange[0]}).",
            "Update digitize, then open it again.",
        )
    missing = [(name, lay) for name, lay in MIGRATIONS if name not in done]
    if not missing:
        return []
    db.execute(f"PRAGMA application_id = {APPLICATION_ID}")
    if "migration" not in tables:
        db.execute("CREATE TABLE migration (name TEXT PRIMARY KEY, applied TEXT NOT NULL) STRICT")
    for name, lay in missing:
        db.execute("BEGIN IMMEDIATE")
        try:
            lay(db)
            db.execute("INSERT INTO migration VALUES (?, ?)", (name, datetime.now(UTC).isoformat(timespec="seconds")))
        except BaseException:
            db.execute("ROLLBACK")
            raise
        db.execute("COMMIT")
    return [name for name, _ in missing]


def _lay(db: sqlite3.Connection, script: str) -> None:
    """Run a script statement by statement; ``executescript`` would end the transaction around it."""
    for statement in script.split(";"):
        if statement.strip():
            db.execute(statement)
