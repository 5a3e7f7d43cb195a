"""A wire goes through a flag that holds its code; a box that holds anything else is a part."""

from __future__ import annotations

from fixtures.small_page import Page, codes, ends


def flagged(text: str, kind: str = "code", *, upright: bool = False) -> Page:
    """A lamp and a motor with a wire between them that an outline round ``text`` interrupts."""
    page = Page()
    half = 1.5 * len(text) / 2 + 0.6
    if upright:
        page.part("lamp", 56, 10, 64, 16).part("motor", 56, 64, 64, 70)
        page.text("LEFT", 70, 13, "word").text("RIGHT", 70, 67, "word")
        page.line((60, 16), (60, 40 - half)).line((60, 40 + half), (60, 64))
        page.line((58.4, 40 - half), (61.6, 40 - half), (61.6, 40 + half), (58.4, 40 + half), (58.4, 40 - half))
        return page.text(text, 60, 40, kind, angle=90)
    page.part("lamp", 10, 37, 18, 43).part("motor", 100, 37, 108, 43)
    page.text("LEFT", 14, 35, "word").text("RIGHT", 104, 35, "word")
    page.line((18, 40), (60 - half, 40)).line((60 + half, 40), (100, 40))
    page.line((60 - half, 38.4), (60 + half, 38.4), (60 + half, 41.6), (60 - half, 41.6), (60 - half, 38.4))
    return page.text(text, 60, 40, kind)


def test_a_wire_goes_through_the_flag_that_holds_its_code():
    for upright in (False, True):
        wiring = flagged("A1 18 RD/GN", upright=upright).understood()
        assert ends(wiring) == [("LEFT", "RIGHT")]
        assert codes(wiring) == [["A1 18 RD/GN"]]
        assert {p.kind for p in wiring.places} == {"lamp", "motor"}


def test_a_box_with_a_name_in_it_stays_a_part_at_which_both_wires_end():
    wiring = flagged("WIPER DELAY", "word").understood()
    assert ends(wiring) == [("LEFT", "WIPER DELAY"), ("RIGHT", "WIPER DELAY")]


def test_a_box_with_the_id_of_a_connector_in_it_is_that_connector():
    wiring = flagged("C101", "connector").understood()
    assert sorted(p.kind for p in wiring.places) == ["connector", "lamp", "motor"]


def test_what_was_taken_for_a_part_and_holds_nothing_but_a_code_is_a_flag():
    page = flagged("A1 18 RD")
    page.part("connector", 52.8, 38, 67.2, 42)
    wiring = page.understood()
    assert ends(wiring) == [("LEFT", "RIGHT")]
    assert codes(wiring) == [["A1 18 RD"]]
