"""``scripts/bench extras``: taught symbols, fold-outs joined of parts, and drawings by others, each with its figures.

``python -m scripts.bench_extras [OUT.json] [--pages FOLDER ...]``. Taught symbols: on drawn manuals (folders with a
``truth.json``), one drawing of each kind that stands there at least three times is boxed; how many of the others are found,
how many finds are wrong, seconds a page. Parts: two and three scans of a drawn sheet, and two that make 124 megapixels; how
far points of the overlap come out from where they are, seconds, peak memory. Drawings by others: kinds and nets.
"""

from __future__ import annotations

import argparse
import json
import subprocess
import sys
import tempfile
import time
from collections import defaultdict
from pathlib import Path
from typing import Any

import cv2
import numpy as np

from digitize.batch.worker import peak_megabytes
from digitize.harness.edits_teach import share
from digitize.harness.place import Box
from digitize.ink.taught import Lesson, find_taught, picture_of
from digitize.sheet.flatten import flatten
from digitize.sheet.join import join
from digitize.sheet.sources import find_scans, load_pixels
from digitize.sheet.state import Sheet, SheetHints
from fixtures import truth as true
from fixtures.drawn_by_others import CIRCUITS, KINDS, row_of
from fixtures.drawn_by_others_read import held
from fixtures.parts import Cut, drawn_sheet, scanned

PROJECT = Path(__file__).resolve().parent.parent
NOT_TAUGHT = ("module", "fuse_block", "connector", "fuse")
"""Kinds of which no two need look alike, or that have detectors of their own."""

Row = dict[str, Any]


def main(arguments: list[str] | None = None) -> int:
    """Measure, print, write."""
    parser = argparse.ArgumentParser(prog="scripts/bench extras", description=(__doc__ or "").split("\n\n")[0])
    parser.add_argument("out", nargs="?", type=Path, default=PROJECT / "dist" / "extras.json")
    parser.add_argument("--pages", nargs="*", type=Path, default=[PROJECT / "demo-manual"], help="drawn manuals")
    parser.add_argument("--join", nargs="+", type=Path, help=argparse.SUPPRESS)
    given = parser.parse_args(arguments)
    cv2.setNumThreads(1)
    if given.join:
        print(json.dumps(join_files(given.join)))
        return 0
    rows = [*joined_rows(), *others_rows()]
    for folder in given.pages:
        if (folder / "truth.json").exists():
            rows += taught_rows(folder)
        else:
            print(f"bench: {folder} has no truth.json; python -m fixtures demo {folder} makes it.", file=sys.stderr)
    given.out.parent.mkdir(parents=True, exist_ok=True)
    given.out.write_text(json.dumps(rows, indent=1), encoding="utf-8")
    for row in rows:
        print("  ".join(f"{k} {v:g}" if isinstance(v, float) else f"{k} {v}" for k, v in row.items()))
    print(f"written: {given.out}", file=sys.stderr)
    return 0


def taught_rows(folder: Path) -> list[Row]:
    """One row for each kind that was taught on the manual in ``folder``."""
    truth = true.read(folder / "truth.json")
    sheets: dict[str, Sheet] = {}
    boxes: dict[str, list[tuple[str, Box]]] = defaultdict(list)
    for scan in find_scans(folder, "")[0]:
        page = next((p for p in truth.pages if p.sheet == scan.sheet and p.kind == "diagram"), None)
        if page is None:
            continue
        sheet = flatten(scan, load_pixels(scan), SheetHints(page_width=page.width, page_height=page.height))
        sheets[scan.sheet] = sheet
        for part in (c for c in truth.components if c.sheet == scan.sheet):
            corners = np.array([[part.box.x0, part.box.y0], [part.box.x1, part.box.y1]])
            one, two = sheet.facts.mapping.to_sheet(page.mapping.to_scan(corners))
            boxes[part.kind].append((scan.sheet, Box.around([(one[0], one[1]), (two[0], two[1])])))
    rows = []
    for kind, places in sorted(boxes.items()):
        if kind in NOT_TAUGHT or len(places) < 3 or min(places[0][1].width, places[0][1].height) < 2:
            continue
        home, box = places[0]
        lesson = Lesson("shown", kind, picture_of(sheets[home], box))
        began = time.process_time()
        found = [(name, s) for name, sheet in sheets.items() for s in find_taught(sheet, [lesson])]
        took = (time.process_time() - began) / len(sheets)
        right = sum(any(n == name and share(b, s.box) > 0.4 for n, b in places) for name, s in found)
        rows.append(
            {
                "taught": kind,
                "pages": folder.name,
                "drawn": len(places),
                "found": right,
                "wrong": len(found) - right,
                "seconds_a_page": round(took, 2),
            }
        )
    return rows


def joined_rows() -> list[Row]:
    """One row for each set of parts; the last makes 124 megapixels."""
    sets = {
        "two": (drawn_sheet(), (Cut(0.0, 0.6, 0.4), Cut(0.45, 1.0, -1.1, gain=0.8, offset=25))),
        "three": (drawn_sheet(), (Cut(0.0, 0.42), Cut(0.33, 0.72, 1.6, scale=1.02), Cut(0.63, 1.0, -0.7, gain=0.8))),
        "124 Mpx": (
            np.vstack([np.hstack([drawn_sheet(seed=10 * i + j) for j in range(7)]) for i in range(9)]),
            (Cut(0.0, 0.57, 0.3), Cut(0.44, 1.0, -0.5, gain=0.9)),
        ),
    }
    rows = []
    for name, (sheet, cuts) in sets.items():
        parts = [scanned(sheet, cut) for cut in cuts]
        height, width = sheet.shape
        del sheet
        with tempfile.TemporaryDirectory() as work:
            files = [Path(work) / f"{k}.npy" for k in range(len(parts))]
            for file, (picture, _) in zip(files, parts, strict=True):
                np.save(file, picture)
            command = [sys.executable, "-m", "scripts.bench_extras", "--join", *map(str, files)]
            told = subprocess.run(command, check=True, cwd=PROJECT, capture_output=True)  # noqa: S603  our own module
        whole = json.loads(told.stdout)
        first = np.linalg.inv(np.array(whole["matrices"][0])) @ parts[0][1]
        middle = (cuts[0].end + cuts[1].start) / 2 * (width - 1)
        spots = np.array([[[middle, y] for y in np.linspace(0.1, 0.9, 20) * height]])
        there = cv2.perspectiveTransform(spots, np.array(whole["matrices"][1]) @ first)
        off = np.hypot(*(there - cv2.perspectiveTransform(spots, parts[1][1]))[0].T)
        rows.append(
            {
                "parts": name,
                "off_px": round(float(np.median(off)), 2),
                "worst_px": round(float(off.max()), 2),
                "seconds": whole["seconds"],
                "peak_mb": whole["peak_mb"],
            }
        )
    return rows


def join_files(files: list[Path]) -> Row:
    """Join pictures kept as arrays, in a process of its own so that the peak is the joining's."""
    pictures = [np.load(f) for f in files]
    began = time.process_time()
    whole = join(pictures, [(f.stem, 0) for f in files], "sheet")
    took = time.process_time() - began
    return {
        "matrices": [p.matrix for p in whole.parts],
        "seconds": round(took, 1),
        "peak_mb": round(peak_megabytes()),
    }


def others_rows() -> list[Row]:
    """The row of single symbols, then each circuit."""
    drawings = {"symbols": row_of(tuple(KINDS)), **{name: make() for name, make in CIRCUITS.items()}}
    rows = []
    for name, drawing in drawings.items():
        got = held(drawing)
        rows.append(
            {
                "by others": name,
                "parts": len(got.found),
                "found": sum(p is not None for p in got.found),
                "right kind": sum(got.right),
                "joined": f"{got.joined[0]} of {got.joined[1]}",
                "apart": f"{got.apart[0]} of {got.apart[1]}",
            }
        )
    return rows


if __name__ == "__main__":
    sys.exit(main())
