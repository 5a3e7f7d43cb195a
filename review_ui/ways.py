"""The way of a circuit, for the desk: hops with where to look, cautions, and the text to print."""

from __future__ import annotations

from typing import TYPE_CHECKING

from review_ui.drawing import Json, Pen, extent

if TYPE_CHECKING:
    from collections.abc import Callable

    from digitize.harness.edits import Reviewed
    from digitize.trace.state import Leg, Trace, Way


def trace_at_desk(reviewed: Reviewed, asked: str, pen: Callable[[str], Pen | None]) -> Json:
    """Follow ``asked`` (an id or a printed name) to its feed and to ground on the corrected harness.

    ``pen`` gives the pen of a sheet, None for one that cannot be shown. Raises NotFound when nothing is called so.
    """
    from digitize.trace.follow import trace
    from digitize.trace.told import stop_name, trace_as_text

    told = trace(reviewed.harness, asked, done=reviewed.done)
    return {
        "asked": asked,
        "start": None if told.start is None else stop_name(told.start),
        "candidates": [
            {"ask": c.ask, "kind": c.kind, "name": c.name, "sheet": c.spot.sheet, "zone": c.spot.zone}
            for c in told.candidates
        ],
        "cautions": [c.text for c in told.cautions],
        "notes": list(told.notes),
        "ways": [_way(w, pen) for w in _all_ways(told)],
        "serves": list(told.serves),
        "rights": told.rights,
        "text": trace_as_text(told),
    }


def _all_ways(told: Trace) -> list[Way]:
    return [*told.ways, *(w for c in told.controls for w in c.ways)]


def _way(way: Way, pen: Callable[[str], Pen | None]) -> Json:
    from digitize.trace.told import way_head

    return {
        "head": way_head(way), "goal": way.goal, "found": way.found, "missing": way.missing, "notes": list(way.notes),
        "legs": [_leg(leg, pen) for leg in way.legs],
    }  # fmt: skip


def _leg(leg: Leg, pen: Callable[[str], Pen | None]) -> Json:
    from digitize.trace.told import details, stop_name, sureness

    spot = leg.start.spot
    hand = pen(spot.sheet)
    box = None
    if hand is not None and spot.at is not None:
        x, y = hand.point(spot.at)
        box = [x - 60, y - 60, x + 60, y + 60]
    elif hand is not None and spot.box is not None:
        box = extent(hand, [(spot.sheet, spot.box)], spot.sheet)
    return {
        "id": leg.id, "kind": leg.kind, "printed": leg.printed, "words": leg.words, "doubtful": leg.doubtful,
        "sureness": sureness(leg), "from": stop_name(leg.start), "to": stop_name(leg.end), "sheet": spot.sheet,
        "page": spot.page_name, "zone": spot.zone, "box": box, "details": details(leg),
    }  # fmt: skip
