"""The bench tells what the evidence of charts and repeats lifts, on an invented sheet."""

from __future__ import annotations

from digitize.batch.state import SheetOutcome
from digitize.batch.tasks import TimedReading
from digitize.pipeline import SheetReading, bind_manual
from fixtures.typed_manual import STATED, tables
from fixtures.typed_sheets import TypedSheet, read
from scripts.bench_pages import table
from scripts.neutral_prediction import Pages
from scripts.section import RIGHTS, Digitized


def digitized() -> Digitized:
    """A code read badly at a connector whose chart has it right."""
    sheet = TypedSheet("page_1").part("sw", "switch", (20, 30), read("HORN SWITCH")).oval("k1", (60, 30), read("K21"))
    sheet.part("x", "horn", (100, 30), read("HORN"), case_ground=True)
    sheet.run("r1", "sw.2", "k1.a1", read("H7 14 BLU", 0.5, ("H2 14 BLU", 0.4))).run(
        "r2", "k1.b1", "x.1", read("H2A 14 BLU")
    )
    wiring = sheet.wiring()
    readings = [SheetReading(wiring.facts, wiring, None), *(SheetReading(t.facts, None, t) for t in tables())]
    outcomes = tuple(SheetOutcome(r.facts.sheet, TimedReading(r, (), ()), None, 0.1, 1.0) for r in readings)
    facts = {r.facts.sheet: r.facts for r in readings}
    numbers = {sheet: n for n, sheet in enumerate(facts, 1)}
    return Digitized(bind_manual(readings, STATED, RIGHTS), Pages(numbers, facts), outcomes, (), 0, STATED)


def test_the_drawing_alone_is_bound_without_the_chart() -> None:
    done = digitized()
    assert "H2 14 BLU" in {w.code.value for w in done.harness.wires}
    alone = done.drawing_alone()
    assert "H7 14 BLU" in {w.code.value for w in alone.harness.wires}
    assert len(alone.harness.wires) == len(done.harness.wires)


def test_the_table_sets_both_under_each_other() -> None:
    rows = [
        {"section": "van", "page": None, "figures": {"wire_code": 0.98}},
        {"section": "van", "page": None, "evidence": False, "figures": {"wire_code": 0.91}},
    ]
    lines = table(rows).splitlines()
    assert lines[1].split()[:3] == ["van", "all", "0.980"]
    assert lines[2].split()[:4] == ["van", "drawing", "alone", "0.910"]
