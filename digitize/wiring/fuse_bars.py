"""What feeds each fuse of a block: followed along the ink inside the block, so that a bus bar feeds the fuses it is drawn to.

Nearness tells nothing here: the last fuse on a bar stands nearer to the next fuse's own feed than to the bar's (which
is live at another time), and a fuse that no wire leaves still has its feed.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from digitize.harness.place import Box, Point
from digitize.sheet.state import PX_PER_MM
from digitize.wiring.state import DrawnPlace, PlaceTerminal

_ROW = 1.8
"""A terminal at most so far from the level of a fuse is on its row, mm (own choice; rows stand 4 mm apart and more)."""
_EDGES = (0.7, 1.2, 1.7)
"""How much of the block's rim is left out, so that its outline joins no rows, mm (own choice; outlines lie 0.3 to 1 mm deep)."""
_GAPS = (0.4, 1.2)
"""Gaps in a line of the block that are closed: of any page, then of worn ones, mm (own choice)."""
_LEAD = 1.5
"""How far beside a fuse its lead is looked for, mm."""
_LEAD_HALF = 0.5
"""Half the height of that look, and of the look at a terminal, mm: lettering over a lead stands farther off."""

Stops = dict[tuple[int, int], tuple[str, str]]


@dataclass(frozen=True, slots=True)
class _Ways:
    """What the ink inside a block joins. ``leads``: for each fuse the pieces of ink at its left and right side.

    ``at``: for each terminal the pieces that reach it.
    """

    leads: tuple[tuple[frozenset[int], frozenset[int]], ...]
    at: tuple[frozenset[int], ...]

    def shared(self, side: int) -> int:
        """How many pieces lead to this side of more than one fuse: bars."""
        return sum(n > 1 for n in Counter(k for lead in self.leads for k in lead[side]).values())

    def reached(self, fuse: int, side: int) -> list[int]:
        """Positions of the terminals that the ink joins to one side of a fuse."""
        return [k for k, pieces in enumerate(self.at) if pieces & self.leads[fuse][side]]


def feed_fuses(
    block: DrawnPlace, fuses: Sequence[DrawnPlace], ink: NDArray[np.uint8], terminal: Stops
) -> tuple[DrawnPlace, list[DrawnPlace]]:
    """The block with its feeds, and its fuses, each with an output ``2`` of its own and joined to the feed drawn to it.

    ``^`` marks a terminal of the block. A fuse to which no feed is seen to be drawn, and on whose row none arrives, is
    joined to none: which it is stays open. A fuse that no wire leaves has its output where it ends itself.

    Args:
        block: with a terminal for each place where wires stop at it.
        fuses: what sits in it, lying; boxes in sheet mm.
        ink: of the sheet, uint8, 255 where ink, PX_PER_MM px per mm.
        terminal: stop → (place id, terminal id); the stops at outputs are handed over to the fuses in place.
    """
    ways = [_ways(block, fuses, ink, edge, gap) for gap in _GAPS for edge in _EDGES]
    fed_from = _feed_side(block, fuses, ways)
    out: list[DrawnPlace] = []
    outputs: set[str] = set()
    for fuse in fuses:
        output = next((t for t in _on_row(block, fuse, 1 - fed_from) if t.id not in outputs), None)
        if output is not None:
            outputs.add(output.id)
            for key in [k for k, reached in terminal.items() if reached == (block.id, output.id)]:
                terminal[key] = (fuse.id, "2")
        at = output.at if output is not None else _own_end(fuse, 1 - fed_from)
        out.append(replace(fuse, parent=block.id, terminals=(PlaceTerminal("2", at),)))
    for n, fuse in enumerate(out):
        feeds = [t.id for t in _feeds(block, fuse, n, fed_from, ways) if t.id not in outputs]
        out[n] = replace(fuse, joined=tuple(("2", f"^{feed}") for feed in feeds))
    return replace(block, terminals=tuple(t for t in block.terminals if t.id not in outputs)), out


def _feeds(block: DrawnPlace, fuse: DrawnPlace, n: int, side: int, ways: Sequence[_Ways]) -> list[PlaceTerminal]:
    """The feeds that the ink joins to a fuse: the fewest of any look (an outline joins more); else that on its own row."""
    seen = [
        reached for w in ways if (reached := [k for k in w.reached(n, side) if _beyond(block.terminals[k], fuse, side)])
    ]
    if seen:
        return [block.terminals[k] for k in min(seen, key=len)]
    return _on_row(block, fuse, side)[:1]


def _beyond(t: PlaceTerminal, fuse: DrawnPlace, side: int) -> bool:
    """True when a terminal lies at the left (0) or right (1) of a fuse."""
    return t.at[0] > fuse.box.x1 if side else t.at[0] < fuse.box.x0


def _on_row(block: DrawnPlace, fuse: DrawnPlace, side: int) -> list[PlaceTerminal]:
    """The block's terminals at the level of a fuse and at its left (0) or right (1)."""
    level = fuse.box.centre[1]
    return [t for t in block.terminals if abs(t.at[1] - level) < _ROW and _beyond(t, fuse, side)]


def _own_end(fuse: DrawnPlace, side: int) -> Point:
    return (fuse.box.x1 if side else fuse.box.x0, fuse.box.centre[1])


def _feed_side(block: DrawnPlace, fuses: Sequence[DrawnPlace], ways: Sequence[_Ways]) -> int:
    """Left (0) or right (1): where a bar joins fuses; an outline that joins rows does so on both sides.

    Without a bar they are fed from the left (common practice, no source), unless most rows have a wire at the left
    alone: a bar was not seen, and those are what it feeds.
    """
    left, right = (sum(w.shared(side) for w in ways) for side in (0, 1))
    if left != right:
        return int(right > left)
    rows = [tuple(bool(_on_row(block, fuse, side)) for side in (0, 1)) for fuse in fuses]
    return int(2 * rows.count((True, False)) > len(rows))


def _ways(block: DrawnPlace, fuses: Sequence[DrawnPlace], ink: NDArray[np.uint8], edge: float, gap: float) -> _Ways:
    """The pieces of ink inside a block, less its rim and its fuses, where they meet fuses and terminals."""
    room = block.box.grown(-edge)
    corner = (max(0, round(room.x0 * PX_PER_MM)), max(0, round(room.y0 * PX_PER_MM)))
    inner = ink[corner[1] : max(0, round(room.y1 * PX_PER_MM)), corner[0] : max(0, round(room.x1 * PX_PER_MM))].copy()
    if not inner.size:
        nothing: frozenset[int] = frozenset()
        return _Ways(((nothing, nothing),) * len(fuses), (nothing,) * len(block.terminals))
    long = 2 * round(gap * PX_PER_MM / 2) + 1
    for fuse in fuses:
        _cut(inner, fuse.box.grown(0.1), corner)[:] = 0
    level, upright = (cv2.morphologyEx(inner, cv2.MORPH_CLOSE, np.ones(k, np.uint8)) for k in ((3, long), (long, 3)))
    closed = cv2.bitwise_or(level, upright)
    for fuse in fuses:
        _cut(closed, fuse.box.grown(0.1), corner)[:] = 0
    _, pieces = cv2.connectedComponents(closed)
    leads = []
    for fuse in fuses:
        y = fuse.box.centre[1]
        beside = [(fuse.box.x0 - _LEAD, fuse.box.x0), (fuse.box.x1, fuse.box.x1 + _LEAD)]
        left, right = (_seen(pieces, Box(x0, y - _LEAD_HALF, x1, y + _LEAD_HALF), corner) for x0, x1 in beside)
        leads.append((left, right))
    at = []
    for t in block.terminals:
        x, y = min(max(t.at[0], room.x0), room.x1), min(max(t.at[1], room.y0), room.y1)
        at.append(_seen(pieces, Box(x, y, x, y).grown(_LEAD_HALF), corner))
    return _Ways(tuple(leads), tuple(at))


def _cut(image: NDArray[np.generic], box: Box, corner: tuple[int, int]) -> NDArray[np.generic]:
    """The part of ``image`` in a box of sheet mm; the image begins at ``corner``, px. A view, empty when outside."""
    x0, x1 = (max(0, round(v * PX_PER_MM) - corner[0]) for v in (box.x0, box.x1))
    y0, y1 = (max(0, round(v * PX_PER_MM) - corner[1]) for v in (box.y0, box.y1))
    return image[y0 : y1 + 1, x0 : x1 + 1]


def _seen(pieces: NDArray[np.generic], box: Box, corner: tuple[int, int]) -> frozenset[int]:
    """Which pieces of ink lie in a box."""
    return frozenset(int(k) for k in np.unique(_cut(pieces, box, corner)) if k)
