"""Merges what the symbol detector found with the outlines found on the ink, into the bodies of parts.

A body is what a wire ends at: ink inside it is the part's own. Outlines have exact edges; the detector knows kinds.
"""

from __future__ import annotations

from dataclasses import replace

from digitize.harness.place import Box
from digitize.ink.state import Oval, Rectangle, Symbol, TextBlock

_SAME = 0.5
"""Boxes that share so much of their union are one thing."""


def bodies_of(
    symbols: tuple[Symbol, ...],
    ovals: tuple[Oval, ...],
    rectangles: tuple[Rectangle, ...],
    texts: tuple[TextBlock, ...],
    frame: Box | None,
) -> tuple[Symbol, ...]:
    """The bodies on a sheet, largest first where they nest. A fuse stays a body of its own inside its block."""
    outer = _rectangles(rectangles, frame)
    found = [_snapped(s, ovals, outer) for s in symbols]
    for oval in ovals:
        if _is_connector(oval, texts) and not any(_share(s.box, oval.box) > 0.3 for s in found):
            found.append(Symbol("connector", oval.box, 0.8 * oval.probability))
    for rectangle in outer:
        if not any(_share(s.box, rectangle.box) > _SAME for s in found) and not _encloses_much(rectangle.box, found):
            found.append(
                Symbol("fuse_block" if rectangle.dashed else "module", rectangle.box, 0.7 * rectangle.probability)
            )
    return _settled(found)


def _rectangles(rectangles: tuple[Rectangle, ...], frame: Box | None) -> list[Rectangle]:
    """Rectangles that can be a part: not the frame, not a border inside it, not a title block in its corner."""
    out = []
    for r in rectangles:
        b = r.box
        if frame is not None:
            if b.width > 0.5 * frame.width or b.height > 0.5 * frame.height:
                continue
            if (
                min(abs(b.x0 - frame.x0), abs(b.x1 - frame.x1)) < 1.5
                and min(abs(b.y0 - frame.y0), abs(b.y1 - frame.y1)) < 1.5
            ):
                continue
        elif b.width > 150 or b.height > 150:
            continue
        out.append(r)
    return out


def _is_connector(oval: Oval, texts: tuple[TextBlock, ...]) -> bool:
    """An outline wider than high (or the other way round) with lettering in its middle."""
    b = oval.box
    slim = max(b.width, b.height) / max(0.1, min(b.width, b.height))
    return slim >= 1.25 and min(b.width, b.height) >= 2.8 and any(b.holds(t.box.centre) for t in texts)


def _snapped(symbol: Symbol, ovals: tuple[Oval, ...], rectangles: list[Rectangle]) -> Symbol:
    """The symbol with the exact edges of the outline that it is, if one was found."""
    outlines: list[Box] = [o.box for o in ovals] if symbol.kind in ("connector", "lamp", "motor", "gauge") else []
    outlines += [r.box for r in rectangles]
    best = max(outlines, key=lambda b: _share(b, symbol.box), default=None)
    return replace(symbol, box=best) if best is not None and _share(best, symbol.box) > 0.6 else symbol


def _encloses_much(box: Box, found: list[Symbol]) -> bool:
    """A wire loop round several parts is no part; a fuse block round its fuses is."""
    inside = [
        s
        for s in found
        if box.holds(s.box.centre)
        and s.kind not in ("fuse", "switch", "lamp", "motor", "coil", "diode", "resistor", "circuit_breaker")
    ]
    return len(inside) >= 2


def _settled(found: list[Symbol]) -> tuple[Symbol, ...]:
    """Drop doubles, and parts of a part: only fuses and breakers stay inside another body."""
    kept: list[Symbol] = []
    for s in sorted(found, key=lambda s: (-s.box.width * s.box.height, s.box.x0, s.box.y0)):
        area = max(1e-6, s.box.width * s.box.height)
        holders = [k for k in kept if k.box.overlap(s.box) > 0.6 * area]
        if any(
            k.kind not in ("fuse_block", "module") or s.kind not in ("fuse", "circuit_breaker", "fusible_link")
            for k in holders
        ):
            continue
        kept.append(s)
    return tuple(kept)


def _share(a: Box, b: Box) -> float:
    """Intersection over union."""
    common = a.overlap(b)
    return common / (a.width * a.height + b.width * b.height - common + 1e-9)
