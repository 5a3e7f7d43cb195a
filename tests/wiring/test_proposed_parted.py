"""Sizes and colours written together are cut where the manual's own tables say."""

from digitize.legend.code_statistics import code_ways
from digitize.wiring.proposed_parted import parted_right

CODES = [f"{c}{n}-{size}{colour}" for c in "AHL" for n in range(1, 9) for size, colour in (("18", "BK"), ("14", "WT"))]


def ways(more, listed):
    return parted_right(code_ways([*CODES, *CODES, *more], listed), listed)


def test_a_letter_o_read_as_nought_goes_back_to_its_colour():
    (way,) = ways(["H9-180R", "H9-180R", "L9-140R", "A9-18OR"], ["BK", "WT", "OR"])
    assert set(way.values("gauge")) == {"18", "14"}
    assert set(way.values("colour")) == {"BK", "WT", "OR"}
    assert [s for s, _ in way.seen].count("H9-18OR") == 2


def test_a_size_that_ends_in_a_nought_stays_where_no_colour_asks_for_it():
    (way,) = ways(["H9-180RD", "L9-10BK", "A9-10BK"], ["BK", "WT", "RD"])
    assert {"180", "10"} <= set(way.values("gauge"))
    (own,) = ways(["H9-180R", "H9-180R"], ["BK", "WT", "OR", "R"])  # R is a colour of the legend itself
    assert "180" in own.values("gauge")


def test_ways_with_a_sign_between_size_and_colour_are_left_alone():
    spaced = [
        f"{c}{n} {size} {colour}" for c in "AHL" for n in range(1, 9) for size, colour in (("180", "R"), ("18", "OR"))
    ]
    found = code_ways(spaced, ["OR"])
    assert parted_right(found, ["OR"]) == found
