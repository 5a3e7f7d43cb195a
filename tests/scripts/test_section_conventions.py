"""Conventions told in somebody else's words become our own, whatever the style of the manual."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from digitize.legend.codes import parse_code
from digitize.legend.conventions import conventions_from
from scripts.section_conventions import as_toml, own_form

SHORT = {"BU": "blue", "RD": "red", "GN": "green", "W": "white"}
WORDS = {"BLUE": "blue", "RED": "red", "LIGHT GREEN": "light green", "WHITE": "white"}
LETTERS = {"D": "lamps", "M": "ignition"}
NUMBERS = {"14": "lamps", "31": "ignition"}

STYLES = [
    # description, example, gauges, colours, circuits, another code that must parse, its fields
    (
        ("circuit letter, circuit number, optional segment letter; space; gauge (AWG); space; colour, with / and tracer "
        "colour if any"),
        "D10A 14 BU/RD", ["14", "18"], SHORT, LETTERS, "M7 18 W", ("M", "7", None, "18", "W", None),
    ),
    (
        ("two-digit circuit group, full stop, two-digit wire number, optional segment letter; space; cross-section in "
        "square millimetres; space; colour, with - and tracer colour if any"),
        "14.05A 6.0 BU-RD", ["0.75", "6.0"], SHORT, NUMBERS, "31.22 0.75 GN", ("31", "22", None, "0.75", "GN", None),
    ),
    (
        "gauge; hyphen; colour, with / and tracer colour if any; hyphen; circuit letter, circuit number",
        "0.75-GN/W-D12", ["0.75", "1.5"], SHORT, LETTERS, "1.5-BU-M3", ("M", "3", None, "1.5", "BU", None),
    ),
    (
        "colour in words, with a hyphen and the tracer colour if any; space; gauge (SAE); space; circuit number",
        "RED-WHITE 16 203", ["10", "16"], WORDS, {}, "LIGHT GREEN 10 7", (None, "7", None, "10", "LIGHT GREEN", None),
    ),
    (
        "circuit letter, hyphen, three-digit number; space; size in mm2; space; colour followed by tracer in brackets",
        "D-101 1.5 BU(RD)", ["1.5", "2.5"], SHORT, LETTERS, "M-014 2.5 W", ("M", "014", None, "2.5", "W", None),
    ),
    (
        "the main colour and the tracer written together; then the area and the wire",
        "BURD 1,5 107", ["1,5", "4"], SHORT, {}, "GN 4 12", (None, "12", None, "4", "GN", None),
    ),
    (
        "nothing that anybody could understand",
        "M22B.18.W/BU", ["18", "20"], SHORT, LETTERS, "D1.20.RD/W", ("D", "1", None, "20", "RD", "W"),
    ),
    (
        "circuit number; slash; colour with a full stop before the tracer colour, if any",
        "44/BU.RD", [], SHORT, {}, "7/GN", (None, "7", None, None, "GN", None),
    ),
]  # fmt: skip


@pytest.mark.parametrize(("description", "example", "gauges", "colours", "circuits", "other", "fields"), STYLES)
def test_a_code_described_in_words_is_understood(
    description, example, gauges, colours, circuits, other, fields
) -> None:
    told = {
        "wire_code": {"description": description, "example": example, "gauges": gauges},
        "colours": colours,
        "circuits": circuits,
    }
    conventions = conventions_from(own_form(told))
    assert conventions.code.pattern, "no pattern was found"
    assert parse_code(example, conventions, strict=True)
    got = parse_code(other, conventions, strict=True)
    assert got is not None, f"{other} does not fit {conventions.code.pattern}"
    assert (got.circuit, got.number, got.segment, got.gauge, got.colour, got.tracer) == fields


def test_a_string_that_is_no_code_does_not_fit() -> None:
    description, example, gauges, colours, circuits, *_ = STYLES[0]
    told = {
        "wire_code": {"description": description, "example": example, "gauges": gauges},
        "colours": colours,
        "circuits": circuits,
    }
    conventions = conventions_from(own_form(told))
    for wrong in ("Q10A 14 BU/RD", "D10A 15 BU/RD", "D10A 14 XX", "WIPER MOTOR", "D10A14BU/RD"):
        assert parse_code(wrong, conventions, strict=True) is None, wrong


def test_the_other_tables_say_the_same_in_our_form() -> None:
    told = {
        "section": {"vehicle": "INVENTED VAN", "page_width_mm": 420.0, "page_height_mm": 297.0},
        "pages": [{"page": 1, "kind": "diagram", "label": "X-1"}, {"page": 2, "kind": "chart", "label": "X-2"}],
        "zones": {
            "across": "letters", "down": "numbers", "columns_per_sheet": 8, "rows": 6, "first_column": "A",
            "continues_across_sheets": True, "letters_skipped": ["I", "O"], "labels_at": ["top", "left"],
            "reference": "number then letter", "first_row": "1",
        },
        "drawing": {"crossing": "half-circle hop", "splice": "filled dot", "connector_cavity_printed": True},
        "connector_prefixes": {"K": "engine bay"},
    }  # fmt: skip
    got = conventions_from(own_form(told))
    assert got.page_size_mm == (420, 297)
    assert [p.kind for p in got.pages] == ["diagram", "chart"]
    assert (got.zones.across, got.zones.columns, got.zones.skipped, got.zones.order) == (
        "letters", 8, "IO", "number-letter",
    )  # fmt: skip
    assert (got.drawing.crossing, got.drawing.splice, got.drawing.cavities_printed) == ("hop", "dot", True)
    assert got.connectors.prefixes == {"K": "engine bay"}


def test_what_does_not_fit_our_form_is_left_out_and_said(capsys: pytest.CaptureFixture[str]) -> None:
    told = {"colours": {"RD": "red"}, "connector_prefixes": {"not a prefix at all": "roof"}}
    got = conventions_from(own_form(told))
    assert got.colours == {"RD": "red"}
    assert "left out" in capsys.readouterr().err


@settings(deadline=None, max_examples=40)
@given(
    st.dictionaries(st.text(min_size=1, max_size=8), st.text(max_size=12) | st.integers() | st.booleans(), max_size=4)
)
def test_toml_that_is_written_reads_back_the_same(stated) -> None:
    import tomllib

    clean = {k: v for k, v in stated.items() if not any(ord(c) in (0x7F, *range(0xD800, 0xE000)) for c in k + str(v))}
    assert tomllib.loads(as_toml({"table": clean})) == {"table": clean}
