"""A sheet of paper to letter on."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from PIL import Image, ImageDraw, ImageFont

from digitize.harness.place import Box
from digitize.ink.state import Marks, Oval, TextBlock
from digitize.sheet.mapping import SheetMapping
from digitize.sheet.state import PX_PER_MM, Sheet, SheetFacts
from digitize.sheet.zones import ZoneGrid

Written = tuple[str, float, float, int, bool]
"""Text, left and top of its block in mm, angle, in an oval."""

MakeMarks = Callable[..., Marks]


def _written(page: Image.Image, text: str, x: float, y: float, angle: int, size: int) -> Box:
    """Draw ``text`` in Pillow's own face, turned; gives the ink's box in mm."""
    font = ImageFont.load_default(size)
    left, top, right, bottom = font.getbbox(text)
    piece = Image.new("L", (int(right - left), int(bottom - top)), 255)
    ImageDraw.Draw(piece).text((-left, -top), text, 20, font=font)
    piece = piece.rotate(angle, expand=True, fillcolor=255)
    page.paste(piece, (round(x * PX_PER_MM), round(y * PX_PER_MM)))
    return Box(x, y, x + piece.width / PX_PER_MM, y + piece.height / PX_PER_MM)


@pytest.fixture
def make_marks() -> MakeMarks:
    """Marks of a page, 120 x 80 mm, on which the given texts are written."""

    def make(*texts: Written, size: int = 36) -> Marks:
        page = Image.new("L", (int(120 * PX_PER_MM), int(80 * PX_PER_MM)), 250)
        blocks, ovals = [], []
        for i, (text, x, y, angle, in_oval) in enumerate(texts):
            box = _written(page, text, x, y, angle, size)
            blocks.append(TextBlock(i, box, angle, 1.0))
            if in_oval:
                ring = box.grown(0.7)
                ring = Box(ring.x0 - 1.2, ring.y0, ring.x1 + 1.2, ring.y1)
                edge = [round(v * PX_PER_MM) for v in (ring.x0, ring.y0, ring.x1, ring.y1)]
                ImageDraw.Draw(page).rounded_rectangle(edge, radius=(edge[3] - edge[1]) / 2, outline=20, width=4)
                ovals.append(Oval(ring, 1.0))
        grey = np.array(page)
        facts = SheetFacts(
            sheet="p", width=120, height=80, scan_width=grey.shape[1], scan_height=grey.shape[0], dpi=304.8, dpi_stated=True,
            mapping=SheetMapping(((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))), frame=None, frame_probability=1.0,
            zones=ZoneGrid((), (), nominal=True), zones_probability=1.0, kind="diagram", kind_probability=1.0,
        )  # fmt: skip
        sheet = Sheet(facts, grey, np.where(grey < 128, 255, 0).astype(np.uint8))
        return Marks(sheet, (), (), (), tuple(ovals), (), (), tuple(blocks))

    return make
