"""What a person types about a fault, taken apart: ``PLACE=VOLTS``, ``PLACE=PLACE``, ``SWITCH=POSITION`` and the like."""

from __future__ import annotations

import math
from collections.abc import Sequence

from digitize.errors import CalledWrongly
from digitize.trace.advice import Told

MOST_VOLTS, MOST_METRES, MOST_WATTS = 1000.0, 1000.0, 100_000.0


def told_from(
    *,
    works: Sequence[str] = (),
    dark: Sequence[str] = (),
    volts: Sequence[str] = (),
    joined: Sequence[str] = (),
    apart: Sequence[str] = (),
    positions: Sequence[str] = (),
    lengths: Sequence[str] = (),
    watts: Sequence[str] = (),
) -> Told:
    """What was typed, taken apart: ``PLACE=VOLTS``, ``PLACE=PLACE``, ``SWITCH=POSITION``, ``WIRE=METRES``, ``NAME=WATTS``.

    Raises CalledWrongly for what says no such thing.
    """
    pairs = [(*_places(p), True) for p in joined] + [(*_places(p), False) for p in apart]
    return Told(
        tuple(works),
        tuple(dark),
        tuple(
            _number(v, "voltage", "V", "PLACE=VOLTS, e.g. LAMP SWITCH C=12.4", MOST_VOLTS, -MOST_VOLTS) for v in volts
        ),
        tuple(pairs),
        tuple(position_said(p) for p in positions),
        tuple(_number(v, "length", "m", "WIRE=METRES, e.g. L2A 16 BLU=2.5", MOST_METRES) for v in lengths),
        tuple(_number(v, "power", "W", "NAME=WATTS, e.g. SIDE LAMP=5", MOST_WATTS) for v in watts),
    )


def position_said(said: str) -> tuple[str, str]:
    """``SWITCH=POSITION`` taken apart. Raises CalledWrongly when it is neither."""
    name, sign, position = said.rpartition("=")
    if not sign or not name.strip() or not position.strip():
        raise CalledWrongly(f"{said!r} says no position.", "Write SWITCH=off, SWITCH=on or SWITCH=TERMINAL.")
    return name.strip(), position.strip()


def _number(said: str, what: str, unit: str, form: str, most: float, least: float = 0.0) -> tuple[str, float]:
    name, _, figure = said.rpartition("=")
    bare = figure.strip().removesuffix(unit).removesuffix(unit.lower()).strip()
    try:
        value = float(bare.replace(",", "."))
    except ValueError:
        value = math.nan
    if not name.strip() or not least <= value <= most or (least == 0.0 and value == 0.0):
        raise CalledWrongly(f"{said!r} says no {what}.", f'Write "{form}".')
    return name.strip(), value


def _places(said: str) -> tuple[str, str]:
    one, sign, other = said.partition("=")
    if not sign or not one.strip() or not other.strip():
        raise CalledWrongly(
            f"{said!r} does not name two places.",
            'Write "PLACE=PLACE", e.g. "K14 A=SIDE LAMP 1", or body for one of them.',
        )
    return one.strip(), other.strip()
