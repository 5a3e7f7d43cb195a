"""Finding the pages of a manual, and one clear line for every page that cannot be one."""

from __future__ import annotations

import io
import os
import struct
import zlib
from pathlib import Path

import numpy as np
import pypdfium2 as pdfium
import pytest
from PIL import Image
from reportlab.pdfgen import canvas

from digitize.errors import NothingToRead, PageUnreadable
from digitize.sheet.sources import MAX_MEGAPIXELS, find_scans, load_pixels


def picture(path: Path, size: tuple[int, int] = (120, 90), mode: str = "L", **save: object) -> Path:
    Image.new(mode, size, 1 if mode == "1" else "white").save(path, **save)
    return path


def one_failure(folder: Path) -> PageUnreadable:
    scans, failures = find_scans(folder, "own")
    assert scans == ()
    assert len(failures) == 1
    line = f"{failures[0].error.what} {failures[0].error.advice}"
    assert "\n" not in line
    assert str(folder) in failures[0].error.what
    assert failures[0].error.advice
    return failures[0].error


def test_pages_come_in_natural_order_and_notes_are_passed_over(tmp_path: Path) -> None:
    for name in ("page_10.png", "page_2.png", "Page_1.png", ".hidden.png"):
        picture(tmp_path / name)
    (tmp_path / "manual.toml").write_text("[section]")
    scans, failures = find_scans(tmp_path, "drawn by me")
    assert [s.sheet for s in scans] == ["Page_1", "page_2", "page_10"]
    assert not failures
    assert {s.rights for s in scans} == {"drawn by me"}
    assert all(len(s.sha256) == 64 for s in scans)


def test_two_files_with_one_name_get_two_ids(tmp_path: Path) -> None:
    picture(tmp_path / "sheet.png")
    picture(tmp_path / "sheet.tif")
    scans, _ = find_scans(tmp_path, "")
    assert len({s.sheet for s in scans}) == 2


def test_each_page_of_a_tiff_and_of_a_pdf_is_a_scan(tmp_path: Path) -> None:
    first = Image.new("1", (200, 150), 1)
    first.save(tmp_path / "book.tif", save_all=True, append_images=[Image.new("L", (210, 150), 200)], dpi=(300, 300))
    document = canvas.Canvas(str(tmp_path / "atlas.pdf"), pagesize=(200, 100))
    document.line(10, 10, 190, 10)
    document.showPage()
    document.line(10, 90, 190, 90)
    document.showPage()
    document.save()
    scans, failures = find_scans(tmp_path, "")
    assert not failures
    assert [s.sheet for s in scans] == ["atlas-p001", "atlas-p002", "book-p001", "book-p002"]
    assert load_pixels(scans[3]).shape == (150, 210)
    assert scans[2].dpi == 300.0
    drawn = load_pixels(scans[0])
    assert abs(drawn.shape[1] - 200 / 72 * 300) <= 2
    assert drawn[-60:, :].min() < 100
    assert drawn[:60, :].min() > 200


def test_a_scan_inside_a_pdf_keeps_its_own_resolution(tmp_path: Path) -> None:
    pixels = np.random.default_rng(1).integers(0, 255, (400, 600), dtype=np.uint8)
    Image.fromarray(pixels).save(tmp_path / "in.png")
    document = canvas.Canvas(str(tmp_path / "a.pdf"), pagesize=(216, 144))  # 3 x 2 inches: 200 dpi
    document.drawImage(str(tmp_path / "in.png"), 0, 0, 216, 144)
    document.save()
    (tmp_path / "in.png").unlink()
    scans, _ = find_scans(tmp_path, "")
    assert scans[0].dpi == pytest.approx(200, abs=0.5)
    assert load_pixels(scans[0]).shape == (400, 600)


@pytest.mark.parametrize(
    ("stated", "believed"), [((300, 300), 300.0), ((72, 72), None), ((96, 96), None), ((300, 72), None)]
)
def test_only_a_believable_resolution_is_taken(tmp_path: Path, stated: tuple[int, int], believed: float | None) -> None:
    picture(tmp_path / "a.jpg", dpi=stated)
    scans, _ = find_scans(tmp_path, "")
    assert scans[0].dpi == believed


@pytest.mark.parametrize("mode", ["1", "L", "P", "RGB", "CMYK", "LA", "RGBA", "I;16"])
def test_every_kind_of_pixel_becomes_the_same_grey(tmp_path: Path, mode: str) -> None:
    grey = np.full((80, 100), 255, np.uint8)
    grey[20:40, 30:60] = 0
    suffix = "png" if mode != "CMYK" else "tif"
    if mode == "I;16":
        image = Image.fromarray(grey.astype(np.uint16) * 257)
    else:
        image = Image.fromarray(grey).convert("L" if mode in {"L", "LA"} else "RGB").convert(mode)
        if mode == "LA":
            image = Image.merge("LA", (Image.fromarray(grey), Image.new("L", (100, 80), 255)))
    image.save(tmp_path / f"a.{suffix}")
    scans, failures = find_scans(tmp_path, "")
    assert not failures
    pixels = load_pixels(scans[0])
    assert pixels.dtype == np.uint8
    assert pixels.shape == (80, 100)
    assert pixels[30, 45] < 40
    assert pixels[5, 5] > 215


def test_transparent_parts_are_paper(tmp_path: Path) -> None:
    image = Image.new("RGBA", (100, 80), (0, 0, 0, 0))
    image.paste((0, 0, 0, 255), (10, 10, 20, 20))
    image.save(tmp_path / "a.png")
    pixels = load_pixels(find_scans(tmp_path, "")[0][0])
    assert pixels[50, 50] == 255
    assert pixels[15, 15] == 0


def test_the_camera_s_note_which_side_is_up_is_followed(tmp_path: Path) -> None:
    exif = Image.Exif()
    exif[0x0112] = 6  # EXIF 2.3: the picture must be turned a quarter clockwise
    Image.new("L", (120, 80), 200).save(tmp_path / "a.jpg", exif=exif)
    assert load_pixels(find_scans(tmp_path, "")[0][0]).shape == (120, 80)


def test_text_named_as_a_picture_is_said_to_be_none(tmp_path: Path) -> None:
    (tmp_path / "a.png").write_text("dear diary")
    assert "not a picture" in one_failure(tmp_path).what


def test_an_empty_file_is_said_to_be_empty(tmp_path: Path) -> None:
    (tmp_path / "a.jpg").write_bytes(b"")
    assert "0 bytes" in one_failure(tmp_path).what


def test_a_truncated_picture_is_refused_when_it_is_loaded(tmp_path: Path) -> None:
    buffer = io.BytesIO()
    Image.fromarray(np.random.default_rng(2).integers(0, 255, (300, 400), dtype=np.uint8)).save(buffer, "PNG")
    (tmp_path / "a.png").write_bytes(buffer.getvalue()[: len(buffer.getvalue()) // 2])
    scans, failures = find_scans(tmp_path, "")
    assert not failures
    with pytest.raises(PageUnreadable, match="damaged or cut short"):
        load_pixels(scans[0])


def test_a_truncated_jpeg_is_not_filled_up_with_grey_in_silence(tmp_path: Path) -> None:
    buffer = io.BytesIO()
    Image.fromarray(np.random.default_rng(2).integers(0, 255, (300, 400), dtype=np.uint8)).save(buffer, "JPEG")
    (tmp_path / "a.jpg").write_bytes(buffer.getvalue()[: len(buffer.getvalue()) // 2])
    scans, _ = find_scans(tmp_path, "")
    with pytest.raises(PageUnreadable, match="damaged or cut short"):
        load_pixels(scans[0])


def test_one_pixel_is_too_small_for_a_page(tmp_path: Path) -> None:
    picture(tmp_path / "a.png", (1, 1))
    assert "1 × 1" in one_failure(tmp_path).what


def test_300_megapixels_are_refused_by_the_header_alone(tmp_path: Path) -> None:
    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    header = struct.pack(">IIBBBBB", 20000, 15000, 8, 0, 0, 0, 0)
    bomb = b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"IDAT", b"") + chunk(b"IEND", b"")
    (tmp_path / "a.png").write_bytes(bomb)  # it has no pixels at all: decoding it would fail in another way
    error = one_failure(tmp_path)
    assert "300 megapixels" in error.what
    assert f"{MAX_MEGAPIXELS:.0f}" in error.what


def test_a_pdf_with_a_password_says_so(tmp_path: Path) -> None:
    from reportlab.lib.pdfencrypt import StandardEncryption

    document = canvas.Canvas(str(tmp_path / "a.pdf"), encrypt=StandardEncryption("secret", "owner", strength=128))
    document.drawString(10, 10, "x")
    document.save()
    assert "password" in one_failure(tmp_path).what


def test_a_broken_pdf_says_so(tmp_path: Path) -> None:
    (tmp_path / "a.pdf").write_bytes(b"%PDF-1.4 and then nothing")
    assert "not a PDF" in one_failure(tmp_path).what


def test_a_file_without_permission_says_so(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    picture(tmp_path / "a.png")
    if os.geteuid() == 0:  # root may read everything: act it out

        def refuse(self: Path, *_: object, **__: object) -> None:
            raise PermissionError(13, "Permission denied", str(self))

        monkeypatch.setattr(Path, "open", refuse)
    else:
        (tmp_path / "a.png").chmod(0)
    assert "Permission denied" in one_failure(tmp_path).what


def test_one_bad_page_does_not_hide_the_good_ones(tmp_path: Path) -> None:
    picture(tmp_path / "a.png")
    (tmp_path / "b.png").write_bytes(b"")
    picture(tmp_path / "c.png")
    scans, failures = find_scans(tmp_path, "")
    assert [s.sheet for s in scans] == ["a", "c"]
    assert [Path(f.path).name for f in failures] == ["b.png"]


def test_one_bad_page_of_a_tiff_does_not_hide_the_others(tmp_path: Path) -> None:
    Image.new("L", (200, 150), 255).save(
        tmp_path / "book.tif", save_all=True, append_images=[Image.new("L", (1, 1)), Image.new("L", (210, 150))]
    )
    scans, failures = find_scans(tmp_path, "")
    assert [s.page for s in scans] == [0, 2]
    assert [f.page for f in failures] == [1]


@pytest.mark.parametrize("make", [True, False])
def test_an_empty_or_missing_folder_is_nothing_to_read(tmp_path: Path, make: bool) -> None:
    folder = tmp_path / "pages"
    if make:
        folder.mkdir()
        (folder / "manual.toml").write_text("")
    with pytest.raises(NothingToRead) as caught:
        find_scans(folder, "")
    assert caught.value.exit_code == 3
    assert str(folder) in caught.value.what


def test_a_pdf_library_document_is_closed_again(tmp_path: Path) -> None:
    document = pdfium.PdfDocument.new()
    document.new_page(200, 100)
    document.save(str(tmp_path / "a.pdf"))
    document.close()
    scans, _ = find_scans(tmp_path, "")
    load_pixels(scans[0])
    (tmp_path / "a.pdf").unlink()
    with pytest.raises(PageUnreadable):
        load_pixels(scans[0])


@pytest.mark.parametrize(
    ("noted", "shape"), [((204, 98), (416, 408)), ((204, 196), (208, 408)), ((98, 204), (200, 849))]
)
def test_the_pixels_of_a_fax_are_made_squares(tmp_path, noted, shape) -> None:
    # ITU-T T.4 (from memory): 204 dpi along the line, 98 or 196 lines to the inch
    page = Image.new("1", (408, 200), 1)
    page.paste(0, (102, 50, 306, 150))
    page.save(tmp_path / "fax.tif", dpi=noted, compression="group4")
    (scan,), _ = find_scans(tmp_path, "")
    assert scan.dpi == max(noted)
    pixels = load_pixels(scan)
    assert pixels.shape == pytest.approx(shape, abs=1)
    dark = pixels < 128
    inches = dark.any(axis=0).sum() / scan.dpi, dark.any(axis=1).sum() / scan.dpi
    assert inches == pytest.approx((204 / noted[0], 100 / noted[1]), rel=0.02)


def test_two_resolutions_that_are_no_fax_are_not_believed(tmp_path) -> None:
    Image.new("L", (300, 200), 255).save(tmp_path / "a.tif", dpi=(300, 100))
    (scan,), _ = find_scans(tmp_path, "")
    assert scan.dpi is None
    assert load_pixels(scan).shape == (200, 300)
