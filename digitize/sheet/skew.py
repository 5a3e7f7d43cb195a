"""How far a page lies askew, from what is drawn on it."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from digitize.sheet.frame import Rule

MOST_DEGREES = 12.0
"""Skew looked for to both sides; more is an orientation, not a skew."""

_FEW, _AT_ODDS = 5, 0.4
"""Fewer rules than this, which lie at odds with all ink by more than so many degrees, are no rules of the page: a fold, a shadow."""


def skew_of_page(level: list[Rule], upright: list[Rule], ink: NDArray[np.uint8]) -> float:
    """Slope of the drawing against the paper, radians clockwise: of its long rules, or of all its ink where they are few and differ.

    ``ink``: (H, W), 255 = ink.
    """
    ruled = skew_of_rules(level, upright)
    if len(level) + len(upright) >= _FEW or not (level or upright):
        return ruled
    inked = skew_of_ink(ink)
    return inked if abs(ruled - inked) > np.deg2rad(_AT_ODDS) else ruled


def skew_of_ink(ink: NDArray[np.uint8]) -> float:
    """Skew in radians, clockwise positive, of an ink image (H, W; 255 ink): the turn that makes its profiles sharpest.

    Rules and lines of lettering along x and y pile up in the profiles when the page is straight. 0 for an empty page.
    """
    scale = min(1.0, 900 / max(ink.shape))
    small = cv2.resize(ink, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA) if scale < 1 else ink
    y, x = np.nonzero(small > 60)
    if len(x) < 50:
        return 0.0
    if len(x) > 40000:
        keep = np.linspace(0, len(x) - 1, 40000).astype(int)
        x, y = x[keep], y[keep]
    xf, yf = x - small.shape[1] / 2, y - small.shape[0] / 2
    coarse = np.deg2rad(np.arange(-MOST_DEGREES, MOST_DEGREES + 0.01, 0.5))
    best = _sharpest(xf, yf, coarse)
    for step in (0.1, 0.02):
        best = _sharpest(xf, yf, best + np.deg2rad(np.arange(-5, 5.01) * step))
    return best


def _sharpest(x: NDArray[np.float64], y: NDArray[np.float64], angles: NDArray[np.float64]) -> float:
    scores = []
    for angle in angles:
        c, s = np.cos(angle), np.sin(angle)
        score = 0.0
        for profile_of in (y * c - x * s, x * c + y * s):
            bins = np.bincount((profile_of - profile_of.min()).astype(int)).astype(np.float64)
            score += float((bins**2).sum())
        scores.append(score)
    return float(angles[int(np.argmax(scores))])


def skew_of_rules(level: list[Rule], upright: list[Rule]) -> float:
    """Slope of the drawing against the paper, radians clockwise, from its long rules; 0 when there are none."""
    slopes, weights = [], []
    for rule in [*level, *upright]:
        slope = float(np.polyfit(rule.at, rule.offset, 1)[0])
        slopes.append(slope if rule.level else -slope)
        weights.append(rule.end - rule.start)
    if not slopes:
        return 0.0
    order = np.argsort(slopes)
    total = np.cumsum(np.array(weights)[order])
    return float(np.array(slopes)[order][np.searchsorted(total, total[-1] / 2)])
