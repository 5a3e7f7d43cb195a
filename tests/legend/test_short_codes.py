"""Older pages: a key that a table explains, or only the colours in words. All invented."""

import pytest

from digitize.errors import ConventionsWrong
from digitize.legend.codes import code_fields, in_words, parse_code
from digitize.legend.conventions import conventions_from
from digitize.legend.conventions_text import conventions_text
from digitize.legend.grammar import grammars

KEYED = conventions_from(
    '[code]\npattern = "{key}"\n[colours]\nRD = "red"\nBU = "blue"\n[circuits]\nL = "lamps"\n[gauges]\nsystem = "awg"\n'
    '[keys]\n7 = { gauge = 16, colour = "RD", tracer = "BU" }\n12 = { gauge = "10", colour = "RD", circuit = "L" }\n'
)
WORDS = conventions_from(
    '[code]\npattern = "{colour}{ tracer?}"\ntracer_small = true\nexample = "RED white"\n'
    '[colours]\nRED = "red"\nWHITE = "white"\nBLACK = "black"\n'
)


def test_a_short_key_means_what_the_table_says():
    code = parse_code("7", KEYED)
    assert (code.printed, code.gauge, code.colour, code.tracer) == ("7", "16", "RD", "BU")
    assert code.number is None, "a key names a kind of wire, not one wire"
    assert in_words(parse_code("12", KEYED), KEYED) == "lamps, 10 AWG, red"


def test_only_listed_keys_are_read():
    automaton = grammars(KEYED)["code"]
    assert [k for k in ("7", "12", "8", "1", "77") if automaton.takes(k)] == ["7", "12"]
    assert parse_code("8", KEYED, strict=True) is None
    assert parse_code("8", KEYED).colour is None


def test_colours_in_words_have_their_tracer_in_small_letters():
    code = parse_code("RED white", WORDS)
    assert (code.printed, code.colour, code.tracer) == ("RED white", "RED", "WHITE")
    assert in_words(code, WORDS) == "red with white tracer"
    assert parse_code("BLACK", WORDS).tracer is None
    assert code_fields("RED WHITE", WORDS, strict=True) is None


def test_a_tracer_like_its_main_colour_is_seen_as_such():
    assert parse_code("RED red", WORDS).tracer == parse_code("RED red", WORDS).colour


def test_the_grammar_writes_the_tracer_small():
    automaton = grammars(WORDS)["code"]
    assert automaton.takes("BLACK white")
    assert not automaton.takes("BLACK WHITE")


def test_both_are_written_back_as_they_were():
    for stated in (KEYED, WORDS):
        assert conventions_from(conventions_text(stated)) == stated


def test_a_slip_in_a_key_is_told_with_its_place():
    with pytest.raises(ConventionsWrong, match="color"):
        conventions_from('[keys]\n7 = { gauge = "16", color = "RD" }\n')
