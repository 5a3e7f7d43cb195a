"""The resolution noted in a picture file, and pictures whose pixels are no squares: faxes."""

from __future__ import annotations

from collections.abc import Iterable

from PIL import ExifTags, Image

BELIEVABLE_DPI = (100.0, 1300.0)
"""Below: screen defaults (72, 96) that say nothing about the paper. Above: no page scanner."""

_FAX_DPI = (96.0, 420.0)
"""Resolutions of faxes: ITU-T T.4 and its additions know 204 × 98, 204 × 196 and 204 × 391 dpi, and 408 × 391 (from memory)."""

_MOST_UNEQUAL = 2.2
"""No fax is coarser along one side than this many times."""


def stated_dpi(image: Image.Image) -> float | None:
    """The dpi noted in the file, of the pixels that ``sheet.sources.load_pixels`` gives; None when it is not believable."""
    pair = _pair(image.info.get("dpi"))
    if pair is None:
        return None
    if _is_fax(*pair):
        return max(pair)
    x, y = pair
    return x if BELIEVABLE_DPI[0] <= x <= BELIEVABLE_DPI[1] and abs(x - y) <= 0.01 * x else None


def fax_stretch(image: Image.Image) -> tuple[float, float]:
    """How much longer the picture must be made along x and y, as it lies upright, for its pixels to be squares.

    (1, 1) for all but faxes that note two resolutions.
    """
    pair = _pair(image.info.get("dpi"))
    if pair is None or not _is_fax(*pair):
        return 1.0, 1.0
    x, y = max(pair) / pair[0], max(pair) / pair[1]
    on_its_side = int(image.getexif().get(ExifTags.Base.Orientation, 1)) in {5, 6, 7, 8}
    return (y, x) if on_its_side else (x, y)


def _is_fax(x: float, y: float) -> bool:
    low, high = _FAX_DPI
    within = low <= min(x, y) and max(x, y) <= high
    return within and 1.01 < max(x, y) / min(x, y) <= _MOST_UNEQUAL


def _pair(value: object) -> tuple[float, float] | None:
    """Two positive numbers, else None."""
    if not isinstance(value, Iterable) or isinstance(value, (str, bytes)):
        return None
    try:
        x, y = (float(v) for v in value)
    except (TypeError, ValueError, ZeroDivisionError):
        return None
    return (x, y) if x > 0 and y > 0 else None
