"""Signs that look the same are of one kind: connectors where the detector cannot agree and they stand or are linked so."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest

from digitize.harness.place import Box
from digitize.ink.alike_ways import on_a_wire
from digitize.ink.same_signs import with_one_kind
from digitize.ink.state import Symbol
from digitize.sheet.state import PX_PER_MM as MM

R = 1.4


def px(*mm: float) -> tuple[int, ...]:
    return tuple(round(v * MM) for v in mm)


def sheet(signs: str, pitch: float = 8.0, *, linked: bool = False) -> np.ndarray:
    """Signs below each other on level wires: ``b`` a circle with a bar, ``x`` one with a cross; with a dash between the first two."""
    ink = np.zeros(px(20 + pitch * len(signs), 60), np.uint8)
    for k, sign in enumerate(signs):
        x, y = 30.0, 10 + pitch * k
        cv2.line(ink, px(5, y), px(x - R, y), 255, 4)
        cv2.line(ink, px(x + R, y), px(55, y), 255, 4)
        cv2.circle(ink, px(x, y), round(R * MM), 255, 3)
        if sign == "b":
            cv2.line(ink, px(x, y - R), px(x, y + R), 255, 7)
        else:
            for way in (-1, 1):
                cv2.line(ink, px(x - 0.7 * R, y - 0.7 * way * R), px(x + 0.7 * R, y + 0.7 * way * R), 255, 3)
    if linked:
        cv2.line(ink, px(30, 10 + 0.4 * pitch), px(30, 10 + 0.6 * pitch), 255, 3)
    return ink


def symbols(kinds: list[tuple[str, float]], pitch: float = 8.0) -> list[Symbol]:
    return [
        Symbol(kind, Box(30, 10 + pitch * k, 30, 10 + pitch * k).grown(R + 0.1 + 0.05 * (k % 2)), chance)
        for k, (kind, chance) in enumerate(kinds)
    ]


MIXED = [("lamp", 0.9), ("grommet", 0.8), ("switch", 0.7), ("lamp", 0.4), ("sounder", 0.3)]
SURE = [*MIXED[:4], ("connector", 0.85)]


def kinds(found: tuple[Symbol, ...]) -> list[str]:
    return [s.kind for s in found]


def test_signs_of_which_one_is_surely_a_connector_are_connectors_where_no_kind_has_most_of_the_belief():
    found = with_one_kind(symbols(SURE), sheet("bbbbb"), ())
    assert kinds(found) == ["connector"] * 5
    assert found[0].alternatives == (("lamp", 0.9),)


def test_linked_signs_are_connectors_though_the_detector_knew_none_of_them():
    assert kinds(with_one_kind(symbols(MIXED), sheet("bbbbb", linked=True), ())) == ["connector"] * 5
    assert kinds(with_one_kind(symbols(MIXED), sheet("bbbbb"), ())) == [k for k, _ in MIXED]


def test_signs_that_are_connectors_by_most_of_the_belief_are_so_all():
    seen = [("connector", 0.6), ("connector", 0.5), ("lamp", 0.9), ("connector", 0.4), ("switch", 0.3)]
    assert kinds(with_one_kind(symbols(seen), sheet("bbbbb"), ())) == ["connector"] * 5


@pytest.mark.parametrize(
    ("seen", "drawn"),
    [
        ([("lamp", 0.9)] * 4 + [("connector", 0.85)], "bbbbb"),  # the detector knows them
        (SURE[2:], "bbb"),  # too few
    ],
)
def test_where_the_detector_agrees_or_signs_are_few_nothing_changes(seen: list[tuple[str, float]], drawn: str):
    before = symbols(seen)
    assert with_one_kind(before, sheet(drawn), ()) == tuple(before)


def test_another_sign_and_one_that_a_person_taught_stay_what_they_are():
    seen = [*SURE, ("lamp", 0.6), ("switch", 0.7)]
    before = symbols(seen)
    before[6] = replace(before[6], taught="l1")
    assert kinds(with_one_kind(before, sheet("bbbbbxb"), ()))[5:] == ["lamp", "switch"]


def test_a_sign_with_a_letter_on_its_wire_is_on_a_wire_all_the_same():
    ink = sheet("b")
    box = symbols([("lamp", 0.5)])[0].box
    for y in (8.6, 8.9):
        cv2.line(ink, px(box.x1 + 0.3, y), px(box.x1 + 1.5, y), 255, 3)
    assert on_a_wire(ink, box)
    ink[px(10, 0)[0] - 4 : px(10, 0)[0] + 5, px(box.x1, 0)[0] :] = 0
    assert not on_a_wire(ink, box)
