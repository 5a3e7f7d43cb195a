"""The index settles on which side of a zone's border a part is meant to stand, and nothing farther off."""

import pytest

from digitize.harness.claim import Claim
from digitize.harness.model import Component
from digitize.harness.place import Box
from digitize.sheet.mapping import SheetMapping
from digitize.sheet.state import SheetFacts
from digitize.sheet.zones import Band, ZoneGrid
from digitize.wiring.binding_names import place_on
from digitize.wiring.evidence_index import Settled

GRID = ZoneGrid((Band("1", 0, 60), Band("2", 60, 120)), (Band("A", 0, 40), Band("B", 40, 80)), nominal=False)
FACTS = SheetFacts(
    "p1", 120, 80, 1440, 960, 304.8, True, SheetMapping(((12, 0, 0), (0, 12, 0), (0, 0, 1))), Box(0, 0, 120, 80), 1.0,
    GRID, 1.0, "diagram", 1.0,
)  # fmt: skip


def part(middle: float) -> Component:
    place = place_on(FACTS, Box(25, middle - 8, 33, middle + 8))
    return Component("c1", "speaker", Claim.unread(), place, (), probability=0.9)


@pytest.mark.parametrize(("middle", "zone"), [(39.2, "B1"), (30.0, "A1"), (44.0, "B1")])
def test_the_index_decides_only_where_the_middle_of_a_part_lies_on_the_border(middle: float, zone: str) -> None:
    there = Settled({}, (), {"c1": "B1"}).placed(part(middle), {"p1": FACTS}).place
    assert there.zone == zone
    assert zone not in there.zone_alternatives


def test_a_zone_that_the_index_does_not_print_stays() -> None:
    assert Settled({}, ()).placed(part(39.2), {"p1": FACTS}).place.zone == "A1"
