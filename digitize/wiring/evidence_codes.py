"""Wire codes as evidence: which strings can be one, and which two name the same wire."""

from __future__ import annotations

from dataclasses import dataclass, field

from digitize.harness.model import WireCode
from digitize.legend.codes import parse_code
from digitize.legend.conventions import Conventions
from digitize.wiring.evidence import Lift

ONE_CODE = 1e-3
"""Prior of one code: a manual has hundreds (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class CodeSense:
    """Codes under one manual's conventions, each taken apart once."""

    conventions: Conventions
    parsed: dict[str, WireCode | None] = field(default_factory=dict)

    def parse(self, text: str) -> WireCode | None:
        """``parse_code``, remembered."""
        if text not in self.parsed:
            self.parsed[text] = parse_code(text, self.conventions)
        return self.parsed[text]

    @staticmethod
    def prior(text: str) -> float:
        """The chance of a code before it is read; the same for every string."""
        del text
        return ONE_CODE

    def fits(self, text: str) -> float:
        """How many times likelier a string is for fitting the stated pattern and tables; 1 when nothing is stated."""
        if not self.conventions.code.pattern:
            return 1.0
        code = self.parse(text)
        if code is None:
            return 0.02
        known = (
            (code.circuit, self.conventions.circuits),
            (code.gauge, self.conventions.gauges.sizes),
            (code.colour, self.conventions.colours),
            (code.tracer, self.conventions.colours),
        )
        return 1.0 if all(value is None or not table or value in table for value, table in known) else 0.1

    def lift(self) -> Lift:
        """Only what the conventions say."""
        return Lift(self.fits)

    def same_id(self, a: str, b: str) -> bool:
        """Two different codes with one circuit, number and segment: size or colour must be a mistake."""
        one, other = self.parse(a), self.parse(b)
        if a == b or one is None or other is None or one.number is None:
            return False
        return (one.circuit, one.number, one.segment) == (other.circuit, other.number, other.segment)
