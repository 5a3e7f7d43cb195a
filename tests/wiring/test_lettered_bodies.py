"""Bodies told by the lettering in them: connectors with a cell for every wire, grounds in rings, what stays as it is."""

import pytest

from fixtures.small_page import Page, ends


def passed(kind="switch", name="K12", rows=((20, "4", "4"),), wires=True):
    """A body on two wires with an id at its top and, level with each wire, what stands at its two sides."""
    page = Page().part("module", 8, 10, 16, 50).part("lamp", 100, 10, 108, 50)
    high = rows[-1][0] + 2.5
    page.part(kind, 54, 12, 66, high).text(name, 60, 14.5, "connector")
    for y, left, right in rows:
        page.line((16, y), (54, y))
        if wires:
            page.line((66, y), (100, y))
        for word, x in ((left, 57), (right, 63)):
            if word:
                page.text(word, x, y, "number")
    return page


def kinds(page):
    return [p.kind for p in page.understood().places if p.kind not in {"module", "lamp"}]


@pytest.mark.parametrize("kind", ["switch", "relay", "unknown", "starter_solenoid"])
def test_a_body_with_an_id_and_the_cavity_of_every_wire_in_a_cell_is_a_connector(kind):
    wiring = passed(kind, rows=((20, "4", "4"), (24, "5", "5"))).understood()
    (plug,) = [p for p in wiring.places if p.kind == "connector"]
    assert plug.label.value == "K12"
    assert [t.id for t in plug.terminals] == ["a1", "b1", "a2", "b2"]


def test_one_cavity_between_both_wires_does_as_well():
    assert kinds(passed(rows=((20, "", "4"), (24, "5", "")))) == ["connector"]


@pytest.mark.parametrize(
    "page",
    [
        passed("relay", rows=((20, "85", "86"), (24, "30", "87"))),  # other names at its two sides
        passed("switch", wires=False),  # wires at one side only
        passed("switch", rows=((20, "OPEN", ""),)),  # a word is no cavity
        passed("fuse"),
    ],
    ids=["two names", "one side", "word", "fuse"],
)
def test_other_bodies_with_an_id_and_short_names_stay_what_they_are(page):
    assert "connector" not in kinds(page)


def ringed(*names, ends_at=1):
    """Small outlines that hold an id and nothing else, each at the end of a line from a module, or of two."""
    page = Page().part("module", 8, 8, 16, 70)
    for k, name in enumerate(names):
        y = 12 + 12 * k
        page.line((16, y), (60, y)).part("sensor", 60, y - 2.2, 64.4, y + 2.2).text(name, 62.2, y, "connector")
        if ends_at == 2:
            page.line((64.4, y), (104, y))
    return page


def test_outlines_with_nothing_but_a_name_at_the_end_of_a_wire_are_grounds():
    wiring = ringed("E1", "E12").understood()
    assert [(p.kind, p.label.value) for p in wiring.places if p.kind != "module"] == [
        ("ground", "E1"),
        ("ground", "E12"),
    ]
    assert len(ends(wiring)) == 2


def test_one_alone_or_one_that_a_wire_passes_is_no_ground():
    assert "ground" not in kinds(ringed("E1"))
    assert "ground" not in kinds(ringed("E1", "E12", ends_at=2))


def test_a_habit_of_grounds_counts_more_than_one_at_which_another_line_happens_to_end():
    names = ("E1", "E12", "E3", "E4", "E5")
    page = ringed(*names).line((64.4, 12), (80, 12), (80, 20))
    assert kinds(page) == ["ground"] * len(names)


def stubbed(right="2", code="A1 18 RD", beside=68.0):
    """A connector of cells whose right wire is interrupted by its code right there: of it no line is left."""
    page = Page().part("module", 8, 10, 16, 50)
    page.part("switch", 54, 12, 66, 22.5).text("K12", 60, 14.5, "connector")
    page.line((16, 20), (54, 20)).text("2", 57, 20, "number").text(right, 63, 20, "number")
    return page.text(code, beside + 0.75 * len(code), 20) if code else page


def test_cells_that_say_the_same_on_both_sides_are_a_connector_where_a_code_begins_right_beside_one():
    assert kinds(stubbed()) == ["connector"]


@pytest.mark.parametrize(
    "page", [stubbed(right="3"), stubbed(code=""), stubbed(beside=75.0)], ids=["other names", "no code", "code far off"]
)
def test_without_a_code_there_or_with_other_names_it_stays_what_it_is(page):
    assert kinds(page) == ["switch"]


def test_a_line_that_ends_off_a_corner_does_not_end_at_a_body():
    page = passed(rows=((20, "", "4"), (24, "5", ""))).line((67, 11), (90, 11))
    assert kinds(page) == ["connector"]
