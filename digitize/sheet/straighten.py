"""From the rules of the drawn frame to the mapping that makes them straight and square."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from digitize.harness.place import Box
from digitize.sheet.frame import FrameLines, Rule
from digitize.sheet.mapping import Bow, SheetMapping, as_matrix
from digitize.sheet.ranked import median

Matrix = NDArray[np.float64]


def turn(angle: float, width: float, height: float) -> Matrix:
    """Turn about the middle of the page: flat mm → mm on the skewed page."""
    c, s = np.cos(angle), np.sin(angle)
    x, y = width / 2, height / 2
    return np.array([[c, -s, x - c * x + s * y], [s, c, y - s * x - c * y], [0, 0, 1.0]])


def mapping_from_frame(base: Matrix, frame: FrameLines) -> SheetMapping:
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
        middle = median(off[near])
        keep = near & (np.abs(off - middle) < 0.3)
        weight = np.exp(-0.5 * (distance[keep] / 9.0) ** 2)
        if len(weight) > 5 and float(np.ptp(at[keep])) > 10:
            # the line of least weighted squares, at the node
            away, across = at[keep] - node, off[keep]
            whole = weight.sum()
            x, y = away @ weight / whole, across @ weight / whole
            out[i] = y - x * ((away - x) * weight @ (across - y)) / ((away - x) * weight @ (away - x))
        else:
            out[i] = float(np.average(off[keep], weights=weight)) if len(weight) else middle
    return out


def box_on(frame: FrameLines, base: Matrix, mapping: SheetMapping) -> Box:
    """The frame's box on the flat sheet, mm."""
    old = SheetMapping(as_matrix(base))
    middles = []
    for rule in (frame.left, frame.top, frame.right, frame.bottom):
        points = np.column_stack([rule.at, rule.offset] if rule.level else [rule.offset, rule.at])
        flat = mapping.to_sheet(old.to_scan(points))
        middles.append(median(flat[:, 1] if rule.level else flat[:, 0]))
    return Box(*middles)
