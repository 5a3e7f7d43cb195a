"""``scripts/bench findings``: every finding of every check judged by the truth of its section, and counted.

``python -m scripts.bench_findings [FOLDER ...] [--json OUT.json]``: folders of pages with a ``truth.json`` (ours or the
neutral layout). A finding is *so* when a faultless reading of the same pages gives it too: the manual itself does not fit. It
*points at a misreading* when something within ``NEAR`` of where it points was read wrongly or missed. Otherwise it is
*false*: a person who looks there finds all in order. The bars: of every kind nine in ten are one of the first two, and at
most half a false one for each diagram page.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path

from digitize.errors import DigitizeError
from digitize.harness.checks import find_all
from digitize.harness.model import Finding, Harness
from digitize.harness.place import Box, Point
from digitize.legend.codes import parse_code
from digitize.legend.conventions import Conventions
from digitize.sheet.mapping import SheetMapping
from fixtures.compare import matched
from fixtures.compare_match import over_scan
from fixtures.heldout_back import read_any
from fixtures.perfect import truth_to_harness
from fixtures.truth import Truth

PROJECT = Path(__file__).resolve().parent.parent
NEAR = 4.0
"""A misreading lies where a finding points when it is this near to one of its places, mm."""

LEAST_PRECISION, MOST_FALSE_A_PAGE = 0.9, 0.5
"""The bars for clean and medium pages."""

VERDICTS = ("so", "misreading", "false")


@dataclass(frozen=True, slots=True)
class Judged:
    """One finding with its verdict, one of ``VERDICTS``."""

    finding: Finding
    verdict: str


def main(arguments: list[str] | None = None) -> int:
    """Judge, print, write; 0 when the bars hold, 1 when one is missed."""
    from scripts.section import digitize_section  # noqa: PLC0415  the judge alone needs no readers

    parser = argparse.ArgumentParser(prog="scripts/bench findings", description=(__doc__ or "").split("\n\n")[0])
    parser.add_argument(
        "folders", nargs="*", type=Path, default=[PROJECT / "demo-manual"], help="folders with truth.json"
    )
    parser.add_argument("--json", type=Path, default=PROJECT / "dist" / "findings.json", help="where the figures go")
    given = parser.parse_args(arguments)
    rows: list[dict[str, object]] = []
    for folder in given.folders:
        try:
            truth = read_any(folder / "truth.json")
            done = digitize_section(folder, jobs=1)
        except (OSError, ValueError) as fault:
            print(f"bench: {folder / 'truth.json'} is no truth: {fault}. Name a folder that has one.", file=sys.stderr)
            return 3
        except DigitizeError as fault:
            print(f"bench: {fault.what} {fault.advice}", file=sys.stderr)
            return fault.exit_code
        mappings = {sheet: facts.mapping for sheet, facts in done.pages.facts.items()}
        judged = judge(done.harness, truth, mappings, done.conventions)
        rows += [{"section": folder.name, **row} for row in counted(judged, truth)]
        print(told(folder.name, judged, truth))
    given.json.parent.mkdir(parents=True, exist_ok=True)
    given.json.write_text(json.dumps(rows, indent=1), encoding="utf-8")
    missed = bars(rows)
    print("\n".join(missed) if missed else "all bars hold")
    print(f"written: {given.json}", file=sys.stderr)
    return 1 if missed else 0


def judge(
    harness: Harness, truth: Truth, mappings: Mapping[str, SheetMapping], conventions: Conventions
) -> list[Judged]:
    """A verdict for every finding of ``harness``. ``mappings``: its sheets' ways to scan pixels, as for ``compare``."""
    faultless = replace(truth_to_harness(truth), conventions=harness.conventions)
    alike = find_all(faultless, lambda code: parse_code(code, conventions))
    where = _Where(harness, truth, mappings)
    wrong = list(misread(harness, truth, where))
    out = []
    for f in harness.findings:
        verdict = "so" if any(_same(f, other, where) for other in alike) else _by_name(f, harness, truth)
        if verdict == "false" and any(where.near(p.sheet, p.box, spot) for p in f.places for spot in wrong):
            verdict = "misreading"
        out.append(Judged(f, verdict))
    return out


@dataclass(frozen=True, slots=True)
class Spot:
    """Something that was read wrongly or missed: sheet of the truth, and its box in the truth's mm."""

    sheet: str
    box: Box


class _Where:
    """The harness's places in the truth's sheets and millimetres."""

    def __init__(self, harness: Harness, truth: Truth, mappings: Mapping[str, SheetMapping]) -> None:
        pages = {p.number: p for p in truth.pages}
        self.mappings = mappings
        self.sheet: dict[str, str] = {}
        self._move: dict[str, Callable[[Point], Point]] = {}
        for s in harness.sheets:
            page = pages.get(s.number)
            self.sheet[s.id] = s.id if page is None else page.sheet
            if page is not None and s.id in mappings:
                self._move[s.id] = over_scan(mappings[s.id], page.mapping)

    def at(self, sheet: str, point: Point) -> Point:
        move = self._move.get(sheet)
        return point if move is None else move(point)

    def box(self, sheet: str, box: Box) -> Box:
        corners = ((box.x0, box.y0), (box.x1, box.y0), (box.x1, box.y1), (box.x0, box.y1))
        return Box.around([self.at(sheet, c) for c in corners])

    def near(self, sheet: str, box: Box, spot: Spot) -> bool:
        return self.sheet.get(sheet, sheet) == spot.sheet and touching(self.box(sheet, box).grown(NEAR), spot.box)


def touching(a: Box, b: Box) -> bool:
    """Whether two boxes share a point; a box may be without extent."""
    return a.x0 <= b.x1 and b.x0 <= a.x1 and a.y0 <= b.y1 and b.y0 <= a.y1


def _point(p: Point) -> Box:
    return Box(p[0], p[1], p[0], p[1])


def misread(harness: Harness, truth: Truth, where: _Where) -> Iterator[Spot]:
    """Every thing of the drawings that is not in the other of the two, or that is called or coded otherwise there."""
    nodes, wires = matched(harness, truth, where.mappings)
    names = {c.id: c.name for c in truth.components} | {k.id: k.label for k in truth.connectors}
    drawn = [(c.id, c.place, c.name.value) for c in harness.components]
    drawn += [(p.id, p.place, k.label.value) for k in harness.connectors for p in k.places]
    kinds = {c.id: c for c in truth.components}
    read_kinds = {c.id: c for c in harness.components}
    for id_, place, name in drawn:
        true = nodes.get(id_)
        fault = true is None or (names.get(true) or None) != (name or None)
        if true in kinds and id_ in read_kinds:
            fault = (
                fault
                or kinds[true].case_ground != read_kinds[id_].case_ground
                or kinds[true].kind != read_kinds[id_].kind
            )
        if fault:
            yield Spot(where.sheet[place.sheet], where.box(place.sheet, place.box))
    for s in harness.splices:
        if s.id not in nodes:
            yield Spot(where.sheet[s.place.sheet], _point(where.at(s.place.sheet, s.at)))
    found = set(nodes.values())
    things = [(c.id, c.sheet, c.box) for c in truth.components]
    things += [(k.id, k.sheet, k.box) for k in truth.connectors]
    things += [(g.id, g.sheet, g.box) for g in truth.grounds if g.case_of is None]
    for id_, sheet, box in things:
        if id_ not in found:
            yield Spot(sheet, box)
    for true_splice in truth.splices:
        if true_splice.id not in found:
            yield Spot(true_splice.sheet, _point(true_splice.at))
    yield from _wires(harness, truth, where, wires)


def _wires(harness: Harness, truth: Truth, where: _Where, wires: Mapping[int, int]) -> Iterator[Spot]:
    """Ends of wires on either side without their fellow, and both the true and the read places of wrong codes."""
    codes: dict[str, list[Spot]] = defaultdict(list)
    for t in truth.texts:
        if t.ref is not None and t.role == "code":
            codes[t.ref].append(Spot(t.sheet, t.box))
    for j, w in enumerate(harness.wires):
        k = wires.get(j)
        for e in w.ends:
            if e.node is None:  # near enough to a terminal to be counted, yet it hangs on nothing
                yield Spot(where.sheet[e.sheet], _point(where.at(e.sheet, e.at)))
        if k is None:
            for e in w.ends:
                yield Spot(where.sheet[e.sheet], _point(where.at(e.sheet, e.at)))
        elif truth.wires[k].printed and w.code.value != truth.wires[k].code:
            yield from codes[truth.wires[k].id]
            for said in w.code.evidence:
                if said.place is not None:
                    yield Spot(where.sheet[said.place.sheet], where.box(said.place.sheet, said.place.box))
    found = set(wires.values())
    for k, true in enumerate(truth.wires):
        if k not in found:
            for end in true.ends:
                yield Spot(end.sheet, _point(end.at))
            yield from codes[true.id]


def _same(f: Finding, other: Finding, where: _Where) -> bool:
    """Whether the faultless reading's finding is this one: the same check on the same name, or at the same place."""
    if f.check != other.check or f.cavity != other.cavity:
        return False
    if f.subject == other.subject and f.id == other.id:
        return True
    return any(
        where.sheet.get(p.sheet, p.sheet) == q.sheet and touching(where.box(p.sheet, p.box).grown(1.0), q.box)
        for p in f.places[:1]
        for q in other.places[:1]
    )


def _by_name(f: Finding, harness: Harness, truth: Truth) -> str:
    """Findings of the tables name what is to be looked at instead of pointing there: was that name misread or missed?"""
    if f.check == "index-zone":
        planted = {(e.name, z) for e in truth.index for z in e.zones if z not in e.true_zones}
        return "so" if (f.subject, f.id.rsplit("/", 1)[-1]) in planted else "false"
    if f.check == "index-not-drawn":
        true = {c.name for c in truth.components}
        read = {c.name.value for c in harness.components}
        return "misreading" if f.subject in true and f.subject not in read else "false"
    if f.check in {"connector-not-drawn", "connector-not-in-chart"}:
        drawn, charted = {k.label for k in truth.connectors}, {e.connector for e in truth.chart}
        missed = drawn if f.check == "connector-not-drawn" else charted
        return "misreading" if f.subject in missed or f.subject not in drawn | charted else "false"
    return "false"


def counted(judged: Iterable[Judged], truth: Truth) -> list[dict[str, object]]:
    """For every check how many findings of each verdict, with the number of diagram pages."""
    pages = sum(p.kind == "diagram" for p in truth.pages)
    by_check: dict[str, dict[str, int]] = defaultdict(lambda: dict.fromkeys(VERDICTS, 0))
    for j in judged:
        by_check[j.finding.check][j.verdict] += 1
    return [{"check": check, "pages": pages, **counts} for check, counts in sorted(by_check.items())]


def told(name: str, judged: list[Judged], truth: Truth) -> str:
    """One section in words: a line for each check, then the false ones."""
    rows = counted(judged, truth)
    pages = max(1, sum(p.kind == "diagram" for p in truth.pages))
    false = [j.finding for j in judged if j.verdict == "false"]
    lines = [f"{name}: {len(judged)} findings on {pages} diagram pages, {len(false) / pages:.2f} false a page"]
    lines += [
        f"  {r['check']}: {r['so']} so, {r['misreading']} point at a misreading, {r['false']} false" for r in rows
    ]
    lines += [f"  false: {f.id}: {f.why}" for f in false]
    return "\n".join(lines)


def bars(rows: Iterable[Mapping[str, object]]) -> list[str]:
    """What is missed over all sections together, in words."""
    total: dict[str, list[int]] = defaultdict(lambda: [0, 0])
    pages: dict[str, int] = {}
    false: dict[str, int] = defaultdict(int)
    for r in rows:
        so, misreading, wrong = (int(str(r[v])) for v in VERDICTS)
        total[str(r["check"])][0] += so + misreading
        total[str(r["check"])][1] += wrong
        pages[str(r["section"])] = int(str(r["pages"]))
        false[str(r["section"])] += wrong
    out = [
        f"missed: {check}: {good} of {good + wrong} findings are so or point at a misreading"
        for check, (good, wrong) in sorted(total.items())
        if good < LEAST_PRECISION * (good + wrong)
    ]
    out += [
        f"missed: {section}: {false[section] / max(1, n):.2f} false findings a page"
        for section, n in sorted(pages.items())
        if false[section] > MOST_FALSE_A_PAGE * max(1, n)
    ]
    return out


if __name__ == "__main__":
    sys.exit(main())
