"""Cells of the chart held against what the drawings print for the same id, wherever they print it.

A wire's id (circuit, number and segment) stands for one conductor or for several of one make: within a manual it goes with
one size and one colour (common practice, no source; counted in each manual before it is relied on). So a cell that gives an
id another look has a misprint, even where the wire itself was not followed to that cavity or its code stands on the other
side of the connector: the look that the drawings print for the id is right. Where the row's other half has the right look,
nothing speaks for a misread id; alone, a cell must be read as surely as codes that differ by one letter, and must not be
within one letter of another code on the drawings.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from rapidfuzz.distance import Levenshtein

from digitize.harness.checks_kinds import Parse, finding
from digitize.harness.checks_tables import SURE, SURE_OF_ONE_LETTER, charted_word
from digitize.harness.claim import Claim, Evidence
from digitize.harness.model import Cavity, Connector, Finding, Harness, WireCode
from digitize.harness.place import Box, Place

SURE_LOOK = 0.98
"""So surely the drawings must print a look for an id, over all places."""
SURE_CELL = 0.95
"""So surely each half of the row must be read: its own two halves differ, so that one letter may tell."""
SURE_STRING = 0.9
"""Printed strings as sure as this are counted for the manual's habit."""
FEWEST_IDS = 10
"""So many ids must stand twice or more on the drawings before the manual has a habit."""
ONE_LOOK = 0.95
"""Share of those ids that must go with one look only."""

_Id = tuple[str | None, str, str | None]
_Look = tuple[str | None, str | None, str | None]


@dataclass(slots=True)
class _Printed:
    """What the drawings print for one id in one look: chance that it is read wrongly everywhere, and the places."""

    missed: float = 1.0
    sure: int = 0
    texts: list[str] = field(default_factory=list)
    places: list[Place] = field(default_factory=list)


def findings(harness: Harness, parse: Parse) -> Iterator[Finding]:
    """Cells with another look for an id than the only one that the drawings print for it; one finding a cavity."""
    printed = _on_drawings(harness, parse)
    often = [looks for looks in printed.values() if sum(p.sure for p in looks.values()) > 1]
    alone = sum(sum(p.sure > 0 for p in looks.values()) == 1 for looks in often)
    if len(often) < FEWEST_IDS or alone < ONE_LOOK * len(often):
        return
    texts = {text for looks in printed.values() for p in looks.values() for text in p.texts}
    for connector in harness.connectors:
        for row in connector.cavities if connector.label.probability >= SURE else ():
            for cell, other in ((row.a, row.b), (row.b, row.a)):
                found = _against(connector, row, _Cell.of(cell, parse), _Cell.of(other, parse), printed, texts)
                if found is not None:
                    yield found
                    break


@dataclass(frozen=True, slots=True)
class _Cell:
    """One half of a row as the chart alone has it."""

    claim: Claim
    code: WireCode
    probability: float

    @staticmethod
    def of(claim: Claim, parse: Parse) -> _Cell | None:
        """None for a cell that was not read surely, or that has no numbered code."""
        word = charted_word(claim)
        code = None if word is None or word.probability < SURE_CELL else parse(word.text)
        return None if word is None or code is None or code.number is None else _Cell(claim, code, word.probability)


def _id(code: WireCode) -> _Id:
    return (code.circuit, code.number or "", code.segment)


def _look(code: WireCode) -> _Look:
    return (code.gauge, code.colour, code.tracer)


def _on_drawings(harness: Harness, parse: Parse) -> Mapping[_Id, Mapping[_Look, _Printed]]:
    diagrams = {s.id for s in harness.sheets if s.kind == "diagram"}
    out: dict[_Id, dict[_Look, _Printed]] = defaultdict(lambda: defaultdict(_Printed))
    read = _as_read(harness)
    for t in harness.texts:
        if t.role != "code" or t.place.sheet not in diagrams:
            continue
        alone = read.get((t.place.sheet, t.place.box))
        text, sure = t.text, t.probability
        if alone is not None and alone.says != t.text:  # put right by other evidence, perhaps by the very row
            text, sure = alone.says, alone.probability
        code = parse(text)
        if code is None or code.number is None:
            continue
        here = out[_id(code)][_look(code)]
        here.missed *= 1.0 - sure
        here.sure += sure >= SURE_STRING
        here.texts.append(text)
        here.places.append(t.place)
    return out


def _as_read(harness: Harness) -> Mapping[tuple[str, Box], Evidence]:
    """What stood in a box of a sheet before the chart was heard, where that is not what is believed now."""
    said: dict[tuple[str, Box], Evidence] = {}
    for w in harness.wires:
        for e in w.code.evidence:
            if e.place is not None and e.kind in {"read", "edge"} and e.says != w.code.value:
                said[e.place.sheet, e.place.box] = e
    return said


def _against(
    c: Connector,
    row: Cavity,
    cell: _Cell | None,
    other: _Cell | None,
    printed: Mapping[_Id, Mapping[_Look, _Printed]],
    texts: set[str],
) -> Finding | None:
    looks = {} if cell is None else printed.get(_id(cell.code), {})
    if cell is None or not looks:
        return None
    drawn = min(looks, key=lambda look: (looks[look].missed, str(look)))
    others = 1.0
    for look, p in looks.items():
        others *= 1.0 if look == drawn else p.missed
    if _look(cell.code) == drawn or (1.0 - looks[drawn].missed) * others < SURE_LOOK:
        return None
    paired = other is not None and _id(other.code) == _id(cell.code) and _look(other.code) != _look(cell.code)
    if not paired and not _stands_alone(cell, texts - set(looks[drawn].texts)):
        return None
    same_size = cell.code.gauge == drawn[0]
    places = [e.place for e in cell.claim.evidence if e.place is not None and e.kind != "drawn"]
    return finding(
        "chart-colour" if same_size else "chart-code",
        c.id,
        f"The chart prints {cell.code.printed} in one half of cavity {row.label} of {c.id}, but wherever the drawings print "
        f"that id it is {looks[drawn].texts[0]}: the {'colour' if same_size else 'size'} differs.",
        f"Look at cavity {row.label} of {c.id} on the vehicle (battery disconnected, as its own manual says), or at "
        "the next connector on this circuit.",
        [*places, *(d.place for d in c.places if row.label in d.cavities), *looks[drawn].places[:3]],
        cavity=row.label,
    )


def _stands_alone(cell: _Cell, texts: set[str]) -> bool:
    """True when nothing else on the drawings could be what the cell says, but for one letter."""
    if cell.probability < SURE_OF_ONE_LETTER:
        return False
    said = cell.code.printed
    return all(abs(len(t) - len(said)) > 1 or Levenshtein.distance(t, said, score_cutoff=1) > 1 for t in texts)
