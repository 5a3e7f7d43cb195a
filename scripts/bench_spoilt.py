"""``scripts/bench spoilt``: what is still read of a drawn page that was photographed, faxed, turned, punched, bent in a book.

``python -m scripts.bench_spoilt FOLDER [--page N] [--only WAY ...] [--no-frame] [OUT.json]``: one page of a drawn manual (a
folder with ``truth.json``) is spoilt in every way of ``fixtures/spoilt.py`` and read alone, with the conventions of its
folder. The figures are those of ``fixtures.compare`` for that page: wires that go on overleaf cannot be whole, so hold
them against the row ``as it is``. ``off mm``: how far points of the page come out from where they are, the middle one
and the worst of a grid over the frame.
"""

from __future__ import annotations

import argparse
import json
import sys
import tempfile
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, cast

import cv2
import numpy as np
from numpy.typing import NDArray

from digitize.batch.tasks import ReadTask, hints_for, read_task
from digitize.errors import DigitizeError
from digitize.pipeline import bind_manual
from digitize.sheet.mapping import SheetMapping
from digitize.sheet.sources import find_scans, load_pixels
from digitize.sheet.state import SheetFacts
from fixtures import truth as true
from fixtures.compare import compare
from fixtures.spoilt import Spoilt, ways_of
from scripts.section import RIGHTS, conventions_of

SHOWN = ("zones", "wire_endpoint_f1", "wire_codes_exact", "splices", "connectors", "components", "texts")

Row = dict[str, Any]


def main(arguments: list[str] | None = None) -> int:
    """Spoil, read, compare, print, write."""
    parser = argparse.ArgumentParser(prog="scripts/bench spoilt", description=(__doc__ or "").split("\n\n")[0])
    parser.add_argument("folder", type=Path, help="drawn manual with truth.json")
    parser.add_argument("out", nargs="?", type=Path, help="where the figures go as JSON")
    parser.add_argument("--page", type=int, default=1, help="which page")
    parser.add_argument("--only", nargs="+", help="names of ways; all when left out")
    parser.add_argument("--no-frame", action="store_true", help="wipe the printed frame out first")
    parser.add_argument("--keep", type=Path, help="folder for the spoilt pictures")
    given = parser.parse_args(arguments)
    cv2.setNumThreads(1)
    rows = []
    for row in spoilt_rows(given.folder, given.page, given.only, framed=not given.no_frame, keep=given.keep):
        print("  ".join(f"{k} {v:g}" if isinstance(v, float) else f"{k} {v}" for k, v in row.items()), flush=True)
        rows.append(row)
    if given.out:
        given.out.parent.mkdir(parents=True, exist_ok=True)
        given.out.write_text(json.dumps(rows, indent=1), encoding="utf-8")
    return 0


def spoilt_rows(folder: Path, number: int, only: list[str] | None, *, framed: bool, keep: Path | None) -> Any:
    """One row for each way of spoiling page ``number``."""
    truth = true.read(folder / "truth.json")
    page = next(p for p in truth.pages if p.number == number)
    scan = next(s for s in find_scans(folder, RIGHTS)[0] if s.sheet == page.sheet)
    grey = load_pixels(scan)
    if not framed:
        grey = without_frame(grey, page)
    for name, make in ways_of(grey, page.dpi).items():
        if only and name not in only:
            continue
        spoilt = make()
        with tempfile.TemporaryDirectory(prefix="digitize-") as work:
            file = Path(keep or work) / f"{page.sheet}.png"
            cv2.imwrite(str(file), spoilt.picture)
            if keep:
                cv2.imwrite(str(keep / f"{name.replace(' ', '_')}.png"), spoilt.picture)
            yield {"spoilt": name, "page": f"{folder.name}/{page.sheet}", **figures(file, folder, truth, page, spoilt)}


def without_frame(grey: NDArray[np.uint8], page: true.TruePage) -> NDArray[np.uint8]:
    """The page with what is printed on and outside its frame wiped out with the paper's own grey."""
    if page.frame is None:
        return grey
    inside = np.zeros_like(grey)
    box = page.frame
    x0, y0, x1, y1 = box.x0 + 0.8, box.y0 + 0.8, box.x1 - 0.8, box.y1 - 0.8
    corners = page.mapping.to_scan(np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]]))
    cv2.fillPoly(inside, [np.round(corners).astype(np.int32)], 255)
    paper = cv2.medianBlur(cv2.resize(grey, None, fx=0.05, fy=0.05, interpolation=cv2.INTER_AREA), 9)
    bare = cv2.resize(cv2.dilate(paper, np.ones((5, 5), np.uint8)), grey.shape[::-1], interpolation=cv2.INTER_LINEAR)
    return np.where(inside > 0, grey, bare).astype(np.uint8)


@dataclass(frozen=True)
class _Back:
    """A sheet's mapping and, after it, the way from the spoilt picture to the scan that the truth speaks of."""

    mapping: SheetMapping
    spoilt: Spoilt

    def to_scan(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        return self.spoilt.origin(self.mapping.to_scan(points))


def figures(file: Path, folder: Path, truth: true.Truth, page: true.TruePage, spoilt: Spoilt) -> Row:
    """What is read of the picture in ``file``, held against the truth of its page."""
    conventions = conventions_of(folder)
    (scan,), _ = find_scans(file, RIGHTS)
    try:
        task = ReadTask(replace(scan, dpi=None), hints_for(conventions, page.number), conventions)
        reading = read_task(task).reading
    except DigitizeError as fault:
        return {"failed": fault.what}
    harness = bind_manual([reading], conventions, RIGHTS)
    facts = reading.facts
    sheets = tuple(replace(s, number=page.number) for s in harness.sheets)
    back = cast("SheetMapping", _Back(facts.mapping, spoilt))
    found = compare(replace(harness, sheets=sheets), truth, {facts.sheet: back})
    middle, worst = off_mm(facts, page, back)
    row: Row = {"turns": facts.quarter_turns, "dpi": round(facts.dpi), "kind": facts.kind}
    row |= {"framed": facts.frame is not None, "off_mm": middle, "worst_mm": worst}
    for metric in SHOWN:
        score = found.score(metric, page.sheet)
        row[metric] = None if score is None else round(score, 3)
    return row


def off_mm(facts: SheetFacts, page: true.TruePage, back: SheetMapping) -> tuple[float, float]:
    """How far points come out from where they are, mm, after the best shift, turn and scale of the whole page."""
    box = page.frame
    x0, y0, x1, y1 = (box.x0, box.y0, box.x1, box.y1) if box else (20.0, 20.0, page.width - 20, page.height - 20)
    x, y = np.meshgrid(np.linspace(0.0, facts.width, 61), np.linspace(0.0, facts.height, 41))
    mine = np.column_stack([x.ravel(), y.ravel()])
    there = page.mapping.to_sheet(back.to_scan(mine))
    inside = (there[:, 0] > x0) & (there[:, 0] < x1) & (there[:, 1] > y0) & (there[:, 1] < y1)
    mine, there = mine[inside], there[inside]
    m, t = mine - mine.mean(axis=0), there - there.mean(axis=0)
    u, sizes, v = np.linalg.svd(m.T @ t)
    turn = u @ np.diag([1.0, float(np.sign(np.linalg.det(u @ v)))]) @ v
    off = np.hypot(*(m @ turn * (sizes.sum() / (m**2).sum()) - t).T)
    return round(float(np.median(off)), 2), round(float(off.max()), 2)


if __name__ == "__main__":
    sys.exit(main())
