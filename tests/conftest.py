"""What all tests share: hypothesis profiles, and one digitized demo manual for the whole session."""

from __future__ import annotations

import atexit
import os
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import pytest
from hypothesis import settings

PROJECT = Path(__file__).parent.parent

settings.register_profile("ci", deadline=None, derandomize=True)
settings.register_profile("hand", deadline=None)
settings.load_profile("ci" if os.environ.get("CI") else "hand")

CACHE = tempfile.mkdtemp(prefix="digitize-test-cache-")
atexit.register(shutil.rmtree, CACHE, ignore_errors=True)
os.environ["XDG_CACHE_HOME"] = CACHE  # looks at test pages do not belong into the tester's own cache


YARDSTICK_S = 0.024
"""Seconds of one core that the yardstick below took on the machine on which the bars of the tests were set (measured)."""


def _yardstick() -> float:
    began = time.process_time()
    known: dict[int, int] = {}
    total = 0
    for i in range(200_000):
        known[i % 997] = total
        total += i * 7919 % 1000
    return time.process_time() - began


@pytest.fixture
def slowness() -> float:
    """How many times slower this machine is now than the one on which bars of time were set, at least 1.

    A bar of seconds is stretched by it, so that a slow machine, or one that is shared, fails no test, while work that
    became slower than the yardstick still does.
    """
    return max(1.0, sorted(_yardstick() for _ in range(5))[2] / YARDSTICK_S)


HANGS_S = 900
"""Seconds after which a process is thought to hang: far more than a slow and busy machine needs for the whole demo manual."""


def run_digitize(*arguments: str | Path, timeout: float = HANGS_S) -> subprocess.CompletedProcess[str]:
    """The real command line in a process of its own."""
    return subprocess.run(
        [sys.executable, "-m", "digitize", *map(str, arguments)],
        check=False,
        capture_output=True,
        text=True,
        timeout=timeout,
        cwd=PROJECT,
    )


@pytest.fixture(scope="session")
def digitize():
    """Run ``digitize`` with arguments; gives the finished process with its output."""
    return run_digitize


@pytest.fixture(scope="session")
def demo_pages(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo manual's folder, drawn once a session: page pictures, conventions.toml, truth.json."""
    folder = tmp_path_factory.mktemp("demo") / "pages"
    subprocess.run([sys.executable, "-m", "fixtures", "demo", str(folder)], check=True, cwd=PROJECT, timeout=HANGS_S)
    return folder


@pytest.fixture(scope="session")
def demo_run(demo_pages: Path) -> subprocess.CompletedProcess[str]:
    """The finished ``digitize read`` of the demo manual."""
    return run_digitize("read", demo_pages, "--into", demo_pages.parent / "demo.manual")


@pytest.fixture(scope="session")
def demo_manual(demo_pages: Path, demo_run: subprocess.CompletedProcess[str]) -> Path:
    """The demo manual's file as `digitize read` made it. Tests that write work on a copy."""
    assert demo_run.returncode == 0, demo_run.stderr
    return demo_pages.parent / "demo.manual"
