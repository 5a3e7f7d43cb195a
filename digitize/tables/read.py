"""ReadMarks of a chart, index or legend page → SheetTable."""

from __future__ import annotations

from collections.abc import Iterable

from digitize.harness.claim import Claim
from digitize.harness.place import Box
from digitize.legend.conventions import Conventions
from digitize.legend.grammar import grammars
from digitize.reading.state import ReadMarks, ReadText
from digitize.tables.begun_anew import parted_where_begun_anew
from digitize.tables.cavities import cavities_settled
from digitize.tables.cells import cells_joined
from digitize.tables.chart import read_chart
from digitize.tables.chart_across import charts_across
from digitize.tables.index_page import read_index
from digitize.tables.key_table import find_key_tables
from digitize.tables.layout import Rules, find_rules, level_texts
from digitize.tables.legend_page import read_legend
from digitize.tables.pins import pins_parted
from digitize.tables.state import ChartEntry, IndexLine, KeyLine, LegendLine, SheetTable, TableText


def read_table(read: ReadMarks, conventions: Conventions | None = None) -> SheetTable:
    """What the page says, by its kind (``facts.kind``). A page of another kind gives its texts only.

    ``conventions``: those that the readings were made with; their grammar of codes joins strings that were found in pieces.
    """
    facts = read.marks.sheet.facts
    rules = find_rules(read.marks.sheet.ink) if read.marks.sheet.ink.size else Rules((), ())
    chart: tuple[ChartEntry, ...] = ()
    index: tuple[IndexLine, ...] = ()
    legend: tuple[LegendLine, ...] = ()
    if facts.kind == "chart":
        code = grammars(conventions or Conventions())["code"]
        cells = cells_joined(level_texts(read.texts), rules, code)
        across, rest = charts_across(facts, cells)
        below = parted_where_begun_anew(read_chart(facts, pins_parted(rest), rules))
        chart = cavities_settled((*across, *below))
    elif facts.kind == "index":
        index = read_index(facts, read.texts)
    elif facts.kind == "legend":
        legend = read_legend(facts, read.texts, rules)
    keys: tuple[KeyLine, ...] = ()
    if facts.kind in {"legend", "other"}:
        keys = tuple(line for table in find_key_tables(facts, read.texts) for line in table.lines)
    roles = _roles(chart, index, legend)
    return SheetTable(facts, chart, index, legend, tuple(_table_text(t, roles) for t in read.texts if t.text), keys)


def _roles(
    chart: Iterable[ChartEntry], index: Iterable[IndexLine], legend: Iterable[LegendLine]
) -> list[tuple[str, Box]]:
    """Role and place of every claim that was made."""
    out: list[tuple[str, Box]] = []
    for entry in chart:
        out += _places("chart_id", entry.connector) + _places("chart_place", entry.location)
        for row in entry.rows:
            out += _places("chart_cavity", row.cavity) + _places("chart_code", row.a) + _places("chart_code", row.b)
    for line in index:
        out += _places("index_name", line.name)
        for zone in line.zones:
            out += _places("index_zone", zone)
    for item in legend:
        out += _places("legend_key", item.key) + _places("legend_meaning", item.meaning)
    return out


def _places(role: str, claim: Claim) -> list[tuple[str, Box]]:
    return [(role, e.place.box) for e in claim.evidence if e.place is not None]


def _table_text(text: ReadText, roles: list[tuple[str, Box]]) -> TableText:
    holds = [(b.width * b.height, role) for role, b in roles if b.holds(text.box.centre, 0.01)]
    return TableText(text.text, min(holds)[1] if holds else "text", text.box, text.probability)
