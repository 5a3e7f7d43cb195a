"""Bodies told by the lettering they hold, whatever their outline looks like.

Common practice, no source: an outline that holds the identifier of a connector and the names of its cavities, and that
wires pass level with these, is a connector, also where each wire has a cell of its own; a small outline that holds nothing
but an identifier, and at which a single wire ends, is a ground where all of its name are so.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import replace

from digitize.harness.place import Box
from digitize.ink.state import Marks, Symbol
from digitize.reading.state import ReadText
from digitize.wiring.identifiers import is_identifier, letters_of

_SURE = 0.9
_TOUCHES = 1.5
"""A wire ends this near to its body, mm."""
_LEVEL = 1.6
"""Both wires of a way stand at one height, and its cavity at theirs, mm."""
_OFF_MIDDLE = 1.0
"""The two names of a way stand so evenly to both sides of the middle, mm."""
_CODE, _INTO = 3.0, 1.0
"""A code that interrupts a wire right at a connector stands at most so far from it, and reaches at most so far into it, mm."""
_CAVITY = 3
"""No name of a cavity has more characters."""
_FEWEST = 2
"""So many bodies of one sort of name on a sheet are a habit."""
_ODD = 0.2
"""Share of them at which another line happens to end too."""
_LARGEST_GROUND = 9.0
"""Longest side of an outline that is nothing but a ground's name, mm."""
_KEEP = ("fuse", "fuse_block", "diode", "grommet", "sleeve")
"""Kinds that lettering inside them does not change."""


def with_lettered_bodies(marks: Marks, texts: Sequence[ReadText]) -> Marks:
    """The marks with such bodies told; all others as they are."""
    told: dict[int, str] = {}
    alone: dict[str, list[tuple[int, int]]] = defaultdict(list)
    for k, symbol in enumerate(marks.symbols):
        if symbol.kind in _KEEP or symbol.taught is not None:
            continue
        held = [t for t in texts if t.text and symbol.box.holds(t.box.centre)]
        ids = [t for t in held if is_identifier(t)]
        if len(ids) != 1:
            continue
        ends = _ends(marks, symbol.box)
        others = [t for t in held if t is not ids[0]]
        if others and (_passes_level(ends, others) or _has_cells(symbol.box, others, ends, texts)):
            told[k] = "connector"
        elif not others and max(symbol.box.width, symbol.box.height) <= _LARGEST_GROUND:
            alone[letters_of(ids[0])].append((k, len(ends)))
    connectors = {
        letters_of(t) for k in told for t in texts if is_identifier(t) and marks.symbols[k].box.holds(t.box.centre)
    }
    for letters, bodies in alone.items():
        single = sum(n == 1 for _, n in bodies)
        passed = sum(n > 1 for _, n in bodies)
        if single >= _FEWEST and passed <= _ODD * len(bodies) and letters not in connectors:
            told |= dict.fromkeys((k for k, _ in bodies), "ground")
    if not told:
        return marks
    return replace(marks, symbols=tuple(_told(s, told.get(k)) for k, s in enumerate(marks.symbols)))


def _told(symbol: Symbol, kind: str | None) -> Symbol:
    if kind is None or kind == symbol.kind:
        return symbol
    heading = symbol.heading if kind == "ground" else None
    return replace(symbol, kind=kind, heading=heading, probability=_SURE, alternatives=((symbol.kind, 1 - _SURE),))


def _ends(marks: Marks, box: Box) -> list[tuple[str, float]]:
    """(side, height) of every end of a line at a body: ``left``, ``right``, or ``other`` for those above and below.

    What ends off a corner does not end at the body.
    """
    near = box.grown(_TOUCHES)
    out = []
    for stroke in marks.strokes:
        for x, y in (stroke.points[0], stroke.points[-1]):
            beside = box.y0 <= y <= box.y1
            if near.holds((x, y)) and (beside or box.x0 <= x <= box.x1):
                side = "left" if beside and x < box.centre[0] else "right" if beside else "other"
                out.append((side, y))
    return out


def _has_cells(
    box: Box, others: Sequence[ReadText], ends: Sequence[tuple[str, float]], texts: Sequence[ReadText]
) -> bool:
    """True when the rest of the lettering stands in two columns of cells that say the same: the cavities of both halves.

    A wire ends at each of them. Where its code interrupts it right there, a stub too short for a line may be all that is
    drawn of it; then the code stands at the cell.
    """
    rows: dict[float, list[ReadText]] = defaultdict(list)
    for t in others:
        y = t.box.centre[1]
        rows[next((r for r in rows if abs(r - y) < _LEVEL), y)].append(t)
    for level, row in rows.items():
        if len(row) != 2 or len({t.text.strip() for t in row}) != 1 or len(row[0].text.strip()) > _CAVITY:
            return False
        left, right = sorted(t.box.centre[0] - box.centre[0] for t in row)
        if left >= 0 or abs(left + right) > _OFF_MIDDLE:
            return False
        at = {side for side, y in ends if abs(y - level) < _LEVEL}
        codes = [t.box for t in texts if t.kind == "code" and abs(t.box.centre[1] - level) < _LEVEL]
        off = {"left": [box.x0 - b.x1 for b in codes], "right": [b.x0 - box.x1 for b in codes]}
        if any(side not in at and not any(-_INTO < gap < _CODE for gap in off[side]) for side in off):
            return False
    return bool(rows)


def _passes_level(ends: Sequence[tuple[str, float]], others: Sequence[ReadText]) -> bool:
    """True when the rest of the lettering names cavities, each at the height of a wire that goes on at the other side.

    A relay or module has other names at its two sides; a connector's way has one.
    """
    if any(len(t.text.strip()) > _CAVITY or not t.text.strip().isalnum() for t in others):
        return False
    if not ends or any(side == "other" for side, _ in ends):
        return False
    left, right = ([y for s, y in ends if s == side] for side in ("left", "right"))
    if not left or not right or any(min(abs(y - r) for r in right) > _LEVEL for y in left):
        return False
    rows: dict[float, set[str]] = defaultdict(set)
    for t in others:
        y = min((*left, *right), key=lambda v: abs(v - t.box.centre[1]))
        if abs(y - t.box.centre[1]) > _LEVEL:
            return False
        rows[next((r for r in rows if abs(r - y) < _LEVEL), y)].add(t.text.strip())
    return all(len(names) == 1 for names in rows.values())
