"""What crosses between processes: paths, numbers and plain results, never pixels or open handles."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Generic, TypeVar

Task = TypeVar("Task")
Result = TypeVar("Result")


@dataclass(frozen=True, slots=True)
class Failed:
    """A sheet that could not be digitized. ``what`` names the fault and the place, ``advice`` what to do next."""

    sheet: str
    what: str
    advice: str


@dataclass(frozen=True, slots=True)
class SheetOutcome(Generic[Result]):
    """What became of one sheet: a result or a failure, never both."""

    sheet: str
    result: Result | None
    failed: Failed | None
    seconds: float
    peak_mb: float
