"""A real server on a free port and a page driven by a real mouse and keys."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path
from typing import Any

from playwright.sync_api import Page, expect

PROJECT = Path(__file__).parents[2]

PATIENCE_MS = 30_000
"""How long a story waits for what must come: far longer than a slow and busy machine takes, since only a hang is a fault."""

expect.set_options(timeout=PATIENCE_MS)

STILL_IN_A_FRAME = "() => new Promise((tell) => requestAnimationFrame(() => tell(window.deskStill())))"


class Served:
    """The desk's server in a process of its own; its error output is shown when a story fails."""

    def __init__(self, manual: Path, log: Path) -> None:
        self.manual = manual
        self.log = log
        self.process: subprocess.Popen[str] | None = None
        self.url = ""

    def start(self) -> str:
        code = "import sys; from review_ui.server import serve; serve(sys.argv[1])"
        with self.log.open("a") as log:
            self.process = subprocess.Popen(
                [sys.executable, "-c", code, str(self.manual)],
                stdout=subprocess.PIPE,
                stderr=log,
                text=True,
                cwd=PROJECT,
            )
        assert self.process.stdout is not None
        line = self.process.stdout.readline()
        found = re.search(r"http://\S+", line)
        assert found, self.log.read_text()
        self.url = found.group(0)
        return self.url

    def stop(self) -> None:
        if self.process is not None:
            self.process.terminate()
            self.process.wait(timeout=60)
            if self.process.stdout is not None:
                self.process.stdout.close()
            self.process = None


class Person:
    """Somebody at the desk: speaks of scan pixels and words, acts by mouse and keys."""

    def __init__(self, page: Page) -> None:
        self.page = page
        self.faults: list[str] = []
        page.set_default_timeout(PATIENCE_MS)
        page.on("pageerror", lambda e: self.faults.append(str(e)))
        page.on(
            "console",
            lambda m: (
                self.faults.append(m.text) if m.type == "error" and "Failed to load resource" not in m.text else None
            ),
        )

    def open(self, url: str) -> None:
        self.page.goto(url)
        self.page.wait_for_selector("body[data-ready]")
        self.settle()

    def settle(self) -> None:
        """Wait until the page waits for nothing and the map stands still.

        First as long as the map needs to tell a click from a double one, then until two looks say so. Each look is
        taken in a frame of the browser's: the map draws in frames, and until it has, clicks meet what stood there before.
        """
        self.page.wait_for_timeout(350)
        calm = 0
        for _ in range(PATIENCE_MS // 50):
            calm = calm + 1 if self.page.evaluate(STILL_IN_A_FRAME) else 0
            if calm == 2:
                return
            self.page.wait_for_timeout(50)
        raise AssertionError("the page does not come to rest")

    def pixel(self, x: float, y: float) -> tuple[float, float]:
        """Where a scan pixel stands on the screen now."""
        at = self.page.evaluate("([x, y]) => window.deskPixel(x, y)", [x, y])
        box = self.page.locator("#map").bounding_box()
        assert box is not None
        return box["x"] + at[0], box["y"] + at[1]

    def facing_pixel(self, x: float, y: float) -> tuple[float, float]:
        """Where a scan pixel of the second sheet stands on the screen now."""
        at = self.page.evaluate("([x, y]) => window.deskFacingPixel(x, y)", [x, y])
        box = self.page.locator("#facing-map").bounding_box()
        assert box is not None
        return box["x"] + at[0], box["y"] + at[1]

    def click_scan(self, x: float, y: float, *, times: int = 1) -> None:
        self.page.locator("#map").scroll_into_view_if_needed()
        at = self.pixel(x, y)
        self.page.mouse.move(*at)
        if times == 2:
            self.page.mouse.dblclick(*at)
        else:
            self.page.mouse.click(*at)

    def key(self, key: str) -> None:
        self.page.keyboard.press(key)

    def type(self, text: str) -> None:
        self.page.keyboard.type(text)

    def walk_to(self, x: float, y: float) -> None:
        """Move the cross to a scan pixel with the arrow keys, as one does who has no mouse."""
        if self.page.locator("#cross").is_hidden():
            self.key("ArrowUp")
        for _ in range(400):
            box = self.page.locator("#cross").bounding_box()
            assert box is not None
            wanted = self.pixel(x, y)
            dx, dy = wanted[0] - (box["x"] + box["width"] / 2), wanted[1] - (box["y"] + box["height"] / 2)
            if abs(dx) <= 3 and abs(dy) <= 3:
                return
            far = "Shift+" if max(abs(dx), abs(dy)) > 40 else ""
            if abs(dx) >= abs(dy):
                self.key(far + ("ArrowRight" if dx > 0 else "ArrowLeft"))
            else:
                self.key(far + ("ArrowDown" if dy > 0 else "ArrowUp"))
        raise AssertionError("the cross did not get there")

    def says(self, text: str) -> None:
        """The status line tells it."""
        expect(self.page.locator("#says")).to_contain_text(text)

    def question(self) -> str:
        return self.page.locator("#card h2").inner_text()

    def bring_question(self, text: str) -> None:
        """Take the question about ``text`` from the stack unless it is open."""
        if (
            text not in self.page.locator("#card").inner_text()
            and self.page.locator("#card #typed").input_value() != text
        ):
            self.page.locator("#stack button", has_text=text).first.click()
        self.settle()

    def ask(self, path: str) -> Any:
        """What the server says now."""
        return self.page.evaluate("(p) => fetch(p).then((a) => a.json())", path)

    def wire(self, wire_id: str, sheet: str = "page_01") -> dict[str, Any] | None:
        read = self.ask(f"/desk/sheets/{sheet}/read")
        return next((w for w in read["wires"] if w["id"] == wire_id), None)
