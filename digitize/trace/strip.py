"""What the printable sheet shows of a trace: the way as a straight strip, with the parts of the scan to look at."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass

from digitize.harness.graph import Key
from digitize.harness.model import Wire
from digitize.harness.place import Box, Point, Polyline
from digitize.trace.network import Network
from digitize.trace.state import Leg, Spot, Trace, Way

Crop = Callable[[str, Box], bytes | None]
"""Gives a part of a page's scan, made flat: sheet id and box in sheet mm → PNG bytes; None when there is no scan."""

MARGIN = 7.0
"""Paper around what is shown, mm: enough to see what a line passes."""

LARGEST = (92.0, 46.0)
"""Largest part of the page shown as one picture, width and height in mm; lettering of 1.5 mm stays readable in print."""

WINDOW = (58.0, 34.0)
"""What is shown around the ends and the printed code of a wire too long for one picture, mm."""

MOST_VIEWS = 3


@dataclass(frozen=True, slots=True)
class View:
    """One picture: ``box`` on ``sheet`` in mm, ``caption``, the conductors to highlight on it, and a point to ring, mm."""

    sheet: str
    box: Box
    caption: str
    highlight: tuple[Polyline, ...] = ()
    ring: Point | None = None


def views_of(network: Network, leg: Leg) -> tuple[View, ...]:
    """The parts of the pages that show one hop."""
    if leg.kind == "wire":
        return _wire_views(network.graph.wires[leg.id], leg)
    spot = leg.end.spot if leg.kind in {"same cavity", "bar"} else leg.start.spot
    if spot.box is None:
        return ()
    return (View(spot.sheet, _shown(spot.box), _caption(spot), ()),)


def _wire_views(w: Wire, leg: Leg) -> tuple[View, ...]:
    views: list[View] = []
    labels = _labels(leg)
    for path in w.paths:
        whole = Box.around(path.points)
        lines = (path.points,)
        zone = _zone_there(leg, path.sheet)
        if whole.width + 2 * MARGIN <= LARGEST[0] and whole.height + 2 * MARGIN <= LARGEST[1]:
            views.append(View(path.sheet, _shown(whole), f"page {labels.get(path.sheet, path.sheet)}{zone}", lines))
            continue
        code = next((e.place for e in w.code.evidence if e.place is not None and e.place.sheet == path.sheet), None)
        spots = [path.points[0], path.points[-1]]
        if code is not None:
            spots.insert(1, code.box.centre)
        boxes: list[Box] = []
        for spot in spots:
            window = _window(spot)
            if all(window.overlap(b) < 0.4 * window.width * window.height for b in boxes):
                boxes.append(window)
        views += [
            View(path.sheet, b, f"page {labels.get(path.sheet, path.sheet)}{zone}", lines) for b in boxes[:MOST_VIEWS]
        ]
    if not views and leg.start.spot.at is not None:
        views.append(View(leg.start.spot.sheet, _window(leg.start.spot.at), _caption(leg.start.spot)))
    return tuple(_in_order(views, leg))


def _in_order(views: list[View], leg: Leg) -> list[View]:
    """The page one comes from first; on each page from where one comes in."""
    first = leg.start.spot.sheet
    entries = {first: leg.start.spot.at} | {t.enter.sheet: t.enter.at for t in leg.turns}

    def far(v: View) -> tuple[bool, float]:
        at, (x, y) = entries.get(v.sheet), v.box.centre
        return v.sheet != first, 0.0 if at is None else math.hypot(x - at[0], y - at[1])

    return sorted(views, key=far)


def _labels(leg: Leg) -> dict[str, str]:
    spots = [leg.start.spot, leg.end.spot, *(s for t in leg.turns for s in (t.leave, t.enter))]
    return {s.sheet: s.page_name for s in spots}


def _zone_there(leg: Leg, sheet: str) -> str:
    zones = dict.fromkeys(s.zone for s in (leg.start.spot, leg.end.spot) if s.sheet == sheet and s.zone)
    return f", zone {' to '.join(zones)}" if zones else ""


def _caption(spot: Spot) -> str:
    return f"page {spot.page_name}" + (f", zone {spot.zone}" if spot.zone else "")


def _shown(box: Box) -> Box:
    """``box`` with paper around it, at least as large as a window and never larger than one picture."""
    x, y = box.centre
    w = min(LARGEST[0], max(WINDOW[0], box.width + 2 * MARGIN))
    h = min(LARGEST[1], max(WINDOW[1], box.height + 2 * MARGIN))
    return Box(x - w / 2, y - h / 2, x + w / 2, y + h / 2)


def _window(at: Point) -> Box:
    return Box(at[0] - WINDOW[0] / 2, at[1] - WINDOW[1] / 2, at[0] + WINDOW[0] / 2, at[1] + WINDOW[1] / 2)


def ways_in_order(trace: Trace) -> Iterable[tuple[str, Way]]:
    """All ways with the name of the relay they belong to, "" for the ways of the start itself."""
    for way in trace.ways:
        yield "", way
    for control in trace.controls:
        for way in control.ways:
            yield control.name or control.id, way


def views_at(network: Network, key: Key | None, spot: Spot | None) -> tuple[View, ...]:
    """The part of the page that shows one point to measure at, its wires highlighted; none for a point without a place."""
    if key is None or spot is None or spot.at is None:
        return ()
    wires = [network.graph.wires[p.by] for p in network.passages.get(key, ()) if p.kind == "wire"]
    here = tuple(path.points for w in wires for path in w.paths if path.sheet == spot.sheet)
    return (View(spot.sheet, _window(spot.at), _caption(spot), here, spot.at),)
