"""The fault sheet as one HTML file: cautions, what was told, suspects, the next check with the scan, figures."""

from __future__ import annotations

from collections.abc import Iterator
from html import escape

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
from digitize.trace.sheet_html import PAPERS, STYLE, figure_of
from digitize.trace.strip import Crop
from digitize.trace.told import printable

TABLE_STYLE = """
table { border-collapse: collapse; width: 100%; font-size: 9.5pt }
th { text-align: left; font-size: 8.5pt; border-bottom: 0.4mm solid #111; padding: 0.5mm 2mm 0.5mm 0 }
td { vertical-align: top; padding: 0.8mm 3mm 0.8mm 0; border-bottom: 0.15mm solid #aaa } tr { break-inside: avoid }
.chance { text-align: right; white-space: nowrap; width: 12mm } .reads { white-space: nowrap; width: 30mm }
.bar { display: block; height: 1.2mm; margin-left: auto; background: #111; margin-top: 0.6mm; print-color-adjust: exact;
  -webkit-print-color-adjust: exact }
.check { border: 0.6mm solid #111; padding: 2mm 4mm 3mm; margin: 4mm 0; break-inside: avoid } .check h2 { margin-top: 1mm }
.point { font-weight: bold; font-size: 11pt; margin: 1mm 0 } .read { margin: 3mm 0 0; font-weight: bold }
.beyond { font-weight: bold } .guide { font-size: 8.5pt; color: #333 }
"""

TITLE = "Looking for a fault"


def title_of(advice: Advice) -> str:
    """``Looking for a fault: LEFT TAIL LAMP``, with the parts that were named as dark."""
    dark = ", ".join(printable(n) for n in advice.told.dark)
    return f"{TITLE}: {dark}" if dark else TITLE


BELOW_CAUTIONS = "<h2>What was told</h2>"
"""What stands right below the cautions; a form to tell more with goes before it."""


def fault_html(advice: Advice, crop: Crop, paper: str = "a4") -> str:
    """A self-contained HTML page; nothing in it is fetched from anywhere.

    Args:
        advice: what to print.
        crop: gives the parts of the scans; without one the place is told in words only.
        paper: a key of ``PAPERS``.

    Raises:
        KeyError: unknown paper.
    """
    return "".join(_page(advice, crop, PAPERS[paper]))


def _page(advice: Advice, crop: Crop, paper: str) -> Iterator[str]:
    title = escape(title_of(advice))
    yield f'<!doctype html>\n<html lang="en"><head><meta charset="utf-8"><title>{title}</title>'
    yield f"<style>{STYLE.replace('PAPER', paper)}{TABLE_STYLE}</style></head><body>\n<h1>{title}</h1>\n"
    harness = advice.circuits.harness
    vehicle = printable(harness.conventions.get("vehicle", ""))
    yield f'<p class="where">{escape(vehicle)}</p>\n'
    yield '<section class="cautions"><h2>Cautions</h2><ul>'
    yield "".join(f"<li>{escape(c.text)}</li>" for c in advice.cautions)
    yield f"</ul></section>\n{BELOW_CAUTIONS}<ul class='told'>"
    yield "".join(f"<li>{escape(s)}</li>" for s in told_lines(advice))
    yield "</ul>\n"
    yield "".join(f"<p>Note: {escape(printable(n))}</p>" for n in advice.notes)
    if advice.told_something:
        yield from _check(advice, crop)
        yield from _suspects(advice)
        yield from _figures(advice)
    else:
        yield f'<p class="missing">{escape(nothing_yet(advice))}</p>'
    if advice.told.joined:
        yield f'<p class="guide">{escape(CONTINUITY)}</p>'
    yield f'<p class="guide">{escape(USUAL)}</p>'
    if harness.rights:
        yield f'<p class="rights">Rights: {escape(printable(harness.rights))}</p>'
    yield "</body></html>\n"


def _check(advice: Advice, crop: Crop) -> Iterator[str]:
    check = advice.check
    views = views_shown(advice)
    figures = "".join(f for v in views if (f := figure_of(v, crop)))
    if check is None:
        yield f'<p class="missing">{escape(without_check(advice))}</p><div class="views">{figures}</div>'
        return
    yield '<section class="check"><h2>The next check</h2>'
    yield f'<p class="point">{escape(point_words(advice.circuits, check.key))}</p><p>{escape(effort_words(check))}</p>'
    yield f'<div class="views">{figures}</div>'
    yield f"<p>{escape(HOW)}</p><table><tr><th>It reads</th><th>chance</th><th>and then</th></tr>"
    for what, chance, leaves in readings_lines(advice):
        yield f'<tr><td>{escape(what)}</td><td class="chance">{chance}</td><td>{escape(leaves)}</td></tr>'
    place = escape(check_place(check))
    yield f'</table><p class="read">It read: ____________ V</p><p class="guide">Told as <code class="place">{place}</code></p></section>\n'


def _suspects(advice: Advice) -> Iterator[str]:
    reads = advice.check is not None
    yield "<h2>Faults that would explain it, likeliest first</h2><table><tr><th>chance</th><th>fault</th>"
    yield "<th>the check reads</th></tr>" if reads else "</tr>"
    for s in shown_suspects(advice):
        wide = max(0.3, 11 * s.probability)
        yield f'<tr><td class="chance">{percent(s.probability)}<span class="bar" style="width:{wide:.1f}mm"></span></td>'
        yield f"<td>{escape(suspect_words(advice.circuits, s))}</td>"
        yield f'<td class="reads">{escape(predicted(advice, s))}</td></tr>\n' if reads else "</tr>\n"
    yield "</table>"
    more = len(advice.ranking.suspects) - len(shown_suspects(advice))
    yield f"<p>and {more} less likely ones</p>" if more > 0 else ""


def _figures(advice: Advice) -> Iterator[str]:
    if not advice.figures:
        return
    yield '<section class="figures"><h2>Figures to compare with</h2><ul>'
    for f in advice.figures:
        yield f"<li{'' if f.fits else ' class=beyond'}>{escape(printable(f.says))}</li>"
    yield f'</ul><p class="guide">{escape(GUIDANCE)}</p></section>'
