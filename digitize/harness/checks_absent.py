"""Checks for what should be there and is not: lettering, halves of connectors and terminals that no wire comes to.

What was read can only be doubted; what was missed altogether shows by what it leaves behind: a code that no wire carries,
a connector that a wire enters and none leaves, a lamp with one wire. The distances are in mm on paper and our own choice.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator

from digitize.harness.checks_kinds import finding
from digitize.harness.edits_find import nearest
from digitize.harness.model import Component, DrawnConnector, Finding, Harness, PrintedText, Terminal, Wire, WireEnd
from digitize.harness.place import Box, Place, Point

CODE_REACH = 6.0
"""How far from the line of its wire a code may be printed."""

SURE_CODE = 0.5
"""A string must be this surely a code before it is missed on the lines."""

TWO_POLES = frozenset(
    {
        "lamp", "motor", "horn", "heater", "solenoid", "sounder", "speaker", "resistor", "sensor", "gauge", "battery", "diode",
        "capacitor", "coil",
    }
)  # fmt: skip
"""Kinds drawn with two terminals, or with one and an earth mark on the case (common practice, no source)."""

ONE_POLE = frozenset({"sensor", "gauge", "battery", "diode"})
"""Of these, kinds that are also drawn with one line, or whose second line is often left out (common practice, no source)."""

WOUND = frozenset({"coil", "solenoid"})
"""Kinds drawn as a winding, whose ends leave at the corners of its body (common practice, no source)."""

RIM = 1.2
"""How near to the corner of a part's body a line that only passes it runs."""

IN_LINE = 0.7
"""How far two pieces of one straight line may be off each other."""

BOTH_HALVES = 0.9
"""Share of the manual's connectors that must have wires on both halves before one without is suspicious."""


def findings(harness: Harness) -> Iterator[Finding]:
    """All findings about what is missing."""
    hung: dict[str, list[tuple[Wire, WireEnd]]] = defaultdict(list)
    for w in harness.wires:
        for e in w.ends:
            if e.node is not None:
                hung[e.node].append((w, e))
    yield from _codes(harness)
    yield from _halves(harness, hung)
    yield from _loops(harness)
    for part in harness.components:
        yield from _past(part, hung[part.id])
        yield from _poles(part, hung[part.id])


def _codes(harness: Harness) -> Iterator[Finding]:
    """Codes that are printed on a diagram and that no wire carries."""
    diagrams = {s.id for s in harness.sheets if s.kind == "diagram"}
    printed = [
        t for t in harness.texts if t.role == "code" and t.place.sheet in diagrams and t.probability >= SURE_CODE
    ]
    if not printed:
        return
    said: dict[str, list[Box]] = defaultdict(list)
    by_code: dict[tuple[str, str], list[Wire]] = defaultdict(list)
    for w in harness.wires:
        for e in w.code.evidence:
            if e.place is not None:
                said[e.place.sheet].append(e.place.box)
        for sheet in {p.sheet for p in w.paths}:
            by_code[w.code.value or "", sheet].append(w)
    for link in harness.links:
        for e in link.code.evidence:
            if e.place is not None:
                said[e.place.sheet].append(e.place.box)
    for text in printed:
        box = text.place.box
        if any(box.overlap(b) > 0 for b in said[text.place.sheet]) or _carried(
            text, by_code[text.text, text.place.sheet]
        ):
            continue
        yield finding(
            "code-on-no-wire",
            f"{text.text} on {text.place.sheet}",
            f"{text.text} is printed here, and no wire carries it.",
            "Look at the scan there: a line that runs up to the lettering or past it was missed.",
            [text.place],
            extra=f"{box.centre[0]:.0f} {box.centre[1]:.0f}",
        )


def _carried(text: PrintedText, wires: list[Wire]) -> bool:
    """True when one of the wires, which carry this very code, passes or ends at the lettering."""
    box = text.place.box
    x, y = box.centre
    spots = ((x, y), (box.x0, y), (box.x1, y), (x, box.y0), (x, box.y1))
    return any(
        nearest(p.points, spot)[0] <= CODE_REACH
        for w in wires
        for p in w.paths
        if p.sheet == text.place.sheet
        for spot in spots
    )


def _halves(harness: Harness, hung: dict[str, list[tuple[Wire, WireEnd]]]) -> Iterator[Finding]:
    """Connectors with a wire on one half of a cavity only, in a manual that draws both."""
    lone: list[tuple[str | None, DrawnConnector, Terminal]] = []
    whole = 0
    for connector in harness.connectors:
        for place in connector.places:
            used = {e.terminal for _, e in hung[place.id]}
            by_id = {t.id: t for t in place.terminals}
            for terminal in place.terminals:
                other = ("b" if terminal.id[0] == "a" else "a") + terminal.id[1:]
                if terminal.id in used and other not in used:
                    bare = by_id.get(other) or Terminal(other, _across(place.place.box, terminal.at))
                    lone.append((connector.label.value, place, bare))
            whole += sum(f"a{t[1:]}" in used and f"b{t[1:]}" in used for t in by_id if t[0] == "a")
    if whole < BOTH_HALVES * (whole + len(lone)):
        return
    for label, place, terminal in lone:
        yield finding(
            "connector-one-sided",
            place.id,
            f"A wire runs into one half of connector {label or 'without an id'}, and none leaves the other.",
            "Look at the scan there: the line on the other side was missed.",
            [_spot(place.place.sheet, terminal.at)],
            extra=terminal.id,
        )


def _across(box: Box, at: Point) -> Point:
    """The point of an oval's rim that lies opposite to ``at``."""
    x, y = box.centre
    beside = abs(at[0] - x) * box.height >= abs(at[1] - y) * box.width
    return (2 * x - at[0], at[1]) if beside else (at[0], 2 * y - at[1])


def _loops(harness: Harness) -> Iterator[Finding]:
    """A wire that leaves a dot and comes back to it: one of its two ends was missed elsewhere."""
    for w in harness.wires:
        one, two = w.ends
        if one.node is not None and one.node == two.node and one.terminal == "*":
            yield finding(
                "wire-back-to-its-dot",
                w.id,
                f"{w.code.value or 'A wire without a code'} leaves a join and comes back to the same one.",
                "Look at the scan there: the wire goes on elsewhere, or it is not drawn.",
                [_spot(one.sheet, one.at)],
            )


def _past(part: Component, hung: list[tuple[Wire, WireEnd]]) -> Iterator[Finding]:
    """A line that runs along a part's rim and was taken to end there."""
    if part.kind not in TWO_POLES - WOUND or len(hung) < 2:
        return
    box = part.place.box
    rims = [(w, e) for w, e in hung if _at_a_corner(box, e.at) and w.probability < 1.0]
    inner = [(w, e) for w, e in hung if not _at_a_corner(box, e.at)]
    if not rims or not inner:
        return
    name = part.name.value or f"this {part.kind.replace('_', ' ')}"
    for n, (w, e) in enumerate(rims):
        yield finding(
            "line-past-part",
            part.id,
            f"{w.code.value or 'A wire without a code'} seems to end at the corner of {name}.",
            "Look at the scan there: does the line run on past the part?",
            [_spot(e.sheet, e.at)],
            extra=f"{w.id} {n}",
        )


def _at_a_corner(box: Box, at: Point) -> bool:
    """Beside the body, at the height of its upper or lower rim, or over or under it at its left or right rim."""
    beside = at[0] <= box.x0 + IN_LINE or at[0] >= box.x1 - IN_LINE
    above = at[1] <= box.y0 + IN_LINE or at[1] >= box.y1 - IN_LINE
    at_rim_y = min(abs(at[1] - box.y0), abs(at[1] - box.y1)) <= min(RIM, box.height / 5)
    at_rim_x = min(abs(at[0] - box.x0), abs(at[0] - box.x1)) <= min(RIM, box.width / 5)
    return (beside and at_rim_y and box.height > 3 * RIM) or (above and at_rim_x and box.width > 3 * RIM)


def _poles(part: Component, hung: list[tuple[Wire, WireEnd]]) -> Iterator[Finding]:
    """A part of two poles that only one wire, or none, comes to."""
    wanted = 1 if part.case_ground else 2
    if part.kind not in TWO_POLES - ONE_POLE or part.parent is not None or len(hung) >= wanted:
        return
    name = part.name.value or f"this {part.kind.replace('_', ' ')}"
    count = "No wire comes" if not hung else "Only one wire comes"
    yield finding(
        "part-with-few-wires",
        part.id,
        f"{count} to {name}; a {part.kind.replace('_', ' ')} has two poles, or one and an earth mark.",
        "Look at the scan there: a line may have been missed, or the earth mark on the case.",
        [part.place],
    )


def _spot(sheet: str, at: Point, half: float = 3.0) -> Place:
    return Place(sheet, Box(at[0] - half, at[1] - half, at[0] + half, at[1] + half))
