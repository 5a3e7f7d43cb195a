"""What the simulated reviewer sees when it looks at a scan: the truth of a drawn manual laid over a harness, by place alone.

Matching is that of ``fixtures.compare_match``: by place and print, one to one, never by ids. Points go over the pixels of the
scan, so that it does not matter where a stage put its origin.
"""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Callable, Mapping
from itertools import pairwise

import numpy as np

from digitize.harness.model import Harness, Wire, WireEnd
from digitize.harness.place import Box, Place, Point
from digitize.sheet.mapping import SheetMapping
from fixtures.compare_match import (
    DOT_NEAR,
    END_NEAR,
    END_NEAR_MATCHED,
    PATH_NEAR,
    Key,
    Node,
    distance_to,
    key_of,
    matched_pairs,
    nearest,
    over_scan,
    pair_of,
    plain,
    spot,
    true_terminals,
)
from fixtures.truth import TrueWire, Truth

STEP = 3.0
"""Distance of the points along a wire (mm) at which the reviewer looks which drawn wire it lies on (own choice)."""


class Ground:
    """What does not change while a manual is reviewed: the truth, its terminals and the way from sheets to truth and scan."""

    def __init__(self, truth: Truth, mappings: Mapping[str, SheetMapping], numbers: Mapping[str, int]) -> None:
        """``mappings``: sheet id of the harness → its mapping; ``numbers``: sheet id → page number, by which pages are matched."""
        self.truth = truth
        pages = {p.number: p for p in truth.pages}
        self.sheet_of = {sheet: pages[n].sheet for sheet, n in numbers.items() if n in pages}
        self.sheet_to = {v: k for k, v in self.sheet_of.items()}
        self.movers: dict[str, Callable[[Point], Point]] = {
            sheet: over_scan(mapping, pages[numbers[sheet]].mapping)
            for sheet, mapping in mappings.items()
            if numbers.get(sheet) in pages
        }
        self.by_node: dict[str, list[tuple[Key, Point]]] = defaultdict(list)
        self.by_sheet: dict[str, list[tuple[Key, Point]]] = defaultdict(list)
        self.sheet_at: dict[Key, tuple[str, Point]] = {}
        for key, sheet, at in true_terminals(truth):
            self.by_node[key[0]].append((key, at))
            self.by_sheet[sheet].append((key, at))
            self.sheet_at[key] = (sheet, at)
        for c in truth.components:  # a wire to a fuse may be given to its block, and the other way round
            if c.parent is not None:
                extra = list(self.by_node[c.id])
                self.by_node[c.id] += [t for t in self.by_node[c.parent] if t[0][0] == c.parent]
                self.by_node[c.parent] += extra
        self._parents = {c.id: c.parent for c in truth.components if c.parent is not None}
        self._mappings = dict(mappings)
        self.pairs = [pair_of(key_of(w.ends[0]), key_of(w.ends[1])) for w in truth.wires]
        self.lines: dict[str, list[tuple[int, Point, Point]]] = defaultdict(list)
        for k, w in enumerate(truth.wires):
            for path in w.paths:
                self.lines[path.sheet] += [(k, a, b) for a, b in pairwise(path.points)]

    def parent_of(self, node: str | None) -> str | None:
        """The block that a true fuse sits in; None for anything else."""
        return self._parents.get(node or "")

    def back(self, sheet: str, pixel: tuple[float, float]) -> Point:
        """Sheet mm of the harness of a scan pixel; ``sheet`` is the harness's. Raises KeyError for one without a mapping."""
        x, y = self._mappings[sheet].to_sheet(np.array([pixel]))[0]
        return (float(x), float(y))

    def pixel(self, sheet: str, at: Point) -> Point:
        """Scan pixels of a true point; ``sheet`` is the truth's."""
        x, y = self.truth.page(sheet).mapping.to_scan(np.array([at]))[0]
        return (float(x), float(y))


class View:
    """One harness seen against the truth."""

    def __init__(self, ground: Ground, harness: Harness) -> None:
        """Match everything that is drawn; costs about 20 ms for a manual of six sheets."""
        self.ground = ground
        self.harness = harness
        self.matched: dict[str, str] = {}
        self._match()
        self.back: dict[str, str] = {v: k for k, v in self.matched.items()}
        self.wires = {w.id: w for w in harness.wires}
        self.keys = {w.id: (self.key(w.ends[0], f"{w.id}.0"), self.key(w.ends[1], f"{w.id}.1")) for w in harness.wires}
        waiting: dict[tuple[Key, Key], list[int]] = defaultdict(list)
        for k, pair in enumerate(ground.pairs):
            waiting[pair].append(k)
        self.right: dict[str, int] = {}
        for wire in harness.wires:
            options = waiting.get(pair_of(*self.keys[wire.id]), [])
            if options:
                same = (k for k in options if ground.truth.wires[k].code == wire.code.value)
                k = next(same, options[0])
                options.remove(k)
                self.right[wire.id] = k
        self.found = set(self.right.values())

    def ends_f1(self) -> float:
        """F1 of wire ends: a wire is right when both its ends are at the terminals of one true wire."""
        whole = len(self.harness.wires) + len(self.ground.pairs)
        return 2 * len(self.right) / whole if whole else 1.0

    def ends_f1_by_page(self) -> dict[str, float]:
        """F1 of wire ends of each sheet (the truth's id) on which wires begin."""
        begins = [w.paths[0].sheet for w in self.ground.truth.wires]
        right = Counter(begins[k] for k in self.right.values())
        wrong = Counter(self.true_sheet(w.paths[0].sheet) for w in self.harness.wires if w.id not in self.right)
        true = Counter(begins)
        return {s: 2 * right[s] / (right[s] + wrong[s] + true[s]) for s in sorted(true.keys() | wrong.keys())}

    def at(self, sheet: str, point: Point) -> Point:
        """A point of the harness in the truth's mm."""
        mover = self.ground.movers.get(sheet)
        return point if mover is None else mover(point)

    def true_sheet(self, sheet: str) -> str:
        """The truth's id of a sheet."""
        return self.ground.sheet_of.get(sheet, sheet)

    def key(self, end: WireEnd, own: str) -> Key:
        """The true terminal at which a wire end lies; a key of its own when it lies at none."""
        at = self.at(end.sheet, end.at)
        node = self.matched.get(end.node or "")
        best = None if node is None else nearest(self.ground.by_node.get(node, []), at, END_NEAR_MATCHED)
        best = best or nearest(self.ground.by_sheet.get(self.true_sheet(end.sheet), []), at, END_NEAR)
        return best if best is not None else (f"?{own}", "?")

    def steps(self, wire: Wire) -> list[tuple[int | None, str, Point]]:
        """Along the wire every STEP mm: the true wire it lies on (None: on none), harness sheet, harness mm."""
        spots: list[tuple[set[int], str, Point]] = []
        for path in wire.paths:
            lines = self.ground.lines[self.true_sheet(path.sheet)]
            for a, b in pairwise(path.points):
                pieces = max(1, int(math.dist(a, b) / STEP))
                for i in range(pieces):
                    s = (i + 0.5) / pieces
                    mm = (a[0] + (b[0] - a[0]) * s, a[1] + (b[1] - a[1]) * s)
                    p = self.at(path.sheet, mm)
                    spots.append(({k for k, u, v in lines if _close(p, u, v)}, path.sheet, mm))
        told: list[tuple[int | None, str, Point]] = []
        last: int | None = None
        for i, (near, sheet, mm) in enumerate(spots):
            if last not in near:  # where several meet, the one that goes on longest is meant
                last = max(near, key=lambda k: (_run(spots, i, k), -k), default=None)
            told.append((last, sheet, mm))
        return told

    def lies_on(self, wire: Wire) -> Counter[int]:
        """True wires under the wire, with the number of steps for which each runs; short brushes are left out."""
        told = self.steps(wire)
        counts = Counter(k for k, _, _ in told if k is not None)
        least = max(1, min(3, len(told) // 8))
        return Counter({k: n for k, n in counts.items() if n >= least})

    def true_wire(self, wire: Wire) -> TrueWire | None:
        """The true wire that a wire means: by its ends, else the one under most of it."""
        if wire.id in self.right:
            return self.ground.truth.wires[self.right[wire.id]]
        under = self.lies_on(wire)
        return self.ground.truth.wires[under.most_common(1)[0][0]] if under else None

    def _node(self, id_: str, place: Place, label: str | None) -> Node:
        box = place.box
        corners = [(box.x0, box.y0), (box.x1, box.y0), (box.x1, box.y1), (box.x0, box.y1)]
        moved = Box.around([self.at(place.sheet, c) for c in corners])
        return Node(id_, self.true_sheet(place.sheet), moved, plain(label), place.zone)

    def _match(self) -> None:
        h, t = self.harness, self.ground.truth
        for fuse in (False, True):
            true = [Node(c.id, c.sheet, c.box, plain(c.name)) for c in t.components if (c.kind == "fuse") is fuse]
            read = [self._node(c.id, c.place, c.name.value) for c in h.components if (c.kind == "fuse") is fuse]
            self._pair(true, read)
        self._pair(
            [Node(c.id, c.sheet, c.box, plain(c.label)) for c in t.connectors],
            [self._node(p.id, p.place, c.label.value) for c in h.connectors for p in c.places],
        )
        self._pair(
            [Node(g.id, g.sheet, g.box, plain(g.label)) for g in t.grounds if g.case_of is None],
            [self._node(g.id, g.place, g.label.value) for g in h.grounds],
        )
        dots = [Node(s.id, self.true_sheet(s.place.sheet), spot(self.at(s.place.sheet, s.at)), "") for s in h.splices]
        self._pair([Node(s.id, s.sheet, spot(s.at), "") for s in t.splices], dots, points=True)

    def _pair(self, true: list[Node], read: list[Node], *, points: bool = False) -> None:
        pairs = matched_pairs(true, read, reach=DOT_NEAR, points=True) if points else matched_pairs(true, read)
        self.matched.update({b.id: a.id for a, b in pairs})


def _run(spots: list[tuple[set[int], str, Point]], start: int, k: int) -> int:
    """For how many spots from ``start`` on the true wire ``k`` stays near."""
    return next((n for n, (near, _, _) in enumerate(spots[start:]) if k not in near), len(spots) - start)


def _close(p: Point, a: Point, b: Point) -> bool:
    if min(a[0], b[0]) - PATH_NEAR > p[0] or max(a[0], b[0]) + PATH_NEAR < p[0]:
        return False
    if min(a[1], b[1]) - PATH_NEAR > p[1] or max(a[1], b[1]) + PATH_NEAR < p[1]:
        return False
    return distance_to(p, a, b) <= PATH_NEAR
