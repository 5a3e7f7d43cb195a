"""The grammars of a manual: which strings can be a wire code, a connector id, a zone reference or a number."""

from __future__ import annotations

from digitize.legend.automata import TabledAutomaton, automaton
from digitize.legend.codes import code_shape
from digitize.legend.conventions import Conventions
from digitize.legend.shapes import (
    CAPITALS,
    DIGITS,
    Either,
    Sequence,
    Shape,
    Stretch,
    Words,
    literal,
    optional,
    pattern_shape,
    sequence,
    words_shape,
)

GRAMMAR_KINDS = ("code", "connector", "zone", "number")
"""Kinds that always have a grammar. ``word`` has one where the manual has keys of its own (``keys_shape``)."""

LEAST_KEY = 2
"""A key of one letter says nothing about how a single character is to be read."""

USUAL_GROMMET_PREFIX = "GR"
"""Taken when none is stated (common practice, no source)."""

MOST_ZONES_IN_A_LIST = 6


def grammars(conventions: Conventions) -> dict[str, TabledAutomaton]:
    """One automaton for each of ``GRAMMAR_KINDS``, and for ``word`` where keys are stated. What is not stated is wide: see each shape."""
    return {kind: automaton(shape) for kind, shape in shapes(conventions).items()}


def shapes(conventions: Conventions) -> dict[str, Shape]:
    """The shape of each kind of string (``digitize.legend.shapes``)."""
    made: dict[str, Shape] = {
        "code": code_shape(conventions),
        "connector": id_shape(conventions),
        "zone": zones_shape(conventions),
        "number": number_shape(),
    }
    keys = keys_shape(conventions)
    return made if keys is None else made | {"word": keys}


def keys_shape(conventions: Conventions) -> Words | None:
    """The letters that stand for colours and circuits, as they are printed: alone they fill the legend. None when none is stated."""
    keys = {k for k in (*conventions.colours, *conventions.circuits) if len(k) >= LEAST_KEY and k.isalpha()}
    return Words(tuple(sorted(keys))) if keys else None


def connector_shape(conventions: Conventions) -> Shape:
    """Ids of connectors: with no prefixes stated one or two capitals stand in their place."""
    prefix = words_shape(conventions.connectors.prefixes, Stretch(CAPITALS, 1, 2))
    return pattern_shape(conventions.connectors.pattern, {"prefix": prefix}.get)


def id_shape(conventions: Conventions) -> Shape:
    """Ids of connectors, grommets and grounds."""
    grommet = conventions.grommets.prefix or USUAL_GROMMET_PREFIX
    ways: list[Shape] = [connector_shape(conventions), sequence(literal(grommet), Stretch(DIGITS, 1, 2))]
    if conventions.grounds.prefix is not None:
        ways.append(sequence(literal(conventions.grounds.prefix), Stretch(DIGITS, 1, 3)))
    return Either(tuple(ways))


def zone_shape(conventions: Conventions) -> Shape:
    """One zone reference. Without a fully stated grid: one or two capitals and one to three digits."""
    stated = conventions.zone_labels()
    letter: Shape = Stretch(CAPITALS, 1, 2)
    number: Shape = Stretch(DIGITS, 1, 3)
    if stated is not None:
        for labels in stated:
            if labels[0].isdigit():
                number = Words(labels)
            else:
                letter = Words(labels)
    parts = (letter, number) if conventions.zones.order == "letter-number" else (number, letter)
    return Sequence(parts)


def zones_shape(conventions: Conventions) -> Shape:
    """One zone or several in a list (``C3, E19, D31``)."""
    one = zone_shape(conventions)
    more: Sequence = optional(Words((", ", ",", "; ", " ")), one)
    for _ in range(MOST_ZONES_IN_A_LIST - 2):
        more = optional(Words((", ", ",", "; ", " ")), one, more)
    return sequence(one, more)


def number_shape() -> Shape:
    """One to three digits with an optional capital (a fuse, a cavity, a rating), or a decimal rating like ``7.5A``."""
    return sequence(
        Either((Stretch(DIGITS, 1, 3), sequence(Stretch(DIGITS, 1, 2), literal("."), Stretch(DIGITS, 1, 1)))),
        optional(Stretch(CAPITALS, 1, 1)),
    )
