"""Any picture Pillow opens → grey pixels, strip by strip, so that a large colour scan is never held twice."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import ExifTags, Image

_STRIP_ROWS = 1024
_WIDE_MODES = {"I;16", "I;16L", "I;16B", "I", "F", "I;16N"}


def grey_of(image: Image.Image) -> NDArray[np.uint8]:
    """The picture as uint8 grey (H, W), 0 black, turned as its EXIF note says; transparent parts lie on white paper.

    Samples of 16 or 32 bits or floats: full scale is 65535, or 255 or 1 when nothing lies above those.
    Raises what Pillow raises over a damaged file: OSError, SyntaxError, ValueError, EOFError.
    """
    if image.format == "JPEG" and image.mode == "RGB":
        image.draft("L", image.size)  # the file holds the grey picture by itself
    image.load()
    out = np.empty((image.height, image.width), np.uint8)
    full = _full_scale(image) if image.mode in _WIDE_MODES else 0.0
    for top in range(0, image.height, _STRIP_ROWS):
        strip = image.crop((0, top, image.width, min(image.height, top + _STRIP_ROWS)))
        out[top : top + strip.height] = _from_wide(np.asarray(strip), full) if full else _from_narrow(strip, image)
    return _set_upright(out, int(image.getexif().get(ExifTags.Base.Orientation, 1)))


def _from_narrow(strip: Image.Image, image: Image.Image) -> NDArray[np.uint8]:
    if strip.mode == "P" and "transparency" not in image.info:
        # the grey of each colour of the palette once, not of each pixel
        colours = Image.frombytes("P", (256, 1), bytes(range(256)))
        colours.putpalette(image.getpalette("RGB") or [])
        return np.asarray(cv2.LUT(np.asarray(strip), np.asarray(colours.convert("L")).ravel()), dtype=np.uint8)
    if "transparency" in image.info:
        strip.info["transparency"] = image.info["transparency"]
    if strip.mode in {"RGBA", "LA", "PA", "RGBa", "La"} or "transparency" in image.info:
        rgba = strip.convert("RGBA")
        strip = Image.alpha_composite(Image.new("RGBA", rgba.size, (255, 255, 255, 255)), rgba)
    return np.asarray(strip if strip.mode == "L" else strip.convert("L"), dtype=np.uint8)


def _full_scale(image: Image.Image) -> float:
    """What counts as white in a picture of wide samples."""
    tops = []
    for top in range(0, image.height, _STRIP_ROWS):
        values = np.asarray(image.crop((0, top, image.width, min(image.height, top + _STRIP_ROWS))))
        tops.append((values.dtype.kind, float(np.nan_to_num(values).max(initial=0))))
    most = max(top for _, top in tops)
    return 1.0 if tops[0][0] == "f" and most <= 1.0 else 255.0 if most <= 255.0 else 65535.0


def _from_wide(values: NDArray[np.generic], full: float) -> NDArray[np.uint8]:
    scaled = np.clip(np.nan_to_num(values.astype(np.float32)) * (255.0 / full), 0, 255)
    return np.asarray(scaled + 0.5, dtype=np.uint8)


def _set_upright(grey: NDArray[np.uint8], orientation: int) -> NDArray[np.uint8]:
    """Undo what the EXIF orientation (1 to 8) says was done to the picture."""
    if orientation in {5, 6, 7, 8}:
        grey = grey.T
    if orientation in {2, 3, 6, 7}:
        grey = grey[:, ::-1]
    if orientation in {3, 4, 7, 8}:
        grey = grey[::-1]
    return np.ascontiguousarray(grey)
