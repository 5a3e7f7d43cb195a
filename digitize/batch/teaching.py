"""A symbol shown at the desk: the picture that a lesson keeps, and a quick look where else the symbol stands.

The look only needs each page flat, not read: a second or two a page. What it finds becomes part of the manual when the
pages are read again with the lesson.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from digitize.errors import CalledWrongly, NotFound
from digitize.harness.edits import Anchor, TeachSymbol
from digitize.harness.model import Terminal
from digitize.harness.place import Box
from digitize.ink.state import SYMBOL_KINDS, Symbol
from digitize.ink.taught import find_taught, lesson_of, picture_of
from digitize.sheet.again import flat_again
from digitize.sheet.state import Sheet
from digitize.store.manual import Manual
from digitize.store.tiles import pixels_of


@dataclass(frozen=True, slots=True)
class Shown:
    """What a person says of a symbol: on which sheet, in which box (sheet mm), its kind, the name printed at this one.

    ``terminals``: where wires reach it; ``heading``: the side it points to, when that matters.
    """

    sheet: str
    box: Box
    kind: str
    name: str | None = None
    terminals: tuple[Terminal, ...] = ()
    heading: str | None = None


def lesson_from(manual: Manual, shown: Shown, lesson: str) -> TeachSymbol:
    """The edit that teaches a symbol; ``lesson`` is its id, new in the manual. It is not made yet (``Manual.add_edit``).

    Raises:
        NotFound: no such sheet, or it could not be read.
        CalledWrongly: the kind is none of SYMBOL_KINDS, or next to nothing is drawn in the box (see ``picture_of``).
    """
    if shown.kind not in SYMBOL_KINDS:
        raise CalledWrongly(
            f"There is no kind of symbol called {shown.kind}.", f"Use one of {', '.join(SYMBOL_KINDS)}."
        )
    picture = picture_of(flat_sheet(manual, shown.sheet), shown.box)
    title = next((s.title for s in manual.harness().sheets if s.id == shown.sheet), None)
    return TeachSymbol(
        target=lesson,
        anchor=Anchor("sheet", shown.sheet, shown.box.centre, title),
        kind=shown.kind,
        name=shown.name,
        box=shown.box,
        terminals=shown.terminals,
        heading=shown.heading,
        picture=picture,
    )


def where_else(
    manual: Manual, lesson: TeachSymbol, sheets: Sequence[str] | None = None
) -> Iterator[tuple[str, Symbol]]:
    """(sheet id, symbol with its probability) for every drawing of a taught symbol, sheet by sheet as they are looked at.

    ``sheets``: only these; all diagrams of the manual when None. The boxed drawing itself is among them.
    """
    for record in manual.sheets():
        if record.failed is None and (record.kind == "diagram" if sheets is None else record.id in sheets):
            for symbol in find_taught(flat_sheet(manual, record.id), [lesson_of(lesson)]):
                yield record.id, symbol


def flat_sheet(manual: Manual, sheet: str) -> Sheet:
    """A sheet of the manual, flat once more from its kept source. Raises NotFound for one that is unknown or unread."""
    facts = manual.facts(sheet)
    if facts is None:
        raise NotFound(f"There is no sheet {sheet} that was read.", "List the manual's sheets to see their ids.")
    name, content = manual.source(sheet)
    page = next(r.page for r in manual.sheets() if r.id == sheet)
    return flat_again(facts, pixels_of(name, content, page))
