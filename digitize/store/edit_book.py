"""The book of edits: made on a revision, refused when the ground changed, undone and redone without limit."""

from __future__ import annotations

import json
import sqlite3
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from typing import Any

from digitize.harness.checks import find_all
from digitize.harness.edits import Edit, EditRefused, EditStale, Effect, Recorded, Reviewed
from digitize.harness.edits_apply import current, describe, replay, step
from digitize.harness.model import Harness
from digitize.legend.codes import parse_code
from digitize.legend.conventions import Conventions
from digitize.store.saved import edit_form, harness_form


@dataclass(frozen=True, slots=True)
class Change:
    """What an edit, an undo or a redo did: the new ``revision``, the edits moved, and their effects when made."""

    revision: int
    moved: tuple[Recorded, ...]
    effects: tuple[Effect, ...] = ()


def revision_of(db: sqlite3.Connection) -> int:
    """The revision of the manual: grows by one with every digitization, edit, undo and redo."""
    row = db.execute("SELECT value FROM setting WHERE name = 'revision'").fetchone()
    return 0 if row is None else int(row[0])


def next_revision(db: sqlite3.Connection) -> int:
    """Count one more and say which."""
    new = revision_of(db) + 1
    db.execute(
        "INSERT INTO setting VALUES ('revision', ?) ON CONFLICT DO UPDATE SET value = excluded.value", (str(new),)
    )
    return new


def digitized(db: sqlite3.Connection) -> tuple[Harness, int] | None:
    """The harness as last digitized and the revision in which it came; None before the first digitization."""
    row = db.execute("SELECT harness, revision FROM digitized").fetchone()
    return None if row is None else (harness_form().validate_json(row[0]), int(row[1]))


def write_digitized(db: sqlite3.Connection, harness: Harness) -> int:
    """Keep a newly digitized harness in place of the old one; the edits stay. Returns its revision."""
    revision = next_revision(db)
    body = harness_form().dump_json(harness).decode()
    saved = datetime.now(UTC).isoformat(timespec="seconds")
    db.execute("INSERT OR REPLACE INTO digitized VALUES (1, ?, ?, ?)", (body, revision, saved))
    return revision


def all_edits(db: sqlite3.Connection) -> tuple[Recorded, ...]:
    """Every edit that was ever made, in order, undone and dropped ones too."""
    rows = db.execute("SELECT number, grouped, who, made, revision, state, body FROM edit ORDER BY number")
    return tuple(_recorded(row) for row in rows)


def make(
    db: sqlite3.Connection, reviewed: Reviewed, edits: tuple[Edit, ...], who: str, ground: int
) -> tuple[Change, Reviewed]:
    """Make one decision (one or more edits) on ``reviewed``, seen at revision ``ground``.

    Raises:
        EditStale: somebody changed one of the objects after ``ground``.
        EditRefused: an edit does not fit the harness; none of them is made.
    """
    number = 1 + (db.execute("SELECT max(number) FROM edit").fetchone()[0] or 0)
    group = number
    made = datetime.now(UTC).isoformat(timespec="milliseconds")
    db.execute("UPDATE edit SET state = 'dropped' WHERE state = 'undone'")
    revision = next_revision(db)
    moved: list[Recorded] = []
    effects: list[Effect] = []
    for edit in edits:
        _refuse_changed_ground(db, reviewed.harness, edit, ground, group)
        recorded = Recorded(number, group, who, made, ground, "active", edit)
        after = step(reviewed, recorded)
        effect = after.effects[-1][1]
        if effect.status != "applied":
            _refuse_stale(db, (edit.target,), edit, ground, group)
            raise EditRefused(f"This cannot be done: {effect.says}", "Look at the sheet as it is now.")
        _refuse_stale(db, effect.touched, edit, ground, group)
        db.execute(
            "INSERT INTO edit VALUES (?, ?, ?, ?, ?, ?, 'active', ?, ?)",
            (
                number,
                group,
                who,
                made,
                ground,
                revision,
                edit_form().dump_json(edit).decode(),
                json.dumps(effect.touched),
            ),
        )
        moved.append(recorded)
        effects.append(effect)
        reviewed = after
        number += 1
    return Change(revision, tuple(moved), tuple(effects)), reviewed


def take_back(db: sqlite3.Connection, expected: int | None) -> Change | None:
    """Undo the last decision that counts; None when there is none.

    ``expected``: the group the person saw as the last one. Raises EditStale when another decision came after it.
    """
    row = db.execute("SELECT grouped FROM edit WHERE state = 'active' ORDER BY number DESC LIMIT 1").fetchone()
    return None if row is None else _move(db, row[0], expected, "active", "undone")


def bring_back(db: sqlite3.Connection, expected: int | None) -> Change | None:
    """Redo the decision undone last; None when there is none. Raises EditStale like ``take_back``."""
    row = db.execute("SELECT grouped FROM edit WHERE state = 'undone' ORDER BY number LIMIT 1").fetchone()
    return None if row is None else _move(db, row[0], expected, "undone", "active")


def next_to_move(db: sqlite3.Connection) -> tuple[tuple[int, str] | None, tuple[int, str] | None]:
    """(group, description) of what undo would take back and of what redo would bring back."""
    undo = db.execute("SELECT grouped FROM edit WHERE state = 'active' ORDER BY number DESC LIMIT 1").fetchone()
    redo = db.execute("SELECT grouped FROM edit WHERE state = 'undone' ORDER BY number LIMIT 1").fetchone()
    return _told(db, undo), _told(db, redo)


def review(db: sqlite3.Connection, harness: Harness) -> Reviewed:
    """All active edits on the digitized harness, its findings found anew under the manual's conventions."""
    return replay(harness, all_edits(db), lambda h: recheck(db, h))


def recheck(db: sqlite3.Connection, harness: Harness) -> Harness:
    """``harness`` with its findings found anew; as it is when the manual keeps no conventions."""
    row = db.execute("SELECT value FROM setting WHERE name = 'conventions'").fetchone()
    if row is None:
        return harness
    conventions = Conventions.model_validate_json(row[0])
    return replace(harness, findings=find_all(harness, lambda text: parse_code(text, conventions)))


def _recorded(row: tuple[Any, ...]) -> Recorded:
    number, group, who, made, revision, state, body = row
    return Recorded(number, group, who, made, revision, state, edit_form().validate_json(body))


def _told(db: sqlite3.Connection, row: tuple[int] | None) -> tuple[int, str] | None:
    if row is None:
        return None
    bodies = db.execute("SELECT body FROM edit WHERE grouped = ? ORDER BY number", row).fetchall()
    more = f" and {len(bodies) - 1} more like it" if len(bodies) > 1 else ""
    return row[0], describe(edit_form().validate_json(bodies[0][0])) + more


def _move(db: sqlite3.Connection, group: int, expected: int | None, old: str, new: str) -> Change:
    rows = db.execute(
        "SELECT number, grouped, who, made, revision, body FROM edit WHERE grouped = ? ORDER BY number", (group,)
    ).fetchall()
    moved = tuple(_recorded((*row[:5], new, row[5])) for row in rows)
    if expected is not None and expected != group:
        now = f"{describe(moved[0].edit)} (by {moved[0].who}, {moved[0].when})"
        raise EditStale("the decision that you saw as the last one", now)
    revision = next_revision(db)
    db.execute("UPDATE edit SET state = ?, changed = ? WHERE grouped = ? AND state = ?", (new, revision, group, old))
    return Change(revision, moved)


def _refuse_stale(db: sqlite3.Connection, touched: tuple[str, ...], edit: Edit, ground: int, group: int) -> None:
    """Refuse when an edit made, undone or redone after ``ground`` touched one of the same objects."""
    rows = db.execute(
        "SELECT who, made, state, body, touched FROM edit WHERE changed > ? AND grouped <> ?", (ground, group)
    )
    for who, made, state, body, theirs in rows.fetchall():
        if set(touched) & set(json.loads(theirs)):
            back = "" if state == "active" else "taken back: "
            raise EditStale(describe(edit), f"{back}{describe(edit_form().validate_json(body))} (by {who}, {made})")


def _refuse_changed_ground(db: sqlite3.Connection, harness: Harness, edit: Edit, ground: int, group: int) -> None:
    """Refuse when a digitization after ``ground`` made the object say something else than what the person saw."""
    row = db.execute("SELECT revision FROM digitized").fetchone()
    if row is None or row[0] <= ground:
        return
    now = current(harness, edit)
    if now is not None and now != edit.anchor.seen:
        _refuse_stale(db, (edit.target,), edit, ground, group)
        raise EditStale(describe(edit), f"newly digitized as “{now}”")
