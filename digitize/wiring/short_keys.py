"""What tables of short keys say, laid over the wires that carry such a key.

A table on a sheet speaks for the wires of that sheet; where all tables of a manual agree on a key, for the whole manual.
What a person stated wins.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from digitize.harness.claim import Evidence
from digitize.harness.model import WireCode
from digitize.harness.place import Place
from digitize.legend.conventions import Conventions, KeyMeaning
from digitize.sheet.state import SheetFacts
from digitize.tables.state import KeyLine, SheetTable
from digitize.wiring.binding_names import place_on
from digitize.wiring.state import SheetWiring

LEAST_SURE = 0.3
"""A line of a table read less surely says nothing."""


@dataclass(frozen=True, slots=True)
class Said:
    """What one line of one table says of a key, how surely, and where it stands."""

    meaning: KeyMeaning
    probability: float
    place: Place

    def words(self) -> str:
        """Size and colours as printed, for people: ``16 BLUE/YELLOW``."""
        m = self.meaning
        colours = "/".join(c for c in (m.colour, m.tracer) if c)
        return " ".join(part for part in (m.gauge, colours) if part)

    def evidence(self) -> tuple[Evidence, ...]:
        """The line of the table as evidence."""
        return (Evidence("read", self.words(), self.probability, "tables", self.place),)


@dataclass(frozen=True, slots=True)
class ShortKeys:
    """All tables of keys of a manual: by sheet, and those lines on which all that name the key agree."""

    by_sheet: Mapping[str, Mapping[str, Said]] = field(default_factory=dict)
    agreed: Mapping[str, Said] = field(default_factory=dict)

    def on(self, key: str, sheets: Iterable[str]) -> Said | None:
        """What is said of ``key`` on a wire that runs over ``sheets``: there, else anywhere."""
        here = (self.by_sheet.get(sheet, {}).get(key) for sheet in sheets)
        return next((said for said in here if said is not None), None) or self.agreed.get(key)


def short_keys(sheets: Sequence[SheetWiring], tables: Sequence[SheetTable]) -> ShortKeys:
    """The tables of keys of all sheets."""
    by_sheet: dict[str, dict[str, Said]] = {}
    lines = [(s.facts, s.keys) for s in sheets] + [(t.facts, t.keys) for t in tables]
    for facts, keys in lines:
        for line in keys:
            said = _said(facts, line)
            name = line.key.value
            if said is not None and name is not None:
                here = by_sheet.setdefault(facts.sheet, {})
                if name not in here or here[name].probability < said.probability:
                    here[name] = said
    everywhere: dict[str, list[Said]] = {}
    for sheet in sorted(by_sheet):
        for name, said in by_sheet[sheet].items():
            everywhere.setdefault(name, []).append(said)
    agreed = {
        name: max(them, key=lambda s: s.probability)
        for name, them in everywhere.items()
        if len({_told(s.meaning) for s in them}) == 1
    }
    return ShortKeys(by_sheet, agreed)


def _told(meaning: KeyMeaning) -> tuple[str | None, ...]:
    return (meaning.circuit, meaning.gauge, meaning.colour, meaning.tracer)


def _said(facts: SheetFacts, line: KeyLine) -> Said | None:
    sure = line.key.probability
    parts: dict[str, str] = {}
    for name, claim in (("gauge", line.gauge), ("colour", line.colour), ("tracer", line.tracer)):
        if claim.value is not None:
            parts[name] = claim.value
            sure = min(sure, claim.probability)
    if not parts or sure < LEAST_SURE:
        return None
    return Said(KeyMeaning(**parts), sure, place_on(facts, line.box))


def explained(
    parsed: WireCode | None, printed: str, said: Said, conventions: Conventions, by: str
) -> tuple[WireCode, Evidence]:
    """A wire's code with what the table says of its key, and that as evidence.

    Colours in words become the conventions' own abbreviations where those mean the same; what is printed stays. A key
    names a sort of wire, so it is no wire's own number.
    """
    code = replace(parsed or WireCode(printed=printed), number=None)
    m = said.meaning
    code = replace(
        code,
        circuit=code.circuit or m.circuit,
        gauge=code.gauge or m.gauge,
        colour=code.colour or colour_key(m.colour, conventions),
        tracer=code.tracer or colour_key(m.tracer, conventions),
    )
    return code, Evidence("key", f"{printed}: {said.words()}", said.probability, by, said.place)


def colour_key(colour: str | None, conventions: Conventions) -> str | None:
    """The conventions' abbreviation of a colour that stands in words, else the colour as it is."""
    if colour is None or colour in conventions.colours:
        return colour
    same = [k for k, words in conventions.colours.items() if words.casefold() == colour.casefold()]
    return same[0] if len(same) == 1 else colour
