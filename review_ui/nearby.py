"""What the questions need of a harness, kept until it changes: strings and repairs near by, and questions already put."""

from __future__ import annotations

from collections.abc import Callable

from digitize.harness.model import Harness
from digitize.harness.place import Point
from digitize.sheet.state import SheetFacts
from review_ui.doubts import Doubt, Known, Neighbours, queue
from review_ui.drawing import Pen
from review_ui.offers import Offers


class Nearby:
    """The newest harness that was asked about. May be used from any thread: at worst work is done twice."""

    def __init__(self, facts: Callable[[str], SheetFacts]) -> None:
        """``facts`` gives a sheet's facts or raises NotFound."""
        self._facts = facts
        self._known: Known = {}
        self._made: tuple[Harness, Neighbours, Offers] | None = None

    def questions(self, harness: Harness) -> list[Doubt]:
        """The queue; what an edit did not touch is not worked out anew."""
        return queue(harness, self._known)

    def around(self, harness: Harness) -> tuple[Neighbours, Offers]:
        """Strings and repairs to choose from."""
        made = self._made
        if made is None or made[0] is not harness:
            pens: dict[str, Pen] = {}

            def pixel(sheet: str, at: Point) -> tuple[float, float]:
                if sheet not in pens:
                    pens[sheet] = Pen(self._facts(sheet))
                return pens[sheet].pixel(at)

            made = self._made = (harness, Neighbours(harness), Offers(harness, pixel))
        return made[1], made[2]
