from __future__ import annotations

import pytest

from digitize.errors import ConventionsWrong
from digitize.legend.axes import ISO_5457_SKIPPED, letters_from, numbers_from
from digitize.legend.conventions import Conventions, conventions_from, load_conventions

WHOLE = """
vehicle = "FERNWAY 12 VAN"
rights = "own copy"
page_size_mm = [420, 297]

[code]
pattern = "{circuit}{number}{segment?} {gauge} {colour}{/tracer?}"
example = "S4C 16 RED/BLU"

[circuits]
S = "side lamps"

[colours]
RED = "red"
BLU = "blue"

[gauges]
system = "awg"
sizes = [10, "16"]

[connectors.prefixes]
K = "engine bay"

[zones]
across = "numbers"
down = "letters"
columns = 7
rows = 8
continues = true

[[pages]]
page = 1
kind = "diagram"

[[pages]]
page = 2
kind = "diagram"
"""


def test_nothing_stated_is_allowed():
    assert conventions_from("") == Conventions()


def test_a_whole_file_is_read_and_sizes_may_be_numbers(tmp_path):
    path = tmp_path / "manual.toml"
    path.write_text(WHOLE, encoding="utf-8")
    c = load_conventions(path)
    assert c.gauges.sizes == ("10", "16")
    assert c.code.pattern == ("{circuit}{number}{segment?} {gauge} {colour}{/tracer?}",)
    labels = c.zone_labels()
    assert labels is not None
    assert labels[0] == tuple(str(n) for n in range(1, 15))
    assert labels[1] == tuple("ABCDEFGH")
    assert c.kind_of_page(2) == "diagram"
    assert c.kind_of_page(3) is None


def test_all_faults_are_told_at_once_with_line_and_key():
    text = "\n".join(  # noqa: FLY002  (one line of TOML a line, so that the numbers below can be counted)
        [
            'vehicle = "FERNWAY 12 VAN"',
            'colour = "red"',
            "[code]",
            'pattern = "{circuit}{circuit} {shade} {gauge"',
            "[gauges]",
            'system = "swg"',
            "[zones]",
            'across = "letters"',
            'down = "letters"',
            "[[pages]]",
            "page = 1",
            'kind = "diagram"',
            "[[pages]]",
            "page = 0",
            'kind = "map"',
        ]
    )
    with pytest.raises(ConventionsWrong) as wrong:
        conventions_from(text, "manual.toml")
    told = str(wrong.value)
    assert told.startswith("manual.toml: ")
    assert wrong.value.exit_code == 5
    for needed in (
        "line 2, colour: no such key here; known: circuits",
        "line 4, [code] pattern: column 10: the field circuit stands twice",
        "a '{' without its '}'",
        "line 6, [gauges] system",
        "line 7, zones: ",
        "across and down cannot both be letters",
        "line 14, [pages.1] page",
        "line 15, [pages.1] kind",
    ):
        assert needed in told, needed


def test_text_that_is_no_toml_says_so_with_its_line():
    with pytest.raises(ConventionsWrong, match="line 2"):
        conventions_from('vehicle = "A"\nrights =\n')


def test_a_missing_file_says_what_to_do(tmp_path):
    with pytest.raises(ConventionsWrong, match="Name an existing"):
        load_conventions(tmp_path / "none.toml")


def test_an_example_that_does_not_fit_names_what_is_missing():
    with pytest.raises(ConventionsWrong, match="colour PNK is not in the tables"):
        conventions_from(WHOLE.replace("S4C 16 RED/BLU", "S4C 16 PNK/BLU"))
    with pytest.raises(ConventionsWrong, match=r"line 8.*does not fit the pattern"):
        conventions_from(WHOLE.replace("S4C 16 RED/BLU", "16-RED"))


def test_an_unknown_field_needs_to_say_what_it_is_made_of():
    with pytest.raises(ConventionsWrong, match="say what it is made of"):
        conventions_from('[code]\npattern = "{number}{phase?}"')
    conventions_from('[code]\npattern = "{number}{phase:A|B|C?}"')


def test_the_same_page_twice_is_a_fault():
    with pytest.raises(ConventionsWrong, match="page 1 is listed more than once"):
        conventions_from(WHOLE.replace("page = 2", "page = 1"))


# ISO 5457:1999, Table 2 and 4.4: field counts of A3 and A0, letters without I and O, AA after Z.
@pytest.mark.parametrize(
    ("count", "last"),
    [(4, "D"), (6, "F"), (8, "H"), (12, "M"), (16, "R"), (24, "Z"), (25, "AA"), (26, "AB")],
)
def test_iso_5457_letters_skip_i_and_o_and_go_on_with_aa(count, last):
    labels = letters_from("A", count, ISO_5457_SKIPPED)
    assert len(labels) == count
    assert labels[-1] == last
    assert not {"I", "O"} & set(labels)


def test_labels_start_where_the_page_starts():
    assert letters_from("J", 3, ISO_5457_SKIPPED) == ("J", "K", "L")
    assert letters_from("H", 2, ISO_5457_SKIPPED) == ("H", "J")
    assert numbers_from("15", 3) == ("15", "16", "17")
    with pytest.raises(ValueError, match="no letter label"):
        letters_from("I", 3, ISO_5457_SKIPPED)
    with pytest.raises(ValueError, match="no number label"):
        numbers_from("B", 3)
