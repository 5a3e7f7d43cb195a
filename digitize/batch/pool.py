"""Many sheets on one machine: a pool of processes in which a failed or killed worker costs its own sheet only."""

from __future__ import annotations

import functools
import multiprocessing
import time
from collections import deque
from collections.abc import Callable, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from typing import Protocol, TypeVar

from digitize.batch.state import Failed, SheetOutcome
from digitize.batch.worker import peak_megabytes, prepare_worker, start_peak
from digitize.errors import DigitizeError


class SheetTask(Protocol):
    """A small picklable description of one sheet's work: paths and numbers."""

    @property
    def sheet(self) -> str:
        """The sheet's id, unique in the run."""
        ...


T = TypeVar("T", bound=SheetTask)
R = TypeVar("R")


def run_sheets(
    tasks: Sequence[T],
    jobs: int,
    work: Callable[[T], R],
    on_result: Callable[[SheetOutcome[R]], None],
) -> None:
    """Do ``work`` on every task in ``jobs`` processes and hand each outcome to ``on_result``, in the order they end.

    ``work`` must be a function of a module (it crosses to another process). Nothing that happens in it ends the run: a
    DigitizeError or any other exception becomes that sheet's failure. When a worker dies (killed, out of memory), the
    sheets that were being read are tried again one by one in a fresh process, so that only the guilty one fails.
    """
    waiting = deque(tasks)
    while waiting:
        suspects = _run_pool(waiting, jobs, work, on_result)
        for task in suspects:
            if _run_pool(deque([task]), 1, work, on_result):
                on_result(SheetOutcome(task.sheet, None, _killed(task.sheet), 0.0, 0.0))


def _run_pool(
    waiting: deque[T],
    jobs: int,
    work: Callable[[T], R],
    on_result: Callable[[SheetOutcome[R]], None],
) -> list[T]:
    """Empty ``waiting``; when the pool breaks, return the tasks that were in its hands and leave the rest waiting."""
    under_way: dict[Future[SheetOutcome[R]], T] = {}
    call = functools.partial(_guarded, work)
    pool = ProcessPoolExecutor(
        max_workers=max(1, min(jobs, len(waiting))),
        mp_context=multiprocessing.get_context("forkserver"),  # never fork after OpenCV has run: its threads are gone
        initializer=prepare_worker,
    )
    suspects: list[T] = []
    try:
        while (waiting or under_way) and not suspects:
            while waiting and len(under_way) < jobs:  # no more than are being read, so that few are suspected
                task = waiting.popleft()
                try:
                    under_way[pool.submit(call, task)] = task
                except BrokenProcessPool:  # it broke between two results: this task never reached a worker
                    waiting.appendleft(task)
                    suspects.extend(under_way.values())
                    return suspects
            ended, _ = wait(under_way, return_when=FIRST_COMPLETED)
            for future in ended:
                task = under_way.pop(future)
                fault = future.exception()
                if isinstance(fault, BrokenProcessPool):
                    suspects.append(task)
                elif fault is not None:  # the outcome could not cross: a fault of ours, told as this sheet's
                    on_result(SheetOutcome(task.sheet, None, _unexpected(task.sheet, fault), 0.0, 0.0))
                else:
                    on_result(future.result())
        return [*suspects, *under_way.values()]
    finally:
        pool.shutdown(wait=True, cancel_futures=True)


def _guarded(work: Callable[[T], R], task: T) -> SheetOutcome[R]:
    """Runs in the worker: ``work`` with its clock, its peak memory and its faults caught."""
    start_peak()
    began = time.monotonic()
    result: R | None = None
    failed: Failed | None = None
    try:
        result = work(task)
    except DigitizeError as fault:
        failed = Failed(task.sheet, fault.what, fault.advice)
    except Exception as fault:  # noqa: BLE001  one bad page never ends the run
        failed = _unexpected(task.sheet, fault)
    return SheetOutcome(task.sheet, result, failed, time.monotonic() - began, peak_megabytes())


def _unexpected(sheet: str, fault: BaseException) -> Failed:
    where = fault.__traceback__
    while where is not None and where.tb_next is not None:
        where = where.tb_next
    line = f" ({where.tb_frame.f_code.co_filename.rsplit('/', 1)[-1]}:{where.tb_lineno})" if where else ""
    words = " ".join(str(fault).split())[:200]
    return Failed(
        sheet,
        f"{sheet}: reading it failed with {type(fault).__name__}: {words}{line}.",
        "This is a fault of the program; please report it with the page.",
    )


def _killed(sheet: str) -> Failed:
    return Failed(
        sheet,
        f"{sheet}: the process that read it was killed.",
        "Most often memory ran out: use --jobs 1, or scan the page at 300 dpi.",
    )
