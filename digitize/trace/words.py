"""Codes in words, from the conventions that the harness kept."""

from __future__ import annotations

from digitize.harness.model import Harness, WireCode
from digitize.legend.codes import in_words
from digitize.legend.conventions import Conventions, GaugeConventions


class Wording:
    """Says wire codes in words under one harness's conventions."""

    def __init__(self, harness: Harness) -> None:
        kept = harness.conventions
        system = kept.get("gauge system")
        # What a reading kept was validated when it was typed; a harness from elsewhere only costs words, never a fault.
        self._conventions = Conventions.model_construct(
            circuits={k.removeprefix("circuit "): v for k, v in kept.items() if k.startswith("circuit ")},
            colours={k.removeprefix("colour "): v for k, v in kept.items() if k.startswith("colour ")},
            gauges=GaugeConventions.model_construct(system=system if system in {"awg", "sae", "mm2"} else None),
        )

    def code(self, parsed: WireCode | None) -> str:
        """Circuit meaning, size, colour with tracer; "" for a wire without a code."""
        return "" if parsed is None else in_words(parsed, self._conventions)

    def circuit(self, parsed: WireCode | None) -> str:
        """The meaning of the circuit letters; "" when unknown."""
        if parsed is None or parsed.circuit is None:
            return ""
        meaning: str = self._conventions.circuits.get(parsed.circuit, "")
        return meaning
