"""``scripts/bench``: per page accuracy, seconds by stage, peak memory, and the time of one plain text recognition.

Sections: the demo manual (generated when missing, scored with ``fixtures.compare``) and every folder with a
``truth.json`` under ``--practice`` (scored with the ``score.py`` beside it, as a process of its own). Pages are read one
at a time on one core, so that the seconds mean something. The row ``drawing alone`` is the section bound without the evidence
of charts, index, repeated codes and habits: what lies between it and ``all`` is what the evidence lifts.
"""

from __future__ import annotations

import argparse
import json
import os
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from digitize.errors import DigitizeError, PartMissing
from scripts.neutral_prediction import prediction
from scripts.section import Digitized, digitize_section

PROJECT = Path(__file__).resolve().parent.parent
PRACTICE = PROJECT.parent / "shared" / "practice"
SHOWN = (
    "wire_code",
    "wire_endpoint_f1",
    "connector_id",
    "zone",
    "continuation_f1",
    "splice_recall",
    "component_recall",
)

Row = dict[str, Any]


def main(arguments: list[str] | None = None) -> int:
    """Run the sections that are asked for, print the table and write the JSON."""
    parser = argparse.ArgumentParser(prog="scripts/bench", description=(__doc__ or "").split("\n\n")[0])
    parser.add_argument("sections", nargs="*", help="names of practice sections, or 'demo'; all when left out")
    parser.add_argument("--practice", type=Path, default=PRACTICE, help="folder with section folders and score.py")
    parser.add_argument("--demo", type=Path, default=PROJECT / "demo-manual", help="folder of the demo manual")
    parser.add_argument("--json", type=Path, default=PROJECT / "dist" / "bench.json", help="where the figures go")
    parser.add_argument("--no-tesseract", action="store_true", help="leave out the comparison in time")
    given = parser.parse_args(arguments)
    rows: list[Row] = []
    try:
        for name, folder in sections(given.practice, given.demo, given.sections):
            rows += bench_section(name, folder, given.practice / "score.py", compare_time=not given.no_tesseract)
    except DigitizeError as fault:
        print(f"bench: {fault.what} {fault.advice}", file=sys.stderr)
        return fault.exit_code
    given.json.parent.mkdir(parents=True, exist_ok=True)
    given.json.write_text(json.dumps(rows, indent=1), encoding="utf-8")
    print(table(rows))
    print(f"written: {given.json}", file=sys.stderr)
    return 0


def sections(practice: Path, demo: Path, wanted: list[str]) -> list[tuple[str, Path]]:
    """Names and folders of what is to be measured."""
    found: list[tuple[str, Path]] = []
    if not wanted or "demo" in wanted:
        if not (demo / "truth.json").exists():
            made = [sys.executable, "-m", "fixtures", "demo", str(demo)]
            subprocess.run(made, check=True, cwd=PROJECT)  # noqa: S603  our own module
        found.append(("demo", demo))
    if practice.is_dir():
        names = sorted(p.parent.name for p in practice.glob("*/truth.json"))
        found += [(n, practice / n) for n in names if not wanted or n in wanted]
    return found


def bench_section(name: str, folder: Path, scorer: Path, *, compare_time: bool) -> list[Row]:
    """One row for each page, and two for the section with ``page`` None: with all evidence, and from the drawing alone."""
    done = digitize_section(folder, jobs=1)

    def figures_of(done: Digitized) -> Mapping[str, dict[str, float]]:
        return demo_figures(folder, done) if name == "demo" else scored(folder, done, scorer)

    figures = figures_of(done)
    rows = []
    for scan, outcome in zip(done.scans, done.outcomes, strict=True):
        number = done.pages.numbers[scan.sheet]
        reference = tesseract_seconds(Path(scan.path)) if compare_time else None
        rows.append(
            {
                "section": name,
                "page": number,
                "figures": figures.get(str(number), {}),
                "failed": outcome.failed.what if outcome.failed else None,
                "seconds": round(outcome.seconds, 3),
                "stages": {k: round(v, 3) for k, v in outcome.result.seconds} if outcome.result else {},
                "peak_mb": round(outcome.peak_mb),
                "tesseract_seconds": reference,
                "times_tesseract": round(outcome.seconds / reference, 2) if reference else None,
            }
        )
    rows.append({"section": name, "page": None, "figures": figures.get("section", {})})
    alone = figures_of(done.drawing_alone()).get("section", {})
    rows.append({"section": name, "page": None, "evidence": False, "figures": alone})
    return rows


def scored(folder: Path, done: Digitized, scorer: Path) -> Mapping[str, dict[str, float]]:
    """What the outside scorer says, by page and for the section.

    Raises PartMissing when the scorer fails.
    """
    with tempfile.TemporaryDirectory() as work:
        out, metrics = Path(work, "prediction.json"), Path(work, "metrics.json")
        out.write_text(json.dumps(prediction(done.harness, done.pages)), encoding="utf-8")
        command = [sys.executable, str(scorer), str(folder / "truth.json"), str(out), "--json", str(metrics)]
        ran = subprocess.run(command, check=False, capture_output=True, text=True)  # noqa: S603  named by the developer
        if ran.returncode or not metrics.exists():
            raise PartMissing(f"{scorer} ended with {ran.returncode}: {ran.stderr[-300:]}", "Run it by hand.")
        said = json.loads(metrics.read_text(encoding="utf-8"))
    figures = {page: _scores(metric) for page, metric in said.get("pages", {}).items()}
    return figures | {"section": _scores(said.get("section", {}))}


def _scores(metrics: Mapping[str, Any]) -> dict[str, float]:
    return {k: round(m["score"], 4) for k, m in metrics.items() if isinstance(m, dict) and m.get("score") is not None}


OWN_WORDS = {
    "wire_codes_exact": "wire_code",
    "connector_ids": "connector_id",
    "zones": "zone",
    "page_links_f1": "continuation_f1",
}
"""The comparer's words for figures that the outside scorer counts too."""


def demo_figures(folder: Path, done: Digitized) -> Mapping[str, dict[str, float]]:
    """What the project's own comparer says of the demo manual, by page and for the whole of it."""
    from fixtures.compare import F1S, RATIOS, compare  # noqa: PLC0415  only for the demo
    from fixtures.truth import read  # noqa: PLC0415

    mappings = {sheet: facts.mapping for sheet, facts in done.pages.facts.items()}
    truth = read(folder / "truth.json")
    said = compare(done.harness, truth, mappings)

    def figures(sheet: str | None) -> dict[str, float]:
        scores = {m: said.score(m, sheet) for m in (*RATIOS, *F1S)}
        return {OWN_WORDS.get(m, m): round(score, 4) for m, score in scores.items() if score is not None}

    return {"section": figures(None), **{str(p.number): figures(p.sheet) for p in truth.pages}}


def tesseract_seconds(page: Path) -> float | None:
    """Wall seconds of one ``tesseract --psm 11`` on the page as it lies on disk, one thread; None when not installed."""
    program = shutil.which("tesseract")
    if program is None:
        return None
    began = time.perf_counter()
    subprocess.run(  # noqa: S603  Debian's program on a page of ours
        [program, str(page), "-", "--psm", "11"],
        check=False,
        capture_output=True,
        env={**os.environ, "OMP_THREAD_LIMIT": "1"},
    )
    return round(time.perf_counter() - began, 3)


def table(rows: list[Row]) -> str:
    """All rows as aligned columns."""
    heads = ["section", "page", *SHOWN, "seconds", "peak MB", "x tesseract"]
    lines = [heads]
    for row in rows:
        figures = [f"{row['figures'][k]:.3f}" if k in row["figures"] else "" for k in SHOWN]
        whole = "all" if row.get("evidence", True) else "drawing alone"
        page = whole if row["page"] is None else str(row["page"])
        costs = [row.get("seconds"), row.get("peak_mb"), row.get("times_tesseract")]
        lines.append([row["section"], page, *figures, *("" if c is None else f"{c:g}" for c in costs)])
    wide = [max(len(line[i]) for line in lines) for i in range(len(heads))]
    return "\n".join("  ".join(cell.rjust(w) for cell, w in zip(line, wide, strict=True)) for line in lines)


if __name__ == "__main__":
    sys.exit(main())
