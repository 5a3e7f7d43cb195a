"""What the commands do that answer questions about a harness: trace and fault."""

from __future__ import annotations

import json
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from digitize.errors import CalledWrongly
from digitize.store.manual import Manual

if TYPE_CHECKING:
    from digitize.trace.follow import Circuits
    from digitize.trace.state import Trace


def show_trace(
    file: Path,
    name: str,
    *,
    as_json: bool,
    to: str = "all",
    positions: Sequence[str] = (),
    sheet: Path | None = None,
    paper: str = "a4",
) -> None:
    """Print the trace of ``name``; ``positions`` are ``SWITCH=POSITION``; ``sheet`` writes the printable sheet instead.

    Raises NotFound for an unknown name, CalledWrongly for a goal, position, paper or kind of file that cannot be.
    """
    from digitize.trace.as_json import trace_as_json
    from digitize.trace.follow import GOALS, Circuits
    from digitize.trace.told import told_apart, trace_as_text
    from digitize.trace.typed import position_said

    if to not in GOALS:
        raise CalledWrongly(f"There is nothing to trace to called {to!r}.", f"Choose one of: {', '.join(GOALS)}.")
    sheet_named(sheet, paper)
    said = [position_said(p) for p in positions]
    with Manual.open(file) as manual:
        reviewed = manual.reviewed()
        circuits = Circuits(reviewed.harness, reviewed.done)
        trace = circuits.trace(name, to, circuits.positions(said))
        if sheet is not None:
            if trace.candidates:
                raise CalledWrongly(
                    f"{name!r} may mean {len(trace.candidates)} things, of which no one sheet can be made.",
                    f"Say which: {told_apart(trace.candidates)}.",
                )
            write_sheet(sheet, _trace_sheet(sheet, trace, circuits, manual, paper))
            print(f"Written: {sheet}", file=sys.stderr if as_json else sys.stdout)
            if not as_json:
                return
    if as_json:
        print(json.dumps(trace_as_json(trace), indent=1, ensure_ascii=False))
    else:
        print(trace_as_text(trace), end="")


def sheet_named(sheet: Path | None, paper: str) -> None:
    """Raises CalledWrongly for a file or a paper that no sheet can be written as."""
    from digitize.trace.sheet_html import PAPERS

    if sheet is not None and sheet.suffix.lower() not in {".html", ".pdf"}:
        raise CalledWrongly(
            f"A sheet cannot be written as {sheet.name}.", "Give a file name that ends in .html or .pdf."
        )
    if paper not in PAPERS:
        raise CalledWrongly(f"There is no paper {paper!r}.", f"Choose one of: {', '.join(PAPERS)}.")


def write_sheet(sheet: Path, made: bytes) -> None:
    """Write a sheet, whole or not at all. Raises CalledWrongly when it cannot be written there."""
    from digitize.export.forms import write_whole

    write_whole(made, sheet)


def _trace_sheet(sheet: Path, trace: Trace, circuits: Circuits, manual: Manual, paper: str) -> bytes:
    from digitize.store.crops import ScanCrops
    from digitize.trace.sheet_html import sheet_html
    from digitize.trace.sheet_pdf import sheet_pdf

    crops = ScanCrops(manual)
    if sheet.suffix.lower() == ".pdf":
        return sheet_pdf(trace, circuits.network, crops, paper)
    return sheet_html(trace, circuits.network, crops, paper).encode()
