"""Choosing among kinds."""

from __future__ import annotations

from digitize.reading.decode import Found
from digitize.reading.lexicon import with_letters, with_spaces
from digitize.reading.weigh import weighed


def test_a_reading_that_obeys_a_grammar_is_lifted() -> None:
    verdict = weighed([Found("I5", 0.6), Found("15", 0.35)], {"number": [Found("15", 0.35)]})
    assert (verdict.text, verdict.kind, verdict.fits) == ("15", "number", True)


def test_a_clear_reading_outside_every_grammar_stays() -> None:
    verdict = weighed([Found("HORN", 0.97)], {"connector": [Found("H0", 1e-6)], "number": []})
    assert (verdict.text, verdict.kind, verdict.fits) == ("HORN", "word", False)


def test_a_sure_letter_is_not_turned_into_the_digit_of_its_shape() -> None:
    assert weighed([Found("B", 0.95), Found("8", 0.05)], {"number": [Found("8", 0.05)]}, agree=["8"]).text == "B"


def test_a_second_reader_tips_an_even_balance() -> None:
    free = [Found("TROL", 0.4), Found("TRDL", 0.45)]
    assert weighed(free, {}).text == "TRDL"
    assert weighed(free, {}, agree=["TROL"]).text == "TROL"


def test_plain_words_and_unmixed_tokens_are_likelier() -> None:
    assert weighed([Found("UNK", 0.5), Found("LINK", 0.4)], {}).text == "LINK"
    assert weighed([Found("M0TOX", 0.5), Found("MOTOX", 0.45)], {}).text == "MOTOX"
    assert weighed([Found("T3O", 0.5), Found("T30", 0.45)], {}).text == "T30"
    assert weighed([Found("UNK", 0.9), Found("LINK", 0.05)], {}).text == "UNK"  # a clear reading stands


def test_the_most_telling_grammar_names_the_kind() -> None:
    both = {"connector": [Found("C1", 0.9)], "zone": [Found("C1", 0.9)]}
    assert weighed([Found("C1", 0.9)], both).kind == "connector"


def test_mass_no_candidate_holds_counts_against_all() -> None:
    assert weighed([Found("AB", 0.2)], {}).share < 0.21


def test_nothing_read_is_said() -> None:
    verdict = weighed([], {})
    assert verdict.text == ""
    assert verdict.share == 0.0


def test_spaces_hidden_by_tight_setting_are_given_back() -> None:
    assert with_spaces("BODY, SHEET 1 OF3") == "BODY, SHEET 1 OF 3"
    assert with_spaces("BODY, SHEET 1 0F 3") == "BODY, SHEET 1 OF 3"
    assert with_spaces("VAN -LEGEND") == "VAN - LEGEND"
    for whole in ("PRE-HEAT", "K-JET", "C12-18", "OF3", "A -B"):
        assert with_spaces(whole) == whole


def test_the_keys_of_a_manual_are_read_as_it_prints_them() -> None:
    free = (Found("0R", 0.55), Found("OR", 0.44))
    number = (Found("0R", 0.55),)
    assert weighed(free, {"number": number}).text == "0R"
    assert weighed(free, {"number": number, "word": (Found("or", 0.44),)}).text == "or"


def test_figures_among_the_letters_of_a_word_are_letters() -> None:
    assert with_letters("PIL0T LAMP") == "PILOT LAMP"
    assert with_letters("RADI0 W1PER") == "RADIO WIPER"
    assert with_letters("T0 HEATER LAMPS") == "TO HEATER LAMPS"
    assert with_letters("VAN T3O, SHEET 1") == "VAN T30, SHEET 1"
    for own in ("A10", "C101", "T0", "K10B", "AB0", "S12A 18 RED", "X1Y", "H0L", "RED0BLK10", "M10", "B1A", "3O"):
        assert with_letters(own) == own


def test_a_word_gathers_the_belief_of_its_spellings() -> None:
    verdict = weighed((Found("PIL0T LAMP", 0.5), Found("PILOT LAMP", 0.45)), {})
    assert verdict.text == "PILOT LAMP"
    assert verdict.share > 0.9


def test_where_nobody_says_how_codes_are_made_a_clear_name_is_no_code() -> None:
    free, codes = [Found("TO HEATER", 0.94), Found("T0 HEATER", 0.05)], {"code": [Found("T0 HEAT.ER", 1e-3)]}
    assert weighed(free, codes).kind == "code"
    verdict = weighed(free, codes, loose=True)
    assert (verdict.text, verdict.kind) == ("TO HEATER", "word")
    assert verdict.share > 0.9
    seen, code = [Found("B7 I8 BLK", 0.6), Found("B7 18 BLK", 0.35)], {"code": [Found("B7 18 BLK", 0.35)]}
    assert weighed(seen, code, loose=True).text == "B7 18 BLK"
