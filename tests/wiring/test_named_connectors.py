"""A small sign straight on a wire is a connector when a connector's identifier stands at it; other signs stay as they are."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import cv2
import numpy as np
import pytest

from digitize.harness.claim import Alternative
from digitize.harness.place import Box, Polyline
from digitize.ink.state import Marks, Stroke, Symbol
from digitize.reading.state import ReadText
from digitize.wiring.identifiers import Prefixes
from digitize.wiring.named_connectors import with_named_connectors
from fixtures.small_page import Page

SIGN = Symbol("unknown", Box(20, 20, 22, 22), 0.5)
THROUGH: tuple[Polyline, ...] = (((5, 21), (19.5, 21)), ((22.5, 21), (40, 21)))
RAISED: tuple[Polyline, ...] = (((5, 21.5), (19.5, 21.5)), ((22.5, 21.5), (40, 21.5)))


def marks(*symbols: Symbol, lines: tuple[Polyline, ...] = THROUGH) -> Marks:
    strokes = tuple(Stroke(points, 0.3) for points in lines)
    return Marks(SimpleNamespace(ink=np.zeros((480, 960), np.uint8)), strokes, (), (), (), (), symbols, ())


def name(text: str, over: Symbol, kind: str = "connector") -> ReadText:
    x, y = over.box.centre
    told = ((kind, (Alternative(text, 0.9),)),)
    return ReadText(0, Box(x - 2, y - 4, x + 2, y - 2), 0, text, kind, 0.9, (), told, ())


def kinds(found: Marks) -> list[str]:
    return [s.kind for s in found.symbols]


@pytest.mark.parametrize("sign", [SIGN, Symbol("switch", SIGN.box, 0.4)], ids=["unknown", "doubtful switch"])
def test_a_sign_on_a_wire_with_an_identifier_at_it_is_a_connector(sign: Symbol):
    found = with_named_connectors(marks(sign), [name("J102", sign)])
    assert kinds(found) == ["connector"]
    assert found.symbols[0].alternatives[0][0] == sign.kind


def test_a_sign_named_like_the_grommets_or_the_grounds_of_the_sheet_is_none():
    for kind in ("grommet", "ground"):
        other = Symbol(kind, Box(60, 20, 62, 22), 0.9)
        found = with_named_connectors(marks(other, SIGN), [name("J7", other), name("J2", SIGN)])
        assert kinds(found) == [kind, "unknown"]


@pytest.mark.parametrize(("letters", "kind"), [("J", "connector"), ("K", "grommet")])
def test_the_prefixes_that_the_manual_states_for_connectors_outweigh_what_a_sign_looked_like(letters: str, kind: str):
    sign = Symbol("grommet", SIGN.box, 0.9)
    stated = Prefixes(connectors=frozenset({letters}))
    assert kinds(with_named_connectors(marks(sign), [name("J102", sign)], stated)) == [kind]


@pytest.mark.parametrize(("looked", "kind"), [(0.4, "connector"), (0.05, "lamp")])
def test_a_large_sign_that_looked_like_a_connector_too_is_one_by_its_name(looked: float, kind: str):
    sign = Symbol("lamp", Box(20, 16.0, 26, 26.0), 0.99, alternatives=(("connector", looked),))
    lines = (((5, 21), (19.5, 21)), ((26.5, 21), (40, 21)))
    texts = [replace(name("J102", sign), box=Box(20, 12, 26, 15))]
    found = with_named_connectors(marks(sign, lines=lines), texts, Prefixes(connectors=frozenset({"J"})))
    assert kinds(found) == [kind]


@pytest.mark.parametrize(
    ("letters", "words", "kind"),
    [
        ("J", "", "connector"), ("K", "", "motor"), ("J", "WIPER MOTOR", "motor"), ("J", "RELAY 2", "motor"),
        ("J", "H5C RED 14 H5B RED", "connector"),  # two codes that ran together name nothing
    ],
)  # fmt: skip
def test_a_sign_of_any_shape_with_a_name_that_the_manual_states_for_connectors_is_one(letters, words, kind):
    sign = Symbol("motor", SIGN.box, 0.9)  # a circle with a letter in it, as the cavity of a plug may be
    texts = [name("J102", sign), *([name(words, sign, kind="word")] if words else [])]
    assert kinds(with_named_connectors(marks(sign), texts, Prefixes(connectors=frozenset({letters})))) == [kind]


@pytest.mark.parametrize(
    ("down", "kind"), [(-0.5, "connector"), (-1.2, "unknown"), (3.4, "connector"), (3.6, "unknown")]
)
def test_an_identifier_may_reach_a_little_into_the_box_of_its_sign(down: float, kind: str):
    sign = Symbol("unknown", Box(20, 20, 22, 23), 0.5)
    text = replace(name("J102", sign), box=Box(19, 16 - down, 23, 20 - down))
    assert kinds(with_named_connectors(marks(sign, lines=RAISED), [text])) == [kind]


@pytest.mark.parametrize(("inside", "kind"), [(True, "connector"), (False, "unknown")])
def test_a_sign_that_stands_round_its_identifier_may_be_larger(inside: bool, kind: str):
    sign = Symbol("unknown", Box(15, 19, 27, 23), 0.5)
    text = name("J102", sign)
    if inside:
        text = replace(text, box=Box(18, 20, 24, 22))
    lines: tuple[Polyline, ...] = (((5, 21), (14.5, 21)), ((27.5, 21), (40, 21)))
    assert kinds(with_named_connectors(marks(sign, lines=lines), [text])) == [kind]


@pytest.mark.parametrize(
    ("lines", "kind"),
    [
        ((*THROUGH, ((22.5, 20), (22.6, 21))), "connector"),  # a bit of its cavity's number lies at it
        ((THROUGH[0], ((21, 22.5), (21, 40))), "grommet"),
    ],
)
def test_a_wire_that_passes_is_seen_beside_bits_of_letters_too(lines: tuple[Polyline, ...], kind: str):
    sign, stated = Symbol("grommet", SIGN.box, 0.9), Prefixes(connectors=frozenset({"J"}))
    assert kinds(with_named_connectors(marks(sign, lines=lines), [name("J102", sign)], stated)) == [kind]


@pytest.mark.parametrize(("plugs", "kind"), [(2, "connector"), (1, "grommet")])
def test_a_grommet_named_like_most_connectors_of_the_sheet_is_one(plugs: int, kind: str):
    sign = Symbol("grommet", SIGN.box, 0.9)
    others = [Symbol("connector", Box(60, 20 + 10 * k, 64, 22 + 10 * k), 0.9) for k in range(plugs)]
    texts = [name(f"J10{k}", s) for k, s in enumerate([sign, *others])]
    assert kinds(with_named_connectors(marks(sign, *others), texts))[0] == kind


@pytest.mark.parametrize(
    ("sign", "lines"),
    [
        (Symbol("switch", SIGN.box, 0.9), THROUGH),
        (Symbol("unknown", Box(12, 12, 30, 30), 0.5), (((5, 21), (11.5, 21)), ((30.5, 21), (40, 21)))),
        (SIGN, THROUGH[:1]),
        (SIGN, (*THROUGH, ((21, 22.5), (21, 40)))),
    ],
    ids=["told", "large", "one wire", "three wires"],
)
def test_what_is_told_or_large_or_not_straight_on_a_wire_stays_what_it_is(sign: Symbol, lines: tuple[Polyline, ...]):
    assert kinds(with_named_connectors(marks(sign, lines=lines), [name("J102", sign)])) == [sign.kind]


@pytest.mark.parametrize(
    ("drawn", "texts", "kind"),
    [
        ("box", [("J102", "connector")], "connector"),
        ("box", [("J102", "connector"), ("BRAKE LAMP", "word")], "switch"),  # it has a name in words
        ("box", [("J102", "word")], "switch"),
        ("blade", [("J102", "connector")], "switch"),
    ],
)
def test_a_plain_box_named_like_a_connector_and_in_no_words_is_one_whatever_it_was_taken_for(drawn, texts, kind):
    sign = Symbol("switch", Box(20, 20, 23, 22), 0.99)
    found = marks(sign)
    if drawn == "box":
        cv2.rectangle(found.sheet.ink, (20 * 12 + 1, 20 * 12 + 1), (23 * 12 - 2, 22 * 12 - 2), 255, 2)
    else:
        cv2.line(found.sheet.ink, (20 * 12, 22 * 12 - 2), (23 * 12, 20 * 12), 255, 3)
    assert kinds(with_named_connectors(found, [name(text, sign, kind=of) for text, of in texts])) == [kind]


def test_a_box_whose_identifier_may_be_that_of_a_connector_beside_it_stays_what_it_was():
    sign, plug = Symbol("switch", Box(20, 20, 23, 22), 0.99), Symbol("connector", Box(24, 19, 27, 21), 0.99)
    found = marks(sign, plug)
    cv2.rectangle(found.sheet.ink, (20 * 12 + 1, 20 * 12 + 1), (23 * 12 - 2, 22 * 12 - 2), 255, 2)
    text = replace(name("J102", sign), box=Box(20, 16, 26, 18))
    assert kinds(with_named_connectors(found, [text])) == ["switch", "connector"]


def test_a_word_at_a_sign_makes_no_connector_of_it():
    assert kinds(with_named_connectors(marks(SIGN), [name("RADIO", SIGN, kind="word")])) == ["unknown"]


def test_a_small_square_that_only_its_lines_show_is_a_connector_too():
    page = Page().part("lamp", 10, 37, 18, 43).part("motor", 100, 37, 108, 43)
    page.line((18, 40), (58.6, 40)).line((61.4, 40), (100, 40))
    page.line((58.6, 38.6), (61.4, 38.6), (61.4, 41.4), (58.6, 41.4), (58.6, 38.6))
    wiring = page.text("J102", 60, 36.5, "connector").understood()
    (plug,) = [p for p in wiring.places if p.kind == "connector"]
    assert plug.label.value == "J102"
    assert len(wiring.runs) == 2


@pytest.mark.parametrize(("lost", "long", "kind"), [
    (None, 15, "connector"),
    (3, 15, "sounder"),  # one of its wires has none across
    (None, 30, "sounder"),  # far too long for two ways
])  # fmt: skip
@pytest.mark.parametrize("flat", [True, False])
def test_a_sign_of_several_ways_named_like_a_connector_is_one(lost: int | None, long: float, kind: str, flat: bool):
    sign = Symbol("sounder", Box(20, 20, 23, 20 + long), 0.97)
    lines = [((5.0, y), (19.6, y)) for y in (23.0, 28.0)] + [((23.4, y), (40.0, y)) for y in (23.2, 28.1)]
    kept = [line for k, line in enumerate(lines) if k != lost]
    text = replace(name("J102", sign), box=Box(19, 16, 24, 19))
    if not flat:
        sign, text = replace(sign, box=sign.box.swapped()), replace(text, box=Box(25, 16, 30, 19))
        kept = [tuple((y, x) for x, y in line) for line in kept]
    found = with_named_connectors(marks(sign, lines=tuple(kept)), [text], Prefixes(connectors=frozenset({"J"})))
    assert kinds(found) == [kind]
