"""Names as people type them: folded, so that case, spaces, accents and look-alike letters do not keep things from being found."""

from __future__ import annotations

import re
import unicodedata

LOOK_ALIKES = str.maketrans(
    {"i": "1", "l": "1", "|": "1", "!": "1", "o": "0", "s": "5", "b": "8", "g": "6", "z": "2"},
)
"""Letters that print like digits, lower case (common practice, no source; every pair is one that readers mix up)."""

_WORD = re.compile(r"[^\W_]+(?:\.[^\W_]+)*")


def words_of(text: str) -> tuple[str, ...]:
    """The words of ``text`` in order, lower case, without accents; ``0.75`` stays one word, ``GN/YE`` is two."""
    bare = "".join(c for c in unicodedata.normalize("NFKD", text) if not unicodedata.combining(c))
    return tuple(_WORD.findall(bare.casefold()))


def plain(text: str) -> str:
    """The words joined by single spaces."""
    return " ".join(words_of(text))


def folded(text: str) -> str:
    """Like ``plain``, with look-alike letters told as one: ``C1O1`` and ``ClO1`` fold to the same."""
    return plain(text).translate(LOOK_ALIKES)


def solid(text: str) -> str:
    """``folded`` without any space: what is left when somebody types a code without its gaps."""
    return folded(text).replace(" ", "")
