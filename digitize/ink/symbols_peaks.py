"""The net's symbol maps → symbols: peaks, their boxes and headings, doubles removed, chances calibrated."""

from __future__ import annotations

from dataclasses import replace
from typing import NamedTuple

import cv2
import numpy as np
from numpy.typing import NDArray

from digitize.harness.place import Box, Point
from digitize.ink.state import SYMBOL_KINDS, Symbol
from digitize.sheet.ranked import median

SIDES = ("right", "down", "left", "up")
"""Headings in the order of the net's maps."""

DIRECTED = ("battery", "diode", "ground", "horn", "sounder", "speaker")
"""Kinds whose heading means something."""

CONTAINERS = ("fuse_block", "module")
"""Kinds with box maps of their own, because others stand in their middle."""

TOLD_APART = ("connector", "diode", "fuse", "fuse_block", "ground", "grommet")
"""Kinds that mean something different for the wiring. All others are components, and one net's doubt between a lamp and
a motor does not make the find itself doubtful: their chances are added."""

_KINDS = len(SYMBOL_KINDS)
_COMPONENTS = tuple(k for k, kind in enumerate(SYMBOL_KINDS) if kind not in TOLD_APART)
_WORTH_A_LOOK = -2.2
"""Logit below which a cell's chance (0.1) is not worth adding up."""

_PEAK = 0.15
"""Raw scores below this are not looked at: on generated pages next to none of them is true."""

LOWEST = 0.3
"""Calibrated chances below this are not told."""

CALIBRATION = {True: (3.43, 1.16), False: (1.08, -0.44)}
"""Slope and offset on the logit of the raw score, for kinds told apart and for components; see the model card."""

_SAME = 0.45
"""Two finds whose boxes overlap by more than this part of their union are one symbol."""


_SMALL = 7.0
"""Up to this size (mm) a component that no wire reaches is doubted."""

_FRAMED = 0.4
"""Chance of a faint frame around two fuses or more."""

_IN_A_ROW = 0.1
"""Raw score that is enough for a fuse that stands in a row with others in a fuse block."""


class Find(NamedTuple):
    """A peak: chance, kind, box, heading, other kinds with their chances, and where the peak itself is (mm)."""

    chance: float
    kind: str
    box: Box
    heading: str | None
    others: dict[str, float]
    at: Point

    def symbol(self) -> Symbol:
        """The symbol, its alternatives most probable first."""
        others = tuple(sorted(self.others.items(), key=lambda a: -a[1]))
        return Symbol(self.kind, self.box, self.chance, self.heading, others)


def symbols_of(maps: NDArray[np.float32], cell: float) -> tuple[Symbol, ...]:
    """Symbols from raw maps (kinds + 8 + 4, h, w); ``cell`` is a cell's side in mm. Most probable first."""
    finds: list[Find] = []
    faint: list[Find] = []
    frames: list[Find] = []
    for group in (*((SYMBOL_KINDS.index(k),) for k in TOLD_APART), _COMPONENTS):
        score = _scores(maps, group)
        peaks = (score >= min(_PEAK, _IN_A_ROW)) & (score >= cv2.dilate(score, np.ones((3, 3), np.uint8)))
        for row, column in zip(*(a.tolist() for a in np.nonzero(peaks)), strict=True):
            said = _said(maps, group, row, column)
            kind, _ = said[0]
            box = _box(maps, row, column, kind in CONTAINERS, cell)
            heading = _heading(maps, row, column) if kind in DIRECTED else None
            raw = float(score[row, column])
            chance = calibrated(raw, told_apart=kind in TOLD_APART)
            at = ((column + 0.5) * cell, (row + 0.5) * cell)
            if raw >= _PEAK and chance >= LOWEST:
                finds.append(Find(chance, kind, box, heading, dict(said[1:]), at))
            elif kind == "fuse" and raw >= _IN_A_ROW:
                faint.append(Find(0.5, kind, box, heading, dict(said[1:]), at))
            elif kind == "fuse_block" and raw >= _PEAK:
                frames.append(Find(_FRAMED, kind, box, heading, dict(said[1:]), at))
    finds.sort(key=lambda f: -f.chance)
    finds, faint = _fuses_of_one_size(finds, finds), _fuses_of_one_size(faint, finds)
    finds += _frames_of_fuses(frames, finds)
    symbols = _with_fuses_in_blocks(_without_doubles(finds))
    return _with_faint_fuses(symbols, faint)


def _frames_of_fuses(frames: list[Find], finds: list[Find]) -> list[Find]:
    """A faint frame that holds two fuses or more is their block's, unless a surer body has any of that ground."""
    fuses = [f.box for f in finds if f.kind == "fuse"]
    bodies = [f.box for f in finds if f.kind in CONTAINERS]
    return [f for f in frames if len(_fuses_in(f.box, fuses)) >= 2 and not any(f.box.overlap(b) > 0 for b in bodies)]


def _fuses_of_one_size(finds: list[Find], known: list[Find]) -> list[Find]:
    """Fuses whose box swelled towards that of the block whose middle they share get the size of their neighbours."""
    sizes = [(f.box.width, f.box.height) for f in known if f.kind == "fuse"]
    if len(sizes) < 2:
        return finds
    return [
        _sized(f, [k.box for k in known if k.kind == "fuse" and k is not f and _in_line(k.box.centre, f.at)])
        for f in finds
    ]


def _sized(f: Find, near: list[Box]) -> Find:
    if f.kind != "fuse" or not near:
        return f
    width, height = (median(v) for v in zip(*((b.width, b.height) for b in near), strict=True))
    if f.box.width <= 1.6 * width and f.box.height <= 1.6 * height:
        return f
    x, y = f.at
    return f._replace(box=Box(x - width / 2, y - height / 2, x + width / 2, y + height / 2))


def _in_line(a: Point, b: Point) -> bool:
    """Below or beside each other within 1.5 mm, at most 60 mm apart."""
    dx, dy = abs(a[0] - b[0]), abs(a[1] - b[1])
    return min(dx, dy) < 1.5 and max(dx, dy) < 60


def calibrated(score: float, *, told_apart: bool) -> float:
    """Raw score 0..1 → how often such a find is right (logistic fit on held-out generated pieces)."""
    slope, offset = CALIBRATION[told_apart]
    p = min(0.999, max(0.001, score))
    return float(1 / (1 + np.exp(-(slope * np.log(p / (1 - p)) + offset))))


def backed_by_strokes(symbol: Symbol, drawn: NDArray[np.uint8], cell: float) -> Symbol:
    """The symbol, less probable when the map of symbol strokes shows too little in its box.

    ``drawn``: uint8 (h, w), 0..255 chance of a symbol's stroke in each cell of side ``cell`` mm. A closed outline alone
    gives a measure of 1; of true finds on held-out generated pieces 99 of 100 have 0.66 or more, of false ones half.
    """
    b = symbol.box
    rows = slice(max(0, int(b.y0 / cell)), max(0, int(b.y1 / cell)) + 1)
    columns = slice(max(0, int(b.x0 / cell)), max(0, int(b.x1 / cell)) + 1)
    inked = float((drawn[rows, columns] > 128).sum()) * cell * cell
    measure = inked / (2 * (b.width + b.height) * cell)
    return replace(symbol, probability=symbol.probability * min(1.0, max(0.05, (measure - 0.3) / 0.4)))


def without_number(symbol: Symbol, lettering: NDArray[np.uint8], cell: float) -> Symbol:
    """A pass-through with a number in it is a connector, if it looked like one too: nothing is printed in a grommet.

    ``lettering``: uint8 (h, w), 0..255 chance of lettering in each cell of side ``cell`` mm. Common practice, no source.
    """
    other = dict(symbol.alternatives).get("connector", 0.0)
    if symbol.kind != "grommet" or other < 0.4 * symbol.probability:
        return symbol
    (x, y), w, h = symbol.box.centre, symbol.box.width, symbol.box.height
    rows = slice(max(0, int((y - h / 6) / cell)), max(0, int((y + h / 6) / cell)) + 1)
    columns = slice(max(0, int((x - w / 6) / cell)), max(0, int((x + w / 6) / cell)) + 1)
    inner = lettering[rows, columns]
    if not inner.size or float((inner > 128).mean()) < 0.5:
        return symbol
    others = tuple(a for a in symbol.alternatives if a[0] != "connector")
    return replace(symbol, kind="connector", alternatives=(("grommet", symbol.probability * 0.5), *others))


def reached_by_wires(symbol: Symbol, wires: NDArray[np.uint8], cell: float) -> Symbol:
    """A small component that no wire comes near (3 mm) is more likely a letter, a hair or a scratch: chance times 0.4.

    ``wires``: uint8 (h, w), 0..255 chance of a wire in each cell of side ``cell`` mm. Kinds told apart stay as they are:
    an earth mark may hang on a case, a fuse stand within a block.
    """
    if symbol.kind in TOLD_APART or max(symbol.box.width, symbol.box.height) > _SMALL:
        return symbol
    b = symbol.box.grown(3.0)
    rows = slice(max(0, int(b.y0 / cell)), max(0, int(b.y1 / cell)) + 1)
    columns = slice(max(0, int(b.x0 / cell)), max(0, int(b.x1 / cell)) + 1)
    near = wires[rows, columns]
    if near.size and near.max() > 128:
        return symbol
    return replace(symbol, probability=symbol.probability * 0.4)


def _scores(maps: NDArray[np.float32], group: tuple[int, ...]) -> NDArray[np.float32]:
    """Chance of a symbol of any of the group's kinds at each cell (h, w): the chances of the kinds added, at most 0.99."""
    strongest = maps[group[0]]
    for kind in group[1:]:  # one by one: a copy of all maps together would be large
        strongest = np.maximum(strongest, maps[kind])
    score = np.zeros(strongest.shape, np.float32)
    rows, columns = np.nonzero(strongest > _WORTH_A_LOOK)
    chances = 1 / (1 + np.exp(-maps[np.array(group)[:, None], rows, columns])) if len(group) > 1 else None
    if chances is None:
        score[rows, columns] = 1 / (1 + np.exp(-strongest[rows, columns]))
    else:
        chances[chances < 0.03] = 0  # the floor of so many kinds would add up to something
        score[rows, columns] = np.minimum(0.99, chances.sum(axis=0))
    return score


def _said(maps: NDArray[np.float32], group: tuple[int, ...], row: int, column: int) -> list[tuple[str, float]]:
    """The group's kinds at a peak with their chances, highest first; those under 0.05 left out, but for the first."""
    around = maps[list(group), max(0, row - 1) : row + 2, max(0, column - 1) : column + 2]
    chances = 1 / (1 + np.exp(-around.reshape(len(group), -1).max(axis=1)))
    order = np.argsort(-chances)
    return [(SYMBOL_KINDS[group[k]], float(chances[k])) for n, k in enumerate(order) if n == 0 or chances[k] >= 0.05]


def _box(maps: NDArray[np.float32], row: int, column: int, container: bool, cell: float) -> Box:
    """The box told by the cells around a peak, each weighed alike: less jumpy than one cell's word."""
    first = _KINDS + (4 if container else 0)
    edges = []
    for dy in (-1, 0, 1):
        for dx in (-1, 0, 1):
            y, x = row + dy, column + dx
            if abs(dx) + abs(dy) < 2 and 0 <= y < maps.shape[1] and 0 <= x < maps.shape[2]:
                reach = np.logaddexp(0.0, maps[first : first + 4, y, x]) * 4
                edges.append((x - reach[0], y - reach[1], x + reach[2], y + reach[3]))
    x0, y0, x1, y1 = (median([e[i] for e in edges]) for i in range(4))
    return Box((x0 + 0.5) * cell, (y0 + 0.5) * cell, (x1 + 0.5) * cell, (y1 + 0.5) * cell)


def _heading(maps: NDArray[np.float32], row: int, column: int) -> str:
    said = maps[_KINDS + 8 : _KINDS + 12, max(0, row - 1) : row + 2, max(0, column - 1) : column + 2].mean(axis=(1, 2))
    return SIDES[int(np.argmax(said))]


def _share(a: Box, b: Box) -> float:
    common = a.overlap(b)
    return common / max(1e-6, a.width * a.height + b.width * b.height - common)


def _without_doubles(finds: list[Find]) -> tuple[Symbol, ...]:
    """One symbol where several kinds (or several peaks of one kind) claim the same box; the others are alternatives."""
    kept: list[Find] = []
    for f in finds:
        for best in kept:
            if _share(f.box, best.box) > _SAME or (f.kind == best.kind and _mostly_inside(f.box, best.box)):
                if f.kind != best.kind:
                    best.others[f.kind] = max(best.others.get(f.kind, 0.0), f.chance)
                break
        else:
            kept.append(f)
    return tuple(f.symbol() for f in kept)


def _mostly_inside(box: Box, other: Box) -> bool:
    smaller = min(box.width * box.height, other.width * other.height)
    return box.overlap(other) > 0.7 * smaller


def _fuses_in(box: Box, fuses: list[Box]) -> list[Box]:
    return [f for f in fuses if box.holds(f.centre) and f.width * f.height < 0.5 * box.width * box.height]


def _with_fuses_in_blocks(symbols: tuple[Symbol, ...]) -> tuple[Symbol, ...]:
    """A frame around two fuses or more is a fuse block, whatever else it looked like; of nested ones the fuller stays."""
    fuses = [s.box for s in symbols if s.kind == "fuse"]
    out = []
    for s in symbols:
        if s.kind in ("module", "unknown", "relay") and len(_fuses_in(s.box, fuses)) >= 2:
            others = tuple(a for a in s.alternatives if a[0] != "fuse_block")
            out.append(replace(s, kind="fuse_block", alternatives=((s.kind, s.probability * 0.5), *others)))
        else:
            out.append(s)
    blocks = sorted(
        (s for s in out if s.kind == "fuse_block"), key=lambda s: (-len(_fuses_in(s.box, fuses)), -s.probability)
    )
    kept: list[Symbol] = []
    for block in blocks:
        if not any(_mostly_inside(block.box, k.box) for k in kept):
            kept.append(block)
    return tuple(s for s in out if s.kind != "fuse_block" or s in kept)


def _with_faint_fuses(symbols: tuple[Symbol, ...], faint: list[Find]) -> tuple[Symbol, ...]:
    """Fuses of a block stand in a row and look alike: a faint one between its like is believed (0.5)."""
    fuses = [s.box for s in symbols if s.kind == "fuse"]
    out = list(symbols)
    for block in (s for s in symbols if s.kind == "fuse_block"):
        sure = _fuses_in(block.box, fuses)
        for f in faint:
            if not block.box.holds(f.box.centre) or any(_share(f.box, s) > 0.1 for s in sure):
                continue
            if any(_alike(f.box, s) for s in sure):
                out.append(f.symbol())
                sure.append(f.box)
    return tuple(out)


def _alike(a: Box, b: Box) -> bool:
    """Two boxes of about one size, one below or beside the other."""
    same_size = abs(a.width - b.width) < 0.3 * b.width + 0.5 and abs(a.height - b.height) < 0.3 * b.height + 0.7
    return same_size and _in_line(a.centre, b.centre)
