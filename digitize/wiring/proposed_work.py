"""Proposed conventions in the making: each line with what speaks for it."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from pydantic import ValidationError

from digitize.harness.claim import Evidence
from digitize.legend.conventions import Conventions
from digitize.legend.conventions_text import conventions_text
from digitize.tables.proposal import ProposedLine


@dataclass(frozen=True, slots=True)
class Proposed:
    """Proposed conventions; ``remarks`` say for each key path what speaks for it, ``lines`` are the same with evidence."""

    conventions: Conventions
    remarks: Mapping[str, str]
    lines: tuple[ProposedLine, ...]

    def text(self) -> str:
        """A conventions file to be confirmed, each line with what speaks for it."""
        return conventions_text(self.conventions, self.remarks)


class Work:
    """Proposals in the making; whatever would contradict the form of conventions is left out."""

    def __init__(self, stated: Conventions) -> None:
        self.stated = stated
        self.said: dict[str, Any] = stated.model_dump(exclude_defaults=True)
        self.remarks: dict[str, str] = {}
        self.lines: list[ProposedLine] = []

    def put(self, path: str, value: Any, why: str, probability: float, evidence: Sequence[Evidence] = ()) -> None:
        """State ``value`` at the key path (``zones.rows``, or ``colours`` / ``RD``) because of ``why``."""
        *tables, key = re.split(r"[.](?=[a-z_]+$)| / ", path)
        path = path.replace(" / ", ".")
        table = self.said
        for name in tables:
            table = table.setdefault(name, {})
        if key in table:
            return
        table[key] = value
        self.remarks[path] = f"{why} ({min(probability, 0.99):.0%})"
        self.lines.append(ProposedLine(path, str(value), probability, tuple(evidence)))

    def done(self) -> Proposed:
        """All of it as conventions. A proposal that the form of conventions does not take (a misread key) is left out."""
        try:
            conventions = Conventions.model_validate(self.said)
        except ValidationError as wrong:
            for place in {tuple(k for k in e["loc"] if k != "[key]") for e in wrong.errors()}:
                self._drop(place)
            conventions = Conventions.model_validate(self.said)
        return Proposed(conventions, self.remarks, tuple(line for line in self.lines if line.key in self.remarks))

    def _drop(self, place: tuple[int | str, ...]) -> None:
        table: Any = self.said
        for depth, key in enumerate(place):
            inner = table.get(key) if isinstance(table, dict) else None
            if not isinstance(inner, dict) or depth == len(place) - 1:
                table.pop(key, None)
                self.remarks.pop(".".join(map(str, place[: depth + 1])), None)
                return
            table = inner
