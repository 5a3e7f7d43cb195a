"""The fault sheet as PDF, with reportlab (the optional part ``digitize[print]``)."""

from __future__ import annotations

from html import escape
from typing import Any

from digitize.trace.advice import Advice, shown_suspects
from digitize.trace.advice_told import (
    CONTINUITY,
    GUIDANCE,
    HOW,
    USUAL,
    check_place,
    effort_words,
    nothing_yet,
    percent,
    point_words,
    predicted,
    readings_lines,
    suspect_words,
    told_lines,
    views_shown,
    without_check,
)
from digitize.trace.fault_html import title_of
from digitize.trace.sheet_pdf import PdfPen, pdf_of
from digitize.trace.strip import Crop
from digitize.trace.told import printable

LEAST_BELOW = 100.0
"""Points that must be left on a page for the head of the list of suspects to start there; the list itself may break."""


def fault_pdf(advice: Advice, crop: Crop, paper: str = "a4") -> bytes:
    """A PDF of ``advice``; the same content as ``fault_html``. ``paper``: ``a4`` or ``letter``.

    Raises:
        PartMissing: reportlab is not installed.
        KeyError: unknown paper.
    """
    rights = printable(advice.circuits.harness.rights)
    return pdf_of(title_of(advice), rights, paper, lambda pen: _story(advice, crop, pen))


def _story(advice: Advice, crop: Crop, pen: PdfPen) -> list[Any]:
    harness = advice.circuits.harness
    story: list[Any] = [pen.text(title_of(advice), "title")]
    vehicle = printable(harness.conventions.get("vehicle", ""))
    story += [pen.text(vehicle, "plain")] if vehicle else []
    story.append(pen.text("Cautions", "head"))
    story += [pen.text(f"! {c.text}", "caution") for c in advice.cautions]
    story.append(pen.text("What was told", "head"))
    story += [pen.text(f"- {s}", "caution") for s in told_lines(advice)]
    story += [pen.text(f"Note: {printable(n)}", "plain") for n in advice.notes]
    if advice.told_something:
        story += _check(advice, crop, pen)
        story += _suspects(advice, pen)
        if advice.figures:
            story.append(pen.text("Figures to compare with", "head"))
            story += [pen.text(f"{'-' if f.fits else '!'} {printable(f.says)}", "caution") for f in advice.figures]
            story.append(pen.text(GUIDANCE, "small"))
    else:
        story.append(pen.text(nothing_yet(advice), "plain"))
    if advice.told.joined:
        story.append(pen.text(CONTINUITY, "small"))
    story.append(pen.text(USUAL, "small"))
    return story + pen.rights(harness.rights)


def _check(advice: Advice, crop: Crop, pen: PdfPen) -> list[Any]:
    from reportlab.platypus import KeepTogether, Spacer  # noqa: PLC0415  optional, and heavy

    check = advice.check
    pictures = pen.pictures(views_shown(advice), crop)
    if check is None:
        return [Spacer(1, 6), pen.text(without_check(advice), "plain"), *pictures]
    rows = [["It reads", "chance", "and then"], *([*row] for row in readings_lines(advice))]
    block = [
        pen.text("The next check", "head"), pen.text(point_words(advice.circuits, check.key), "point"),
        pen.text(effort_words(check), "plain"), *pictures, pen.text(HOW, "plain"), _table(rows, (45, 20, 100), pen),
        Spacer(1, 8), pen.text("It read: ____________ V", "point"), pen.text(f"Told as {check_place(check)}", "small"),
    ]  # fmt: skip
    return [KeepTogether(block)]


def _suspects(advice: Advice, pen: PdfPen) -> list[Any]:
    from reportlab.platypus import CondPageBreak  # noqa: PLC0415

    reads = advice.check is not None
    rows = [["chance", "fault", "the check reads"] if reads else ["chance", "fault"]]
    for s in shown_suspects(advice):
        row = [percent(s.probability), suspect_words(advice.circuits, s)]
        rows.append([*row, predicted(advice, s)] if reads else row)
    more = len(advice.ranking.suspects) - len(shown_suspects(advice))
    story = [
        CondPageBreak(LEAST_BELOW),
        pen.text("Faults that would explain it, likeliest first", "loose"),
        _table(rows, (16, 130, 34) if reads else (16, 160), pen),
    ]
    return [*story, pen.text(f"and {more} less likely ones", "plain")] if more > 0 else story


def _table(rows: list[list[str]], widths: tuple[float, ...], pen: PdfPen) -> Any:
    """A table whose first row is its head; ``widths`` in mm, shrunk together when the paper is narrower."""
    from reportlab.platypus import Table  # noqa: PLC0415

    scale = min(1.0, pen.width / sum(widths)) * 72 / 25.4
    bold = [[pen.marked(f'<font name="{pen.bold}">{escape(pen.fit(x))}</font>', "cell") for x in rows[0]]]
    cells = [[pen.text(x, "cell") for x in row] for row in rows[1:]]
    style = [
        ("VALIGN", (0, 0), (-1, -1), "TOP"), ("LINEBELOW", (0, 0), (-1, 0), 0.9, "black"),
        ("LINEBELOW", (0, 1), (-1, -1), 0.3, "grey"), ("LEFTPADDING", (0, 0), (-1, -1), 0), ("TOPPADDING", (0, 0), (-1, -1), 2),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 2),
    ]  # fmt: skip
    return Table(bold + cells, colWidths=[w * scale for w in widths], style=style, hAlign="LEFT", repeatRows=1)
