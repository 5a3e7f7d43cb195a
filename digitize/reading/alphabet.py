"""The characters a reader may report, and the order in which the recogniser's outputs stand."""

from __future__ import annotations

CHARACTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789/-.&()+,*#:'= "
"""Capitals, digits, the signs of wiring lettering and the space. Lettering is read case-folded."""

BLANK = 0
"""Column of the network's "no character" output; character ``i`` of ``CHARACTERS`` is column ``i + 1``."""

WIDTH = len(CHARACTERS) + 1
"""Number of output columns."""

_SAME = str.maketrans(
    {
        "–": "-", "—": "-", "‐": "-", "−": "-", "_": "-", "’": "'", "‘": "'", "`": "'", "´": "'", "·": ".", "•": ".",
        "[": "(", "]": ")", "{": "(", "}": ")", "×": "X", "\\": "/", "²": "2", "³": "3", ";": ":", "|": "I", "″": "'",
    },
)  # fmt: skip


def folded(text: str) -> str:
    """``text`` in the reader's alphabet: capitals, one kind of dash, single spaces, unknown characters dropped."""
    kept = "".join(c for c in text.translate(_SAME).upper() if c in CHARACTERS)
    return " ".join(kept.split())


def column(char: str) -> int:
    """The output column of ``char``. Raises ValueError when it is not in the alphabet."""
    return CHARACTERS.index(char) + 1
