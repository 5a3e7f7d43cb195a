"""Charts, indexes and legends in the layouts that manuals use, drawn, worn and read through the whole pipeline."""

from __future__ import annotations

from pathlib import Path

import pytest

from digitize.batch.tasks import hints_for
from digitize.legend.conventions import load_conventions
from digitize.pipeline import read_sheet
from digitize.reading.readers import probe_readers
from digitize.sheet.sources import find_scans
from digitize.tables.state import SheetTable
from digitize.wiring.evidence_chart import chart_of
from fixtures.back_pages import LEGEND, entries, index_page, large_chart, legend_page, lines, unruled_chart, write_pages
from fixtures.wear import SCANNED, TIRED

WORN = pytest.mark.parametrize("wear", [SCANNED, TIRED], ids=["scanned", "tired"])


class Quiet:
    """Watches no stage."""

    def stage(self, name, work):
        """Just do it."""
        return work()


def read_pages(pages, folder: Path, wear, seed: int = 4) -> list[SheetTable]:
    write_pages(pages, folder, wear, seed)
    conventions, readers = load_conventions(folder / "conventions.toml"), probe_readers()
    found = []
    for number, scan in enumerate(find_scans(folder, "")[0], start=1):
        table = read_sheet(scan, hints_for(conventions, number), conventions, readers, Quiet()).table
        assert table is not None
        found.append(table)
    return found


@WORN
@pytest.mark.parametrize("draw", [unruled_chart, large_chart])
def test_chart_cells_are_read_over_columns_and_pages(tmp_path: Path, draw, wear) -> None:
    """Halves with other wires, empty halves, drawn cavity faces beside the lists, entries that go on overleaf."""
    listed = entries(4, 24)
    chart = chart_of(read_pages(draw(listed), tmp_path, wear))
    read = {(n, r.cavity.value): (r.a.value, r.b.value) for n, rows in chart.rows.items() for r, _ in rows}
    truth = {(name, cavity): (a, b) for name, _, rows in listed for cavity, a, b in rows}
    right = sum(read.get(cell) == codes for cell, codes in truth.items())
    assert right >= (0.98 if wear is SCANNED else 0.95) * len(truth)
    assert len(set(read) - set(truth)) <= 1, "what is drawn beside the lists is no cavity"
    places = {name: e.location.value for name, e in chart.entries.items()}
    assert sum(places.get(name) == place for name, place, _ in listed) >= 0.8 * len(listed)


@WORN
@pytest.mark.parametrize(("columns", "leaders"), [(3, True), (2, False)])
def test_index_entries_are_read_with_sub_entries_and_wrapped_names(tmp_path: Path, columns, leaders, wear) -> None:
    """The two-column page breaks its sub-entries over the column."""
    listed = lines(3)
    (table,) = read_pages([index_page(listed, columns, leaders=leaders)], tmp_path, wear)
    read = {line.name.value: tuple(z.value for z in line.zones) for line in table.index}
    right = sum(read.get(name) == zones for name, zones in listed)
    assert right >= (0.99 if wear is SCANNED else 0.96) * len(listed)
    assert len(set(read) - {name for name, _ in listed}) <= 1


@WORN
def test_every_section_of_a_legend_is_read(tmp_path: Path, wear) -> None:
    (table,) = read_pages([legend_page()], tmp_path, wear)
    sections = dict(zip(LEGEND, ("circuit", "colour", "connector", "other"), strict=True))
    told = {(line.section, line.key.value, line.meaning.value) for line in table.legend}
    wanted = {(sections[head], key, meaning) for head, rows in LEGEND.items() for key, meaning in rows}
    assert len(told & wanted) >= (1.0 if wear is SCANNED else 0.9) * len(wanted)
