"""The state ``ReadMarks``: marks whose lettering has been read."""

from __future__ import annotations

from dataclasses import dataclass

from digitize.harness.claim import Alternative
from digitize.harness.place import Box
from digitize.ink.state import Marks

TEXT_KINDS = ("code", "connector", "zone", "number", "word")
"""``code`` a wire code, ``connector`` a connector or grommet id, ``zone`` one or more zone references, ``number`` digits
with an optional letter or unit (a fuse number, a cavity, a rating), ``word`` anything else."""


@dataclass(frozen=True, slots=True)
class ReadText:
    """One line of lettering with what was read.

    Attributes:
        block: position of the block in ``Marks.texts``.
        box, angle: as in TextBlock; a lone thin character has the room of a character (``lone``).
        text: the best reading over all kinds, verbatim; empty when unreadable.
        kind: the kind that the best reading fits.
        probability: calibrated chance that ``text`` is entirely right.
        free: ranked readings without any grammar (probabilities over all strings).
        by_kind: for each kind with a grammar, the ranked readings that obey it; the probabilities are still over all
            strings, so a low sum says that the text probably is not of that kind.
        readers: names and versions of the readers that saw it, e.g. ``lettering-1``, ``tesseract-5.5.4``.
    """

    block: int
    box: Box
    angle: int
    text: str
    kind: str
    probability: float
    free: tuple[Alternative, ...]
    by_kind: tuple[tuple[str, tuple[Alternative, ...]], ...]
    readers: tuple[str, ...]

    def of_kind(self, kind: str) -> tuple[Alternative, ...]:
        """Ranked readings that obey the grammar of ``kind``; empty when none does."""
        return dict(self.by_kind).get(kind, ())


@dataclass(frozen=True, slots=True, eq=False)
class ReadMarks:
    """Marks with their lettering read; ``texts`` in the order of ``marks.texts``."""

    marks: Marks
    texts: tuple[ReadText, ...]
