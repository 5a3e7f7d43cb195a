"""A wire goes on past the letter of a cavity that stands on it to the connector behind; other ends stay as they are."""

from __future__ import annotations

from types import SimpleNamespace

import cv2
import numpy as np
import pytest

from digitize.harness.place import Box, Polyline
from digitize.ink.state import Marks, Meeting, Stroke, Symbol
from digitize.sheet.state import PX_PER_MM
from digitize.wiring.past_cavities import past_cavities

PLUG = Symbol("lamp", Box(20, 20, 23, 23), 0.6)
INTO: Polyline = ((40, 21.5), (25.4, 21.5), (24.8, 21.0), (24.7, 19.2))
"""A wire from the right that was led into a letter on it, 1.7 mm before the plug."""


def page(*lines: Polyline, turned: bool = False) -> np.ndarray:
    ink = np.zeros((round(50 * PX_PER_MM), round(50 * PX_PER_MM)), np.uint8)
    for points in ((*INTO[:1], (23, 21.5)), INTO[1:], *lines):
        cv2.polylines(ink, [np.round(np.array(points) * PX_PER_MM).astype(np.int32)], False, 255, 5)
    return np.ascontiguousarray(ink.T) if turned else ink


def marks(
    ink: np.ndarray, *lines: Polyline, meetings: tuple[Meeting, ...] = (), symbols: tuple[Symbol, ...] = (PLUG,)
) -> Marks:
    strokes = tuple(Stroke(points, 0.4) for points in lines)
    return Marks(SimpleNamespace(ink=ink), strokes, meetings, (), (), (), symbols, ())


@pytest.mark.parametrize("turned", [False, True])
@pytest.mark.parametrize("backwards", [False, True])
def test_a_wire_that_was_led_into_the_letter_of_a_cavity_goes_on_to_the_connector(turned: bool, backwards: bool):
    line, plug = INTO, PLUG
    if turned:
        line, plug = tuple((y, x) for x, y in line), Symbol("lamp", PLUG.box.swapped(), 0.6)
    found = past_cavities(marks(page(turned=turned), line[::-1] if backwards else line, symbols=(plug,)))
    points = found.strokes[0].points[::-1] if backwards else found.strokes[0].points
    assert points == (*line[:2], (21.5, 23) if turned else (23, 21.5))


def test_what_hangs_at_the_letter_goes_with_it():
    more: Polyline = ((24.7, 19.2), (24.0, 18.6), (25.6, 18.4))
    met = Meeting((24.7, 19.2), "corner", 0.9, ((0, 1), (1, 0)))
    found = past_cavities(marks(page(more), INTO, more, meetings=(met,)))
    assert [s.points[-1] for s in found.strokes] == [(23, 21.5)]
    assert not found.meetings


def far(points: Polyline, by: float) -> Polyline:
    return tuple((x + by, y) for x, y in points)


@pytest.mark.parametrize(
    ("line", "lines"),
    [
        ((*INTO[:3], (24.7, 12.0)), ()),  # a wire that turns before the plug
        (far(INTO, 6.0), (far(INTO, 6.0),)),  # too far before it
        ((*INTO[:2], (24.2, 21.4)), ()),  # no letter
    ],
    ids=["a wire that turns", "far off", "straight"],
)
def test_other_ends_stay(line: Polyline, lines: tuple[Polyline, ...]):
    before = marks(page(line, *lines), line)
    assert past_cavities(before) is before


def test_over_paper_no_wire_goes_on():
    ink = page()
    ink[:, round(23.2 * PX_PER_MM) : round(23.9 * PX_PER_MM)] = 0
    before = marks(ink, INTO)
    assert past_cavities(before) is before


def test_where_another_line_ends_at_the_connector_already_it_stays():
    before = marks(page(), INTO, ((24.4, 21.5), (23.2, 21.5)))
    assert past_cavities(before) is before


def test_a_wire_that_goes_on_elsewhere_from_the_letter_stays():
    more: Polyline = ((24.7, 19.2), (24.7, 4.0))
    met = Meeting((24.7, 19.2), "corner", 0.9, ((0, 1), (1, 0)))
    before = marks(page(more), INTO, more, meetings=(met,))
    assert past_cavities(before) is before
