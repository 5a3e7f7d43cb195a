"""What ``digitize read`` does: settle what was asked for, run, say what came out."""

from __future__ import annotations

import sys
import time
from collections.abc import Sequence
from pathlib import Path

from digitize.batch.manual_run import RunRequest, RunSummary, digitize_into
from digitize.batch.state import Failed
from digitize.commands_show import counts_of, counts_told, many
from digitize.errors import SomePagesFailed
from digitize.legend.conventions import Conventions, load_conventions
from digitize.settings import Settings, workers
from digitize.store.manual import Manual


class TerminalProgress:
    """Progress on stderr: one moving line on a terminal, nothing elsewhere; faults and notes are always printed."""

    def __init__(self) -> None:
        self.moving = sys.stderr.isatty()
        self.done = 0
        self.pages = 0
        self.began = 0.0

    def begin(self, pages: int, unchanged: int) -> None:
        """``pages`` will be read; ``unchanged`` stay as they are."""
        self.pages = pages
        self.done = 0
        self.began = time.monotonic()
        if unchanged and pages:
            self._show(f"{unchanged} pages unchanged; reading {pages}")
        elif pages:
            self._show(f"reading {pages} pages")

    def page(self, sheet: str, seconds: float) -> None:
        """One page was read."""
        self.done += 1
        left = (time.monotonic() - self.began) / self.done * (self.pages - self.done)
        self._show(f"{self.done} of {self.pages} pages read, last {sheet} in {seconds:.0f} s; about {left:.0f} s to go")

    def failed(self, failed: Failed) -> None:
        """One page could not be read."""
        self.done += 1 if self.pages else 0
        self._say(f"{failed.what} {failed.advice}")

    def note(self, line: str) -> None:
        """A page was read but is strange."""
        self._say(line)

    def end(self) -> None:
        """All pages are done."""
        if self.moving:
            print("\r\033[K", end="", file=sys.stderr, flush=True)

    def _show(self, line: str) -> None:
        if self.moving:
            print(f"\r\033[K{line}", end="", file=sys.stderr, flush=True)

    def _say(self, line: str) -> None:
        self.end()
        print(" ".join(line.split()), file=sys.stderr, flush=True)


def read_manual(
    pages: Sequence[Path],
    conventions: Path | None,
    into: Path | None,
    rights: str | None,
    settings: Settings,
    *,
    again: bool,
    keep_work: bool,
    drop: tuple[str, ...] = (),
) -> None:
    """Digitize and print the summary. Raises SomePagesFailed after everything else is done when a page failed."""
    target = into if into is not None else manual_beside(pages[0])
    request = RunRequest(
        places=tuple(pages),
        into=target,
        conventions=conventions_for(pages, conventions),
        rights=rights,
        jobs=workers(settings),
        again=again,
        work_folder=target.with_name(target.name + ".work") if keep_work else None,
        drop=drop,
    )
    summary = digitize_into(request, TerminalProgress())
    print(told(summary, target, settings))
    if summary.failed:
        total = len(summary.failed) + len(summary.read) + len(summary.unchanged)
        raise SomePagesFailed(
            f"{len(summary.failed)} of {total} pages could not be read; everything else was.",
            "The lines above say why, page by page; the same command tries them again.",
        )


def conventions_for(pages: Sequence[Path], stated: Path | None) -> Conventions:
    """The file the user named, else ``conventions.toml`` in the folder, else nothing stated. Raises ConventionsWrong."""
    if stated is not None:
        return load_conventions(stated)
    beside = pages[0] / "conventions.toml" if pages[0].is_dir() else pages[0].parent / "conventions.toml"
    return load_conventions(beside) if beside.exists() else Conventions()


def manual_beside(place: Path) -> Path:
    """``FOLDER.manual`` beside the folder, or the page file's name with ``.manual``."""
    place = place.resolve()
    return place.parent / f"{place.name if place.is_dir() else place.stem}.manual"


def told(summary: RunSummary, target: Path, settings: Settings) -> str:
    """The summary as a few lines."""
    with Manual.open(target) as manual:
        manual.set_setting("doubtful_below", str(settings.doubtful_below))  # the report then lists what is counted here
        harness = manual.reviewed().harness
    pages = f"{many(len(summary.read), 'page')} read, {len(summary.unchanged)} unchanged, {len(summary.failed)} failed."
    lines = [pages, counts_told(counts_of(harness, settings.doubtful_below))]
    if summary.left_over:
        kept = ", ".join(summary.left_over)
        lines.append(f"Kept though not among the pages given: {kept}. To take one out: --drop {summary.left_over[0]}.")
    if summary.dropped:
        lines.append(
            f"Taken out: {', '.join(summary.dropped)}. Edits made there wait; they count again if the page comes back."
        )
    lines.append(f"Kept in {target}. Look at it and correct it: digitize desk {target}")
    return "\n".join(lines)
