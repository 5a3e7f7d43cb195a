"""The state ``SheetTable``: what a chart, index or legend page says. Can be saved as JSON."""

from __future__ import annotations

from dataclasses import dataclass

from digitize.harness.claim import Claim
from digitize.harness.place import Box
from digitize.sheet.state import SheetFacts


@dataclass(frozen=True, slots=True)
class ChartRow:
    """One cavity. A half's value is None when the chart prints a dash or nothing."""

    cavity: Claim
    a: Claim
    b: Claim
    box: Box


@dataclass(frozen=True, slots=True)
class ChartEntry:
    """One connector of a chart page."""

    connector: Claim
    location: Claim
    half_names: tuple[str, str] | None
    rows: tuple[ChartRow, ...]
    box: Box


@dataclass(frozen=True, slots=True)
class IndexLine:
    """One entry of an index page: a name and one or more zone references."""

    name: Claim
    zones: tuple[Claim, ...]
    box: Box


@dataclass(frozen=True, slots=True)
class LegendLine:
    """One key and its meaning. ``section`` is ``circuit``, ``colour``, ``connector``, ``code``, ``symbol`` or ``other``."""

    section: str
    key: Claim
    meaning: Claim
    box: Box


@dataclass(frozen=True, slots=True)
class KeyLine:
    """A short key that stands on wires, and what a table says of it; each value None when its table has no such column."""

    key: Claim
    gauge: Claim
    colour: Claim
    tracer: Claim
    box: Box


@dataclass(frozen=True, slots=True)
class SheetTable:
    """What one table page says; lists that do not apply are empty. ``texts`` is every string read on the page."""

    facts: SheetFacts
    chart: tuple[ChartEntry, ...]
    index: tuple[IndexLine, ...]
    legend: tuple[LegendLine, ...]
    texts: tuple[TableText, ...]
    keys: tuple[KeyLine, ...] = ()


@dataclass(frozen=True, slots=True)
class TableText:
    """A string as read on a table page, with the role the table reader gave it (``chart_code``, ``index_name`` …)."""

    text: str
    role: str
    box: Box
    probability: float
