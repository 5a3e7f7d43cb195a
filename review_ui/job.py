"""Reads pages in a process of its own and tells how far it is: one JSON line for each event on its standard output.

``python -m review_ui.job`` takes what to do as JSON on its standard input. A process of its own keeps the desk quick while
pages are read, and can be stopped at any moment: whatever was read until then is in the manual.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

from digitize.batch.desk_runs import add_pages, bind_now, decode_again
from digitize.batch.state import Failed
from digitize.batch.teaching import where_else
from digitize.errors import DigitizeError
from digitize.harness.edits import TeachSymbol
from digitize.harness.edits_teach import SAME, share
from digitize.store.manual import Manual


class Told:
    """Progress as JSON lines."""

    def begin(self, pages: int, unchanged: int) -> None:
        """``pages`` will be read; ``unchanged`` stay as they are."""
        tell("begin", pages=pages, unchanged=unchanged)

    def page(self, sheet: str, seconds: float) -> None:
        """One page was read."""
        tell("page", sheet=sheet, seconds=round(seconds, 1))

    def failed(self, failed: Failed) -> None:
        """One page could not be read."""
        tell("failed", sheet=failed.sheet, what=failed.what, advice=failed.advice)

    def note(self, line: str) -> None:
        """A page was read but is strange."""
        tell("note", line=line)

    def end(self) -> None:
        """All pages are done."""


def tell(event: str, **more: Any) -> None:
    """One line."""
    print(json.dumps({"event": event, **more}, ensure_ascii=False), flush=True)


def look_for(path: Path, lesson: str) -> None:
    """Tell where else a symbol that was just taught stands, before the pages are read again with it."""
    with Manual.open(path) as manual:
        taught = next(
            (r.edit for r in manual.edits() if isinstance(r.edit, TeachSymbol) and r.edit.target == lesson), None
        )
        if taught is None:
            return
        for sheet, symbol in where_else(manual, taught):
            if sheet != taught.anchor.sheet or share(symbol.box, taught.box) < SAME:
                box = symbol.box
                tell(
                    "found", sheet=sheet, mm=[box.x0, box.y0, box.x1, box.y1], probability=round(symbol.probability, 3)
                )


def main() -> int:
    """Do what standard input asks for; 0 when it was done, else the fault's exit code."""
    asked = json.load(sys.stdin)
    path, jobs = Path(asked["manual"]), int(asked["jobs"])
    try:
        if asked["do"] == "add":
            add_pages(path, [Path(f) for f in asked["files"]], jobs, Told())
        elif asked["do"] == "decode":
            if asked.get("lesson"):
                look_for(path, asked["lesson"])
            decode_again(path, jobs, Told(), asked.get("first"))
        else:
            bind_now(path)
    except DigitizeError as fault:
        tell("fault", what=fault.what, advice=fault.advice)
        return fault.exit_code
    tell("done")
    return 0


if __name__ == "__main__":
    sys.exit(main())
