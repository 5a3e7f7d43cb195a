"""Digitize a folder of pages in memory, page by page through the pool: what ``predict`` and ``bench`` share."""

from __future__ import annotations

import re
import sys
import tempfile
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from digitize.batch.pool import run_sheets
from digitize.batch.state import SheetOutcome
from digitize.batch.tasks import ReadTask, TimedReading, hints_for, read_task
from digitize.errors import DigitizeError
from digitize.harness.model import Harness
from digitize.legend.conventions import Conventions, conventions_from, load_conventions
from digitize.pipeline import bind_manual, proposed_by
from digitize.sheet.sources import find_scans
from digitize.sheet.state import Scan
from digitize.wiring.binding import EvidenceUsed
from digitize.wiring.proposed_size import to_look_again
from scripts.neutral_prediction import Pages
from scripts.section_conventions import own_form

NO_EVIDENCE = EvidenceUsed(chart=False, index=False, habits=False, repeats=False)
RIGHTS = "Pages of a test section; they stay on this machine."


@dataclass(frozen=True, slots=True)
class Digitized:
    """A section as read: the harness, the way back to the scans, and what every page cost.

    ``unread``: pages that failed; ``conventions``: those used, stated or worked out.
    """

    harness: Harness
    pages: Pages
    outcomes: tuple[SheetOutcome[TimedReading], ...]
    scans: tuple[Scan, ...]
    unread: int = 0
    conventions: Conventions = field(default_factory=Conventions)

    def drawing_alone(self) -> Digitized:
        """The same pages bound from what is drawn, without chart, index, repeated codes and habits: what evidence lifts."""
        readings = [o.result.reading for o in self.outcomes if o.result is not None]
        return replace(self, harness=bind_manual(readings, self.conventions, RIGHTS, NO_EVIDENCE))


def conventions_of(folder: Path) -> Conventions:
    """``conventions.toml`` in our own form, else ``manual.toml`` translated, else nothing stated."""
    own = folder / "conventions.toml"
    if own.exists():
        return load_conventions(own)
    told = folder / "manual.toml"
    if not told.exists():
        return Conventions()
    try:
        return conventions_from(own_form(tomllib.loads(told.read_text(encoding="utf-8"))), str(told))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError, DigitizeError) as fault:
        print(f"{told}: not used, {fault}", file=sys.stderr)
        return Conventions()


def page_numbers(scans: Sequence[Scan]) -> dict[str, int]:
    """Page numbers by sheet id: the number in the file's name when all names have their own, else the place in order."""
    named = [re.search(r"(\d+)$", scan.sheet) for scan in scans]
    numbers = [int(found[1]) for found in named if found]
    if len(set(numbers)) == len(scans):
        return {scan.sheet: number for scan, number in zip(scans, numbers, strict=True)}
    return {scan.sheet: place for place, scan in enumerate(scans, start=1)}


def digitize_section(folder: Path, jobs: int) -> Digitized:
    """Read all pages of ``folder`` and bind them. Pages that fail are told on stderr and left out."""
    conventions = conventions_of(folder)
    scans, failures = find_scans(folder, RIGHTS)
    for failure in failures:
        print(f"{failure.error.what} {failure.error.advice}", file=sys.stderr)
    numbers = page_numbers(scans)
    if conventions.code.pattern:
        outcomes = _read(scans, numbers, conventions, jobs)
    else:
        # as ``digitize read`` does it: what the first look finds out guides the second
        with tempfile.TemporaryDirectory(prefix="digitize-") as looks:
            outcomes = _read(scans, numbers, conventions, jobs, Path(looks))
            seen = [o.result.reading for o in outcomes if o.result is not None]
            proposed = proposed_by(seen, numbers, conventions).conventions
            sized = to_look_again(conventions, proposed, [r.facts for r in seen])
            if sized is not None:
                outcomes = _read(scans, numbers, sized, jobs, Path(looks))
                seen = [o.result.reading for o in outcomes if o.result is not None]
                proposed = proposed_by(seen, numbers, sized).conventions
            conventions = proposed.model_copy(update={"pages": conventions.pages})
            outcomes = _read(scans, numbers, conventions, jobs, Path(looks))
    readings = [o.result.reading for o in outcomes if o.result is not None]
    harness = bind_manual(readings, conventions, RIGHTS)
    facts = {r.facts.sheet: r.facts for r in readings}
    unread = len(failures) + sum(o.failed is not None for o in outcomes)
    return Digitized(harness, Pages(numbers, facts), outcomes, scans, unread, conventions)


def _read(
    scans: Sequence[Scan], numbers: Mapping[str, int], conventions: Conventions, jobs: int, looks: Path | None = None
) -> tuple[SheetOutcome[TimedReading], ...]:
    """All pages through the pool, in their order. ``looks``: keeps what a first look found for a second one."""
    tasks = [
        ReadTask(
            scan,
            hints_for(conventions, numbers[scan.sheet]),
            conventions,
            looked=str(looks / f"{k:05d}") if looks else None,
        )
        for k, scan in enumerate(scans)
    ]
    done: dict[str, SheetOutcome[TimedReading]] = {}

    def on_result(outcome: SheetOutcome[TimedReading]) -> None:
        done[outcome.sheet] = outcome
        told = outcome.failed.what if outcome.failed else f"{outcome.sheet}: {outcome.seconds:.1f} s"
        print(told, file=sys.stderr)

    run_sheets(tasks, jobs, read_task, on_result)
    return tuple(done[scan.sheet] for scan in scans)
