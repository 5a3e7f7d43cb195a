"""Which way up a page lies: lettering tells, without reading it.

Model card: ``upright.npz`` is a network with one hidden layer of 64, made by ``scripts/train_upright.py`` from characters of
free typefaces alone (its recipe stands there). It sees one character of 16 × 16 px and says how much it looks upright
rather than upside down; characters that look the same both ways count for nothing. One character is judged rightly about
nine times in ten where it is judged at all; a page has hundreds. Not for scripts other than Latin.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from digitize.sheet.letters import Letters

PATCH = 16
_INNER = 14

FEWEST = 15
"""Characters needed before the page may be turned."""

_SURE = 0.35
"""Mean log-odds a character that upside-down lettering must reach: far from what dirt gives."""


def patch_of(even: NDArray[np.uint8], box: tuple[int, int, int, int]) -> NDArray[np.float32]:
    """The character in ``box`` (x, y, width, height px) as (PATCH, PATCH) darkness 0..1, centred, proportions kept."""
    x, y, w, h = box
    dark = 255 - even[y : y + h, x : x + w]
    scale = _INNER / max(w, h)
    # even sizes: a patch and the same patch turned over must lie on the same pixels
    size = (max(2, 2 * round(w * scale / 2)), max(2, 2 * round(h * scale / 2)))
    small = cv2.resize(dark, size, interpolation=cv2.INTER_AREA if scale < 1 else cv2.INTER_LINEAR)
    patch = np.zeros((PATCH, PATCH), np.float32)
    top, left = (PATCH - size[1]) // 2, (PATCH - size[0]) // 2
    patch[top : top + size[1], left : left + size[0]] = small / max(1.0, float(small.max()))
    return patch


def upside_down(even: NDArray[np.uint8], letters: Letters) -> tuple[bool, float]:
    """True when the lettering stands on its head, and how sure that answer is (0..1).

    ``even`` is the evened grey picture that ``letters`` were found in, turned so that lines of lettering run across.
    """
    boxes = letters.boxes
    boxes = boxes[(boxes[:, 3] >= 5) & (boxes[:, 2] >= 0.25 * boxes[:, 3]) & (boxes[:, 2] <= 1.4 * boxes[:, 3])]
    if len(boxes) < FEWEST:
        return False, 0.5
    if len(boxes) > 400:
        boxes = boxes[np.linspace(0, len(boxes) - 1, 400).astype(int)]
    patches = np.stack([patch_of(even, (int(b[0]), int(b[1]), int(b[2]), int(b[3]))) for b in boxes])
    odds = np.clip(_log_odds(patches.reshape(len(patches), -1)), -4.0, 4.0)
    mean = float(odds.mean())
    spread = float(odds.std()) / np.sqrt(len(odds))
    sure = float(1 / (1 + np.exp(-min(30.0, abs(mean) / max(spread, 0.02)))))
    return mean < -_SURE and sure > 0.98, sure


@cache
def _weights() -> tuple[NDArray[np.float32], NDArray[np.float32], NDArray[np.float32]]:
    with np.load(Path(__file__).with_name("upright.npz"), allow_pickle=False) as stored:
        w1, b1, w2 = (np.asarray(stored[name], dtype=np.float32) for name in ("w1", "b1", "w2"))
        return w1, b1, w2


def _log_odds(patches: NDArray[np.float32]) -> NDArray[np.float32]:
    """Log-odds of being upright for (n, PATCH²) patches; turning a patch over changes only the sign."""
    w1, b1, w2 = _weights()
    return np.asarray((np.tanh(patches @ w1 + b1) - np.tanh(patches[:, ::-1] @ w1 + b1)) @ w2, dtype=np.float32)
