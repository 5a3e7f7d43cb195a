"""What the commands do that only look at a manual: report, desk, export, trace, find."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from pathlib import Path

from digitize.errors import CalledWrongly
from digitize.harness.model import Harness
from digitize.legend.conventions import Conventions
from digitize.legend.conventions_text import conventions_text
from digitize.settings import Settings
from digitize.store.manual import Manual

SEVERITIES = ("fault", "doubt", "note")
DOUBTS_SHOWN = 20
FINDINGS_SHOWN = 20


@dataclass(frozen=True, slots=True)
class Counts:
    """How much a harness holds."""

    pages: int
    wires: int
    codes: int
    connectors: int
    connector_places: int
    components: int
    splices: int
    grounds: int
    grommets: int
    page_links: int
    index_entries: int
    findings: int
    doubts: int


@dataclass(frozen=True, slots=True)
class Doubt:
    """A claim that may be wrong: what kind, of which object, what it says, how likely it is right, and where it stands."""

    about: str
    id: str
    says: str | None
    probability: float
    sheet: str
    zone: str | None


def counts_of(harness: Harness, doubtful_below: float) -> Counts:
    """Count everything; doubts are the claims less likely than ``doubtful_below``."""
    return Counts(
        pages=len(harness.sheets),
        wires=len(harness.wires),
        codes=sum(w.code.value is not None for w in harness.wires),
        connectors=len(harness.connectors),
        connector_places=sum(len(c.places) for c in harness.connectors),
        components=len(harness.components),
        splices=len(harness.splices),
        grounds=len(harness.grounds),
        grommets=len(harness.grommets),
        page_links=sum(link.b is not None for link in harness.links),
        index_entries=len(harness.index),
        findings=sum(f.accepted is None for f in harness.findings),
        doubts=sum(1 for _ in doubts_of(harness, doubtful_below)),
    )


def counts_told(c: Counts) -> str:
    """The counts as one sentence."""
    return (
        f"{many(c.pages, 'page')}: {many(c.wires, 'wire')} ({c.codes} with a code), {many(c.components, 'component')}, "
        f"{many(c.connectors, 'connector')} drawn in {many(c.connector_places, 'place')}, {many(c.splices, 'splice')}, "
        f"{many(c.grounds, 'ground')}, {many(c.page_links, 'page-edge link')}, {many(c.index_entries, 'index entry')}; "
        f"{many(c.findings, 'finding')}, {many(c.doubts, 'doubt')}."
    )


def many(count: int, thing: str) -> str:
    """``1 wire``, ``2 wires``, ``3 entries``."""
    if count == 1:
        return f"1 {thing}"
    return f"{count} {thing[:-1]}ies" if thing.endswith("ry") else f"{count} {thing}s"


def doubts_of(harness: Harness, below: float) -> Iterator[Doubt]:
    """Every claim less likely than ``below``, in no order of importance."""
    for wire in harness.wires:
        sheet = wire.ends[0].sheet
        if wire.code.probability < below:
            yield Doubt("wire code", wire.id, wire.code.value, wire.code.probability, sheet, None)
        if wire.probability < below:
            yield Doubt("wire ends", wire.id, wire.code.value, wire.probability, sheet, None)
    for c in harness.components:
        sure = min(c.name.probability, c.probability)
        if sure < below:
            yield Doubt("component", c.id, c.name.value, sure, c.place.sheet, c.place.zone)
    for connector in harness.connectors:
        place = connector.places[0].place if connector.places else None
        if connector.label.probability < below:
            where = (place.sheet, place.zone) if place else ("", None)
            yield Doubt("connector", connector.id, connector.label.value, connector.label.probability, *where)
    for m in harness.grommets:
        if m.label.value is not None and m.label.probability < below:
            where = (m.places[0].place.sheet, m.places[0].place.zone) if m.places else ("", None)
            yield Doubt("grommet", m.id, m.label.value, m.label.probability, *where)
    for s in harness.splices:
        if s.probability < below:
            yield Doubt("splice", s.id, None, s.probability, s.place.sheet, s.place.zone)
    for link in harness.links:
        if link.probability < below:
            yield Doubt("page-edge link", link.id, link.code.value, link.probability, link.a.sheet, link.a.zone)


def show_report(file: Path, *, as_json: bool) -> None:
    """Print what the manual holds."""
    with Manual.open(file) as manual:
        below = float(manual.setting("doubtful_below") or Settings().doubtful_below)
        reviewed = manual.reviewed()
        records = manual.sheets()
        unread = json.loads(manual.setting("unread") or "[]")
        rights = manual.rights
        readers = json.loads(manual.setting("readers") or "[]")
        proposed = bool(manual.setting("proposed"))
    harness = reviewed.harness
    counts = counts_of(harness, below)
    doubts = sorted(doubts_of(harness, below), key=lambda d: (d.probability, d.id))
    findings = sorted(
        (f for f in harness.findings if f.accepted is None), key=lambda f: (SEVERITIES.index(f.severity), f.check, f.id)
    )
    orphans = [f"edit {r.number}: {e.says}" for r, e in reviewed.orphans]
    titles = {s.id: s.title for s in harness.sheets}
    known = {r.id for r in records}
    if as_json:
        told = {
            "rights": rights,
            "counts": asdict(counts),
            "pages": [
                {
                    "sheet": r.id, "number": r.number, "file": r.file, "page": r.page, "kind": r.kind,
                    "title": titles.get(r.id), "failed": r.failed, "seconds": round(sum(r.seconds.values()), 2),
                }
                for r in records
            ] + [
                {"sheet": s, "number": None, "file": None, "page": None, "kind": None, "title": None, "failed": what,
                 "seconds": 0.0}
                for s, what, _ in unread if s not in known
            ],
            "findings": [asdict(f) for f in findings],
            "doubts": [asdict(d) for d in doubts],
            "edits_without_object": orphans,
            "conventions_proposed": proposed,
            "readers": list(readers),
        }  # fmt: skip
        print(json.dumps(told, indent=1, ensure_ascii=False))
        return
    print(counts_told(counts))
    for r in records:
        what = f"NOT READ: {r.failed}" if r.failed else f"{r.kind}, {sum(r.seconds.values()):.1f} s"
        title = f" {titles[r.id]!r}" if titles.get(r.id) else ""
        print(f"  {r.number:>3} {r.id}{title}: {what}")
    for sheet, what, advice in unread:
        if sheet not in known:
            print(f"      {sheet}: NOT READ: {what} {advice}")
    _listed("Findings", [f"[{f.check}] {f.subject}: {f.why} {f.settle}" for f in findings], FINDINGS_SHOWN)
    _listed("Doubts, the most doubtful first", [_doubt_told(d) for d in doubts], DOUBTS_SHOWN)
    _listed("Edits that no longer find their object", orphans, FINDINGS_SHOWN)
    if proposed:
        print(f"Conventions were worked out from the pages; look at them and correct them: digitize conventions {file}")
    if readers:
        print(f"Lettering was read by: {'; '.join(readers)}")
    print(f"Rights: {rights}")


def _doubt_told(d: Doubt) -> str:
    where = f"{d.sheet} {d.zone}" if d.zone else d.sheet
    return f"{d.about} {d.says or 'unread'} ({d.probability:.0%}) on {where}  [{d.id}]"


def _listed(head: str, lines: list[str], most: int) -> None:
    if not lines:
        return
    print(f"{head}:")
    for line in lines[:most]:
        print(f"  {line}")
    if len(lines) > most:
        print(f"  ... and {len(lines) - most} more (digitize report FILE --json lists all)")


PROPOSED_HEAD = """\
# Worked out from the pages of this manual; nobody has confirmed it. Behind each line stands what speaks for it and how
# sure it is. Correct it, save it as conventions.toml beside the pages and read them again.

"""


def show_conventions(file: Path, to: Path | None) -> None:
    """Print the conventions that a manual was read with, or write them to a new file.

    Raises CalledWrongly when the file to write is there already or cannot be written.
    """
    with Manual.open(file) as manual:
        proposed = manual.setting("proposed")
        used = manual.setting("conventions")
        rights = manual.setting("rights")
        if used != (manual.setting("conventions_base") or used):
            proposed = None  # corrected at the desk since
    stated = Conventions.model_validate_json(used or "{}")
    stated = stated.model_copy(update={"rights": rights or stated.rights})
    note = f"rights = {json.dumps(rights)}\n" if rights else ""
    text = f"{PROPOSED_HEAD}{note}{proposed}" if proposed else conventions_text(stated)
    if to is None:
        print(text, end="")
        return
    try:
        with to.open("x", encoding="utf-8") as out:
            out.write(text)
    except FileExistsError as fault:
        raise CalledWrongly(f"{to} is there already and was left as it is.", "Name a new file with --to.") from fault
    except OSError as fault:
        raise CalledWrongly(f"{to} cannot be written ({fault.strerror}).", "Name another file with --to.") from fault
    print(f"Conventions written to {to}.")


def open_desk(file: Path, *, host: str, port: int, key: str | None, browser: bool, new: bool) -> None:
    """Serve the review desk until interrupted."""
    from review_ui.server import serve

    serve(file, host, port, key, browser=browser, new=new)


def write_export(file: Path, form: str, to: Path) -> None:
    """Write the harness, with the person's edits, in one of the export forms.

    Raises CalledWrongly when there is no such form.
    """
    from digitize.export.forms import FORMS, write

    if form not in FORMS:
        raise CalledWrongly(f"There is no export form {form!r}.", f"Choose one of: {', '.join(FORMS)}.")
    with Manual.open(file) as manual:
        harness = manual.reviewed().harness
    write(harness, form, to)
