"""Legend pages, and the conventions proposed from them."""

from digitize.tables.proposal import propose_conventions
from digitize.tables.read import read_table
from fixtures.read_pages import legend, read


def test_each_section_gives_its_keys_and_meanings():
    texts, rules = legend()
    table = read_table(read(texts, "legend", rules))
    found = {(line.section, line.key.value, line.meaning.value) for line in table.legend}
    assert found == {
        ("circuit", "S", "SIDE LAMPS"), ("circuit", "P", "POWER SUPPLY"), ("colour", "BLK", "BLACK"),
        ("colour", "RED", "RED"), ("colour", "BLU", "BLUE"), ("connector", "K", "ENGINE BAY"),
    }  # fmt: skip


def test_captions_of_symbols_have_no_key():
    texts, rules = legend()
    texts.append(("SYMBOLS", 320, 30, 2.6))
    rules.append((320, 34, 400, 34))
    texts += [("LAMP", 345, 40), ("M", 328, 50), ("MOTOR", 345, 50)]
    table = read_table(read(texts, "legend", rules))
    assert [(s.key.value, s.meaning.value) for s in table.legend if s.section == "symbol"] == [
        (None, "LAMP"),
        (None, "MOTOR"),
    ]


def test_key_and_meaning_in_one_text_are_parted():
    texts = [
        ("COLOUR CODE", 20, 30, 2.8),
        ("BLK = BLACK", 20, 36),
        ("GRN = GREEN", 20, 41),
        ("LGN - LIGHT GREEN", 20, 46),
    ]
    table = read_table(read(texts, "legend", [(20, 34, 90, 34)]))
    assert [(s.key.value, s.meaning.value) for s in table.legend] == [
        ("BLK", "BLACK"), ("GRN", "GREEN"), ("LGN", "LIGHT GREEN"),
    ]  # fmt: skip


def test_signs_that_stand_alone_part_key_and_meaning():
    texts = [("COLOUR CODE", 20, 30, 2.8)]
    for k, (key, meaning) in enumerate((("B", "BLACK"), ("G", "GREEN"), ("R", "RED"))):
        texts += [(key, 20, 36 + 5 * k), ("=", 26, 36 + 5 * k), (meaning, 30, 36 + 5 * k)]
    table = read_table(read(texts, "legend", [(20, 34, 90, 34)]))
    assert [(s.key.value, s.meaning.value) for s in table.legend] == [("B", "BLACK"), ("G", "GREEN"), ("R", "RED")]


def columns(*lines: tuple[str, str]):
    texts = [("COLOURS", 20, 30, 2.8)]
    for k, (first, second) in enumerate(lines):
        texts += [(first, 20, 36 + 5 * k), (second, 60, 36 + 5 * k)]
    table = read_table(read(texts, "legend", [(20, 34, 90, 34)]))
    return [(s.key.value, s.meaning.value) for s in table.legend]


def test_keys_that_stand_behind_their_meanings_are_keys():
    behind = (("BLACK", "0"), ("RED", "2"), ("LIGHT GREEN", "5"), ("WHITE", "9"))
    assert columns(*behind) == [(key, meaning) for meaning, key in behind]
    assert columns(("BLK", "BLACK"), ("RED", "RED"), ("TAN", "TAN"), ("BLUE", "BLU"))[-1] == ("BLUE", "BLU"), (
        "one odd line"
    )
    full = (("BLACK", "BLACK"), ("RED", "RED"), ("WHITE", "WHITE"))
    assert columns(*full) == list(full), "colours that codes print in full"


def test_colours_in_figures_are_proposed():
    texts = [("COLOURS", 20, 30, 2.8)]
    for k, (first, second) in enumerate((("BLACK", "0"), ("RED", "2"), ("WHITE", "9"))):
        texts += [(first, 20, 36 + 5 * k), (second, 60, 36 + 5 * k)]
    proposal = propose_conventions([read_table(read(texts, "legend", [(20, 34, 90, 34)]))])
    assert [(p.key, p.meaning) for p in proposal.colours] == [("0", "BLACK"), ("2", "RED"), ("9", "WHITE")]


def test_the_proposal_names_its_evidence():
    texts, rules = legend()
    proposal = propose_conventions([read_table(read(texts, "legend", rules))])
    assert [(p.key, p.meaning) for p in proposal.colours] == [("BLK", "BLACK"), ("RED", "RED"), ("BLU", "BLUE")]
    assert [p.key for p in proposal.connectors] == ["K"]
    assert all(p.evidence and 0 < p.probability <= 1 for p in proposal.circuits)


def test_a_key_said_on_two_pages_is_proposed_once_with_both_evidences():
    texts, rules = legend()
    table = read_table(read(texts, "legend", rules))
    once, twice = propose_conventions([table]), propose_conventions([table, table])
    assert len(twice.colours) == len(once.colours)
    assert len(twice.colours[0].evidence) == 2 * len(once.colours[0].evidence)


def test_a_misread_key_is_proposed_in_the_shape_of_its_section():
    texts, rules = legend()
    texts = [("0RG", 120, 38, 2.2, 0.5, (("ORG", 0.45),)) if t[0] == "BLK" else t for t in texts]
    proposal = propose_conventions([read_table(read(texts, "legend", rules))])
    assert proposal.colours[0].key == "ORG"


def test_colours_that_codes_print_in_full_are_proposed_whole():
    texts = [("COLOURS", 20, 30, 2.8)]
    texts += [
        (text, x, 36 + 5 * k)
        for k, c in enumerate(("BLACK", "ORANGE", "YELLOW", "TURQUOISE"))
        for text, x in ((c, 20), (c, 50))
    ]
    proposal = propose_conventions([read_table(read(texts, "legend", [(20, 34, 90, 34)]))])
    assert [c.key for c in proposal.colours] == ["BLACK", "ORANGE", "YELLOW", "TURQUOISE"]


def colour_list(heights):
    """A list of colours with the height (mm) of each key; meanings are 2.2 mm high."""
    texts = [("COLOURS", 20, 30, 2.8)]
    for k, ((key, high), meaning) in enumerate(zip(heights, ("BLACK", "WHITE", "PINK", "YELLOW", "BLUE"), strict=True)):
        y = 36 + 5 * k
        texts += [(key, 20, y + 2.2 - high, high), (meaning, 50, y)]
    return propose_conventions([read_table(read(texts, "legend", [(20, 34, 90, 34)]))])


def test_abbreviations_in_small_letters_are_known_by_their_height():
    """Readers name small letters as capitals; those without ascenders are three quarters as high (sw, ws, rs)."""
    assert colour_list([("SW", 1.65), ("WS", 1.6), ("RS", 1.65), ("GE", 2.2), ("BL", 2.3)]).small_colours
    assert not colour_list([("SW", 2.2), ("WS", 2.1), ("RS", 2.2), ("GE", 2.2), ("BL", 2.2)]).small_colours
    # one low string is a worn one
    assert not colour_list([("SW", 1.6), ("WS", 2.1), ("RS", 2.2), ("GE", 2.2), ("BL", 2.2)]).small_colours
