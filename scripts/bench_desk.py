"""The desk's own bars: first view of a 124-megapixel sheet, 30,000 polylines, 10,000 questions, an edit on screen.

``python -m scripts.bench_desk [OUT.json]`` draws an invented sheet once into a temporary folder, serves it, and measures in
Debian's chromium. Prints a table and writes JSON. The load of the machine goes with it: on a busy one the times are long.
"""

from __future__ import annotations

import hashlib
import json
import os
import random
import re
import subprocess
import sys
import tempfile
import time
from dataclasses import replace
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from playwright.sync_api import Page, sync_playwright

from digitize.harness.model import Harness, SheetNote, SheetPath, Wire, WireEnd
from digitize.sheet.state import Scan
from digitize.store.manual import Manual
from digitize.store.sheets import Outcome
from fixtures.small_harness import claim, small_facts
from fixtures.small_manual import CONVENTIONS

PROJECT = Path(__file__).parent.parent
SIZE = (13244, 9354)
PX_PER_MM = 400 / 25.4
WIRES, DOUBTFUL_EACH = 30_000, 3
STEPS = 60
"""Pointer moves of the drag."""
BARS = {
    "up_s": 1.0, "first_view_s": 1.5, "queue_s": 0.3, "edit_answered_s": 0.15, "edit_shown_s": 0.15, "pan_lost_px": 3,
    "pan_moves_lost": 0,
}  # fmt: skip
"""The desk's bars: seconds; screen px that the map lags behind a drag; pointer moves that did not arrive during it."""


def big_manual(folder: Path) -> tuple[Path, float]:
    """An A1 sheet at 400 dpi with 30,000 wires, of which every third is doubtful; and the seconds its tiles took."""
    rng = random.Random(1)
    width, height = SIZE
    page = np.full((height, width), 235, np.uint8)
    for _ in range(3000):
        ends = [(rng.randrange(width), rng.randrange(height)) for _ in range(2)]
        cv2.line(page, ends[0], ends[1], 40, 3)
    file = folder / "big.png"
    cv2.imwrite(str(file), page, [cv2.IMWRITE_PNG_COMPRESSION, 1])
    facts = replace(
        small_facts("page_01", PX_PER_MM),
        width=width / PX_PER_MM,
        height=height / PX_PER_MM,
        scan_width=width,
        scan_height=height,
    )
    path = folder / "big.manual"
    with Manual.create(path, "invented for a bench") as manual:
        scan = Scan("page_01", str(file), 0, hashlib.sha256(file.read_bytes()).hexdigest(), 400.0, "invented")
        manual.save_sheet(scan, 1, "key", Outcome(facts))
        began = time.perf_counter()
        manual.add_tiles("page_01", page)
        tiles = time.perf_counter() - began
        manual.set_setting("conventions", CONVENTIONS.model_dump_json())
        manual.save_harness(
            Harness(
                "invented",
                (SheetNote("page_01", 1, "diagram", "BIG", "1", facts.width, facts.height),),
                wires=_wires(rng),
            )
        )
    return path, tiles


def _wires(rng: random.Random) -> tuple[Wire, ...]:
    wires = []
    for i in range(WIRES):
        x, y = rng.uniform(10, 800), rng.uniform(10, 560)
        points = [(x, y)]
        for _ in range(5):
            x, y = x + rng.uniform(-8, 8), y + rng.uniform(-8, 8)
            points.append((x, y))
        code = claim(f"L{i} 0.8 BK", 0.5 if i % DOUBTFUL_EACH == 0 else 0.97, (f"L{i}A 0.8 BK", 0.4))
        ends = (WireEnd(None, None, "page_01", points[0]), WireEnd(None, None, "page_01", points[-1]))
        wires.append(Wire(f"w{i:05}", code, None, ends, (SheetPath("page_01", tuple(points)),), 0.97))
    return tuple(wires)


def measure(page: Page, url: str) -> dict[str, float]:
    """The figures, in seconds (frames in milliseconds)."""
    told: dict[str, float] = {}
    began = time.perf_counter()
    page.goto(url)
    page.wait_for_selector("body[data-tiles]", timeout=120_000)
    told["first_view_s"] = time.perf_counter() - began
    page.wait_for_selector("body[data-ready]", timeout=300_000)
    told["all_drawn_s"] = time.perf_counter() - began
    told["queue_s"] = page.evaluate(
        "async () => { const t = performance.now(); await (await fetch('/desk/doubts?most=60')).json(); return (performance.now() - t) / 1000; }"
    )
    page.keyboard.press("q")
    page.wait_for_timeout(2000)
    page.evaluate(
        """() => {
          addEventListener('keydown', (e) => { if (e.key === '2') window.pressed_ = performance.now(); }, true);
          new MutationObserver(() => { requestAnimationFrame(() => { window.shown_ ??= performance.now(); }); }).observe(document.getElementById('says'), {childList: true});
        }"""
    )
    with page.expect_response(lambda r: "/desk/decide" in r.url) as answer:
        began = time.perf_counter()
        page.keyboard.press("2")
    told["edit_answered_s"] = time.perf_counter() - began
    assert answer.value.ok
    page.wait_for_timeout(500)
    told["edit_shown_s"] = page.evaluate("() => (window.shown_ - window.pressed_) / 1000")
    page.wait_for_timeout(3000)
    page.keyboard.press("h")
    page.wait_for_timeout(3000)
    page.evaluate(
        "() => { window.frames_ = []; let last = performance.now(); const f = (n) => { window.frames_.push(n - last); last = n; requestAnimationFrame(f); }; requestAnimationFrame(f); }"
    )
    box = page.locator("#map").bounding_box()
    assert box is not None
    page.mouse.move(box["x"] + 200, box["y"] + 200)
    page.evaluate(
        "() => { window.moves_ = 0; addEventListener('pointermove', (e) => { window.moves_ += e.getCoalescedEvents().length || 1; }, true); }"
    )
    before = page.evaluate("() => window.deskPixel(6000, 4000)")
    page.mouse.down()
    page.mouse.move(box["x"] + 300, box["y"] + 250, steps=STEPS)
    page.wait_for_timeout(1500)  # held still, so that the map does not glide on
    page.mouse.up()
    after = page.evaluate("() => window.deskPixel(6000, 4000)")
    told["pan_lost_px"] = max(abs(after[i] - before[i] - by) for i, by in enumerate((100, 50)))
    told["pan_moves_lost"] = max(0, STEPS - page.evaluate("() => window.moves_"))
    frames = sorted(page.evaluate("() => window.frames_"))
    told["pan_frame_median_ms"] = frames[len(frames) // 2]
    told["pan_frame_worst_ms"] = frames[-1]
    return told


def main(arguments: list[str]) -> int:
    """Run the bench; 0 when all bars hold, 1 otherwise."""
    with tempfile.TemporaryDirectory(prefix="digitize-bench-") as folder:
        path, tiles = big_manual(Path(folder))
        began = time.perf_counter()
        code = "import sys; from review_ui.server import serve; serve(sys.argv[1])"
        server = subprocess.Popen(  # noqa: S603  our own words
            [sys.executable, "-c", code, str(path)], stdout=subprocess.PIPE, text=True, cwd=PROJECT
        )
        try:
            assert server.stdout is not None
            found = re.search(r"http://\S+", server.stdout.readline())
            assert found is not None
            up = time.perf_counter() - began
            with sync_playwright() as playwright:
                root = ["--no-sandbox"] if os.geteuid() == 0 else []
                browser = playwright.chromium.launch(
                    executable_path=os.environ.get("DIGITIZE_CHROMIUM", "/usr/bin/chromium"),
                    args=["--disable-background-networking", *root],
                )
                figures: dict[str, Any] = {
                    "tiles_s": tiles,
                    "up_s": up,
                    **measure(browser.new_page(viewport={"width": 1280, "height": 800}), found.group(0)),
                }
                browser.close()
        finally:
            server.terminate()
            server.wait(timeout=10)
    figures["load"] = os.getloadavg()[0]
    for name, value in figures.items():
        bar = BARS.get(name)
        print(
            f"{name:22} {value:9.3f}"
            + ("" if bar is None else f"   bar {bar:g}: {'holds' if value <= bar else 'MISSED'}")
        )
    if arguments:
        Path(arguments[0]).write_text(json.dumps(figures, indent=1), encoding="utf-8")
    return 0 if all(figures[n] <= bar for n, bar in BARS.items()) else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
