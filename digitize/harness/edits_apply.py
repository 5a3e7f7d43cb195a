"""What each edit does: ``apply(harness, edit) -> (harness, effect)``, pure. Shapes of wires change in ``edits_shape``."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace

from digitize.harness import edits_parts as parts
from digitize.harness import edits_shape as shape
from digitize.harness import edits_teach as lessons
from digitize.harness.claim import Alternative, Claim, Evidence
from digitize.harness.edits import (
    CONVENTIONS,
    AcceptFinding,
    AddConnector,
    AddPart,
    AddSplice,
    AddWire,
    Confirm,
    Cut,
    DeleteWire,
    Edit,
    EditRefused,
    Effect,
    ForgetSymbol,
    JoinEnds,
    MarkSheet,
    MergeParts,
    MoveEnd,
    NotReadable,
    Recorded,
    RemovePart,
    RemoveSplice,
    Rename,
    Reviewed,
    SetCode,
    SetConnector,
    SetConventions,
    SetGrid,
    SetKind,
    SetPartner,
    SetZone,
    SplitPart,
    TeachSymbol,
)
from digitize.harness.edits_cutting import fresh, wire_of
from digitize.harness.edits_edges import set_partner
from digitize.harness.edits_find import Stand, every_stand, find, look_up
from digitize.harness.edits_put import drop, put
from digitize.harness.edits_whole import merge_parts, split_part, take_in
from digitize.harness.grid import regrid
from digitize.harness.model import (
    Component,
    Connector,
    DrawnConnector,
    DrawnGrommet,
    Finding,
    Grommet,
    Ground,
    Harness,
    PageLink,
    Splice,
    Wire,
)

Recheck = Callable[[Harness], Harness]
"""Gives a harness with its findings found anew."""

PERSON = 1.0
"""Probability of what a person said at the desk."""


def apply(harness: Harness, edit: Edit, by: str = "review") -> tuple[Harness, Effect]:
    """``harness`` with ``edit`` done, and what that was. Never raises for an edit that no longer fits (see Effect).

    ``by`` goes into the evidence that the edit leaves: who made it and when.
    """
    try:
        return _applied(harness, edit, by)
    except EditRefused as fault:
        return harness, Effect("refused", f"{describe(edit)}: {fault.what}")


def _applied(harness: Harness, edit: Edit, by: str) -> tuple[Harness, Effect]:
    """As ``apply``; raises EditRefused for what cannot be done to the object."""
    if isinstance(edit, AddWire):
        return shape.add_wire(harness, edit, by)
    if isinstance(edit, AddSplice):
        return shape.add_splice(harness, edit)
    if isinstance(edit, AddPart):
        return parts.add_part(harness, edit, by)
    if isinstance(edit, TeachSymbol):
        return lessons.teach(harness, edit, by)
    if isinstance(edit, ForgetSymbol):
        return harness, Effect("applied", describe(edit), (edit.target,))
    if isinstance(edit, AddConnector):
        return parts.add_connector(harness, edit, by)
    if isinstance(edit, JoinEnds):
        return shape.join_ends(harness, edit)
    if isinstance(edit, SetConventions):
        return harness, Effect("applied", describe(edit), (CONVENTIONS,))
    stand = find(harness, edit.target, edit.anchor)
    if stand is None:
        return harness, Effect("orphaned", f"{describe(edit)}: its object is gone.")
    return _on(harness, edit, stand, by)


def replay(harness: Harness, edits: Iterable[Recorded], recheck: Recheck | None = None) -> Reviewed:
    """All active edits on a freshly digitized harness, in their order; those without effect are reported, not lost.

    ``recheck`` finds the inconsistencies of the corrected harness anew. Findings are accepted after that, because the
    finding that a person accepted may only have come up through an edit.
    """
    active = [r for r in edits if r.state == "active"]
    reviewed = Reviewed(harness)
    for recorded in active:
        if not isinstance(recorded.edit, AcceptFinding):
            reviewed = step(reviewed, recorded)
    if recheck is not None and active:
        reviewed = replace(reviewed, harness=recheck(reviewed.harness))
    for recorded in active:
        if isinstance(recorded.edit, AcceptFinding):
            reviewed = step(reviewed, recorded)
    return replace(reviewed, effects=tuple(sorted(reviewed.effects, key=lambda pair: pair[0].number)))


def step(reviewed: Reviewed, recorded: Recorded) -> Reviewed:
    """One more edit on a reviewed harness."""
    harness, effect = apply(reviewed.harness, recorded.edit, f"review by {recorded.who}, {recorded.when}")
    done = reviewed.done
    if isinstance(recorded.edit, MarkSheet) and effect.status == "applied":
        done = done | set(effect.touched) if recorded.edit.done else done - set(effect.touched)
    grids = reviewed.grids
    if isinstance(recorded.edit, SetGrid) and effect.status == "applied":
        grids = grids | {effect.touched[0]: recorded.edit.grid}
    return Reviewed(harness, (*reviewed.effects, (recorded, effect)), done, grids)


def _on(harness: Harness, edit: Edit, stand: Stand, by: str) -> tuple[Harness, Effect]:
    match edit:
        case SetCode():
            wire = wire_of(stand)
            claim = said(wire.code, edit.code, by)
            return _changed(
                put(harness, replace(wire, code=claim, parsed=edit.parsed)), edit, wire.id, wire.code, claim
            )
        case SetConnector():
            return _set_connector(harness, edit, stand, by)
        case Rename():
            return _rename(harness, edit, stand, by)
        case SetKind():
            if not isinstance(stand.thing, Component):
                raise EditRefused("only a component has a kind.", "")
            new = put(harness, replace(stand.thing, kind=edit.kind, probability=PERSON))
            return new, Effect("applied", describe(edit), (stand.id,), stand.thing.kind, edit.kind)
        case SetZone():
            return _set_zone(harness, edit, stand)
        case RemoveSplice():
            return shape.remove_splice(harness, stand)
        case Cut():
            return shape.cut(harness, edit, stand)
        case DeleteWire():
            return shape.delete_wire(harness, wire_of(stand))
        case MoveEnd():
            return shape.move_end(harness, edit, stand)
        case SetPartner():
            return set_partner(harness, edit, stand)
        case RemovePart():
            return parts.remove_part(harness, stand)
        case MergeParts():
            return merge_parts(harness, edit, stand)
        case SplitPart():
            return split_part(harness, edit, stand, by)
        case AcceptFinding():
            if not isinstance(stand.thing, Finding):
                raise EditRefused("it is no finding.", "")
            new = put(harness, replace(stand.thing, accepted=edit.reason))
            return new, Effect("applied", describe(edit), (stand.id,), stand.thing.accepted, edit.reason)
        case Confirm():
            return _judge(harness, edit, stand, by)
        case NotReadable():
            return _judge(harness, edit, stand, by)
        case MarkSheet():
            return harness, Effect("applied", describe(edit), (stand.id,), None, "done" if edit.done else "open")
        case SetGrid():
            return regrid(harness, stand.id, edit.grid), Effect("applied", describe(edit), (stand.id,))
        case _:
            raise AssertionError(edit)


def said(old: Claim, value: str | None, by: str) -> Claim:
    """A claim after a person's word: certain, with everything that was believed before still on record."""
    others = tuple(a for a in old.alternatives if a.text != value)
    mine = () if value is None else (Alternative(value, PERSON),)
    says = "nothing is printed" if value is None else value
    return Claim(value, PERSON, mine + others, (*old.evidence, Evidence("person", says, PERSON, by)))


def _unreadable(old: Claim, by: str) -> Claim:
    return Claim(None, PERSON, old.alternatives, (*old.evidence, Evidence("person", "not readable", PERSON, by)))


def _changed(harness: Harness, edit: Edit, id_: str, old: Claim, new: Claim) -> tuple[Harness, Effect]:
    return harness, Effect("applied", describe(edit), (id_,), old.value, new.value)


def _set_connector(harness: Harness, edit: SetConnector, stand: Stand, by: str) -> tuple[Harness, Effect]:
    drawn = stand.thing
    if not isinstance(drawn, DrawnConnector):
        raise EditRefused("only a drawn connector has a connector id.", "")
    home = next(c for c in harness.connectors if any(p.id == drawn.id for p in c.places))
    there = next((c for c in harness.connectors if c.label.value == edit.label), None)
    effect = Effect("applied", describe(edit), (drawn.id, home.id), home.label.value, edit.label)
    if there is home:
        return put(harness, replace(home, label=said(home.label, edit.label, by))), effect
    left = tuple(p for p in home.places if p.id != drawn.id)
    if there is None and not left and not home.cavities and home.location is None:
        return put(harness, replace(home, label=said(home.label, edit.label, by))), effect
    if there is None:
        taken = {s.id for s in every_stand(harness)}
        new_id = edit.label if edit.label not in taken else fresh(f"hand-{drawn.id}", taken)
        there = Connector(new_id, said(home.label, edit.label, by), ())
    else:
        word = Evidence("person", edit.label, PERSON, by, drawn.place)
        label = replace(there.label, evidence=(*there.label.evidence, word))
        there = replace(there, label=label)
    places = tuple(sorted((*there.places, drawn), key=lambda p: p.id))
    harness = put(harness, replace(there, places=places))
    if left or home.cavities or home.location is not None:
        harness = put(harness, replace(home, places=left))
    else:
        harness = drop(harness, home)
    return harness, replace(effect, touched=(drawn.id, home.id, there.id))


def _rename(harness: Harness, edit: Rename, stand: Stand, by: str) -> tuple[Harness, Effect]:
    thing = stand.thing
    if isinstance(thing, Component):
        claim = said(thing.name, edit.name, by)
        return _changed(put(harness, replace(thing, name=claim)), edit, thing.id, thing.name, claim)
    if isinstance(thing, Connector):
        namesake = next((c for c in harness.connectors if c.label.value == edit.name and c.id != thing.id), None)
        if namesake is not None:
            return take_in(harness, namesake, thing, edit.name, by)
    if isinstance(thing, Connector | Ground | Grommet):
        claim = said(thing.label, edit.name, by)
        return _changed(put(harness, replace(thing, label=claim)), edit, thing.id, thing.label, claim)
    raise EditRefused("it has no name.", "")


def _set_zone(harness: Harness, edit: SetZone, stand: Stand) -> tuple[Harness, Effect]:
    thing = stand.thing
    if not isinstance(thing, Component | DrawnConnector | DrawnGrommet | Splice | Ground):
        raise EditRefused("only what stands at one place has a zone.", "")
    place = replace(thing.place, zone=edit.zone, zone_alternatives=())
    effect = Effect("applied", describe(edit), (thing.id,), thing.place.zone, edit.zone)
    return put(harness, replace(thing, place=place)), effect


def _judge(harness: Harness, edit: Confirm | NotReadable, stand: Stand, by: str) -> tuple[Harness, Effect]:
    """Confirm or give up the claim of an object; for one without lettering, confirm that it is drawn so."""
    thing = stand.thing
    lettered: Connector | None = None
    if isinstance(thing, DrawnConnector):
        lettered = next(c for c in harness.connectors if any(p.id == thing.id for p in c.places))
    if isinstance(thing, DrawnGrommet):
        raise EditRefused("judge the whole grommet instead.", "")
    subject = lettered or thing
    sure = isinstance(edit, Confirm)
    if isinstance(subject, Wire):
        aspect = edit.aspect if isinstance(edit, Confirm) else "code"
        claim = subject.code if aspect == "ends" else _judged(subject.code, sure, by)
        new = replace(subject, code=claim, parsed=subject.parsed if sure else None)
        if aspect != "code":
            new = replace(new, probability=PERSON)
        return _changed(put(harness, new), edit, subject.id, subject.code, claim)
    if isinstance(subject, Component):
        claim = _judged(subject.name, sure, by)
        return _changed(put(harness, replace(subject, name=claim)), edit, subject.id, subject.name, claim)
    if isinstance(subject, Connector | Grommet | Ground):
        claim = _judged(subject.label, sure, by)
        return _changed(put(harness, replace(subject, label=claim)), edit, subject.id, subject.label, claim)
    if isinstance(subject, Splice | PageLink) and sure:
        return put(harness, replace(subject, probability=PERSON)), Effect("applied", describe(edit), (subject.id,))
    raise EditRefused("there is nothing to read or confirm on it.", "")


def _judged(claim: Claim, sure: bool, by: str) -> Claim:
    return said(claim, claim.value, by) if sure else _unreadable(claim, by)


def describe(edit: Edit) -> str:
    """One line that says what the edit asks for, in plain words."""
    was = edit.anchor.seen
    match edit:
        case SetCode():
            return f"wire code {_quoted(was)} is {_quoted(edit.code)}"
        case SetConnector():
            return f"connector {_quoted(was)} is {_quoted(edit.label)}"
        case Rename():
            return f"{_quoted(was)} is called {_quoted(edit.name)}"
        case SetKind():
            return f"{_quoted(was)} is a {edit.kind.replace('_', ' ')}"
        case SetZone():
            return f"{_quoted(was)} stands in zone {edit.zone}"
        case JoinEnds():
            return "two wire ends are one conductor"
        case AddSplice():
            return "wires are joined here"
        case RemoveSplice():
            return "wires pass here without a join"
        case Cut():
            return f"wire {_quoted(was)} is cut"
        case DeleteWire():
            return f"wire {_quoted(was)} is not drawn"
        case AddWire():
            return f"a wire {_quoted(edit.code)} is drawn here"
        case MoveEnd():
            return f"an end of wire {_quoted(was)} goes {'to ' + edit.to.node if edit.to else 'nowhere'}"
        case SetPartner():
            return f"page edge {_quoted(was)} {'goes on elsewhere' if edit.partner else 'has no partner'}"
        case AddPart():
            return f"a {edit.kind.replace('_', ' ')} {_quoted(edit.name)} is drawn here"
        case TeachSymbol():
            return f"a {edit.kind.replace('_', ' ')} is drawn like this"
        case ForgetSymbol():
            return "a symbol that was shown no longer counts"
        case AddConnector():
            return f"connector {_quoted(edit.label)} is drawn here"
        case RemovePart():
            return f"{_quoted(was)} is not drawn"
        case MergeParts():
            return f"{_quoted(was)} and {_quoted(edit.other_anchor.seen)} are one part"
        case SplitPart():
            return f"{_quoted(was)} is two parts, one of them {_quoted(edit.name)}"
        case AcceptFinding():
            return f"finding accepted: {edit.reason}"
        case Confirm():
            return f"the ends of wire {_quoted(was)} are right" if edit.aspect == "ends" else f"{_quoted(was)} is right"
        case NotReadable():
            return f"{_quoted(was)} cannot be read"
        case MarkSheet():
            return f"sheet {edit.target} is {'done' if edit.done else 'open again'}"
        case SetGrid():
            return f"on sheet {edit.target} the zone line {edit.line} is moved"
        case SetConventions():
            return "the conventions are corrected"


def _quoted(text: str | None) -> str:
    return "without lettering" if text is None else f"“{text}”"


def current(harness: Harness, edit: Edit) -> str | None:
    """What the edit's object says now (for a stale edit's two versions); None when it says nothing or is gone."""
    stand = find(harness, edit.target, edit.anchor) or look_up(harness, edit.target)
    return None if stand is None else stand.says
