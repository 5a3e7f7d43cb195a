"""Wires are led into the flags that they reach, over hops, bends and bars that begin right at them."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from digitize.harness.place import Box
from digitize.ink.flag_leads import give_back_beside, lead_into_flags
from digitize.ink.flags import FLAG
from digitize.ink.lettering import Lettering
from digitize.ink.state import Symbol, TextBlock
from tests.ink.test_flags import MM, hopping_page, page


def test_a_wire_is_led_into_its_flag_so_that_a_hop_right_beside_it_still_crosses():
    ink = page()
    shown = ink.copy()
    flag = Symbol(FLAG, Box(9.9, 8.9, 30.1, 12.1), 0.9)
    ink[int(8.6 * MM) : int(12.4 * MM), int(9.6 * MM) : int(30.4 * MM)] = 0
    lead_into_flags(ink, shown, (flag,))
    level = ink[round(10.5 * MM)] > 0
    assert level[2 * MM + 3 : 11 * MM].all()
    assert level[29 * MM : 38 * MM - 3].all()
    assert not level[13 * MM : 27 * MM].any()


def test_an_end_that_no_wire_reaches_gets_no_lead():
    ink = page(wires=(True, False))
    shown = ink.copy()
    ink[int(8.6 * MM) : int(12.4 * MM), int(9.6 * MM) : int(30.4 * MM)] = 0
    lead_into_flags(ink, shown, (Symbol(FLAG, Box(9.9, 8.9, 30.1, 12.1), 0.9),))
    assert not ink[:, 13 * MM :].any()


def off_hopping_page() -> tuple[NDArray[np.uint8], NDArray[np.uint8], tuple[int, int]]:
    """A flag at whose right end a hop begins that passes a broad wire a little way off; and the lines, without its near leg."""
    shown = page(wires=(True, False))
    x, y = 30 * MM + 11, round(10.5 * MM)
    cv2.line(shown, (x, 2 * MM), (x, 18 * MM), 255, 7)
    cv2.ellipse(shown, (x, y), (13, 13), 0, 180, 360, 255, 7)
    cv2.line(shown, (x + 13, y), (38 * MM, y), 255, 7)
    lines = shown.copy()
    lines[: y + 10, 30 * MM - 4 : x - 6] = 0  # but for a bit beside the wire
    return shown, lines, (x, y)


@pytest.mark.parametrize("rough", [False, True])
def test_a_hop_that_passes_a_wire_a_little_way_off_is_met_by_the_lead_behind_it(rough):
    shown, lines, (x, y) = off_hopping_page()
    for k in (4, 7) if rough else ():
        shown[y + k : y + k + 2, x - 6 : x - 3] = 255
    ink = led(shown, lines)
    parts, _ = cv2.connectedComponents((ink[: 12 * MM, 28 * MM : x - 4] > 0).astype(np.uint8))
    assert parts == 2  # paper and one lead: nothing else is left of the near leg
    assert 3 <= (ink[:, x - 5] > 0).sum() <= 5
    assert ink[y - 20 : y + 6, 29 * MM : x + 10].any(axis=0).all()


def test_a_hop_that_begins_at_the_flag_is_met_by_the_lead_where_it_passes():
    ink, (x, y) = hopping_page()
    shown = ink.copy()
    flag = Symbol(FLAG, Box(9.9, 8.9, 30.1, 12.1), 0.9)
    ink[int(8.8 * MM) : int(12.2 * MM), int(9.8 * MM) : int(30.2 * MM)] = 0
    lead_into_flags(ink, shown, (flag,))
    assert ink[:, : x - 3].any(axis=0)[29 * MM :].all()
    assert ink[y - 16 : y - 10, x - 3 : x + 3].any(axis=0).all()
    assert not ink[y - 3 : y + 4, x - 9 : x - 4].any()


def led(shown: NDArray[np.uint8], lines: NDArray[np.uint8] | None = None) -> NDArray[np.uint8]:
    """The ink of ``lines`` (all that is shown) after the flag was cleared and leads were drawn."""
    ink = (shown if lines is None else lines).copy()
    ink[int(8.8 * MM) : int(12.2 * MM), int(9.8 * MM) : int(30.2 * MM)] = 0
    lead_into_flags(ink, shown, (Symbol(FLAG, Box(9.9, 8.9, 30.1, 12.1), 0.9),))
    return ink


@pytest.mark.parametrize("both", [False, True], ids=["one flag", "a flag at each end"])
def test_a_bar_that_joins_wires_at_a_flag_keeps_its_length_and_the_lead_goes_on_behind_it(both):
    shown, y = page(wires=(True, False)), round(10.5 * MM)
    x = 30 * MM + 10
    cv2.line(shown, (x, 2 * MM), (x, 18 * MM), 255, 4)
    shown[y - 5 : y + 6, x - 18 : x + 19] = 255
    if both:
        cv2.rectangle(shown, (x + 10, 9 * MM), (39 * MM, 12 * MM), 255, 3)
    else:
        cv2.line(shown, (x, y), (38 * MM, y), 255, 3)
    lines = shown.copy()
    flags = [Box(9.9, 8.9, 30.1, 12.1)] + [Box((x + 9) / MM, 8.9, 39.1, 12.1)] * both
    for f in flags:
        lines[int(8.8 * MM) : int(12.2 * MM), int((f.x0 - 0.1) * MM) : round((f.x1 + 0.1) * MM)] = 0
    lead_into_flags(lines, shown, tuple(Symbol(FLAG, f, 0.9) for f in flags))
    thick = np.flatnonzero((lines[y - 5 : y + 6, : 37 * MM] > 0).all(axis=0))
    assert (thick.min(), thick.max()) == (x - 18, x + 18)
    assert (np.diff(thick) == 1).all()
    beyond = lines[y - 8 : y + 9, x - 26] > 0
    assert 0 < beyond.sum() <= 4


@pytest.mark.parametrize("upright", [False, True])
def test_the_bend_of_a_wire_that_was_taken_for_a_letter_beyond_the_end_of_a_flag_is_a_wire_again(upright):
    shown = page(wires=(True, False))
    x, y = 30 * MM, round(10.5 * MM)
    cv2.ellipse(shown, (x, y + 24), (24, 24), 0, 270, 360, 255, 4)
    glyphs = np.zeros_like(shown)
    glyphs[y - 3 : y + 18, x - 8 : x + 22] = shown[y - 3 : y + 18, x - 8 : x + 22]
    lines = cv2.subtract(shown, glyphs)
    flag, block = Box(9.9, 8.9, 30.1, 12.1), Box(10.8, 9.6, (x + 22) / MM, 11.4)
    if upright:
        shown, glyphs, lines = (np.ascontiguousarray(v.T) for v in (shown, glyphs, lines))
        flag, block = flag.swapped(), block.swapped()
    blocks = (TextBlock(0, block, 90 if upright else 0, 0.9),)
    give_back_beside(lines, Lettering(blocks, glyphs), (Symbol(FLAG, flag, 0.9),))
    drawn, letters = (v.T if upright else v for v in (lines, glyphs))
    beyond = round(30.1 * MM)
    assert (drawn[:, beyond:] >= letters[:, beyond:])[round(8.9 * MM) : round(12.1 * MM)].all()
    assert not (drawn[:, :beyond] & letters[:, :beyond]).any()


def test_a_lead_goes_on_over_a_stub_that_was_taken_for_a_letter():
    shown = page()
    lines = shown.copy()
    lines[:, round(30.5 * MM) : round(31.5 * MM)] = 0
    assert (led(shown, lines)[round(10.5 * MM), 29 * MM : 38 * MM - 3] > 0).all()


def test_a_lead_through_the_crest_of_another_wires_hop_is_as_thin_as_its_own_wire():
    shown, y = page(), round(10.5 * MM)
    cv2.ellipse(shown, (30 * MM + 18, y), (15, 15), 0, 90, 270, 255, 3)
    ink = led(shown)
    assert (ink[y, 29 * MM : 38 * MM - 3] > 0).all()
    assert (ink[y - 15 : y + 15, 29 * MM] > 0).sum() <= 5


def test_a_lead_meets_the_foot_of_a_hop_that_rises_right_beside_the_flag():
    shown, y = page(wires=(True, False)), round(10.5 * MM)
    shown[y - 9 : y + 2, 30 * MM + 2 : 30 * MM + 6] = 255
    ink = led(shown)
    assert np.flatnonzero(ink[y - 15 : y + 15, 29 * MM]).tolist() == [14, 15, 16]
    assert (ink[y - 1 : y + 2, 29 * MM : 30 * MM + 5] > 0).any(axis=0).all()


@pytest.mark.parametrize("upright", [False, True])
@pytest.mark.parametrize("left", [False, True])
def test_a_wire_on_which_the_end_of_a_flag_lies_runs_on_past_it_and_the_flags_own_wire_crosses_it(left, upright):
    shown, x = page(), (10 if left else 30) * MM
    cv2.line(shown, (x, 2 * MM), (x, 18 * MM), 255, 4)
    lines = shown.copy()
    lines[int(8.2 * MM) : int(12.8 * MM), int(9.8 * MM) : int(30.2 * MM)] = 0
    flag = Box(9.9, 8.9, 30.1, 12.1)
    if upright:
        shown, lines, flag = np.ascontiguousarray(shown.T), np.ascontiguousarray(lines.T), flag.swapped()
    lead_into_flags(lines, shown, (Symbol(FLAG, flag, 0.9),))
    drawn = lines.T if upright else lines
    assert (drawn[2 * MM : 18 * MM, x - 1 : x + 2] > 0).any(axis=1).all()
    beyond = slice(8 * MM, 11 * MM) if left else slice(29 * MM, 32 * MM)
    assert (drawn[round(10.5 * MM), beyond] > 0).all()
    assert not drawn[2 * MM : 18 * MM, 14 * MM : 26 * MM].any()


def test_such_a_wire_runs_on_where_wear_made_it_broad_and_rough():
    shown, x = page(), 30 * MM
    shown[2 * MM : 18 * MM, x - 3 : x + 4] = 255
    shown[int(9 * MM) : int(12 * MM), x + 4] = 255
    lines = shown.copy()
    lines[int(8.2 * MM) : int(12.8 * MM), int(9.8 * MM) : x + 6] = 0
    lead_into_flags(lines, shown, (Symbol(FLAG, Box(9.9, 8.9, 30.1, 12.1), 0.9),))
    assert (lines[2 * MM : 18 * MM, x] > 0).all()


def test_such_a_wire_of_which_a_rim_was_left_is_as_broad_again_as_it_is_drawn():
    shown, x = page(), 30 * MM + 2
    cv2.line(shown, (x, 2 * MM), (x, 18 * MM), 255, 5)
    lines = shown.copy()
    lines[int(8.2 * MM) : int(12.8 * MM), int(9.8 * MM) : x + 1] = 0
    lead_into_flags(lines, shown, (Symbol(FLAG, Box(9.9, 8.9, (x + 1) / MM, 12.1), 0.9),))
    assert (lines[2 * MM : 18 * MM, x - 1 : x + 2] > 0).all()


def test_such_a_wire_together_with_the_outline_is_no_bar_and_crosses_the_lead_without_a_blot():
    shown, x = page(), 30 * MM
    shown[2 * MM : 18 * MM, x - 2 : x + 6] = 255
    shown[int(9 * MM) : int(12 * MM), x - 6 : x] = 255
    shown[int(11 * MM) : int(11 * MM) + 2, x - 6 : x - 1] = 0  # worn
    lines = shown.copy()
    lines[int(8.2 * MM) : int(12.8 * MM), int(9.8 * MM) : x + 2] = 0
    lead_into_flags(lines, shown, (Symbol(FLAG, Box(9.9, 8.9, 30.1, 12.1), 0.9),))
    assert (lines[2 * MM : 18 * MM, x + 4] > 0).all()
    assert (lines[round(9.6 * MM)] > 0).sum() <= 10


def test_right_before_an_oval_a_flags_wire_is_led_straight_and_takes_its_outline_for_no_hop():
    shown, y = page(wires=(True, False)), round(10.5 * MM)
    cv2.line(shown, (30 * MM, y), (30 * MM + 10, y), 255, 4)
    cv2.ellipse(shown, (30 * MM + 46, y - 6), (36, 45), 0, 0, 360, 255, 5)
    cv2.ellipse(shown, (30 * MM + 46, y - 6), (27, 36), 0, 0, 360, 255, 5)
    lines = shown.copy()
    lines[int(8.6 * MM) : int(12.4 * MM), int(9.6 * MM) : int(30.4 * MM)] = 0
    oval = Box((30 * MM + 8) / MM, (y - 48) / MM, (30 * MM + 84) / MM, (y + 48) / MM)
    lines[:, 30 * MM + 6 :] = 0
    lead_into_flags(lines, shown, (Symbol(FLAG, Box(9.9, 8.9, 30.1, 12.1), 0.9), Symbol("lamp", oval, 0.9)))
    led = np.flatnonzero(lines[:, 28 * MM : 31 * MM].any(axis=1))
    assert (led.min(), led.max()) == pytest.approx((y, y), abs=4)


@pytest.mark.parametrize(("other", "kind"), [(Box(29.5, 3.0, 38.0, 7.5), "lamp"), (Box(29.6, 3.0, 38.0, 7.5), FLAG)])
def test_the_side_of_another_body_in_line_with_the_end_of_a_flag_is_no_wire(other, kind):
    shown = page()
    cv2.line(shown, (30 * MM, 2 * MM), (30 * MM, 18 * MM), 255, 4)
    lines = np.zeros_like(shown)
    lead_into_flags(lines, shown, (Symbol(FLAG, Box(9.9, 8.9, 30.1, 12.1), 0.9), Symbol(kind, other, 0.9)))
    assert not lines[: 9 * MM, 30 * MM].any()


def test_a_wire_that_passes_close_beside_the_end_of_a_flag_stays_as_it_is():
    shown, x = page(), 30 * MM + 5
    cv2.line(shown, (x, 2 * MM), (x, 18 * MM), 255, 4)
    ink = led(shown)
    for row in (int(9.3 * MM), int(11.7 * MM)):
        assert (ink[row, 26 * MM :] > 0).sum() <= (shown[row, int(30.2 * MM) :] > 0).sum()


def test_a_wire_that_passes_within_a_flag_right_beside_its_end_is_left_to_what_bridges_gaps():
    shown = page()
    cv2.line(shown, (30 * MM - 6, 2 * MM), (30 * MM - 6, 18 * MM), 255, 4)
    assert not led(shown)[round(9.3 * MM), 28 * MM : 30 * MM + 2].any()


@pytest.mark.parametrize("upright", [False, True])
@pytest.mark.parametrize(("broad", "left"), [(2, False), (8, True)], ids=["fringe", "a line along the end"])
def test_what_is_left_of_a_rough_end_beside_its_wire_is_no_spur(broad: int, left: bool, upright: bool):
    ink, x = page(), round(30.1 * MM)
    shown = ink.copy()
    ink[int(8.6 * MM) : int(12.4 * MM), int(9.6 * MM) : x] = 0
    ink[round(9.3 * MM) : round(10.2 * MM), x : x + broad] = 255
    shown |= ink
    flag = Symbol(FLAG, Box(9.9, 8.9, 30.1, 12.1), 0.9)
    if upright:
        ink, shown = np.ascontiguousarray(ink.T), np.ascontiguousarray(shown.T)
        flag = Symbol(FLAG, flag.box.swapped(), 0.9)
    lead_into_flags(ink, shown, (flag,))
    ink = ink.T if upright else ink
    assert bool(ink[round(9.3 * MM) : round(10.0 * MM), x : x + broad].any()) is left
    assert (ink[round(10.5 * MM)] > 0)[29 * MM : 37 * MM].all()
