"""The simulated reviewer: puts planted faults right through the desk's own queue, and counts what that costs."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import cv2
import numpy as np
import pytest

from digitize.harness.claim import Alternative, Claim
from digitize.harness.model import Harness, Splice, Wire, WireEnd
from digitize.harness.place import Box, Place
from digitize.sheet.state import Scan, SheetFacts
from digitize.store.manual import Manual
from digitize.store.sheets import Outcome
from fixtures.compare import compare
from fixtures.heldout import heldout
from fixtures.heldout_back import from_heldout
from fixtures.perfect import truth_to_harness
from fixtures.scene_small import small_drawn
from fixtures.truth import Truth
from review_ui.desk import Desk
from review_ui.orders import HookName, OrderMoveEnd, OrderPlain, OrderSplice
from scripts.bench_review import bars, figures, plot, table
from scripts.reviewer import Reviewer, Tally, items
from scripts.reviewer_eye import true_here

Sitting = Callable[[Harness], Reviewer]


@pytest.fixture(scope="module")
def truth() -> Truth:
    return small_drawn()[0].truth


@pytest.fixture
def sitting(tmp_path: Path, truth: Truth):
    """A reviewer at the desk before a harness of the small manual."""
    desks: list[Desk] = []

    def sit(harness: Harness) -> Reviewer:
        path = tmp_path / f"{len(desks)}.manual"
        with Manual.create(path, "invented for tests") as manual:
            for page in truth.pages:
                assert page.zones is not None or page.kind != "diagram"
                zones = page.zones or next(p.zones for p in truth.pages if p.zones is not None)
                facts = SheetFacts(
                    page.sheet, page.width, page.height, page.scan_width, page.scan_height, page.dpi, True, page.mapping,
                    page.frame, 1.0, zones, 1.0, page.kind, 1.0,
                )  # fmt: skip
                file = tmp_path / f"{page.sheet}.png"  # never looked at: the reviewer knows what is drawn
                file.write_bytes(b"no picture")
                scan = Scan(page.sheet, str(file), 0, f"{page.number:064}", page.dpi, "invented")
                manual.save_sheet(scan, page.number, "key", Outcome(facts))
            manual.save_harness(harness)
        desks.append(Desk(path))
        return Reviewer(desks[-1], truth)

    yield sit
    for desk in desks:
        desk.close()


def plain_wires(harness: Harness) -> list[Wire]:
    """Wires of one sheet that hang on no splice, so that no count of meeting wires goes with them."""
    splices = {s.id for s in harness.splices}
    return [w for w in harness.wires if len(w.paths) == 1 and not w.grommets and not {e.node for e in w.ends} & splices]


def put(harness: Harness, *wires: Wire, without: str = "") -> Harness:
    new = {w.id: w for w in wires}
    kept = {w.id: new.get(w.id, w) for w in harness.wires if w.id != without}
    return replace(harness, wires=tuple(sorted((kept | new).values(), key=lambda w: w.id)))


def test_nothing_is_corrected_on_a_perfect_harness(sitting: Sitting, truth: Truth):
    reviewer = sitting(truth_to_harness(truth))
    assert reviewer.view.ends_f1() == 1.0
    tally = reviewer.review("queue")
    assert tally.corrections == 0
    assert tally.refused == []
    assert tally.curve[-1][1] == 1.0


def test_its_score_is_that_of_the_comparer(sitting: Sitting, truth: Truth):
    harness = truth_to_harness(truth)
    wire = plain_wires(harness)[0]
    loose = replace(wire.ends[1], node=None, terminal=None, at=(1.0, 1.0))
    harness = put(harness, replace(wire, ends=(wire.ends[0], loose)))
    reviewer = sitting(harness)
    mappings = {p.sheet: p.mapping for p in truth.pages}
    assert reviewer.view.ends_f1() == pytest.approx(compare(harness, truth, mappings).score("wire_endpoint_f1"))
    assert reviewer.view.ends_f1() < 1


@pytest.mark.parametrize("way", ["queue", "top to bottom"])
def test_every_planted_fault_is_put_right(sitting: Sitting, truth: Truth, way: str):
    harness = truth_to_harness(truth)
    wires = plain_wires(harness)
    assert len(wires) >= 2
    misread = next(w for w in harness.wires if w.code.value)
    assert misread.code.value is not None
    code = replace(
        misread.code,
        value="X9 99 XX",
        probability=0.4,
        alternatives=(Alternative("X9 99 XX", 0.4), Alternative(misread.code.value, 0.3)),
    )
    harness = put(harness, replace(misread, code=code))
    w = next(x for x in plain_wires(harness) if x.id != misread.id)
    false = WireEnd(None, None, w.ends[0].sheet, (2.0, 2.0))
    strange = replace(w, id="zz", ends=(false, replace(false, at=(9.0, 2.0))), probability=0.3, grommets=(), links=())
    strange = replace(strange, paths=(replace(w.paths[0], points=((2.0, 2.0), (9.0, 2.0))),))
    harness = put(harness, strange, without=w.id)
    reviewer = sitting(harness)
    before = reviewer.view.ends_f1()
    tally = reviewer.review(way)  # type: ignore[arg-type]
    after = reviewer.desk.manual.reviewed().harness
    assert before < 0.995 <= tally.curve[-1][1]
    assert "zz" not in {x.id for x in after.wires}, "a wire that is not drawn is gone"
    assert next(x for x in after.wires if x.id == misread.id).code.value == misread.code.value
    assert tally.kinds["code"] == 1
    assert tally.kinds["read over"] == 1, "the wire that nothing asked about was missed and is drawn"
    assert tally.refused == []
    assert tally.keys >= tally.answers - tally.clicks


def test_a_wire_in_two_pieces_is_put_together(sitting: Sitting, truth: Truth):
    harness = truth_to_harness(truth)
    wire = max(plain_wires(harness), key=lambda w: len(w.paths[0].points))
    sheet, points = wire.paths[0].sheet, wire.paths[0].points
    (x0, y0), (x1, y1) = points[0], points[1]
    middle = ((x0 + x1) / 2, (y0 + y1) / 2)
    gap = WireEnd(None, None, sheet, middle)
    one = replace(wire, ends=(wire.ends[0], gap), paths=(replace(wire.paths[0], points=(points[0], middle)),))
    two = replace(
        wire, id="zz", ends=(gap, wire.ends[1]), paths=(replace(wire.paths[0], points=(middle, *points[1:])),)
    )
    reviewer = sitting(put(harness, replace(one, probability=0.4), replace(two, probability=0.4)))
    assert reviewer.view.ends_f1() < 1
    tally = reviewer.review("queue")
    assert tally.curve[-1][1] == 1.0
    assert tally.corrections <= 2, "one join, and perhaps the code of a piece"


def test_a_stub_is_not_dragged_over_the_rest_of_its_line_that_was_read(sitting: Sitting, truth: Truth):
    """The line was read in two: a stub, and the rest, which ends at a dot that is not on the paper."""
    harness = truth_to_harness(truth)
    wire = max(plain_wires(harness), key=lambda w: max(math.dist(a, b) for a, b in pairwise(w.paths[0].points)))
    sheet, points = wire.paths[0].sheet, wire.paths[0].points
    (x0, y0), (x1, y1) = points[0], points[1]
    long = math.dist(points[0], points[1])

    def along(mm: float) -> tuple[float, float]:
        return (x0 + (x1 - x0) * mm / long, y0 + (y1 - y0) * mm / long)

    (x, y) = along(6.0)
    dot = Splice("false", Place(sheet, Box(x - 1, y - 1, x + 1, y + 1), None), (x, y), 3, 0.6)
    stub = replace(
        wire, ends=(wire.ends[0], WireEnd(None, None, sheet, along(4.0))), code=Claim.unread(),
        paths=(replace(wire.paths[0], points=(points[0], along(4.0))),), probability=0.3,
    )  # fmt: skip
    rest = replace(
        wire, id="zz", ends=(WireEnd("false", "*", sheet, dot.at), wire.ends[1]),
        paths=(replace(wire.paths[0], points=(dot.at, *points[1:])),),
    )  # fmt: skip
    harness = put(replace(harness, splices=(*harness.splices, dot)), stub, rest)
    reviewer = sitting(harness)
    assert [d.targets for d in reviewer.desk.doubts() if d.kind == "ends"] == [(stub.id,)]
    tally = reviewer.review("queue")
    assert tally.curve[-1][1] == 1.0
    after = reviewer.desk.manual.reviewed().harness
    assert "false" not in {s.id for s in after.splices}
    [whole] = [w for w in after.wires if {e.node for e in w.ends} == {e.node for e in wire.ends}]
    steps = [math.dist(a, b) for p in whole.paths for a, b in pairwise(p.points)]
    assert sum(steps) == pytest.approx(sum(math.dist(a, b) for a, b in pairwise(points)), rel=0.05), "along the line"


def test_the_bars_name_what_is_missed(truth: Truth):
    good = Tally(answers=10, corrections=2, asked=9, curve=[(0, 0.9), (3, 0.99), (10, 0.996)])
    slow = Tally(answers=10, corrections=2, asked=9, curve=[(0, 0.9), (6, 0.99), (10, 0.996)])
    worse = Tally(answers=10, corrections=90, asked=9, curve=[(0, 0.9), (10, 0.98)], pages={"p1": 1.0, "p2": 0.98})
    count = items(truth)
    rows = [figures("s", "queue", good, count), figures("s", "top to bottom", slow, count)]
    assert bars(rows) == []
    assert rows[0]["answers_to_good"] == 3
    assert len(bars([figures("s", "queue", worse, count), rows[1]])) == 3
    assert bars([figures("s", "queue", worse, count), rows[1]])[0].startswith("s, p2: wire ends F1 0.980")
    assert "never" in table([figures("s", "queue", worse, count), rows[1]])
    assert "0.99 in 50% of the answers" in table(rows)


def test_the_reviewer_reads_a_truth_in_the_neutral_layout_as_its_own(truth: Truth):
    back = from_heldout(heldout(truth))
    assert [(w.id, w.code, [e.node for e in w.ends]) for w in back.wires] == [
        (w.id, w.code, [e.node for e in w.ends]) for w in truth.wires
    ]
    page, ours = back.page(truth.pages[0].sheet), truth.pages[0]
    for mine, theirs in zip(back.splices, truth.splices, strict=True):
        scan = ours.mapping.to_scan(np.array([theirs.at])) if theirs.sheet == ours.sheet else None
        if scan is not None:
            assert page.mapping.to_scan(np.array([mine.at])) == pytest.approx(scan, abs=0.02)
    assert {c.id: c.joined for c in back.components} == {c.id: c.joined for c in truth.components}
    with pytest.raises(ValueError, match="not a truth"):
        from_heldout({"format": "something else"})


def test_an_offer_is_judged_by_the_place_it_names(sitting: Sitting, truth: Truth):
    harness = truth_to_harness(truth)
    wire = next(w for w in plain_wires(harness) if all(e.node for e in w.ends))
    mine = wire.ends[1]
    loose = replace(mine, node=None, terminal=None, at=((wire.ends[0].at[0] + mine.at[0]) / 2, mine.at[1]))
    reviewer = sitting(put(harness, replace(wire, ends=(wire.ends[0], loose))))
    view = reviewer.view
    assert mine.node is not None
    home = reviewer.ground.pixel(view.true_sheet(mine.sheet), view.at(mine.sheet, mine.at))
    strange = next(c for c in harness.components if c.id != mine.node and c.terminals and c.place.sheet == mine.sheet)
    away = reviewer.ground.pixel(view.true_sheet(mine.sheet), view.at(mine.sheet, strange.terminals[0].at))

    def moved(node: str, terminal: str, at: tuple[float, float]) -> OrderMoveEnd:
        hook = HookName(node=node, terminal=terminal)
        return OrderMoveEnd(do="move_end", target=wire.id, end=1, sheet=mine.sheet, to=hook, at=at)

    assert true_here(view, moved(mine.node, mine.terminal or "1", home))
    assert not true_here(view, moved(strange.id, strange.terminals[0].id, away))
    assert not true_here(view, OrderPlain(do="delete", target=wire.id)), "a line is drawn there"
    assert not true_here(view, OrderPlain(do="remove", target=mine.node)), "the part is drawn"
    assert true_here(view, OrderPlain(do="remove", target="nothing of the kind"))


def test_a_dot_is_offered_truly_where_one_is_drawn_and_was_not_read(sitting: Sitting, truth: Truth):
    harness = truth_to_harness(truth)
    dot = harness.splices[0]
    spot = next(s for s in truth.splices if s.id == dot.id)
    page = truth.page(spot.sheet)
    (at,) = page.mapping.to_scan(np.array([spot.at])).tolist()
    order = OrderSplice(do="splice", sheet=dot.place.sheet, at=(at[0], at[1]))
    aside = OrderSplice(do="splice", sheet=dot.place.sheet, at=(at[0] + 20 * page.dpi / 25.4, at[1]))
    assert not true_here(sitting(harness).view, order), "it was read"
    missed = sitting(replace(harness, splices=harness.splices[1:])).view
    assert true_here(missed, order)
    assert not true_here(missed, aside)


def test_both_curves_are_drawn(truth: Truth, tmp_path: Path):
    curve = Tally(curve=[(0, 0.9), (3, 0.99), (10, 0.996)])
    rows = [figures("s", way, curve, items(truth)) for way in ("queue", "top to bottom")]  # type: ignore[arg-type]
    picture = plot(rows)
    assert picture.shape[2] == 3
    assert len({tuple(p) for p in picture.reshape(-1, 3).tolist()}) > 3
    assert cv2.imwrite(str(tmp_path / "plot.png"), picture)
