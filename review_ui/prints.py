"""Sheets of their own in the browser, to be printed: the way of a circuit, and looking for a fault with what is known of it.

Plain pages without a script: the form of the fault sheet asks by its address, so that a look at a fault can be kept.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from html import escape
from typing import TYPE_CHECKING

from starlette.datastructures import QueryParams
from starlette.requests import Request
from starlette.responses import HTMLResponse, Response
from starlette.routing import Route

from digitize.errors import CalledWrongly, NotFound
from review_ui.answers import http_error

if TYPE_CHECKING:
    from digitize.harness.edits import Reviewed
    from digitize.store.manual import Manual

POLICY = "default-src 'none'; style-src 'unsafe-inline'; img-src data:; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
"""Nothing runs and nothing is fetched on these pages; their look and their pictures are inside them."""

FRESH = {"Content-Security-Policy": POLICY, "Cache-Control": "no-store"}

LONGEST = 4000
"""Characters of one field; a person who knows more than that has found the fault."""

MOST_LINES = 60

FORM_STYLE = """
.ask { border: .4mm solid #777; padding: 2mm 4mm 4mm; margin: 0 0 6mm } .ask label { display: block; margin: 2mm 0 0 }
.ask textarea { width: 100%; font: inherit } .ask .pair { display: grid; grid-template-columns: 1fr 1fr; gap: 0 5mm }
.ask button { font: inherit; margin-top: 3mm; padding: 1.5mm 5mm } .ask .wrong { font-weight: bold }
@media print { .ask { display: none } }
"""


@dataclass(frozen=True, slots=True)
class Field:
    """One field of the form: ``name`` in the address, what stands beside it, and how a line of it looks."""

    name: str
    label: str
    form: str


FIELDS = (
    Field("dark", "Does not work", "a load on each line"),
    Field("works", "Works", "a load on each line"),
    Field("volts", "The meter reads", "PLACE=VOLTS against the body"),
    Field("positions", "Switches stand", "SWITCH=on, off or the terminal it joins"),
    Field("joined", "Continuity", "PLACE=PLACE; one may be body"),
    Field("apart", "No continuity", "PLACE=PLACE; one may be body"),
    Field("lengths", "Lengths", "WIRE=METRES"),
    Field("watts", "Rated power at 12 V", "NAME=WATTS"),
)


def way_sheet(request: Request) -> Response:
    """The sheet of a way: ``of`` is an id or a printed name, ``paper`` a4 or letter."""
    from digitize.store.crops import ScanCrops
    from digitize.trace.follow import Circuits
    from digitize.trace.sheet_html import sheet_html

    asked = request.query_params.get("of", "")[:LONGEST].strip()
    if not asked:
        return http_error(400)
    manual, reviewed = _manual(request)
    circuits = Circuits(reviewed.harness, reviewed.done)
    page = sheet_html(circuits.trace(asked), circuits.network, ScanCrops(manual), _paper(request.query_params))
    return HTMLResponse(page, headers=FRESH)


def fault_sheet(request: Request) -> Response:
    """The fault sheet below a form with what is known; what cannot be understood is told above the form."""
    query = request.query_params
    lines = {f.name: _lines(query.get(f.name, "")) for f in FIELDS}
    if not any(lines.values()):
        return HTMLResponse(_bare(request, _form(lines, _paper(query), "")), headers=FRESH)
    try:
        page = _looked_for(request, lines)
    except (CalledWrongly, NotFound) as fault:
        wrong = _bare(request, _form(lines, _paper(query), f"{fault.what} {fault.advice}"))
        return HTMLResponse(wrong, 422, headers=FRESH)
    return HTMLResponse(page, headers=FRESH)


def _looked_for(request: Request, lines: dict[str, list[str]]) -> str:
    from digitize.store.crops import ScanCrops
    from digitize.trace.advice import advise
    from digitize.trace.fault_html import BELOW_CAUTIONS, fault_html
    from digitize.trace.follow import Circuits
    from digitize.trace.typed import told_from

    told = told_from(**lines)
    manual, reviewed = _manual(request)
    circuits = Circuits(reviewed.harness, reviewed.done)
    paper = _paper(request.query_params)
    page = fault_html(advise(circuits, told, circuits.positions(told.stand)), ScanCrops(manual), paper)
    page = page.replace("</style>", f"{FORM_STYLE}</style>", 1)
    return page.replace(BELOW_CAUTIONS, f"{_form(lines, paper, '')}{BELOW_CAUTIONS}", 1)


def _manual(request: Request) -> tuple[Manual, Reviewed]:
    manual: Manual = request.app.state.desk.manual
    if not manual.has_harness:
        raise NotFound("No page has been read yet.", "Add pages to the manual first.")
    return manual, manual.latest_at()[1]


def _paper(query: QueryParams) -> str:
    return "letter" if query.get("paper") == "letter" else "a4"


def _lines(typed: str) -> list[str]:
    return [line.strip() for line in typed[:LONGEST].splitlines() if line.strip()][:MOST_LINES]


def _bare(request: Request, form: str) -> str:
    """The form alone, under the cautions of every sheet: it asks for readings at the vehicle."""
    from digitize.trace.cautions import ALWAYS

    cautions = "".join(f"<li>{escape(c.text)}</li>" for c in ALWAYS)
    rights = request.app.state.desk.manual.rights
    note = f"<p>Rights: {escape(rights)}</p>" if rights else ""
    return (
        '<!doctype html>\n<html lang="en"><head><meta charset="utf-8"><title>Looking for a fault</title>'
        f"<style>body {{ font: 10pt/1.35 sans-serif; max-width: 186mm; margin: 6mm auto }}{FORM_STYLE}</style></head><body>\n"
        f'<h1>Looking for a fault</h1><section class="cautions"><h2>Cautions</h2><ul>{cautions}</ul></section>'
        f"{form}{note}</body></html>\n"
    )


def _form(lines: Mapping[str, Sequence[str]], paper: str, wrong: str) -> str:
    told = f'<p class="wrong" role="alert">{escape(wrong)}</p>' if wrong else ""
    fields = "".join(
        f"<label>{escape(f.label)} <small>({escape(f.form)})</small>"
        f'<textarea name="{f.name}" rows="{max(2, len(lines[f.name]) + 1)}">{escape(chr(10).join(lines[f.name]))}</textarea></label>'
        for f in FIELDS
    )
    papers = "".join(
        f'<option value="{value}"{" selected" if value == paper else ""}>{name}</option>'
        for value, name in (("a4", "A4"), ("letter", "Letter"))
    )
    return (
        f'<form class="ask" method="get" action="/desk/fault">{told}<div class="pair">{fields}</div>'
        f'<label>Paper <select name="paper">{papers}</select></label><button>Look</button></form>\n'
    )


PRINTS = [Route("/desk/way-sheet", way_sheet), Route("/desk/fault", fault_sheet)]
