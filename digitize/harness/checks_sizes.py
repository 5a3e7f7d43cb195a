"""Conductor sizes: what a printed size is in mm², and what current handbooks give it.

AWG by ASTM B258: d = 0.005 in · 92^((36 - n) / 39). SAE sizes are smaller than AWG of the same number: minimum circular
mils from a marine wire table, read in a copy that names no publisher (18 to 10; 8 from memory). Allowable currents: the same table's column for 105 °C
insulation outside engine spaces, the highest it gives; a fuse above that is too large by any reading. They are handbook
values for orientation and never replace the vehicle's own manual.
"""

from __future__ import annotations

import math
import re

CIRCULAR_MIL_MM2 = math.pi / 4 * 0.0254**2
"""One circular mil in mm²: the area of a circle one thousandth of an inch across."""

SAE_CIRCULAR_MILS = {18: 1537, 16: 2336, 14: 3702, 12: 5833, 10: 9343, 8: 14810}

MOST_AMPERES = {18: 20.0, 16: 25.0, 14: 35.0, 12: 45.0, 10: 60.0}
"""By AWG size: amperes, 105 °C insulation, outside engine spaces (marine handbook table)."""

METRIC_AS_AWG = {"0.35": 22, "0.5": 20, "0.75": 18, "1": 16, "1.5": 14, "2.5": 12, "4": 10, "6": 8, "16": 4, "25": 2}
"""mm² → AWG as one vehicle's own manual prints it (common practice, no source that may be named)."""


def awg_circular_mils(size: int) -> float:
    """Area of AWG ``size`` in circular mils (thousandths of an inch, squared); 0 is 1/0, -1 is 2/0 …"""
    return float((5.0 * 92.0 ** ((36 - size) / 39)) ** 2)


def area_mm2(size: str, system: str | None) -> float | None:
    """Copper area in mm² of a printed size; None when size or system is not known. ``system``: awg, sae or mm2."""
    number = _number(size)
    if number is None or system is None:
        return None
    if system == "mm2":
        return number
    if number != int(number):
        return None
    if system == "sae":
        mils = SAE_CIRCULAR_MILS.get(int(number))
        return None if mils is None else mils * CIRCULAR_MIL_MM2
    return awg_circular_mils(int(number)) * CIRCULAR_MIL_MM2


def most_amperes(size: str, system: str | None) -> float | None:
    """The highest handbook current for a printed size, A; None when the table does not have it."""
    number = _number(size)
    if number is None or system is None:
        return None
    whole = int(number) if number == int(number) else None
    awg = METRIC_AS_AWG.get(f"{number:g}") if system == "mm2" else whole
    return None if awg is None else MOST_AMPERES.get(awg)


def amperes(rating: str | None) -> float | None:
    """``7.5A``, ``25 AMP``, ``10`` → amperes; None when there is no number."""
    found = re.match(r"\s*(\d{1,3}(?:[.,]\d)?)\s*(?:A|AMP|AMPS|AMPERES?)?\s*$", rating or "", re.IGNORECASE)
    return None if found is None else float(found[1].replace(",", "."))


def _number(size: str) -> float | None:
    found = re.fullmatch(r"\d{1,3}(?:[.,]\d{1,3})?", size.strip())
    return None if found is None else float(size.strip().replace(",", "."))
