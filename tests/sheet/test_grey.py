"""Promises of loading: any kind of picture becomes the same grey page. Outside check: Pillow's own conversions."""

import io

import numpy as np
import pytest
from PIL import Image, ImageOps

from digitize.sheet import grey
from digitize.sheet.grey import grey_of


@pytest.fixture
def page(monkeypatch) -> np.ndarray:
    monkeypatch.setattr(grey, "_STRIP_ROWS", 7)
    return np.random.default_rng(3).integers(0, 256, (40, 30, 4), dtype=np.uint8)


def stored(image: Image.Image, form: str, **more) -> Image.Image:
    file = io.BytesIO()
    image.save(file, form, **more)
    return Image.open(file)


@pytest.mark.parametrize("mode", ["L", "1", "P", "RGB", "CMYK"])
def test_every_kind_of_picture_is_grey_as_pillow_makes_it(page, mode):
    image = Image.fromarray(page[..., :3]).convert(mode)
    form = "TIFF" if mode == "CMYK" else "PNG"
    assert (grey_of(stored(image, form)) == np.asarray(image.convert("L"))).all()


@pytest.mark.parametrize("mode", ["RGBA", "LA"])
def test_what_is_transparent_is_paper(page, mode):
    page[:10, :, 3] = 0
    found = grey_of(stored(Image.fromarray(page).convert(mode), "PNG"))
    assert (found[:10] == 255).all()
    assert found[10:].min() < 100


def test_a_transparent_colour_is_paper():
    image = Image.new("P", (20, 20), 3)
    image.paste(7, (0, 0, 10, 20))
    image.putpalette([v for k in range(256) for v in (k * 20 % 256, 0, 0)])
    found = grey_of(stored(image, "PNG", transparency=7))
    assert (found[:, :10] == 255).all()
    assert (found[:, 10:] < 60).all()


def test_a_colour_jpeg_is_grey_within_rounding():
    smooth = np.add.outer(np.arange(64), np.arange(48)) * 2
    image = Image.fromarray(np.dstack([smooth, smooth // 2, 255 - smooth]).astype(np.uint8))
    file = stored(image, "JPEG", quality=95)
    theirs = np.asarray(Image.open(file.fp).convert("L")).astype(int)
    assert np.abs(grey_of(stored(image, "JPEG", quality=95)) - theirs).max() <= 2


@pytest.mark.parametrize("orientation", range(1, 9))
def test_the_exif_note_sets_the_page_upright(page, orientation):
    exif = Image.Exif()
    exif[0x0112] = orientation
    file = stored(Image.fromarray(page[..., 0]), "PNG", exif=exif)
    theirs = np.asarray(ImageOps.exif_transpose(stored(Image.fromarray(page[..., 0]), "PNG", exif=exif)))
    assert (grey_of(file) == theirs).all()


def test_sixteen_bits_keep_their_scale(page):
    wide = page[..., 0].astype(np.uint16) * 257
    assert (grey_of(stored(Image.fromarray(wide), "TIFF")) == page[..., 0]).all()
