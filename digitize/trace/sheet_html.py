"""The printable sheet as one HTML file: cautions first, the way as a straight strip, the scan beside every hop."""

from __future__ import annotations

import base64
from collections.abc import Iterator
from html import escape

from digitize.trace.network import Network
from digitize.trace.state import Leg, Stop, Trace, Way
from digitize.trace.strip import Crop, View, views_of, ways_in_order
from digitize.trace.told import branch_line, candidate_row, details, printable, stop_name, sureness, way_head, where

RING_MM = 3.0
"""Radius of the ring around a point to measure at: it leaves the lettering beside a terminal free."""

PAPERS = {"a4": "A4", "letter": "letter"}
"""Paper sizes by what a person types."""

STYLE = """
@page { size: PAPER portrait; margin: 12mm }
* { box-sizing: border-box }
body { font: 10pt/1.35 "DejaVu Sans", "Liberation Sans", sans-serif; color: #111; max-width: 186mm; margin: 6mm auto }
h1 { font-size: 16pt; margin: 0 0 1mm } h2 { font-size: 11.5pt; margin: 6mm 0 2mm; break-after: avoid; break-inside: avoid }
.where { margin: 0 0 4mm; color: #333 }
.cautions { border: 0.6mm solid #111; padding: 2mm 4mm; margin: 0 0 4mm }
.cautions h2 { margin: 0 0 1mm } .cautions ul { margin: 0; padding-left: 5mm }
.strip { margin: 0; padding: 0; list-style: none; border-left: 1.2mm solid #555; margin-left: 4mm }
.stop { position: relative; padding: 1mm 0 1mm 5mm; font-weight: bold; break-inside: avoid; break-after: avoid }
.stop::before { content: ""; position: absolute; left: -2.35mm; top: 1.9mm; width: 3.5mm; height: 3.5mm;
  border: 0.6mm solid #555; background: #fff; border-radius: 50% }
.hop { padding: 1mm 0 2mm 9mm; break-inside: avoid }
.code { font: bold 11.5pt "DejaVu Sans Mono", "Liberation Mono", monospace }
.told { margin: 0.5mm 0; font-size: 9pt } .told li { margin: 0 }
.mark { border: 0.3mm solid #111; padding: 0 1.5mm; font-size: 8.5pt; white-space: nowrap }
.doubt { background: #111; color: #fff }
.views { display: flex; flex-wrap: wrap; gap: 3mm; margin-top: 1mm }
figure { margin: 0; break-inside: avoid } figcaption { font-size: 8pt; color: #333 }
figure svg { display: block; border: 0.2mm solid #999; max-width: 100%; height: auto }
.way-line { fill: none; stroke: #d07000; stroke-opacity: .38; stroke-width: 2.6; stroke-linejoin: round; stroke-linecap: round }
.ring { fill: none; stroke: #c00000; stroke-width: .7 }
.missing { border: 0.4mm dashed #111; padding: 2mm 4mm }
.rights { margin-top: 6mm; border-top: 0.2mm solid #999; font-size: 8.5pt; color: #333 }
@media print { body { margin: 0; max-width: none } .way-line { stroke-opacity: .45 } }
"""


def sheet_html(trace: Trace, network: Network, crop: Crop, paper: str = "a4") -> str:
    """A self-contained HTML page of ``trace``; nothing in it is fetched from anywhere.

    Args:
        trace: what to print.
        network: the network that the trace was made on.
        crop: gives the parts of the scans; a hop whose scan is not there is told in words only.
        paper: a key of ``PAPERS``.

    Raises:
        KeyError: unknown paper.
    """
    return "".join(_page(trace, network, crop, PAPERS[paper]))


def _page(trace: Trace, network: Network, crop: Crop, paper: str) -> Iterator[str]:
    title = escape(printable(trace.asked) if trace.start is None else stop_name(trace.start))
    yield f'<!doctype html>\n<html lang="en"><head><meta charset="utf-8"><title>{title}</title>'
    yield f"<style>{STYLE.replace('PAPER', paper)}</style></head><body>\n<h1>{title}</h1>\n"
    place = [] if trace.start is None else [where(trace.start.spot)]
    about = [escape(x) for x in (printable(trace.vehicle), *place) if x]
    yield f'<p class="where">{" - ".join(about)}</p>\n'
    yield '<section class="cautions"><h2>Cautions</h2><ul>'
    yield "".join(f"<li>{escape(c.text)}</li>" for c in trace.cautions)
    yield "</ul></section>\n"
    yield "".join(f"<p>Note: {escape(printable(n))}</p>" for n in trace.notes)
    if trace.candidates:
        yield "<h2>It may mean several things; ask again with one of these</h2><ul>"
        yield "".join(f"<li>{escape('  '.join(candidate_row(c)))}</li>" for c in trace.candidates)
        yield "</ul>"
    for relay, way in ways_in_order(trace):
        yield from _way(relay, way, network, crop)
    if trace.serves:
        yield f"<h2>Serves</h2><p>{escape(', '.join(printable(n) for n in trace.serves))}</p>"
    if trace.rights:
        yield f'<p class="rights">Rights: {escape(printable(trace.rights))}</p>'
    yield "</body></html>\n"


def _way(relay: str, way: Way, network: Network, crop: Crop) -> Iterator[str]:
    lead = f"{printable(relay)}, its coil: " if relay else ""
    yield f'<section class="way"><h2>{escape(lead + way_head(way))}</h2>\n'
    if way.missing:
        yield f'<p class="missing">{escape(printable(way.missing))}</p>'
    yield "".join(f"<p>Note: {escape(printable(n))}</p>" for n in way.notes)
    if not way.legs:
        yield "</section>\n"
        return
    parted: dict[tuple[str, str], list[str]] = {}
    for b in way.branches:
        parted.setdefault((b.at.id, b.at.terminal), []).append(branch_line(b))
    yield '<ol class="strip">'
    yield _stop(way.legs[0].start, parted)
    for number, leg in enumerate(way.legs, 1):
        yield from _hop(number, leg, network, crop)
        yield _stop(leg.end, parted)
    yield "</ol></section>\n"


def _stop(stop: Stop, parted: dict[tuple[str, str], list[str]]) -> str:
    lines = "".join(f"<li>{escape(line)}</li>" for line in parted.get((stop.id, stop.terminal), ()))
    told = f'<ul class="told" style="font-weight:normal">{lines}</ul>' if lines else ""
    return f'<li class="stop">{escape(stop_name(stop))} <small>{escape(where(stop.spot))}</small>{told}</li>\n'


def _hop(number: int, leg: Leg, network: Network, crop: Crop) -> Iterator[str]:
    mark = "mark doubt" if leg.doubtful else "mark"
    yield f'<li class="hop">{number}. <span class="code">{escape(printable(leg.printed or "")) or "(nothing read)"}</span> '
    yield f'{escape(printable(leg.words))} <span class="{mark}">{escape(sureness(leg))}</span>'
    said = "".join(f"<li>{escape(d)}</li>" for d in details(leg))
    yield f'<ul class="told">{said}</ul>' if said else ""
    figures = [f for v in views_of(network, leg) if (f := figure_of(v, crop))]
    yield f'<div class="views">{"".join(figures)}</div>' if figures else ""
    yield "</li>\n"


def figure_of(view: View, crop: Crop) -> str:
    """One picture as an HTML figure, as large as on the page; "" when there is no scan."""
    png = crop(view.sheet, view.box)
    if png is None:
        return ""
    b = view.box
    data = base64.b64encode(png).decode("ascii")
    lines = "".join(
        f'<polyline class="way-line" points="{" ".join(f"{x:.2f},{y:.2f}" for x, y in line)}"/>'
        for line in view.highlight
    )
    if view.ring is not None:
        lines += f'<circle class="ring" cx="{view.ring[0]:.2f}" cy="{view.ring[1]:.2f}" r="{RING_MM}"/>'
    return (
        f'<figure><svg width="{b.width:.1f}mm" height="{b.height:.1f}mm" viewBox="{b.x0:.2f} {b.y0:.2f} {b.width:.2f} {b.height:.2f}">'
        f'<image x="{b.x0:.2f}" y="{b.y0:.2f}" width="{b.width:.2f}" height="{b.height:.2f}" preserveAspectRatio="none" '
        f'href="data:image/png;base64,{data}"/>{lines}</svg><figcaption>{escape(printable(view.caption))}</figcaption></figure>'
    )
