"""What the command ``fault`` does: statements in, suspects and the next check out, as text, JSON or a sheet to print."""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from digitize.commands_ask import position_said, sheet_named, write_sheet
from digitize.errors import CalledWrongly
from digitize.store.manual import Manual

if TYPE_CHECKING:
    from digitize.trace.advice import Told

MOST_VOLTS, MOST_METRES, MOST_WATTS = 1000.0, 1000.0, 100_000.0


def told_from(
    *,
    works: Sequence[str] = (),
    dark: Sequence[str] = (),
    volts: Sequence[str] = (),
    joined: Sequence[str] = (),
    apart: Sequence[str] = (),
    positions: Sequence[str] = (),
    lengths: Sequence[str] = (),
    watts: Sequence[str] = (),
) -> Told:
    """What was typed, taken apart: ``PLACE=VOLTS``, ``PLACE=PLACE``, ``SWITCH=POSITION``, ``WIRE=METRES``, ``NAME=WATTS``.

    Raises CalledWrongly for what says no such thing.
    """
    from digitize.trace.advice import Told

    pairs = [(*_places(p), True) for p in joined] + [(*_places(p), False) for p in apart]
    return Told(
        tuple(works),
        tuple(dark),
        tuple(
            _number(v, "voltage", "V", "PLACE=VOLTS, e.g. LAMP SWITCH C=12.4", MOST_VOLTS, -MOST_VOLTS) for v in volts
        ),
        tuple(pairs),
        tuple(position_said(p) for p in positions),
        tuple(_number(v, "length", "m", "WIRE=METRES, e.g. L2A 16 BLU=2.5", MOST_METRES) for v in lengths),
        tuple(_number(v, "power", "W", "NAME=WATTS, e.g. SIDE LAMP=5", MOST_WATTS) for v in watts),
    )


def show_fault(file: Path, told: Told, *, as_json: bool = False, sheet: Path | None = None, paper: str = "a4") -> None:
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
        advice = advise(circuits, told, circuits.positions(told.stand))
        if sheet is not None:
            from digitize.commands_crops import ScanCrops
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


def _number(said: str, what: str, unit: str, form: str, most: float, least: float = 0.0) -> tuple[str, float]:
    name, _, figure = said.rpartition("=")
    bare = figure.strip().removesuffix(unit).removesuffix(unit.lower()).strip()
    try:
        value = float(bare.replace(",", "."))
    except ValueError:
        value = math.nan
    if not name.strip() or not least <= value <= most or (least == 0.0 and value == 0.0):
        raise CalledWrongly(f"{said!r} says no {what}.", f'Write "{form}".')
    return name.strip(), value


def _places(said: str) -> tuple[str, str]:
    one, sign, other = said.partition("=")
    if not sign or not one.strip() or not other.strip():
        raise CalledWrongly(
            f"{said!r} does not name two places.",
            'Write "PLACE=PLACE", e.g. "K14 A=SIDE LAMP 1", or body for one of them.',
        )
    return one.strip(), other.strip()
