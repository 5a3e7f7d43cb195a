"""An id in a connector is whole though its outer letters touch the outline. Pictures are drawn here."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from digitize.harness.place import Box
from digitize.ink.connector_ids import whole_ids
from digitize.ink.state import Symbol, TextBlock
from tests.ink.test_lettering import letter, page, px

OUTLINE = Box(34.0, 25.5, 46.0, 30.5)


def connector(text: str, shape: str = "oval") -> tuple[np.ndarray, tuple[float, ...]]:
    """A connector on a wire with ``text`` in its middle; its ink and the box of the text, mm."""
    ink = page()
    fresh = page()
    x0, y0, x1, y1 = letter(fresh, text, (30, 30), high=2.5)
    shift = px(40 - (x0 + x1) / 2, 28 - (y0 + y1) / 2)
    ink |= np.roll(fresh, shift, axis=(1, 0))
    if shape == "oval":
        cv2.ellipse(ink, px(40, 28), (72, 30), 0, 0, 360, 255, 5)
    else:
        cv2.rectangle(ink, px(34, 25.5), px(46, 30.5), 255, 5)
    for a, b in ((20, 34), (46, 60)):
        cv2.line(ink, px(a, 28), px(b, 28), 255, 5)
    dx, dy = shift[0] / 12, shift[1] / 12
    return ink, (x0 + dx, y0 + dy, x1 + dx, y1 + dy)


def told(ink: np.ndarray, text: Box, *others: TextBlock, body: Symbol | None = None, upright: bool = False) -> Box:
    body = body or Symbol("connector", OUTLINE, 0.99)
    if upright:
        ink, text = np.ascontiguousarray(ink.T), text.swapped()
        body = Symbol(body.kind, body.box.swapped(), body.probability)
    found = whole_ids((TextBlock(0, text, 90 if upright else 0, 0.9), *others), (body,), ink)
    assert [t.id for t in found] == list(range(len(found)))
    return found[0].box.swapped() if upright else found[0].box


@pytest.mark.parametrize("upright", [False, True])
@pytest.mark.parametrize("shape", ["oval", "box"])
@pytest.mark.parametrize("seen", ["middle", "left", "all"])
def test_an_id_is_as_long_as_its_ink(seen: str, shape: str, upright: bool):
    ink, (x0, y0, x1, y1) = connector("E125", shape)
    inner = (x0 + 2.2, x1 - 2.0)
    start, stop = {"middle": inner, "left": (x0, inner[1]), "all": (x0, x1)}[seen]
    box = told(ink, Box(start, y0, stop, y1), upright=upright)
    assert (box.x0, box.x1) == pytest.approx((x0, x1), abs=0.3)
    assert (box.y0, box.y1) == pytest.approx((y0, y1))


def test_letters_that_touch_the_outline_are_of_the_id():
    ink, (x0, y0, x1, y1) = connector("E125")
    for x in (x0 + 0.1, x1 - 0.9):
        cv2.line(ink, px(x, y0), px(x - 0.3, y0 - 0.9), 255, 3)
    box = told(ink, Box(x0 + 2.2, y0, x1 - 2.0, y1))
    assert (box.x0, box.x1) == pytest.approx((x0, x1), abs=0.3)


def test_the_outline_and_flecks_on_it_are_no_letters():
    ink, (x0, y0, x1, y1) = connector("12")
    for x in (35.6, 44.2):
        cv2.circle(ink, px(x, 28.4), 4, 255, -1)
    assert told(ink, Box(x0, y0, x1, y1)) == Box(x0, y0, x1, y1)


def test_one_of_two_strings_a_figure_aside_and_what_is_no_connector_stay_as_they_are():
    ink, (x0, y0, x1, y1) = connector("E125")
    seen = Box(x0 + 2.2, y0, x1 - 2.0, y1)
    assert told(ink, seen, TextBlock(1, Box(x0, y0, x0 + 1.6, y1), 0, 0.9)) == seen
    assert told(ink, seen, body=Symbol("lamp", OUTLINE, 0.99)) == seen
    assert told(ink, seen, body=Symbol("connector", OUTLINE, 0.3)) == seen
    aside = Box(x0, y0, x0 + 0.5, y1)
    assert told(ink, aside) == aside
    low = Box(seen.x0, 27.4, seen.x1, 28.4)  # one row of several
    assert told(ink, low) == low
