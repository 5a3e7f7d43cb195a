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
from digitize.wiring.proposed_size import to_look_again, with_size_of

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
        outcomes = self._looked_with(stated, left)
        readings = self._readings(kept, outcomes)
        proposed = proposed_by(readings, self.numbers, stated)
        sized = to_look_again(stated, proposed.conventions, [r.facts for r in readings])
        if sized is not None:
            outcomes = self._looked_with(sized, self.scans)
            readings = self._readings({}, outcomes)
            proposed = with_size_of(proposed, proposed_by(readings, self.numbers, sized))
        # kinds of pages are seen anew on each page, so that a page put in between makes no other one old
        used = proposed.conventions.model_copy(update={"pages": stated.pages})
        # a grid alone is settled from each frame just as well, and a size in which every page was seen is no news
        bare = used.model_copy(update={"zones": stated.zones, "page_size_mm": stated.page_size_mm})
        found_more = sized is not None or bare != stated
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

    def _looked_with(self, conventions: Conventions, scans: Sequence[Scan]) -> Mapping[str, SheetOutcome[TimedReading]]:
        lessons = counting(self.manual.edits())
        hints = [hints_for(conventions, self.numbers[scan.sheet], lessons) for scan in scans]
        return self.look([ReadTask(scan, hint, conventions) for scan, hint in zip(scans, hints, strict=True)])

    def _readings(
        self, kept: Mapping[str, SheetReading], outcomes: Mapping[str, SheetOutcome[TimedReading]]
    ) -> list[SheetReading]:
        """All that was read, in the order of the pages."""
        readings = [*kept.values(), *(o.result.reading for o in outcomes.values() if o.result is not None)]
        return sorted(readings, key=lambda r: self.numbers[r.facts.sheet])

    def _kept(self, conventions: Sequence[Conventions]) -> dict[str, SheetReading]:
        """Readings that the manual holds of just these scans under one of these conventions."""
        found = {}
        for scan in self.scans:
            if any(self.manual.is_current(scan.sheet, self.key_of(scan, c)) for c in conventions):
                kept = self.manual.sheet_result(scan.sheet)
                if kept.facts is not None:
                    found[scan.sheet] = SheetReading(kept.facts, kept.wiring, kept.table)
        return found
