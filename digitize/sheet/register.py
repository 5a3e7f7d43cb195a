"""How two overlapping scans of one sheet lie to each other.

First coarsely, by features that turn and grow with the picture (SIFT; Lowe, "Distinctive Image Features from
Scale-Invariant Keypoints", 2004) of which a sample consensus keeps those that agree; then finely, by patches of the overlap
matched at full size. A homography takes up the skew of each scan, a slightly different scale across and along (flatbed
scanners), and the tilt of a photo.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

Matrix = NDArray[np.float64]

_COARSE_SIDE = 1700
"""Longest side of the pictures in which features are sought, px."""
_FEATURES = 5000
_RATIO = 0.8
"""A feature counts when its best match is so much nearer than the second (Lowe 2004 takes 0.8)."""
_AGREE_PX = 4.0
"""How far agreeing features may lie off, px of the coarse picture: about 1 mm on an A3 part."""
_LEAST_AGREEING = 20
_LEAST_SHARE = 0.03
"""Least part of the smaller scan that must lie on the other one."""
_LEAST_ALIKE = 0.3
"""Least correlation of the two scans where they overlap, blurred a little."""
_PATCH, _SEARCH, _PATCHES = 48, 14, 150
"""Half side of a patch and how far it is sought, px; how many patches are matched at most."""


@dataclass(frozen=True, slots=True, eq=False)
class Overlap:
    """How scan b lies on scan a: ``matrix`` px of b → px of a; ``share`` of the smaller scan that is on both, 0..1.

    ``off``: how far the patches lie off after that, px of a (median).
    """

    matrix: Matrix
    share: float
    off: float


def overlap_of(a: NDArray[np.uint8], b: NDArray[np.uint8]) -> Overlap | None:
    """How scan ``b`` lies on scan ``a`` (both uint8 (H, W)); None when they show no common part of a sheet."""
    small_a, scale_a = _coarse(a)
    small_b, scale_b = _coarse(b)
    coarse = _by_features(small_a, small_b)
    if coarse is None:
        return None
    share = _shared(small_a.shape, small_b.shape, coarse)
    if share < _LEAST_SHARE or _alike(small_a, small_b, coarse) < _LEAST_ALIKE:
        return None
    full = np.linalg.inv(scale_a) @ coarse @ scale_b
    fine, off = _by_patches(a, b, full)
    return Overlap(fine, share, off)


def _coarse(grey: NDArray[np.uint8]) -> tuple[NDArray[np.uint8], Matrix]:
    """The picture at most _COARSE_SIDE px long, with paper and ink spread to the same levels, and px → px of it."""
    factor = min(1.0, _COARSE_SIDE / max(grey.shape))
    w, h = max(1, round(grey.shape[1] * factor)), max(1, round(grey.shape[0] * factor))
    small = cv2.resize(grey, (w, h), interpolation=cv2.INTER_AREA)
    fx, fy = w / grey.shape[1], h / grey.shape[0]
    matrix = np.array([[fx, 0, 0.5 * fx - 0.5], [0, fy, 0.5 * fy - 0.5], [0, 0, 1.0]])
    paper = cv2.blur(cv2.dilate(small, np.ones((15, 15), np.uint8)), (31, 31))
    return np.asarray(cv2.divide(small, paper, scale=255.0), dtype=np.uint8), matrix


def _by_features(a: NDArray[np.uint8], b: NDArray[np.uint8]) -> Matrix | None:
    """Px of b → px of a by features that agree; None when too few do, or what they agree on is no scan."""
    finder = cv2.SIFT.create(nfeatures=_FEATURES)
    points_a, looks_a = finder.detectAndCompute(a, None)
    points_b, looks_b = finder.detectAndCompute(b, None)
    if looks_a is None or looks_b is None or min(len(looks_a), len(looks_b)) < _LEAST_AGREEING:
        return None
    # square roots of the normalised descriptors compare better (Arandjelovic and Zisserman, 2012)
    roots = [np.sqrt(v / np.maximum(v.sum(axis=1, keepdims=True), 1e-6)).astype(np.float32) for v in (looks_b, looks_a)]
    pairs = cv2.BFMatcher(cv2.NORM_L2).knnMatch(roots[0], roots[1], k=2)
    good = [p[0] for p in pairs if len(p) == 2 and p[0].distance < _RATIO * p[1].distance]
    if len(good) < _LEAST_AGREEING:
        return None
    source = np.array([points_b[m.queryIdx].pt for m in good])
    target = np.array([points_a[m.trainIdx].pt for m in good])
    cv2.setRNGSeed(1)
    flat, agree = cv2.estimateAffine2D(source, target, method=cv2.RANSAC, ransacReprojThreshold=_AGREE_PX)
    if flat is None or int(agree.sum()) < _LEAST_AGREEING:
        return None
    matrix = np.vstack([flat, [0, 0, 1.0]])
    stretch = np.linalg.svd(matrix[:2, :2])[1]
    mirrored = np.linalg.det(matrix[:2, :2]) < 0
    return None if mirrored or stretch[0] > 3 or stretch[1] < 1 / 3 or stretch[0] > 1.15 * stretch[1] else matrix


def _shared(a: tuple[int, ...], b: tuple[int, ...], matrix: Matrix) -> float:
    """Which share of the smaller picture lies on both."""
    corners = np.array([[[0, 0], [b[1], 0], [b[1], b[0]], [0, b[0]]]], dtype=np.float32)
    on_a = cv2.perspectiveTransform(corners, matrix)[0]
    frame = np.array([[0, 0], [a[1], 0], [a[1], a[0]], [0, a[0]]], dtype=np.float32)
    common, _ = cv2.intersectConvexConvex(on_a.astype(np.float32), frame)
    return float(common / max(1.0, min(cv2.contourArea(on_a), cv2.contourArea(frame))))


def _alike(a: NDArray[np.uint8], b: NDArray[np.uint8], matrix: Matrix) -> float:
    """Correlation of the two pictures where both are, blurred by about a millimetre."""
    laid = cv2.warpPerspective(b, matrix, (a.shape[1], a.shape[0]), flags=cv2.INTER_LINEAR, borderValue=255)
    there = cv2.warpPerspective(np.full_like(b, 255), matrix, (a.shape[1], a.shape[0]), flags=cv2.INTER_NEAREST) > 0
    if int(there.sum()) < 100:
        return 0.0
    one = cv2.GaussianBlur(a, (0, 0), 3).astype(np.float32)[there]
    other = cv2.GaussianBlur(laid, (0, 0), 3).astype(np.float32)[there]
    if one.std() < 1 or other.std() < 1:
        return 0.0
    return float(np.corrcoef(one, other)[0, 1])


def _by_patches(a: NDArray[np.uint8], b: NDArray[np.uint8], matrix: Matrix) -> tuple[Matrix, float]:
    """The matrix settled on patches of the overlap that are found again, and how far they are off then, px of a."""
    for search in (_SEARCH, 5):
        source, target = _found_again(a, b, matrix, search)
        if len(source) < 12:
            return matrix, 0.0
        cv2.setRNGSeed(1)
        better, kept = _fitted(source, target)
        if better is None or kept is None:
            return matrix, 0.0
        matrix = better
    off = cv2.perspectiveTransform(source[None], matrix)[0] - target
    return matrix, float(np.median(np.hypot(off[:, 0], off[:, 1])))


def _fitted(source: NDArray[np.float64], target: NDArray[np.float64]) -> tuple[Matrix | None, NDArray[np.uint8] | None]:
    """A homography where the patches spread over both ways of the overlap; a narrow strip bears only an affine one."""
    spread = np.linalg.svd(target - target.mean(axis=0), full_matrices=False)[1]
    if len(source) >= 40 and spread[1] > 0.08 * spread[0]:
        matrix, kept = cv2.findHomography(source, target, cv2.RANSAC, 2.0)
        if matrix is not None:
            return np.asarray(matrix, dtype=np.float64), np.asarray(kept, dtype=np.uint8)
    flat, kept = cv2.estimateAffine2D(source, target, method=cv2.RANSAC, ransacReprojThreshold=2.0)
    return (None, None) if flat is None else (np.vstack([flat, [0, 0, 1.0]]), np.asarray(kept, dtype=np.uint8))


def _found_again(
    a: NDArray[np.uint8], b: NDArray[np.uint8], matrix: Matrix, search: int
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Points of b and where on a their surroundings are found, for patches with a corner or more in them."""
    h, w = b.shape
    step = max(24, int(np.sqrt(h * w / 4000.0)))
    ys, xs = np.mgrid[_PATCH : h - _PATCH : step, _PATCH : w - _PATCH : step]
    nodes = np.column_stack([xs.ravel(), ys.ravel()]).astype(np.float64)
    if len(nodes) == 0:
        return np.zeros((0, 2)), np.zeros((0, 2))
    on_a = cv2.perspectiveTransform(nodes[None], matrix)[0]
    reach = _PATCH + search + 2
    inside = (on_a[:, 0] > reach) & (on_a[:, 1] > reach)
    inside &= (on_a[:, 0] < a.shape[1] - reach) & (on_a[:, 1] < a.shape[0] - reach)
    nodes, on_a = nodes[inside], on_a[inside]
    pick = np.unique(np.linspace(0, max(0, len(nodes) - 1), min(len(nodes), 4 * _PATCHES)).astype(int))
    source: list[NDArray[np.float64]] = []
    target: list[NDArray[np.float64]] = []
    side = 2 * _PATCH + 1
    for k in pick[: len(nodes)]:
        if len(source) >= _PATCHES:
            break
        centre = np.round(on_a[k])
        shift = np.array([[1, 0, -(centre[0] - _PATCH)], [0, 1, -(centre[1] - _PATCH)], [0, 0, 1.0]])
        patch = cv2.warpPerspective(b, shift @ matrix, (side, side), flags=cv2.INTER_LINEAR)
        if cv2.cornerMinEigenVal(patch, 7).max() < 1e-3 or patch.std() < 12:
            continue
        x, y = int(centre[0]), int(centre[1])
        window = a[y - _PATCH - search : y + _PATCH + search + 1, x - _PATCH - search : x + _PATCH + search + 1]
        match = cv2.matchTemplate(window, patch, cv2.TM_CCOEFF_NORMED)
        row, column = np.unravel_index(int(np.argmax(match)), match.shape)
        if match[row, column] < 0.6 or not (0 < row < match.shape[0] - 1 and 0 < column < match.shape[1] - 1):
            continue
        found = (
            centre
            - search
            + np.array(
                [column + _peak(match[row, column - 1 : column + 2]), row + _peak(match[row - 1 : row + 2, column])]
            )
        )
        source.append(cv2.perspectiveTransform(centre[None, None], np.linalg.inv(matrix))[0, 0])
        target.append(found)
    return np.array(source).reshape(-1, 2), np.array(target).reshape(-1, 2)


def _peak(three: NDArray[np.float32]) -> float:
    """Where a parabola through three values has its top, -0.5..0.5 beside the middle one."""
    low, middle, high = (float(v) for v in three)
    bend = low - 2 * middle + high
    return 0.0 if bend >= 0 else max(-0.5, min(0.5, 0.5 * (low - high) / bend))
