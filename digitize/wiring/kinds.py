"""What kind of part a printed name tells: the caption of a drawing knows better than its outline.

The words are those of the trade, in English (common practice, no source). A name that says nothing about the kind leaves
what the drawing said. The last telling word counts: a "lamp switch" is a switch, a "fuse block" no fuse.
"""

from __future__ import annotations

from dataclasses import replace

from digitize.wiring.state import DrawnPlace

_WORDS = {
    "ALTERNATOR": "alternator", "BATTERY": "battery", "BLOCK": "fuse_block", "BOARD": "fuse_block", "BOX": "fuse_block", "BREAKER": "circuit_breaker",
    "BULB": "lamp", "BUZZER": "sounder", "CAPACITOR": "capacitor", "CHIME": "sounder", "COIL": "coil", "CONDENSER": "capacitor",
    "CONTACTS": "switch", "CLOCK": "module", "DIODE": "diode", "DYNAMO": "alternator", "ELEMENT": "heater", "FUSE": "fuse", "FUSES": "fuse_block",
    "GAUGE": "gauge", "GENERATOR": "alternator", "HEADLAMP": "lamp", "HEADLIGHT": "lamp", "HEATER": "heater", "HORN": "horn",
    "INDICATOR": "lamp", "LAMP": "lamp", "LAMPS": "lamp", "LIGHT": "lamp", "LIGHTS": "lamp", "LINK": "fusible_link",
    "METER": "gauge", "PANEL": "fuse_block", "HOLDER": "fuse_block", "AMMETER": "gauge", "VOLTMETER": "gauge", "MODULE": "module", "MOTOR": "motor", "PUMP": "motor",
    "PUSH": "switch", "RELAY": "relay", "RESISTOR": "resistor", "RHEOSTAT": "variable_resistor", "SENDER": "sensor",
    "SENSOR": "sensor", "SOCKET": "socket", "SOLENOID": "solenoid", "SPEAKER": "speaker", "STARTER": "motor", "SWITCH": "switch",
    "TACHOMETER": "gauge", "TELL-TALE": "lamp", "THERMOSTAT": "switch", "TRANSMITTER": "sensor", "UNIT": "module", "VALVE": "solenoid",
}  # fmt: skip
_PARTS_OF = {"fuse_block": ("FUSE", "RELAY", "JUNCTION")}
"""A telling word that needs another one before it: only a FUSE BLOCK or FUSE BOX is one."""


def kind_told(name: str) -> str | None:
    """The kind that a printed name tells, None when it tells none."""
    words = name.upper().replace(".", " ").split()
    for n in range(len(words) - 1, -1, -1):
        kind = _WORDS.get(words[n])
        if kind is None:
            continue
        needed = _PARTS_OF.get(kind)
        if needed is None or words[n] == "FUSES" or any(w in needed for w in words[:n]):
            return kind
    return None


def told_by_name(place: DrawnPlace) -> DrawnPlace:
    """The place with the kind that its name tells, when the drawing was not sure of another of the same family.

    A symbol that a person taught is what the person said, whatever words stand beside it.
    """
    if place.taught is not None:
        return place
    told = kind_told(place.label.value or "")
    if place.kind == "fuse_block" and told not in ("switch", "relay", "module", None) and place.probability > 0.5:
        told = place.kind  # a caption such as LAMP FUSES tells what the fuses are for
    if told is None or told == place.kind:
        return place if told is None else replace(place, probability=1 - 0.5 * (1 - place.probability))
    if _family(told) == _family(place.kind) and place.probability > 0.5 and place.kind not in ("module", "unknown"):
        return place
    sure = place.label.probability
    return replace(place, kind=told, probability=max(place.probability * 0.8, 0.9 * sure))


def _family(kind: str) -> str:
    """Kinds that a drawing tells apart better than a word: a solenoid valve's coil, a sender's resistor."""
    families = {"solenoid": "coil", "coil": "coil", "starter_solenoid": "coil", "relay": "coil", "resistor": "resistance",
                "variable_resistor": "resistance", "sensor": "resistance", "heater": "resistance", "motor": "motor",
                "alternator": "motor", "sounder": "sound", "horn": "sound", "speaker": "sound"}  # fmt: skip
    return families.get(kind, kind)
