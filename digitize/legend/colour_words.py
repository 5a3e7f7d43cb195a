"""Colours as English words, as older pages print them: the main colour, then the tracer."""

from __future__ import annotations

import re

COLOUR_WORDS = (
    "BLACK", "WHITE", "RED", "GREEN", "BLUE", "YELLOW", "BROWN", "ORANGE", "GREY", "GRAY", "PINK", "VIOLET", "PURPLE",
    "TAN", "SLATE", "MAROON", "NATURAL", "TURQUOISE", "GOLD", "SILVER", "BUFF", "CREAM",
)  # fmt: skip
"""Words in use for wires: the colours of IEC 60757 by name, the rest common practice, no source."""
SHADES = ("LIGHT", "DARK", "PALE", "LT", "DK", "LT.", "DK.")
"""Words in front of a colour."""
JOINERS = (" WITH ", " AND ", " & ", "/", " / ", "-", " - ", ", ", " ")
"""What stands between main colour and tracer in words; ``TRACER``, ``TRACE``, ``STRIPE`` or ``BAND`` may follow."""

_ONE = rf"(?:(?:{'|'.join(re.escape(s) for s in SHADES)}) ?)?(?:{'|'.join(COLOUR_WORDS)})"
_TWO = re.compile(
    rf"(?P<colour>{_ONE})(?:(?:{'|'.join(re.escape(j) for j in JOINERS)})(?P<tracer>{_ONE})(?: (?:TRACER?|STRIPE|BAND))?)?"
)
_SHORT = re.compile(r"(?P<colour>[A-Z]{1,4})(?:[/.-](?P<tracer>[A-Z]{1,4}))?")


def named_colours(text: str) -> tuple[str, str | None] | None:
    """Main colour and tracer of a string in words (``BLUE WITH YELLOW TRACER``), in capitals; None when it is none."""
    return _pair(_TWO.fullmatch(" ".join(text.upper().split())))


def short_colours(text: str) -> tuple[str, str | None] | None:
    """Main colour and tracer of what may be an abbreviation (``BK/WH``): one to four letters each."""
    return _pair(_SHORT.fullmatch(text.upper().strip()))


def _pair(found: re.Match[str] | None) -> tuple[str, str | None] | None:
    return None if found is None else (found["colour"], found["tracer"])
