"""A failed or killed worker costs its own sheet only."""

from __future__ import annotations

import os
import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))
from acted_faults import ActedTask, act

from digitize.batch.pool import run_sheets
from digitize.batch.state import SheetOutcome

pytestmark = pytest.mark.filterwarnings("default::DeprecationWarning")


@pytest.fixture(autouse=True)
def _workers_find_the_stand_ins(monkeypatch: pytest.MonkeyPatch) -> None:
    here = str(Path(__file__).parent)
    monkeypatch.setenv("PYTHONPATH", os.pathsep.join(filter(None, [here, os.environ.get("PYTHONPATH", "")])))


def outcomes(acts: dict[str, str], jobs: int) -> dict[str, SheetOutcome[str]]:
    got: list[SheetOutcome[str]] = []
    run_sheets([ActedTask(k, v) for k, v in acts.items()], jobs, act, got.append)
    assert len({o.sheet for o in got}) == len(got), "a sheet was told twice"
    return {o.sheet: o for o in got}


@pytest.mark.parametrize("jobs", [1, 3])
def test_a_killed_worker_fails_only_its_own_sheet(jobs: int) -> None:
    acts = {f"p{i}": "read" for i in range(6)} | {"p2": "killed", "p4": "killed"}
    got = outcomes(acts, jobs)
    assert set(got) == set(acts)
    assert {s for s, o in got.items() if o.failed} == {"p2", "p4"}
    assert got["p2"].failed
    assert "killed" in got["p2"].failed.what
    assert got["p5"].result == "read p5"


def test_a_fault_in_one_sheet_is_told_with_its_reason_and_the_rest_is_read() -> None:
    got = outcomes({"a": "unreadable", "b": "read", "c": "fault"}, 2)
    assert got["b"].result == "read b"
    assert got["a"].failed
    assert got["a"].failed.what == "a: it is not an image."
    assert got["c"].failed
    assert "ZeroDivisionError" in got["c"].failed.what
    assert "acted_faults.py" in got["c"].failed.what


def test_a_worker_uses_one_thread_and_measures_its_memory() -> None:
    got = outcomes({"a": "threads"}, 1)
    assert got["a"].result == "1 1"
    assert 5 < got["a"].peak_mb < 2000


def test_no_tasks_are_no_fault() -> None:
    assert outcomes({}, 2) == {}
