"""The SQLite file under a manual: one writer at a time, readers that never wait."""

from __future__ import annotations

import sqlite3
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from digitize.errors import ManualWrong
from digitize.store.faults import refuse_truncated, told
from digitize.store.schema import migrate


class ManualFile:
    """Connections to one file. Any thread may read or write; writes take turns, each thread reads by its own connection.

    Attributes:
        path: the file.
    """

    def __init__(self, path: Path, *, new: bool, read_only: bool, patience: float) -> None:
        """Open ``path`` (see ``Manual.open`` and ``Manual.create``); raises ManualWrong."""
        self.path = path
        self._read_only = read_only
        self._patience = patience
        self._turn = threading.RLock()
        self._own = threading.local()
        self._all: list[sqlite3.Connection] = []
        if new and path.exists():
            raise ManualWrong(f"{path} is there already.", "Open it, or choose another name.")
        if not new:
            if path.is_dir():
                raise ManualWrong(f"{path} is a folder, and a manual is one file.", "Name the .manual file.")
            if not path.is_file():
                raise ManualWrong(
                    f"There is no manual at {path}.", "Check the path, or digitize a folder of pages first."
                )
            with _readable(path):
                refuse_truncated(path)
        with told(path):
            self._writer = self._connect()
            self._prepare()

    def _connect(self) -> sqlite3.Connection:
        mode = "ro" if self._read_only else "rwc"
        db = sqlite3.connect(
            f"{self.path.absolute().as_uri()}?mode={mode}", uri=True, isolation_level=None, check_same_thread=False,
            timeout=self._patience,
        )  # fmt: skip
        self._all.append(db)
        return db

    def _prepare(self) -> None:
        try:
            if self._read_only:
                self._writer.execute("SELECT count(*) FROM migration").fetchone()
                return
            self._writer.execute("PRAGMA journal_mode = WAL")
            self._writer.execute("PRAGMA synchronous = NORMAL")
            migrate(self._writer, self.path)
        except BaseException:
            self.close()
            raise

    @contextmanager
    def writing(self) -> Iterator[sqlite3.Connection]:
        """One transaction, all or nothing; the next writer waits. Raises ManualWrong for a fault of file or disk."""
        with self._turn, told(self.path):
            self._writer.execute("BEGIN IMMEDIATE")
            try:
                yield self._writer
            except BaseException:
                # SQLite has already rolled back after a full disk
                if self._writer.in_transaction:
                    self._writer.execute("ROLLBACK")
                raise
            try:
                self._writer.execute("COMMIT")
            except sqlite3.Error:
                if self._writer.in_transaction:
                    self._writer.execute("ROLLBACK")
                raise

    @contextmanager
    def reading(self) -> Iterator[sqlite3.Connection]:
        """A connection of this thread that sees what was last committed. Raises ManualWrong for a fault of the file."""
        with told(self.path):
            db: sqlite3.Connection | None = getattr(self._own, "db", None)
            if db is None:
                db = self._connect()
                self._own.db = db
            yield db

    def close(self) -> None:
        """Close every connection; the write-ahead log is folded into the file."""
        for db in self._all:
            db.close()
        self._all.clear()
        self._own = threading.local()


@contextmanager
def _readable(path: Path) -> Iterator[None]:
    try:
        yield
    except OSError as fault:
        raise ManualWrong(
            f"The manual {path} cannot be read: {fault.strerror}.", "Check the permissions of the file."
        ) from fault
