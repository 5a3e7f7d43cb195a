"""One place that turns what SQLite complains about into one line that a person can act on."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from digitize.errors import ManualWrong

_ADVICE = (
    # (words in SQLite's message, what is wrong with the file, what to do); SQLite has no finer codes than some of these
    ("locked", "is being written by another program", "Wait until that run is over, then try again."),
    ("full", "cannot grow: the disk is full", "Free some space and run the same command again; nothing that was saved is lost."),
    ("readonly", "may not be written", "Give yourself write permission on the file and its folder, or work on a copy."),
    ("not a database", "is not a manual of this program", "Name the .manual file that digitize made."),
    ("malformed", "is damaged", "Restore it from a copy, or digitize the folder again into a new file."),
    ("unable to open", "cannot be opened", "Check the path, and that its folder exists and may be written."),
    ("disk I/O error", "cannot be read or written: the disk reports an error", "Copy the file to another disk and try again."),
    ("too big", "cannot hold a file of this size", "Split the scan into pages below 900 MB each."),
)  # fmt: skip


@contextmanager
def told(path: Path) -> Iterator[None]:
    """Run database work on ``path``; raises ManualWrong for every fault of the file or the disk."""
    try:
        yield
    except sqlite3.Error as fault:
        raise wrong(path, fault) from fault


def wrong(path: Path, fault: sqlite3.Error) -> ManualWrong:
    """The ManualWrong that says what ``fault`` means for a person."""
    words = str(fault)
    for sign, what, advice in _ADVICE:
        if sign in words:
            return ManualWrong(f"The manual {path} {what}.", advice)
    return ManualWrong(
        f"The manual {path} cannot be used: {words}.", "Restore it from a copy, or digitize the folder again."
    )


def refuse_truncated(path: Path) -> None:
    """Raise ManualWrong when the file is shorter than its own header says (SQLite file format, bytes 16 and 28).

    SQLite itself would notice only when the missing part is asked for. Skipped while a write-ahead log stands beside
    the file, because then the header need not be the newest one.
    """
    wal = path.with_name(path.name + "-wal")
    if wal.exists() and wal.stat().st_size:
        return
    size = path.stat().st_size
    with path.open("rb") as file:
        header = file.read(100)
    if not header.startswith(b"SQLite format 3\0") or len(header) < 100:
        raise ManualWrong(
            f"The manual {path} is not a manual of this program.", "Name the .manual file that digitize made."
        )
    page = int.from_bytes(header[16:18], "big")
    page = 65536 if page == 1 else page
    stated = int.from_bytes(header[28:32], "big") * page
    if size < stated:
        raise ManualWrong(
            f"The manual {path} is damaged: {size} of {stated} bytes are there.",
            "Restore it from a copy, or digitize the folder again into a new file.",
        )
