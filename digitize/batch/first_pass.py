"""A manual without stated conventions is looked at twice: what the first look finds out about it guides the second.

The proposal is kept in the manual with what speaks for each line, for a person to confirm (``digitize conventions``).
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from digitize.batch.progress import Progress
from digitize.batch.state import SheetOutcome
from digitize.batch.tasks import ReadTask, TimedReading, hints_for
from digitize.harness.edits_teach import counting
from digitize.legend.conventions import Conventions
from digitize.pipeline import SheetReading, proposed_by
from digitize.sheet.state import Scan
from digitize.store.manual import Manual

Look = Callable[[Sequence[ReadTask]], Mapping[str, SheetOutcome[TimedReading]]]
"""Reads sheets, keeps their results in the manual, and gives back what became of each, by its id."""

KeyOf = Callable[[Scan, Conventions], str]
"""The key of a scan's result under some conventions (``store.sheets.result_key``)."""


@dataclass(frozen=True, slots=True)
class FirstPass:
    """The conventions to read with. ``outcomes``: sheets that were read just now with these very conventions, by id."""

    conventions: Conventions
    outcomes: Mapping[str, SheetOutcome[TimedReading]]


@dataclass(frozen=True, slots=True)
class FirstLook:
    """What a first look needs to know. ``numbers``: page of each sheet; ``again``: take nothing from an earlier run."""

    manual: Manual
    scans: Sequence[Scan]
    numbers: Mapping[str, int]
    key_of: KeyOf
    look: Look
    again: bool

    def conventions(self, stated: Conventions, progress: Progress) -> FirstPass:
        """What is stated when that says how codes are printed; otherwise what the pages propose, beside what is stated.

        The proposal is kept with the pages that it came from, and made anew when one of them changes. Sheets that an
        earlier run has read, with what is stated or with its proposal, are not looked at again.
        """
        if stated.code.pattern or not self.scans:
            self.manual.set_setting("proposed", "")
            return FirstPass(stated, {})
        before = self.manual.setting("proposed_use")
        earlier = [Conventions.model_validate_json(before)] if before and not self.again else []
        ground = [stated.model_dump_json(), sorted((s.sheet, self.key_of(s, stated)) for s in self.scans)]
        digest = hashlib.sha256(json.dumps(ground).encode()).hexdigest()
        if earlier and self.manual.setting("proposed_from") == digest:
            return FirstPass(earlier[0], {})
        kept = {} if self.again else self._kept([stated, *earlier])
        left = [scan for scan in self.scans if scan.sheet not in kept]
        lessons = counting(self.manual.edits())
        hints = [hints_for(stated, self.numbers[scan.sheet], lessons) for scan in left]
        outcomes = self.look([ReadTask(scan, hint, stated) for scan, hint in zip(left, hints, strict=True)])
        readings = [*kept.values(), *(o.result.reading for o in outcomes.values() if o.result is not None)]
        readings.sort(key=lambda r: self.numbers[r.facts.sheet])
        proposed = proposed_by(readings, self.numbers, stated)
        # kinds of pages are seen anew on each page, so that a page put in between makes no other one old
        used = proposed.conventions.model_copy(update={"pages": stated.pages})
        # a grid alone is settled from each frame just as well
        found_more = used.model_copy(update={"zones": stated.zones}) != stated
        used = used if found_more else stated
        if found_more:
            progress.note(
                "The conventions do not say how codes are printed, so they were worked out from the pages. "
                "Look at them, correct them and keep them: digitize conventions FILE --to conventions.toml"
            )
        self.manual.set_setting("proposed", proposed.text() if found_more else "")
        self.manual.set_setting("proposed_use", used.model_dump_json())
        self.manual.set_setting("proposed_from", digest)
        return FirstPass(used, {} if found_more else outcomes)

    def _kept(self, conventions: Sequence[Conventions]) -> dict[str, SheetReading]:
        """Readings that the manual holds of just these scans under one of these conventions."""
        found = {}
        for scan in self.scans:
            if any(self.manual.is_current(scan.sheet, self.key_of(scan, c)) for c in conventions):
                kept = self.manual.sheet_result(scan.sheet)
                if kept.facts is not None:
                    found[scan.sheet] = SheetReading(kept.facts, kept.wiring, kept.table)
        return found
