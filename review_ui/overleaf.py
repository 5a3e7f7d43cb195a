"""Where a sheet goes on at its edges: for laying the two sheets side by side and for following a wire overleaf."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

from rapidfuzz import fuzz

from digitize.harness.model import EdgePoint, Harness, PageLink
from review_ui.drawing import Json, Pen

ACROSS = {"left": "right", "right": "left", "top": "bottom", "bottom": "top"}
"""The edge that lies against another one when two sheets are laid side by side."""


def crossings(harness: Harness, sheet: str, of: str | None, pen: Callable[[str], Pen | None]) -> list[Json]:
    """The page edges of ``sheet`` with a partner, top to bottom; those of the wire or page edge ``of`` only, unless None.

    Points are scan px of their own sheets. ``pen`` gives the pen of a sheet, None for one that cannot be shown.
    """
    wire = next((w for w in harness.wires if w.id == of), None)
    wanted = None if of is None else {of} if wire is None else set(wire.links)
    found = [c for k in harness.links if wanted is None or k.id in wanted for c in _of_link(k, sheet, pen)]
    return sorted(found, key=lambda c: (c["here"]["at"][1], c["link"]))


def partners(links: Sequence[PageLink], asked: PageLink) -> list[PageLink]:
    """The lone page edges of other sheets at which ``asked`` could go on, those with the most alike code first."""
    lone = [k for k in links if k.b is None and k.id != asked.id and k.a.sheet != asked.a.sheet]
    return sorted(lone, key=lambda k: (-fuzz.ratio(k.code.value or "", asked.code.value or ""), k.id))


def lone_edges(harness: Harness, sheet: str, of: str | None, pen: Callable[[str], Pen | None]) -> list[Json]:
    """The page edges of ``sheet`` without a partner (only ``of``, unless None), each with the lone edge most like it.

    As ``crossings``, but ``there`` is None when no other sheet has a lone edge.
    """
    found = []
    for link in harness.links:
        ours = pen(sheet)
        if link.b is not None or link.a.sheet != sheet or ours is None or of not in {None, link.id}:
            continue
        shown = ((k.a, theirs) for k in partners(harness.links, link) if (theirs := pen(k.a.sheet)) is not None)
        there, theirs = next(shown, (None, None))
        found.append({
            "link": link.id, "text": link.code.value, "here": _point(link.a, ours),
            "side": ACROSS.get(ACROSS.get(link.a.edge, ""), "right") if there is None else _side(link.a, there),
            "there": None if there is None or theirs is None else _point(there, theirs),
        })  # fmt: skip
    return sorted(found, key=lambda c: (c["here"]["at"][1], c["link"]))


def _of_link(link: PageLink, sheet: str, pen: Callable[[str], Pen | None]) -> Iterator[Json]:
    if link.b is None:
        return
    for here, there in ((link.a, link.b), (link.b, link.a)):
        if here.sheet != sheet or there.sheet == sheet:
            continue
        ours, theirs = pen(here.sheet), pen(there.sheet)
        if ours is not None and theirs is not None:
            yield {
                "link": link.id, "text": link.code.value, "side": _side(here, there), "here": _point(here, ours), "there": _point(there, theirs),
            }  # fmt: skip


def _side(here: EdgePoint, there: EdgePoint) -> str:
    """The side at which the other sheet is laid: that of the edge; to the right of a reference in the middle."""
    if here.edge in ACROSS:
        return here.edge
    return ACROSS.get(there.edge, "right")


def _point(point: EdgePoint, pen: Pen) -> Json:
    return {"sheet": point.sheet, "at": pen.point(point.at), "edge": point.edge, "zone": point.zone}
