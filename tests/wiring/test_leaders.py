"""Leaders from notes to parts and wires are no wires; wires that run askew, or end at a note, stay. Drawn as in ISO 128-22."""

from fixtures.small_page import Page


def circuit():
    """Two parts with a wire round two corners between them, and a wire beside it."""
    page = Page().part("module", 8, 30, 16, 50).part("module", 104, 30, 112, 50).part("lamp", 56, 56, 64, 64)
    return page.line((16, 35), (60, 35), (60, 20), (104, 20), (104, 30)).line((16, 45), (104, 45))


def wires(page):
    """Kinds of the ends of each run, sorted."""
    found = page.understood()
    return sorted(tuple(sorted(e.kind for e in run.ends)) for run in found.runs), len(found.splices)


PLAIN = [("place", "place")] * 2


def test_the_circuit_without_leaders_has_two_wires():
    assert wires(circuit()) == (PLAIN, 0)


def test_a_leader_from_a_note_to_a_part_is_no_wire():
    assert wires(circuit().line((80, 72), (64, 62)).text("FOG LAMP", 88, 73.5, "word")) == (PLAIN, 0)


def test_a_leader_from_a_note_to_a_wire_neither_joins_nor_parts_it():
    assert wires(circuit().line((80, 57), (72, 45)).text("NO 12 WIRE", 82, 59.5, "word")) == (PLAIN, 0)


def test_two_leaders_that_part_at_a_note_join_no_parts():
    page = circuit().part("lamp", 84, 56, 92, 64).text("TWO LAMPS", 74, 73.5, "word")
    assert wires(page.line((63, 63), (74, 72), (85, 63))) == (PLAIN, 0)


def test_a_line_askew_without_a_note_at_its_end_is_none():
    far = circuit().line((80, 72), (64, 62)).text("FOG LAMP", 90, 60, "word")
    assert wires(far)[0] == [("open", "place"), *PLAIN]


def test_a_wire_that_ends_at_a_note_and_is_drawn_as_the_others_are_stays():
    page = circuit().line((64, 60), (82, 60)).text("TO BATTERY", 91, 60, "word")
    assert wires(page)[0] == [("open", "place"), *PLAIN]


def test_where_wires_run_askew_nothing_tells_a_leader():
    page = Page().part("module", 8, 30, 16, 50).part("module", 104, 30, 112, 50).part("lamp", 56, 56, 64, 64)
    page.line((16, 35), (60, 15), (104, 35)).line((16, 45), (60, 33), (104, 45))
    page.line((80, 72), (64, 62)).text("FOG LAMP", 88, 73.5, "word")
    assert ("open", "place") in wires(page)[0]
