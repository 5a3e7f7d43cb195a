"""Labels along the edge of a sheet: how numbers and letters count on.

Letters go A, B … Z, then AA, AB … (ISO 5457:1999); some rows skip letters (ISO 5457 skips I and O), others do not, so
the skipped ones are always an argument.
"""

from __future__ import annotations

import string

ISO_5457_SKIPPED = frozenset("IO")
"""Letters that ISO 5457:1999 does not use for zones."""


def letters_from(first: str, count: int, skipped: frozenset[str] = frozenset()) -> tuple[str, ...]:
    """``count`` letter labels from ``first`` on. Raises ValueError when ``first`` is no label of that row."""
    alphabet = [c for c in string.ascii_uppercase if c not in skipped]
    if not first or any(c not in alphabet for c in first):
        raise ValueError(f"{first!r} is no letter label when {''.join(sorted(skipped)) or 'nothing'} is skipped")
    number = 0
    for c in first:
        number = number * len(alphabet) + alphabet.index(c) + 1
    return tuple(_letter_label(number + i, alphabet) for i in range(count))


def numbers_from(first: str, count: int) -> tuple[str, ...]:
    """``count`` number labels from ``first`` on. Raises ValueError when ``first`` is not digits."""
    if not first.isdigit():
        raise ValueError(f"{first!r} is no number label")
    return tuple(str(int(first) + i) for i in range(count))


def labels_from(kind: str, first: str, count: int, skipped: frozenset[str] = frozenset()) -> tuple[str, ...]:
    """``letters_from`` or ``numbers_from``: ``kind`` is ``letters`` or ``numbers``."""
    return letters_from(first, count, skipped) if kind == "letters" else numbers_from(first, count)


def _letter_label(number: int, alphabet: list[str]) -> str:
    label = ""
    while number > 0:
        number, rest = divmod(number - 1, len(alphabet))
        label = alphabet[rest] + label
    return label
