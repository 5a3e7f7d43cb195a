"""What is taken for granted where a diagram says nothing, by the names that a person changes it with."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Any

from digitize.errors import CalledWrongly
from digitize.trace.circuit import LOAD_OHMS, Values

IGNITION_COIL = "ignition_coil_ohms"
"""The kind ``coil`` is an ignition coil; the coil of a relay is ``coil_ohms``."""

MOST = 1e6


@dataclass(frozen=True, slots=True)
class Assumed:
    """One value: its ``name``, ``usual`` value, ``unit`` and what it stands for. All are own estimates for 12 V vehicles."""

    name: str
    usual: float
    unit: str
    meaning: str


_MEANINGS = {
    "battery_volts": ("V", "A battery at rest, charged."),
    "battery_ohms": ("ohm", "Inside the battery and at its posts."),
    "wire_metres": ("m", "A wire whose length is not given."),
    "wire_mm2": ("mm2", "A wire whose size was not read."),
    "terminal_ohms": ("ohm", "A good contact of a connector."),
    "switch_ohms": ("ohm", "A good contact of a switch or relay."),
    "fuse_ohms": ("ohm", "A fuse with its clips."),
    "fuse_amperes": ("A", "A fuse whose rating was not read."),
    "link_amperes": ("A", "A fusible link whose rating was not read."),
    "ground_ohms": ("ohm", "A good ground."),
    "diode_volts": ("V", "Across a conducting diode."),
    "diode_ohms": ("ohm", "Inside a conducting diode."),
    "coil_ohms": ("ohm", "The coil of a relay or solenoid switch."),
    "pull_in_volts": ("V", "A relay pulls in from here."),
    "drop_out_volts": ("V", "A relay lets go below this."),
    "sender_ohms": ("ohm", "A sender that earths its gauge or lamp."),
    "resistor_ohms": ("ohm", "A resistor."),
}


def assumed() -> tuple[Assumed, ...]:
    """All values in the order of the README's table."""
    usual = Values()
    found = [Assumed(name, getattr(usual, name), unit, meaning) for name, (unit, meaning) in _MEANINGS.items()]
    return (*found, *(Assumed(_name(k), v, "ohm", f"At work: {k}.") for k, v in sorted(LOAD_OHMS.items())))


def _name(kind: str) -> str:
    return IGNITION_COIL if kind == "coil" else f"{kind}_ohms"


def values_from(pairs: Iterable[str]) -> Values:
    """``Values`` with what is said otherwise as ``NAME=NUMBER``. Raises CalledWrongly for an unknown name or no number."""
    by_name: dict[str, Any] = {}
    loads = dict(LOAD_OHMS)
    kinds = {_name(k): k for k in LOAD_OHMS}
    known = {a.name for a in assumed()}
    for said in pairs:
        name, _, figure = said.partition("=")
        name = name.strip()
        if name not in known:
            raise CalledWrongly(f"There is no value {name!r} to assume.", f"There are: {', '.join(sorted(known))}.")
        try:
            value = float(figure.strip().replace(",", "."))
        except ValueError:
            value = math.nan
        if not 0 < value <= MOST:
            raise CalledWrongly(f"{said!r} is no value above 0.", f"Write {name}=NUMBER.")
        if name in kinds:
            loads[kinds[name]] = value
        else:
            by_name[name] = value
    values = replace(Values(), **by_name, load_ohms=loads)
    if values.drop_out_volts >= values.pull_in_volts:
        raise CalledWrongly(
            "A relay must let go below the voltage it pulls in at.", "Choose drop_out_volts below pull_in_volts."
        )
    return values
