"""A thick bar across the end of a wire is an earth mark when a ground's name stands beyond it; other tees stay as they are."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import pytest

from digitize.harness.claim import Alternative
from digitize.harness.place import Box
from digitize.ink.state import Dot, Marks, Meeting, Stroke, Symbol
from digitize.reading.state import ReadText
from digitize.wiring.barred_grounds import with_barred_grounds
from digitize.wiring.identifiers import NO_PREFIXES, Prefixes
from digitize.wiring.understand import understand
from fixtures.small_page import Page

STATED = Prefixes(grounds=frozenset({"GX"}))
BARRED = (Stroke(((30, 10), (30, 30)), 0.3), Stroke(((30, 30), (28, 30)), 0.6), Stroke(((30, 30), (32, 30.1)), 0.6))
TEE = Meeting((30, 30), "join", 0.7, ((0, 1), (1, 0), (2, 0)))


def marks(*strokes: Stroke, **more) -> Marks:
    more = {"meetings": (TEE,), "dots": (), "symbols": ()} | more
    return Marks(SimpleNamespace(), strokes or BARRED, more["meetings"], more["dots"], (), (), more["symbols"], ())


def name(text: str, x: float = 30, y: float = 33) -> ReadText:
    told = (("connector", (Alternative(text, 0.9),)),)
    return ReadText(0, Box(x - 2, y - 1, x + 2, y + 1), 0, text, "connector", 0.9, (), told, ())


def test_a_bar_with_the_name_of_a_ground_beyond_it_is_an_earth_mark_and_no_lines():
    found = with_barred_grounds(marks(), [name("GX4")], STATED)
    (ground,) = found.symbols
    assert ground.kind == "ground"
    assert (ground.box.x0, ground.box.x1) == pytest.approx((27.7, 32.3))
    assert [s.points for s in found.strokes] == [((30, 10), pytest.approx((30, 29.5)))]
    assert not found.meetings


@pytest.mark.parametrize("turns", [1, 2, 3])
def test_so_is_one_in_any_direction(turns: int):
    def turned(p):
        for _ in range(turns):
            p = (60 - p[1], p[0])
        return p

    strokes = tuple(replace(s, points=tuple(turned(p) for p in s.points)) for s in BARRED)
    tee = replace(TEE, at=turned(TEE.at))
    found = with_barred_grounds(marks(*strokes, meetings=(tee,)), [name("GX4", *turned((30, 33)))], STATED)
    assert [s.kind for s in found.symbols] == ["ground"]


@pytest.mark.parametrize(("strokes", "text", "dots"), [
    (BARRED, name("RT4"), ()),  # no ground's name
    (BARRED, name("GX4", 30, 27), ()),  # it stands before the bar
    (BARRED, name("GX4", 34), ()),  # aside
    (BARRED, name("GX4", 30, 36), ()),  # far
    (BARRED, name("GX4"), (Dot((30, 30), 1.2, 0.9),)),  # a splice
    ((BARRED[0], replace(BARRED[1], width=0.3), BARRED[2]), name("GX4"), ()),  # no thicker than the wire
    ((BARRED[0], replace(BARRED[1], points=((30, 30), (20, 30))), BARRED[2]), name("GX4"), ()),  # a cable
    ((BARRED[0], replace(BARRED[1], points=((30, 30), (28.2, 31.8))), BARRED[2]), name("GX4"), ()),  # not across
])  # fmt: skip
def test_other_tees_stay_as_they_are(strokes, text, dots):
    page = marks(*strokes, dots=dots)
    assert with_barred_grounds(page, [text], STATED) is page


def test_a_bar_whose_half_leads_on_is_none():
    on = Stroke(((32, 30.1), (32, 50)), 0.6)
    corner = Meeting((32, 30.1), "corner", 0.9, ((2, 1), (3, 0)))
    page = marks(*BARRED, on, meetings=(TEE, corner))
    assert with_barred_grounds(page, [name("GX4")], STATED) is page


def test_without_conventions_other_grounds_of_the_sheet_tell_the_names():
    others = [Symbol("ground", Box(60 + 20 * k, 20, 64 + 20 * k, 22), 0.9) for k in range(2)]
    texts = [name(f"GX{k + 1}", 62 + 20 * k, 24) for k in range(2)]
    for count in (1, 2):
        page = marks(symbols=tuple(others[:count]))
        found = with_barred_grounds(page, [*texts[:count], name("GX4")], NO_PREFIXES)
        assert [s.kind for s in found.symbols] == ["ground"] * (3 if count == 2 else 1)


def test_its_wire_leads_to_the_ground():
    page = Page().part("module", 8, 20, 16, 30).line((16, 25), (60, 25), (60, 45)).text("GX4", 60, 47.2, "connector")
    page = page.line((57.8, 45), (60, 45), width=0.7).line((60, 45), (62.2, 45), width=0.7)
    wiring = understand(page.read(), STATED)
    assert [p.label.value for p in wiring.places if p.kind == "ground"] == ["GX4"]
    (run,) = wiring.runs
    assert {e.kind for e in run.ends} == {"place"}
