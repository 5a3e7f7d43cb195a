"""Pages that are handed in at the desk, and the one run that reads: adds them, or decodes the manual again."""

from __future__ import annotations

import contextlib
import json
import os
import shutil
import signal
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import AsyncIterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from digitize.errors import DigitizeError, PageUnreadable
from digitize.settings import Settings, workers
from review_ui.drawing import Json

MAX_FILE = 400 * 1024 * 1024
"""Bytes of one file that is handed in: an A0 page at 400 dpi without compression has 250 MB."""

MOST_FILES = 500
SPARE = 1024 * 1024 * 1024
"""Bytes that must stay free on the disk."""

LONGEST_NAME = 120
USUAL_SECONDS = 25.0
"""Seconds that a page is expected to take before one was read (own measurement on two cores)."""


class IntakeRefused(DigitizeError):
    """A file cannot be taken, or a run cannot begin now."""

    exit_code = 2


@dataclass(slots=True)
class Waiting:
    """A file that was handed in. ``pages`` that can be read of it; ``fault``: why none can."""

    name: str
    size: int
    pages: int = 0
    fault: str | None = None


@dataclass(slots=True)
class Run:
    """A run and how far it is. ``state``: ``running``, ``done``, ``stopped`` or ``failed``."""

    do: str
    state: str = "running"
    pages: int | None = None
    read: list[Json] = field(default_factory=list)
    failed: list[Json] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    found: list[Json] = field(default_factory=list)
    fault: str | None = None
    began: float = field(default_factory=time.monotonic)
    marks: list[float] = field(default_factory=list)

    def told(self, jobs: int) -> Json:
        """For the page, with the share of the way that is done and the seconds that are left, as far as one can tell."""
        done = len(self.read) + len(self.failed)
        share, left = None, None
        if self.pages:
            now = time.monotonic()
            pace = (self.marks[-1] - self.began) / len(self.marks) if self.marks else USUAL_SECONDS / jobs
            since = max(0.0, now - (self.marks[-1] if self.marks else self.began))
            share = min(1.0, (done + min(0.9, since / max(pace, 0.1))) / self.pages)
            left = max(0.0, (self.pages - done) * pace - since)
        if self.state != "running":
            share = 1.0
        return {
            "do": self.do, "state": self.state, "pages": self.pages, "done": done, "share": share,
            "left_s": None if left is None else round(left), "read": self.read, "failed": self.failed, "notes": self.notes[-20:], "found": [dict(f) for f in self.found],
            "fault": self.fault,
        }  # fmt: skip


def _room_left(path: Path, name: str) -> None:
    """Raises IntakeRefused when the disk is nearly full."""
    if shutil.disk_usage(path).free < SPARE:
        raise IntakeRefused(f"{name}: the disk is nearly full.", "Make room, then add it again.")


class Intake:
    """Files that wait, and one run at a time. Every method may be called from any thread."""

    def __init__(self, manual: Path) -> None:
        self._manual = manual
        self._jobs = workers(Settings())
        self._folder: Path | None = None
        self._files: dict[str, Waiting] = {}
        self._run: Run | None = None
        self._process: subprocess.Popen[str] | None = None
        self._lock = threading.RLock()
        self._decode: list[tuple[str | None, str | None]] = []
        self._listeners: list[threading.Thread] = []

    def close(self) -> None:
        """End a run that is under way and remove what was handed in; what was read is in the manual."""
        with self._lock:
            self._decode.clear()
            self._kill()
        for listener in self._listeners:
            listener.join(timeout=5)
        if self._folder is not None:
            shutil.rmtree(self._folder, ignore_errors=True)

    def told(self) -> Json:
        """The files that wait and the run."""
        with self._lock:
            return {
                "files": [
                    {"name": f.name, "size": f.size, "pages": f.pages, "fault": f.fault} for f in self._files.values()
                ],
                "run": None if self._run is None else self._run.told(self._jobs),
                "most_bytes": MAX_FILE, "most_files": MOST_FILES,
            }  # fmt: skip

    # files

    async def take(self, name: str, chunks: AsyncIterator[bytes]) -> Path:
        """Keep a file that is handed in. Raises IntakeRefused when its name or the disk does not allow it."""
        name = self._fit_name(name)
        with self._lock:
            if self.busy and self._run is not None and self._run.do == "add":
                raise IntakeRefused(f"{name}: pages are being read just now.", "Add it when they are done.")
            if name in self._files:
                raise IntakeRefused(f"{name}: a file of this name waits already.", "Take that one out first.")
            if len(self._files) >= MOST_FILES:
                raise IntakeRefused(f"{name}: {MOST_FILES} files wait already.", "Read these first.")
            if self._folder is None:
                self._folder = Path(tempfile.mkdtemp(prefix="digitize-intake-"))
            path = self._folder / name
            self._files[name] = Waiting(name, 0, fault="has not come whole")
        size = 0
        try:
            with path.open("wb") as out:
                async for chunk in chunks:
                    out.write(chunk)
                    size += len(chunk)
                    _room_left(path, name)
        except BaseException as fault:
            self.drop(name)
            if isinstance(fault, OSError):
                raise IntakeRefused(f"{name}: cannot be kept ({fault.strerror}).", "Check the disk.") from fault
            raise
        self._files[name].size = size
        return path

    def look(self, path: Path) -> Json:
        """What can be read of a file that was taken; one clear line when nothing can."""
        from digitize.sheet.sources import (
            find_scans,
        )  # it brings readers of pictures and PDF that the first view can do without

        entry = self._files[path.name]
        try:
            scans, broken = find_scans([path], "")
            entry.pages = len(scans)
            faults = [b.error for b in broken]
        except DigitizeError as fault:
            faults = [fault if isinstance(fault, PageUnreadable) else PageUnreadable(fault.what, fault.advice)]
        entry.fault = None
        if faults:
            entry.fault = f"{faults[0].what} {faults[0].advice}".replace(str(path), path.name)
        return {"name": entry.name, "size": entry.size, "pages": entry.pages, "fault": entry.fault}

    def drop(self, name: str) -> None:
        """Take a file out again."""
        with self._lock:
            self._files.pop(name, None)
            if self._folder is not None and name == Path(name).name:
                (self._folder / name).unlink(missing_ok=True)

    @staticmethod
    def _fit_name(name: str) -> str:
        plain = name.replace("\\", "/").rsplit("/", 1)[-1].strip()
        if plain != name.strip() or not plain or plain.startswith(".") or not plain.isprintable():
            raise IntakeRefused(f"{name[:LONGEST_NAME]!r} is no name for a page's file.", "Give the file another name.")
        if len(plain.encode()) > LONGEST_NAME:
            raise IntakeRefused(f"{plain[:40]}…: the name is too long.", f"Use at most {LONGEST_NAME} letters.")
        return plain

    # runs

    @property
    def busy(self) -> bool:
        """Whether a run is under way."""
        return self._run is not None and self._run.state == "running"

    def read(self) -> None:
        """Read the pages that wait. Raises IntakeRefused when there are none, or a run is under way."""
        with self._lock:
            if self.busy:
                raise IntakeRefused("A run is under way already.", "Wait until it is done, or stop it.")
            good = [f.name for f in self._files.values() if f.pages]
            if not good or self._folder is None:
                raise IntakeRefused("No page waits to be read.", "Add files first.")
            self._start("add", files=[str(self._folder / n) for n in good])

    def decode(self, first: str | None, lesson: str | None = None) -> None:
        """Decode the manual again; a decoding that is under way begins anew, an adding is finished first.

        ``first``: the sheet to begin with. ``lesson``: a symbol that was just taught, which is looked for at once.
        """
        with self._lock:
            if self.busy and self._run is not None and self._run.do == "add":
                self._decode = [(first, lesson)]
                return
            self._kill()
            self._start("decode", first=first, lesson=lesson)

    def stop(self) -> None:
        """Stop adding. Pages that were read stay in the manual and are bound; the files wait on. Raises IntakeRefused when none is added."""
        with self._lock:
            if not self.busy or self._run is None or self._run.do != "add":
                raise IntakeRefused("No pages are being read.", "Look at the list of sheets.")
            run = self._run
            run.state = "stopped"
            self._kill()
            if run.read:
                self._bind(run)

    def _bind(self, run: Run) -> None:
        """Put together what was read before the stop; when that fails, the run says why."""
        asked = json.dumps({"do": "bind", "manual": str(self._manual), "jobs": 1})
        done = subprocess.run(
            [sys.executable, "-m", "review_ui.job"], input=asked, text=True, check=False, capture_output=True
        )
        if done.returncode == 0:
            return
        for line in done.stdout.splitlines():
            self._hear(run, json.loads(line))
        run.state = "failed"
        why = run.fault or " ".join(done.stderr.split())[-200:]
        run.fault = f"The pages that were read are kept, but could not be put together. {why}"

    def _start(self, do: str, **more: Any) -> None:
        self._run = Run(do)
        self._process = subprocess.Popen(
            [sys.executable, "-m", "review_ui.job"], stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE,
            text=True, start_new_session=True,
        )  # fmt: skip
        assert self._process.stdin is not None
        asked = {"do": do, "manual": str(self._manual), "jobs": self._jobs, **more}
        with contextlib.suppress(BrokenPipeError):  # it ended at once; the listener tells why
            self._process.stdin.write(json.dumps(asked))
        with contextlib.suppress(BrokenPipeError):
            self._process.stdin.close()
        self._listeners = [t for t in self._listeners if t.is_alive()]
        listener = threading.Thread(target=self._listen, args=(self._process, self._run), daemon=True)
        self._listeners.append(listener)
        listener.start()

    def _listen(self, process: subprocess.Popen[str], run: Run) -> None:
        assert process.stdout is not None
        assert process.stderr is not None
        with process:
            for line in process.stdout:
                with self._lock:
                    self._hear(run, json.loads(line))
            told = process.stderr.read()
        code = process.returncode
        with self._lock:
            if run.state == "running" and (code or run.fault):
                run.state = "failed"
                run.fault = run.fault or f"The run ended unexpectedly (code {code}). {' '.join(told.split())[-200:]}"
            elif run.state == "running":
                run.state = "done"
                if run.do == "add":
                    self._clear(run)
            if self._decode and not self.busy:
                first, lesson = self._decode.pop()
                self._start("decode", first=first, lesson=lesson)

    def _hear(self, run: Run, told: Json) -> None:
        event = told.pop("event")
        if event == "begin":
            run.pages, run.began = told["pages"], time.monotonic()
            run.read.clear()
            run.marks.clear()
        elif event == "page":
            run.read.append(told)
            run.marks.append(time.monotonic())
        elif event == "failed":
            run.failed.append(told)
        elif event == "found":
            run.found.append(told)
        elif event == "note":
            run.notes.append(told["line"])
        elif event == "fault":
            run.fault = f"{told['what']} {told['advice']}"

    def _clear(self, run: Run) -> None:
        """After a whole run only the files that could not be read wait on, with their reasons."""
        stems = {f["sheet"]: f"{f['what']} {f['advice']}" for f in run.failed}
        for name in [n for n, f in self._files.items() if f.pages]:
            fault = stems.get(Path(name).stem)
            if fault is None:
                self.drop(name)
            else:
                self._files[name].fault = fault
                self._files[name].pages = 0

    def _kill(self) -> None:
        """End the run's process with all that it began."""
        process = self._process
        if process is not None and process.poll() is None:
            with contextlib.suppress(ProcessLookupError):
                os.killpg(process.pid, signal.SIGKILL)
            process.wait()
        if self._run is not None and self._run.state == "running":
            self._run.state = "stopped"
