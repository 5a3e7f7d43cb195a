"""What a reader needs of a grammar: a deterministic automaton over characters."""

from __future__ import annotations

from typing import Protocol


class Automaton(Protocol):
    """A deterministic automaton. States are small integers; 0 is the start."""

    def step(self, state: int, char: str) -> int | None:
        """The next state after ``char``, or None when no string of the language goes on so."""
        ...

    def accepts(self, state: int) -> bool:
        """True when a string that ends in ``state`` belongs to the language."""
        ...

    def letters(self, state: int) -> str:
        """All characters that ``step`` takes in ``state``."""
        ...
