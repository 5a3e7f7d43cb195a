"""From passages to hops that a person can follow: names, words, zones, page turns, cavities, and what to look at."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from digitize.harness.folding import solid
from digitize.harness.graph import Key, end_key
from digitize.harness.model import Component, EdgePoint, Wire
from digitize.harness.place import Box, Place, Point
from digitize.trace.network import Network, Pass
from digitize.trace.state import CHECK_BELOW, Fitting, Leg, Spot, Stop, Turn
from digitize.trace.words import Wording

PERSON = 1.0
"""Only a person's word is certain; everything the program reads stays below."""

GAP_CHANCE = 0.5
"""What a way over a gap is believed at most: it stands on a guess (own choice)."""

KIND_NOTES = {
    "switch": "passes when this switch is closed",
    "contact": "passes when its coil is energized",
    "diode": "current passes only the way of the arrow",
    "sender": "earthed through this sender: how much current passes depends on what it measures",
    "case": "earthed through its case: its mounting must make clean metal contact",
    "load": "earthed through its case: its mounting must make clean metal contact",
    "inside": "its inside is not drawn; that it joins these terminals is a guess from its kind",
    "same cavity": "the same cavity of the connector, drawn again here",
    "bar": "which bar of the block feeds this fuse was not read; the one drawn nearest is taken",
}


class Legs:
    """Makes stops and legs for one network. ``done``: ids of the sheets that a person went through."""

    def __init__(self, network: Network, done: frozenset[str]) -> None:
        self.network = network
        self.wording = Wording(network.harness)
        self._done = done
        self._zoned: list[Place] | None = None
        self._sheets = {s.id: s for s in network.harness.sheets}
        self._links = {link.id: link for link in network.harness.links}
        self._grommets = {m.id: m.label for m in network.harness.grommets}
        self._component_at = {(c.id, t.id): t.at for c in network.harness.components for t in c.terminals}

    # stops

    def spot(self, place: Place, at: Point | None = None) -> Spot:
        """A place as a spot to look at."""
        note = self._sheets.get(place.sheet)
        number, label = (0, None) if note is None else (note.number, note.label)
        return Spot(place.sheet, number, label, place.zone, at, place.box, place.zone_nominal)

    def stop(self, key: Key) -> Stop:
        """The stop at a key."""
        node, terminal = key
        net = self.network
        if node in net.graph.components:
            c = net.graph.components[node]
            at = self._component_at.get(key, c.place.box.centre)
            return Stop(node, terminal, c.kind, c.name.value or "", self.spot(c.place, at), self.about(node))
        if node in net.drawn:
            connector, d = net.drawn[node]
            at = next((t.at for t in d.terminals if t.id == terminal), d.place.box.centre)
            return Stop(node, terminal, "connector", connector.label.value or "", self.spot(d.place, at))
        if node in net.splices:
            s = net.splices[node]
            return Stop(node, terminal, "splice", "", self.spot(s.place, s.at))
        if node in net.grounds:
            g = net.grounds[node]
            return Stop(node, terminal, "ground", g.label.value or "", self.spot(g.place, g.at))
        if node in net.graph.wires:
            end = net.graph.wires[node].ends[terminal == "end1"]
            return Stop(node, terminal, "open end", "", self._near(end.sheet, end.at))
        return Stop(node, terminal, "unknown", "", Spot("", 0, None, None))

    def about(self, node: str) -> str:
        """A part's rating and the block that a fuse sits in; "" when there is nothing to say."""
        c = self.network.graph.components.get(node)
        if c is None:
            return ""
        block = self.network.graph.components.get(c.parent or "")
        said = (c.rating, None if block is None else f"in {block.name.value or 'an unnamed fuse block'}")
        return ", ".join(x for x in said if x)

    def _near(self, sheet: str, at: Point, zone: str | None = None) -> Spot:
        return self.spot(Place(sheet, Box(*at, *at), zone), at)

    def zone_near(self, sheet: str, at: Point) -> str | None:
        """The zone of what is drawn nearest to a point that has no zone of its own; None on a sheet without zones."""
        if self._zoned is None:
            h = self.network.harness
            places = [c.place for c in h.components] + [x.place for x in h.splices] + [g.place for g in h.grounds]
            places += [d.place for k in h.connectors for d in k.places]
            places += [e.place for w in h.wires for e in w.code.evidence if e.place is not None]
            self._zoned = [p for p in places if p.zone is not None]
        here = [p for p in self._zoned if p.sheet == sheet]
        near = min(here, key=lambda p: (math.dist(p.box.centre, at), p.zone or ""), default=None)
        return None if near is None else near.zone

    # legs

    def legs(self, passes: Sequence[Pass]) -> tuple[Leg, ...]:
        """The legs of a way, in order."""
        return tuple(self._leg(p, passes, i) for i, p in enumerate(passes))

    def _leg(self, p: Pass, passes: Sequence[Pass], i: int) -> Leg:
        if p.kind == "wire":
            return self._wire(p)
        if p.kind in {"connector", "same cavity"}:
            beside = [q.by for q in passes[max(0, i - 1) : i + 2] if q.kind == "wire"]
            return self._connector(p, beside)
        return self._gap(p) if p.kind == "gap" else self._part(p)

    def _gap(self, p: Pass) -> Leg:
        w = self.network.graph.wires[p.by]
        why = next(g.why for g in self.network.gaps if {g.one, g.other} == {p.start, p.end})
        chance = min(w.probability, GAP_CHANCE)
        return Leg(
            "gap", w.id, w.code.value, "probably goes on here: not drawn, or not read", self.stop(p.start), self.stop(p.end), (),
            (), None, chance, w.code.probability, False, p.sure, (why,),
        )  # fmt: skip

    def _wire(self, p: Pass) -> Leg:
        w = self.network.graph.wires[p.by]
        forward = end_key(w, 0) == p.start
        turns = tuple(self._turns(w, forward))
        sheets = {w.ends[0].sheet, w.ends[1].sheet, *(path.sheet for path in w.paths)}
        notes = [] if w.code.value is not None else ["no code was read on this wire"]
        chance = w.probability
        for link in (self._links[x] for x in w.links if x in self._links):
            if link.b is None:
                notes.append("the page edge it runs over has no partner that was read")
            chance = min(chance, link.probability)
        sure = w.code.probability if w.code.value is not None else 1.0
        passed = [(g, self._grommets[g]) for g in (w.grommets if forward else w.grommets[::-1]) if g in self._grommets]
        notes += [
            f"the name of grommet {claim.value} was read with {claim.probability:.0%} certainty"
            for _, claim in passed
            if claim.value is not None and claim.probability < CHECK_BELOW
        ]
        return Leg(
            "wire", w.id, w.code.value, self.wording.code(w.parsed), self.stop(p.start), self.stop(p.end), turns,
            tuple(claim.value or g for g, claim in passed), None, chance, sure,
            self._confirmed(sheets, min(chance, sure)), p.sure, tuple(notes),
        )  # fmt: skip

    def _turns(self, w: Wire, forward: bool) -> Iterator[Turn]:
        """The page turns along a wire, walked from its first end when ``forward``."""
        ends = w.ends if forward else w.ends[::-1]
        here, goal = ends[0].sheet, ends[1].sheet
        links = [self._links[x] for x in w.links if x in self._links]
        turned = False
        for link in links if forward else links[::-1]:
            if link.b is None:
                continue
            one, other = (link.a, link.b) if link.a.sheet == here else (link.b, link.a)
            yield Turn(self._edge(one), self._edge(other))
            here, turned = other.sheet, True
        if here != goal:
            start = self._near(ends[0].sheet, ends[0].at) if not turned else self._near(here, (0.0, 0.0))
            yield Turn(start, self._near(goal, ends[1].at))

    def _edge(self, e: EdgePoint) -> Spot:
        return self._near(e.sheet, e.at, e.zone)

    def _connector(self, p: Pass, beside: Sequence[str]) -> Leg:
        connector, d = self.network.drawn[p.by]
        n = int(p.start[1][1:]) - 1
        cavity = d.cavities[n] if 0 <= n < len(d.cavities) else None
        row = next((c for c in connector.cavities if cavity is not None and solid(c.label) == solid(cavity)), None)
        names = connector.half_names or (None, None)
        codes = (None, None) if row is None else (row.a.value, row.b.value)
        halves = ((names[0], codes[0]), (names[1], codes[1]))
        from_a = p.start[1].startswith("a")
        fitting = Fitting(
            connector.id, connector.label.value, cavity, halves if from_a else halves[::-1], connector.location,
            connector.part,
        )  # fmt: skip
        notes = [KIND_NOTES["same cavity"]] if p.kind == "same cavity" else []
        printed = {solid(c) for c in codes if c}
        for wire in beside if all(codes) else ():
            code = self.network.graph.wires[wire].code.value
            if code is not None and solid(code) not in printed:
                told = " and ".join(dict.fromkeys(c for c in codes if c))
                notes.append(f"the chart gives {told} for this cavity, the page shows {code}")
        if not fitting.location and not fitting.part:
            notes.append("its place in the vehicle is not known")
        sheets = {d.place.sheet}
        return Leg(
            p.kind, p.by, connector.label.value, "through the connector", self.stop(p.start), self.stop(p.end), (), (),
            fitting, d.probability, connector.label.probability,
            self._confirmed(sheets, min(d.probability, connector.label.probability)), p.sure, tuple(notes),
        )  # fmt: skip

    def _part(self, p: Pass) -> Leg:
        c = self.network.graph.components[p.by]
        sure = 1.0 if c.name.value is None else c.name.probability
        note = KIND_NOTES.get(p.kind)
        notes = () if note is None or (p.kind == "bar" and p.sure) else (note,)
        chance = min(c.probability, p.chance)
        return Leg(
            p.kind, c.id, c.name.value, part_words(c, p), self.stop(p.start), self.stop(p.end), (), (), None,
            chance, sure, self._confirmed({c.place.sheet}, min(chance, sure)), p.sure, (*notes, *self._assumed(p)),
        )  # fmt: skip

    def _assumed(self, p: Pass) -> tuple[str, ...]:
        """What is only assumed of a switch's or relay's inside, in a sentence."""
        if p.sure or p.kind not in {"switch", "contact"}:
            return ()
        inside = self.network.insides.get(p.by)
        if inside is not None:
            return (f"which of its terminals are coil and contact was not read inside it: assumed by {inside.why}",)
        common = self.network.commons.get(p.by)
        if common is not None:
            labels = {t.id: t.label or t.id for t in self.network.graph.components[p.by].terminals}
            return (f"its inside was not read: {labels[common]} is taken for its common terminal",)
        return ("which of its terminals belong together was not read: that these two do is a guess",)

    def _confirmed(self, sheets: set[str], probability: float) -> bool:
        return probability >= PERSON or sheets <= self._done


def part_words(c: Component, p: Pass) -> str:
    """What a part does on the way: ``fuse 7, 15A``, ``through the switch, C to S``."""
    kind = c.kind.replace("_", " ")
    if p.kind in {"fuse", "bar"} and c.kind == "fuse":
        return ", ".join(x for x in (f"fuse {c.name.value or '(number unread)'}", c.rating) if x)
    if p.end[1] == "case":
        return f"through the case of the {kind}"
    labels = {t.id: t.label or t.id for t in c.terminals}
    rating = f", {c.rating}" if c.rating else ""
    return f"through the {kind}, {labels.get(p.start[1], p.start[1])} to {labels.get(p.end[1], p.end[1])}{rating}"
