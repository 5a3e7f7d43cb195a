"""A zigzag is a part, with as many taps as it has (IEEE Std 315: the sign of a resistor); what only turns often is none."""

import pytest

from digitize.harness.place import Box
from digitize.ink.state import Marks, Meeting, Stroke, Symbol
from digitize.wiring.windings import with_windings
from fixtures.small_page import Page


def zigzag(x, legs, pitch=1.5, top=30.0, foot=36.0):
    """Corners of a zigzag from (x, top) on."""
    return [(x + k * pitch, foot if k % 2 else top) for k in range(legs + 1)]


def tapped(page, taps):
    """A winding of 20 legs between two modules, tapped at its lower corners ``taps`` by wires to a module below."""
    points = zigzag(40, 20)
    page.part("module", 8, 20, 16, 40).part("module", 104, 20, 112, 40).part("module", 36, 64, 76, 72)
    page.line((16, 30), *points, (104, 30))
    for k in taps:
        page.line(points[k], (points[k][0], 64))
    return page


@pytest.mark.parametrize("taps", [(), (5,), (3, 9, 15)])
def test_wires_end_at_a_winding_and_are_not_joined_by_it(taps):
    wiring = tapped(Page(), taps).understood()
    assert sorted(p.kind for p in wiring.places)[-2:] == ["module", "resistor"]
    (winding,) = (p for p in wiring.places if p.kind == "resistor")
    assert winding.box.width == pytest.approx(30, abs=3)
    assert len(wiring.runs) == 2 + len(taps)
    assert not wiring.splices
    assert all({e.kind for e in run.ends} == {"place"} for run in wiring.runs)


def marks(strokes, meetings=(), symbols=()):
    lines = tuple(Stroke(tuple((float(x), float(y)) for x, y in points), 0.3) for points in strokes)
    return Marks(None, lines, tuple(meetings), (), (), (), tuple(symbols), ())


@pytest.mark.parametrize(
    "points",
    [
        [(10, 30), *zigzag(20, 4), (60, 30)],
        [(10, 30), *((20 + 4 * k, 30 + 4 * (k % 2)) for k in range(12)), (90, 30)],
        [(10, 30), *((20 + 2 * (k // 2), 30 + 6 * (k // 2 % 2 != k % 2)) for k in range(16)), (60, 30)],
        [(10, 30), *((20 + 1.5 * k, 30 + (9 if k % 4 == 1 else 3) * (k % 2)) for k in range(9)), (60, 30)],
    ],
    ids=["few legs", "flat", "square wave", "uneven"],
)
def test_what_only_turns_often_is_no_winding(points):
    before = marks([points])
    assert with_windings(before) == before


def test_lines_stop_at_the_box_and_what_met_outside_still_meets():
    legs = zigzag(40, 10)
    strokes = [
        [(10, 30), (25, 30)],
        [(25, 30), *legs[:6]],
        [*legs[5:], (80, 30)],
        [legs[5], (47.5, 60)],
        [(25, 30), (25, 50)],
    ]
    met = Meeting((25, 30), "join", 0.9, ((0, 1), (1, 0), (4, 0)))
    tap = Meeting(legs[5], "join", 0.9, ((1, 1), (2, 0), (3, 0)))
    after = with_windings(marks(strokes, [met, tap]))
    (box,) = (s.box for s in after.symbols)
    assert after.meetings == (met,)
    tips = [p for s in after.strokes for p in (s.points[0], s.points[-1])]
    assert sum(box.grown(0.01).holds(p) for p in tips) == 3
    assert not any(box.grown(-0.01).holds(p) for s in after.strokes for p in s.points)


def test_a_stretch_that_was_known_is_of_the_same_winding():
    known = Symbol("heater", Box(56, 29.5, 66, 36.5), 0.8)
    far = Symbol("heater", Box(56, 49.5, 66, 56.5), 0.8)
    after = with_windings(marks([[(10, 30), *zigzag(40, 10)]], symbols=[known, far]))
    (one,) = (s for s in after.symbols if s != far)
    assert (one.kind, one.probability) == ("heater", 0.8)
    assert one.box.x1 == 66
    assert one.box.x0 == pytest.approx(39.1, abs=0.6)
