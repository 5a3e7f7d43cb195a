from __future__ import annotations

import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from digitize.legend.automata import automaton
from digitize.legend.automaton import Automaton
from digitize.legend.codes import code_fields, in_words, parse_code
from digitize.legend.conventions import Conventions, conventions_from
from digitize.legend.grammar import GRAMMAR_KINDS, grammars
from digitize.legend.shapes import Either, Sequence, Shape, Stretch, Words, expression

LETTERED = conventions_from("""
[code]
pattern = "{circuit}{number}{segment?} {gauge} {colour}{/tracer?}"
[circuits]
S = "side lamps"
H = "horn"
[colours]
RED = "red"
BLU = "blue"
LBL = "light blue"
[gauges]
system = "awg"
sizes = ["10", "16", "18"]
[connectors.prefixes]
K = "engine bay"
D = "doors"
[grommets]
prefix = "W"
[grounds]
prefix = "E"
""")


def test_one_automaton_for_each_kind_of_string():
    made = grammars(LETTERED)
    assert tuple(made) == (*GRAMMAR_KINDS, "word")
    assert tuple(grammars(Conventions())) == GRAMMAR_KINDS
    for automaton_ in made.values():
        as_contract: Automaton = automaton_
        assert as_contract.letters(0)


def test_a_code_grammar_keeps_to_the_tables():
    code = grammars(LETTERED)["code"]
    assert code.takes("S4C 16 RED/BLU")
    assert code.takes("H123 10 LBL")
    for wrong in (
        "S4C 16 RED/",
        "S4C 16 PNK",
        "X4C 16 RED",
        "S4C 17 RED",
        "S 16 RED",
        "S1234 16 RED",
        "S4C  16 RED",
        "",
    ):
        assert not code.takes(wrong), wrong


def test_ids_take_connectors_grommets_and_grounds_with_their_stated_prefixes():
    ids = grammars(LETTERED)["connector"]
    for right in ("K214", "D7A", "W2", "E104"):
        assert ids.takes(right), right
    for wrong in ("X214", "K", "214", "K214AB", "K12345"):
        assert not ids.takes(wrong), wrong


def test_zones_stand_alone_or_in_a_list_and_keep_to_a_stated_grid():
    loose = grammars(Conventions())["zone"]
    for right in ("C5", "C3, E19, D31", "AA12", "C3,D4"):
        assert loose.takes(right), right
    for wrong in ("5C", "C", "C3,", "C3, E", "C1234"):
        assert not loose.takes(wrong), wrong
    stated = grammars(
        conventions_from(
            "[zones]\nacross='letters'\ndown='numbers'\ncolumns=8\nrows=8\nfirst_across='A'\nskipped='IO'\n"
            "continues=true\n[[pages]]\npage=1\nkind='diagram'\n[[pages]]\npage=2\nkind='diagram'\n",
        ),
    )["zone"]
    assert stated.takes("R8")
    assert not stated.takes("S8")
    assert not stated.takes("I3")
    assert not stated.takes("C9")


def test_numbers_take_fuses_and_ratings():
    number = grammars(Conventions())["number"]
    for right in ("7", "12", "104", "25A", "7.5A", "7.5", "3B"):
        assert number.takes(right), right
    for wrong in ("1234", "A", "A7", "7.", "25 A", ""):
        assert not number.takes(wrong), wrong


# NEETS module 4 (wire identification): P dc power, wire 215, segment A, size 4, N completes the circuit to ground.
def test_the_neets_worked_example_comes_apart():
    c = conventions_from("""
[code]
pattern = "{unit:1 digits?}{circuit}{number:1-4 digits}{segment}{gauge}{phase:N|A|B|C|V?}"
[circuits]
P = "dc power"
L = "lighting"
[gauges]
system = "awg"
""")
    assert code_fields("P215A4N", c) == {"circuit": "P", "number": "215", "segment": "A", "gauge": "4", "phase": "N"}
    assert code_fields("2P215A4N", c, strict=True) == code_fields("P215A4N", c) | {"unit": "2"}
    assert grammars(c)["code"].takes("P215A4N")
    code = parse_code("P215A4N", c)
    assert code is not None
    assert in_words(code, c) == "dc power, 4 AWG"


# DIN 47002 abbreviations: sw black, br brown, rt red, ge yellow, gn green, bl blue, vi violet, gr grey, ws white, rs pink.
DIN_47002 = {
    "BL": "blue",
    "BR": "brown",
    "GE": "yellow",
    "GN": "green",
    "GR": "grey",
    "OR": "orange",
    "RS": "pink",
    "RT": "red",
    "SW": "black",
    "TK": "turquoise",
    "VI": "violet",
    "WS": "white",
}
# IEC 60757 (BK BN RD OG YE GN BU VT GY WH PK seen in code; the rest of the list from memory).
IEC_60757 = {
    "BK": "black",
    "BN": "brown",
    "RD": "red",
    "OG": "orange",
    "YE": "yellow",
    "GN": "green",
    "BU": "blue",
    "VT": "violet",
    "GY": "grey",
    "WH": "white",
    "PK": "pink",
    "TQ": "turquoise",
}
# BS-AU7: the main colour says what the wire is for; the tracer is written straight after it (Y and O from memory).
BS_AU7 = {
    "N": "brown",
    "U": "blue",
    "R": "red",
    "P": "purple",
    "G": "green",
    "W": "white",
    "B": "black",
    "S": "slate",
    "LG": "light green",
    "K": "pink",
    "Y": "yellow",
    "O": "orange",
}


@pytest.mark.parametrize(
    ("pattern", "colours", "sizes", "text", "expected"),
    [
        (
            "{circuit:2 digits}.{number:2 digits}{segment?} {gauge} {colour}{-tracer?}",
            DIN_47002,
            ["0.75", "6.0"],
            "12.05A 6.0 WS-VI",
            {"circuit": "12", "number": "05", "segment": "A", "gauge": "6.0", "colour": "WS", "tracer": "VI"},
        ),
        (
            "{gauge}-{colour}{/tracer?}-{number:3 digits}",
            IEC_60757,
            ["0.75", "1.5"],
            "0.75-GN/YE-203",
            {"gauge": "0.75", "colour": "GN", "tracer": "YE", "number": "203"},
        ),
        ("{colour}{tracer?}", BS_AU7, [], "WG", {"colour": "W", "tracer": "G"}),
        ("{colour}{tracer?}", BS_AU7, [], "LG", {"colour": "LG"}),
        ("{colour}{tracer?}", BS_AU7, [], "GLG", {"colour": "G", "tracer": "LG"}),
        ("{number:1-3 digits}", {}, [], "57", {"number": "57"}),
        ("{circuit}-{number} {colour} {gauge}", IEC_60757, ["1.5"], "L-12 RD 1.5",
         {"circuit": "L", "number": "12", "colour": "RD", "gauge": "1.5"}),
        ("{colour}{(number:1-2 digits)?}", IEC_60757, [], "BK(7)", {"colour": "BK", "number": "7"}),
        ("{colour}{mark:*|+?}", IEC_60757, [], "BK*", {"colour": "BK", "mark": "*"}),
        ("{colour}{(number)?}", IEC_60757, [], "BK(7)", {"colour": "BK", "number": "7"}),
    ],
)  # fmt: skip
def test_codes_of_many_manuals_come_apart(pattern, colours, sizes, text, expected):
    c = _stated(pattern, colours, sizes)
    assert code_fields(text, c, strict=True) == expected
    assert grammars(c)["code"].takes(text)


def _stated(pattern: str, colours: dict[str, str], sizes: list[str]) -> Conventions:
    table = "\n".join(f'{k} = "{v}"' for k, v in colours.items())
    return conventions_from(
        f'[code]\npattern = "{pattern}"\nnumber_digits = [1, 3]\n[colours]\n{table}\n[gauges]\nsizes = {sizes!r}\n'
    )


def test_an_unknown_colour_is_kept_as_printed():
    code = parse_code("S4C 16 PNK/BLU", LETTERED)
    assert code is not None
    assert (code.colour, code.tracer) == ("PNK", "BLU")
    assert parse_code("S4C 16 PNK/BLU", LETTERED, strict=True) is None
    assert parse_code("STOP LAMP", LETTERED) is None


def test_a_code_is_said_in_words():
    code = parse_code("S4C 16 RED/BLU", LETTERED)
    assert code is not None
    assert in_words(code, LETTERED) == "side lamps, 16 AWG, red with blue tracer"
    bare = parse_code("S4C 16 XYZ", LETTERED)
    assert bare is not None
    assert in_words(bare, LETTERED) == "side lamps, 16 AWG, XYZ"


def test_colours_printed_in_full_are_codes_too_before_anything_is_stated():
    parsed = parse_code("B3 WHITE/ORANGE 14", Conventions())
    assert parsed is not None
    assert (parsed.colour, parsed.tracer) == ("WHITE", "ORANGE")
    assert grammars(Conventions())["code"].takes("4A 18 YELLOW")
    assert not grammars(Conventions())["code"].takes("YARD LAMP 2")


def test_without_conventions_codes_of_all_these_manuals_are_still_seen_and_words_are_not():
    code = grammars(Conventions())["code"]
    for right in (
        "S4C 16 RED/BLU", "G8 4 BLK", "12.05A 6.0 WS-VI", "0.75-GN/YE-203", "P215A4N", "14 RED", "1.5 SW/WS",
        "C10A-14-DBL", "47 GN-BL", "M4A-18BK-WT", "GN/YE-1,5-H12A", "RED/BLACK 14 C3",
    ):  # fmt: skip
        assert code.takes(right), right
    for wrong in ("STARTER SOLENOID", "STOP LAMP", "K214", "25A", "C5", "HORN", "7", "FUSE BLOCK"):
        assert not code.takes(wrong), wrong
    parsed = parse_code("S4C 16 RED/BLU", Conventions())
    assert parsed is not None
    assert (parsed.circuit, parsed.number, parsed.segment, parsed.gauge, parsed.colour, parsed.tracer) == (
        "S", "4", "C", "16", "RED", "BLU",
    )  # fmt: skip


def test_the_automaton_is_minimal_for_a_known_language():
    # (a|b)(c)? over two letters needs three states: start, after one, after two.
    made = automaton(Sequence((Words(("a", "b")), Sequence((Words(("c",)),), optional=True))))
    assert len(made.steps) == 3
    assert made.letters(0) == "ab"
    assert made.step(0, "c") is None


_words = st.lists(st.text("ab1", min_size=1, max_size=3), min_size=1, max_size=3).map(lambda w: Words(tuple(w)))
_stretches = st.tuples(st.sampled_from(["ab", "1", "b1"]), st.integers(0, 2), st.integers(0, 2)).map(
    lambda t: Stretch(t[0], t[1], t[1] + t[2])
)
_shapes: st.SearchStrategy[Shape] = st.recursive(
    st.one_of(_words, _stretches),
    lambda inner: st.one_of(
        st.tuples(st.lists(inner, min_size=1, max_size=3), st.booleans()).map(lambda t: Sequence(tuple(t[0]), t[1])),
        st.lists(inner, min_size=1, max_size=3).map(lambda s: Either(tuple(s))),
    ),
    max_leaves=6,
)


@settings(deadline=None, max_examples=200)
@given(_shapes, st.lists(st.text("ab1", max_size=7), max_size=20))
def test_automaton_and_expression_agree_on_every_string(shape, texts):
    made = automaton(shape)
    compiled = re.compile(expression(shape))
    for text in texts:
        assert made.takes(text) == (compiled.fullmatch(text) is not None), text


@settings(deadline=None, max_examples=100)
@given(_shapes)
def test_every_state_can_still_end_or_go_on(shape):
    made = automaton(shape)
    for state in range(len(made.steps)):
        assert made.accepts(state) or made.letters(state)


def test_keys_of_several_letters_are_words_of_the_manual_as_it_prints_them() -> None:
    stated = Conventions(colours={"bl": "blue", "w": "white"}, circuits={"AB": "lamps", "C": "horn"})
    keys = grammars(stated)["word"]
    assert [k for k in ("bl", "AB", "w", "C", "BL") if keys.takes(k)] == ["bl", "AB"]
    assert "word" not in grammars(Conventions(colours={"w": "white"}))
