"""Short keys on wires mean what the table on their sheet says; colours in words show their small tracers. All invented."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest

from digitize.harness.claim import Claim
from digitize.harness.place import Box
from digitize.legend.conventions import Conventions, conventions_from
from digitize.sheet.state import PX_PER_MM
from digitize.tables.state import KeyLine
from digitize.wiring.binding import bind
from digitize.wiring.proposed import proposed_conventions
from digitize.wiring.short_keys import colour_key, short_keys
from digitize.wiring.state import SheetText
from digitize.wiring.tails import tail_height
from fixtures.typed_sheets import TypedSheet, read

KEYED = conventions_from('[code]\npattern = "{key}"\n[colours]\nRD = "red"\nBU = "blue"\n')


def line(key, gauge=None, colour=None, tracer=None, sure=0.95):
    def claim(value):
        return Claim.unread(0.9) if value is None else Claim(value, sure)

    return KeyLine(claim(key), claim(gauge), claim(colour), claim(tracer), Box(150, 20, 180, 24))


def sheet(name, code, *keys):
    typed = (
        TypedSheet(name).part("a", "switch", (20, 30), read("HORN SWITCH")).part("b", "horn", (100, 30), read("HORN"))
    )
    return replace(typed.run("r1", "a.2", "b.1", read(code)).wiring(), keys=keys)


def wire_of(*sheets, conventions=KEYED):
    return bind(sheets, (), conventions).wires[0]


def test_a_wire_is_told_with_what_the_table_says():
    wire = wire_of(sheet("page_1", "7", line("7", "16", "RED", "BLUE")))
    assert wire.code.value == "7", "what is printed always stays"
    assert (wire.parsed.gauge, wire.parsed.colour, wire.parsed.tracer) == ("16", "RD", "BU")
    (key,) = [e for e in wire.code.evidence if e.kind == "key"]
    assert key.says == "7: 16 RED/BLUE"
    assert key.place.sheet == "page_1"


def test_the_table_of_the_wires_own_sheet_comes_first():
    one, two = sheet("page_1", "7", line("7", "16", "RED")), sheet("page_2", "7", line("7", "10", "BLUE"))
    gauges = {w.ends[0].sheet: w.parsed.gauge for w in bind([one, two], (), KEYED).wires}
    assert gauges == {"page_1": "16", "page_2": "10"}


def test_a_table_elsewhere_speaks_where_no_other_contradicts():
    lone = bind([sheet("page_1", "7"), sheet("page_2", "3", line("7", "16", "RED"))], (), KEYED)
    assert {w.code.value: w.parsed.gauge for w in lone.wires} == {"7": "16", "3": None}
    keys = short_keys([sheet("page_1", "7", line("7", "16")), sheet("page_2", "7", line("7", "10"))], ())
    assert keys.on("7", ["page_3"]) is None


def test_what_a_person_stated_wins_over_the_table():
    stated = conventions_from('[code]\npattern = "{key}"\n[keys]\n7 = { gauge = "4" }\n')
    assert wire_of(sheet("page_1", "7", line("7", "16", "RED")), conventions=stated).parsed.gauge == "4"


def test_a_number_pattern_is_explained_as_well():
    stated = conventions_from('[code]\npattern = "{number:1-3 digits}"\n')
    parsed = wire_of(sheet("page_1", "7", line("7", "16", "RED")), conventions=stated).parsed
    assert (parsed.gauge, parsed.colour) == ("16", "RED")
    assert parsed.number is None, "many wires carry it, so it names none of them"


def test_an_unreadable_line_says_nothing():
    assert wire_of(sheet("page_1", "7", line("7", "16", "RED", sure=0.1))).parsed.gauge is None


def test_colours_in_words_become_the_abbreviation_that_means_them():
    assert colour_key("RED", KEYED) == "RD"
    assert colour_key("PINK", KEYED) == "PINK"
    assert colour_key(None, KEYED) is None


# -- proposals ---------------------------------------------------------------------------------------------------------


def proposed(strings, keys=(), tail=None):
    wiring = replace(sheet("page_1", "7"), keys=tuple(keys))
    texts = tuple(SheetText(s, "code", Box(1, 1, 9, 4), 0.95, (), tail if " " in s else None) for s in strings)
    return proposed_conventions([replace(wiring, texts=texts)], (), {"page_1": 1}, Conventions())


def test_keys_that_a_table_explains_are_proposed_with_their_place():
    done = proposed(["7", "12"] * 4, [line("7", "16", "RED"), line("12", "10", "BLUE", "WHITE")])
    c = done.conventions
    assert c.code.pattern == ("{key}",)
    assert (c.keys["12"].gauge, c.keys["12"].tracer) == ("10", "WHITE")
    assert set(c.colours) == {"RED", "BLUE", "WHITE"}
    assert next(x for x in done.lines if x.key == "keys.7").evidence[0].place.sheet == "page_1"
    assert conventions_from(done.text()) == c


def test_numbers_that_no_table_explains_are_no_keys():
    assert proposed(["7", "12"] * 4).conventions.code.pattern == ()


def test_longer_codes_are_not_given_up_for_a_few_numbers():
    codes = [f"S{n} 16 RED" for n in range(1, 40)]
    c = proposed([*codes, "7", "7", "12", "12", "7", "12"], [line("7", "16", "RED")]).conventions
    assert c.code.pattern != ("{key}",)


@pytest.mark.parametrize(("tail", "small"), [(0.7, True), (1.0, False), (None, False)])
def test_colours_in_words_are_proposed_with_the_size_of_their_tracers(tail, small):
    c = proposed(["RED WHITE", "BLACK", "BLUE RED", "LIGHT GREEN", "RED", "BLACK WHITE", "TAN"], tail=tail).conventions
    assert c.code.pattern == ("{colour}{ tracer?}",)
    assert c.code.tracer_small is small
    assert {"RED", "LIGHT GREEN", "TAN"} <= set(c.colours)


# -- the size of letters -------------------------------------------------------------------------------------------------


def bars(*heights):
    """Letters as upright bars on one base line, 1 mm apart; a None is the space between words. Ink and its box."""
    ink = np.zeros((int(10 * PX_PER_MM), int(40 * PX_PER_MM)), np.uint8)
    x = 5.0
    for h in heights:
        if h is not None:
            top, left = round((7 - h) * PX_PER_MM), round(x * PX_PER_MM)
            cv2.rectangle(ink, (left, top), (left + 4, round(7 * PX_PER_MM)), 255, -1)
        x += 1.4 if h is None else 1.0
    return ink, Box(4.8, 4.8, x, 7.2)


def test_small_letters_are_lower_than_capitals_in_spite_of_ascenders():
    ink, box = bars(2, 2, 2, None, 1.3, 2, 1.3, 1.6, 1.3)
    assert tail_height(ink, box, 0, "RED WHITE") == pytest.approx(0.67, abs=0.06)
    upright = Box(box.y0, 40 - box.x1, box.y1, 40 - box.x0)
    assert tail_height(np.ascontiguousarray(np.rot90(ink)), upright, 90, "RED WHITE") == pytest.approx(0.67, abs=0.06)


def test_capitals_are_as_high_as_capitals():
    ink, box = bars(2, 2, 2, None, 2, 2, 2, 2, 2)
    assert tail_height(ink, box, 0, "RED WHITE") == pytest.approx(1.0, abs=0.05)


def test_one_word_has_no_tail():
    ink, box = bars(2, 2, 2)
    assert tail_height(ink, box, 0, "RED") is None
