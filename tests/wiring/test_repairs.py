"""Promises about worn and interrupted lines, about hops and about drawings nobody knows."""

import math
from types import SimpleNamespace

import cv2
import numpy as np
import pytest

from digitize.harness.place import Box
from digitize.ink.state import Marks, Meeting, Stroke, Symbol
from digitize.sheet.state import PX_PER_MM
from digitize.wiring.repairs import without_strokes
from digitize.wiring.sieve import wires_of
from digitize.wiring.trails import without_hops
from fixtures.small_page import Page, codes


def parts() -> Page:
    page = Page().part("module", 8, 30, 16, 50).part("module", 104, 30, 112, 50)
    return page.part("module", 50, 8, 70, 14).part("module", 50, 66, 70, 72)


def test_a_crossing_with_one_arm_worn_away_stays_a_crossing():
    page = parts().line((16, 40), (104, 40)).line((60, 14), (60, 40)).line((60, 42.5), (60, 66))
    wiring = page.understood()
    assert len(wiring.runs) == 2
    assert not wiring.splices


def test_a_corner_that_wear_took_is_closed():
    page = Page().part("module", 8, 30, 16, 50).part("module", 50, 66, 70, 72)
    wiring = page.line((16, 40), (58.8, 40)).line((60, 41.2), (60, 66)).understood()
    (run,) = wiring.runs
    assert {e.kind for e in run.ends} == {"place"}
    assert run.probability < 0.9


def test_a_code_right_behind_a_crossing_still_joins_its_line():
    page = parts().line((60, 14), (60, 66)).line((16, 40), (60.4, 40)).line((80, 40), (104, 40))
    wiring = page.text("12.05 1.5 RT", 70.6, 40).understood()
    assert len(wiring.runs) == 2
    assert not wiring.splices
    assert sorted(codes(wiring)) == [[], ["12.05 1.5 RT"]]


def test_a_code_right_behind_a_dot_still_joins_its_line_to_the_dot():
    page = parts().line((60, 14), (60, 66)).dot(60, 40).line((80, 40), (104, 40)).text("12.05 1.5 RT", 70.2, 40)
    wiring = page.understood()
    (splice,) = wiring.splices
    assert splice.degree == 3
    assert ["12.05 1.5 RT"] in codes(wiring)


@pytest.mark.parametrize("width", [0.3, 0.7])
def test_a_code_between_a_crossing_and_a_dot_leaves_nothing_of_its_line_but_still_joins_it(width):
    page = parts().line((40, 14), (40, 66), width=width).line((60, 14), (60, 66)).dot(60, 40)
    # of a thick line the stub behind the crossing is longer, and still no line of its own
    wiring = page.line((16, 40), (40, 40), width=width).text("12.05 1.5 RT", 50.6 + 0.5 * width, 40).understood()
    (splice,) = wiring.splices
    assert splice.degree == 3
    assert ["12.05 1.5 RT"] in codes(wiring)


def test_a_line_that_wear_stopped_just_short_of_a_dot_ends_in_it():
    page = parts().line((60, 40), (60, 66)).line((16, 40), (60, 40)).dot(60, 40).line((60, 14), (60, 38.7))
    wiring = page.understood()
    (splice,) = wiring.splices
    assert splice.degree == 3
    assert len(wiring.runs) == 3


def test_a_line_that_passes_beside_a_dot_does_not_end_in_it():
    page = parts().line((60, 40), (60, 66)).line((16, 40), (104, 40)).dot(60, 40)
    wiring = page.line((63, 14), (63, 20), (62, 38.6)).understood()
    (splice,) = wiring.splices
    assert splice.degree == 3


def test_two_letters_of_a_code_that_ran_into_each_other_are_no_wire():
    page = Page().part("module", 8, 30, 16, 50).part("module", 104, 30, 112, 50).line((16, 40), (104, 40))
    wiring = page.text("0.75 GN", 52, 60).line((46.2, 59.9), (46.2, 58.8), (48.8, 58.8)).understood()
    (run,) = wiring.runs
    assert {e.kind for e in run.ends} == {"place"}


def test_letters_before_a_code_at_the_frame_do_not_take_it_from_the_wire_above():
    page = Page().part("module", 8, 30, 16, 50).line((16, 40), (114, 40)).text("0.75 GN", 107, 42)
    wiring = page.line((99.5, 42.6), (99.5, 41.6), (101.2, 42.2)).understood()
    (run,) = wiring.runs
    assert {e.kind for e in run.ends} == {"place", "edge"}
    assert codes(wiring) == [["0.75 GN"]]


def test_a_line_that_turns_right_at_its_code_goes_on():
    page = Page().part("module", 20, 60, 30, 70).part("module", 104, 30, 112, 50)
    page.line((25, 60), (25, 41), (26, 40)).line((45.5, 40), (104, 40)).text("12.05 1.5 RT", 35.8, 40)
    wiring = page.understood()
    assert len(wiring.runs) == 1
    assert codes(wiring) == [["12.05 1.5 RT"]]


def test_hops_are_laid_flat_and_crossings_of_them_keep_apart():
    arc = [(18.5 + 1.5 - 1.5 * math.cos(a), 15 - 1.5 * math.sin(a)) for a in np.linspace(0, math.pi, 9)]
    line = without_hops(((2.0, 15.0), *arc, (40.0, 15.0)))
    assert all(abs(y - 15) < 1e-6 for _, y in line)
    assert line[0] == (2.0, 15.0)
    assert line[-1] == (40.0, 15.0)


@pytest.mark.parametrize("hops", [2, 3, 6])
def test_hops_side_by_side_are_laid_flat_too(hops):
    arc = [(-1.1 * math.cos(a), 15 - 1.1 * math.sin(a)) for a in np.linspace(0, math.pi, 5)]
    between = [(20 + 2.6 * k + x, y) for k in range(hops) for x, y in arc]
    line = without_hops(((2.0, 15.0), *between, (60.0, 15.0)))
    assert all(abs(y - 15) < 1e-6 for _, y in line)


@pytest.mark.parametrize(
    "corner",
    [
        ((2, 15), (20, 15), (20, 30)),
        ((2, 15), (20, 15), (23, 12), (40, 12)),
        ((2, 15), (9, 15), (9, 5), (12, 5), (12, 15), (40, 15)),
        ((2, 15), (9, 15), (10, 14), (11, 15), (12, 14), (13, 15), (13, 30)),
        ((2, 15), (9, 15), (10, 14), (11, 15), (10, 16), (9, 15), (9, 30)),
    ],
)
def test_corners_jogs_and_detours_are_no_hops(corner):
    points = tuple((float(x), float(y)) for x, y in corner)
    assert without_hops(points) == points


def test_a_drawing_nobody_knows_becomes_an_unknown_part_and_no_tangle_of_wires():
    page = Page().part("module", 8, 30, 16, 50).part("module", 104, 30, 112, 50)
    page.line((16, 40), (50, 40)).line((66, 40), (104, 40))
    centre, k = (round(58 * PX_PER_MM), round(40 * PX_PER_MM)), PX_PER_MM
    cv2.circle(page.ink, centre, round(8 * k), 255, 4)
    page.line((58, 32), (58, 48)).line((52.4, 34.4), (63.6, 45.6))
    wiring = page.text("STRANGE PART", 58, 28, "word").understood()
    assert [p.label.value for p in wiring.places if p.kind == "unknown"] == ["STRANGE PART"]
    assert len(wiring.runs) == 2
    assert not wiring.splices


def test_a_wire_loop_without_anything_in_it_is_no_part():
    page = Page().part("lamp", 10, 15, 18, 25).part("lamp", 100, 15, 108, 25)
    page.line((18, 20), (40, 20), (40, 40), (70, 40), (70, 20), (100, 20))
    wiring = page.understood()
    assert len(wiring.runs) == 1
    assert {p.kind for p in wiring.places} == {"lamp"}


def test_a_wire_goes_through_a_grommet_whose_far_side_its_code_hides():
    page = Page().part("module", 8, 30, 16, 50).part("module", 104, 30, 112, 50).part("grommet", 40, 37, 43, 43)
    page = page.line((16, 40), (39.6, 40)).text("12.05 1.5 RT", 53.5, 40).line((64, 40), (104, 40))
    (run,) = page.understood().runs
    assert {e.kind for e in run.ends} == {"place"}
    assert len(run.grommets) == 1


def test_a_wire_goes_through_a_grommet_behind_a_corner_whose_far_side_its_code_hides():
    page = Page().part("module", 8, 30, 16, 50).part("module", 104, 20, 112, 40).part("grommet", 40, 27, 43, 33)
    page = (
        page.line((16, 40), (39.0, 40), (39.0, 30), (39.9, 30)).text("12.05 1.5 RT", 53.5, 30).line((64, 30), (104, 30))
    )
    (run,) = page.understood().runs
    assert {e.kind for e in run.ends} == {"place"}
    assert len(run.grommets) == 1


def test_a_wire_goes_on_through_a_grommet_right_behind_a_line_that_it_crosses():
    page = Page().part("module", 8, 30, 16, 50).part("module", 104, 30, 112, 50).part("grommet", 41.3, 37, 44.3, 43)
    page.part("lamp", 36, 8, 44, 16).part("lamp", 36, 64, 44, 72)
    page.line((16, 40), (40, 40)).line((40, 16), (40, 64)).line((44.7, 40), (104, 40))
    wiring = page.understood()
    assert not wiring.splices
    assert sorted(sorted(p.kind for p in wiring.places if p.id in {e.node for e in r.ends}) for r in wiring.runs) == [
        ["lamp", "lamp"], ["module", "module"]
    ]  # fmt: skip


def test_a_code_that_reaches_into_a_part_still_leads_its_line_there():
    page = Page().part("module", 8, 30, 12, 50).part("module", 104, 30, 112, 50)
    page = page.text("12.05 1.5 RT", 18.6, 40).line((29, 40), (104, 40))
    (run,) = page.understood().runs
    assert {e.kind for e in run.ends} == {"place"}


def test_a_line_that_ends_at_the_barb_of_an_arrow_at_the_frame_goes_on_overleaf():
    page = Page().part("module", 104, 30, 110, 50).line((104, 40), (7.0, 40), (7.6, 40.9))
    (run,) = page.understood().runs
    assert {e.kind for e in run.ends} == {"place", "edge"}


def half_hop(page: Page, x: float, y: float, radius: float = 1.0) -> Page:
    """The right half of an arc over (x, y)."""
    turn = np.linspace(-math.pi / 2, 0, 12)
    return page.line(*((x + radius * math.cos(t), y + radius * math.sin(t)) for t in turn))


@pytest.mark.parametrize("wide", [0.8, 1.6])
def test_a_letter_that_touches_a_hop_does_not_join_the_wires(wide):
    paths = [
        ((60, 10), (60, 38.8)), ((60, 38.8), (60, 70)),
        ((10, 40), (60 - wide, 40), (60, 38.8)), ((60, 38.8), (60 + wide, 40), (110, 40)),
        ((57.0, 38.9), (60, 38.8)),
    ]  # fmt: skip
    arms = ((0, 1), (1, 0), (2, 1), (3, 0), (4, 1))
    boxes = ((58, 4, 62, 10), (58, 70, 62, 76), (4, 38, 10, 42), (110, 38, 116, 42))
    marks = Marks(
        SimpleNamespace(facts=SimpleNamespace(frame=None)),
        tuple(Stroke(path, 0.3) for path in paths),
        (Meeting((60, 38.8), "join", 0.4, arms),),
        (), (), (), tuple(Symbol("module", Box(*box), 0.9) for box in boxes), (),
    )  # fmt: skip
    lines = wires_of(marks, ())
    assert len(lines.trails) == 2
    assert {stop.kind for trail in lines.trails for stop in trail.stops} == {"body"}


def test_a_hop_of_which_a_letter_took_one_half_is_still_a_hop():
    page = parts().line((60, 14), (60, 66)).line((16, 40), (58.6, 40)).line((61, 40), (104, 40))
    wiring = half_hop(page, 60, 40).understood()
    assert len(wiring.runs) == 2
    assert not wiring.splices


def test_a_stub_before_a_part_that_was_taken_for_lettering_still_leads_to_the_part():
    page = Page().part("lamp", 10, 35, 18, 45).part("module", 64.5, 30, 80, 50).line((18, 40), (42, 40))
    wiring = page.text("23.02 0.7 PK", 52, 40).text("-2", 63.5, 40, "word").understood()
    (run,) = wiring.runs
    assert {e.kind for e in run.ends} == {"place"}
    assert codes(wiring) == [["23.02 0.7 PK"]]


def test_a_code_in_place_of_a_hops_far_leg_still_joins_its_line():
    page = parts().line((60, 14), (60, 66))
    crest = [(60 - 1.2 * math.cos(a), 40 - 1.2 * math.sin(a)) for a in np.linspace(0, math.pi / 2, 12)]
    page.line((16, 40), *crest).line((80, 40), (104, 40))
    wiring = page.text("12.05 1.5 RT", 70.1, 40).understood()
    assert len(wiring.runs) == 2
    assert not wiring.splices
    assert ["12.05 1.5 RT"] in codes(wiring)


def test_a_code_right_above_a_hop_still_joins_the_line_that_ends_under_it():
    crest = [(60 - 1.2 * math.cos(a), 40 - 1.2 * math.sin(a)) for a in np.linspace(0, math.pi, 23)]
    page = parts().line((16, 40), *crest, (104, 40)).line((60, 38.8), (60, 66)).line((60, 14), (60, 18))
    wiring = page.text("12.05 1.5 RT", 60, 28.3, angle=90).understood()
    assert len(wiring.runs) == 2
    assert not wiring.splices
    assert ["12.05 1.5 RT"] in codes(wiring)


def test_of_what_strokes_met_only_what_still_meets_is_left():
    strokes = tuple(Stroke(((k, 0), (k, 5)), 0.3) for k in range(6))
    cross = Meeting((0, 0), "cross", 0.9, ((0, 1), (1, 0), (2, 1), (3, 0)), ((0, 2), (1, 3)))
    tee = Meeting((9, 9), "join", 0.6, ((3, 1), (4, 0), (5, 1)))
    pair = Meeting((5, 5), "corner", 0.9, ((0, 0), (1, 1)))
    marks = Marks(None, strokes, (cross, tee, pair), (), (), (), (), ())
    found = without_strokes(marks, {1, 3})
    assert found.strokes == (strokes[0], strokes[2], strokes[4], strokes[5])
    assert [m.kind for m in found.meetings] == ["corner", "corner"]
    assert [m.strokes for m in found.meetings] == [((0, 1), (1, 1)), ((2, 0), (3, 1))]
    (left,) = without_strokes(marks, {1}, apart=[1]).meetings
    assert (left.kind, left.strokes, left.through) == ("cross", ((0, 1), (1, 1), (2, 0)), ((0, 1),))


def test_a_wire_that_turns_off_right_behind_a_grommet_goes_on_there_and_not_into_its_code():
    page = Page().part("module", 8, 30, 16, 50).part("module", 104, 50, 112, 70).part("grommet", 60, 37, 63, 43)
    page.line((16, 40), (39, 40)).text("12.05 1.5 RT", 49.2, 40).line((58.8, 40), (59.6, 40))
    page.line((63.5, 40.1), (64.2, 41.2), (64.6, 43), (64.6, 60), (104, 60))
    (run,) = page.understood().runs
    assert [e.kind for e in run.ends] == ["place", "place"]
    assert len(run.grommets) == 1
