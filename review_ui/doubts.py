"""What to ask a person, most useful first.

A claim's place in the queue is its doubt times what follows from it: a connector's id settles every wire end at every
place of it, a splice all that meet there, a wire's ends the wires that it meets, a code that runs over a page edge its
partner too; from what the chart, the index or the letters at a ground say nothing else follows. Claims with the same
reading and the same rivals are one question, and so are grounds of one sheet at which nothing could be read. The weights
are our own choice.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, replace

from digitize.harness.claim import Alternative, Claim
from digitize.harness.edits_find import nearest, point_along
from digitize.harness.model import Component, Finding, Harness, PageLink, PrintedText, Wire
from digitize.harness.place import Box
from review_ui.drawing import SURE

Spot = tuple[str, Box]
WIRE_REACH = 5.0
"""How far from a wire's line (mm) its code may be printed to be offered (own choice)."""

NAME_REACH = 12.0
"""How far from a part (mm) its name may be printed to be offered (own choice)."""

SEVERITY = {"fault": 0.9, "doubt": 0.6, "note": 0.25}

CHANCE = {
    "code-on-no-wire": 0.95, "line-past-part": 0.8, "connector-one-sided": 0.6, "wire-back-to-its-dot": 0.95, "load-without-feed": 0.3, "load-without-ground": 0.3,
    "codes-change-at-crossing": 0.95, "part-with-few-wires": 0.5, "diode-blocks-all": 0.2, "index-not-drawn": 0.3,
}  # fmt: skip
"""How often such a finding comes from the reading rather than from the paper (seen on our own drawn manuals); else by severity."""

ON_THE_WAY = frozenset(
    {
        "dangling-end", "edge-without-partner", "splice-too-small", "one-code-two-conductors", "load-without-feed",
        "load-without-ground", "diode-blocks-all", "code-on-no-wire", "connector-one-sided", "line-past-part", "part-with-few-wires",
        "wire-back-to-its-dot", "codes-change-at-crossing",
    }
)  # fmt: skip
"""Checks that speak of a way that current takes: what they are about carries other claims with it."""

BROKEN_WAY = 4
"""Claims that follow from such a finding, or from where a wire ends: both its ends, and both of the wire that is really
drawn there and was not read (own choice)."""

SHAKY = 0.6
"""Ends of a wire less likely than this speak against what they hang on (own choice)."""

LABEL_WEIGHT = 0.1
"""How much the letters at a ground count against other claims: nothing follows from them (own choice)."""

MOST_ALIKE = 12
"""Symbols without readable letters that one answer settles at most: as many as the page shows at once."""


@dataclass(frozen=True, slots=True)
class Doubt:
    """One question.

    Attributes:
        kind: ``code``, ``connector``, ``name``, ``ground``, ``join``, ``ends``, ``edge`` or ``finding``.
        targets: ids of the objects that one answer settles.
        spots: where to look: (sheet, box in mm), one for each target at least.
        value, probability, alternatives: what is believed now.
        why: one line: why it is asked.
        follows: how many claims an answer settles.
        score: doubt times ``follows``, the order of the queue.
    """

    kind: str
    targets: tuple[str, ...]
    spots: tuple[Spot, ...]
    value: str | None
    probability: float
    alternatives: tuple[Alternative, ...]
    why: str
    follows: int
    score: float


Known = dict[str, tuple[Wire, Doubt]]
"""Questions about codes by the wire's id, with the very wire they were worked out from."""


def queue(harness: Harness, known: Known | None = None) -> list[Doubt]:
    """All open questions, most useful first; ties in the order of the ids.

    ``known`` is filled, and given again after an edit it saves the work for wires that are the same as before.
    """
    ends = Counter(e.node for w in harness.wires for e in w.ends if e.node is not None)
    shaky = _shaky(harness)
    single = [
        *_codes(harness, {} if known is None else known),
        *_connectors(harness, ends, shaky),
        *_names(harness, ends),
        *_shapes(harness, shaky),
        *_findings(harness),
    ]
    grouped: dict[object, list[Doubt]] = {}
    bare: dict[tuple[str, tuple[str, ...]], int] = {}
    for doubt in single:
        if doubt.kind == "ground" and doubt.value is None:
            # look-alikes on one sheet, in hands full: a person sees every symbol that the answer is for
            like = (doubt.spots[0][0], tuple(a.text for a in doubt.alternatives[:3]))
            bare[like] = bare.get(like, 0) + 1
            grouped.setdefault((like, (bare[like] - 1) // MOST_ALIKE), []).append(doubt)
            continue
        alike = doubt.kind in {"code", "name", "ground"} and doubt.value is not None
        question: object = (doubt.value, tuple(a.text for a in doubt.alternatives[:3])) if alike else doubt.targets
        grouped.setdefault((doubt.kind, question), []).append(doubt)
    return sorted((_one(group) for group in grouped.values()), key=lambda d: (-d.score, d.targets))


def _one(group: list[Doubt]) -> Doubt:
    if len(group) == 1:
        return group[0]
    first = max(group, key=lambda d: d.score)
    return Doubt(
        first.kind, tuple(t for d in group for t in d.targets), tuple(s for d in group for s in d.spots), first.value,
        min(d.probability for d in group), first.alternatives, first.why, sum(d.follows for d in group), sum(d.score for d in group),
    )  # fmt: skip


def _codes(harness: Harness, known: Known) -> Iterator[Doubt]:
    for wire in harness.wires:
        if wire.code.probability >= SURE:
            continue
        before = known.get(wire.id)
        if before is None or before[0] is not wire:
            follows = 1 + 2 * len(wire.links) + len(wire.grommets)
            before = (wire, _claimed("code", (wire.id,), code_spots(wire), wire.code, follows))
            known[wire.id] = before
        yield before[1]


def _shaky(harness: Harness) -> dict[str, float]:
    """How many wires hang on a dot or an oval that should not: the doubts of their ends, summed up."""
    found: dict[str, float] = {}
    for wire in harness.wires:
        if wire.probability < SHAKY:
            for node in {e.node for e in wire.ends if e.node is not None}:
                found[node] = found.get(node, 0.0) + 1 - wire.probability
    return found


def _connectors(harness: Harness, ends: Counter[str], shaky: dict[str, float]) -> Iterator[Doubt]:
    for connector in harness.connectors:
        if connector.label.probability >= SURE or not connector.places:
            continue
        spots = tuple((p.place.sheet, p.place.box) for p in connector.places)
        follows = 1 + sum(ends[p.id] for p in connector.places) + len(connector.cavities)
        doubt = _claimed("connector", tuple(p.id for p in connector.places), spots, connector.label, follows)
        # lines that hardly fit an oval without readable letters: perhaps there is no oval
        more = sum(shaky.get(p.id, 0.0) for p in connector.places) * (1 - connector.label.probability)
        yield replace(doubt, score=doubt.score + 2 * more)


def _names(harness: Harness, ends: Counter[str]) -> Iterator[Doubt]:
    for part in harness.components:
        if part.name.probability < SURE:
            yield _claimed("name", (part.id,), name_spots(part), part.name, 1 + ends[part.id])
    for ground in harness.grounds:
        if ground.label.probability < SURE:
            spots = _printed(ground.label) or ((ground.place.sheet, ground.place.box),)
            doubt = _claimed("ground", (ground.id,), spots, ground.label, 1)
            yield replace(doubt, score=doubt.score * LABEL_WEIGHT)


def _shapes(harness: Harness, shaky: dict[str, float]) -> Iterator[Doubt]:
    for splice in harness.splices:
        if splice.probability < SURE:
            why = f"{splice.degree} wires seem to meet here, {splice.probability:.0%} sure; a crossing without a dot is no join"
            spots: tuple[Spot, ...] = ((splice.place.sheet, splice.place.box),)
            yield Doubt(
                "join",
                (splice.id,),
                spots,
                None,
                splice.probability,
                (),
                why,
                splice.degree,
                # its answer settles the shaky ends of all wires that meet there
                (1 - splice.probability) * splice.degree + 2 * shaky.get(splice.id, 0.0),
            )
    names = _names_of_nodes(harness)
    # a loose end that a person left as it is was looked at: its wire is not asked about once more
    told = {f.subject for f in harness.findings if f.accepted is None or f.check == "dangling-end"}
    meets = {s.id: s.degree - 1 for s in harness.splices}
    asked = {s.id for s in harness.splices if s.probability < SURE}
    lone = {(p.sheet, p.at) for k in harness.links for p in (k.a, k.b) if p is not None}
    for wire in harness.wires:
        loose = [e for e in wire.ends if e.node is None and (e.sheet, e.at) not in lone]
        if wire.probability >= SURE or wire.id in told:
            continue
        spots = tuple((e.sheet, _around(e.at)) for e in (loose or wire.ends))
        runs = " to ".join(names.get(e.node, "nothing") for e in wire.ends)
        why = (
            f"this wire just stops; it runs from {runs}"
            if loose
            else f"it seems to run from {runs}, only {wire.probability:.0%} surely"
        )
        follows = BROKEN_WAY + 2 * len(wire.links) + min(2, sum(meets.get(e.node or "", 0) for e in wire.ends))
        score = follows * (1 - wire.probability)
        if any(e.node in asked for e in wire.ends):
            score /= 2  # what is asked about the join may well settle it
        yield Doubt("ends", (wire.id,), spots, wire.code.value, wire.probability, (), why, follows, score)
    for link in harness.links:
        if (
            link.id not in told
            and (link.b is None or link.probability < SURE)
            and not (link.b is None and link.probability == 1.0)
        ):
            yield _edge(link)


def _names_of_nodes(harness: Harness) -> dict[str | None, str]:
    """What wires end at, in words."""
    names: dict[str | None, str] = {
        c.id: c.name.value or f"an unnamed {c.kind.replace('_', ' ')}" for c in harness.components
    }
    names |= {p.id: f"connector {c.label.value or 'without an id'}" for c in harness.connectors for p in c.places}
    names |= {s.id: "a join" for s in harness.splices}
    names |= {g.id: f"ground {g.label.value or ''}".strip() for g in harness.grounds}
    return names


class Neighbours:
    """What is printed near what is asked about; made once for a whole queue, because a manual has 50,000 strings."""

    def __init__(self, harness: Harness) -> None:
        """Sort the strings by sheet."""
        self._texts: dict[str, list[PrintedText]] = {}
        for text in harness.texts:
            self._texts.setdefault(text.place.sheet, []).append(text)
        self._wires = {w.id: w for w in harness.wires}

    def of(self, doubt: Doubt) -> list[str]:
        """Strings that could be the lettering asked for, nearest first, four at most."""
        if doubt.kind not in {"code", "name", "connector", "ground"}:
            return []
        if doubt.value is None and len(doubt.targets) > 1:
            return []  # what is printed near one of many symbols is no answer for all of them
        known = {doubt.value, *(a.text for a in doubt.alternatives)}
        found: dict[str, float] = {}
        if doubt.kind == "code":
            paths = [p for t in doubt.targets if t in self._wires for p in self._wires[t].paths]
            for path in paths:
                for text in self._texts.get(path.sheet, ()):
                    if text.role == "code" and text.text not in known:
                        away = nearest(path.points, text.place.box.centre)[0]
                        if away <= WIRE_REACH:
                            found[text.text] = min(away, found.get(text.text, math.inf))
        else:
            for sheet, box in doubt.spots:
                for text in self._texts.get(sheet, ()):
                    if text.role not in {"code", "zone", "note"} and text.text not in known:
                        away = _apart(text.place.box, box)
                        if away <= NAME_REACH:
                            found[text.text] = min(away, found.get(text.text, math.inf))
        return sorted(found, key=lambda t: (found[t], t))[:4]


def _apart(one: Box, two: Box) -> float:
    """Gap between two boxes, mm; 0 when they touch."""
    return math.hypot(max(one.x0 - two.x1, two.x0 - one.x1, 0), max(one.y0 - two.y1, two.y0 - one.y1, 0))


def _edge(link: PageLink) -> Doubt:
    points = (link.a,) if link.b is None else (link.a, link.b)
    why = (
        "no page goes on from here"
        if link.b is None
        else f"these two page edges are only {link.probability:.0%} surely one wire"
    )
    probability = 0.2 if link.b is None else link.probability
    spots = tuple((p.sheet, _around(p.at)) for p in points)
    return Doubt("edge", (link.id,), spots, link.code.value, probability, (), why, 3, 3 * (1 - probability))


def _findings(harness: Harness) -> Iterator[Doubt]:
    ends = {w.id: w.probability for w in harness.wires}
    for finding in harness.findings:
        if finding.accepted is None:
            yield _found(finding, ends)


def _found(finding: Finding, ends: dict[str, float]) -> Doubt:
    weight = CHANCE.get(finding.check, SEVERITY.get(finding.severity, SEVERITY["doubt"]))
    if finding.check == "dangling-end" and finding.subject in ends:
        weight = max(weight / 2, 1 - ends[finding.subject])
    spots = tuple((p.sheet, p.box) for p in finding.places)
    follows = BROKEN_WAY if finding.check in ON_THE_WAY else 1
    return Doubt(
        "finding",
        (finding.id,),
        spots,
        None,
        1 - weight,
        (),
        f"{finding.why} {finding.settle}",
        follows,
        weight * follows,
    )


def _claimed(kind: str, targets: tuple[str, ...], spots: tuple[Spot, ...], claim: Claim, follows: int) -> Doubt:
    return Doubt(
        kind,
        targets,
        spots,
        claim.value,
        claim.probability,
        claim.alternatives,
        reason(claim),
        follows,
        (1 - claim.probability) * follows,
    )


def reason(claim: Claim) -> str:
    """One line on why a claim is doubtful: a voice against it, a close rival, or a weak reading."""
    against = next(
        (e for e in claim.evidence if e.kind not in {"read", "drawn", "key"} and e.says != claim.value), None
    )
    if against is not None:
        source = {
            "edge": "the page edge's partner",
            "chart": "the connector chart",
            "index": "the index",
            "repeat": "the same wire elsewhere",
        }
        return f"{source.get(against.kind, against.kind)} says “{against.says}”"
    if claim.value is None:
        return "something may be printed here that could not be read"
    rival = next((a for a in claim.alternatives if a.text != claim.value), None)
    if rival is not None and rival.probability > claim.probability / 4:
        return f"read {claim.probability:.0%} surely; it could also be “{rival.text}” ({rival.probability:.0%})"
    return f"read only {claim.probability:.0%} surely"


def code_spots(wire: Wire) -> tuple[Spot, ...]:
    """Where a wire's code is printed; the middle of the wire when that is not on record."""
    printed = _printed(wire.code)
    if printed:
        return printed
    longest = max(wire.paths, key=lambda p: len(p.points))
    return ((longest.sheet, _around(point_along(longest.points, 0.5))),)


def name_spots(part: Component) -> tuple[Spot, ...]:
    """Where a component's name is printed; the component itself when that is not on record."""
    return _printed(part.name) or ((part.place.sheet, part.place.box),)


def _printed(claim: Claim) -> tuple[Spot, ...]:
    return tuple(
        (e.place.sheet, e.place.box) for e in claim.evidence if e.kind in {"read", "repeat"} and e.place is not None
    )


def _around(at: tuple[float, float]) -> Box:
    return Box(at[0] - 4, at[1] - 4, at[0] + 4, at[1] + 4)
