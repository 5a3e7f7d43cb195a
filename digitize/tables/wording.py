"""Words that table pages use for their headings, found even when a letter was misread (common practice, no source)."""

from __future__ import annotations

import re

from rapidfuzz import fuzz

CAVITY_WORDS = ("CAV", "CAVITY", "PIN", "TERMINAL", "TERM", "POSITION", "POS", "WAY", "CONTACT", "NO", "NO.")
HALF_WORDS = (
    "HALF",
    "PLUG",
    "SOCKET",
    "MALE",
    "FEMALE",
    "SIDE",
    "HARNESS",
    "WIRE",
    "CIRCUIT",
    "COLOUR",
    "COLOR",
    "CODE",
)
CHART_ID_WORDS = ("CONNECTOR", "CONN", "IDENT", "REF", "REFERENCE", "ID")
CHART_PLACE_WORDS = ("LOCATION", "POSITION", "WHERE", "PLACE", "SITUATED")
INDEX_NAME_WORDS = ("COMPONENT", "NAME", "ITEM", "PART", "UNIT", "DESCRIPTION", "COMPONENTS", "DEVICE")
INDEX_ZONE_WORDS = ("ZONE", "ZONES", "LOCATION", "GRID", "REF", "REFERENCE", "MAP", "SHEET", "POSITION")
CONTINUED = re.compile(r"\(?\bCONT(?:INUED|'?D|\.)?\b\.?\)?", re.IGNORECASE)

SECTIONS: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("symbol", ("SYMBOL", "SYMBOLS")),
    ("colour", ("COLOUR", "COLOURS", "COLOR", "COLORS")),
    ("connector", ("CONNECTOR", "CONNECTORS", "PLUG", "PLUGS")),
    ("circuit", ("CIRCUIT", "CIRCUITS", "SYSTEM", "SYSTEMS")),
    ("code", ("CODE", "CODES", "WIRE", "CABLE", "EXAMPLE")),
    ("other", ("ABBREVIATION", "ABBREVIATIONS", "NOTES", "NOTE", "KEY")),
)
"""Section of a legend page → words of its heading, in the order in which they are tried."""


def words(text: str) -> list[str]:
    """Capital words of a text without punctuation at their ends."""
    return [w for w in (p.strip(".,:;()[]'\"-–—") for p in text.upper().split()) if w]


def says(text: str, wanted: tuple[str, ...]) -> bool:
    """True when one of the words is in ``wanted``; long words may have one letter in five wrong."""
    return any(_alike(w, v) for w in words(text) for v in wanted)


def all_say(text: str, wanted: tuple[str, ...]) -> bool:
    """True when every word that has letters is in ``wanted``."""
    them = [w for w in words(text) if any(c.isalpha() for c in w)]
    return bool(them) and all(any(_alike(w, v) for v in wanted) for w in them)


def _alike(word: str, wanted: str) -> bool:
    return word == wanted or (len(wanted) >= 5 and fuzz.ratio(word, wanted) >= 80)


def section_of(text: str) -> str | None:
    """The legend section that a heading opens, None when it is no such heading (too long, or no word of the kind)."""
    them = words(text)
    if not 1 <= len(them) <= 7 or any(c.isdigit() for c in text):
        return None
    for section, wanted in SECTIONS:
        if says(text, wanted):
            return section
    return None
