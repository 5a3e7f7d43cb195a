"""Promises about loads that hang together without a feed, and about fuses whose side is not told."""

from __future__ import annotations

from digitize.harness.model import Finding
from digitize.legend.conventions import conventions_from
from digitize.wiring.binding import bind
from fixtures.typed_sheets import TypedSheet, read

STATED = conventions_from("""
[code]
pattern = "{circuit}{number}{segment?} {gauge} {colour}{/tracer?}"
[gauges]
system = "awg"
sizes = ["14", "16", "18"]
""")


def circuit() -> TypedSheet:
    """Battery, fuse, a lamp, a ground: nothing to find."""
    sheet = (
        TypedSheet("page_1")
        .part("bat", "battery", (20, 30), read("BATTERY"), {"+": (24, 30), "-": (20, 33)})
        .part("fuse", "fuse", (60, 30), read("3"), rating="10A")
        .part("lamp", "lamp", (140, 30), read("SIDE LAMP"))
        .part("g1", "ground", (180, 30), read(None), {"1": (176, 30)})
        .part("g2", "ground", (20, 60), read(None), {"1": (20, 57)})
        .run("r1", "bat.+", "fuse.1", read("S1 14 RED"))
        .run("r3", "lamp.2", "g1.1", read("E1 16 BLK"))
        .run("r4", "bat.-", "g2.1", read("E2 16 BLK"))
    )
    return sheet.run("r2", "fuse.2", "lamp.1", read("S2 14 RED"))


def found(sheet: TypedSheet) -> list[Finding]:
    return list(bind([sheet.wiring()], (), STATED).findings)


def kinds(sheet: TypedSheet) -> list[str]:
    return [f.check for f in found(sheet)]


def without(sheet: TypedSheet, *runs: str) -> TypedSheet:
    sheet.runs = [r for r in sheet.runs if r.id not in runs]
    return sheet


def two_lamps_behind_a_switch() -> TypedSheet:
    sheet = without(circuit(), "r2").part("sw", "switch", (100, 30), read("LAMP SWITCH")).splice("s", (120, 30), 3)
    sheet.part("lamp2", "lamp", (140, 60), read("TAIL LAMP")).part(
        "g3", "ground", (180, 60), read(None), {"1": (176, 60)}
    )
    sheet.run("r5", "fuse.2", "sw.1", read("S2 14 RED")).run("r6", "sw.2", "s", read("S3 14 RED"))
    sheet.run("r7", "s", "lamp.1", read("S4 14 RED")).run("r8", "s", "lamp2.1", read("S5 14 RED"))
    return sheet.run("r9", "lamp2.2", "g3.1", read("E3 16 BLK"))


def test_all_loads_behind_one_missed_line_are_one_finding_where_the_way_stops():
    assert kinds(two_lamps_behind_a_switch()) == []
    [f] = found(without(two_lamps_behind_a_switch(), "r5"))
    assert f.check == "load-without-feed"
    assert all(name in f.why for name in ("SIDE LAMP", "TAIL LAMP", "LAMP SWITCH"))
    assert f.places[0].box.holds((100, 30)), "it points at the switch that no wire comes to"
    assert len(f.places) == 3


def test_a_bar_of_a_fuse_block_feeds_what_hangs_on_it_though_its_fuse_was_not_read():
    sheet = without(two_lamps_behind_a_switch(), "r5")
    sheet.part("block", "fuse_block", (60, 60), read("FUSES"), {"out": (66, 60)})
    assert kinds(sheet.run("r5", "block.out", "sw.1", read("S2 14 RED"))) == []


def test_no_fuse_is_held_against_wires_that_may_feed_it():
    """Two fuses with one wire each, joined: the page does not say which of them feeds the other."""

    def told(joined: bool) -> list[str]:
        sheet = circuit().part("f5", "fuse", (60, 96), read("5"), {"1": (66, 96)}, rating="30A")
        sheet.part("f6", "fuse", (60, 104), read("6"), {"1": (66, 104)}, rating="15A")
        sheet.splice("s", (100, 100), 3).run("r6", "f5.1", "s", read("S6 18 RED"))
        sheet.part("m", "lamp", (140, 100), read("PLATE LAMP")).run("r7", "s", "m.1", read("S7 18 RED"))
        sheet.part("g4", "ground", (180, 100), read(None), {"1": (176, 100)}).run(
            "r8", "m.2", "g4.1", read("E4 16 BLK")
        )
        if joined:
            sheet.run("r9", "s", "f6.1", read("S8 18 RED"))
        return [f.check for f in found(sheet) if f.check == "fuse-larger-than-wire"]

    assert told(joined=False) == ["fuse-larger-than-wire"]
    assert told(joined=True) == []
