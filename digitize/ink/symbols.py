"""Sheet → symbols, and for every spot of the page how likely it is wire, lettering, a dot, a crossing or a hop.

A small convolutional net (weights and model card in ``digitize/ink/weights``) looks at the flat sheet at 6 px/mm. Its
maps are read here: peaks become symbols with a box, kind and heading; the rest is kept as maps for those who decide
about lines.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from importlib import resources
from itertools import pairwise
from typing import Any

import cv2
import numpy as np
import onnxruntime
from numpy.typing import NDArray

from digitize.errors import PartMissing
from digitize.harness.place import Box, Point
from digitize.ink.state import Symbol
from digitize.ink.symbols_boxes import is_drawn, refined
from digitize.ink.symbols_peaks import LOWEST, backed_by_strokes, reached_by_wires, symbols_of, without_number
from digitize.sheet.memory import give_back
from digitize.sheet.state import PX_PER_MM, Sheet

NET_PX_PER_MM = 6.0
"""Scale of the picture that the net was trained on."""

AREAS = ("wire", "text", "symbol", "other")
MEETINGS = ("dot", "plain", "hop", "tee")
"""Order of the maps; the same order is in the training script."""

CELL_MM = 2 / NET_PX_PER_MM
"""Side of a cell of the area and meeting maps."""

_STRIDE = 32
_MARGIN = 96
"""What a tile sees beyond its own core, px: with less, boxes near a seam begin to move."""

_WHOLE_PAGE, _LARGEST_TILE = 4.4e6, 2.7e6
"""Pixels up to which the net looks at a page in one go, an A3 page within its frame; and of a tile of a larger one."""

_AROUND_FRAME = 3.0
"""How far around the frame the net looks, mm: nothing outside is a symbol."""


@dataclass(frozen=True, slots=True, eq=False)
class SymbolFindings:
    """What the net says about one sheet.

    Attributes:
        symbols: found symbols, boxes in sheet mm, most probable first.
        areas: uint8 (4, h, w), 0..255 = probability 0..1 of each of AREAS for every cell.
        meetings: uint8 (4, h, w), the same for each of MEETINGS: a joining dot (or ring), a crossing without one, a hop
            or gap that says "no connection", a tee without a dot. High only within a cell or two of the spot itself.
        cell_mm: side of a cell; cell (row, column) covers sheet mm from (column · cell_mm, row · cell_mm).
    """

    symbols: tuple[Symbol, ...]
    areas: NDArray[np.uint8]
    meetings: NDArray[np.uint8]
    cell_mm: float = CELL_MM

    def probability(self, what: str, at: Point, reach: float = 0.6) -> float:
        """Highest probability 0..1 of ``what`` (a name of AREAS or MEETINGS) within ``reach`` mm of ``at`` (sheet mm).

        0 outside the sheet. Raises ValueError for any other name.
        """
        if what in MEETINGS:
            maps, k = self.meetings, MEETINGS.index(what)
        elif what in AREAS:
            maps, k = self.areas, AREAS.index(what)
        else:
            raise ValueError(f"no map {what!r}; there are {', '.join(AREAS + MEETINGS)}")
        column, row = at[0] / self.cell_mm - 0.5, at[1] / self.cell_mm - 0.5
        r = reach / self.cell_mm
        part = maps[
            k,
            max(0, int(np.ceil(row - r))) : max(0, int(np.floor(row + r)) + 1),
            max(0, int(np.ceil(column - r))) : max(0, int(np.floor(column + r)) + 1),
        ]
        return float(part.max()) / 255.0 if part.size else 0.0


def find_symbols(sheet: Sheet) -> SymbolFindings:
    """Look for symbols on a flat sheet and judge every spot of it.

    Raises PartMissing when the weights are not installed.
    """
    small = cv2.resize(
        sheet.grey, None, fx=NET_PX_PER_MM / PX_PER_MM, fy=NET_PX_PER_MM / PX_PER_MM, interpolation=cv2.INTER_AREA
    )
    frame = sheet.facts.frame if sheet.facts.frame_probability >= 0.5 else None
    maps, fields = _run(np.asarray(small, dtype=np.uint8), frame)
    drawn, wires = fields[AREAS.index("symbol")], fields[AREAS.index("wire")]
    found = [s for s in symbols_of(maps, 4 / NET_PX_PER_MM) if frame is None or _stands_inside(s, frame)]
    found = [without_number(s, fields[AREAS.index("text")], CELL_MM) for s in found]
    backed = [reached_by_wires(backed_by_strokes(s, drawn, CELL_MM), wires, CELL_MM) for s in found]
    symbols = tuple(refined(s, sheet.grey) for s in backed if s.probability >= LOWEST and is_drawn(s, sheet.ink))
    return SymbolFindings(symbols, fields[: len(AREAS)], fields[len(AREAS) :])


_ARROW, _AT_FRAME = 4.0, 5.5


def _stands_inside(symbol: Symbol, frame: Box) -> bool:
    """False outside the frame, and for the arrows in which wires end at it: chevrons are drawn like small connectors."""
    if not frame.holds(symbol.box.centre):
        return False
    small = max(symbol.box.width, symbol.box.height) <= _ARROW
    return not (
        small and symbol.kind in ("connector", "diode", "sounder") and not frame.holds(symbol.box.centre, -_AT_FRAME)
    )


def _run(grey: NDArray[np.uint8], frame: Box | None = None) -> tuple[NDArray[np.float32], NDArray[np.uint8]]:
    """The net over the picture, or what lies around the frame (sheet mm), in as few tiles as memory allows.

    Returns symbol maps (float32, raw) and fields (uint8, 0..255) of the whole picture; "nothing" where it did not look.
    """
    height, width = grey.shape
    maps: NDArray[np.float32] | None = None
    fields: NDArray[np.uint8] | None = None
    rows, columns = _spans(frame, height, width)
    across, down = _tiling(rows[1] - rows[0], columns[1] - columns[0])
    for top, stop_y in _cut(rows, down):
        for left, stop_x in _cut(columns, across):
            y0, x0 = max(rows[0], top - _MARGIN), max(columns[0], left - _MARGIN)
            y1, x1 = min(rows[1], stop_y + _MARGIN), min(columns[1], stop_x + _MARGIN)
            tile = np.ones((_up(y1 - y0), _up(x1 - x0)), np.float32)
            np.divide(grey[y0:y1, x0:x1], np.float32(255.0), out=tile[: y1 - y0, : x1 - x0])
            np.subtract(1.0, tile, out=tile)
            symbols, areas = _session().run(None, {"ink": tile[None, None]})
            if maps is None or fields is None:
                maps = np.full((symbols.shape[1], -(-height // 4), -(-width // 4)), -20.0, np.float32)
                fields = np.zeros((areas.shape[1], -(-height // 2), -(-width // 2)), np.uint8)
            _paste(maps, symbols[0], 4, (top, stop_y, left, stop_x), (y0, x0))
            _paste(fields, areas[0], 2, (top, stop_y, left, stop_x), (y0, x0))
            del tile, symbols, areas  # before the next ones are made
    if across * down > 1:
        _give_back()
    assert maps is not None
    assert fields is not None
    return maps, fields


Span = tuple[int, int]


def _spans(frame: Box | None, height: int, width: int) -> tuple[Span, Span]:
    """Rows and columns of the net's picture that it looks at, beginning at a multiple of its stride."""
    if frame is None:
        return (0, height), (0, width)
    b = frame.grown(_AROUND_FRAME)
    y0, y1, x0, x1 = (round(v * NET_PX_PER_MM) for v in (b.y0, b.y1, b.x0, b.x1))
    rows = max(0, y0 // _STRIDE * _STRIDE), min(height, y1)
    columns = max(0, x0 // _STRIDE * _STRIDE), min(width, x1)
    whole = rows[1] - rows[0] < _STRIDE or columns[1] - columns[0] < _STRIDE
    return ((0, height), (0, width)) if whole else (rows, columns)


def _tiling(height: int, width: int) -> tuple[int, int]:
    """Into how many tiles across and down the picture is cut: the least to look at, no tile over _LARGEST_TILE."""

    def seen(length: int, parts: int) -> int:
        return _up(-(-length // parts)) + _MARGIN * min(2, parts - 1)

    if _up(height) * _up(width) <= _WHOLE_PAGE:
        return 1, 1
    ways = ((across, down) for across in range(1, 33) for down in range(1, 33))
    sizes = {w: (seen(width, w[0]), seen(height, w[1])) for w in ways}
    fitting = [w for w, (x, y) in sizes.items() if x * y <= _LARGEST_TILE] or [(32, 32)]
    return min(fitting, key=lambda w: (sizes[w][0] * w[0] * sizes[w][1] * w[1], w))


def _cut(span: Span, parts: int) -> list[Span]:
    """A span in about equal parts that begin at multiples of the stride from its start."""
    low, high = span
    cuts = [low + k * (high - low) // parts // _STRIDE * _STRIDE for k in range(parts)]
    return [(a, b) for a, b in pairwise([*cuts, high]) if a < b]


def _up(length: int) -> int:
    return -(-length // _STRIDE) * _STRIDE


def _paste(
    whole: NDArray[Any], part: NDArray[Any], step: int, core: tuple[int, int, int, int], origin: tuple[int, int]
) -> None:
    """Copy the core of a tile's map; px of the net's picture, ``step`` px to a cell."""
    top, stop_y, left, stop_x = core
    rows, columns = slice(top // step, -(-stop_y // step)), slice(left // step, -(-stop_x // step))
    dy, dx = origin[0] // step, origin[1] // step
    whole[:, rows, columns] = part[:, rows.start - dy : rows.stop - dy, columns.start - dx : columns.stop - dx]


def _give_back() -> None:
    """Give the memory that the net worked in back to the system, by a run over next to nothing that says so.

    Pages of usual size keep it for the next page.
    """
    options = onnxruntime.RunOptions()
    options.add_run_config_entry("memory.enable_memory_arena_shrinkage", "cpu:0")
    _session().run(None, {"ink": np.zeros((1, 1, _STRIDE, _STRIDE), np.float32)}, options)
    give_back()


@cache
def _session() -> onnxruntime.InferenceSession:
    """The net, loaded once in a process; one thread, since sheets are spread over processes."""
    file = resources.files("digitize.ink") / "weights" / "symbols.onnx"
    if not file.is_file():
        raise PartMissing(
            "The weights for finding symbols (digitize/ink/weights/symbols.onnx) are missing.",
            "Install digitize again.",
        )
    options = onnxruntime.SessionOptions()
    options.intra_op_num_threads = 1
    options.inter_op_num_threads = 1
    options.log_severity_level = 3
    options.enable_mem_pattern = False  # laid out ahead, the net's memory would be twice as large
    return onnxruntime.InferenceSession(file.read_bytes(), options, providers=["CPUExecutionProvider"])
