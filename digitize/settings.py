"""The settings of a run in one table: name, default, unit, help. Checking, help and the README's table come from it."""

from __future__ import annotations

import os
from collections.abc import Iterable
from dataclasses import dataclass

from digitize.errors import CalledWrongly


class SettingWrong(CalledWrongly):
    """A setting's name is unknown or its value does not fit; every fault is listed."""


@dataclass(frozen=True, slots=True)
class Setting:
    """One row of the table. ``low`` and ``high`` are the values still allowed."""

    name: str
    default: float
    unit: str
    low: float
    high: float
    whole: bool
    help: str


@dataclass(frozen=True, slots=True)
class Settings:
    """The values of one run; made once, never changed on the way. One field for each row of ``TABLE``."""

    jobs: int = 0
    doubtful_below: float = 0.9


TABLE: tuple[Setting, ...] = (
    Setting("jobs", 0, "workers", 0, 256, True, "Pages read at the same time; 0 means one for each processor core."),
    Setting(
        "doubtful_below",
        0.9,
        "probability",
        0,
        1,
        False,
        "A claim less likely than this is counted and listed by `read` and `report` as a doubt; the desk asks below 0.9.",
    ),
)


def settings_from(pairs: Iterable[str]) -> Settings:
    """Settings from ``NAME=VALUE`` strings; what is not named keeps its default.

    Raises SettingWrong with all faults in one line.
    """
    rows = {row.name: row for row in TABLE}
    faults: list[str] = []
    values: dict[str, float] = {}
    for pair in pairs:
        name, equals, text = pair.partition("=")
        row = rows.get(name.strip())
        if row is None or not equals:
            faults.append(f"{pair!r} is not NAME=VALUE with a known name")
            continue
        fault, value = _value(row, text.strip())
        if fault:
            faults.append(fault)
        else:
            values[row.name] = value
    if faults:
        raise SettingWrong(f"Settings: {'; '.join(faults)}.", f"Known names: {', '.join(rows)}.")
    whole = {row.name for row in TABLE if row.whole}
    return Settings(**{k: int(v) if k in whole else v for k, v in values.items()})  # type: ignore[arg-type]


def workers(settings: Settings) -> int:
    """How many pages are read at the same time under ``settings``, at least 1."""
    return settings.jobs or max(1, len(os.sched_getaffinity(0)))


def _value(row: Setting, text: str) -> tuple[str | None, float]:
    try:
        value = float(text)
    except ValueError:
        return f"{row.name}={text!r} is not a number", 0.0
    if not row.low <= value <= row.high or (row.whole and value != int(value)):
        kind = "a whole number" if row.whole else "a number"
        return f"{row.name}={text} must be {kind} from {row.low:g} to {row.high:g} ({row.unit})", 0.0
    return None, value
