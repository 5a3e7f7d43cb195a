"""How the process holds memory that was freed: kept for the next picture, or given back to the system.

A page takes and frees pictures of some 20 MB by the dozen. Left to itself the C library hands each one back, and the system
clears every page of it anew at the next: with all of that, it spends a tenth of a sheet's time.
"""

from __future__ import annotations

import contextlib
import ctypes

_TRIM_THRESHOLD, _MMAP_MAX = -1, -4
"""Numbers of the settings in the GNU C library's ``mallopt`` (malloc.h)."""

_KEPT = 128 << 20
"""Bytes: so much freed memory is kept at the end of the heap."""


def keep_freed() -> None:
    """Keep freed memory for what is asked for next, up to ``_KEPT`` bytes. Other C libraries decide for themselves."""
    with contextlib.suppress(OSError, AttributeError):
        library = ctypes.CDLL(None)
        library.mallopt(_TRIM_THRESHOLD, _KEPT)
        library.mallopt(_MMAP_MAX, 0)


def give_back() -> None:
    """Give all freed memory back to the system, where the C library can."""
    with contextlib.suppress(OSError, AttributeError):
        ctypes.CDLL(None).malloc_trim(0)
