"""Find the pages of a manual on disk and load their pixels. One bad page never hides the others."""

from __future__ import annotations

import hashlib
import re
import warnings
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
import pypdfium2 as pdfium
from numpy.typing import NDArray
from PIL import Image, UnidentifiedImageError

from digitize.errors import NothingToRead, PageUnreadable
from digitize.sheet.dpi import BELIEVABLE_DPI, fax_stretch, stated_dpi
from digitize.sheet.grey import grey_of
from digitize.sheet.state import Scan

PICTURE_SUFFIXES = (".png", ".jpg", ".jpeg", ".jpe", ".jfif", ".tif", ".tiff", ".bmp", ".webp", ".pbm", ".pgm", ".ppm")
PDF_SUFFIX = ".pdf"
PARTS_SUFFIX = ".parts"
"""Of the files in which ``sheet.parts`` gathers the parts of one sheet."""
CONVENTION_SUFFIXES = (".toml", ".sqlite", ".sqlite3", ".db", ".json", ".md", ".txt", ".csv", ".lock")
"""Files that people keep beside the pages; passed over in silence when a folder is searched."""

MAX_MEGAPIXELS = 250.0
"""Our own limit for one page, read from the header before anything is decoded (A0 at 400 dpi has 248 Mpx)."""

MIN_SIDE_PX = 64
"""A page whose shorter side has fewer pixels than this cannot hold a drawing."""

PDF_DPI = 300.0


@dataclass(frozen=True, slots=True)
class SourceFailure:
    """A file (or one page in it) that cannot become a Scan, with the one line to print and the exit code it asks for."""

    path: str
    page: int
    error: PageUnreadable


def find_scans(
    places: str | Path | Sequence[str | Path], rights: str
) -> tuple[tuple[Scan, ...], tuple[SourceFailure, ...]]:
    """All pages in a folder or in the files named, in natural order of their names, and what could not be taken.

    Hidden files, conventions and notes (TOML, text) and sub-folders are passed over. Ids are the file's name without its
    suffix, ``NAME-p003`` for a page of a file with several; equal names get ``-2``, ``-3`` in order.

    Raises:
        NothingToRead: no file that could be a page lies there.
    """
    files = _files(places)
    scans: list[Scan] = []
    failures: list[SourceFailure] = []
    taken: set[str] = set()
    for path in files:
        try:
            found, bad = _scans_of(path, rights)
        except PageUnreadable as error:
            failures.append(SourceFailure(str(path), 0, error))
            continue
        failures.extend(bad)
        scans.extend(_renamed(scan, _unique(scan.sheet, taken)) for scan in found)
    if not scans and not failures:
        where = ", ".join(str(p) for p in _as_list(places)) or "the list of files"
        raise NothingToRead(f"No page found in {where}.", "Give a folder or files with PNG, JPEG, TIFF or PDF pages.")
    return tuple(scans), tuple(failures)


def load_pixels(scan: Scan) -> NDArray[np.uint8]:
    """The page as uint8 grey (H, W), 0 black, turned as its EXIF note says.

    A PDF page is rendered at its embedded scan's own resolution when it holds one, else at 300 dpi.

    Raises:
        PageUnreadable: not a picture, truncated, protected, too small or too large.
    """
    path = Path(scan.path)
    if path.suffix == PARTS_SUFFIX:
        from digitize.sheet.parts import joined_parts  # noqa: PLC0415  it loads each part with this function

        return joined_parts(path).grey
    if path.suffix.lower() == PDF_SUFFIX:
        return _pdf_pixels(path, scan.page)
    where = _where(path, scan.page)
    image = _open_picture(path)
    with image:
        try:
            if scan.page:
                image.seek(scan.page)
            _check_size(image.width, image.height, where)
            grey = grey_of(image)
            x, y = fax_stretch(image)
            if (x, y) != (1.0, 1.0):
                grey = cv2.resize(grey, None, fx=x, fy=y, interpolation=cv2.INTER_LINEAR)
            return np.asarray(grey, dtype=np.uint8)
        except EOFError as error:
            raise PageUnreadable(f"{where} is not in the file any more.", "Run again over the folder.") from error
        except MemoryError as error:
            raise PageUnreadable(f"{where} does not fit into memory.", "Scan it at a lower resolution.") from error
        except (OSError, SyntaxError, ValueError) as error:
            raise PageUnreadable(
                f"{where} is damaged or cut short ({_short(error)}).", "Scan or copy this page again."
            ) from error


def _as_list(places: str | Path | Sequence[str | Path]) -> list[Path]:
    if isinstance(places, (str, Path)):
        return [Path(places)]
    return [Path(p) for p in places]


def _files(places: str | Path | Sequence[str | Path]) -> list[Path]:
    """Candidate files. A folder's own files are filtered by suffix; a file named by the user is always tried."""
    found: list[Path] = []
    for place in _as_list(places):
        if place.is_dir():
            try:
                inside = [p for p in place.iterdir() if not p.name.startswith(".") and p.is_file()]
            except OSError as error:
                raise NothingToRead(
                    f"The folder {place} cannot be opened ({_short(error)}).", "Check its permissions."
                ) from error
            found += sorted((p for p in inside if p.suffix.lower() not in CONVENTION_SUFFIXES), key=natural_key)
        elif place.exists():
            found.append(place)
        else:
            raise NothingToRead(f"There is no {place}.", "Check the path of the folder or file.")
    return found


def natural_key(path: Path) -> tuple[tuple[int, int, str], ...]:
    """Sorts ``page_2`` before ``page_10``, whatever the case of the letters."""
    parts = re.split(r"(\d+)", path.name.casefold())
    return tuple((0, int(p), "") if p.isdigit() and p.isascii() else (1, 0, p) for p in parts if p)


def _scans_of(path: Path, rights: str) -> tuple[list[Scan], list[SourceFailure]]:
    """The pages of one file. Raises PageUnreadable when none of it can be used."""
    try:
        if path.stat().st_size == 0:
            raise PageUnreadable(f"{path} is empty (0 bytes).", "Copy or scan this page again.")
        digest = _sha256(path)
    except OSError as error:
        raise PageUnreadable(f"{path} cannot be opened ({_short(error)}).", "Check its permissions.") from error
    stem = _safe(path.stem)
    dpis = _pdf_dpis(path) if path.suffix.lower() == PDF_SUFFIX else _picture_dpis(path)
    scans, failures = [], []
    for i, dpi in enumerate(dpis):
        if isinstance(dpi, PageUnreadable):
            failures.append(SourceFailure(str(path), i, dpi))
        else:
            sheet = stem if len(dpis) == 1 else f"{stem}-p{i + 1:03d}"
            scans.append(Scan(sheet, str(path), i, digest, dpi, rights))
    return scans, failures


def _sha256(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _safe(stem: str) -> str:
    return re.sub(r"[^\w.-]+", "_", stem).strip("_") or "page"


def _unique(name: str, taken: set[str]) -> str:
    candidate, n = name, 1
    while candidate.casefold() in taken:
        n += 1
        candidate = f"{name}-{n}"
    taken.add(candidate.casefold())
    return candidate


def _renamed(scan: Scan, sheet: str) -> Scan:
    return Scan(sheet, scan.path, scan.page, scan.sha256, scan.dpi, scan.rights)


def _where(path: Path, page: int) -> str:
    return f"{path}, page {page + 1}," if page else str(path)


def _short(error: BaseException) -> str:
    """The first line of a library's message, without its full stop."""
    text = (getattr(error, "strerror", None) or str(error) or type(error).__name__).strip().splitlines()[0]
    return text.rstrip(".")[:120]


# --- pictures ---------------------------------------------------------------------------------------------------------


def _open_picture(path: Path) -> Image.Image:
    """Open without decoding. The library's own size alarm is replaced by ours (``MAX_MEGAPIXELS``)."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # size and damaged-EXIF warnings: both are judged by ourselves right after
        before = Image.MAX_IMAGE_PIXELS
        Image.MAX_IMAGE_PIXELS = None
        try:
            return Image.open(path)
        except UnidentifiedImageError as error:
            raise PageUnreadable(
                f"{path} is not a picture that can be read.",
                "Give PNG, JPEG, TIFF or PDF, or take it out of the folder.",
            ) from error
        except (OSError, SyntaxError, ValueError) as error:
            raise PageUnreadable(
                f"{path} cannot be opened as a picture ({_short(error)}).", "Check or scan this page again."
            ) from error
        finally:
            Image.MAX_IMAGE_PIXELS = before


def _picture_dpis(path: Path) -> list[float | PageUnreadable | None]:
    """One entry a page: the stated dpi, None, or why that page cannot be used. Headers only."""
    image = _open_picture(path)
    with image:
        # a phone's MPO is a JPEG with a preview behind it: one page
        frames = int(getattr(image, "n_frames", 1)) if image.format == "TIFF" else 1
        dpis: list[float | PageUnreadable | None] = []
        for i in range(frames):
            try:
                if i:
                    image.seek(i)
                _check_size(image.width, image.height, _where(path, i))
                dpis.append(stated_dpi(image))
            except PageUnreadable as error:
                dpis.append(error)
            except (EOFError, OSError, SyntaxError, ValueError) as error:
                what = f"{_where(path, i)} is damaged or cut short ({_short(error)})."
                dpis.append(PageUnreadable(what, "Scan or copy this file again."))
        return dpis


def _check_size(width: int, height: int, where: str) -> None:
    megapixels = width * height / 1e6
    if megapixels > MAX_MEGAPIXELS:
        raise PageUnreadable(
            f"{where} has {megapixels:.0f} megapixels; the limit is {MAX_MEGAPIXELS:.0f}.",
            "Scan it at a lower resolution or cut it into parts.",
        )
    if min(width, height) < MIN_SIDE_PX:
        raise PageUnreadable(f"{where} is only {width} × {height} pixels.", "Scan the page at 200 dpi or more.")


# --- PDF --------------------------------------------------------------------------------------------------------------


def _open_pdf(path: Path) -> pdfium.PdfDocument:
    try:
        return pdfium.PdfDocument(path)
    except pdfium.PdfiumError as error:
        if "password" in str(error).casefold():
            raise PageUnreadable(
                f"{path} is protected by a password.", "Save a copy without the password and give that."
            ) from error
        raise PageUnreadable(
            f"{path} is not a PDF that can be read ({_short(error)}).", "Check or export this file again."
        ) from error
    except OSError as error:
        raise PageUnreadable(f"{path} cannot be opened ({_short(error)}).", "Check its permissions.") from error


def _pdf_dpis(path: Path) -> list[float | PageUnreadable | None]:
    """The dpi each page will be rendered at, which then is its true dpi, or why that page cannot be used."""
    document = _open_pdf(path)
    try:
        if len(document) == 0:
            raise PageUnreadable(f"{path} has no pages.", "Export this file again.")
        dpis: list[float | PageUnreadable | None] = []
        for i in range(len(document)):
            try:
                dpis.append(_render_dpi(document, i, _where(path, i)))
            except PageUnreadable as error:
                dpis.append(error)
        return dpis
    finally:
        document.close()


def _render_dpi(document: pdfium.PdfDocument, number: int, where: str) -> float:
    """The resolution of the largest picture on the page when that fills most of it, else ``PDF_DPI``."""
    try:
        page = document[number]
    except pdfium.PdfiumError as error:
        raise PageUnreadable(f"{where} is damaged ({_short(error)}).", "Export this file again.") from error
    try:
        width, height = page.get_size()
        dpi = PDF_DPI
        for thing in page.get_objects(filter=[pdfium.raw.FPDF_PAGEOBJ_IMAGE], max_depth=3):
            left, bottom, right, top = thing.get_bounds()
            if (right - left) * (top - bottom) < 0.6 * width * height:
                continue
            pixels = thing.get_px_size()
            own = 72.0 * max(pixels) / max(right - left, top - bottom, 1e-6)
            if BELIEVABLE_DPI[0] <= own <= BELIEVABLE_DPI[1]:
                dpi = own
        _check_size(round(width * dpi / 72), round(height * dpi / 72), where)
        return dpi
    finally:
        page.close()


def _pdf_pixels(path: Path, number: int) -> NDArray[np.uint8]:
    document = _open_pdf(path)
    where = _where(path, number)
    try:
        if number >= len(document):
            raise PageUnreadable(f"{where} is not in the file any more.", "Run again over the folder.")
        dpi = _render_dpi(document, number, where)
        page = document[number]
        try:
            bitmap = page.render(scale=dpi / 72, grayscale=True)
            return np.array(_flat(bitmap.to_numpy()), dtype=np.uint8)
        except pdfium.PdfiumError as error:
            raise PageUnreadable(f"{where} cannot be drawn ({_short(error)}).", "Export this file again.") from error
        finally:
            page.close()
    finally:
        document.close()


def _flat(pixels: NDArray[np.uint8]) -> NDArray[np.uint8]:
    return pixels if pixels.ndim == 2 else np.asarray(pixels[..., 0], dtype=np.uint8)
