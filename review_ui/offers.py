"""Answers that are the repair: for a question about lines, what a person would do, likeliest first, one key each.

Every offer is an order as the page sends it. The last one leaves everything as it was read. What an offer takes for likely
is only its place in the list; what is true is for the person to see on the crop.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from digitize.errors import NotFound
from digitize.harness.model import Component, Finding, Harness, Wire, WireEnd
from review_ui.doubts import Doubt
from review_ui.offers_missed import PART_REACH, Missed, Offer, Pixels, at_terminal, end_number
from review_ui.orders import (
    EndName,
    HookName,
    LineName,
    Order,
    OrderAccept,
    OrderConfirm,
    OrderJoin,
    OrderMoveEnd,
    OrderPartner,
    OrderPlain,
    OrderSplice,
    OrderWire,
)
from review_ui.surroundings import Target, heading_of

MOST = 9
"""As many as there are number keys."""

BORDER = 25.0
"""How far (mm) from the edge of the page a line stops that goes on overleaf: the margin and the frame."""

SO_ON_PAPER = "it is so on the page"
"""The reason that stands with a finding accepted by one key."""


class Offers:
    """Offers for the questions about one harness."""

    def __init__(self, harness: Harness, pixels: Pixels) -> None:
        """Made once for the questions that are shown at one time."""
        self._harness = harness
        self._pixels = pixels
        self._missed = Missed(harness, pixels)
        self._around = self._missed.around
        self._wires, self._parts, self._ovals = self._missed.wires, self._missed.parts, self._missed.ovals
        self._splices = {s.id: s for s in harness.splices}
        self._findings = {f.id: f for f in harness.findings}

    def of(self, doubt: Doubt) -> list[Offer]:
        """The answers to a question, likeliest first, nine at most. To readings of letters they come last."""
        target = doubt.targets[0]
        try:
            match doubt.kind:
                case "ends" if target in self._wires:
                    wire = self._wires[target]
                    keep = Offer(
                        "Both its ends are right", OrderConfirm(do="confirm", targets=(target,), aspect="ends")
                    )
                    return _short([*self._wire(wire)], keep)
                case "join":
                    keep = Offer("They join here", OrderConfirm(do="confirm", targets=doubt.targets))
                    pass_ = Offer("They pass without joining", OrderPlain(do="unsplice", target=target))
                    return [keep, pass_]
                case "connector" | "name" | "ground" if len(doubt.targets) == 1:
                    return [Offer("Nothing of the kind is drawn there", OrderPlain(do="remove", target=target))]
                case "finding" if target in self._findings:
                    return self._finding(self._findings[target])
        except NotFound:  # a correction took the thing away since the doubt was listed: nothing is left to offer
            return []
        return []

    # -- findings ------------------------------------------------------------------------------------------------------
    def _finding(self, finding: Finding) -> list[Offer]:
        keep = Offer("It is so on the page", OrderAccept(do="accept", target=finding.id, reason=SO_ON_PAPER))
        subject = finding.subject
        offers: list[Offer] = []
        match finding.check:
            case "dangling-end" | "wire-back-to-its-dot" if subject in self._wires:
                offers = [*self._wire(self._wires[subject])]
            case "codes-change-at-crossing":
                offers = [*self._joined(finding)]
            case "code-on-no-wire":
                offers = [*self._missed.lettering(finding)]
            case "connector-one-sided" if subject in self._ovals:
                offers = [*self._missed.half(finding, self._ovals[subject][1])]
            case "line-past-part" if subject in self._parts:
                offers = [*self._past(finding, self._parts[subject])]
                wires = [w for w in finding.id.rpartition("/")[2].rsplit(" ", 1)[:1] if w in self._wires]
                if wires:
                    keep = Offer("It ends there", OrderConfirm(do="confirm", targets=(wires[0],), aspect="ends"))
            case "part-with-few-wires" | "load-without-feed" | "load-without-ground" if subject in self._parts:
                offers = [*self._missed.poles(self._parts[subject])]
            case "splice-too-small" if subject in self._splices:
                offers = [Offer("It is no join", OrderPlain(do="unsplice", target=subject)), *self._more_at(subject)]
            case "connector-not-in-chart" | "connector-not-drawn":
                offers = [
                    Offer(f"No {self._missed.called(p)} is drawn there", OrderPlain(do="remove", target=p))
                    for p, (label, oval) in self._ovals.items()
                    if label == subject or any(oval.place.box == x.box for x in finding.places)
                ]
            case "edge-without-partner":
                offers = [*self._overleaf(subject)]
                lone = next((k.a for k in self._harness.links if k.id == subject), None)
                ends = [
                    (w, i)
                    for w in self._harness.wires
                    for i, e in enumerate(w.ends)
                    if lone is not None and e.node is None and (e.sheet, e.at) == (lone.sheet, lone.at)
                ]
                offers += [offer for w, i in ends for offer in self._over_the_edge(w, i)]
            case "one-code-two-conductors":
                offers = [*self._twice(subject)]
        return _short(offers, keep)

    def _joined(self, finding: Finding) -> Iterator[Offer]:
        """Two lines that cross and change their codes there: a dot where they cross."""
        for n, place in enumerate(finding.places):
            at = self._pixels(place.sheet, place.box.centre)
            again = "" if n == 0 else ", where they cross once more"
            yield Offer(f"They join there{again}", OrderSplice(do="splice", sheet=place.sheet, at=at))

    def _wire(self, wire: Wire) -> Iterator[Offer]:
        """What may be wrong with a wire: false dots and symbols at its ends, a part it runs past, loose ends, itself."""
        for i in self._around.loose(wire):
            yield from self._loose(wire, i)
        for i in (0, 1):
            yield from self._false_node(wire, i)
            end = wire.ends[i]
            if end.node in self._parts:
                yield from self._straight_on(wire, i, self._parts[end.node])
        yield Offer("There is no such wire", OrderPlain(do="delete", target=wire.id))

    def _loose(self, wire: Wire, i: int) -> Iterator[Offer]:
        end = wire.ends[i]
        code = wire.code.value
        beyond = self._around.across(end.sheet, end.at)
        at, heading, printed = beyond or (end.at, heading_of(wire, i), None)
        targets = self._around.targets(end.sheet, at, heading, code=code or printed, skip=wire.id)
        missed = [*self._missed.part(end.sheet, end.at)]
        over = " past the lettering" if beyond is not None else ""
        given = printed if code is None else None
        offers = [self._go_on(wire, i, target, over, given) for target in targets[:4]]
        yield from self._over_the_edge(wire, i)
        yield from offers[:1]
        yield from missed
        yield from offers[1:]

    def _over_the_edge(self, wire: Wire, i: int) -> Iterator[Offer]:
        """A line that stops at the border of its sheet: lines that begin at the facing border of another."""
        end = wire.ends[i]
        side = self._border(end)
        if side is None:
            return
        found = []
        for other in self._harness.wires:
            for j, far in enumerate(other.ends):
                if far.node is None and far.sheet != end.sheet and self._border(far) == (1 - side):
                    found.append((other.code.value != wire.code.value, abs(far.at[1] - end.at[1]), other.id, j))
        for _, _, id_, j in sorted(found)[:2]:
            other = self._wires[id_]
            first, second = (
                EndName(wire=wire.id, end=end_number(i)),
                EndName(wire=id_, end=end_number(j)),
            )
            says = f"It goes on overleaf as {other.code.value or 'the wire without a code'} on {other.ends[j].sheet}"
            yield Offer(says, OrderJoin(do="join", first=first, second=second))

    def _border(self, end: WireEnd) -> int | None:
        """0 for an end at the left border of its sheet, 1 at the right one, None elsewhere."""
        note = next((n for n in self._harness.sheets if n.id == end.sheet), None)
        if note is None or min(end.at[0], note.width - end.at[0]) > BORDER:
            return None
        return 0 if end.at[0] < note.width / 2 else 1

    def _go_on(self, wire: Wire, i: int, target: Target, over: str, code: str | None) -> Offer:
        """``code``: what is printed in the line between, for a wire whose code was not read."""
        first = EndName(wire=wire.id, end=end_number(i))
        sheet = wire.ends[i].sheet
        if target.kind == "end":
            other = self._wires[target.id]
            order: Order = OrderJoin(
                do="join", first=first, second=EndName(wire=target.id, end=end_number(int(target.part)))
            )
            return Offer(f"It goes on{over} as {other.code.value or 'the wire without a code'}", order)
        if target.kind == "line":
            other = self._wires[target.id]
            points = (self._pixels(sheet, wire.ends[i].at), self._pixels(sheet, target.at))
            order = OrderWire(do="wire", sheet=sheet, points=points, ends=(first, LineName(line=target.id)))
            return Offer(f"It joins {other.code.value or 'a wire without a code'} there", order)
        order = OrderMoveEnd(
            do="move_end", target=wire.id, end=end_number(i), sheet=sheet, to=HookName(node=target.id, terminal=target.part),
            at=self._pixels(sheet, target.at),
        )  # fmt: skip
        if code is not None:
            points = (self._pixels(sheet, wire.ends[i].at), self._pixels(sheet, target.at))
            hook = HookName(node=target.id, terminal=target.part)
            order = OrderWire(do="wire", sheet=sheet, points=points, ends=(first, hook), code=code)
        return Offer(f"It ends{over} at {self._missed.called(target.id)}{at_terminal(target.part)}", order)

    def _false_node(self, wire: Wire, i: int) -> Iterator[Offer]:
        node = wire.ends[i].node
        if node in self._splices and self._splices[node].probability < 1.0:
            yield Offer("No join there: lines pass", OrderPlain(do="unsplice", target=node))
        elif node in self._ovals:
            yield Offer(f"No {self._missed.called(node)} is drawn there", OrderPlain(do="remove", target=node))
        elif node in self._parts and self._parts[node].probability < 0.97:
            yield Offer(f"No part is drawn there ({self._missed.called(node)})", OrderPlain(do="remove", target=node))

    def _straight_on(self, wire: Wire, i: int, part: Component) -> Iterator[Offer]:
        """Another wire that leaves the part straight on: the line may run behind it or along its rim."""
        end, heading = wire.ends[i], heading_of(wire, i)
        for other in self._around.wires[end.sheet]:
            for j, far in enumerate(other.ends):
                if other.id == wire.id or far.node != part.id or far.terminal == end.terminal:
                    continue
                gap = (far.at[0] - end.at[0], far.at[1] - end.at[1])
                along = gap[0] * heading[0] + gap[1] * heading[1]
                aside = abs(gap[0] * heading[1] - gap[1] * heading[0])
                back = heading_of(other, j)
                if along > 0 and aside <= 1.0 and heading[0] * back[0] + heading[1] * back[1] < 0.3:
                    order = OrderJoin(
                        do="join",
                        first=EndName(wire=wire.id, end=end_number(i)),
                        second=EndName(wire=other.id, end=end_number(j)),
                    )
                    yield Offer(f"One wire: it passes {self._missed.called(part.id)}", order)

    def _past(self, finding: Finding, part: Component) -> Iterator[Offer]:
        """The line at a part's corner: it goes on behind the part, or turns round and comes in at the other side."""
        wire_id = finding.id.rpartition("/")[2].rsplit(" ", 1)[0]
        wire = self._wires.get(wire_id)
        if wire is None:
            return
        where = finding.places[0].box.centre
        i = min((0, 1), key=lambda k: math.dist(wire.ends[k].at, where) if wire.ends[k].node == part.id else math.inf)
        yield from self._straight_on(wire, i, part)
        spots = [t.at for t in part.terminals if t.id != wire.ends[i].terminal]
        centre = part.place.box.centre
        inner = min(spots, key=lambda p: min(abs(p[0] - centre[0]), abs(p[1] - centre[1])), default=None)
        if inner is None:
            return
        heading = heading_of(wire, i)
        level = abs(heading[0]) >= abs(heading[1])
        at = (2 * centre[0] - inner[0], inner[1]) if level else (inner[0], 2 * centre[1] - inner[1])
        free = next((t for t in part.terminals if math.dist(t.at, at) <= 3.0), None)
        if free is not None and (part.id, free.id) in self._around.used:
            return
        order = OrderMoveEnd(
            do="move_end", target=wire.id, end=end_number(i), sheet=part.place.sheet, at=self._pixels(part.place.sheet, at),
            to=HookName(node=part.id, terminal="new" if free is None else free.id),
        )  # fmt: skip
        yield Offer(f"It runs past and comes into {self._missed.called(part.id)} from the other side", order)

    def _more_at(self, splice: str) -> Iterator[Offer]:
        """Loose ends near a dot that too few wires meet at."""
        dot = self._splices[splice]
        for wire in self._around.wires[dot.place.sheet]:
            for i in self._around.loose(wire):
                if wire.ends[i].sheet == dot.place.sheet and math.dist(wire.ends[i].at, dot.at) <= PART_REACH:
                    order = OrderMoveEnd(
                        do="move_end", target=wire.id, end=end_number(i), sheet=dot.place.sheet,
                        to=HookName(node=splice, terminal="*"), at=self._pixels(dot.place.sheet, dot.at),
                    )  # fmt: skip
                    yield Offer(f"{wire.code.value or 'The wire without a code'} meets there too", order)

    def _overleaf(self, subject: str) -> Iterator[Offer]:
        """Other lone page edges, those with the same code first."""
        links = self._harness.links
        mine = next((k for k in links if k.id == subject), None)
        if mine is None:
            return
        lone = [k for k in links if k.b is None and k.id != subject and k.a.sheet != mine.a.sheet]
        lone.sort(key=lambda k: (k.code.value != mine.code.value, abs(k.a.at[1] - mine.a.at[1]), k.id))
        for k in lone[:4]:
            zone = f", {k.a.zone}" if k.a.zone else ""
            order = OrderPartner(do="partner", target=subject, partner=k.id)
            yield Offer(f"It goes on at {k.code.value or 'the edge'} on {k.a.sheet}{zone}", order)

    def _twice(self, code: str) -> Iterator[Offer]:
        """One code on two conductors: loose ends of the two belong together."""
        wires = [w for w in self._harness.wires if w.code.value == code]
        loose = [(w, i) for w in wires for i in self._around.loose(w)]
        for n, (one, i) in enumerate(loose):
            for two, j in loose[n + 1 :]:
                if one.id != two.id and one.ends[i].sheet == two.ends[j].sheet:
                    first, second = EndName(wire=one.id, end=end_number(i)), EndName(wire=two.id, end=end_number(j))
                    yield Offer("The two are one wire", OrderJoin(do="join", first=first, second=second))


def told(offers: list[Offer]) -> dict[str, list[dict[str, object]]]:
    """Offers as the page gets them."""
    return {"offers": [{"says": o.says, "order": o.order.model_dump(mode="json")} for o in offers]}


def _short(offers: list[Offer], keep: Offer) -> list[Offer]:
    """Each order once, with ``keep`` last; nine in all."""
    found: list[Offer] = []
    for offer in offers:
        if all(offer.order != o.order for o in found):
            found.append(offer)
    return [*found[: MOST - 1], keep]
