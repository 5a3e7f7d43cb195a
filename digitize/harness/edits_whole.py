"""Edits on what is one thing and what is two: components merged or split, connectors of one id taken together."""

from __future__ import annotations

from dataclasses import replace

from digitize.harness.claim import Alternative, Claim, Evidence
from digitize.harness.edits import EditRefused, Effect, MergeParts, SplitPart
from digitize.harness.edits_cutting import fresh, ids, put_zone
from digitize.harness.edits_find import Stand, find
from digitize.harness.edits_put import drop, put
from digitize.harness.model import Component, Connector, Harness, Terminal
from digitize.harness.place import Box, Place

EDGE_REACH = 1.5
"""How far (mm) outside its part a terminal may stand and still belong to it (own choice: half the pitch of close wires)."""


def merge_parts(harness: Harness, edit: MergeParts, stand: Stand) -> tuple[Harness, Effect]:
    """One component out of two on one sheet. It keeps the name and kind of the first, or takes the second's where it has none.

    Raises EditRefused when the two are not two components, side by side on one sheet.
    """
    found = find(harness, edit.other, edit.other_anchor)
    if found is None:
        raise EditRefused("the other part is gone.", "")
    one, two = stand.thing, found.thing
    if not isinstance(one, Component) or not isinstance(two, Component):
        raise EditRefused("only components can be put together.", "")
    if one.id == two.id:
        raise EditRefused("it is the same part.", "")
    if one.place.sheet != two.place.sheet:
        raise EditRefused("the two stand on different sheets.", "")
    if one.parent == two.id or two.parent == one.id:
        raise EditRefused("one sits in the other.", "")
    names = {t.id: t.id for t in two.terminals}
    taken = {t.id for t in one.terminals}
    for terminal in two.terminals:
        names[terminal.id] = fresh(terminal.id, taken)
        taken.add(names[terminal.id])
    terminals = (*one.terminals, *(replace(t, id=names[t.id]) for t in two.terminals))
    joined = (
        *one.joined,
        *((_renamed(a, names), _renamed(b, names)) for a, b in _within(two, two.parent == one.parent)),
    )
    a, b = one.place.box, two.place.box
    box = Box(min(a.x0, b.x0), min(a.y0, b.y0), max(a.x1, b.x1), max(a.y1, b.y1))
    place = Place(one.place.sheet, box, put_zone(harness, one.place.sheet, box.centre))
    whole = replace(
        one, kind=two.kind if one.kind == "unknown" else one.kind, name=_name_of(one.name, two.name), place=place,
        terminals=terminals, probability=1.0, case_ground=one.case_ground or two.case_ground,
        rating=one.rating or two.rating, heading=one.heading or two.heading, joined=tuple(dict.fromkeys(joined)),
    )  # fmt: skip
    touched = [one.id, two.id]
    for wire in harness.wires:
        if any(e.node == two.id for e in wire.ends):
            x, y = (
                replace(e, node=one.id, terminal=names[e.terminal or ""]) if e.node == two.id else e for e in wire.ends
            )
            harness = put(harness, replace(wire, ends=(x, y)))
            touched.append(wire.id)
    for child in harness.components:
        if child.parent == two.id:
            pairs = tuple((_above(p, names), _above(q, names)) for p, q in child.joined)
            harness = put(harness, replace(child, parent=one.id, joined=pairs))
    harness = put(drop(harness, two), whole)
    says = f"{two.name.value or two.id} is one part with {one.name.value or one.id}"
    return harness, Effect("applied", says, tuple(touched), one.name.value, whole.name.value)


def split_part(harness: Harness, edit: SplitPart, stand: Stand, by: str) -> tuple[Harness, Effect]:
    """Two components out of one: the new one takes the terminals at ``edit.box``, the old one the rest of the room.

    Raises EditRefused when the box does not lie on a component, or covers it whole.
    """
    old = stand.thing
    if not isinstance(old, Component):
        raise EditRefused("only a component can be split.", "")
    if old.place.sheet != edit.anchor.sheet or old.place.box.overlap(edit.box) <= 0:
        raise EditRefused("the box does not lie on the part.", "")
    rest = _rest(old.place.box, edit.box)
    if rest is None:
        raise EditRefused("the box covers the whole part.", "")
    mine = tuple(t for t in old.terminals if edit.box.holds(t.at, EDGE_REACH) and not _nearer(rest, edit.box, t))
    moved = {t.id for t in mine}
    part_id = fresh(edit.part, ids(harness))
    sheet = old.place.sheet
    ranked = () if edit.name is None else (Alternative(edit.name, 1.0),)
    word = Evidence("person", edit.name or "nothing is printed", 1.0, by)
    new = Component(
        part_id, edit.kind, Claim(edit.name, 1.0, ranked, (word,)),
        Place(sheet, edit.box, put_zone(harness, sheet, edit.box.centre)), mine, 1.0, parent=old.parent,
        joined=tuple(p for p in old.joined if {t for t in p if not t.startswith("^")} <= moved),
    )  # fmt: skip
    left = tuple(t for t in old.terminals if t.id not in moved)
    kept = tuple(p for p in old.joined if not set(p) & moved)
    place = Place(sheet, rest, put_zone(harness, sheet, rest.centre))
    harness = put(put(harness, replace(old, place=place, terminals=left, joined=kept)), new)
    touched = [old.id, part_id]
    for wire in harness.wires:
        if any(e.node == old.id and e.terminal in moved for e in wire.ends):
            x, y = (replace(e, node=part_id) if e.node == old.id and e.terminal in moved else e for e in wire.ends)
            harness = put(harness, replace(wire, ends=(x, y)))
            touched.append(wire.id)
    for child in harness.components:
        if child.parent == old.id:
            goes = edit.box.holds(child.place.box.centre)
            own = moved if goes else {t.id for t in left}
            pairs = tuple(p for p in child.joined if all(t[1:] in own for t in p if t.startswith("^")))
            harness = put(harness, replace(child, parent=part_id if goes else old.id, joined=pairs))
    says = f"{old.name.value or old.id} is two parts, one of them {edit.name or 'without a name'}"
    return harness, Effect("applied", says, tuple(touched), old.name.value, edit.name)


def take_in(harness: Harness, whole: Connector, part: Connector, label: str, by: str) -> tuple[Harness, Effect]:
    """The connector ``part`` was read as another id: its drawings and what the chart says of it go to ``whole``."""
    word = Evidence("person", label, 1.0, by)
    claim = replace(whole.label, evidence=(*whole.label.evidence, *part.label.evidence, word))
    known = {c.label for c in whole.cavities}
    merged = replace(
        whole,
        label=claim,
        places=tuple(sorted((*whole.places, *part.places), key=lambda p: p.id)),
        cavities=(*whole.cavities, *(c for c in part.cavities if c.label not in known)),
        half_names=whole.half_names or part.half_names,
        location=whole.location or part.location,
        part=whole.part or part.part,
    )
    touched = (part.id, whole.id, *(p.id for p in part.places))
    says = f"connector {part.label.value or part.id} is {label}"
    return put(drop(harness, part), merged), Effect("applied", says, touched, part.label.value, label)


def _within(part: Component, same_parent: bool) -> list[tuple[str, str]]:
    """Its inner joins; those to the block it sits in only when the whole sits in the same."""
    return [p for p in part.joined if same_parent or not any(t.startswith("^") for t in p)]


def _renamed(terminal: str, names: dict[str, str]) -> str:
    return terminal if terminal.startswith("^") else names[terminal]


def _above(terminal: str, names: dict[str, str]) -> str:
    return f"^{names[terminal[1:]]}" if terminal.startswith("^") else terminal


def _name_of(one: Claim, two: Claim) -> Claim:
    strong, weak = (two, one) if one.value is None else (one, two)
    return replace(strong, evidence=(*strong.evidence, *weak.evidence))


def _rest(whole: Box, cut: Box) -> Box | None:
    """The largest upright room of ``whole`` beside ``cut``; None when less than half a millimetre is left."""
    rooms = [
        Box(whole.x0, whole.y0, min(whole.x1, cut.x0), whole.y1), Box(max(whole.x0, cut.x1), whole.y0, whole.x1, whole.y1),
        Box(whole.x0, whole.y0, whole.x1, min(whole.y1, cut.y0)), Box(whole.x0, max(whole.y0, cut.y1), whole.x1, whole.y1),
    ]  # fmt: skip
    sound = [r for r in rooms if r.width > 0.5 and r.height > 0.5]
    return max(sound, key=lambda r: r.width * r.height, default=None)


def _nearer(rest: Box, box: Box, terminal: Terminal) -> bool:
    """True when a terminal that stands outside ``box`` stands in or on ``rest``."""
    return not box.holds(terminal.at) and rest.holds(terminal.at)
