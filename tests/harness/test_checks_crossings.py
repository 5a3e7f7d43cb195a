"""Two lines that cross and change their codes there: a dot was missed."""

from __future__ import annotations

import pytest

from digitize.harness.checks_crossings import findings
from digitize.harness.claim import Claim, Evidence
from digitize.harness.model import Finding, Harness, SheetPath, Wire, WireEnd
from digitize.harness.place import Box, Place, Point
from digitize.legend.codes import parse_code
from digitize.legend.conventions import conventions_from

STATED = conventions_from('[code]\npattern = "{circuit}{number}{segment?} {gauge} {colour}"')
SHEET = "page_1"
LEVEL = ((10.0, 50.0), (90.0, 50.0))
UPRIGHT = ((50.0, 10.0), (50.0, 90.0))


def wire(
    id_: str, points: tuple[Point, ...], *codes: tuple[str, Point], sure: float = 0.99, sheet: str = SHEET
) -> Wire:
    """A wire along ``points`` with codes printed 2 mm beside some points."""
    said = tuple(
        Evidence("read", text, sure, "test", Place(sheet, Box(x - 6, y - 3, x + 6, y - 1), None))
        for text, (x, y) in codes
    )
    ends = (WireEnd(None, None, sheet, points[0]), WireEnd(None, None, sheet, points[-1]))
    claim = Claim(codes[0][0], 0.99, (), said) if codes else Claim.unread()
    return Wire(id_, claim, None, ends, (SheetPath(sheet, points),), 0.9)


def found(*wires: Wire) -> list[Finding]:
    return list(findings(Harness("", (), wires=wires), lambda text: parse_code(text, STATED)))


BOTH = (("S1 14 RED", (25.0, 50.0)), ("S2 14 RED", (75.0, 50.0)))
DOWN = (("S3 14 RED", (50.0, 25.0)), ("S4 14 RED", (50.0, 75.0)))


def test_a_dot_that_was_missed_where_four_wires_meet_shows_by_their_codes():
    [f] = found(wire("a", LEVEL, *BOTH), wire("b", UPRIGHT, *DOWN))
    assert (f.check, f.subject) == ("codes-change-at-crossing", "a")
    [place] = f.places
    assert (place.sheet, place.box.centre) == (SHEET, (50.0, 50.0))


@pytest.mark.parametrize(
    ("level", "upright", "why"),
    [
        (BOTH[:1], DOWN, "one of the lines keeps its code: it only passes"),
        ((BOTH[0], ("S1 14 RED", (75.0, 50.0))), DOWN, "the same code on both sides"),
        (BOTH, (DOWN[0], ("S4 14 RED", (50.0, 40.0))), "it changes elsewhere, not at the crossing"),
        ((*BOTH, ("S1 14 RED", (85.0, 50.0))), DOWN, "the code of one side stands on the other side too"),
        ((BOTH[0], ("NOTE", (75.0, 50.0))), DOWN, "no code stands there"),
        ((BOTH[0], ("S2 14 RED", (75.0, 70.0))), DOWN, "a code far from the line is another's"),
    ],
)
def test_lines_that_merely_cross_are_left_in_peace(level, upright, why):
    assert found(wire("a", LEVEL, *level), wire("b", UPRIGHT, *upright)) == [], why


def test_codes_read_with_doubt_say_nothing():
    assert found(wire("a", LEVEL, *BOTH, sure=0.8), wire("b", UPRIGHT, *DOWN)) == []


def test_lines_that_do_not_cross_or_lie_on_two_sheets_are_no_crossing():
    beside = tuple((x, y + 60.0) for x, y in UPRIGHT)
    moved = tuple((text, (x, y + 60.0)) for text, (x, y) in DOWN)
    assert found(wire("a", LEVEL, *BOTH), wire("b", beside, *moved)) == []
    assert found(wire("a", LEVEL, *BOTH), wire("b", UPRIGHT, *DOWN, sheet="page_2")) == []
    along = ((10.0, 50.5), (90.0, 50.5))
    assert found(wire("a", LEVEL, *BOTH), wire("b", along, *BOTH)) == [], "side by side"


def test_a_wavering_line_crosses_once():
    waver = ((50.0, 10.0), (50.0, 50.2), (51.0, 49.8), (50.5, 50.3), (50.5, 90.0))
    [f] = found(wire("a", LEVEL, *BOTH), wire("b", waver, *DOWN))
    [place] = f.places
    assert place.box.centre == pytest.approx((50.5, 50.0), abs=0.5)


def test_lines_that_cross_twice_between_their_codes_are_shown_in_both_places():
    detour = ((50.0, 10.0), (50.0, 52.0), (60.0, 52.0), (60.0, 45.0), (60.0, 90.0))
    down = (("S3 14 RED", (50.0, 25.0)), ("S4 14 RED", (60.0, 75.0)))
    [f] = found(wire("a", LEVEL, *BOTH), wire("b", detour, *down))
    assert sorted(round(p.box.centre[0]) for p in f.places) == [50, 60]


def test_each_change_of_codes_has_one_crossing_the_one_that_leaves_the_others_theirs():
    """``a`` crosses ``b`` and ``c``, and either could be its dot; ``c`` crosses nothing else, ``b`` crosses ``d`` too."""
    a = wire("a", LEVEL, ("S1 14 RED", (15.0, 50.0)), ("S2 14 RED", (85.0, 50.0)))
    b = wire("b", ((40.0, 10.0), (40.0, 150.0)), ("S3 14 RED", (40.0, 25.0)), ("S4 14 RED", (40.0, 140.0)))
    c = wire("c", ((60.0, 10.0), (60.0, 90.0)), ("S5 14 RED", (60.0, 25.0)), ("S6 14 RED", (60.0, 75.0)))
    d = wire("d", ((10.0, 120.0), (90.0, 120.0)), ("S7 14 RED", (15.0, 120.0)), ("S8 14 RED", (85.0, 120.0)))
    assert [(f.subject, f.places[0].box.centre) for f in found(a, b, c, d)] == [
        ("a", (60.0, 50.0)), ("b", (40.0, 120.0)),
    ]  # fmt: skip


def test_a_line_with_two_changes_may_have_two_dots():
    long = wire("a", ((10.0, 50.0), (190.0, 50.0)), *BOTH, ("S9 14 RED", (175.0, 50.0)))
    second = wire("c", ((120.0, 10.0), (120.0, 90.0)), ("S5 14 RED", (120.0, 25.0)), ("S6 14 RED", (120.0, 75.0)))
    told = found(long, wire("b", UPRIGHT, *DOWN), second)
    assert sorted(round(f.places[0].box.centre[0]) for f in told) == [50, 120]
    assert len({f.id for f in told}) == 2
