"""Freed memory is kept for the next picture, and given back when asked."""

from __future__ import annotations

import platform
import subprocess
import sys

import pytest

FAULTS = """
import resource
import numpy as np
from digitize.sheet.memory import give_back, keep_freed
{keep}
def faults():
    before = resource.getrusage(resource.RUSAGE_SELF).ru_minflt
    np.empty(20_000_000, np.uint8)[::4096] = 1
    return resource.getrusage(resource.RUSAGE_SELF).ru_minflt - before
faults()
again = faults()
give_back()
print(again, faults())
"""
PAGES = 20_000_000 // 4096
"""Memory pages of a picture of 20 MB; the system takes more of them at a time where it uses huge ones."""


def _counted(keep: str) -> tuple[int, int]:
    ran = subprocess.run([sys.executable, "-c", FAULTS.format(keep=keep)], check=True, capture_output=True, text=True)
    again, after = map(int, ran.stdout.split())
    return again, after


@pytest.mark.skipif(platform.libc_ver()[0] != "glibc", reason="the settings are those of the GNU C library")
def test_the_second_picture_lies_where_the_first_one_lay() -> None:
    """Without it the system clears the memory of the second picture page by page."""
    kept, after_giving_back = _counted("keep_freed()")
    assert kept < PAGES // 50
    assert after_giving_back > PAGES // 2 or after_giving_back > 10 * max(kept, 1)
