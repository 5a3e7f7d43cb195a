"""A small sign on a straight wire is a grommet when its name is one; lamps, connectors and ends of wires stay what they are."""

from __future__ import annotations

from types import SimpleNamespace

from digitize import pipeline
from digitize.harness.claim import Alternative
from digitize.harness.place import Box, Polyline
from digitize.ink.state import Marks, Stroke, Symbol
from digitize.legend.conventions import ConnectorConventions, Conventions, MarkConventions
from digitize.reading.state import ReadText
from digitize.sheet.state import Sheet, SheetHints
from digitize.wiring.identifiers import Prefixes, stated_prefixes
from digitize.wiring.named_grommets import with_named_grommets
from fixtures.small_page import Page

RING = Symbol("lamp", Box(20, 20, 22, 22), 0.4)
KNOWN = Symbol("grommet", Box(60, 20, 62, 22), 0.9)
THROUGH: tuple[Polyline, ...] = (((5, 21), (19.5, 21)), ((22.5, 21), (40, 21)))


def marks(*symbols: Symbol, lines: tuple[Polyline, ...] = THROUGH) -> Marks:
    strokes = tuple(Stroke(points, 0.3) for points in lines)
    return Marks(Sheet.__new__(Sheet), strokes, (), (), (), (), symbols, ())


def name(text: str, over: Symbol) -> ReadText:
    x, y = over.box.centre
    told = (("connector", (Alternative(text, 0.9),)),)
    return ReadText(0, Box(x - 2, y - 4, x + 2, y - 2), 0, text, "connector", 0.9, (), told, ())


def kinds(found: Marks) -> list[str]:
    return [s.kind for s in found.symbols]


def test_a_ring_with_a_name_like_those_of_the_grommets_is_one():
    found = with_named_grommets(marks(KNOWN, RING), [name("QX7", KNOWN), name("QX2", RING)])
    assert kinds(found) == ["grommet", "grommet"]
    assert found.symbols[1].alternatives[0][0] == "lamp"


def test_a_sign_that_may_be_a_grommet_is_one_where_nothing_else_has_such_a_name():
    likely = Symbol("unknown", RING.box, 0.54, alternatives=(("grommet", 0.53),))
    assert kinds(with_named_grommets(marks(likely), [name("QX2", likely)])) == ["grommet"]
    assert kinds(with_named_grommets(marks(RING), [name("QX2", RING)])) == ["lamp"]


def test_the_prefix_that_the_manual_states_makes_a_grommet_of_the_only_sign_with_such_a_name():
    assert kinds(with_named_grommets(marks(RING), [name("QX2", RING)], Prefixes(grommets=frozenset({"QX"})))) == [
        "grommet"
    ]
    assert kinds(with_named_grommets(marks(RING), [name("QX2", RING)], Prefixes(grommets=frozenset({"QY"})))) == [
        "lamp"
    ]


def test_letters_that_stand_for_two_sorts_of_things_tell_neither():
    stated = Conventions(
        connectors=ConnectorConventions(prefixes={"B": "dash", "E": "doors", "G": "cabin"}),
        grommets=MarkConventions(prefix="G"),
        grounds=MarkConventions(prefix="E"),
    )
    assert stated_prefixes(stated) == Prefixes(connectors=frozenset({"B"}))
    apart = Conventions(grommets=MarkConventions(prefix="g"), grounds=MarkConventions(prefix="E"))
    assert stated_prefixes(apart) == Prefixes(grommets=frozenset({"G"}), grounds=frozenset({"E"}))


def test_what_a_manual_states_of_its_grommets_reaches_the_rule(monkeypatch):
    page = Page().part("module", 8, 30, 16, 50).part("module", 104, 30, 112, 50).part("lamp", 58, 38, 62, 42)
    page.line((16, 40), (58, 40)).line((62, 40), (104, 40))
    read = page.text("QX2", 60, 35.5, "connector").read()
    for stage in ("read_marks", "zoned", "kind_of"):
        monkeypatch.setattr(pipeline, stage, lambda *_, **__: read)
    watch = SimpleNamespace(stage=lambda _, work: work())
    stated = [Conventions(grommets=MarkConventions(prefix=prefix)) for prefix in ("QX", None)]
    found = [pipeline.say_what(read.marks, SheetHints(), c, SimpleNamespace(), watch) for c in stated]
    assert ["grommet" in {p.kind for p in f.wiring.places} for f in found] == [True, False]


def test_a_name_that_connectors_carry_too_tells_nothing():
    plug = Symbol("connector", Box(80, 20, 84, 22), 0.9)
    texts = [name("QX7", KNOWN), name("QX2", RING), name("QX3", plug)]
    assert kinds(with_named_grommets(marks(KNOWN, RING, plug), texts)) == ["grommet", "lamp", "connector"]


def test_what_a_wire_ends_at_or_turns_at_is_no_grommet():
    texts = [name("QX7", KNOWN), name("QX2", RING)]
    turned: tuple[Polyline, ...] = (THROUGH[0], ((21, 22.5), (21, 40)))
    for lines in (THROUGH[:1], turned, (*THROUGH, turned[1])):
        assert kinds(with_named_grommets(marks(KNOWN, RING, lines=lines), texts)) == ["grommet", "lamp"]


def test_a_large_part_is_no_grommet():
    large = Symbol("lamp", Box(15, 15, 27, 27), 0.4)
    lines: tuple[Polyline, ...] = (((5, 21), (14.5, 21)), ((27.5, 21), (40, 21)))
    found = with_named_grommets(marks(KNOWN, large, lines=lines), [name("QX7", KNOWN), name("QX2", large)])
    assert kinds(found) == ["grommet", "lamp"]
