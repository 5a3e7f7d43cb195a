"""Two closed outlines that mirror each other across a gap, on a line, are a connector; what looks like them is not."""

import cv2
import numpy as np
import pytest

from digitize.harness.place import Box
from digitize.ink.split_bodies import find_split_bodies, is_split_body, lettering_beside, with_split_bodies
from digitize.ink.state import Symbol, TextBlock
from digitize.sheet.state import PX_PER_MM as MM

PEN = 3


def px(*mm):
    return tuple(round(v * MM) for v in mm)


def paper(width=30.0, height=20.0):
    return np.zeros((round(height * MM), round(width * MM)), np.uint8)


def line(ink, x0, y0, x1, y1):
    cv2.line(ink, px(x0, y0), px(x1, y1), 255, PEN)


def moon(ink, x, y, r, way):
    """A half-disc with its flat side at ``x``, bulging to the left (-1) or the right (1)."""
    centre, size = px(x, y), px(r, r)
    first = 90 if way < 0 else -90
    points = cv2.ellipse2Poly(centre, size, 0, first, first + 180, 6)
    cv2.polylines(ink, [points], isClosed=True, color=255, thickness=PEN)


def moons(y=10.0, r=1.3, gap=0.5, ink=None, lines=True):
    ink = paper() if ink is None else ink
    moon(ink, 15 - gap / 2, y, r, -1)
    moon(ink, 15 + gap / 2, y, r, 1)
    if lines:
        line(ink, 5, y, 15 - gap / 2 - r, y)
        line(ink, 15 + gap / 2 + r, y, 25, y)
    return ink


def near(box, x0, y0, x1, y1):
    return max(abs(a - b) for a, b in zip((box.x0, box.y0, box.x1, box.y1), (x0, y0, x1, y1), strict=True)) < 0.35


@pytest.mark.parametrize("r", [1.0, 1.3, 2.6])
def test_half_moons_back_to_back_on_a_line_are_found(r):
    (box,) = find_split_bodies(moons(r=r))
    assert near(box, 14.75 - r, 10 - r, 15.25 + r, 10 + r)


def test_upright_ones_and_halves_of_a_box_are_found_too():
    upright = np.ascontiguousarray(moons().T)
    (box,) = find_split_bodies(upright)
    assert near(box, 8.7, 13.45, 11.3, 16.55)
    ink = paper()
    for x in (13.0, 15.4):
        cv2.rectangle(ink, px(x, 8), px(x + 1.8, 12), 255, PEN)
    line(ink, 5, 10, 13, 10)
    line(ink, 17.2, 10, 25, 10)
    (box,) = find_split_bodies(ink)
    assert near(box, 13, 8, 17.2, 12)


def test_halves_that_share_a_rule_are_letters_where_they_stand_in_a_string():
    ink = paper()
    for y in (7.0, 9.2):
        for x in (13.6, 15.05):
            cv2.rectangle(ink, px(x, y), px(x + 1.4, y + 1.8), 255, PEN)
        line(ink, 5, y + 0.9, 13.6, y + 0.9)
        line(ink, 16.45, y + 0.9, 25, y + 0.9)
    assert len(find_split_bodies(ink)) == 1
    assert find_split_bodies(ink, [TextBlock(0, Box(13, 2, 17, 18), 90, 0.95)]) == ()
    assert len(find_split_bodies(ink, [TextBlock(0, Box(13, 2, 17, 18), 90, 0.5)])) == 1
    assert len(find_split_bodies(ink, [TextBlock(0, Box(13.5, 7, 16.5, 11), 0, 0.95)])) == 1


def test_the_ways_of_one_connector_are_one_body():
    ink = paper()
    for y in (6.0, 9.0, 12.0):
        moons(y=y, ink=ink)
    (box,) = find_split_bodies(ink)
    assert near(box, 13.45, 4.7, 16.55, 13.3)


def cells(rows):
    """A box of two columns of cells on lines, a single rule between the columns."""
    ink = paper()
    for k in range(rows):
        y = 5 + 4 * k
        for x in (13.0, 15.0):
            cv2.rectangle(ink, px(x, y), px(x + 2, y + 4), 255, PEN)
        line(ink, 5, y + 2, 13, y + 2)
        line(ink, 17, y + 2, 25, y + 2)
    return ink


def test_where_a_single_rule_parts_the_halves_several_ways_are_needed():
    assert len(find_split_bodies(cells(3))) == 1
    assert find_split_bodies(cells(1)) == ()


def letters():
    ink = paper()
    cv2.ellipse(ink, px(13.5, 10), px(0.8, 1.3), 0, 0, 360, 255, PEN)
    cv2.ellipse(ink, px(15.6, 10), px(0.8, 1.3), 0, 0, 360, 255, PEN)
    line(ink, 5, 10, 12.7, 10)
    line(ink, 16.4, 10, 25, 10)
    return ink


def turned_away():
    ink = paper()
    moon(ink, 13.0, 10, 1.3, 1)
    moon(ink, 16.5, 10, 1.3, -1)
    line(ink, 5, 10, 13, 10)
    return ink


@pytest.mark.parametrize(
    "ink", [moons(lines=False), letters(), turned_away(), moons(gap=3.0)], ids=["no line", "round", "away", "far"]
)
def test_what_has_no_line_or_no_flat_sides_facing_is_none(ink):
    assert find_split_bodies(ink) == ()


def test_such_a_connector_takes_the_place_of_what_was_seen_in_it_and_of_lettering():
    body = Box(10, 10, 13, 12)
    part, apart = Symbol("grommet", Box(10.2, 10, 12.8, 12), 0.8), Symbol("lamp", Box(20, 10, 26, 16), 0.9)
    assert [s.kind for s in with_split_bodies((part, apart), (body,))] == ["lamp", "connector"]
    blocks = (
        TextBlock(0, Box(9.9, 9.5, 13.1, 12.1), 0, 0.9),
        TextBlock(1, Box(9.9, 8.5, 16, 12), 0, 0.9),
        TextBlock(2, Box(30, 9, 40, 11), 0, 0.9),
    )
    left = lettering_beside(blocks, (body,))
    assert [(b.id, b.box) for b in left] == [(0, Box(13, 8.5, 16, 12)), (1, Box(30, 9, 40, 11))]


@pytest.mark.parametrize(("left", "right", "found"), [(0.8, 0.0, 0), (2.5, 0.0, 1), (0.8, 0.8, 1)])
def test_a_short_stub_at_one_side_alone_is_not_enough_a_code_right_beside_both_is_no_harm(left, right, found):
    ink = moons(lines=False)
    if left:
        line(ink, 13.45 - left, 10, 13.45, 10)
    if right:
        line(ink, 16.55, 10, 16.55 + right, 10)
    assert len(find_split_bodies(ink)) == found


def test_only_connectors_that_are_such_bodies_are_known_as_them():
    body = Box(10, 10, 13, 18)
    assert is_split_body(Symbol("connector", Box(10.1, 10, 13, 18), 0.9), (body,))
    assert not is_split_body(Symbol("switch", body, 0.9), (body,))
    assert not is_split_body(Symbol("connector", Box(10, 10, 30, 30), 0.9), (body,))


def run_together(count, gap=0.15):
    """Half-moons whose flat sides ran together, each alone on its own wire."""
    ink = paper(height=8.0 * count)
    for k in range(count):
        moons(y=4.0 + 8.0 * k, gap=gap, ink=ink)
    return ink


def test_half_moons_that_ran_together_are_found_where_they_are_the_habit_of_the_sheet():
    assert len(find_split_bodies(run_together(4))) == 4
    assert find_split_bodies(run_together(2)) == ()


def test_circles_with_a_single_rule_through_them_are_none_however_many():
    ink = paper(height=40.0)
    for k in range(5):
        y = 4.0 + 8.0 * k
        cv2.circle(ink, px(15, y), round(1.3 * MM), 255, PEN)
        line(ink, 15, y - 1.3, 15, y + 1.3)
        line(ink, 5, y, 13.7, y)
        line(ink, 16.3, y, 25, y)
    assert find_split_bodies(ink) == ()


def test_a_body_that_ran_together_reaches_to_the_outer_edge_of_its_thick_outline():
    found = find_split_bodies(run_together(4))
    assert found
    for box in found:
        assert box.height >= 2 * 1.3 + 0.2


@pytest.mark.parametrize("cells", [3, 5])
def test_a_row_of_cells_is_a_heater_and_no_connector(cells):
    ink = paper(width=45.0)
    for n in range(cells):
        cv2.rectangle(ink, px(15 + 1.3 * n, 8.7), px(16.3 + 1.3 * n, 11.3), 255, PEN)
    line(ink, 5, 10, 15, 10)
    line(ink, 15 + 1.3 * cells, 10, 40, 10)
    assert find_split_bodies(ink) == ()
