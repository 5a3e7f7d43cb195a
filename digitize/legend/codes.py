"""Wire codes: their shape under a manual's conventions, taking one apart, and saying it in words."""

from __future__ import annotations

import re
from functools import lru_cache
from string import ascii_lowercase

from digitize.harness.model import WireCode
from digitize.legend.colour_words import COLOUR_WORDS
from digitize.legend.conventions import Conventions
from digitize.legend.shapes import (
    CAPITALS,
    DIGITS,
    Either,
    Sequence,
    Shape,
    Stretch,
    Words,
    expression,
    literal,
    optional,
    pattern_shape,
    sequence,
    words_shape,
)

_SIZE = Either((Stretch(DIGITS, 1, 3), sequence(Stretch(DIGITS, 1, 2), Words((".", ",")), Stretch(DIGITS, 1, 2))))
_LETTERS = Stretch(CAPITALS, 1, 4)


def code_shape(conventions: Conventions, *, strict: bool = True) -> Shape:
    """The shape of a wire code; ``strict`` keeps to the tables, otherwise their place takes any letters or digits.

    Without a stated pattern it is ``loose_shape``.
    """
    patterns = conventions.code.pattern
    if not patterns:
        return loose_shape(conventions)
    return Either(tuple(_patterned(p, conventions, strict) for p in patterns))


def _patterned(pattern: str, conventions: Conventions, strict: bool) -> Sequence:
    code = conventions.code
    colours = words_shape(conventions.colours if strict else (), _LETTERS)
    circuits = words_shape(
        conventions.circuits if strict else (), Either((Stretch(CAPITALS, 1, 2), Stretch(DIGITS, 1, 2)))
    )
    tracers = colours
    if code.tracer_small:
        small = (c.lower() for c in conventions.colours) if strict else ()
        tracers = words_shape(small, Stretch(ascii_lowercase, 1, 12))
    fields: dict[str, Shape] = {
        "key": words_shape(
            conventions.keys if strict else (), Either((Stretch(CAPITALS, 1, 2), Stretch(DIGITS, 1, 3)))
        ),
        "circuit": circuits,
        "number": Stretch(DIGITS, *code.number_digits),
        "segment": Stretch(code.segment_letters if strict else CAPITALS, 1, 1),
        "gauge": words_shape(conventions.gauges.sizes if strict else (), _SIZE),
        "colour": colours,
        "tracer": tracers,
    }
    return pattern_shape(pattern, fields.get)


def loose_shape(conventions: Conventions) -> Shape:
    """What codes look like when no pattern is stated: at least two of id, size and colour, never a plain word.

    Common practice, no source: an id is letters and digits (``S12A``, ``12.05A``), a size stands before or after the
    colour, parts are parted by a space or a hyphen (behind an id, size and colour by nothing too), main colour and tracer
    by ``/``, ``-`` or nothing; colours stand in letters or in full. Tables that are stated are kept to.
    """
    colour = words_shape(conventions.colours, Either((_LETTERS, Words(COLOUR_WORDS))))
    size = words_shape(conventions.gauges.sizes, _SIZE)
    named = Sequence((Sequence((colour,), name="colour"), optional(Words(("/", "-", ".")), _field("tracer", colour))))
    letters = words_shape(conventions.circuits, Stretch(CAPITALS, 1, 3))
    lettered = sequence(
        _field("circuit", letters),
        optional(literal("-")),
        _field("number", Stretch(DIGITS, 1, 4)),
        Sequence((_field("segment", Stretch(CAPITALS, 1, 2)),), optional=True),
    )
    pointed = sequence(
        _field("circuit", Stretch(DIGITS, 1, 3)),
        Words((".", "-")),
        _field("number", Stretch(DIGITS, 1, 3)),
        Sequence((_field("segment", Stretch(CAPITALS, 1, 1)),), optional=True),
    )
    numbered = sequence(
        _field("number", Stretch(DIGITS, 1, 4)),
        Sequence((_field("segment", Stretch(CAPITALS, 1, 1)),), optional=True),
    )
    gauge = _field("gauge", size)
    part = Words((" ", "-"))
    shapes: list[Shape] = []
    for name in (lettered, pointed, numbered):
        shapes.append(sequence(name, part, gauge, part, named))
        shapes.append(sequence(name, part, named, optional(part, gauge)))
        shapes.append(sequence(gauge, part, named, part, name))
        shapes.append(sequence(named, part, gauge, part, name))
        shapes.append(sequence(name, part, gauge, named))
    shapes.append(sequence(lettered, part, gauge))
    shapes.append(sequence(gauge, part, named))
    shapes.append(sequence(named, part, gauge))
    shapes.append(
        sequence(
            _field("circuit", letters),
            _field("number", Stretch(DIGITS, 1, 4)),
            _field("segment", Stretch(CAPITALS, 1, 2)),
            _field("gauge", Stretch(DIGITS, 1, 2)),
            optional(Words(("N", "A", "B", "C", "V"))),
        ),
    )
    shapes.append(words_of_colour())
    return Either(tuple(shapes))


def words_of_colour() -> Shape:
    """Colours in words, as older pages print them along their wires (common practice, no source)."""
    one = sequence(optional(Words(("LIGHT ", "DARK "))), Words(COLOUR_WORDS))
    return sequence(_field("colour", one), optional(literal(" "), _field("tracer", one)))


def _field(name: str, shape: Shape) -> Sequence:
    return Sequence((shape,), name=name)


class _Taker:
    """Takes codes apart under one manual's conventions: compiled expressions, kept while the conventions live."""

    def __init__(self, conventions: Conventions) -> None:
        self.strict = self._compiled(conventions, strict=True)
        self.relaxed = self._compiled(conventions, strict=False)

    @staticmethod
    def _compiled(conventions: Conventions, *, strict: bool) -> list[re.Pattern[str]]:
        shape = code_shape(conventions, strict=strict)
        # One expression for each way of writing: a group name may stand only once in an expression.
        return [re.compile(expression(s)) for s in (shape.shapes if isinstance(shape, Either) else (shape,))]

    def fields(self, text: str, strict: bool) -> dict[str, str] | None:
        for compiled in (*self.strict, *(() if strict else self.relaxed)):
            found = compiled.fullmatch(text)
            if found is not None:
                return {k: v for k, v in found.groupdict().items() if v is not None}
        return None


def _taker(conventions: Conventions) -> _Taker:
    return _taker_of(conventions.model_dump_json(include={"code", "circuits", "colours", "gauges", "keys"}))


@lru_cache(maxsize=32)
def _taker_of(stated: str) -> _Taker:
    return _Taker(Conventions.model_validate_json(stated))


def code_fields(text: str, conventions: Conventions, *, strict: bool = False) -> dict[str, str] | None:
    """All fields of a code by name, free ones too; None when it has not the shape of a code.

    The tables are kept to first; without ``strict`` a code of the right shape with an unknown colour, size or circuit is
    taken apart too.
    """
    return _taker(conventions).fields(text, strict)


def parse_code(text: str, conventions: Conventions, *, strict: bool = False) -> WireCode | None:
    """A printed code taken apart (see ``code_fields``); ``printed`` is ``text`` as it stands.

    What the table of keys says about a short key stands in the fields, and a tracer in small letters stands as its table has it.
    """
    found = code_fields(text, conventions, strict=strict)
    if found is None:
        return None
    if conventions.code.tracer_small and found.get("tracer"):
        # the tables name a colour once, in the letters of the main colour
        by_small = {c.lower(): c for c in conventions.colours}
        found["tracer"] = by_small.get(found["tracer"], found["tracer"].upper())
    meant = conventions.keys.get(found.get("key", ""))
    if meant is not None:
        found = {**{k: v for k, v in meant.model_dump().items() if v is not None}, **found}
    return WireCode(
        printed=text,
        circuit=found.get("circuit"),
        number=found.get("number"),
        segment=found.get("segment"),
        gauge=found.get("gauge"),
        colour=found.get("colour"),
        tracer=found.get("tracer"),
    )


_SYSTEM_WORDS = {"awg": "{} AWG", "sae": "SAE size {}", "mm2": "{} mm²", None: "size {}"}


def in_words(code: WireCode, conventions: Conventions) -> str:
    """A code for people, e.g. ``side lamps, 16 AWG, red with blue tracer``; what the tables do not name stays as printed."""
    said = []
    if code.circuit is not None:
        said.append(conventions.circuits.get(code.circuit, f"circuit {code.circuit}"))
    if code.gauge is not None:
        said.append(_SYSTEM_WORDS[conventions.gauges.system].format(code.gauge))
    if code.colour is not None:
        colour = conventions.colours.get(code.colour, code.colour)
        if code.tracer is not None:
            colour += f" with {conventions.colours.get(code.tracer, code.tracer)} tracer"
        said.append(colour)
    return ", ".join(said) or code.printed
