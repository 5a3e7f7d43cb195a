"""A small sign at the end of a single wire is a ground when its name is one; whatever a wire goes through stays what it is."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import pytest

from digitize.harness.claim import Alternative
from digitize.harness.place import Box, Polyline
from digitize.ink.state import Marks, Meeting, Stroke, Symbol
from digitize.legend.conventions import Conventions, MarkConventions
from digitize.reading.state import ReadText
from digitize.wiring.identifiers import NO_PREFIXES, Prefixes, stated_prefixes
from digitize.wiring.named_grounds import with_named_grounds
from digitize.wiring.understand import understand
from fixtures.small_page import Page

SIGN = Symbol("connector", Box(20, 20, 25, 25), 0.97)
INTO: tuple[Polyline, ...] = (((22.5, 5), (22.5, 19.5)),)
THROUGH: tuple[Polyline, ...] = (*INTO, ((22.5, 25.5), (22.5, 40)))
STATED = Prefixes(grounds=frozenset({"GX"}))


def marks(*symbols: Symbol, lines: tuple[Polyline, ...] = INTO, meetings: tuple[Meeting, ...] = ()) -> Marks:
    strokes = tuple(Stroke(points, 0.3) for points in lines)
    return Marks(SimpleNamespace(), strokes, meetings, (), (), (), symbols, ())


def name(text: str, over: Symbol) -> ReadText:
    x, y = over.box.centre
    told = (("connector", (Alternative(text, 0.9),)),)
    return ReadText(0, Box(x - 2, y - 1, x + 2, y + 1), 0, text, "connector", 0.9, (), told, ())


def kinds(found: Marks) -> list[str]:
    return [s.kind for s in found.symbols]


@pytest.mark.parametrize(
    ("text", "lines", "stated", "kind"),
    [
        ("GX4", INTO, STATED, "ground"),
        ("GX4", THROUGH, STATED, "connector"),
        ("GX4", (), STATED, "connector"),
        ("GY4", INTO, STATED, "connector"),
        ("GX4", INTO, NO_PREFIXES, "connector"),
    ],
)
def test_a_ring_round_a_grounds_name_at_the_end_of_a_wire_is_a_ground(text, lines, stated, kind):
    found = with_named_grounds(marks(SIGN, lines=lines), [name(text, SIGN)], stated)
    assert kinds(found) == [kind]


def test_lines_that_meet_beside_it_do_not_end_at_it():
    lines: tuple[Polyline, ...] = (*INTO, ((26, 5), (26, 20)), ((26, 20), (26, 40)), ((10, 20), (19, 20.0)))
    cross = Meeting((26.0, 20.0), "corner", 0.9, ((1, 1), (2, 0)))
    assert kinds(with_named_grounds(marks(SIGN, lines=lines[:3], meetings=(cross,)), [name("GX4", SIGN)], STATED)) == [
        "ground"
    ]
    assert kinds(with_named_grounds(marks(SIGN, lines=lines, meetings=(cross,)), [name("GX4", SIGN)], STATED)) == [
        "connector"
    ]


@pytest.mark.parametrize(
    ("grounds", "through", "kind"), [(2, False, "ground"), (1, False, "connector"), (2, True, "connector")]
)
def test_where_nothing_is_stated_the_other_grounds_of_the_sheet_tell(grounds: int, through: bool, kind: str):
    earths = [Symbol("ground", Box(60, 20 + 10 * k, 64, 22 + 10 * k), 0.9) for k in range(grounds)]
    plug = Symbol("connector", Box(80, 20, 84, 24), 0.9)
    lines = (*INTO, ((70, 22), (79.5, 22)), ((84.5, 22), (95, 22))) if through else INTO
    texts = [name(f"GX{k}", s) for k, s in enumerate([SIGN, *earths, plug])]
    assert kinds(with_named_grounds(marks(SIGN, *earths, plug, lines=lines), texts))[0] == kind


def test_a_large_or_taught_sign_stays_what_it_is():
    large = Symbol("connector", Box(15, 20, 30, 25), 0.97)
    assert kinds(with_named_grounds(marks(large), [name("GX4", large)], STATED)) == ["connector"]
    taught = Symbol("connector", SIGN.box, 0.97, taught="edit-1")
    assert kinds(with_named_grounds(marks(taught), [name("GX4", taught)], STATED)) == ["connector"]


def test_what_a_manual_states_of_its_grounds_reaches_the_rule():
    page = Page().part("module", 8, 30, 16, 50).part("connector", 58, 38, 62, 42).line((16, 40), (58, 40))
    read = page.text("GX4", 60, 40, "connector").read()
    stated = stated_prefixes(Conventions(grounds=MarkConventions(prefix="GX")))
    found = [understand(read, s) for s in (stated, NO_PREFIXES)]
    assert ["ground" in {p.kind for p in f.places} for f in found] == [True, False]


EARTH = Symbol("relay", Box(20, 20, 25, 24.5), 0.99, alternatives=(("ground", 0.97),))


@pytest.mark.parametrize(
    ("likely", "lines", "stated", "kind"),
    [
        (0.97, INTO, NO_PREFIXES, "ground"),
        (0.5, INTO, NO_PREFIXES, "relay"),
        (0.97, THROUGH, NO_PREFIXES, "relay"),
        (0.97, INTO, Prefixes(connectors=frozenset({"GX"})), "relay"),
    ],
    ids=["as likely", "less likely", "two wires", "named as connectors are"],
)
def test_a_named_sign_at_the_end_of_a_wire_that_looks_as_much_like_a_ground_is_one(likely, lines, stated, kind):
    sign = replace(EARTH, alternatives=(("ground", likely),))
    assert kinds(with_named_grounds(marks(sign, lines=lines), [name("GX4", sign)], stated)) == [kind]


def test_a_part_named_like_the_grounds_that_ends_a_wire_is_one_unless_parts_with_two_wires_are_named_so():
    sounder = Symbol("sounder", Box(20, 20, 25, 24.5), 0.99)
    other = Symbol("lamp", Box(60, 20, 65, 25), 0.9)
    earths = [Symbol("ground", Box(80, 20 + 10 * k, 84, 22 + 10 * k), 0.9) for k in range(2)]
    names = [name("GX4", sounder), *(name(f"GX{k}", e) for k, e in enumerate(earths))]
    found = with_named_grounds(marks(sounder, other, *earths), names)
    assert kinds(found) == ["ground", "lamp", "ground", "ground"]
    through: tuple[Polyline, ...] = (*INTO, ((62.5, 5), (62.5, 19.5)), ((62.5, 25.5), (62.5, 40)))
    found = with_named_grounds(marks(sounder, other, *earths, lines=through), [*names, name("GX9", other)])
    assert kinds(found) == ["sounder", "lamp", "ground", "ground"]


def test_a_line_that_is_all_at_a_sign_is_a_bit_of_it():
    bit: tuple[Polyline, ...] = (*INTO, ((21, 25.2), (20.6, 26.2)))
    assert kinds(with_named_grounds(marks(SIGN, lines=bit), [name("GX4", SIGN)], STATED)) == ["ground"]


def test_a_small_triangle_that_only_its_lines_show_is_a_ground_by_its_name():
    page = Page().part("lamp", 10, 30, 18, 36).line((18, 33), (60, 33), (60, 45))
    page.line((58, 45), (62, 45), (60, 48), (58, 45)).text("GX4", 60, 50, "connector")
    wiring = understand(page.read(), STATED)
    assert [p.label.value for p in wiring.places if p.kind == "ground"] == ["GX4"]
    assert not [p for p in wiring.places if p.kind == "unknown"]
