"""Thick short bars that join lines become dots at their middles; what is thick without joining lines stays as it is."""

import cv2
import numpy as np
import pytest

from digitize.harness.place import Box
from digitize.ink.bars import bars_as_dots, find_bars, with_bars, without_solid_bars
from digitize.ink.dots import find_dots
from digitize.ink.state import Dot, Symbol, TextBlock
from digitize.ink.thickness import thickness_of
from digitize.sheet.state import PX_PER_MM as MM

WIRE = 0.35


def px(*mm):
    return tuple(round(v * MM) for v in mm)


def sheet():
    """A page of 60 by 40 mm with two plain wires on it, so that the usual width of a line can be seen."""
    ink = np.zeros(px(40, 60), np.uint8)
    line(ink, 2, 36, 58, 36)
    line(ink, 2, 38, 58, 38)
    return ink


def line(ink, x0, y0, x1, y1):
    cv2.line(ink, px(x0, y0), px(x1, y1), 255, round(WIRE * MM))


def joint(ink, x, y, arms="lrd", long=3.0, thick=0.9, at=0.0):
    """A level bar about (x, y) with wires to the left, right, up and down; the latter ``at`` mm off its middle."""
    cv2.rectangle(ink, px(x - long / 2, y - thick / 2), px(x + long / 2, y + thick / 2), 255, -1)
    for arm in arms:
        dx, dy = {"l": (-8, 0), "r": (8, 0), "u": (0, -6), "d": (0, 6)}[arm]
        line(ink, x + (0 if dx else at), y, x + dx + (0 if dx else at), y + dy)


def test_bars_that_join_three_or_four_wires_are_found_with_their_wires():
    ink = sheet()
    joint(ink, 15, 10, "lrd")
    joint(ink, 40, 10, "lrud", at=0.8)
    joint(ink, 28, 25, "lud")
    bars = find_bars(ink)
    assert [len(b.arms) for b in bars] == [3, 4, 3]
    assert np.allclose([b.dot.at for b in bars], [(15, 10), (40, 10), (28, 25)], atol=0.15)


def test_a_bar_that_wore_thinner_at_one_end_is_found_where_bars_are_the_habit():
    ink = sheet()
    for x, y in ((15, 10), (40, 10), (28, 25)):
        joint(ink, x, y, "lrd", thick=0.8)
    x0, x1, y = *px(26.4, 27.6), px(25 - 0.4)[0]
    ink[y - 1 : y + 2, x0:x1] = 0
    assert len(find_bars(ink)) == 3


@pytest.mark.parametrize("flat", [True, False])
@pytest.mark.parametrize(("how", "found"), [("code", 3), ("off", 2), ("far", 2), ("no line behind", 2)])
def test_a_bar_beside_a_code_that_interrupts_its_third_wire_joins_three(how, found, flat):
    ink = sheet()
    joint(ink, 15, 10)
    joint(ink, 40, 10)
    joint(ink, 12, 25, "ld")
    code = {"off": Box(13.9, 26, 30, 28), "far": Box(16.5, 24, 30, 26)}.get(how, Box(13.9, 24, 30, 26))
    if how != "no line behind":
        line(ink, 30.7, 25, 50, 25)
    block = TextBlock(0, code if flat else code.swapped(), 0 if flat else 90, 0.9)
    bars = find_bars(ink if flat else np.ascontiguousarray(ink.T), (block,))
    assert len(bars) == found
    if found == 3:
        here = next(b for b in bars if np.allclose(b.dot.at, (12, 25) if flat else (25, 12), atol=0.15))
        assert max(a[0] if flat else a[1] for a in here.arms) == pytest.approx(13.5 * MM, abs=2)


def test_nothing_of_the_rough_edge_of_a_bar_is_left_beside_its_dot():
    ink = sheet()
    joint(ink, 15, 10)
    joint(ink, 40, 10)
    bars = find_bars(ink)
    x0, y0, x1, _ = bars[0].box
    ink[y0 - 2, x0 + 4 : x1 - 4] = 255
    bars_as_dots(ink, bars)
    assert (ink[y0 - 2, x0 + 4 : x1 - 4] > 0).sum() <= 3  # no more than the top of the dot


def test_upright_bars_are_found_as_well():
    ink = sheet()
    joint(ink, 15, 10)
    joint(ink, 40, 10)
    assert len(find_bars(np.ascontiguousarray(ink.T))) == 2


@pytest.mark.parametrize(
    "drawn",
    [
        [("lr", 3.0, 0.9), ("lr", 3.0, 0.9)],  # marks on a line
        [("u", 3.0, 0.9), ("u", 3.0, 0.9)],  # grounds
        [("lrd", 3.0, 0.9)],  # one alone
        [("lrd", 3.0, 0.9), ("lrd", 6.0, 1.5)],  # of two sizes
        [("lrd", 1.2, 1.2), ("lrd", 1.2, 1.2)],  # as thick as long
        [("lrd", 12.0, 0.9), ("lrd", 12.0, 0.9)],  # a bus bar
        [("lrd", 3.0, 0.4), ("lrd", 3.0, 0.4)],  # hardly thicker than a wire
    ],
    ids=["marks", "grounds", "alone", "sizes", "square", "long", "thin"],
)
def test_what_joins_nothing_or_is_no_bar_is_left(drawn):
    ink = sheet()
    for k, (arms, long, thick) in enumerate(drawn):
        joint(ink, 16 + 26 * k, 14, arms, long, thick)
    assert find_bars(ink) == ()


def test_heads_of_arrows_are_no_bars_though_their_barbs_look_like_wires():
    ink = sheet()
    for y in (10, 20, 30):
        line(ink, 12, y, 40, y)
        head = (np.array([(9.8, y), (12.2, y - 0.85), (12.2, y + 0.85)]) * MM).round().astype(np.int32)
        cv2.fillPoly(ink, [head], 255)
    assert find_bars(ink) == ()


def test_a_thick_cable_that_goes_on_as_thick_is_no_bar():
    ink = sheet()
    for x in (16, 42):
        joint(ink, x, 14, "lrd", thick=0.55)
        cv2.line(ink, px(x, 14), px(x + 8, 14), 255, round(0.5 * MM))
    assert find_bars(ink) == ()


def test_feet_of_letters_that_stand_on_a_line_are_no_bars():
    ink = sheet()
    for x in (18, 22):
        joint(ink, x, 14, "lru", long=2.0, thick=0.9)
    string = TextBlock(0, Box(14, 11, 26, 14.2), 0, 0.9)
    assert len(find_bars(ink)) == 2
    assert find_bars(ink, [string]) == ()
    assert len(find_bars(ink, [TextBlock(0, Box(17, 13.6, 19, 14.4), 0, 0.9)])) == 2, "a bar may be taken for a dash"


def letter_on_a_bar(ink, x, y):
    """The foot of a letter, broader than any line, that stands on a level bar at (x, y)."""
    cv2.rectangle(ink, px(x, y - 3), px(x + 0.3, y - 0.3), 255, -1)
    cv2.rectangle(ink, px(x, y - 0.9), px(x + 0.9, y - 0.3), 255, -1)


def test_a_letter_that_touches_a_bar_is_none_of_its_wires():
    ink = sheet()
    joint(ink, 15, 10)
    joint(ink, 40, 10)
    letter_on_a_bar(ink, 39, 10)
    assert find_bars(ink) == (), "what is broader than a line and no letter"
    assert [len(b.arms) for b in find_bars(ink, [TextBlock(0, Box(20, 6.8, 38.6, 9.4), 0, 0.9)])] == [3, 3]
    assert find_bars(ink, [TextBlock(0, Box(20, 6.8, 34.0, 9.4), 0, 0.9)]) == (), "the string ends long before"


def cables(ink, x, y, long=3.0, thick=2.2, cable=1.4):
    """Two cables that cross at (x, y), with a bar about the crossing."""
    cv2.rectangle(ink, px(x - long / 2, y - thick / 2), px(x + long / 2, y + thick / 2), 255, -1)
    cv2.rectangle(ink, px(x - 8, y - cable / 2), px(x + 8, y + cable / 2), 255, -1)
    cv2.rectangle(ink, px(x - cable / 2, y - 8), px(x + cable / 2, y + 8), 255, -1)


@pytest.mark.parametrize(("thick", "cable"), [(2.2, 1.4), (1.05, 0.6)], ids=["thicker", "alike"])
def test_bars_on_thick_cables_are_as_long_as_the_others_and_as_thick_or_thicker(thick, cable):
    ink = sheet()
    joint(ink, 15, 10)
    joint(ink, 15, 25)
    cables(ink, 45, 15, thick=thick, cable=cable)
    bars = find_bars(ink)
    assert [len(b.arms) for b in bars] == [3, 4, 3]
    assert bars[1].dot.at == pytest.approx((45, 15), abs=0.15)
    bars_as_dots(ink, bars)
    assert find_bars(ink) == ()


@pytest.mark.parametrize(("long", "thick"), [(1.4, 1.4), (4.4, 2.2), (3.0, 1.6)], ids=["crossing", "longer", "thin"])
def test_cables_that_merely_cross_and_spots_of_another_size_have_no_bar(long, thick):
    ink = sheet()
    joint(ink, 15, 10)
    joint(ink, 15, 25)
    cables(ink, 45, 15, long, thick)
    assert len(find_bars(ink)) == 2


def test_without_bars_on_its_lines_a_sheet_has_none_on_its_cables():
    ink = sheet()
    cables(ink, 45, 15)
    assert find_bars(ink) == ()


@pytest.mark.parametrize(("arms", "chance", "stays"), [("lud", 0.7, 0), ("lud", 0.98, 1), ("lru", 0.98, 0)])
def test_a_solid_bar_that_lines_reach_from_three_sides_is_no_part(arms, chance, stays):
    ink = sheet()
    joint(ink, 15, 10, arms)
    part = Symbol("ground", Box(13.5, 9.5, 16.5, 10.5), chance)
    for drawn, box in ((ink, part.box), (np.ascontiguousarray(ink.T), Box(9.5, 13.5, 10.5, 16.5))):
        assert len(without_solid_bars((Symbol("ground", box, chance),), drawn)) == stays
    taught = Symbol("ground", part.box, chance, taught="lesson-1")
    assert without_solid_bars((taught,), ink) == (taught,)


@pytest.mark.parametrize("drawn", ["lr", "hollow"])
def test_parts_that_two_lines_reach_or_that_are_not_filled_stay_parts(drawn):
    ink = sheet()
    joint(ink, 15, 10, "lr" if drawn == "lr" else "lrd")
    if drawn == "hollow":
        cv2.rectangle(ink, px(13.8, 9.8), px(16.2, 10.2), 0, -1)
    part = Symbol("capacitor", Box(13.5, 9.5, 16.5, 10.5), 0.4)
    assert without_solid_bars((part,), ink) == (part,)


def test_a_round_sign_in_two_halves_whose_slit_closed_up_stays_a_part():
    ink = sheet()
    cv2.ellipse(ink, px(15, 10), px(1.3, 1.05), 0, 0, 360, 255, 2)
    cv2.rectangle(ink, px(14.6, 8.9), px(15.4, 11.1), 255, -1)
    for x0, x1 in ((8, 13.7), (16.3, 22)):
        cv2.line(ink, px(x0, 10), px(x1, 10), 255, round(WIRE * MM))
    sign = Symbol("connector", Box(13.65, 8.8, 16.35, 11.2), 0.5)
    assert without_solid_bars((sign,), ink) == (sign,)


def test_in_place_of_a_bar_stands_a_dot_to_which_its_wires_lead():
    ink = sheet()
    joint(ink, 15, 10, "lrud", at=1.0)
    joint(ink, 40, 10)
    bars = find_bars(ink)
    bars_as_dots(ink, bars)
    x, y = px(15, 10)
    assert ink[y, x]
    assert not ink[y - round(0.35 * MM), x - round(1.3 * MM)]  # the bar's own corner is gone
    count, labels = cv2.connectedComponents(ink)
    assert len({labels[px(10, 7)], labels[px(10, 22)], labels[px(5, 16)], labels[px(15, 16)]}) == 1
    assert count == 5  # paper, two wires, two joints
    assert find_bars(ink) == ()


@pytest.mark.parametrize("joints", [2, 1])
def test_where_lines_ran_broad_bars_hardly_thicker_are_found_if_they_are_the_habit(joints):
    ink = np.zeros(px(40, 60), np.uint8)
    for x0, y0, x1, y1 in ((2, 36, 58, 36), (5, 10, 25, 10), (15, 3, 15, 17), (32, 20, 55, 20), (42, 14, 42, 27)):
        cv2.line(ink, px(x0, y0), px(x1, y1), 255, 8)
    for x, y in ((15, 10), (42, 20))[:joints]:
        cv2.rectangle(ink, px(x - 1.5, y - 0.58), px(x + 1.5, y + 0.58), 255, -1)
    assert len(find_bars(ink)) == (2 if joints == 2 else 0)


def test_such_a_dot_stands_among_the_others_in_reading_order():
    ink = sheet()
    joint(ink, 15, 10)
    joint(ink, 40, 10)
    dots = with_bars((Dot((50.0, 5.0), 1.2, 0.9),), find_bars(ink))
    assert [(round(d.at[0]), d.probability) for d in dots] == [(50, 0.9), (15, 0.95), (40, 0.95)]


def test_where_bars_mark_the_joins_a_crossing_that_ran_full_is_none():
    ink = sheet()
    joint(ink, 15, 10)
    joint(ink, 40, 10)
    line(ink, 5, 25, 60, 25)
    line(ink, 30, 15, 30, 38)
    cv2.circle(ink, px(30, 25), round(0.42 * MM), 255, -1)
    bars = find_bars(ink)
    bars_as_dots(ink, bars)
    known = [b.dot for b in bars]
    assert len(known) == 2
    assert any(d.at == pytest.approx((30, 25), abs=0.2) for d in find_dots(ink, thickness_of(ink)))
    assert find_dots(ink, thickness_of(ink), known=known) == ()


def test_a_sheet_without_lines_has_none():
    assert find_bars(np.zeros((200, 200), np.uint8)) == ()
