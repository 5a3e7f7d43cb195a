"""What the store keeps of each sheet: its source, what became of it, and by which key it is still current."""

from __future__ import annotations

import hashlib
import json
import os
import sqlite3
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path

from digitize.errors import ManualWrong, NotFound
from digitize.sheet.state import Scan, SheetFacts
from digitize.store.saved import facts_form, table_form, wiring_form
from digitize.tables.state import SheetTable
from digitize.wiring.state import SheetWiring


@dataclass(frozen=True, slots=True)
class SheetRecord:
    """One line of the manual's list of sheets.

    Attributes:
        id, number: the sheet's id and its place in the manual's order, from 1.
        file, page: the source file's name (without folder) and the 0-based page in it.
        sha256, key: of the source file, and of everything its result depends on.
        kind: one of ``sheet.state.SHEET_KINDS``; None for a failed sheet.
        failed, advice: why it failed and what to do; None for a sheet that was read.
        seconds: per stage.
    """

    id: str
    number: int
    file: str
    page: int
    sha256: str
    dpi: float | None
    key: str
    kind: str | None
    failed: str | None
    advice: str | None
    stages: dict[str, str]
    seconds: dict[str, float]
    saved: str


@dataclass(frozen=True, slots=True)
class SheetResult:
    """What one sheet came to; all None for a failed one. A diagram has ``wiring``, a table page has ``table``."""

    record: SheetRecord
    facts: SheetFacts | None = None
    wiring: SheetWiring | None = None
    table: SheetTable | None = None


@dataclass(frozen=True, slots=True)
class Outcome:
    """What is to be saved for one sheet: a result, or ``failed`` with ``advice``.

    ``stages`` maps a stage to the version that ran, ``seconds`` a stage to how long it took.
    """

    facts: SheetFacts | None = None
    wiring: SheetWiring | None = None
    table: SheetTable | None = None
    failed: str | None = None
    advice: str | None = None
    stages: dict[str, str] = field(default_factory=dict)
    seconds: dict[str, float] = field(default_factory=dict)


_COLUMNS = "id, number, file, page, sha256, dpi, key, kind, failed, advice, stages, seconds, saved"


def result_key(sha256: str, page: int, conventions: str, version: str) -> str:
    """The key under which a sheet's result stays current: hex SHA-256 over everything the result depends on.

    Args:
        sha256: of the source file.
        page: the 0-based page in it.
        conventions: any text that says all of the conventions used (they are hashed).
        version: of the program, with those of its readers.
    """
    parts = json.dumps([sha256, page, hashlib.sha256(conventions.encode()).hexdigest(), version])
    return hashlib.sha256(parts.encode()).hexdigest()


def write(db: sqlite3.Connection, scan: Scan, number: int, key: str, outcome: Outcome) -> None:
    """Save (or replace) one sheet; the source file's bytes go in too, so that the manual can leave its folder.

    Raises ManualWrong when the source file cannot be read.
    """
    file = Path(scan.path)
    name = os.fsencode(file.name).decode(
        "utf-8", "replace"
    )  # a file system's bytes need not be UTF-8, the manual's are
    known = db.execute("SELECT 1 FROM source WHERE sha256 = ?", (scan.sha256,)).fetchone()
    if known is None:
        try:
            content = file.read_bytes()
        except OSError as fault:
            raise ManualWrong(
                f"The page {file} cannot be kept in the manual: {fault.strerror}.", "Check the file."
            ) from fault
        db.execute("INSERT INTO source VALUES (?, ?, ?)", (scan.sha256, name, content))
    facts = None if outcome.facts is None else facts_form().dump_json(outcome.facts).decode()
    wiring = None if outcome.wiring is None else wiring_form().dump_json(outcome.wiring).decode()
    table = None if outcome.table is None else table_form().dump_json(outcome.table).decode()
    db.execute("DELETE FROM sheet WHERE id = ?", (scan.sheet,))
    db.execute(
        "INSERT INTO sheet (id, number, file, page, sha256, dpi, rights, key, kind, facts, wiring, chart, stages, seconds,"
        " failed, advice, saved) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        (
            scan.sheet, number, name, scan.page, scan.sha256, scan.dpi, scan.rights, key,
            None if outcome.facts is None else outcome.facts.kind, facts, wiring, table, json.dumps(outcome.stages),
            json.dumps(outcome.seconds), outcome.failed, outcome.advice, datetime.now(UTC).isoformat(timespec="seconds"),
        ),
    )  # fmt: skip


def forget(db: sqlite3.Connection, sheet: str) -> None:
    """Take a sheet out, with its tiles, and its source when no other sheet comes from it."""
    for table in ("pyramid", "tile"):
        db.execute(f"DELETE FROM {table} WHERE sheet = ?", (sheet,))  # noqa: S608  the names stand above
    db.execute("DELETE FROM sheet WHERE id = ?", (sheet,))
    db.execute("DELETE FROM source WHERE sha256 NOT IN (SELECT sha256 FROM sheet)")


def records(db: sqlite3.Connection) -> tuple[SheetRecord, ...]:
    """All sheets in the manual's order."""
    return tuple(_record(row) for row in db.execute(f"SELECT {_COLUMNS} FROM sheet ORDER BY number, id"))  # noqa: S608


def result(db: sqlite3.Connection, sheet: str) -> SheetResult:
    """What a sheet came to. Raises NotFound."""
    row = db.execute(f"SELECT {_COLUMNS}, facts, wiring, chart FROM sheet WHERE id = ?", (sheet,)).fetchone()  # noqa: S608
    if row is None:
        raise NotFound(f"There is no sheet {sheet} in the manual.", "List its sheets to see their ids.")
    record, (facts, wiring, table) = _record(row[:-3]), row[-3:]
    return SheetResult(
        record,
        None if facts is None else facts_form().validate_json(facts),
        None if wiring is None else wiring_form().validate_json(wiring),
        None if table is None else table_form().validate_json(table),
    )


def facts_of(db: sqlite3.Connection, sheet: str) -> SheetFacts | None:
    """Only a sheet's facts; None for a failed or unknown sheet."""
    row = db.execute("SELECT facts FROM sheet WHERE id = ?", (sheet,)).fetchone()
    return None if row is None or row[0] is None else facts_form().validate_json(row[0])


def _record(row: tuple[object, ...]) -> SheetRecord:
    values = list(row)
    values[10], values[11] = json.loads(str(row[10])), json.loads(str(row[11]))
    return SheetRecord(*values)  # type: ignore[arg-type]  # the columns are named in the record's own order
