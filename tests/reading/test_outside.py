"""Words set by general-purpose libraries, read as they are: nothing of our own drew them.

No open data set of printed characters is shipped by a package registry: what there is are handwritten digits and letters
(the MNIST family) and lists of measured features without pictures.
"""

from __future__ import annotations

import io

import numpy as np
import pypdfium2
import pytest
from reportlab.pdfgen.canvas import Canvas

from digitize.reading.engines import Grey
from digitize.reading.lettering import Lettering

WORDS = (
    "HEADLAMP SWITCH", "HORN RELAY", "FUSE BLOCK", "WIPER MOTOR", "OIL PRESSURE", "FUEL GAUGE", "A7 18 RED/BLK", "C101",
    "B12 2.5 GN-YE", "25A", "H205", "7.5A", "K3F 14 ORG", "SEE SHEET 6", "HEATER FAN", "CIRCUIT BREAKER", "STOP LAMP",
    "D14", "R.H. DOOR", "E19 16 WHT",
)  # fmt: skip


def set_by_pdf(words: tuple[str, ...], font: str, points: float) -> list[Grey]:
    """``words`` written by reportlab in a standard font of PDF and drawn by PDFium at 300 dpi, one crop each."""
    out = io.BytesIO()
    canvas = Canvas(out, pagesize=(400, 40 * len(words)))
    canvas.setFont(font, points)
    for i, word in enumerate(words):
        canvas.drawString(20, 40 * i + 12, word)
    canvas.save()
    with pypdfium2.PdfDocument(out.getvalue()) as document:
        page = document[0]
        grey = np.asarray(page.render(scale=300 / 72, grayscale=True).to_numpy()).squeeze()
        page.close()
    crops = []
    row = grey.shape[0] / len(words)
    for i in range(len(words)):
        band = grey[round(grey.shape[0] - (i + 1) * row) : round(grey.shape[0] - i * row)]
        y, x = np.where(band < 128)
        margin = round(0.22 * (y.max() - y.min()))
        crops.append(
            np.ascontiguousarray(
                np.pad(band[y.min() : y.max() + 1, x.min() : x.max() + 1], margin, constant_values=255)
            )
        )
    return crops


@pytest.mark.parametrize("font", ["Helvetica", "Courier", "Times-Roman", "Helvetica-Bold", "Helvetica-Oblique"])
@pytest.mark.parametrize("points", [6.0, 9.0])
def test_words_drawn_by_pdfium_are_read(font: str, points: float) -> None:
    said = Lettering().read(set_by_pdf(WORDS, font, points))
    wrong = [(w, s.text) for w, s in zip(WORDS, said, strict=True) if s.text.replace(" ", "") != w.replace(" ", "")]
    assert len(wrong) <= 1, wrong
