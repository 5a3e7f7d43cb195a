"""The usual cautions, fit to what a trace passes (common practice, no source).

The vehicle's own manual and the law of the place come first.
"""

from __future__ import annotations

from collections.abc import Iterable
from itertools import pairwise

from digitize.harness.folding import words_of
from digitize.trace.state import Caution

AIRBAG = Caution(
    "airbag",
    "Airbag and belt tensioner circuits: leave them alone. A meter's current can fire them; this is work for a "
    "licensed workshop.",
)
IGNITION = Caution(
    "ignition",
    "Ignition runs at high voltage, on the coil's low-tension side too: do not touch it with the key on, do not "
    "crank with leads off unless the vehicle's manual says how.",
)
MOVING = Caution(
    "moving",
    "Fans, wipers, windows and starters can start by themselves: keep hands, hair and clothing away, also with the "
    "key off. Exhaust, coolant and heaters are hot.",
)
TRACTION = Caution(
    "traction", "High-voltage traction circuits are orange as a rule and deadly: stop here, leave them alone."
)

ALWAYS = (
    Caution(
        "own-manual",
        "This trace was read from scanned pages and may be wrong. The vehicle's own manual comes first, then your local "
        "codes; leave to a licensed person what they must do.",
    ),
    Caution("battery", "Disconnect the battery before you unplug a connector or open a circuit."),
    Caution("jumper", "Use only jumper leads with a fuse no larger than the circuit's own."),
    Caution(
        "no-piercing",
        "Never pierce insulation, never bridge or uprate a fuse, never feed a circuit backwards; probe from the back of a "
        "connector with a fitting probe.",
    ),
    MOVING,
    IGNITION,
    AIRBAG,
)
"""Cautions of every trace, in this order: what a name warns of is there too when the name was not read."""

FITTING: tuple[tuple[Caution, frozenset[str]], ...] = (
    (
        AIRBAG,
        frozenset({
            "airbag", "airbags", "air bag", "air bags", "srs", "squib", "tensioner", "pretensioner", "restraint", "inflator",
        }),
    ),
    (IGNITION, frozenset({"ignition", "coil", "distributor", "spark", "magneto", "igniter", "plugs"})),
    (
        Caution(
            "fuel",
            "Fuel circuits: no sparks, no open flame, let in air, have an extinguisher at hand; a pump can spray fuel under "
            "pressure as soon as it is fed.",
        ),
        frozenset({"fuel", "petrol", "gasoline", "tank", "injector", "injection", "carburettor", "carburetor", "lpg"}),
    ),
    (
        MOVING,
        frozenset({"fan", "motor", "blower", "wiper", "wipers", "starter", "starting", "cooling", "radiator", "window", "heater"}),
    ),
    (
        Caution(
            "starting",
            "Before you test a starting circuit: brake on, gear in neutral or park, nobody in front of the wheels.",
        ),
        frozenset({"starter", "starting", "cranking"}),
    ),
    (
        Caution(
            "charging",
            "Do not disconnect the battery or the alternator while the engine runs. Batteries give off gas that explodes.",
        ),
        frozenset({"alternator", "generator", "charging", "battery", "regulator", "dynamo"}),
    ),
    (TRACTION, frozenset({"traction", "inverter", "hybrid"})),
)  # fmt: skip
"""A caution and the words that call for it (names of parts and circuits, and kinds)."""

HANDS_OFF = frozenset({AIRBAG, TRACTION})
"""What calls for one of these is never proposed to be measured."""


def cautions_for(texts: Iterable[str]) -> tuple[Caution, ...]:
    """The usual cautions, those that fit ``texts`` (names, circuit words, kinds) first."""
    first = _called_for(texts)
    return (*first, *(c for c in ALWAYS if c not in first))


def hands_off(texts: Iterable[str]) -> bool:
    """True when one of ``texts`` (names, circuit words, kinds) tells of a circuit that is to be left alone."""
    return any(c in HANDS_OFF for c in _called_for(texts))


def _called_for(texts: Iterable[str]) -> tuple[Caution, ...]:
    said: set[str] = set()
    for text in texts:
        words = words_of(text.replace("_", " "))
        said.update(words)
        said.update(" ".join(pair) for pair in pairwise(words))
    return tuple(caution for caution, calls in FITTING if said & calls)
