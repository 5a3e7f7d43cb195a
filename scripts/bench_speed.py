"""``scripts/bench speed``: seconds for a page, memory for a large sheet, and whether the seconds grow with the pixels.

``python -m scripts.bench_speed [OUT.json]`` draws the demo manual when it is not there and joins four of its pages to one A1
sheet at 400 dpi (124 megapixels) as a 1-bit, a grey and two colour scans. Every picture is read in a process of its own, on one
core and with one thread in each library; seconds are processor seconds, the least of three runs, without the start of the
program. Text is read by our own reader alone: the second reader is another program. Prints a table with what each figure is
held against, writes JSON, and ends with 1 when a bar is missed. The load of the machine and a yardstick (a fixed piece of
the libraries' work, seconds) go with it: processor seconds are long, too, where others use the same caches.
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any, TypeVar

State = TypeVar("State")

PROJECT = Path(__file__).resolve().parent.parent
LARGE = (13244, 9354)
"""Columns and rows of an A1 sheet at 400 dpi."""

BARS = {"page_seconds": 2.0, "text_seconds": 1.0, "peak_mb": 1000.0, "growth": 1.25}
"""Most seconds of an A3 page at 300 dpi for everything but reading the text, and for finding and reading it; most memory
(MB, 10^6 bytes) of a 124-megapixel sheet; most seconds for a megapixel of it against those of a page in a file of the same kind:
what a file takes to unpack is in both."""

READING = "reading"
RUNS = 3


class _Clock:
    """Times the stages of one sheet; keeps the least of several runs."""

    def __init__(self) -> None:
        self.seconds: dict[str, float] = {}

    def stage(self, name: str, work: Callable[[], State]) -> State:
        """Run ``work`` and note its processor seconds."""
        began = time.process_time()
        made = work()
        took = time.process_time() - began
        self.seconds[name] = min(took, self.seconds.get(name, took))
        return made


def measure(picture: Path, runs: int) -> dict[str, Any]:
    """What reading one picture costs in this process: seconds by stage, megapixels, peak memory in MB."""
    from digitize.batch.worker import peak_megabytes, prepare_worker  # noqa: PLC0415  before the libraries it sets

    prepare_worker()
    from digitize.legend.conventions import Conventions  # noqa: PLC0415
    from digitize.pipeline import read_sheet  # noqa: PLC0415
    from digitize.reading.readers import probe_readers  # noqa: PLC0415
    from digitize.sheet.sources import find_scans  # noqa: PLC0415
    from digitize.sheet.state import SheetHints  # noqa: PLC0415

    readers = replace(probe_readers(), second=None, third=None)
    (scan,), _ = find_scans(picture, "invented for a bench")
    clock = _Clock()
    for _ in range(runs):
        facts = read_sheet(scan, SheetHints(), Conventions(), readers, clock).facts
    return {
        "picture": picture.name,
        "megapixels": facts.scan_width * facts.scan_height / 1e6,
        "stages": clock.seconds,
        "seconds": sum(v for k, v in clock.seconds.items() if k != READING),
        "text_seconds": clock.seconds["lettering"] + clock.seconds[READING],
        "peak_mb": peak_megabytes(),
        "yardstick": yardstick(),
    }


def yardstick() -> float:
    """Processor seconds of a fixed piece of the libraries' work on 6 megapixels, the least of several runs.

    The same machine has taken from 1.6 to 3.1 s for the same page on different days; figures of two days compare by this.
    """
    import cv2  # noqa: PLC0415  as in ``measure``
    import numpy as np  # noqa: PLC0415

    grey = np.random.default_rng(1).integers(0, 256, (2000, 3000), dtype=np.uint8)
    clock = _Clock()

    def work() -> None:
        ink = (cv2.GaussianBlur(grey, (0, 0), 2.0) < 128).astype(np.uint8)
        cv2.connectedComponentsWithStats(ink)
        cv2.distanceTransform(ink, cv2.DIST_L2, 3)
        np.sort(grey, axis=1)

    for _ in range(RUNS):
        clock.stage("work", work)
    return clock.seconds["work"]


def measured(picture: Path, runs: int) -> dict[str, Any]:
    """The same, measured in a fresh process with one thread."""
    command = [sys.executable, "-m", "scripts.bench_speed", "--one", str(picture), "--runs", str(runs)]
    threads = {"OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}
    ran = subprocess.run(  # noqa: S603  our own module
        command, check=True, capture_output=True, text=True, cwd=PROJECT, env={**os.environ, **threads}
    )
    return dict(json.loads(ran.stdout.splitlines()[-1]))


def large_sheets(pages: list[Path], folder: Path) -> list[Path]:
    """Four pages as one sheet of LARGE, as a 1-bit, a grey and two colour scans (packed without and with loss)."""
    import cv2  # noqa: PLC0415  not in the process that is measured
    import numpy as np  # noqa: PLC0415

    half = (LARGE[0] // 2, LARGE[1] // 2)
    four = [cv2.resize(cv2.imread(str(p), cv2.IMREAD_GRAYSCALE), half, interpolation=cv2.INTER_CUBIC) for p in pages]
    return scans_of(np.vstack([np.hstack(four[:2]), np.hstack(four[2:])]), 400, folder)


def page_scans(page: Path, folder: Path) -> list[Path]:
    """One page of 300 dpi in files of the same four kinds."""
    import cv2  # noqa: PLC0415  not in the process that is measured

    return scans_of(cv2.imread(str(page), cv2.IMREAD_GRAYSCALE), 300, folder)


def scans_of(grey: Any, per_inch: int, folder: Path) -> list[Path]:
    """A grey picture (H, W), uint8, as a 1-bit, a grey and two colour scans (packed without and with loss)."""
    import cv2  # noqa: PLC0415
    import numpy as np  # noqa: PLC0415
    from PIL import Image  # noqa: PLC0415

    files = [folder / name for name in ("one_bit.tif", "grey.png", "colour.png", "colour.jpg")]
    dpi = (per_inch, per_inch)
    Image.fromarray(np.where(grey > 128, 255, 0).astype(np.uint8)).convert("1").save(
        files[0], dpi=dpi, compression="group4"
    )
    Image.fromarray(grey).save(files[1], dpi=dpi, compress_level=1)
    yellowed = np.dstack([grey, grey, cv2.subtract(grey, 25)])
    Image.fromarray(yellowed).save(files[2], dpi=dpi, compress_level=1)
    Image.fromarray(yellowed).save(files[3], dpi=dpi, quality=90)
    return files


def judged(
    pages: list[dict[str, Any]], sheets: list[dict[str, Any]], alike: list[dict[str, Any]]
) -> list[dict[str, Any]]:
    """Each figure with its bar and whether it keeps it; a page's figures are the worst of the pages measured.

    ``alike``: a page in a file of the same kind for each of ``sheets``.
    """
    page = max(pages, key=lambda p: p["seconds"])
    slowness = {p["picture"]: p["seconds"] / p["megapixels"] for p in alike}
    figures = [
        ("page_seconds", page["picture"], page["seconds"]),
        ("text_seconds", "", max(p["text_seconds"] for p in pages)),
        *(("peak_mb", s["picture"], s["peak_mb"]) for s in sheets),
        *(("growth", s["picture"], s["seconds"] / s["megapixels"] / slowness[s["picture"]]) for s in sheets),
    ]
    return [{"figure": f, "of": of, "value": round(v, 3), "bar": BARS[f], "kept": v <= BARS[f]} for f, of, v in figures]


def table(judgements: list[dict[str, Any]]) -> str:
    """The judgements as aligned lines."""
    return "\n".join(
        f"{j['figure']:<13} {j['of']:<14} {j['value']:>9g}  at most {j['bar']:>6g}  {'pass' if j['kept'] else 'FAIL'}"
        for j in judgements
    )


def main(arguments: list[str] | None = None) -> int:
    """Measure, print, write."""
    parser = argparse.ArgumentParser(prog="scripts/bench speed", description=(__doc__ or "").split("\n\n")[0])
    parser.add_argument(
        "out", nargs="?", type=Path, default=PROJECT / "dist" / "speed.json", help="where the figures go"
    )
    parser.add_argument("--demo", type=Path, default=PROJECT / "demo-manual", help="folder of the demo manual")
    parser.add_argument("--one", type=Path, help=argparse.SUPPRESS)
    parser.add_argument("--runs", type=int, default=RUNS, help="runs of a page, of which the quickest counts")
    given = parser.parse_args(arguments)
    if given.one is not None:
        print(json.dumps(measure(given.one, given.runs)))
        return 0
    if not (given.demo / "truth.json").exists():
        made = [sys.executable, "-m", "fixtures", "demo", str(given.demo)]
        subprocess.run(made, check=True, cwd=PROJECT)  # noqa: S603  our own module
    pictures = sorted(given.demo.glob("page_*.*"))[:4]
    began = os.getloadavg()
    pages = [measured(p, given.runs) for p in pictures[:2]]
    with tempfile.TemporaryDirectory() as work:
        sheets = [measured(p, 1) for p in large_sheets(pictures, Path(work))]
        alike = [measured(p, given.runs) for p in page_scans(pictures[0], Path(work))]
    judgements = judged(pages, sheets, alike)
    given.out.parent.mkdir(parents=True, exist_ok=True)
    whole = {
        "load": [*began, *os.getloadavg()],
        "figures": judgements,
        "pages": pages,
        "sheets": sheets,
        "alike": alike,
    }
    given.out.write_text(json.dumps(whole, indent=1), encoding="utf-8")
    print(table(judgements))
    print(
        f"load of the machine: {began[0]:.1f} before, {os.getloadavg()[0]:.1f} after; "
        f"yardstick {min(p['yardstick'] for p in pages):.3f} s; written: {given.out}",
        file=sys.stderr,
    )
    return 0 if all(j["kept"] for j in judgements) else 1


if __name__ == "__main__":
    sys.exit(main())
