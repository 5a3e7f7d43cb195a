"""The desk behind the page: one manual, its conventions, and the answers worked out from its reviewed harness."""

from __future__ import annotations

import threading
from collections import Counter
from dataclasses import replace
from pathlib import Path
from typing import Any

from digitize.batch.at_desk import note_base, used_conventions, wanted_conventions
from digitize.errors import NotFound, PageUnreadable, PartMissing
from digitize.harness.edits import Edit, ForgetSymbol, Reviewed, SetConventions, TeachSymbol
from digitize.harness.edits_apply import describe
from digitize.harness.edits_find import Stand, look_up
from digitize.harness.model import Component, Harness
from digitize.harness.place import Box
from digitize.legend.codes import code_fields, in_words, parse_code
from digitize.legend.conventions import Conventions
from digitize.legend.grammar import grammars
from digitize.sheet.state import SheetFacts
from digitize.store.manual import Manual
from digitize.store.sheets import SheetRecord
from digitize.store.tiles import Pyramid
from review_ui.book import conventions_told
from review_ui.crops import crop_of
from review_ui.doubts import Doubt, Neighbours
from review_ui.drawing import Json, Pen, draw_sheet, extent, graticule
from review_ui.intake import Intake
from review_ui.lessons import lesson_of_part, taught
from review_ui.nearby import Nearby
from review_ui.offers import Offers, told
from review_ui.orders import PART_KINDS, Order, OrderConventions, OrderPart, OrderZoneLine
from review_ui.overleaf import crossings, lone_edges, partners
from review_ui.scribe import Scribe
from review_ui.seek import seek


class Desk:
    """One open manual. Every method may be called from any thread."""

    def __init__(self, path: Path) -> None:
        """Open the manual, which may be empty. Raises ManualWrong."""
        self.manual = Manual.open(path)
        self.intake = Intake(path)
        self._used: tuple[str | None, Conventions] = (None, Conventions())
        self._queue: tuple[int, list[Doubt]] | None = None
        self._nearby = Nearby(self.facts)
        self._facts: dict[tuple[str, str], SheetFacts] = {}
        self._tiling = threading.Lock()
        self.looked_at = threading.Event()  # set when the first piece of a scan was sent

    def close(self) -> None:
        """Let go of the manual, and end a run that is under way."""
        self.intake.close()
        self.manual.close()

    @property
    def conventions(self) -> Conventions:
        """The conventions that the manual's readings were made with."""
        stated = self.manual.setting("conventions")
        if stated != self._used[0]:
            self._used = (stated, Conventions.model_validate_json(stated) if stated else Conventions())
        return self._used[1]

    def _latest(self) -> tuple[int, Reviewed]:
        """The newest harness with the edits on it; an empty one before the first pages were read."""
        if self.manual.has_harness:
            return self.manual.latest_at()
        return self.manual.revision, Reviewed(Harness(self.manual.rights, ()))

    def _checked(self) -> tuple[int, Reviewed]:
        """The same with its findings found anew."""
        return self.manual.reviewed_at() if self.manual.has_harness else self._latest()

    def warm(self) -> None:
        """Work out what the first view needs and cut missing tiles; meant for a thread of its own.

        When the desk was closed before a correction of the conventions had reached every page, that goes on now.
        """
        if wanted_conventions(self.manual) != used_conventions(self.manual):
            self.intake.decode(None)
        self.doubts()
        for record in self.manual.sheets():
            if record.failed is None:
                self.layout(record.id)

    # the manual

    def overview(self) -> Json:
        """What the page needs first: sheets with their progress, what can be undone, the revision."""
        revision, reviewed = self._checked()
        open_on = self._open_on()
        notes = {n.id: n for n in reviewed.harness.sheets}
        return {
            "name": self.manual.setting("vehicle") or self.conventions.vehicle or self.manual.path.stem,
            "rights": self.manual.rights,
            "revision": revision,
            "sheets": [self._sheet_line(r, notes.get(r.id), open_on.get(r.id, 0), r.id in reviewed.done) for r in self.manual.sheets()],
            "lost": [
                {"number": r.number, "who": r.who, "when": r.when, "says": e.says, "status": e.status} for r, e in reviewed.orphans
            ],
            "doubts": len(self.doubts()),
            "kinds": PART_KINDS,
            **self.moves(),
        }  # fmt: skip

    @staticmethod
    def _sheet_line(record: SheetRecord, note: Any, doubts: int, done: bool) -> Json:
        return {
            "id": record.id, "number": record.number, "file": record.file, "kind": record.kind, "failed": record.failed,
            "advice": record.advice, "title": note.title if note else None, "label": note.label if note else None,
            "doubts": doubts, "done": done,
        }  # fmt: skip

    def pile(self) -> Json:
        """Only the list of sheets, so that the first one can be laid out before the harness was even looked at."""
        return {"sheets": [{"id": r.id, "kind": r.kind, "failed": r.failed} for r in self.manual.sheets()]}

    def moves(self) -> Json:
        """What undo and redo would move."""
        undo, redo = self.manual.next_to_move()
        return {
            "undo": None if undo is None else {"group": undo[0], "says": undo[1]},
            "redo": None if redo is None else {"group": redo[0], "says": redo[1]},
        }

    def facts(self, sheet: str) -> SheetFacts:
        """A sheet's facts. Raises NotFound for an unknown or failed one."""
        record = next((r for r in self.manual.sheets() if r.id == sheet), None)
        if record is None or record.failed is not None:
            raise NotFound(f"There is no sheet {sheet} to look at.", "Pick one from the list of sheets.")
        key = (sheet, record.key)
        if key not in self._facts:
            facts = self.manual.facts(sheet)
            if facts is None:
                raise NotFound(f"There is no sheet {sheet} to look at.", "Pick one from the list of sheets.")
            self._facts[key] = facts
        known = self._facts[key]
        grid = self._latest()[1].grids.get(sheet)
        return known if grid is None else replace(known, zones=grid, zones_probability=1.0)

    def all_facts(self) -> list[SheetFacts]:
        """Facts of every sheet that was read, in order."""
        return [self.facts(r.id) for r in self.manual.sheets() if r.failed is None]

    def layout(self, sheet: str) -> Pyramid:
        """A sheet's tiles, cut now when that was not done before. Raises PageUnreadable when none can be cut."""
        self.facts(sheet)
        layout = self.manual.pyramid(sheet)
        if layout is None:
            with self._tiling:  # one at a time: a 124-megapixel page takes its memory
                self.manual.make_tiles(sheet)
            layout = self.manual.pyramid(sheet)
        if layout is None:
            raise PageUnreadable(f"The scan of {sheet} cannot be shown.", "Digitize its page again.")
        return layout

    def ground(self, sheet: str) -> Json:
        """How a sheet is laid out: scan size, tiles, zones."""
        layout = self.layout(sheet)
        facts = self.facts(sheet)
        record = next(r for r in self.manual.sheets() if r.id == sheet)
        return {
            "sheet": sheet, "width": layout.width, "height": layout.height, "side": layout.side, "levels": layout.levels,
            "mark": record.sha256[:12], "px_per_mm": facts.dpi / 25.4, "zones": graticule(facts),
        }  # fmt: skip

    def overlay(self, sheet: str) -> Json:
        """What was read of a sheet, in scan pixels, with the revision it holds for."""
        revision, reviewed = self._latest()
        facts = self.facts(sheet)
        return {"revision": revision, "zones": graticule(facts), **draw_sheet(reviewed.harness, facts)}

    def overleaf(self, sheet: str, of: str | None) -> Json:
        """Where the sheet goes on at its edges. Raises NotFound for an unknown sheet."""
        self.facts(sheet)
        pens: dict[str, Pen] = {}
        harness = self._latest()[1].harness
        return {
            "crossings": crossings(harness, sheet, of, lambda s: self._pen(s, pens)),
            "lone": lone_edges(harness, sheet, of, lambda s: self._pen(s, pens)),
        }

    # doubts

    def doubts(self) -> list[Doubt]:
        """The queue for the newest revision."""
        revision, reviewed = self._checked()
        if self._queue is None or self._queue[0] != revision:
            self._queue = (revision, self._nearby.questions(reviewed.harness))
        return self._queue[1]

    def _open_on(self) -> dict[str, int]:
        return Counter(sheet for doubt in self.doubts() for sheet in {s for s, _ in doubt.spots})

    def queue(self, sheet: str | None, most: int) -> Json:
        """The first ``most`` questions, all or those of one sheet."""
        doubts = [d for d in self.doubts() if sheet is None or any(s == sheet for s, _ in d.spots)]
        pens: dict[str, Pen] = {}
        neighbours, offers = self._nearby.around(self._checked()[1].harness)
        return {
            "revision": self._queue[0] if self._queue else 0,
            "total": len(doubts),
            "doubts": [self._question(d, pens, neighbours) | told(offers.of(d)) for d in doubts[:most]],
        }

    def offers(self) -> Offers:
        """Repairs to choose from for the questions of the newest revision."""
        return self._nearby.around(self._checked()[1].harness)[1]

    def _question(self, doubt: Doubt, pens: dict[str, Pen], neighbours: Neighbours) -> Json:
        spots = []
        for sheet, box in doubt.spots[:12]:
            pen = self._pen(sheet, pens)
            if pen is not None:
                spots.append(
                    {"sheet": sheet, "box": extent(pen, [(sheet, box)], sheet), "mm": [box.x0, box.y0, box.x1, box.y1]}
                )
        return {
            "kind": doubt.kind, "targets": doubt.targets, "value": doubt.value, "probability": round(doubt.probability, 4),
            "alternatives": [{"text": a.text, "probability": round(a.probability, 4)} for a in doubt.alternatives[:6]],
            "nearby": neighbours.of(doubt),
            "partners": self._partners(doubt), "why": doubt.why, "follows": doubt.follows, "score": round(doubt.score, 4), "spots": spots, "places": len(doubt.spots),
        }  # fmt: skip

    def _partners(self, doubt: Doubt) -> list[Json]:
        """For a page edge without a partner: the other lone ones, those with the most alike code first."""
        if doubt.kind != "edge":
            return []
        links = self._latest()[1].harness.links
        asked = next((k for k in links if k.id == doubt.targets[0]), None)
        if asked is None or asked.b is not None:
            return []
        return [
            {"id": k.id, "sheet": k.a.sheet, "text": k.code.value, "zone": k.a.zone} for k in partners(links, asked)[:4]
        ]

    def _pen(self, sheet: str, pens: dict[str, Pen]) -> Pen | None:
        if sheet not in pens:
            try:
                pens[sheet] = Pen(self.facts(sheet))
            except NotFound:  # a sheet that could not be read: what lies on it is told without a picture
                return None
        return pens[sheet]

    # one thing

    def thing(self, subject: str) -> Json:
        """All about one object: what it is, what is believed, why, and its edits. Raises NotFound."""
        story = self.manual.story(subject)
        harness = self._latest()[1].harness
        stand = look_up(harness, subject)
        claim = story.now or story.digitized
        return {
            "id": subject, "kind": story.kind, "gone": story.gone,
            "says": None if stand is None else stand.says,
            "part": stand.thing.kind if stand is not None and isinstance(stand.thing, Component) else None,
            "lesson": None if stand is None else lesson_of_part(self._latest()[1], stand.thing),
            "claim": None if claim is None else {"value": claim.value, "probability": round(claim.probability, 4)},
            "digitized": None if story.digitized is None else story.digitized.value,
            "words": self.words(story.kind, claim.value if claim else None),
            "alternatives": [{"text": a.text, "probability": round(a.probability, 4)} for a in story.readings[:8]],
            "evidence": [
                {"kind": e.kind, "says": e.says, "probability": round(e.probability, 4), "by": e.by,
                 "sheet": e.place.sheet if e.place else None, "zone": e.place.zone if e.place else None}
                for e in story.evidence
            ],
            "edits": [
                {"number": c.recorded.number, "who": c.recorded.who, "when": c.recorded.when, "state": c.recorded.state,
                 "says": describe(c.recorded.edit)} for c in story.edits
            ],
            "places": [] if stand is None else self._places(stand),
        }  # fmt: skip

    def _places(self, stand: Stand) -> list[Json]:
        pens: dict[str, Pen] = {}
        spots = [*((s, Box.around(line)) for s, line in stand.lines), *stand.boxes]
        found = []
        for sheet, box in spots:
            pen = self._pen(sheet, pens)
            if pen is not None:
                zone, _ = self.facts(sheet).zones.zone_at(box.centre)
                found.append({"sheet": sheet, "zone": zone, "box": extent(pen, [(sheet, box)], sheet)})
        return found

    def words(self, kind: str, value: str | None) -> str | None:
        """A wire code in words by the conventions; None for anything else or a code they do not fit."""
        parsed = parse_code(value, self.conventions) if kind == "wire" and value else None
        return None if parsed is None else in_words(parsed, self.conventions)

    def parse(self, text: str, kind: str) -> Json:
        """How ``text`` fits the conventions as a ``code`` or ``connector``: ``fits``, its fields, and words for it."""
        if kind == "code":
            fields = code_fields(text, self.conventions)
            strict = code_fields(text, self.conventions, strict=True) is not None
            return {
                "fits": strict,
                "shape": fields is not None,
                "fields": fields or {},
                "words": self.words("wire", text),
            }
        fits = grammars(self.conventions)["connector"].takes(text) if kind == "connector" else bool(text.strip())
        prefix = max((p for p in self.conventions.connectors.prefixes if text.startswith(p)), key=len, default=None)
        words = self.conventions.connectors.prefixes[prefix] if kind == "connector" and prefix is not None else None
        return {"fits": fits, "shape": fits, "fields": {}, "words": words}

    def seek(self, typed: str) -> list[Json]:
        """What fits the words typed, with its place in scan pixels."""
        pens: dict[str, Pen] = {}
        found = []
        for sight in seek(self._latest()[1].harness, self.all_facts(), typed):
            pen = self._pen(sight.sheet, pens)
            if pen is not None:
                box = extent(pen, [(sight.sheet, sight.box)], sight.sheet)
                zone = sight.zone or self.facts(sight.sheet).zones.zone_at(sight.box.centre)[0]
                found.append(
                    {
                        "kind": sight.kind,
                        "id": sight.id,
                        "text": sight.text,
                        "sheet": sight.sheet,
                        "zone": zone,
                        "box": box,
                    }
                )
        return found

    def trace(self, asked: str) -> Json:
        """The way of a circuit. Raises NotFound when nothing is called so, PartMissing without the trace room."""
        try:
            from review_ui.ways import trace_at_desk

            pens: dict[str, Pen] = {}
            return trace_at_desk(self._checked()[1], asked, lambda sheet: self._pen(sheet, pens))
        except ImportError as fault:
            raise PartMissing("This installation cannot follow circuits.", "Install digitize anew.") from fault

    # edits

    def decide(self, order: Order, revision: int, who: str, sheet: str | None) -> Json:
        """Make the edits of one order; answers with what the page must draw again of ``sheet``."""
        harness = self._latest()[1].harness
        if isinstance(order, OrderConventions):
            note_base(self.manual)
        edits = Scribe(harness, self.conventions, self.facts).edits(order)
        if isinstance(order, OrderPart) and order.teach:
            edits = taught(self.manual, harness, edits, order.kind)
        change = self.manual.add_edit(edits, who=who, revision=revision)
        touched = {t for e in change.effects for t in e.touched}
        self._after(edits, sheet)
        return {
            "revision": change.revision,
            "says": change.effects[0].says if len(change.effects) == 1 else f"{change.effects[0].says} and {len(edits) - 1} more",
            "touched": sorted(touched), "anew": isinstance(order, OrderZoneLine),
            "changed": None if sheet is None else draw_sheet(self._latest()[1].harness, self.facts(sheet), touched),
            **self.moves(),
        }  # fmt: skip

    def move(self, *, back: bool, group: int) -> Json:
        """Undo or redo the decision that the page shows as next. Raises EditStale when another came between, NotFound when none is left."""
        change = self.manual.undo(group) if back else self.manual.redo(group)
        if change is None:
            raise NotFound(
                "There is nothing to take back." if back else "There is nothing to bring back.", "Reload the page."
            )
        self._after([m.edit for m in change.moved], None)
        return {"revision": change.revision, "says": describe(change.moved[0].edit), **self.moves()}

    def _after(self, edits: list[Edit], sheet: str | None) -> None:
        """What other conventions or another lesson ask for: all pages again, the one that a person looks at first."""
        lesson = next((e.target for e in edits if isinstance(e, TeachSymbol)), None)
        if any(isinstance(e, SetConventions | TeachSymbol | ForgetSymbol) for e in edits):
            self.intake.decode(sheet, lesson)

    def intake_told(self) -> Json:
        """The files that wait and the run; what it found of a taught symbol in scan px."""
        told = self.intake.told()
        pens: dict[str, Pen] = {}
        for found in (told["run"] or {}).get("found", []):
            pen = self._pen(found["sheet"], pens)
            if pen is not None:
                box = Box(*found["mm"])
                found["box"] = extent(pen, [(found["sheet"], box)], found["sheet"])
                found["zone"] = self.facts(found["sheet"]).zones.zone_at(box.centre)[0]
        return told

    def read_pages(self, rights: str | None) -> None:
        """Read the pages that wait; ``rights`` goes into the manual. Raises IntakeRefused."""
        if rights is not None and rights.strip():
            self.manual.set_setting("rights", " ".join(rights.split()))
        self.intake.read()

    def conventions_told(self) -> Json:
        """The conventions as text."""
        return conventions_told(self.manual, self._latest()[1])

    def crop(self, sheet: str, box: Box, margin: float) -> bytes:
        """JPEG of a part of the scan: ``box`` in sheet mm with ``margin`` mm around, straight from the finest tiles."""
        return crop_of(self.manual, sheet, self.layout(sheet), Pen(self.facts(sheet)), box.grown(margin))
