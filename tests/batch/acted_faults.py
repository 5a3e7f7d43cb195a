"""Stand-ins for what goes wrong in a worker. In a module of its own, since work crosses to another process by name."""

from __future__ import annotations

import os
import signal
from dataclasses import dataclass

from digitize.errors import PageUnreadable


@dataclass(frozen=True)
class ActedTask:
    sheet: str
    act: str


def act(task: ActedTask) -> str:
    if task.act == "killed":
        os.kill(os.getpid(), signal.SIGKILL)
    if task.act == "unreadable":
        raise PageUnreadable(f"{task.sheet}: it is not an image.", "Remove it.")
    if task.act == "fault":
        raise ZeroDivisionError("a fault of ours")
    if task.act == "threads":
        import cv2

        return f"{cv2.getNumThreads()} {os.environ['OMP_THREAD_LIMIT']}"
    return f"read {task.sheet}"
