"""The printable sheet as PDF, with reportlab (the optional part ``digitize[print]``)."""

from __future__ import annotations

import io
from collections.abc import Callable
from html import escape
from typing import Any

from digitize.errors import PartMissing
from digitize.trace.network import Network
from digitize.trace.sheet_html import RING_MM
from digitize.trace.state import Leg, Trace, Way
from digitize.trace.strip import Crop, View, views_of, ways_in_order
from digitize.trace.told import branch_line, candidate_row, details, printable, stop_name, sureness, way_head, where

MARGIN_MM = 12.0
INDENT_MM, GAP_MM = 9.0, 3.0
"""Left of the pictures of a hop, and between two of them."""

FONTS = ("DejaVuSans", "DejaVuSans-Bold")
"""Looked for where reportlab looks for fonts; without them letters outside Latin-1 print as ``?``."""


def sheet_pdf(trace: Trace, network: Network, crop: Crop, paper: str = "a4") -> bytes:
    """A PDF of ``trace``; the same content as ``sheet_html``. ``paper``: ``a4`` or ``letter``.

    Raises:
        PartMissing: reportlab is not installed.
        KeyError: unknown paper.
    """
    title = printable(trace.asked) if trace.start is None else stop_name(trace.start)
    return pdf_of(title, printable(trace.rights), paper, lambda pen: _Story(trace, network, crop, pen).flowables())


def pdf_of(title: str, subject: str, paper: str, story: Callable[[PdfPen], list[Any]]) -> bytes:
    """A PDF of what ``story`` makes with the pen it gets. Raises PartMissing when reportlab is not installed."""
    try:
        from reportlab.lib import pagesizes  # noqa: PLC0415  optional, and heavy
        from reportlab.platypus import SimpleDocTemplate  # noqa: PLC0415
    except ImportError as missing:
        raise PartMissing(
            "Printing to PDF needs reportlab, which is not installed.",
            "Install it with: pip install 'digitize[print]', or write the sheet as .html.",
        ) from missing
    size = {"a4": pagesizes.A4, "letter": pagesizes.LETTER}[paper]
    out = io.BytesIO()
    edge = MARGIN_MM * _mm()
    document = SimpleDocTemplate(
        out, pagesize=size, leftMargin=edge, rightMargin=edge, topMargin=edge, bottomMargin=edge, title=title,
        author="digitize", subject=subject,
    )  # fmt: skip
    document.build(story(PdfPen((size[0] - 2 * edge) / _mm())))
    return out.getvalue()


def _mm() -> float:
    """Points in a millimetre."""
    return 72 / 25.4


class PdfPen:
    """Makes the flowables of a sheet ``width`` mm wide; reportlab's types are not known to the type checker, so they are Any."""

    def __init__(self, width: float) -> None:
        self.width = width
        self.plain, self.bold = _fonts()
        self.styles = _styles(self.plain, self.bold)

    def text(self, text: str, style: str) -> Any:
        """A paragraph of plain text."""
        return self.marked(escape(self.fit(text)), style)

    def marked(self, markup: str, style: str) -> Any:
        """A paragraph of reportlab's markup; what goes into it was made fit and escaped."""
        from reportlab.platypus import Paragraph  # noqa: PLC0415

        return Paragraph(markup, self.styles[style])

    def fit(self, text: str) -> str:
        """Letters that the font does not have print as ``?``: told, not dropped."""
        return text if self.plain in FONTS else text.encode("latin-1", "replace").decode("latin-1")

    def pictures(self, views: tuple[View, ...], crop: Crop) -> list[Any]:
        """The parts of the scans, as large as on the page where the paper is wide enough; side by side where they fit."""
        from reportlab.platypus import Table  # noqa: PLC0415

        shown = [(v, png) for v in views if (png := crop(v.sheet, v.box)) is not None]
        rows: list[list[tuple[View, bytes]]] = []
        room = 0.0
        for view, png in shown:
            if not rows or view.box.width + GAP_MM > room:
                rows.append([])
                room = self.width - INDENT_MM
            rows[-1].append((view, png))
            room -= view.box.width + GAP_MM
        flush = [(f"{side}PADDING", (0, 0), (-1, -1), 0) for side in ("LEFT", "RIGHT", "TOP", "BOTTOM")]
        made = []
        for row in rows:
            cells = [
                _picture(v, png, self.width - INDENT_MM - GAP_MM, self.text(v.caption, "caption")) for v, png in row
            ]
            wide = [c.wrap(self.width * _mm(), 1e4)[0] for c in cells]
            style = [*flush, ("VALIGN", (0, 0), (-1, -1), "TOP")]
            made.append(Table([["", *cells]], colWidths=[INDENT_MM * _mm(), *wide], style=style, hAlign="LEFT"))
        return made

    def rights(self, note: str) -> list[Any]:
        """The rights note at the foot; nothing without one."""
        from reportlab.platypus import Spacer  # noqa: PLC0415

        return [Spacer(1, 8), self.text(f"Rights: {printable(note)}", "small")] if note else []


class _Story:
    """The flowables of one trace."""

    def __init__(self, trace: Trace, network: Network, crop: Crop, pen: PdfPen) -> None:
        self.trace = trace
        self.network = network
        self.crop = crop
        self.pen = pen
        self._text = pen.text

    def flowables(self) -> list[Any]:
        from reportlab.platypus import KeepTogether  # noqa: PLC0415

        t = self.trace
        title = printable(t.asked) if t.start is None else stop_name(t.start)
        place = [] if t.start is None else [where(t.start.spot)]
        about = " - ".join(x for x in (printable(t.vehicle), *place) if x)
        story: list[Any] = [self._text(title, "title"), self._text(about, "plain")]
        story.append(self._text("Cautions", "head"))
        story += [self._text(f"! {c.text}", "caution") for c in t.cautions]
        story += [self._text(f"Note: {printable(n)}", "plain") for n in t.notes]
        if t.candidates:
            story.append(self._text("It may mean several things; ask again with one of these", "head"))
            story += [self._text("  ".join(candidate_row(c)), "plain") for c in t.candidates]
        for relay, way in ways_in_order(t):
            story += self._way(relay, way, KeepTogether)
        if t.serves:
            story += [self._text("Serves", "head"), self._text(", ".join(printable(n) for n in t.serves), "plain")]
        story += self.pen.rights(t.rights)
        return story

    def _way(self, relay: str, way: Way, keep: Any) -> list[Any]:
        lead = f"{printable(relay)}, its coil: " if relay else ""
        story: list[Any] = [self._text(lead + way_head(way), "head")]
        story += [self._text(printable(n), "plain") for n in (way.missing, *(f"Note: {n}" for n in way.notes)) if n]
        if not way.legs:
            return story
        parted: dict[tuple[str, str], list[str]] = {}
        for b in way.branches:
            parted.setdefault((b.at.id, b.at.terminal), []).append(branch_line(b))
        first = way.legs[0].start
        story.append(self._text(f"o  {stop_name(first)}, {where(first.spot)}", "stop"))
        story += [self._text(line, "told") for line in parted.get((first.id, first.terminal), ())]
        for number, leg in enumerate(way.legs, 1):
            block = self._hop(number, leg)
            block.append(self._text(f"o  {stop_name(leg.end)}, {where(leg.end.spot)}", "stop"))
            block += [self._text(line, "told") for line in parted.get((leg.end.id, leg.end.terminal), ())]
            story.append(keep(block))
        return story

    def _hop(self, number: int, leg: Leg) -> list[Any]:
        bold = self.pen.bold
        code = escape(self.pen.fit(printable(leg.printed or "") or "(nothing read)"))
        words = escape(self.pen.fit(printable(leg.words)))
        mark = escape(sureness(leg))
        line = f'{number}. <font name="{bold}">{code}</font> {words} [<font name="{bold}">{mark}</font>]'
        block: list[Any] = [self.pen.marked(line, "hop")]
        block += [self._text(d, "told") for d in details(leg)]
        return block + self.pen.pictures(views_of(self.network, leg), self.crop)


def _picture(view: View, png: bytes, most: float, caption: Any) -> Any:
    """A part of the scan with the conductor highlighted, at most ``most`` mm wide, and its caption."""
    from reportlab.lib.utils import ImageReader  # noqa: PLC0415
    from reportlab.platypus import Flowable  # noqa: PLC0415

    scale = min(1.0, most / view.box.width) * _mm()

    class Picture(Flowable):  # type: ignore[misc]
        def wrap(self, _width: float, height: float) -> tuple[float, float]:
            self._below = caption.wrap(view.box.width * scale, height)[1]
            return view.box.width * scale + GAP_MM * _mm(), view.box.height * scale + self._below + 4

        def draw(self) -> None:
            c = self.canv
            left, low = 0.0, self._below + 2
            wide, high = view.box.width * scale, view.box.height * scale
            c.drawImage(ImageReader(io.BytesIO(png)), left, low, wide, high)
            c.saveState()
            frame = c.beginPath()
            frame.rect(left, low, wide, high)
            c.clipPath(frame, stroke=1)
            c.setStrokeColorRGB(0.82, 0.44, 0.0, alpha=0.4)
            c.setLineWidth(2.6 * scale)
            c.setLineCap(1)
            c.setLineJoin(1)
            for line in view.highlight:
                path = c.beginPath()
                for i, (x, y) in enumerate(line):
                    at = left + (x - view.box.x0) * scale, low + (view.box.y1 - y) * scale
                    (path.lineTo if i else path.moveTo)(*at)
                c.drawPath(path)
            if view.ring is not None:
                c.setStrokeColorRGB(0.75, 0.0, 0.0, alpha=1.0)
                c.setLineWidth(0.7 * scale)
                at = left + (view.ring[0] - view.box.x0) * scale, low + (view.box.y1 - view.ring[1]) * scale
                c.circle(*at, RING_MM * scale)
            c.restoreState()
            caption.drawOn(c, left, 0)

    return Picture()


def _fonts() -> tuple[str, str]:
    from reportlab.pdfbase import pdfmetrics  # noqa: PLC0415
    from reportlab.pdfbase.ttfonts import TTFError, TTFont  # noqa: PLC0415

    try:
        for name in FONTS:
            pdfmetrics.registerFont(TTFont(name, f"{name}.ttf"))
    except TTFError:
        return "Helvetica", "Helvetica-Bold"
    return FONTS


def _styles(plain: str, bold: str) -> dict[str, Any]:
    from reportlab.lib.styles import ParagraphStyle  # noqa: PLC0415

    def style(name: str, size: float, font: str = plain, **more: Any) -> Any:
        return ParagraphStyle(name, fontName=font, fontSize=size, leading=size * 1.3, **more)

    return {
        "title": style("title", 16, bold, spaceAfter=3),
        "head": style("head", 11, bold, spaceBefore=9, spaceAfter=3, keepWithNext=1),
        "loose": style("loose", 11, bold, spaceBefore=9, spaceAfter=3),
        "plain": style("plain", 9.5, spaceAfter=3),
        "caution": style("caution", 9.5, leftIndent=10, firstLineIndent=-8, spaceAfter=2),
        "stop": style("stop", 9.5, bold, spaceBefore=2, spaceAfter=2),
        "hop": style("hop", 9.5, leftIndent=18, spaceBefore=2),
        "told": style("told", 8.5, leftIndent=25),
        "caption": style("caption", 7.5),
        "small": style("small", 8),
        "point": style("point", 10.5, bold, spaceAfter=2),
        "cell": style("cell", 9),
    }
