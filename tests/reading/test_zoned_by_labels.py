"""A sheet without a drawn border gets its zones from the labels in its margins, and only from those."""

from digitize.reading.zoned import zoned
from digitize.sheet.state import SheetHints
from fixtures.read_pages import read


def margins(across="1 2 3 4 5 6 7 8"):
    top = [(t, 40 + 48 * k, 11) for k, t in enumerate(across.split())]
    return [*top, *((t, 8, 39 + 44 * k) for k, t in enumerate("ABCDEF"))]


def test_labels_along_two_sides_give_a_borderless_sheet_its_grid_and_its_frame():
    page = zoned(read([*margins(), ("HORN RELAY", 100, 100)], "diagram"), SheetHints())
    facts = page.marks.sheet.facts
    assert not facts.zones.nominal
    assert facts.zones.zone_at((100.0, 100.0))[0] == "B2"
    assert facts.frame is not None
    assert abs(facts.frame.x0 - 17) < 2
    assert 0.5 < facts.frame_probability < 1.0


def test_without_such_labels_nothing_is_made_up():
    page = read([*margins("1 2 3 4 5 6 7 8")[:8], ("HORN RELAY", 100, 100)], "diagram")
    assert zoned(page, SheetHints()) is page
