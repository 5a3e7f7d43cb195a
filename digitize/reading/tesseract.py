"""The second reader: the Tesseract program, called once for many crops laid out on one page."""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
import pytesseract

from digitize.reading.alphabet import folded
from digitize.reading.confusions import frames_of
from digitize.reading.engines import Grey, Sighting

_LINE = 36
_GAP = 30
_COLUMN = 1500
_ROWS = 60


@dataclass(frozen=True, slots=True)
class Tesseract:
    """Reads crops with ``tesseract --psm 6`` on mosaics of up to 60 rows; ``version`` is the program's own."""

    version: str

    @property
    def name(self) -> str:
        """Name and version for the provenance."""
        return f"tesseract-{self.version}"

    def read(self, crops: Sequence[Grey]) -> list[Sighting]:
        """Read all ``crops``, 60 a call.

        A mosaic, because starting the program costs far more than reading one crop (facts: users measure 0.18 to 0.5 s
        for each call). One row for each crop, so that a word is mapped back by its height on the page alone.
        """
        out: list[Sighting] = []
        for start in range(0, len(crops), _ROWS):
            out.extend(self._read_mosaic(crops[start : start + _ROWS]))
        return out

    def _read_mosaic(self, crops: Sequence[Grey]) -> list[Sighting]:
        pitch = _LINE + _GAP
        page = np.full((pitch * len(crops) + _GAP, _COLUMN), 255, dtype=np.uint8)
        for row, crop in enumerate(crops):
            scale = min(_LINE / crop.shape[0], (_COLUMN - 2 * _GAP) / crop.shape[1])
            size = (max(2, round(crop.shape[1] * scale)), max(2, round(crop.shape[0] * scale)))
            small = cv2.resize(crop, size, interpolation=cv2.INTER_AREA if scale < 1 else cv2.INTER_CUBIC)
            top = _GAP + row * pitch
            page[top : top + size[1], _GAP : _GAP + size[0]] = small
        with _one_thread():
            table = pytesseract.image_to_data(
                page, lang="eng", config="--psm 6 --oem 1 -c load_system_dawg=0 -c load_freq_dawg=0 -c tessedit_do_invert=0",
                output_type=pytesseract.Output.DICT,
            )  # fmt: skip
        words: list[list[tuple[int, str, float]]] = [[] for _ in crops]
        for text, left, top, height, sure in zip(
            table["text"], table["left"], table["top"], table["height"], table["conf"], strict=True
        ):
            row = int((top + height / 2 - _GAP + _GAP / 2) // pitch)
            if text.strip() and 0 <= row < len(crops):
                words[row].append((int(left), text, float(sure)))
        return [_sighting(row) for row in words]


class _one_thread:  # noqa: N801 - reads as a clause after "with"
    """OMP_THREAD_LIMIT=1 for the child: several at once with threads are tens of times slower (tesseract #3109)."""

    def __enter__(self) -> None:
        self._before = os.environ.get("OMP_THREAD_LIMIT")
        os.environ["OMP_THREAD_LIMIT"] = "1"

    def __exit__(self, *_: object) -> None:
        if self._before is None:
            del os.environ["OMP_THREAD_LIMIT"]
        else:
            os.environ["OMP_THREAD_LIMIT"] = self._before


def _sighting(words: list[tuple[int, str, float]]) -> Sighting:
    words = sorted(words)
    text = folded(" ".join(w for _, w, _ in words))
    if not text:
        return Sighting("", 0.0, frames_of("", 0.5))
    worst = min(c for _, _, c in words) / 100
    each = min(max(worst, 0.3), 0.97)
    return Sighting(text, each ** max(1, len(text) / 4), frames_of(text, each))


def probe_tesseract() -> Tesseract | None:
    """The installed program, or None when it, or its English data, is missing."""
    try:
        version = str(pytesseract.get_tesseract_version())
        languages = pytesseract.get_languages()
    except (pytesseract.TesseractNotFoundError, pytesseract.TesseractError):
        return None
    return Tesseract(version) if "eng" in languages else None
