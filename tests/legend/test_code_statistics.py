"""How codes are written is found from print alone. All manuals here are invented."""

import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from digitize.legend.code_statistics import code_ways
from digitize.legend.conventions import Conventions, conventions_from
from digitize.legend.conventions_text import conventions_text

NAMES = [
    "LEFT TAIL LAMP",
    "HEATER MOTOR",
    "IGNITION SWITCH",
    "FUSE BLOCK",
    "C101",
    "K12",
    "G3",
    "A7",
    "12",
    "ON",
    "OFF",
    "15A",
]
COLOURS = ("RD", "BU", "GN", "YE", "BK", "WH")


def manual(write, count=60, seed=1):
    """Invented print: names, ids and ``count`` codes, each seen at two or three places."""
    chance = random.Random(seed)
    codes = []
    for _ in range(count):
        fields = {
            "circuit": chance.choice("LHSP"), "system": chance.choice(("12", "31", "58")), "number": chance.randint(1, 40),
            "segment": chance.choice(("", "", "A", "B", "C")), "size": chance.choice(("0.75", "1.5", "2.5")),
            "gauge": chance.choice(("18", "16", "14")), "main": chance.choice(COLOURS), "tracer": chance.choice(COLOURS),
        }  # fmt: skip
        codes += [write(fields)] * chance.randint(1, 3)
    return [*NAMES, *NAMES, *codes]


WAYS = {
    "{circuit}{number}{segment?} {gauge} {colour}{/tracer?}": lambda f: (
        f"{f['circuit']}{f['number']}{f['segment']} {f['gauge']} {f['main']}"
        + (f"/{f['tracer']}" if f["segment"] else "")
    ),
    "{circuit}.{number}{segment?} {gauge} {colour}{-tracer?}": lambda f: (
        f"{f['system']}.{f['number']:02}{f['segment']} {f['size']} {f['main']}"
        + (f"-{f['tracer']}" if f["segment"] else "")
    ),
    "{gauge} {colour}{/tracer?} {circuit}{number}{segment?}": lambda f: (
        f"{f['size']} {f['main']}/{f['tracer']} {f['circuit']}{f['number']}{f['segment']}"
    ),
    "{number}{segment?}-{gauge}-{colour}{/tracer?}": lambda f: (
        f"{f['number'] + 100}{f['segment']}-{f['gauge']}-{f['main']}" + (f"/{f['tracer']}" if f["segment"] else "")
    ),
    "{gauge} {colour}{/tracer?}": lambda f: f"{f['size']} {f['main']}" + (f"/{f['tracer']}" if f["segment"] else ""),
    "{gauge}{colour}{/tracer?} {circuit}{number}{segment?}": lambda f: (
        f"{f['size']}{f['main']}/{f['tracer']} {f['circuit']}{f['number']}{f['segment']}"
    ),
    "{circuit}{number}{segment?}-{gauge}{colour}{-tracer?}": lambda f: (
        f"{f['circuit']}{f['number']}{f['segment']}-{f['gauge']}{f['main']}"
        + (f"-{f['tracer']}" if f["segment"] else "")
    ),
    "{colour}{tracer?} {gauge} {circuit}-{number}{segment?}": lambda f: (
        f"{f['main']}{f['tracer'] if f['segment'] else ''} {f['size']} {f['system']}-{f['number']}{f['segment']}"
    ),
    "{circuit}{number}{segment?}:{colour}{tracer?}:{gauge}": lambda f: (
        f"{f['circuit']}{f['number']}{f['segment']}:{f['main']}{f['tracer'] if f['segment'] else ''}:{f['size']}"
    ),
    "{circuit}{number}{segment?}-{gauge} {colour}{+tracer?}": lambda f: (
        f"{f['circuit']}{f['number']}{f['segment']}-{f['size']} {f['main']}"
        + (f"+{f['tracer']}" if f["segment"] else "")
    ),
    "{gauge} {circuit}/{number}{segment?}.{colour}{-tracer?}": lambda f: (
        f"{f['size']} {f['system']}/{f['number']}{f['segment']}.{f['main']}"
        + (f"-{f['tracer']}" if f["segment"] else "")
    ),
    "{colour}{-tracer?}-{gauge}-{circuit}{number}{segment?}": lambda f: (
        f"{f['main']}" + (f"-{f['tracer']}" if f["segment"] else "") + f"-{f['size']}-{f['circuit']}{f['number']}"
    ),
}


FIGURES = {"RD": "2", "BU": "6", "GN": "5", "YE": "4", "BK": "0", "WH": "9"}


def test_colours_in_figures_are_found_where_a_legend_lists_them():
    def write(f):
        tracer = FIGURES[f["tracer"]] if f["segment"] else ""
        return f"{f['circuit']}{f['number']}{f['segment']}:{FIGURES[f['main']]}{tracer}:{f['size']}"

    (way,) = code_ways(manual(write), FIGURES.values())
    assert way.pattern == "{circuit}{number}{segment?}:{colour}{tracer?}:{gauge}"
    assert set(way.values("colour")) == set(FIGURES.values()), (
        "a tracer right behind the colour is no second figure of it"
    )
    assert not any("{colour}" in w.pattern and w.saved_bits > 500 for w in code_ways(manual(write))), (
        "unlisted: no colours"
    )


def test_a_tracer_right_behind_its_colour_is_parted_as_the_legend_lists_them():
    """Keys of one, two and three letters: ``ROW`` is not ``RO`` and ``W`` where the legend has ``R`` and ``OW``."""
    keys = ("R", "OW", "BLK", "GN")
    codes = [f"{c}{n} 16 {a}{b}" for n, (c, a) in enumerate((c, a) for c in "AHL" for a in keys) for b in ("", *keys)]
    (way,) = code_ways(codes * 2, keys)
    assert way.pattern == "{circuit}{number}{segment?} {gauge} {colour}{tracer?}"
    assert set(way.values("colour")) == set(keys)


@pytest.mark.parametrize("pattern", WAYS)
def test_the_way_codes_are_written_is_found_among_names_and_ids(pattern):
    (way,) = code_ways(manual(WAYS[pattern]))
    assert way.pattern == pattern
    assert set(way.values("colour")) == set(COLOURS)
    assert set(way.values("gauge")) <= {"0.75", "1.5", "2.5", "18", "16", "14"}


def test_colours_printed_in_full_are_found_with_their_tracers():
    full = {"RD": "RED", "BU": "BLUE", "GN": "GREEN", "YE": "YELLOW", "BK": "BLACK", "WH": "WHITE"}
    codes = manual(
        lambda f: f"{f['circuit']}{f['number']} {full[f['main']]}" + (f"/{full[f['tracer']]}" if f["segment"] else "")
    )
    (way,) = code_ways(codes)
    assert way.pattern == "{circuit}{number}{segment?} {colour}{/tracer?}"
    assert set(way.values("colour")) == set(full.values())


def test_the_slot_with_few_values_is_the_size_when_both_are_figures():
    (way,) = code_ways(manual(WAYS["{number}{segment?}-{gauge}-{colour}{/tracer?}"]))
    assert set(way.values("gauge")) == {"18", "16", "14"}
    assert way.lengths("number") == (3, 3)


def test_names_ids_and_ratings_alone_are_no_codes():
    assert code_ways(NAMES * 5) == ()


def test_two_ways_in_one_manual_are_both_found():
    both = [
        *manual(WAYS["{gauge} {colour}{/tracer?}"], 80),
        *manual(WAYS["{number}{segment?}-{gauge}-{colour}{/tracer?}"], 80, 2),
    ]
    assert {w.pattern for w in code_ways(both)} == {
        "{gauge} {colour}{/tracer?}", "{number}{segment?}-{gauge}-{colour}{/tracer?}",
    }  # fmt: skip


def test_marks_after_the_navy_and_aircraft_manner_are_found():
    # NEETS module 4 (NAVEDTRA 14176), wire identification: P215A4N is circuit P, wire 215, segment A, size 4, N to ground
    chance = random.Random(4)
    codes = [
        f"{chance.choice('PLRX')}{chance.randint(100, 299)}{chance.choice('ABC')}{chance.choice((4, 12, 20))}"
        for _ in range(60)
    ]
    (way,) = code_ways([*NAMES, *codes, "P215A4N", "P216A4N"])
    assert way.pattern == "{circuit}{number}{segment}{gauge}{phase:N|A|B|C|V?}"
    assert dict(dict(way.seen)["P215A4N"])["gauge"] == "4"


@settings(deadline=None, max_examples=25)
@given(st.lists(st.text(st.characters(min_codepoint=32, max_codepoint=90), max_size=14), max_size=60))
def test_any_print_is_taken_and_every_way_fits_its_own_strings(strings):
    for way in code_ways(strings):
        assert way.saved_bits > 0
        assert {s for s, _ in way.seen} <= {s.strip() for s in strings}


def test_conventions_are_written_as_the_file_they_were_read_from():
    stated = conventions_from(
        'vehicle = "FERNWAY \\"12\\" VAN"\n[code]\npattern = ["{gauge} {colour}", "{number}"]\nnumber_digits = [1, 2]\n'
        '[colours]\nRD = "red"\n"R/B" = "red with blue"\n[connectors.prefixes]\nK = "engine bay"\n'
        '[zones]\nacross = "numbers"\ncontinues = false\n[[pages]]\npage = 4\nkind = "chart"\n'
    )
    text = conventions_text(stated, {"colours.RD": "stands\n7 times", "code": "of the legend", "colours.R/B": "once"})
    assert conventions_from(text) == stated
    assert 'RD = "red"  # stands 7 times' in text
    assert '"R/B" = "red with blue"  # once' in text
    assert "[code]\n# of the legend\n" in text
    assert conventions_text(Conventions()) == "\n"


def test_codes_of_colours_alone_are_found_where_a_legend_lists_them() -> None:
    # BS-AU7 letters: the tracer stands straight after the main colour; LG is one colour
    colours = ["N", "U", "R", "P", "G", "W", "B", "LG"]
    codes = [
        "NU",
        "NU",
        "WG",
        "GLG",
        "GLG",
        "UW",
        "UR",
        "UR",
        "RB",
        "LG",
        "LG",
        "WB",
        "WB",
        "GP",
        "GP",
        "PN",
        "PN",
        "N",
        "N",
    ] * 2
    (way,) = code_ways([*NAMES, *codes, "N", "U"], colours)
    assert way.pattern == "{colour}{tracer?}"
    assert dict(dict(way.seen)["GLG"]) == {"colour": "G", "tracer": "LG"}
    assert code_ways([*NAMES, *codes]) == (), "without a legend any two letters could be one"


def test_a_legend_alone_makes_no_codes_of_its_colours() -> None:
    assert code_ways([*NAMES, "RED", "BLU", "GRN", "BLK"], ["RED", "BLU", "GRN", "BLK"]) == ()
