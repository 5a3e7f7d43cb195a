"""A folder of pages into one manual file: only what is new or changed is read, then all sheets are bound into a harness."""

from __future__ import annotations

import hashlib
import json
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import digitize
from digitize.batch.at_desk import corrected_at_desk, note_stated
from digitize.batch.first_pass import FirstLook, FirstPass
from digitize.batch.looks import keep_look, look_file, looks_folder, make_room
from digitize.batch.pool import run_sheets
from digitize.batch.progress import Progress
from digitize.batch.state import Failed, SheetOutcome
from digitize.batch.tasks import ReadTask, TimedReading, hints_for, read_task
from digitize.errors import CalledWrongly, NotFound, NothingToRead
from digitize.harness.edits import TeachSymbol
from digitize.harness.edits_teach import counting
from digitize.legend.conventions import Conventions
from digitize.pipeline import SheetReading, bind_manual
from digitize.reading.readers import NO_GENERAL_NETWORK, probe_readers
from digitize.sheet.parts import gathered, may_be_a_part, parts_proposed
from digitize.sheet.sources import SourceFailure, find_scans, natural_key
from digitize.sheet.state import Scan
from digitize.store.manual import Manual
from digitize.store.sheets import Outcome, SheetRecord, result_key

READING_ROOMS = ("legend", "sheet", "ink", "reading", "tables", "wiring")
"""Rooms whose code decides what a page says; a change in them makes every kept result old."""

FEW = 6
"""A page with fewer lines, table rows and sure words together is told as strange (own choice)."""


@dataclass(frozen=True, slots=True)
class RunRequest:
    """What the user asked for. ``rights`` None: what the manual already says, else what the conventions say.

    ``drop``: sheets to take out of the manual, none of them among the pages given.
    """

    places: tuple[Path, ...]
    into: Path
    conventions: Conventions
    rights: str | None
    jobs: int
    again: bool = False
    work_folder: Path | None = None
    drop: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class RunSummary:
    """What a run did. ``left_over``: sheets of the manual that are not among the pages given; they are kept.

    ``dropped``: sheets that were taken out, as asked for.
    """

    read: tuple[str, ...]
    unchanged: tuple[str, ...]
    failed: tuple[Failed, ...]
    left_over: tuple[str, ...]
    dropped: tuple[str, ...] = ()


def digitize_into(request: RunRequest, progress: Progress) -> RunSummary:
    """Read the pages of ``request`` into its manual file and bind them.

    Raises CalledWrongly when the folder for intermediates cannot be made, NothingToRead when no page at all could be read
    (a manual file begun for this run is then removed), NotFound when a sheet to take out is not in the manual, CalledWrongly
    also when it is among the pages given, and ManualWrong when the manual file cannot be used.
    """
    rights = request.rights if request.rights is not None else request.conventions.rights
    scans, broken = find_scans(list(request.places), rights or "")
    failed = [failed_source(fault) for fault in broken]
    for fault in failed:
        progress.failed(fault)
    is_new = not request.into.exists()
    if is_new and not scans:
        raise NothingToRead(*_nothing(len(failed)))
    if is_new and request.drop:
        raise NotFound(
            f"{request.into} is a new manual: {request.drop[0]} cannot be taken out of it.", "Leave --drop out."
        )
    if request.work_folder:
        _make_folder(request.work_folder)
    manual = Manual.create(request.into, "") if is_new else Manual.open(request.into)
    try:
        with manual, tempfile.TemporaryDirectory(prefix="digitize-", dir=looks_folder()) as looks:
            if request.rights is not None:
                manual.set_setting("rights", request.rights)
            else:
                take_stated_rights(manual, request.conventions)
            summary = _read_and_bind(request, manual, scans, broken, failed, progress, Path(looks))
    except NothingToRead:
        if is_new:
            request.into.unlink(missing_ok=True)
        raise
    return summary


def _read_and_bind(
    request: RunRequest,
    manual: Manual,
    scans: Sequence[Scan],
    broken: Sequence[SourceFailure],
    failed: list[Failed],
    progress: Progress,
    looks: Path,
) -> RunSummary:
    stated = {j.sheet: j.parts for j in request.conventions.joined}
    scans, lost = gathered(scans, stated, looks)
    for fault in lost:
        failed.append(failed_source(fault))
        progress.failed(failed[-1])
    dropped = _checked_drops(request, manual, scans)
    gone = [record for record in _gone(manual, scans) if record.id not in dropped]
    numbers = page_numbers(request.places, scans, broken, gone)
    for line in _same_pictures(scans):
        progress.note(line)
    version = stages_version()
    lessons = counting(manual.edits())

    by_sheet = {scan.sheet: scan for scan in scans}
    work_folder = str(request.work_folder) if request.work_folder else None
    if request.work_folder:
        (request.work_folder / "RIGHTS.txt").write_text(f"{manual.rights}\n", encoding="utf-8")
    look_of = {scan.sheet: str(looks / f"{k:05d}") for k, scan in enumerate(scans)}

    def key_of(scan: Scan, conventions: Conventions) -> str:
        return key_for(scan, numbers[scan.sheet], conventions, version, lessons)

    def keep(outcome: SheetOutcome[TimedReading], conventions: Conventions) -> None:
        scan = by_sheet[outcome.sheet]
        manual.save_sheet(scan, numbers[scan.sheet], key_of(scan, conventions), kept_outcome(outcome, version))

    def look(tasks: Sequence[ReadTask]) -> dict[str, SheetOutcome[TimedReading]]:
        seen: dict[str, SheetOutcome[TimedReading]] = {}

        def on_look(outcome: SheetOutcome[TimedReading]) -> None:
            seen[outcome.sheet] = outcome
            keep(outcome, request.conventions)
            progress.page(outcome.sheet, outcome.seconds)

        progress.begin(len(tasks), 0)
        try:
            kept = [replace(t, work_folder=work_folder, looked=look_of[t.sheet]) for t in tasks]
            run_sheets(kept, request.jobs, read_task, on_look)
        finally:
            progress.end()
        return seen

    corrected, superseded = corrected_at_desk(manual, request.conventions)
    if superseded:
        progress.note("The conventions file was changed after the desk's corrections to them; now the file counts.")
    if corrected is None:
        first_look = FirstLook(manual, scans, numbers, key_of, look, request.again)
        first = first_look.conventions(request.conventions, progress)
    else:
        first = FirstPass(corrected, {})
    conventions = first.conventions
    cache = looks_folder()
    tasks: list[ReadTask] = []
    unchanged: list[str] = []
    look_kept: dict[str, Path | None] = {}
    for scan in scans:
        hints = hints_for(conventions, numbers[scan.sheet], lessons)
        kept = None if cache is None else look_file(cache, scan, hints, version)
        look_kept[scan.sheet] = kept
        old = kept if kept is not None and kept.exists() and not request.again else None
        task = ReadTask(scan, hints, conventions, work_folder, str(old or look_of[scan.sheet]))
        current = manual.is_current(scan.sheet, key_of(scan, conventions)) and scan.sheet not in first.outcomes
        if current and not request.again:
            unchanged.append(scan.sheet)
        else:
            tasks.append(task)
    read: list[str] = []
    frameless: set[str] = set()
    progress.begin(len(tasks), len(unchanged))
    for line in probe_readers().notes if tasks else ():
        if line != NO_GENERAL_NETWORK:  # that one is an extra; the report names the readers there were
            progress.note(line)

    def on_result(outcome: SheetOutcome[TimedReading]) -> None:
        sheet = outcome.sheet
        keep(outcome, conventions)
        if outcome.failed is not None:
            failed.append(outcome.failed)
            progress.failed(outcome.failed)
        elif outcome.result is not None:
            read.append(sheet)
            progress.page(sheet, outcome.seconds)
            if may_be_a_part(outcome.result.reading.facts):
                frameless.add(sheet)
            for line in strangeness(by_sheet[sheet], outcome.result.reading):
                progress.note(line)

    try:
        for task in tasks:
            if task.sheet in first.outcomes:
                on_result(first.outcomes[task.sheet])
        run_sheets([t for t in tasks if t.sheet not in first.outcomes], request.jobs, read_task, on_result)
    finally:
        progress.end()
        for sheet, kept in look_kept.items():
            if kept is not None:
                keep_look(Path(look_of[sheet]), kept)
        if cache is not None:
            make_room(cache)
    for line in parts_proposed(scans, frameless):
        progress.note(line)
    order = [scan.sheet for scan in scans]
    known = [record.id for record in manual.sheets()]
    left_over = [sheet for sheet in known if sheet not in by_sheet and sheet not in dropped]
    counted = sorted([*order, *left_over], key=lambda sheet: numbers.get(sheet, len(numbers) + 1))
    manual.number_sheets(counted)
    manual.set_setting("unread", json.dumps([[f.sheet, f.what, f.advice] for f in failed], ensure_ascii=False))
    if not read and not unchanged and not left_over:
        raise NothingToRead(*_nothing(len(failed)))
    for sheet in dropped:
        manual.forget_sheet(sheet)
    note_stated(manual, request.conventions, None if corrected is not None else conventions)
    bind_all(manual, conventions, version, changed=bool(read))
    return RunSummary(tuple(sorted(read, key=order.index)), tuple(unchanged), tuple(failed), tuple(left_over), dropped)


def _make_folder(folder: Path) -> None:
    """Make the folder for intermediates before anything else is begun. Raises CalledWrongly when it cannot be."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as fault:
        raise CalledWrongly(
            f"The folder {folder} for --keep-work cannot be made: {fault.strerror}.",
            "Move what is there, or make room.",
        ) from fault


def take_stated_rights(manual: Manual, conventions: Conventions) -> None:
    """Make the note in the conventions the manual's, when it has none or the one in the conventions changed.

    A note that was given by hand is not replaced by one that stood in the conventions all along.
    """
    used = manual.setting("conventions")
    before = None if used is None else Conventions.model_validate_json(used).rights
    if conventions.rights and (not manual.setting("rights") or conventions.rights != before):
        manual.set_setting("rights", conventions.rights)


def bind_all(manual: Manual, conventions: Conventions, version: str, *, changed: bool) -> None:
    """Bind all sheets anew when anything that goes into the harness changed since it was last bound."""
    records = manual.sheets()
    ground = json.dumps(
        [conventions.model_dump_json(), manual.rights, version, [[r.id, r.key] for r in records if not r.failed]]
    )
    digest = hashlib.sha256(ground.encode()).hexdigest()
    if not changed and manual.setting("bound") == digest:
        return
    readings = []
    for record in records:
        if record.failed is None:
            kept = manual.sheet_result(record.id)
            if kept.facts is not None:
                readings.append(SheetReading(kept.facts, kept.wiring, kept.table))
    manual.save_harness(bind_manual(readings, conventions, manual.rights))
    manual.set_setting("bound", digest)
    manual.set_setting("readers", json.dumps(probe_readers().names))
    manual.set_setting("conventions", conventions.model_dump_json())


def key_for(
    scan: Scan, number: int, conventions: Conventions, version: str, lessons: tuple[TeachSymbol, ...] = ()
) -> str:
    """The key under which the result of page ``number`` stays current (see ``store.sheets.result_key``)."""
    hints = hints_for(conventions, number, lessons)
    said = conventions.model_dump_json(exclude={"pages", "joined", "vehicle", "rights"}) + repr(hints)
    return result_key(scan.sha256, scan.page, said, version)


def _gone(manual: Manual, scans: Sequence[Scan]) -> list[SheetRecord]:
    """Pages that the manual has and that are not among those given, though others of it are: the folder lost them."""
    given = {scan.sheet for scan in scans}
    records = manual.sheets()
    return [r for r in records if r.id not in given] if any(r.id in given for r in records) else []


def _checked_drops(request: RunRequest, manual: Manual, scans: Sequence[Scan]) -> tuple[str, ...]:
    """The sheets to take out, each once. Raises NotFound and CalledWrongly before anything is read."""
    known = [record.id for record in manual.sheets()]
    given = {scan.sheet for scan in scans}
    for sheet in request.drop:
        if sheet not in known:
            raise NotFound(
                f"There is no sheet {sheet} in {request.into} to take out.", f"Its sheets are: {', '.join(known)}."
            )
        if sheet in given:
            raise CalledWrongly(
                f"{sheet} is among the pages given, so it cannot be taken out.",
                "Take its file out of the folder first.",
            )
    return tuple(dict.fromkeys(request.drop))


def _same_pictures(scans: Sequence[Scan]) -> list[str]:
    """A line for every page that is the very same picture as one before it."""
    first: dict[tuple[str, int], str] = {}
    lines = []
    for scan in scans:
        other = first.setdefault((scan.sha256, scan.page), scan.sheet)
        if other != scan.sheet:
            lines.append(
                f"{scan.sheet} is the same picture as {other}: both are read, so all on it counts twice. Take one away "
                f"and read again, with --drop {scan.sheet} or --drop {other}, whichever it is."
            )
    return lines


def page_numbers(
    places: Sequence[Path], scans: Sequence[Scan], broken: Sequence[SourceFailure], gone: Sequence[SheetRecord] = ()
) -> dict[str, int]:
    """The number of each sheet, from 1 in the order of the files.

    A page that could not be opened keeps its number, and so does one of those ``gone`` from the folder since it was read.
    """
    folder = next((p for p in places if p.is_dir()), places[0].parent)
    files = [((scan.parts or (scan.path,))[0], scan.page, scan.sheet) for scan in scans]
    files += [(str(b.path), b.page, "") for b in broken]
    files += [(str(folder / r.file), r.page, r.id) for r in gone]

    def rank(item: tuple[str, int, str]) -> tuple[int, object, int]:
        path = Path(item[0])
        place = next((i for i, p in enumerate(places) if p in {path, path.parent}), len(places))
        return place, natural_key(path), item[1]

    return {sheet: n for n, (_, _, sheet) in enumerate(sorted(files, key=rank), start=1) if sheet}


def stages_version() -> str:
    """What made a result: the program's version, the readers, and a hash over the code that decides what a page says."""
    code = hashlib.sha256()
    home = Path(digitize.__file__).parent
    for room in READING_ROOMS:
        for source in sorted((home / room).rglob("*")):
            if source.suffix in {".py", ".onnx", ".json"}:
                code.update(source.read_bytes())
    return f"{digitize.__version__} {' '.join(probe_readers().names)} {code.hexdigest()[:16]}"


def strangeness(scan: Scan, reading: SheetReading) -> list[str]:
    """One sentence when a page was read but is not what one expects of a wiring page."""
    name = Path(scan.path).name + (f", page {scan.page + 1}" if scan.page else "")
    table, wiring = reading.table, reading.wiring
    lines = len(wiring.runs) if wiring else 0
    rows = len(table.chart) + len(table.index) + len(table.legend) if table else 0
    texts = wiring.texts if wiring else table.texts if table else ()
    words = sum(len(t.text) >= 3 and t.probability >= 0.8 for t in texts)
    if lines + rows + words < FEW:
        return [f"{name}: next to nothing of a wiring page was found on it. Take it out of the folder if it is none."]
    if reading.wiring is not None and reading.facts.frame is None:
        return [
            f"{name}: it has no printed frame, so its zones are only nominal. Cropped scans lose it; scan the whole page."
        ]
    return []


def kept_outcome(outcome: SheetOutcome[TimedReading], version: str) -> Outcome:
    """What the manual keeps of one sheet's outcome."""
    if outcome.result is None:
        fault = outcome.failed
        return Outcome(failed=fault.what if fault else "no result", advice=fault.advice if fault else "")
    reading = outcome.result.reading
    seconds = dict(outcome.result.seconds)
    return Outcome(
        facts=reading.facts,
        wiring=reading.wiring,
        table=reading.table,
        stages=dict.fromkeys(seconds, version),
        seconds=seconds,
    )


def failed_source(fault: SourceFailure) -> Failed:
    """A file that is no page, as a sheet that failed."""
    return Failed(Path(fault.path).stem, fault.error.what, fault.error.advice)


def _nothing(failed: int) -> tuple[str, str]:
    return f"None of the {failed} pages could be read.", "The lines above say why, page by page."
