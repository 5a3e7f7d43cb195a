"""Merges what the symbol detector found with the outlines found on the ink, into the bodies of parts.

A body is what a wire ends at: ink inside it is the part's own. Outlines have exact edges; the detector knows kinds.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from digitize.harness.place import Box
from digitize.ink.body_sides import clear_of_passing, side_of
from digitize.ink.state import Oval, Rectangle, Symbol, TextBlock
from digitize.sheet.state import PX_PER_MM

_SAME = 0.5
"""Boxes that share so much of their union are one thing."""
_LEAST = 0.25
"""Symbols that the detector believes in less than this are none: a false body swallows wires."""
_UNBOXED = ("connector", "ground", "grommet", "lamp", "diode")
"""Kinds drawn without a straight outline."""
_FARTHEST, _ALONG = 40.0, 1.0
"""A part of which the detector saw so much may be longer, mm; then its other sides lie on its outline within so many mm."""
_FRAMED, _CLEARLY = 0.9, 0.15
"""A part as sure as this, with a frame that was found, too, has no sign astride a side of it that is so much less sure."""
_ON_FRAME = 1.5
"""Sides that lie this near to the frame may be the frame's own, mm."""


def bodies_of(
    symbols: tuple[Symbol, ...],
    ovals: tuple[Oval, ...],
    rectangles: tuple[Rectangle, ...],
    texts: tuple[TextBlock, ...],
    frame: Box | None,
) -> tuple[Symbol, ...]:
    """The bodies on a sheet, largest first where they nest. A fuse stays a body of its own inside its block."""
    outer = _rectangles(rectangles, frame)
    seen = [_snapped(s, ovals, outer) for s in symbols if s.probability >= _LEAST and not _is_lettering(s, texts)]
    seen = [s for s in seen if s.kind in _UNBOXED or not _in_corner(s.box, frame)]
    seen = [s for s in seen if not _is_piece_of_outline(s, outer)]
    framed = [s for s in seen if s.kind in _SQUARE and s.probability >= _FRAMED and _is_outlined(s, outer)]
    found = [
        s for s in seen
        if s.probability >= _FRAMED - _CLEARLY or not any(_straddles(s, f.box) for f in framed)
    ]  # fmt: skip
    for oval in ovals:
        if _is_connector(oval, texts) and not any(_share(s.box, oval.box) > 0.3 for s in found):
            found.append(Symbol("connector", oval.box, 0.8 * oval.probability))
    for rectangle in outer:
        if not any(_share(s.box, rectangle.box) > _SAME for s in found) and not _encloses_much(rectangle.box, found):
            found.append(
                Symbol("fuse_block" if rectangle.dashed else "module", rectangle.box, 0.6 * rectangle.probability)
            )
    return _settled([s for s in found if not _is_yard(s, found, outer if s in seen else [])])


def _is_outlined(symbol: Symbol, outer: list[Rectangle]) -> bool:
    """True for a symbol whose frame was found as lines too."""
    return any(_share(r.box, symbol.box) > 0.75 for r in outer)


def _rectangles(rectangles: tuple[Rectangle, ...], frame: Box | None) -> list[Rectangle]:
    """Rectangles that can be a part: not the frame, not a border inside it, not a title block in its corner."""
    out = []
    for r in rectangles:
        b = r.box
        if frame is not None:
            if b.width > 0.5 * frame.width or b.height > 0.5 * frame.height:
                continue
            if _in_corner(b, frame):
                continue
        elif b.width > 150 or b.height > 150:
            continue
        out.append(r)
    return out


def _in_corner(box: Box, frame: Box | None) -> bool:
    """True for a box with two sides on the frame: a title block, notes, or a wire and the frame around bare paper."""
    return (
        frame is not None
        and min(abs(box.x0 - frame.x0), abs(box.x1 - frame.x1)) < _ON_FRAME
        and min(abs(box.y0 - frame.y0), abs(box.y1 - frame.y1)) < _ON_FRAME
    )


_SURE, _LINE = 0.9, 1.5
"""A symbol surer than this is no piece of lettering that is not so many times as long as high."""
_SURE_GROMMET, _LONGER = 0.98, 1.7
"""A grommet as sure as this is a piece only of what is so many times as long: its two brackets look like letters."""


def _is_lettering(symbol: Symbol, texts: tuple[TextBlock, ...]) -> bool:
    """True for a "symbol" that is a piece of a longer line of sure lettering."""
    if symbol.kind in ("connector", "module", "relay", "fuse_block"):
        return False
    b = symbol.box
    longest = max(b.width, b.height)
    # two pieces side by side may be such a symbol and a sign at it
    least = _LINE if symbol.probability > _SURE else 1.0
    longer = _LONGER if symbol.kind == "grommet" and symbol.probability > _SURE_GROMMET else 1.3
    return any(
        t.probability > 0.85
        and t.box.overlap(b) > 0  # said of few, and quickly
        and max(t.box.width, t.box.height) >= least * min(t.box.width, t.box.height)
        and max(t.box.width, t.box.height) > longer * longest
        and t.box.grown(0.3).overlap(b) > 0.7 * b.width * b.height
        for t in texts
    )


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
    same = best is not None and (_share(best, symbol.box) > 0.75 or _goes_on(symbol, best))
    return replace(symbol, box=best) if best is not None and same else symbol


def _goes_on(symbol: Symbol, outline: Box) -> bool:
    """True for an outline on three sides of a long part that goes on beyond the fourth: the detector sees only so far."""
    if symbol.kind not in _SQUARE or max(symbol.box.width, symbol.box.height) < _FARTHEST:
        return False
    a, b = symbol.box, outline
    off = (abs(a.x0 - b.x0), abs(a.y0 - b.y0), abs(a.x1 - b.x1), abs(a.y1 - b.y1))
    return sum(v <= _ALONG for v in off) == 3 and b.grown(_ALONG).overlap(a) >= 0.99 * a.width * a.height


def _is_piece_of_outline(symbol: Symbol, rectangles: list[Rectangle]) -> bool:
    """True for a doubtful fuse block that is a part of a larger drawn outline: the outline is the block."""
    if symbol.kind != "fuse_block" or symbol.probability >= 0.6:
        return False
    area = symbol.box.width * symbol.box.height
    return any(symbol.box.overlap(r.box) > 0.9 * area and r.box.width * r.box.height > 1.1 * area for r in rectangles)


def _encloses_much(box: Box, found: list[Symbol]) -> bool:
    """A wire loop round several parts is no part; a fuse block round its fuses is."""
    inside = [
        s
        for s in found
        if box.holds(s.box.centre)
        and s.kind not in ("fuse", "switch", "lamp", "motor", "coil", "diode", "resistor", "circuit_breaker")
    ]
    return len(inside) >= 2


def _is_yard(body: Symbol, found: list[Symbol], outer: list[Rectangle]) -> bool:
    """True for a doubtful large body round surer parts: a yard that wires enclose, no part.

    ``outer``: rectangles that speak for the body; none when it is only such a rectangle itself.
    """
    if any(_straddles(s, body.box) for s in found if s is not body):
        return True
    if body.probability >= 0.6 or _is_outlined(body, outer):
        return False
    area = body.box.width * body.box.height
    inner = [
        s for s in found if s is not body and body.box.holds(s.box.centre) and s.box.width * s.box.height < 0.5 * area
    ]
    return any(s.probability > body.probability + 0.1 and s.kind not in ("fuse", "circuit_breaker") for s in inner)


def _straddles(symbol: Symbol, box: Box) -> bool:
    """True when a lamp, motor or the like sits across a side of a box: then that side is the wire to it."""
    if symbol.kind not in (
        "lamp",
        "motor",
        "gauge",
        "resistor",
        "diode",
        "fuse",
        "switch",
        "horn",
        "heater",
        "battery",
    ):
        return False
    b = symbol.box
    if b.width * b.height > 0.3 * box.width * box.height:
        return False
    x, y = b.centre
    on_level = min(abs(y - box.y0), abs(y - box.y1)) < 0.3 * b.height and box.x0 + 1 < x < box.x1 - 1
    on_upright = min(abs(x - box.x0), abs(x - box.x1)) < 0.3 * b.width and box.y0 + 1 < y < box.y1 - 1
    return on_level or on_upright


def is_hollow(body: Symbol, ink: NDArray[np.uint8]) -> bool:
    """True for a doubtful roomy body with nothing drawn or printed in it: wires that happen to go round a place.

    ``ink``: uint8 (H, W), 255 = all ink of the sheet, lettering too.
    """
    if body.probability >= 0.6 or body.kind not in ("module", "relay", "fuse_block", "switch", "unknown"):
        return False
    b = body.box.grown(-1.2)
    part = ink[
        max(0, round(b.y0 * PX_PER_MM)) : round(b.y1 * PX_PER_MM),
        max(0, round(b.x0 * PX_PER_MM)) : round(b.x1 * PX_PER_MM),
    ]
    return part.size > 0 and float((part > 0).mean()) < 0.004


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


def fitted(body: Symbol, ink: NDArray[np.uint8], reach: float = 1.4) -> Symbol:
    """The body with each straight side moved onto the outline drawn there, if there is one within ``reach`` mm.

    ``ink``: uint8 (H, W), 255 = ink. A side is drawn where a row or column of ink covers at least 45 % of it, so that
    dashed outlines count. Without this, an outline just outside a detected box would be followed as a wire. A large box is
    off by more, and is followed farther outward where it is of a kind with an upright frame.
    """
    if body.kind == "ground":
        return replace(body, box=clear_of_passing(body.box, ink))
    if body.kind in _UNBOXED or _is_round(body, ink):
        return body
    b = body.box
    off = (0.0, 0.0)
    if body.kind in _SQUARE:
        off = min(_OFF * b.width, _MOST_OFF), min(_OFF * b.height, _MOST_OFF)
    x0, x1 = (side_of(ink, at, (b.y0, b.y1), reach, off[0], flat=False, outward=o) for at, o in ((b.x0, -1), (b.x1, 1)))
    y0, y1 = (side_of(ink, at, (b.x0, b.x1), reach, off[1], flat=True, outward=o) for at, o in ((b.y0, -1), (b.y1, 1)))
    if body.kind in _OPEN:
        x0, y0, x1, y1 = min(x0, b.x0), min(y0, b.y0), max(x1, b.x1), max(y1, b.y1)
    return replace(body, box=Box(x0, y0, x1, y1)) if x0 < x1 and y0 < y1 else body


_OPEN = ("resistor", "variable_resistor", "coil", "heater")
"""Kinds drawn as zigzags or loops as often as in a frame. Their sides are moved outward only: a row of ink inside may be one
that cuts through a zigzag."""

_SQUARE = ("module", "fuse_block", "relay")
"""Kinds that are always drawn with an upright frame."""

_OFF, _MOST_OFF = 0.08, 3.0
"""Their box may end so far inside it, in its breadth or height and in mm at most."""


_ROUND, _RIM = 0.9, 0.2
"""So much of an ellipse in a box is ink, within so many mm, where the part is drawn round; rectangles have about half."""


def _is_round(body: Symbol, ink: NDArray[np.uint8], near: float = 0.5) -> bool:
    """True for a part without ink at two of its box's corners (within ``near`` mm), or with a round outline in its box.

    Its outline is no rectangle; what runs along the box at a round one is a wire that passes close by.
    """
    if body.kind in _SQUARE:
        return False
    if has_round_outline(body.box, ink):
        return True
    b, r = body.box, round(near * PX_PER_MM)
    inked = 0
    for x in (b.x0, b.x1):
        for y in (b.y0, b.y1):
            column, row = round(x * PX_PER_MM), round(y * PX_PER_MM)
            inked += bool(ink[max(0, row - r) : row + r + 1, max(0, column - r) : column + r + 1].any())
    return inked < 2


def has_round_outline(box: Box, ink: NDArray[np.uint8]) -> bool:
    """True when ink follows the ellipse that fills a box."""
    turn = np.linspace(0, 2 * np.pi, 72, endpoint=False)
    (x, y), r = box.centre, round(_RIM * PX_PER_MM)
    inked = 0
    for dx, dy in zip(np.cos(turn) * box.width / 2, np.sin(turn) * box.height / 2, strict=True):
        column, row = round((x + dx) * PX_PER_MM), round((y + dy) * PX_PER_MM)
        inked += bool(ink[max(0, row - r) : row + r + 1, max(0, column - r) : column + r + 1].any())
    return inked >= _ROUND * len(turn)
