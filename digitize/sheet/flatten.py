"""Scan → Sheet: find the paper and the frame, set the page upright and flat, even out the light, tell ink from paper."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from digitize.errors import PageUnreadable
from digitize.harness.place import Box
from digitize.sheet.frame import FrameLines, Rule, find_frame, find_rules, settled_box
from digitize.sheet.kind import kind_of_page
from digitize.sheet.light import even_out, ink_of
from digitize.sheet.mapping import Bow, SheetMapping, as_matrix
from digitize.sheet.paper import Paper, find_paper
from digitize.sheet.size import page_size
from digitize.sheet.skew import skew_of_ink, skew_of_rules
from digitize.sheet.state import PX_PER_MM, Scan, Sheet, SheetFacts, SheetHints
from digitize.sheet.ticks import find_ticks
from digitize.sheet.zone_fit import nominal_zones, zones_from_hints

Matrix = NDArray[np.float64]

COARSE_PX_PER_MM = 4.0
"""Scale of the first flat picture, in which paper, skew and frame are found."""

EDGE_MM = 2.5
"""A rule this near to the edge of the paper is the edge itself or its shadow."""

MAX_SHEET_MEGAPIXELS = 250.0
_STRIP_ROWS = 1024
_GRID_PX = 16
"""The bow of a curled page is worked out exactly every so many px and interpolated between (error < 0.01 px)."""


def flatten(scan: Scan, grey: NDArray[np.uint8], hints: SheetHints | None = None) -> Sheet:
    """The page of ``scan``, whose pixels are ``grey`` (H, W), as a flat sheet at PX_PER_MM.

    Raises:
        PageUnreadable: too few pixels, or a size that cannot be a sheet.
    """
    hints = hints or SheetHints()
    where = f"{scan.path}, page {scan.page + 1}" if scan.page else scan.path
    if grey.ndim != 2 or min(grey.shape) < 16:
        raise PageUnreadable(
            f"{where} is only {grey.shape[-1]} × {grey.shape[0]} pixels.", "Scan it at 200 dpi or more."
        )
    paper = find_paper(grey)
    size = page_size(paper.width, paper.height, scan.dpi, hints)
    if size.width * size.height * PX_PER_MM**2 > MAX_SHEET_MEGAPIXELS * 1e6:
        raise PageUnreadable(
            f"{where} would be {size.width:.0f} × {size.height:.0f} mm on paper.",
            "State the page size in the conventions, or correct the dpi noted in the file.",
        )
    width, height = size.width, size.height
    base = _paper_matrix(paper, width, height)
    level, upright, base = _rules(grey, base, width, height, paper)
    outer, inner = find_frame(level, upright, width, height)
    if outer is not None:
        mapping = _mapping_from_frame(base, outer)
    else:
        mapping = SheetMapping(as_matrix(base @ _turn(skew_of_rules(level, upright), width, height)))
    even = even_out(_flat_picture(grey, mapping, width, height), PX_PER_MM)
    inked = ink_of(even, PX_PER_MM)
    _clear_surround(inked, even, paper)
    border = settled_box(inked, _box_on(outer, base, mapping)) if outer else None
    frame = settled_box(inked, _box_on(inner, base, mapping)) if inner else border
    ticks = find_ticks(inked, frame, border if inner else None) if frame else ((), ())
    stated = zones_from_hints(frame, hints, *ticks) if frame and hints.kind in {None, "diagram"} else None
    zones = stated or nominal_zones(width, height, frame)
    kind, kind_probability = kind_of_page(inked, frame, level, upright, hints)
    facts = SheetFacts(
        sheet=scan.sheet,
        width=width,
        height=height,
        scan_width=grey.shape[1],
        scan_height=grey.shape[0],
        dpi=paper.width / width * 25.4,
        dpi_stated=size.stated,
        mapping=mapping,
        frame=frame,
        frame_probability=outer.probability if outer else 0.9,
        zones=zones,
        zones_probability=_zones_probability(stated is not None, ticks, hints),
        kind=kind,
        kind_probability=kind_probability,
        border=border if inner else None,
        ticks_across=ticks[0],
        ticks_down=ticks[1],
    )
    return Sheet(facts, even, inked)


def _rules(
    grey: NDArray[np.uint8], base: Matrix, width: float, height: float, paper: Paper
) -> tuple[list[Rule], list[Rule], Matrix]:
    """Long rules of the page, off its edges, and the base they are measured on: turned first where the paper's own
    edges do not show how the page lies.
    """
    ink = _coarse_ink(grey, base, width, height)
    if sum(paper.seen) < 2:
        angle = skew_of_ink(ink)
        if abs(angle) > np.deg2rad(0.2):
            base = base @ _turn(angle, width, height)
            ink = _coarse_ink(grey, base, width, height)
    level, upright = find_rules(ink, COARSE_PX_PER_MM, 0.25 * min(width, height))
    level = [r for r in level if EDGE_MM < r.middle < height - EDGE_MM or not (paper.seen[1] and paper.seen[3])]
    upright = [r for r in upright if EDGE_MM < r.middle < width - EDGE_MM or not (paper.seen[0] and paper.seen[2])]
    return level, upright, base


def _zones_probability(stated: bool, ticks: tuple[tuple[float, ...], tuple[float, ...]], hints: SheetHints) -> float:
    """How sure the grid is before any label was read."""
    if not stated:
        return 0.5
    fits = len(ticks[0]) == (hints.columns or 0) - 1 and len(ticks[1]) == (hints.rows or 0) - 1
    return 0.98 if fits else 0.9


def _paper_matrix(paper: Paper, width: float, height: float) -> Matrix:
    """Sheet mm → scan px by the four corners of the paper."""
    corners = np.array([[0, 0], [width, 0], [width, height], [0, height]], dtype=np.float32)
    return np.asarray(cv2.getPerspectiveTransform(corners, paper.corners.astype(np.float32)), dtype=np.float64)


def _coarse_ink(grey: NDArray[np.uint8], base: Matrix, width: float, height: float) -> NDArray[np.uint8]:
    """Ink of the page at COARSE_PX_PER_MM, faint strokes kept."""
    even = even_out(_warp(grey, base, width, height, COARSE_PX_PER_MM), COARSE_PX_PER_MM)
    return ink_of(even, COARSE_PX_PER_MM, 0.25)


def _to_px(per_mm: float) -> Matrix:
    """Sheet mm → flat px at ``per_mm``."""
    return np.array([[per_mm, 0, -0.5], [0, per_mm, -0.5], [0, 0, 1.0]])


def _shrunk(grey: NDArray[np.uint8], scan_px_per_mm: float, per_mm: float) -> tuple[NDArray[np.uint8], Matrix]:
    """The scan area-averaged to about the wanted scale, and the matrix scan px → px of that picture."""
    factor = scan_px_per_mm / per_mm
    if factor <= 1.3:
        return grey, np.eye(3)
    h, w = max(1, round(grey.shape[0] / factor)), max(1, round(grey.shape[1] / factor))
    small = cv2.resize(grey, (w, h), interpolation=cv2.INTER_AREA)
    fx, fy = w / grey.shape[1], h / grey.shape[0]
    return small, np.array([[fx, 0, 0.5 * fx - 0.5], [0, fy, 0.5 * fy - 0.5], [0, 0, 1.0]])


def _scan_scale(matrix: Matrix, width: float, height: float) -> float:
    """Scan px per sheet mm in the middle of the page."""
    middle = np.array([[width / 2, height / 2], [width / 2 + 1, height / 2], [width / 2, height / 2 + 1]])
    p = SheetMapping(as_matrix(matrix)).to_scan(middle)
    return float(np.linalg.norm(p[1] - p[0]) + np.linalg.norm(p[2] - p[0])) / 2


def _warp(grey: NDArray[np.uint8], matrix: Matrix, width: float, height: float, per_mm: float) -> NDArray[np.uint8]:
    source, shrink = _shrunk(grey, _scan_scale(matrix, width, height), per_mm)
    total = shrink @ matrix @ np.linalg.inv(_to_px(per_mm))
    size = (max(1, round(width * per_mm)), max(1, round(height * per_mm)))
    flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    return np.asarray(cv2.warpPerspective(source, total, size, flags=flags, borderValue=255), dtype=np.uint8)


def _flat_picture(grey: NDArray[np.uint8], mapping: SheetMapping, width: float, height: float) -> NDArray[np.uint8]:
    """The page at PX_PER_MM through the whole mapping."""
    matrix = np.array(mapping.matrix)
    if mapping.bow_x is None and mapping.bow_y is None:
        return _warp(grey, matrix, width, height, PX_PER_MM)
    source, shrink = _shrunk(grey, _scan_scale(matrix, width, height), PX_PER_MM)
    w, h = max(1, round(width * PX_PER_MM)), max(1, round(height * PX_PER_MM))
    out = np.empty((h, w), np.uint8)
    columns = np.arange(0, w + _GRID_PX, _GRID_PX, dtype=np.float64)
    for top in range(0, h, _STRIP_ROWS):
        rows = min(_STRIP_ROWS, h - top)
        lines = np.arange(top, top + rows + _GRID_PX, _GRID_PX, dtype=np.float64)
        x, y = np.meshgrid(columns, lines)
        mm = np.column_stack([(x.ravel() + 0.5) / PX_PER_MM, (y.ravel() + 0.5) / PX_PER_MM])
        at = mapping.to_scan(mm)
        at = at * (shrink[0, 0], shrink[1, 1]) + (shrink[0, 2], shrink[1, 2])
        grid = at.reshape(len(lines), len(columns), 2).astype(np.float32)
        # node i of the grid stands at px 16 i: enlarge so that it comes out exactly there
        enlarge = np.array([[1 / _GRID_PX, 0, 0], [0, 1 / _GRID_PX, 0]])
        full = cv2.warpAffine(
            grid, enlarge, (w, rows), flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP, borderMode=cv2.BORDER_REPLICATE
        )
        out[top : top + rows] = cv2.remap(source, full, None, cv2.INTER_LINEAR, borderValue=255)
    return out


def _turn(angle: float, width: float, height: float) -> Matrix:
    """Turn about the middle of the page: flat mm → mm on the skewed page."""
    c, s = np.cos(angle), np.sin(angle)
    x, y = width / 2, height / 2
    return np.array([[c, -s, x - c * x + s * y], [s, c, y - s * x - c * y], [0, 0, 1.0]])


def _mapping_from_frame(base: Matrix, frame: FrameLines) -> SheetMapping:
    """Straighten the frame: its corners become a rectangle of the same mean size, its bowed sides straight."""
    lines = {name: np.polyfit(r.at, r.offset, 1) for name, r in _sides(frame).items()}
    corners = np.array(
        [
            _corner(lines["left"], lines["top"]),
            _corner(lines["right"], lines["top"]),
            _corner(lines["right"], lines["bottom"]),
            _corner(lines["left"], lines["bottom"]),
        ]
    )
    x0, x1 = corners[[0, 3], 0].mean(), corners[[1, 2], 0].mean()
    y0, y1 = corners[[0, 1], 1].mean(), corners[[2, 3], 1].mean()
    rectangle = np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]], dtype=np.float32)
    square = np.asarray(cv2.getPerspectiveTransform(rectangle, corners.astype(np.float32)), dtype=np.float64)
    flat = SheetMapping(as_matrix(square))
    top = _bow_of(frame.top, flat, y0)
    bottom = _bow_of(frame.bottom, flat, y1)
    left = _bow_of(frame.left, flat, x0)
    right = _bow_of(frame.right, flat, x1)
    return SheetMapping(
        as_matrix(base @ square),
        _bow(top, bottom, (x0, x1), (y0, y1)),
        _bow(left, right, (y0, y1), (x0, x1)),
    )


def _sides(frame: FrameLines) -> dict[str, Rule]:
    return {"left": frame.left, "top": frame.top, "right": frame.right, "bottom": frame.bottom}


def _corner(upright: NDArray[np.float64], level: NDArray[np.float64]) -> tuple[float, float]:
    """Where x = m y + c meets y = n x + d, both given as (slope, offset)."""
    m, c = upright
    n, d = level
    x = (c + m * d) / (1 - m * n)
    return float(x), float(n * x + d)


def _bow_of(rule: Rule, flat: SheetMapping, straight: float) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Places along the rule and how far it lies off ``straight`` there, after the corners were squared, mm."""
    points = np.column_stack([rule.at, rule.offset] if rule.level else [rule.offset, rule.at])
    p = flat.to_sheet(points)
    along, across = (p[:, 0], p[:, 1]) if rule.level else (p[:, 1], p[:, 0])
    return along, across - straight


def _bow(
    first: tuple[NDArray[np.float64], NDArray[np.float64]],
    second: tuple[NDArray[np.float64], NDArray[np.float64]],
    span: tuple[float, float],
    sides: tuple[float, float],
) -> Bow | None:
    """A smooth bow through both sides; None when the page lies flat within a twentieth of a millimetre."""
    nodes = np.linspace(span[0], span[1], max(5, round((span[1] - span[0]) / 8.0) + 1))
    curves = [_smooth(at, off, nodes) for at, off in (first, second)]
    if max(float(np.abs(c).max()) for c in curves) < 0.05:
        return None
    return Bow(
        tuple(map(float, nodes)),
        tuple(map(float, curves[0])),
        tuple(map(float, curves[1])),
        float(sides[0]),
        float(sides[1]),
    )


def _smooth(at: NDArray[np.float64], off: NDArray[np.float64], nodes: NDArray[np.float64]) -> NDArray[np.float64]:
    """Running median then weighted mean over about 25 mm: the curl of paper is smooth, dirt on a rule is not."""
    out = np.empty(len(nodes))
    for i, node in enumerate(nodes):
        distance = np.abs(at - node)
        near = distance < 20.0
        if near.sum() < 4:
            near = distance <= np.partition(distance, min(3, len(at) - 1))[min(3, len(at) - 1)]
        middle = np.median(off[near])
        keep = near & (np.abs(off - middle) < 0.3)
        weight = np.exp(-0.5 * (distance[keep] / 9.0) ** 2)
        if len(weight) > 5 and float(np.ptp(at[keep])) > 10:
            _, value = np.polyfit(at[keep] - node, off[keep], 1, w=np.sqrt(weight))
            out[i] = value
        else:
            out[i] = float(np.average(off[keep], weights=weight)) if len(weight) else middle
    return out


def _box_on(frame: FrameLines, base: Matrix, mapping: SheetMapping) -> Box:
    """The frame's box on the flat sheet, mm."""
    old = SheetMapping(as_matrix(base))
    middles = []
    for rule in (frame.left, frame.top, frame.right, frame.bottom):
        points = np.column_stack([rule.at, rule.offset] if rule.level else [rule.offset, rule.at])
        flat = mapping.to_sheet(old.to_scan(points))
        middles.append(float(np.median(flat[:, 1] if rule.level else flat[:, 0])))
    return Box(*middles)


def _clear_surround(ink: NDArray[np.uint8], even: NDArray[np.uint8], paper: Paper) -> None:
    """Take out slivers of the dark surround along the sides where the paper's edge was seen. Works in place."""
    margin = round(4.0 * PX_PER_MM)
    h, w = ink.shape
    if min(h, w) < 4 * margin:
        return
    strips = (
        (np.s_[:, :margin], np.s_[:, 0], paper.seen[0]),
        (np.s_[:margin, :], np.s_[0, :], paper.seen[1]),
        (np.s_[:, w - margin :], np.s_[:, -1], paper.seen[2]),
        (np.s_[h - margin :, :], np.s_[-1, :], paper.seen[3]),
    )
    for strip, edge, seen in strips:
        if not seen:
            continue
        part = ink[strip]
        _, labels = cv2.connectedComponents(part, connectivity=8)
        touching = np.unique(labels[edge])
        gone = np.isin(labels, touching[touching > 0])
        part[gone] = 0
        even[strip][gone] = 255
