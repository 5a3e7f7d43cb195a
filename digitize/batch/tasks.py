"""The work of one sheet as a small picklable task, and what a worker does with it."""

from __future__ import annotations

import json
import time
from collections.abc import Callable
from dataclasses import dataclass, field, is_dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any, TypeVar

from digitize.batch.looked import Looked, remembering
from digitize.harness.edits import TeachSymbol
from digitize.legend.conventions import Conventions
from digitize.pipeline import SheetReading, look_at, read_sheet, say_what
from digitize.reading.readers import Readers, probe_readers
from digitize.sheet.state import Scan, Sheet, SheetFacts, SheetHints
from digitize.wiring.proposed_size import agrees

State = TypeVar("State")


@dataclass(frozen=True, slots=True)
class ReadTask:
    """Paths, numbers and what the user stated.

    ``work_folder`` keeps every intermediate as a named file, or is None. ``looked``: a file of the run's own; when it is
    there, the page is not looked at again but read from it, otherwise the look is kept in it.
    """

    scan: Scan
    hints: SheetHints
    conventions: Conventions
    work_folder: str | None = None
    looked: str | None = None

    @property
    def sheet(self) -> str:
        """The sheet's id, unique in the run."""
        return self.scan.sheet


@dataclass(frozen=True, slots=True)
class TimedReading:
    """A sheet's reading with the seconds of each stage, in their order, and the readers that saw it."""

    reading: SheetReading
    seconds: tuple[tuple[str, float], ...]
    readers: tuple[str, ...]


@dataclass(slots=True)
class StageClock:
    """Times every stage; with a folder it keeps what came out as ``<sheet>_<stage>.png`` or ``.json``."""

    sheet: str
    folder: Path | None
    seconds: list[tuple[str, float]] = field(default_factory=list)

    def stage(self, name: str, work: Callable[[], State]) -> State:
        """Run ``work`` on the clock and give back its result."""
        began = time.perf_counter()
        state = work()
        self.seconds.append((name, time.perf_counter() - began))
        if self.folder is not None:
            keep(self.folder, self.sheet, name, state)
        return state


def read_task(task: ReadTask) -> TimedReading:
    """Runs in a worker: one sheet, all stages."""
    readers = _readers()
    folder = Path(task.work_folder) if task.work_folder else None
    clock = StageClock(task.sheet, folder)
    if task.looked is None:
        reading = read_sheet(task.scan, task.hints, task.conventions, readers, clock)
    else:
        reading = _read_looked(task, Path(task.looked), readers, clock)
    return TimedReading(reading, tuple(clock.seconds), readers.names)


def _read_looked(task: ReadTask, kept: Path, readers: Readers, clock: StageClock) -> SheetReading:
    """The sheet from what an earlier look of this run kept of it, or with a look that is kept."""
    if kept.exists():
        looked = clock.stage("again", lambda: Looked.load(kept))
        if _in_size(looked.marks.sheet.facts, task.hints):
            return say_what(
                looked.marks, task.hints, task.conventions, remembering(readers, looked.first, looked.second), clock
            )
    looked = Looked(look_at(task.scan, task.hints, clock), {}, {})
    with_memory = remembering(readers, looked.first, looked.second)
    reading = say_what(looked.marks, task.hints, task.conventions, with_memory, clock)
    try:
        looked.save(kept)
    except OSError:  # a full disk: the second look then looks for itself, nothing is lost but time
        kept.unlink(missing_ok=True)
    return reading


def _in_size(facts: SheetFacts, hints: SheetHints) -> bool:
    """False when the page was looked at in another size than is known by now: the look must be made anew."""
    width, height = hints.page_width, hints.page_height
    return width is None or height is None or agrees(facts, (width, height))


@lru_cache(maxsize=1)
def _readers() -> Readers:
    """Probed once in each worker process."""
    return probe_readers()


def hints_for(conventions: Conventions, number: int, lessons: tuple[TeachSymbol, ...] = ()) -> SheetHints:
    """What the conventions say about page ``number`` (from 1, in manual order), with the symbols that were taught."""
    zones = conventions.zones
    kind = conventions.kind_of_page(number)
    size = conventions.page_size_mm
    before = [p for p in conventions.pages if p.kind == "diagram" and p.page <= number]
    return SheetHints(
        page_width=size[0] if size else None,
        page_height=size[1] if size else None,
        across=zones.across,
        down=zones.down,
        columns=zones.columns,
        rows=zones.rows,
        first_column=zones.first_across,
        first_row=zones.first_down,
        letters_skipped=tuple(zones.skipped) if zones.across or zones.down else None,
        labels_at=zones.labels_at or None,
        continues=zones.continues,
        diagram_number=len(before) if kind == "diagram" else None,
        kind=kind,
        lessons=lessons,
    )


def keep(folder: Path, sheet: str, stage: str, state: object) -> None:
    """Write a stage's result as a named file: a flat sheet as a picture, everything else as JSON without its pixels."""
    folder.mkdir(parents=True, exist_ok=True)
    if isinstance(state, Sheet):
        from PIL import Image  # noqa: PLC0415  only for kept work

        Image.fromarray(state.grey).save(folder / f"{sheet}_{stage}.png")
        return
    plain = _plain(state)
    if plain is not None:
        (folder / f"{sheet}_{stage}.json").write_text(json.dumps(plain, indent=1, ensure_ascii=False), encoding="utf-8")


def _plain(state: object) -> Any:
    """A state as JSON values; pixels and sheets inside it are left out. None when nothing is left."""
    if isinstance(state, Sheet):
        return {"sheet": state.facts.sheet}
    if is_dataclass(state) and not isinstance(state, type):
        return {name: _plain(getattr(state, name)) for name in state.__dataclass_fields__}
    if isinstance(state, tuple | list):
        return [_plain(v) for v in state]
    if isinstance(state, dict):
        return {str(k): _plain(v) for k, v in state.items()}
    return state if isinstance(state, str | int | float | bool) else None
