"""The box that a person draws around a symbol, and the ink in it that a lesson keeps."""

from __future__ import annotations

import base64
import binascii

import cv2
import numpy as np
from numpy.typing import NDArray

from digitize.errors import CalledWrongly
from digitize.harness.place import Box
from digitize.sheet.state import PX_PER_MM, Sheet

SMALLEST, LARGEST = 2.0, 80.0
"""Sides of a box that can be taught, mm (own choice)."""

_LEAST_INK = 0.01
"""A box with a smaller share of ink shows nothing."""

_LOOSE = 1.0
"""How far outside a symbol a hand draws its box, mm: pieces of wire in that margin are no part of the drawing."""

_RIM = 0.2
"""White that stays around the drawing, mm."""

_THICKER = 0.3
"""A row with so much more ink than the wires that come in, mm, belongs to the symbol."""


def picture_of(sheet: Sheet, box: Box) -> str:
    """The ink in ``box`` (sheet mm) as a 1-bit PNG at PX_PER_MM in base64: what a lesson keeps.

    Raises:
        CalledWrongly: the box is too small, too large, off the sheet, or next to nothing is drawn in it.
    """
    if not SMALLEST <= min(box.width, box.height) <= max(box.width, box.height) <= LARGEST:
        raise CalledWrongly(
            f"A box of {box.width:.1f} × {box.height:.1f} mm cannot be a symbol.",
            f"Box one symbol, {SMALLEST:.0f} to {LARGEST:.0f} mm on each side.",
        )
    x0, y0, x1, y1 = (round(v * PX_PER_MM) for v in (box.x0, box.y0, box.x1, box.y1))
    height, width = sheet.ink.shape
    part = sheet.ink[max(0, y0) : y1, max(0, x0) : x1]
    if x0 < 0 or y0 < 0 or x1 > width or y1 > height or float((part > 0).mean()) < _LEAST_INK:
        raise CalledWrongly("Next to nothing is drawn in the box.", "Box the symbol with all its lines.")
    done, png = cv2.imencode(".png", part, (cv2.IMWRITE_PNG_BILEVEL, 1))
    assert done
    return base64.b64encode(png.tobytes()).decode()


def snug(sheet: Sheet, box: Box) -> Box:
    """``box`` (sheet mm) drawn in to the symbol: the empty margin goes, and up to ``_LOOSE`` mm in which only wires come in.

    A box without ink, or one that would become smaller than ``SMALLEST``, is given back as it is.
    """
    x0, y0 = max(0, round(box.x0 * PX_PER_MM)), max(0, round(box.y0 * PX_PER_MM))
    part = sheet.ink[y0 : round(box.y1 * PX_PER_MM), x0 : round(box.x1 * PX_PER_MM)] > 0
    if not part.any():
        return box
    down, across = part.sum(axis=1) / PX_PER_MM, part.sum(axis=0) / PX_PER_MM
    top, bottom = _margin(down), len(down) - _margin(down[::-1])
    left, right = _margin(across), len(across) - _margin(across[::-1])
    drawn_in = Box((x0 + left) / PX_PER_MM, (y0 + top) / PX_PER_MM, (x0 + right) / PX_PER_MM, (y0 + bottom) / PX_PER_MM)
    drawn_in = drawn_in.grown(_RIM)
    return drawn_in if min(drawn_in.width, drawn_in.height) >= SMALLEST else box


def _margin(ink: NDArray[np.float64]) -> int:
    """Rows from the outside in that are no part of a symbol; ``ink``: mm of ink in each row, from the outside in."""
    empty = int(np.argmax(ink > 0))
    loose = ink[empty : empty + round(_LOOSE * PX_PER_MM)]
    thick = np.flatnonzero(loose > loose[0] + _THICKER)
    comes_in = empty == 0 and bool(thick.size)  # only what crosses the box's own edge can be a wire from outside
    return int(thick[0]) if comes_in else empty


def ink_in(picture: str) -> NDArray[np.uint8]:
    """What ``picture_of`` wrote, uint8 (h, w), 255 = ink. Raises CalledWrongly when it is no such picture."""
    try:
        raw = np.frombuffer(base64.b64decode(picture, validate=True), np.uint8)
    except binascii.Error:
        raw = np.zeros(0, np.uint8)
    decoded = cv2.imdecode(raw, cv2.IMREAD_GRAYSCALE) if raw.size else None
    if decoded is None:
        raise CalledWrongly("The picture of a taught symbol is damaged.", "Undo that lesson and box the symbol again.")
    return np.where(decoded > 127, 255, 0).astype(np.uint8)
