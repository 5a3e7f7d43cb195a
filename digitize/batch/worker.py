"""What every worker process sets once, and how it measures its memory. Process-wide switches live here only."""

from __future__ import annotations

import gc
import os
import resource
from pathlib import Path

from digitize.sheet.memory import give_back, keep_freed


def prepare_worker() -> None:
    """Set the process-wide switches of the libraries: one thread each, and no alarm of Pillow's beside our own limit.

    Pictures larger than ``sheet.sources.MAX_MEGAPIXELS`` are refused there, from their headers.
    """
    os.environ["OMP_THREAD_LIMIT"] = "1"  # several recognisers at once otherwise fight over the cores
    os.environ["OMP_NUM_THREADS"] = "1"
    # huge memory pages spare a small sheet 2 % of its time; once memory is in pieces the system spends a fifth of a
    # large sheet's time on putting them together
    os.environ.setdefault("NUMPY_MADVISE_HUGEPAGE", "0")
    keep_freed()
    import cv2  # noqa: PLC0415  only a worker pays for it
    from PIL import Image  # noqa: PLC0415

    cv2.setNumThreads(1)
    Image.MAX_IMAGE_PIXELS = None


def start_peak() -> None:
    """Give freed memory back, then measure the peak anew.

    Linux resets the mark on a write to ``clear_refs``; elsewhere the mark of the whole process stays.
    """
    gc.collect()
    give_back()
    mark = Path("/proc/self/clear_refs")
    if mark.exists() and os.access(mark, os.W_OK):
        mark.write_text("5", encoding="ascii")


def peak_megabytes() -> float:
    """Peak resident memory of this process since ``start_peak``, MB (10^6 bytes)."""
    status = Path("/proc/self/status")
    if status.exists():
        for line in status.read_text(encoding="ascii").splitlines():
            if line.startswith("VmHWM:"):
                return int(line.split()[1]) * 1024 / 1e6
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024 / 1e6
