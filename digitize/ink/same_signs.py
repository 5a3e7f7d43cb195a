"""Small signs on wires that look the same are of one kind, whatever the detector called each of them.

On worn sheets a sign that the detector hardly knows is a lamp in one place, a grommet or a switch in another, and a connector
in a third. One hand draws one thing in one way (common practice, no source): signs that look alike point by point are one
kind. Where the detector cannot agree with itself and the signs stand in linked rows, or one of them is surely a connector,
they are the ways of connectors.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from digitize.harness.place import Box
from digitize.ink.alike_ways import cut_out, likeness, on_a_wire, softened
from digitize.ink.linked_ways import are_linked
from digitize.ink.state import Symbol, TextBlock
from digitize.sheet.state import PX_PER_MM

_SIDES, _SQUARE = (1.6, 4.8), 1.4
"""Shortest and longest side of such a sign, mm, and how many times as long as short it is at most."""
_SIZE = 0.25
"""Boxes of one sign differ by at most this share."""
_SAME = 0.85
"""Least correlation of two drawings of one sign, point by point (own choice; on six worn sheets 0.88 and more, others 0.6)."""
_SLIP = 0.5
"""The boxes of two may be so far off each other, mm."""
_FEWEST = 4
"""Of fewer signs nothing can be said."""
_AGREED = 0.5
"""Where one kind has more than this share of the belief, the detector knows the sign."""
_SURE, _NOW = 0.8, 0.75
"""A connector so sure says what the others are; how sure they are then."""
_NAMED = 2.0
"""Lettering longer than this between two signs is the id of the second, mm."""

Mask = NDArray[np.uint8]


def with_one_kind(symbols: Sequence[Symbol], ink: Mask, texts: Sequence[TextBlock]) -> tuple[Symbol, ...]:
    """The symbols (sheet mm), those connectors that look like others of a sign that the detector does not agree on.

    ``ink``: uint8 (H, W) at PX_PER_MM, 255 = all ink of the sheet; ``texts``: its lettering.
    """
    fit = [k for k, s in enumerate(symbols) if s.taught is None and _may_be_way(s.box, ink)]
    words = [t.box for t in texts if t.probability > 0.5 and max(t.box.width, t.box.height) > _NAMED]
    ways = {
        k
        for group in _alike([(k, symbols[k]) for k in fit], ink)
        if _are_ways([symbols[k] for k in group], ink, words)
        for k in group
    }
    return tuple(
        replace(s, kind="connector", probability=max(_NOW, _chance(s)), alternatives=((s.kind, s.probability),))
        if k in ways and s.kind != "connector"
        else s
        for k, s in enumerate(symbols)
    )


def _may_be_way(box: Box, ink: Mask) -> bool:
    """True for a small squarish sign that a wire leads into and out of."""
    low, high = sorted((box.width, box.height))
    if not (_SIDES[0] <= low and high <= _SIDES[1] and high <= _SQUARE * low):
        return False
    return on_a_wire(ink, box) or on_a_wire(ink.T, box.swapped())


def _chance(symbol: Symbol) -> float:
    return dict(symbol.alternatives).get("connector", 0.0)


def _alike(signs: Sequence[tuple[int, Symbol]], ink: Mask) -> list[list[int]]:
    """The numbers of signs that look like the surest of them."""
    groups: list[tuple[Box, NDArray[np.float32], list[int]]] = []
    for k, sign in sorted(signs, key=lambda pair: -pair[1].probability):
        for box, own, members in groups:
            if _of_one_size(box, sign.box) and _likeness(ink, own, sign.box) >= _SAME:
                members.append(k)
                break
        else:
            own = softened(cut_out(ink, sign.box))
            if own.std() > 0:
                groups.append((sign.box, own, [k]))
    return [members for _, _, members in groups if len(members) >= _FEWEST]


def _of_one_size(one: Box, other: Box) -> bool:
    return abs(one.width - other.width) <= _SIZE * one.width and abs(one.height - other.height) <= _SIZE * one.height


def _likeness(ink: Mask, own: NDArray[np.float32], box: Box) -> float:
    """Correlation of a sign with what stands about the middle of ``box``, where it fits best."""
    high, wide = own.shape
    x, y = round(box.centre[0] * PX_PER_MM - wide / 2), round(box.centre[1] * PX_PER_MM - high / 2)
    return likeness(ink, own, x, y, round(_SLIP * PX_PER_MM))[0]


def _are_ways(signs: Sequence[Symbol], ink: Mask, words: Sequence[Box]) -> bool:
    """True for signs that are the ways of connectors: most of them by the detector, or where it does not agree by how they stand."""
    belief: dict[str, float] = defaultdict(float)
    for s in signs:
        belief[s.kind] += s.probability
    first = max(belief, key=lambda kind: belief[kind])
    if first == "connector":
        return True
    if belief[first] > _AGREED * sum(belief.values()):
        return False
    return any(s.kind == "connector" and s.probability >= _SURE for s in signs) or _stand_linked(signs, ink, words)


def _stand_linked(signs: Sequence[Symbol], ink: Mask, words: Sequence[Box]) -> bool:
    """True when a broken line leads from one of the signs to one below it, or beside it on upright wires."""
    for turned in (False, True):
        drawn = ink.T if turned else ink
        boxes = sorted(((s.box.swapped() if turned else s.box) for s in signs), key=lambda b: b.y0)
        near = [w.swapped() if turned else w for w in words]
        if any(are_linked(a, b, drawn, near) for k, a in enumerate(boxes) for b in boxes[k + 1 :]):
            return True
    return False
