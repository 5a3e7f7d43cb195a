"""What the command ``fault`` does: statements in, suspects and the next check out, as text, JSON or a sheet to print."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING

from digitize.commands_ask import sheet_named, write_sheet
from digitize.store.manual import Manual

if TYPE_CHECKING:
    from digitize.trace.advice import Told
    from digitize.trace.circuit import Values


def show_fault(
    file: Path,
    told: Told,
    values: Values | None = None,
    *,
    as_json: bool = False,
    sheet: Path | None = None,
    paper: str = "a4",
) -> None:
    """Print which faults explain what is seen, and the next check; ``sheet`` writes the printable sheet instead.

    Raises NotFound and CalledWrongly.
    """
    from digitize.trace.advice import advise
    from digitize.trace.advice_json import advice_as_json
    from digitize.trace.advice_told import advice_as_text
    from digitize.trace.follow import Circuits

    sheet_named(sheet, paper)
    with Manual.open(file) as manual:
        reviewed = manual.reviewed()
        circuits = Circuits(reviewed.harness, reviewed.done)
        advice = advise(circuits, told, circuits.positions(told.stand), values)
        if sheet is not None:
            from digitize.store.crops import ScanCrops
            from digitize.trace.fault_html import fault_html
            from digitize.trace.fault_pdf import fault_pdf

            crops = ScanCrops(manual)
            pdf = sheet.suffix.lower() == ".pdf"
            write_sheet(sheet, fault_pdf(advice, crops, paper) if pdf else fault_html(advice, crops, paper).encode())
            print(f"Written: {sheet}")
            return
    if as_json:
        print(json.dumps(advice_as_json(advice), indent=1, ensure_ascii=False))
    else:
        print(advice_as_text(advice), end="")
