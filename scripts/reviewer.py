"""The simulated reviewer: answers the desk's questions from the truth, one at a time, and counts keys and clicks.

It works on a real manual through the desk's own queue and orders, and knows nothing that a person who looks at the scan
would not see. Costs are those of the page: a number key for a ranked reading, ``T`` with the letters and Enter for a typed
one, a tool's key with its clicks for a repair. A question that still stands after its answer is put aside.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import Literal

from digitize.errors import DigitizeError
from digitize.harness.model import EdgePoint, Finding, PageLink, Wire
from fixtures.compare_match import distance_to, plain, same_edge
from fixtures.truth import TrueEdge, Truth
from review_ui.desk import Desk
from review_ui.doubts import Doubt, Neighbours
from review_ui.drawing import SURE
from review_ui.offers import SO_ON_PAPER
from review_ui.orders import (
    Order,
    OrderAccept,
    OrderCode,
    OrderConfirm,
    OrderConnector,
    OrderName,
    OrderPartner,
    OrderPlain,
    OrderUnreadable,
)
from scripts.reviewer_eye import true_here
from scripts.reviewer_mend import Step, anew, draw, next_step, sure
from scripts.reviewer_truth import Ground, View

WHO = "simulated reviewer"
PATIENCE = 3
"""Repairs of one wire after which the reviewer takes it away and draws it anew (own choice)."""

IN_SIGHT = 10.0
"""How far (mm) from the lettering asked about a line may run to be seen on its crop (the margin that the page shows)."""

Way = Literal["queue", "top to bottom"]


@dataclass(slots=True)
class Tally:
    """What the review cost so far, and the curve: (answers, F1 of wire ends), starting at 0 answers.

    ``asked``: answers when the queue was empty; what comes after is found by reading the sheets over. ``refused``: orders
    that the desk did not take, which is a fault of the reviewer or of the desk. ``pages``: F1 of each sheet when the queue
    was empty.
    """

    answers: int = 0
    corrections: int = 0
    keys: int = 0
    clicks: int = 0
    asked: int = 0
    kinds: Counter[str] = field(default_factory=Counter)
    refused: list[str] = field(default_factory=list)
    curve: list[tuple[int, float]] = field(default_factory=list)
    pages: dict[str, float] = field(default_factory=dict)

    def reaches(self, f1: float) -> int | None:
        """Answers after which F1 is at least ``f1`` for the first time; None when it never is."""
        return next((n for n, v in self.curve if v >= f1), None)


class Reviewer:
    """One sitting over one manual."""

    def __init__(self, desk: Desk, truth: Truth) -> None:
        """``desk``: a manual read from the pages of ``truth``; it will be edited."""
        self.desk = desk
        harness = desk.manual.reviewed().harness
        numbers = {s.id: s.number for s in harness.sheets}
        mappings = {f.sheet: f.mapping for f in desk.all_facts()}
        self.ground = Ground(truth, mappings, numbers)
        self.numbers = numbers
        self.tally = Tally()
        self.view = View(self.ground, harness)

    def review(self, way: Way, most: int = 2000) -> Tally:
        """Answer until no question is left (``most`` answers at most), then read the sheets over for what was not asked."""
        self._note()
        aside: set[tuple[str, tuple[str, ...]]] = set()
        again: Counter[tuple[str, tuple[str, ...]]] = Counter()
        while self.tally.answers < most:
            doubt = self._next(way, aside)
            if doubt is None:
                break
            question = (doubt.kind, doubt.targets)
            again[question] += 1
            self.tally.answers += 1
            self.tally.kinds[doubt.kind] += 1
            before = self.tally.corrections
            self._answer(doubt)
            if self.tally.corrections == before or again[question] >= PATIENCE:
                aside.add(question)  # an answer that changed nothing is not given twice
            self._note()
        self.tally.asked = self.tally.answers
        self.tally.pages = self.view.ends_f1_by_page()
        self._read_over(most)
        return self.tally

    def _next(self, way: Way, aside: set[tuple[str, tuple[str, ...]]]) -> Doubt | None:
        left = [d for d in self.desk.doubts() if (d.kind, d.targets) not in aside]
        if way == "queue":
            return left[0] if left else None

        def place(doubt: Doubt) -> tuple[int, float, float]:
            if not doubt.spots:
                return (10**6, 0.0, 0.0)
            sheet, box = doubt.spots[0]
            return (self.numbers.get(sheet, 10**6), box.y0, box.x0)

        return min(left, key=place, default=None)

    def _note(self) -> None:
        self.view = View(self.ground, self.desk.manual.latest_at()[1].harness)
        self.tally.curve.append((self.tally.answers, self.view.ends_f1()))

    def _do(self, step: Step) -> tuple[str, ...] | None:
        """Send one order; ids that it touched, None when the desk did not take it."""
        revision = self.desk.manual.latest_at()[0]
        try:
            done = self.desk.decide(step.order, revision, WHO, None)
        except DigitizeError as fault:
            self.tally.refused.append(f"{step.order.do}: {fault.what}")
            return None
        self.tally.keys += step.keys
        self.tally.clicks += step.clicks
        self.tally.corrections += step.corrects
        self.view = View(self.ground, self.desk.manual.latest_at()[1].harness)
        return tuple(done["touched"])

    # -- answers -------------------------------------------------------------------------------------------------------
    def _answer(self, doubt: Doubt) -> None:
        if self._chosen(doubt):
            return
        match doubt.kind:
            case "code" | "connector" | "name" | "ground":
                self._letters(doubt)
            case "join":
                joined = doubt.targets[0] in self.view.matched
                false = OrderPlain(do="unsplice", target=doubt.targets[0])
                good = OrderConfirm(do="confirm", targets=doubt.targets)
                done = self._do(Step(good, 1, 0, corrects=False) if joined else Step(false, 1, 0))
                if done is not None and not joined:
                    self._mend(done)
            case "ends":
                self._mend(doubt.targets)
            case "edge":
                self._edge(doubt.targets[0])
            case "finding":
                self._finding(doubt.targets[0])
            case _:
                raise AssertionError(doubt.kind)

    def _chosen(self, doubt: Doubt) -> bool:
        """Take the first offer that is true on the paper; False when none is."""
        for offer in self.desk.offers().of(doubt):
            if true_here(self.view, offer.order):
                kept = isinstance(offer.order, OrderConfirm)
                done = self._do(Step(offer.order, 1, 0, corrects=not kept))
                if done is not None and not kept:
                    self._mend(tuple(t for t in done if self._looks_done(t)))
                return done is not None
        return False

    def _looks_done(self, target: str) -> bool:
        """True for a wire that the desk will not ask about again; a wrong one must be mended while it is in view."""
        wire = self.view.wires.get(target)
        return wire is not None and wire.probability >= SURE and all(e.node is not None for e in wire.ends)

    def _letters(self, doubt: Doubt) -> None:
        """The answer that holds for most of the targets goes to all; the others are put right one by one on their slips."""
        truths = {t: self._printed(doubt.kind, t) for t in doubt.targets}
        texts = Counter(text for text in truths.values() if text is not False)
        false = [t for t, text in truths.items() if text is False]
        if texts:
            whole = texts.most_common(1)[0][0]
            self._do(self._said(doubt, doubt.targets, whole))
            for target, text in truths.items():
                if text is not False and text != whole:
                    step = self._said(doubt, (target,), text)
                    self._do(Step(step.order, step.keys, step.clicks + 1))
        for target in false:  # nothing of the kind is drawn there
            what = OrderPlain(do="delete" if doubt.kind == "code" else "remove", target=target)
            self._mend(self._do(Step(what, 1, 1)) or ())

    def _said(self, doubt: Doubt, targets: tuple[str, ...], text: str | Literal[False] | None) -> Step:
        assert text is not False
        if text == doubt.value:
            aspect: Literal["code", "all"] = "code" if doubt.kind == "code" else "all"
            return Step(OrderConfirm(do="confirm", targets=targets, aspect=aspect), 1, 0, corrects=False)
        ranked = [*(a.text for a in doubt.alternatives[:6]), *Neighbours(self.view.harness).of(doubt)]
        keys = 1 if text is None or text in ranked[:9] else 2 + len(text)
        order: Order
        if doubt.kind == "code":
            order = OrderCode(do="code", targets=targets, code=text)
        elif text is None:
            order = OrderUnreadable(do="unreadable", targets=targets)
        elif doubt.kind == "connector":
            order = OrderConnector(do="connector", targets=targets, label=text)
        else:
            order = OrderName(do="name", targets=targets, name=text)
        return Step(order, keys, 0)

    def _printed(self, kind: str, target: str) -> str | Literal[False] | None:
        """What is printed at the target; None: nothing; False: no such thing is drawn."""
        truth = self.ground.truth
        if kind == "code":
            wire = self.view.wires.get(target)
            true = None if wire is None else self.view.true_wire(wire)
            return False if true is None else true.code if true.printed else None
        node = self.view.matched.get(target)
        if node is None:
            return False
        for c in truth.components:
            if c.id == node:
                return plain(c.name) or None
        for k in truth.connectors:
            if k.id == node:
                return k.label
        return next(g.label for g in truth.grounds if g.id == node)

    # -- repairs -------------------------------------------------------------------------------------------------------
    def _mend(self, targets: tuple[str, ...]) -> None:
        """Put wires right, and what comes out of them when they are cut or joined; one that resists is drawn anew."""
        waiting = [t for t in targets if t in self.view.wires]
        tries: Counter[str] = Counter()
        while waiting:
            wire = self.view.wires.get(waiting.pop(0))
            if wire is None:
                continue
            if wire.id in self.view.right:
                if wire.probability < SURE:
                    self._do(sure(wire))
                continue
            stem = wire.id.partition("/")[0]
            tries[stem] += 1
            step = next_step(self.view, wire) if tries[stem] <= PATIENCE else None
            touched = None if step is None else self._do(step)
            if touched is not None:
                waiting = list(dict.fromkeys([*waiting, *(t for t in touched if t in self.view.wires)]))
            elif tries[stem] > PATIENCE:
                self._draw_anew(wire)

    def _draw_anew(self, wire: Wire) -> None:
        k, away = anew(self.view, wire)
        self._do(away)
        step = None if k is None else draw(self.view, k)
        if step is not None:
            self._do(step)

    def _edge(self, target: str) -> None:
        """A page edge goes on where the truth says; where that edge was not read it goes on nowhere."""
        link = next((k for k in self.view.harness.links if k.id == target), None)
        if link is None:
            return
        far = self._far(link.a)
        mine = None if link.b is None else self._points(link.b)
        if far is None or (mine is not None and same_edge(mine, _true_point(far))):
            self._do(Step(OrderConfirm(do="confirm", targets=(target,)), 1, 0, corrects=False))
            return
        partner = next((k.id for k in self._lone(target) if same_edge(self._points(k.a), _true_point(far))), None)
        if partner is None and link.b is None:
            self._do(Step(OrderConfirm(do="confirm", targets=(target,)), 1, 0, corrects=False))
        else:
            self._do(Step(OrderPartner(do="partner", target=target, partner=partner), 1, 0))

    def _lone(self, but: str) -> Iterator[PageLink]:
        yield from (k for k in self.view.harness.links if k.id != but)

    def _points(self, e: EdgePoint) -> tuple[str, str, tuple[float, float]]:
        return (self.view.true_sheet(e.sheet), e.edge, self.view.at(e.sheet, e.at))

    def _far(self, point: EdgePoint) -> TrueEdge | None:
        mine = self._points(point)
        for link in self.ground.truth.links:
            for near, far in ((link.a, link.b), (link.b, link.a)):
                if same_edge(mine, _true_point(near)):
                    return far
        return None

    def _finding(self, target: str) -> None:
        """Put right what the finding is about; when it still stands it is on the paper so, and is accepted."""
        finding = next(f for f in self.desk.manual.reviewed().harness.findings if f.id == target)
        subject = finding.subject
        if subject in self.view.wires:
            self._wire_letters(subject)
            if subject not in self.view.right:
                self._mend((subject,))
        elif any(k.id == subject for k in self.view.harness.links):
            self._edge(subject)
        else:
            self._missing_at(finding)
        if any(f.id == target and f.accepted is None for f in self.desk.manual.reviewed().harness.findings):
            self._do(Step(OrderAccept(do="accept", target=target, reason=SO_ON_PAPER), 1, 0, corrects=False))

    def _missing_at(self, finding: Finding) -> None:
        """Follow the lines that end at what the finding shows and were not read right, and draw what was missed."""
        mine, here = self.view.matched.get(finding.subject), finding.places[:1]
        code = finding.subject.rpartition(" on ")[0] if finding.check == "code-on-no-wire" else None
        wanted = []
        for k, true in enumerate(self.ground.truth.wires):
            if k in self.view.found:
                continue
            if mine is not None and mine in {e.node for e in true.ends}:
                wanted.append(k)
            elif code is not None and true.code == code and here:
                at = self.view.at(here[0].sheet, here[0].box.centre)
                lines = self.ground.lines[self.view.true_sheet(here[0].sheet)]
                if any(n == k and distance_to(at, a, b) <= IN_SIGHT for n, a, b in lines):
                    wanted.append(k)
        for k in wanted:
            wrong = [w.id for w in self.view.harness.wires if w.id not in self.view.right and k in self.view.lies_on(w)]
            if wrong:
                self._mend(tuple(wrong))
            elif k not in self.view.found:
                step = draw(self.view, k)
                if step is not None:
                    self._mend(self._do(step) or ())

    def _wire_letters(self, target: str) -> None:
        wire = self.view.wires[target]
        text = self._printed("code", target)
        if text is not False and text != wire.code.value:
            self._do(Step(OrderCode(do="code", targets=(target,), code=text), 2 + len(text or ""), 1))

    # -- what was not asked --------------------------------------------------------------------------------------------
    def _read_over(self, most: int) -> None:
        """Lay the reading over the scan, sheet by sheet: wrong wires nobody asked about, then wires that were missed."""
        tried: set[str] = set()
        while self.tally.answers < most:
            wrong = next(
                (w for w in self.view.harness.wires if w.id not in self.view.right and w.id not in tried), None
            )
            if wrong is None:
                break
            tried.add(wrong.id)
            self._counted(lambda w=wrong: self._mend((w.id,)))  # type: ignore[misc]
        for k in range(len(self.ground.pairs)):
            if k not in self.view.found and self.tally.answers < most:
                step = draw(self.view, k)
                if step is not None:
                    self._counted(lambda s=step: self._mend(self._do(s) or ()))  # type: ignore[misc]

    def _counted(self, repair: Callable[[], None]) -> None:
        self.tally.answers += 1
        self.tally.kinds["read over"] += 1
        repair()
        self._note()


def items(truth: Truth) -> int:
    """Everything on the pages that a reading claims: wires, parts, ovals, grommets, dots, grounds and page edges."""
    return sum(
        map(
            len,
            (
                truth.wires,
                truth.components,
                truth.connectors,
                truth.grommets,
                truth.splices,
                truth.grounds,
                truth.links,
            ),
        )
    )


def _true_point(edge: TrueEdge) -> tuple[str, str, tuple[float, float]]:
    return (edge.sheet, edge.edge, edge.at)


def gap(tally: Tally, f1: float) -> float:
    """How far the best of the curve stays below ``f1``; 0 when it gets there."""
    return max(0.0, f1 - max((v for _, v in tally.curve), default=-math.inf))
