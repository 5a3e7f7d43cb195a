"""Which fuses come in which rating, and what a blade fuse of it looks like: to settle a doubtful rating at the vehicle.

SFE glass fuses were made in a length for each rating, so that none fits where a smaller one belongs; blade fuses have a
colour for each. Both tables as published by makers and parts sellers; a rating in neither is unusual.
"""

from __future__ import annotations

from collections.abc import Mapping

SFE_LENGTHS_IN: Mapping[float, str] = {
    4.0: "5/8", 6.0: "3/4", 7.5: "7/8", 9.0: "7/8", 14.0: "1-1/16", 20.0: "1-1/4", 30.0: "1-7/16",
}  # fmt: skip
"""A → length in inches."""

BLADE_COLOURS: Mapping[float, str] = {
    0.5: "dark blue", 1.0: "black", 2.0: "grey", 3.0: "violet", 4.0: "pink", 5.0: "tan", 7.5: "brown", 10.0: "red",
    15.0: "blue", 20.0: "yellow", 25.0: "clear", 30.0: "green", 40.0: "orange",
}  # fmt: skip
"""A → colour of its body."""


def known_by(rating: float) -> str:
    """How a fuse of ``rating`` amperes is known when one looks at it; says so when no series has it."""
    told = []
    if rating in BLADE_COLOURS:
        told.append(f"as a blade fuse it is {BLADE_COLOURS[rating]}")
    if rating in SFE_LENGTHS_IN:
        told.append(f"as an SFE glass fuse {SFE_LENGTHS_IN[rating]} in long")
    if not told:
        return f"{rating:g} A is in neither the blade nor the SFE series"
    return f"{rating:g} A: " + ", ".join(told)
