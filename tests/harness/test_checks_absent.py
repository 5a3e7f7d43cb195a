"""What is missing leaves traces: each check speaks where something was left out of a whole circuit, and nowhere else."""

from __future__ import annotations

from dataclasses import replace

from digitize.harness.checks_absent import findings
from digitize.harness.model import (
    Component,
    Connector,
    DrawnConnector,
    Finding,
    Harness,
    PrintedText,
    SheetNote,
    SheetPath,
    Splice,
    Terminal,
    Wire,
    WireEnd,
)
from digitize.harness.place import Box, Place
from fixtures.small_harness import claim

SHEET = SheetNote("p1", 1, "diagram", "LIGHTS", "1", 200, 140)


def lamp(id_: str, x: float, y: float, *, poles: int = 2, rim: bool = False) -> Component:
    """A lamp of 10 mm; with ``rim`` a third and a fourth terminal stand at its lower corners."""
    terminals = [Terminal("1", (x - 5, y)), Terminal("2", (x + 5, y))][:poles]
    if rim:
        terminals += [Terminal("3", (x - 5, y + 5)), Terminal("4", (x + 5, y + 5))]
    return Component(
        id_, "lamp", claim(id_, 0.95), Place("p1", Box(x - 5, y - 5, x + 5, y + 5)), tuple(terminals), 0.95
    )


def oval(id_: str, x: float, y: float) -> Connector:
    terminals = (Terminal("a1", (x - 4, y)), Terminal("b1", (x + 4, y)))
    place = DrawnConnector(f"{id_}@", Place("p1", Box(x - 4, y - 2, x + 4, y + 2)), terminals, ("1",), 0.95)
    return Connector(id_, claim(id_, 0.95), (place,))


def wire(id_: str, code: str, one: tuple[str, Terminal], two: tuple[str, Terminal]) -> Wire:
    ends = [WireEnd(node, t.id, "p1", t.at) for node, t in (one, two)]
    path = SheetPath("p1", (ends[0].at, ends[1].at))
    return Wire(id_, claim(code, 0.95), None, (ends[0], ends[1]), (path,), 0.95)


def whole() -> Harness:
    """Two lamps in a row behind a connector: nothing is missing."""
    left, right, plug = lamp("LAMP A", 30, 50), lamp("LAMP B", 150, 50), oval("C1", 90, 50)
    (place,) = plug.places
    wires = (
        wire("w1", "S1 14 RED", (left.id, left.terminals[1]), (place.id, place.terminals[0])),
        wire("w2", "S1 14 RED", (place.id, place.terminals[1]), (right.id, right.terminals[0])),
        wire("w3", "S2 14 BLK", (right.id, right.terminals[1]), (right.id, right.terminals[1])),
        wire("w4", "S3 14 BLK", (left.id, left.terminals[0]), (left.id, left.terminals[0])),
    )
    printed = PrintedText("S1 14 RED", "code", Place("p1", Box(50, 46, 64, 49)), 0.95)
    return Harness("own", (SHEET,), (left, right), (plug,), wires=wires, texts=(printed,))


def found(harness: Harness) -> list[Finding]:
    return list(findings(harness))


def without(harness: Harness, *ids: str) -> Harness:
    return replace(harness, wires=tuple(w for w in harness.wires if w.id not in ids))


def test_nothing_is_missed_on_a_whole_circuit():
    assert found(whole()) == []


def test_a_code_that_no_wire_carries_is_told_where_it_is_printed():
    lost = PrintedText("S9 14 WHT", "code", Place("p1", Box(100, 80, 114, 83)), 0.95)
    harness = replace(whole(), texts=(*whole().texts, lost))
    [one] = found(harness)
    assert one.check == "code-on-no-wire"
    assert one.places == (lost.place,)
    assert found(replace(harness, texts=(*whole().texts, replace(lost, probability=0.2)))) == [], (
        "a string that is hardly a code is not missed"
    )


def test_a_code_printed_twice_along_its_wire_is_carried():
    again = PrintedText("S1 14 RED", "code", Place("p1", Box(110, 46, 124, 49)), 0.95)
    assert found(replace(whole(), texts=(*whole().texts, again))) == []


def test_a_connector_with_a_wire_on_one_half_is_told_where_the_other_half_is():
    more = [oval(f"C{n}", 40 + 12 * n, 100) for n in range(2, 12)]
    wires = [
        wire(f"x{n}{t.id}", "S4 14 RED", (k.places[0].id, t), (k.places[0].id, t))
        for n, k in enumerate(more)
        for t in k.places[0].terminals
    ]
    harness = whole()
    harness = replace(harness, connectors=(*harness.connectors, *more), wires=(*harness.wires, *wires))
    assert found(harness) == []
    missed = [f for f in found(without(harness, "w2")) if f.check == "connector-one-sided"]
    assert [f.subject for f in missed] == ["C1@"]
    assert missed[0].places[0].box.holds((94, 50))


def test_connectors_are_no_finding_in_a_manual_that_draws_one_half():
    assert "connector-one-sided" not in {f.check for f in found(without(whole(), "w2"))}


def test_a_lamp_with_one_wire_is_told_unless_its_case_is_earthed():
    harness = without(whole(), "w4")
    assert [(f.check, f.subject) for f in found(harness)] == [("part-with-few-wires", "LAMP A")]
    earthed = tuple(replace(c, case_ground=True) for c in harness.components)
    assert found(replace(harness, components=earthed)) == []


def test_a_line_along_the_rim_of_a_part_is_asked_about_until_a_person_says_that_it_ends_there():
    left = lamp("LAMP A", 30, 50, rim=True)
    harness = whole()
    rims = [wire(f"r{t.id}", "S8 14 RED", (left.id, t), (left.id, t)) for t in left.terminals[2:]]
    harness = replace(harness, components=(left, harness.components[1]), wires=(*harness.wires, *rims))
    assert {f.check for f in found(harness)} == {"line-past-part"}
    sure = tuple(replace(w, probability=1.0) if w.id.startswith("r") else w for w in harness.wires)
    assert found(replace(harness, wires=sure)) == []


def test_the_ends_of_a_winding_are_no_lines_that_run_past_it():
    left = lamp("LAMP A", 30, 50, rim=True)
    harness = whole()
    rims = [wire(f"r{t.id}", "S8 14 RED", (left.id, t), (left.id, t)) for t in left.terminals[2:]]
    harness = replace(harness, wires=(*harness.wires, *rims))
    for kind, told in (("lamp", ["line-past-part"]), ("solenoid", []), ("coil", [])):
        parts = (replace(left, kind=kind), harness.components[1])
        assert sorted({f.check for f in found(replace(harness, components=parts))}) == told


def test_a_wire_that_comes_back_to_its_own_dot_is_told():
    dot = Splice("s", Place("p1", Box(59, 79, 61, 81)), (60, 80), 3, 0.95)
    end = WireEnd("s", "*", "p1", (60, 80))
    ring = Wire("ring", claim("S5", 0.9), None, (end, end), (SheetPath("p1", ((60, 80), (70, 80), (60, 80))),), 0.95)
    harness = replace(whole(), splices=(dot,), wires=(*whole().wires, ring))
    assert [(f.check, f.subject) for f in found(harness)] == [("wire-back-to-its-dot", "ring")]
