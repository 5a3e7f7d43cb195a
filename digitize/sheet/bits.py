"""Pictures of one bit a pixel, and what grows and shrinks in them.

A page in bytes is slow to wade through: a window nine pixels high takes OpenCV 16 ms for an A3 page at 300 dpi; on packed bits
it is four steps of 0.2 ms, each doubling the window (van den Boomgaard and van Balen 1992, cited from memory). Used where a
page needs dozens of such steps; everywhere else OpenCV is the plainer tool.

Bit x of a row is its pixel x. Outside the picture is paper.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

Bits = NDArray[np.uint64]
"""Rows of 64 pixels a word, (H, ceil(W / 64))."""

_WORD = 64


def packed(mask: NDArray[np.uint8]) -> Bits:
    """The bits of a picture (H, W), uint8, set where it is not 0."""
    height, width = mask.shape
    eighths = np.packbits(mask, axis=1, bitorder="little")
    out = np.zeros((height, -(-width // _WORD) * (_WORD // 8)), np.uint8)
    out[:, : eighths.shape[1]] = eighths
    return np.asarray(out.view("<u8"), np.uint64)


def unpacked(bits: Bits, width: int) -> NDArray[np.uint8]:
    """The picture (H, ``width``) of the ``bits``, uint8, 255 where they are set."""
    eighths = np.ascontiguousarray(bits, "<u8").view(np.uint8)
    ones = np.unpackbits(eighths, axis=1, count=width, bitorder="little")
    return np.asarray(np.multiply(ones, 255, out=ones), np.uint8)


def set_in(bits: Bits) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Rows and columns of the pixels that are set, in reading order: quick where few are."""
    rows, words = np.nonzero(bits)
    eighths = np.ascontiguousarray(bits[rows, words], "<u8").view(np.uint8).reshape(-1, _WORD // 8)
    which, at = np.nonzero(np.unpackbits(eighths, axis=1, bitorder="little"))
    return np.asarray(rows[which], np.int64), np.asarray(words[which] * _WORD + at, np.int64)


def shrunk(bits: Bits, length: int, axis: int) -> Bits:
    """Set where a pixel and the ``length`` - 1 after it, down (axis 0) or across (axis 1), are all set; ``length`` up to 64."""
    return _over(bits, length, axis, _from_after, np.bitwise_and)


def grown(bits: Bits, length: int, axis: int) -> Bits:
    """Set where a pixel or one of the ``length`` - 1 before it, above (axis 0) or to the left (axis 1), is; ``length`` up to 64."""
    return _over(bits, length, axis, _from_before, np.bitwise_or)


def grown_back(bits: Bits, length: int, axis: int) -> Bits:
    """As ``grown``, the other way: set where a pixel or one of the ``length`` - 1 after it is."""
    return _over(bits, length, axis, _from_after, np.bitwise_or)


def opened(bits: Bits, length: int, axis: int) -> Bits:
    """What lies in runs of ``length`` pixels at least, down or across."""
    return grown(shrunk(bits, length, axis), length, axis)


def closed(bits: Bits, length: int, axis: int) -> Bits:
    """The bits with every gap shorter than ``length`` filled, down or across."""
    return shrunk(grown(bits, length, axis), length, axis)


def around(bits: Bits, reach: int, axis: int) -> Bits:
    """Set where a pixel is set no farther than ``reach`` off, both ways along the axis; ``reach`` up to 31."""
    return grown(grown_back(bits, reach + 1, axis), reach + 1, axis)


def _over(bits: Bits, length: int, axis: int, moved: Callable[[Bits, int, int], Bits], join: np.ufunc) -> Bits:
    """The bits joined with themselves, moved by all of 1 … ``length`` - 1 pixels: each step doubles how far that reaches."""
    out, span = bits, 1
    while span < length:
        step = min(span, length - span)
        out = np.asarray(join(out, moved(out, step, axis)), np.uint64)
        span += step
    return out


def _from_after(bits: Bits, step: int, axis: int) -> Bits:
    """Each pixel as the one ``step`` (below 64) after it."""
    out = np.zeros_like(bits)
    if axis == 0:
        out[:-step] = bits[step:]
        return out
    np.right_shift(bits, np.uint64(step), out=out)
    out[:, :-1] |= bits[:, 1:] << np.uint64(_WORD - step)
    return out


def _from_before(bits: Bits, step: int, axis: int) -> Bits:
    """Each pixel as the one ``step`` (below 64) before it."""
    out = np.zeros_like(bits)
    if axis == 0:
        out[step:] = bits[:-step]
        return out
    np.left_shift(bits, np.uint64(step), out=out)
    out[:, 1:] |= bits[:, :-1] >> np.uint64(_WORD - step)
    return out
