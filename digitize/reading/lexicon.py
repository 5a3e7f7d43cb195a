"""What unprinted rules words and tokens follow: plain words of the trade, and letters and digits that keep to themselves."""

from __future__ import annotations

import re
from itertools import pairwise

# Plain words found on wiring drawings of any make (common practice, no source); no names of makes or models.
WORDS = frozenset(
    """
    ACCESSORY AIR ALARM ALL ALTERNATOR AMMETER AND ANTENNA ANTI ASH AUTOMATIC AUXILIARY BACK BACKUP BANK BAR BATTERY BEAM
    BEHIND BELT BLACK BLOCK BLOWER BLUE BODY BONNET BOOT BOX BRAKE BREAKER BROWN BULB BULKHEAD BUTTON BUZZER CABIN CABLE CABLES
    CAVITY CENTER CENTRE CHART CHASSIS CHECK CHIME CHOKE CIGAR CIRCUIT CLOCK CLUSTER CLUTCH COIL COLOR COLOUR COLUMN
    COMPARTMENT COMPRESSOR CONDENSER CONNECTION CONNECTOR CONSOLE CONTACT CONTROL COOLANT COOLING CORNER COURTESY COWL CRANK
    CURRENT CUT DASH DATA DEFOGGER DEFROSTER DELAY DEMISTER DETECTOR DIESEL DIMMER DIODE DIP DIPPED DIRECTION DISTRIBUTOR DOME
    DOOR DOORS DRIVER EARTH EARTHS ELECTRIC ELECTRONIC ENGINE EXTERIOR FAN FASCIA FEED FENDER FIELD FILAMENT FLASHER FLOOR FOG
    FOOT FOR FRAME FROM FRONT FUEL FUSE FUSED FUSES FUSIBLE GAUGE GAUGES GEAR GENERATOR GLASS GLOVE GLOW GREEN GREY GRAY
    GRILLE GROMMET GROUND GROUNDS HALF HAND HANDLE HARNESS HAZARD HEAD HEADLAMP HEADLAMPS HEADLIGHT HEATED HEATER HIGH HINGE
    HOOD HORN HORNS HOT HOUSING HOUSINGS IDLE IGNITION IGNITOR ILLUMINATION INDEX INDICATOR INDICATORS INJECTOR INNER INSIDE
    INSTRUMENT INSTRUMENTS INTERIOR INTERLOCK INTERMITTENT INVERTER JUNCTION KEY KICK LAMP LAMPS LEFT LEGEND LEVEL LICENCE
    LICENSE LID LIFTGATE LIGHT LIGHTER LIGHTING LIGHTS LINK LOCATION LOCK LOCKING LOW LOWER LUGGAGE MAGNETIC MAIN MAP MARKER
    MASTER METER MIRROR MODULE MOTOR MOTORS MULTI NEUTRAL NORMALLY NOTE NOTES NUMBER OFF OIL ONLY OPEN OPTIONAL ORANGE OUTER
    OUTSIDE OVERDRIVE OXYGEN PAGE PANEL PARK PARKING PASSENGER PEDAL PILLAR PILOT PINK PLATE PLUG POINT POINTS POSITION POWER
    PRESSURE PRIMARY PUMP PURPLE QUARTER RADIATOR RADIO REAR RECEPTACLE RED REGULATOR RELAY RELAYS RELEASE RESERVOIR RESISTOR
    RESISTORS REVERSE REVERSING RHEOSTAT RIGHT ROOF RUN SAFETY SEAT SECONDARY SECTION SEE SENDER SENDING SENSOR SHEET SHIFT
    SHIELD SHOWN SIDE SIGNAL SILL SOCKET SOLENOID SPARE SPARK SPEAKER SPEED SPEEDOMETER SPLICE SPLICES START STARTER STARTING
    STEERING STOP STRIP SUMP SUPPLY SUPPRESSOR SWITCH SWITCHED SWITCHES SYMBOL SYMBOLS SYSTEM TACHOMETER TAIL TAILGATE TAN TANK
    TEMPERATURE TERMINAL TEST THE THERMAL THERMO THERMOSTAT THERMOSTATIC THROTTLE TIMER TIMES TOP TRAILER TRANSDUCER TRANSMISSION
    TRANSMITTER TRIM TRUNK TURN UNDER UNIT UPPER VACUUM VALVE VANITY VEHICLE VIOLET VISOR VOLTAGE VOLTMETER WARNING WASHER
    WATER WHEEL WHITE WINDOW WINDOWS WINDSCREEN WINDSHIELD WING WIPER WIPERS WIRE WIRES WIRING WITH YELLOW ZONE
    """.split(),  # noqa: SIM905 - as a list of quoted words nobody could read it
)

_NOUGHTS = re.compile(r"(?<![A-Z0-9])\d[\dO]{2,}(?![A-Z0-9])")
_ID_NOUGHT = re.compile(r"(?<![A-Z0-9])([A-Z]{1,2}\d+)O(?![A-Z0-9])")
_WORD = re.compile(r"(?<![A-Z0-9])(?=(?:[01]?[A-Z]){3})[A-Z0]?(?:[A-Z]|(?<=[A-Z])[01](?=[A-Z]))+0?(?![A-Z0-9])")
_TO = re.compile(r"^T0(?= [A-Z]{3})")
_OF = re.compile(r"(?<=\d )[O0]F ?(?=\d{1,3}$)")
_TIGHT_DASH = re.compile(r"(?<=[A-Z0-9]{2} -)(?=[A-Z]{3})|(?<=[A-Z]{3})(?=- [A-Z0-9]{2})")
_WORD_LETTERS = 3
"""A word has at least so many letters for each figure that stands for one."""
_KNOWN = 3.0
_SWITCH = 0.4
_MOST = 4


def with_noughts(text: str) -> str:
    """``text`` with 0 for each O in tokens of digits and O's alone that begin with a digit and hold two: ``17OO``."""
    return _NOUGHTS.sub(lambda m: m[0].replace("O", "0") if sum(c.isdigit() for c in m[0]) > 1 else m[0], text)


def with_letters(text: str) -> str:
    """``text`` with O and I for a 0 or 1 among the letters of a word (``PIL0T``), and with 0 for an O behind an id's digits (``T3O``)."""
    words = _WORD.sub(_worded, _TO.sub("TO", text))
    return _ID_NOUGHT.sub(r"\g<1>0", words)


def _worded(found: re.Match[str]) -> str:
    word = found[0]
    figures = sum(c.isdigit() for c in word)
    if not figures or len(word) - figures < _WORD_LETTERS * figures:
        return word
    return word.replace("0", "O").replace("1", "I")


def with_spaces(text: str) -> str:
    """``text`` with the spaces that tight setting hides: ``SHEET 1 OF 3``, and a dash between words has them on both sides."""
    return _TIGHT_DASH.sub(" ", _OF.sub("OF ", text))


def habit(text: str) -> float:
    """How usual ``text`` is as free lettering: a factor for weighing candidates that obey no grammar.

    Each known word (of three letters or more, at most four count) makes it likelier; each change between letters and
    digits inside a token makes it less so: ``MOTOR`` rather than ``M0TOR``, ``T30`` rather than ``T3O``.
    """
    factor = 1.0
    known = 0
    for token in text.replace("/", " ").replace("-", " ").split():
        bare = token.strip(".,:()'")
        if len(bare) >= 3 and bare in WORDS and known < _MOST:
            factor *= _KNOWN
            known += 1
        solid = [c.isdigit() for c in bare if c.isalnum()]
        factor *= _SWITCH ** sum(a != b for a, b in pairwise(solid))
    return factor
