"""Looks at pages, kept from run to run in the user's own cache folder, so that other conventions are a matter of a second.

A look (``batch.looked``) is what no convention changes. It depends on the scan, on the hints that the sheet was flattened
with, and on the code that looked; all three are in the file's name. The folder may be emptied at any time: pages are then
looked at again. Looks are written and read by this user alone; a folder that others may write to is not used.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import shutil
import time
from pathlib import Path

from digitize.sheet.state import Scan, SheetHints

MOST_BYTES = 3_000_000_000
"""The folder is kept below this; the looks that were not used for longest go first (own choice)."""


def looks_folder() -> Path | None:
    """The folder of the looks, made when it is missing; None when there can be none that only this user writes to."""
    home = os.environ.get("XDG_CACHE_HOME") or ""
    folder = (Path(home) if home.startswith("/") else Path.home() / ".cache") / "digitize" / "looks"
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        found = folder.stat()
    except OSError:
        return None
    others = found.st_mode & 0o022
    return None if others or found.st_uid != os.getuid() or folder.is_symlink() else folder


def look_file(folder: Path, scan: Scan, hints: SheetHints, version: str) -> Path:
    """Where the look at ``scan`` under ``hints`` is kept; ``version``: of the code that looks."""
    said = "\n".join((scan.sha256, str(scan.page), repr(hints), version))
    return folder / hashlib.sha256(said.encode()).hexdigest()[:40]


def keep_look(made: Path, kept: Path) -> None:
    """Keep a look that a run made or used; that it cannot be kept costs time later and is no fault now."""
    with contextlib.suppress(OSError):
        if made == kept:
            os.utime(kept)
        elif made.exists() and not kept.exists():
            try:
                os.link(made, kept)
            except OSError:  # another disk
                part = kept.with_suffix(".part")
                shutil.copyfile(made, part)
                part.replace(kept)


def make_room(folder: Path, most: int = MOST_BYTES) -> None:
    """Remove the looks that were not used for longest until the folder holds ``most`` bytes at most.

    Folders of runs that were killed go after a day.
    """
    with contextlib.suppress(OSError):
        for left in folder.iterdir():
            if left.is_dir() and left.stat().st_mtime < time.time() - 86_400:
                shutil.rmtree(left, ignore_errors=True)
        known = sorted(((f.stat(), f) for f in folder.iterdir() if f.is_file()), key=lambda p: p[0].st_mtime)
        total = sum(s.st_size for s, _ in known)
        for stat, file in known:
            if total <= most:
                return
            file.unlink(missing_ok=True)
            total -= stat.st_size
