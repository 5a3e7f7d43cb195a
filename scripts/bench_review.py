"""``scripts/bench review``: what a review costs and what the queue's order is worth, by a simulated reviewer.

For every folder of pages with their ``truth.json`` (``python -m fixtures demo OUT`` or ``random OUT``, or any other folder
with a truth in the neutral layout; nothing is written there) the pages are digitized and reviewed twice, once in the queue's
order and once from the top of the first sheet to the bottom of the last. Prints both curves of wire ends F1 against answers,
the keys, clicks and corrections for every 100 items, the worst page, and draws the curves into a picture.
"""

from __future__ import annotations

import argparse
import json
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any, get_args

import cv2
import numpy as np

from digitize.errors import DigitizeError, NotFound
from digitize.legend.conventions import Conventions
from digitize.legend.conventions_text import conventions_text
from fixtures.heldout_back import read_any
from review_ui.desk import Desk
from scripts.reviewer import Reviewer, Tally, Way, items
from scripts.section import conventions_of

PROJECT = Path(__file__).resolve().parent.parent
GOOD, DONE = 0.99, 0.995
"""F1 of wire ends at which two orders are compared, and that a review must reach (both from the project's own bars)."""

MOST_CORRECTIONS = 8.0
"""Corrections for every 100 items that a review may take (the project's own bar)."""

Row = dict[str, Any]


def main(arguments: list[str] | None = None) -> int:
    """Review every folder both ways; 0 when all bars hold, 1 when one is missed."""
    parser = argparse.ArgumentParser(prog="scripts/bench review", description=(__doc__ or "").split("\n\n")[0])
    parser.add_argument("folders", nargs="+", type=Path, help="folders of pages with their truth.json")
    parser.add_argument("--manuals", type=Path, help="keep the digitized manuals here, and use those that are there")
    parser.add_argument("--json", type=Path, default=PROJECT / "dist" / "review.json", help="where the figures go")
    parser.add_argument("--plot", type=Path, default=PROJECT / "dist" / "review.png", help="where the picture goes")
    given = parser.parse_args(arguments)
    try:
        with tempfile.TemporaryDirectory(prefix="digitize-review-") as work:
            rows = [row for folder in given.folders for row in bench(folder, given.manuals or Path(work), Path(work))]
    except DigitizeError as fault:
        print(f"bench: {fault.what} {fault.advice}", file=sys.stderr)
        return fault.exit_code
    for path in (given.json, given.plot):
        path.parent.mkdir(parents=True, exist_ok=True)
    given.json.write_text(json.dumps(rows, indent=1), encoding="utf-8")
    cv2.imwrite(str(given.plot), plot(rows))
    print(table(rows))
    missed = bars(rows)
    print("\n".join(missed) if missed else "all bars hold")
    print(f"written: {given.json}, {given.plot}", file=sys.stderr)
    return 1 if missed else 0


def bench(folder: Path, manuals: Path, work: Path) -> list[Row]:
    """Both ways through one section. Raises NotFound without a truth, PartMissing or others when reading fails."""
    told = folder / "truth.json"
    if not told.exists():
        raise NotFound(f"{folder} has no truth.json.", "Generate pages with: python -m fixtures random OUT")
    truth = read_any(told)
    manual = manuals / f"{folder.resolve().name}.manual"
    if not manual.exists():
        manuals.mkdir(parents=True, exist_ok=True)
        command = [sys.executable, "-m", "digitize", "read", str(folder), "--into", str(manual), "--jobs", "1"]
        conventions = conventions_of(folder)
        if conventions != Conventions():
            stated = work / f"{folder.resolve().name}.toml"
            stated.write_text(conventions_text(conventions), encoding="utf-8")
            command += ["--conventions", str(stated)]
        subprocess.run(command, check=True, cwd=PROJECT, stdout=subprocess.DEVNULL)  # noqa: S603  our own program
    rows = []
    for way in get_args(Way):
        copy = work / "reviewed.manual"
        shutil.copy(manual, copy)
        desk = Desk(copy)
        try:
            tally = Reviewer(desk, truth).review(way)
        finally:
            desk.close()
            copy.unlink()
        rows.append(figures(folder.resolve().name, way, tally, items(truth)))
    return rows


def figures(section: str, way: Way, tally: Tally, count: int) -> Row:
    """One row: what a review cost."""
    return {
        "section": section,
        "order": way,
        "items": count,
        "f1_before": round(tally.curve[0][1], 4),
        "f1_after_queue": round(next(f1 for n, f1 in reversed(tally.curve) if n <= tally.asked), 4),
        "f1_after": round(tally.curve[-1][1], 4),
        "questions": tally.asked,
        "answers": tally.answers,
        "answers_to_good": tally.reaches(GOOD),
        "answers_to_done": tally.reaches(DONE),
        "corrections": tally.corrections,
        "corrections_per_100": round(100 * tally.corrections / max(1, count), 2),
        "keys": tally.keys,
        "clicks": tally.clicks,
        "keys_per_100": round(100 * tally.keys / max(1, count), 1),
        "clicks_per_100": round(100 * tally.clicks / max(1, count), 1),
        "pages": {sheet: round(f1, 4) for sheet, f1 in tally.pages.items()},
        "asked": dict(tally.kinds),
        "refused": tally.refused,
        "curve": [(n, round(f1, 5)) for n, f1 in tally.curve],
    }


def bars(rows: list[Row]) -> list[str]:
    """One line for each bar that is missed."""
    missed = []
    by_section: dict[str, dict[str, Row]] = {}
    for row in rows:
        by_section.setdefault(row["section"], {})[row["order"]] = row
    for section, both in by_section.items():
        queue, plain = both["queue"], both["top to bottom"]
        missed += [
            f"{section}, {sheet}: wire ends F1 {f1:.3f} when no question is left, asked for {DONE}"
            for sheet, f1 in queue["pages"].items()
            if f1 < DONE
        ]
        if queue["corrections_per_100"] > MOST_CORRECTIONS:
            missed.append(
                f"{section}: {queue['corrections_per_100']:g} corrections for every 100 items, at most {MOST_CORRECTIONS:g}"
            )
        mine, theirs = queue["answers_to_good"], plain["answers_to_good"]
        if theirs and (mine is None or 2 * mine > theirs):
            missed.append(f"{section}: {GOOD} after {mine} answers, top to bottom after {theirs}")
    return missed


def table(rows: list[Row]) -> str:
    """All rows as aligned columns, with the curve at every tenth of its answers."""
    heads = [
        "section",
        "order",
        "before",
        "asked",
        "after",
        f"to {GOOD}",
        f"to {DONE}",
        "mended",
        "keys",
        "clicks",
        "worst page",
    ]
    lines = [heads]
    for r in rows:
        cells = (r["f1_before"], r["f1_after_queue"], r["f1_after"], r["answers_to_good"], r["answers_to_done"])
        costs = (
            r["corrections_per_100"],
            r["keys_per_100"],
            r["clicks_per_100"],
            min(r["pages"].values(), default=None),
        )
        lines.append([r["section"], r["order"], *("never" if c is None else f"{c:g}" for c in (*cells, *costs))])
    wide = [max(len(line[i]) for line in lines) for i in range(len(heads))]
    told = ["mended, keys and clicks are for every 100 items; before, asked (no question is left), after: wire ends F1"]
    told += ["  ".join(cell.rjust(w) for cell, w in zip(line, wide, strict=True)) for line in lines]
    for r in rows:
        curve = r["curve"]
        if r["order"] == "queue" and r["answers_to_good"]:
            others = [x for x in rows if x["section"] == r["section"] and x["order"] != "queue"]
            plain = others[0]["answers_to_good"] if others else None
            if plain:
                told.append(
                    f"{r['section']}: {GOOD} in {r['answers_to_good'] / plain:.0%} of the answers of top to bottom"
                )
        picked = [curve[round(i * (len(curve) - 1) / 10)] for i in range(11)]
        told.append(f"{r['section']}, {r['order']}: " + "  ".join(f"{n}:{f1:.3f}" for n, f1 in dict(picked).items()))
    return "\n".join(told)


PANEL_WIDE, PANEL_HIGH, MARGIN = 620, 300, 60
INKS = {"queue": (150, 70, 20), "top to bottom": (60, 110, 190)}
"""Blue and ochre (BGR); the second is drawn with gaps, so that they stay apart in greys."""


def plot(rows: list[Row]) -> np.ndarray[Any, np.dtype[np.uint8]]:
    """The curves as a picture (rows × columns × BGR, uint8), one panel for each section."""
    sections = list(dict.fromkeys(r["section"] for r in rows))
    page = np.full((PANEL_HIGH * len(sections), PANEL_WIDE, 3), 255, np.uint8)
    for i, section in enumerate(sections):
        mine = [r for r in rows if r["section"] == section]
        _panel(page[i * PANEL_HIGH : (i + 1) * PANEL_HIGH], section, mine)
    return page


def _panel(page: np.ndarray[Any, np.dtype[np.uint8]], section: str, rows: list[Row]) -> None:
    most = max(1, *(r["curve"][-1][0] for r in rows))
    least = min(GOOD, *(f1 for r in rows for _, f1 in r["curve"])) - 0.005

    def spot(n: float, f1: float) -> tuple[int, int]:
        x = MARGIN + n / most * (PANEL_WIDE - MARGIN - 20)
        y = PANEL_HIGH - 45 - (f1 - least) / (1 - least) * (PANEL_HIGH - 90)
        return round(x), round(y)

    def write(text: str, at: tuple[int, int], ink: tuple[int, int, int] = (40, 40, 40)) -> None:
        cv2.putText(page, text, at, cv2.FONT_HERSHEY_SIMPLEX, 0.4, ink, 1, cv2.LINE_AA)

    for level in (least, GOOD, DONE, 1.0):
        cv2.line(page, spot(0, level), spot(most, level), (215, 215, 215), 1)
        if level != DONE:
            write(f"{level:.3f}", (8, spot(0, level)[1] + 4))
    write(f"{section}: wire ends F1 against answers", (MARGIN, 22))
    write("0", (MARGIN - 3, PANEL_HIGH - 25))
    write(str(most), (PANEL_WIDE - 45, PANEL_HIGH - 25))
    asked = max(r["questions"] for r in rows)
    cv2.line(page, spot(asked, least), spot(asked, 1.0), (150, 150, 150), 1)
    write("no question left", (max(MARGIN, spot(asked, 1.0)[0] - 110), spot(0, 1.0)[1] - 6), (110, 110, 110))
    for k, row in enumerate(rows):
        ink = INKS[row["order"]]
        write(row["order"], (MARGIN + 60 + 160 * k, PANEL_HIGH - 10), ink)
        for (n0, v0), (n1, v1) in zip(row["curve"], row["curve"][1:], strict=False):
            if row["order"] == "queue" or n0 % 2 == 0:
                cv2.line(page, spot(n0, v0), spot(n1, v0), ink, 2, cv2.LINE_AA)
            cv2.line(page, spot(n1, v0), spot(n1, v1), ink, 2, cv2.LINE_AA)


if __name__ == "__main__":
    sys.exit(main())
