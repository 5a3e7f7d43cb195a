"""What the review desk has done to a manual that exists: pages added beside those it has, and all of it decoded again.

Both work from what the manual keeps. A page that is not touched stays as it is; edits stay in their book.
"""

from __future__ import annotations

import json
import tempfile
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Self

from digitize.batch.at_desk import note_stated, wanted_conventions
from digitize.batch.first_pass import FirstLook
from digitize.batch.looks import keep_look, look_file, looks_folder, make_room
from digitize.batch.manual_run import (
    bind_all,
    failed_source,
    kept_outcome,
    key_for,
    stages_version,
    strangeness,
    take_stated_rights,
)
from digitize.batch.pool import run_sheets
from digitize.batch.progress import Progress
from digitize.batch.state import Failed, SheetOutcome
from digitize.batch.tasks import ReadTask, TimedReading, hints_for, read_task
from digitize.harness.edits_teach import counting
from digitize.legend.conventions import Conventions
from digitize.sheet.parts import gathered
from digitize.sheet.sources import find_scans
from digitize.sheet.state import Scan
from digitize.store.manual import Manual


def decode_again(path: Path, jobs: int, progress: Progress, first: str | None = None) -> None:
    """Decode every page with the conventions that are wanted now, and bind the manual anew.

    Pages of which a look is kept take a second, others are looked at again. ``first``: the sheet that a person looks at:
    it is decoded and bound before all others. Raises ManualWrong, ConventionsWrong.
    """
    with Manual.open(path) as manual, _Reading(manual, jobs, progress) as reading:
        conventions = wanted_conventions(manual)
        take_stated_rights(manual, conventions)
        with tempfile.TemporaryDirectory(prefix="digitize-") as folder:
            old = [
                (scan, number)
                for scan, number in _kept_scans(manual, Path(folder))
                if not manual.is_current(scan.sheet, reading.key(scan, number, conventions))
            ]
            reading.fetch = lambda scan: _fetch(manual, scan)
            now = [pair for pair in old if pair[0].sheet == first]
            progress.begin(len(old), len(manual.sheets()) - len(old))
            for line in _parts_on_their_own(manual, conventions):
                progress.note(line)
            if now and len(old) > 1:
                reading.read(now, conventions)
                bind_all(manual, conventions, reading.version, changed=True)
            reading.read([pair for pair in old if pair not in now or len(old) == 1], conventions)
            bind_all(manual, conventions, reading.version, changed=bool(old))
        progress.end()


def add_pages(path: Path, files: Sequence[Path], jobs: int, progress: Progress) -> None:
    """Read pages into the manual at ``path`` behind those that it has. Raises ManualWrong, ConventionsWrong.

    A page that the manual has already is passed over; another page under the name of one that it has is refused, because
    it would take that one's place.
    """
    with Manual.open(path) as manual, _Reading(manual, jobs, progress) as reading:
        found, broken = find_scans(list(files), manual.rights)
        conventions = wanted_conventions(manual)
        scans, lost = gathered(found, _stated_parts(conventions, found), reading.folder)
        failed = [failed_source(fault) for fault in (*broken, *lost)]
        records = {r.id: r for r in manual.sheets()}
        known = {(r.sha256, r.page) for r in records.values() if r.failed is None}
        new: list[Scan] = []
        for scan in scans:
            if (scan.sha256, scan.page) in known:
                continue
            if scan.sheet in records and records[scan.sheet].failed is None:
                failed.append(_name_taken(scan))
            else:
                new.append(scan)
        for fault in failed:
            progress.failed(fault)
        order = [*records, *(s.sheet for s in new if s.sheet not in records)]
        numbers = {sheet: n for n, sheet in enumerate(order, 1)}
        stated = conventions
        pairs = [(scan, numbers[scan.sheet]) for scan in new]
        if new and not known:
            conventions = _first_look(manual, pairs, conventions, reading)
        progress.begin(len(pairs), len(scans) - len(new))
        read = reading.read(pairs, conventions)
        manual.number_sheets([s for s in order if s in {r.id for r in manual.sheets()}])
        told = [*json.loads(manual.setting("unread") or "[]"), *([f.sheet, f.what, f.advice] for f in failed)]
        manual.set_setting("unread", json.dumps(told, ensure_ascii=False))
        if read:
            if not known:
                note_stated(manual, stated, conventions)
            bind_all(manual, conventions, reading.version, changed=True)
        progress.end()


def _stated_parts(conventions: Conventions, found: Sequence[Scan]) -> dict[str, Sequence[str]]:
    """The sheets in parts that the conventions state (id → file names), as far as one of their parts is among the new files."""
    files = {Path(s.path).name for s in found}
    return {j.sheet: j.parts for j in conventions.joined if files & set(j.parts)}


def _parts_on_their_own(manual: Manual, conventions: Conventions) -> list[str]:
    """A line for every stated sheet whose parts were read as pages of their own before that was stated."""
    files = {r.file for r in manual.sheets() if r.failed is None}
    lines = []
    for joined in conventions.joined:
        alone = [p for p in joined.parts if p in files]
        if alone:
            lines.append(
                f"{joined.sheet}: {', '.join(alone)} {'stands' if len(alone) == 1 else 'stand'} in this manual as pages of "
                "their own. Parts are joined when they are added together: add them to a new manual with these conventions."
            )
    return lines


def bind_now(path: Path) -> None:
    """Bind what was read before a run was stopped. Raises ManualWrong."""
    with Manual.open(path) as manual:
        order = [r.id for r in manual.sheets()]
        manual.number_sheets(order)
        if any(r.failed is None for r in manual.sheets()):
            bind_all(manual, wanted_conventions(manual), stages_version(), changed=True)


def _first_look(
    manual: Manual, pairs: Sequence[tuple[Scan, int]], stated: Conventions, reading: _Reading
) -> Conventions:
    """The first pages of a manual: when nobody said how codes are printed, that is worked out from the pages."""
    numbers = {scan.sheet: number for scan, number in pairs}

    def look(tasks: Sequence[ReadTask]) -> dict[str, SheetOutcome[TimedReading]]:
        reading.progress.begin(len(tasks), 0)
        return reading.outcomes([(t.scan, numbers[t.sheet]) for t in tasks], stated, tell=False)

    def key_of(scan: Scan, conventions: Conventions) -> str:
        return reading.key(scan, numbers[scan.sheet], conventions)

    first = FirstLook(manual, [scan for scan, _ in pairs], numbers, key_of, look, again=False)
    return first.conventions(stated, reading.progress).conventions


class _Reading:
    """Reads sheets into a manual, from their kept looks where there are any; a context that cleans up after itself."""

    def __init__(self, manual: Manual, jobs: int, progress: Progress) -> None:
        self.manual = manual
        self.jobs = jobs
        self.progress = progress
        self.version = stages_version()
        self.lessons = counting(manual.edits())
        self.fetch: Callable[[Scan], None] | None = None
        """Lays a scan's file in its place before it is looked at; None when the files lie there."""
        self._seen: dict[str, Path] = {}
        self._cache = looks_folder()
        self._own = tempfile.TemporaryDirectory(prefix="digitize-", dir=self._cache)

    @property
    def folder(self) -> Path:
        """A folder that lasts as long as the reading."""
        return Path(self._own.name)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self._own.cleanup()
        if self._cache is not None:
            make_room(self._cache)

    def key(self, scan: Scan, number: int, conventions: Conventions) -> str:
        """The key under which the result of a page stays current."""
        return key_for(scan, number, conventions, self.version, self.lessons)

    def read(self, pairs: Sequence[tuple[Scan, int]], conventions: Conventions) -> list[str]:
        """Read sheets (with their numbers) and keep what became of them; gives back those that were read."""
        outcomes = self.outcomes(pairs, conventions)
        return [sheet for sheet, outcome in outcomes.items() if outcome.result is not None]

    def outcomes(
        self, pairs: Sequence[tuple[Scan, int]], conventions: Conventions, *, tell: bool = True
    ) -> dict[str, SheetOutcome[TimedReading]]:
        """The same with what became of each, by sheet. ``tell`` False: faults will come again and are told then."""
        of = {scan.sheet: (scan, number) for scan, number in pairs}
        done: dict[str, SheetOutcome[TimedReading]] = {}
        made: dict[str, tuple[Path, Path | None]] = {}
        tasks = []
        for k, (scan, number) in enumerate(pairs):
            hints = hints_for(conventions, number, self.lessons)
            kept = None if self._cache is None else look_file(self._cache, scan, hints, self.version)
            fresh = Path(self._own.name) / f"{k:05d}-{scan.sheet}"
            look = self._seen.get(scan.sheet) or (kept if kept is not None and kept.exists() else fresh)
            self._seen[scan.sheet] = look
            if self.fetch is not None and not look.exists():
                self.fetch(scan)
            made[scan.sheet] = (look, kept)
            tasks.append(ReadTask(scan, hints, conventions, looked=str(look)))

        def on_result(outcome: SheetOutcome[TimedReading]) -> None:
            scan, number = of[outcome.sheet]
            key = self.key(scan, number, conventions)
            had = next((r for r in self.manual.sheets() if r.id == outcome.sheet and r.failed is None), None)
            done[outcome.sheet] = outcome
            look, kept = made[outcome.sheet]
            if kept is not None:
                keep_look(look, kept)
            if outcome.failed is not None and tell:
                self.progress.failed(outcome.failed)
            if outcome.result is not None or had is None:  # a page that was read once is never lost to a failure
                self.manual.save_sheet(scan, number, key, kept_outcome(outcome, self.version))
            if outcome.result is not None:
                self.progress.page(outcome.sheet, outcome.seconds)
                for line in strangeness(scan, outcome.result.reading):
                    self.progress.note(line)

        run_sheets(tasks, self.jobs, read_task, on_result)
        return done


def _kept_scans(manual: Manual, folder: Path) -> list[tuple[Scan, int]]:
    """Every sheet that was read, with its number and the place in ``folder`` where ``_fetch`` lays its source."""
    return [
        (Scan(r.id, str(folder / r.sha256[:20] / r.file), r.page, r.sha256, r.dpi, manual.rights), r.number)
        for r in manual.sheets()
        if r.failed is None
    ]


def _fetch(manual: Manual, scan: Scan) -> None:
    """Lay a sheet's source file, which the manual keeps, in its place."""
    file = Path(scan.path)
    if not file.exists():
        file.parent.mkdir(exist_ok=True)
        file.write_bytes(manual.source(scan.sheet)[1])


def _name_taken(scan: Scan) -> Failed:
    return Failed(
        scan.sheet,
        f"{Path(scan.path).name}: the manual has another page under this name.",
        "Give the file another name to add it, or read the whole folder again to put it in that page's place.",
    )
