"""Shapes of short printed strings, and the little language in which a person types a pattern.

A shape is a regular language over characters, built from three parts: a list of words, a stretch of characters from a
set, and shapes one after the other, each possibly optional. From a shape come a regular expression (to take a string
apart) and an automaton (to steer a reader).

The pattern language, typed by a person::

    {circuit}{number}{segment?} {gauge} {colour}{/tracer?}

- what stands outside braces is printed as it stands (one space is one space);
- ``{name}`` is a field; a ``?`` before the closing brace says that it may be missing;
- signs in front of the name or behind it belong to the field and come and go with it: ``{/tracer?}``, ``{(segment)?}``;
- ``{name:1-4 digits}``, ``{name:1 letters}``, ``{name:N|A|B}`` say what a field is made of; without that the names
  ``circuit colour tracer gauge prefix`` take their table, ``number`` is digits, ``segment`` letters, and any other name
  must say it.
"""

from __future__ import annotations

import re
import string
from collections.abc import Callable, Iterable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Words:
    """Exactly one of some strings."""

    words: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Stretch:
    """Between ``least`` and ``most`` characters of ``chars``."""

    chars: str
    least: int
    most: int


@dataclass(frozen=True, slots=True)
class Sequence:
    """Parts one after the other; ``name`` makes it a field."""

    parts: tuple[Shape, ...]
    optional: bool = False
    name: str | None = None


@dataclass(frozen=True, slots=True)
class Either:
    """One of several shapes."""

    shapes: tuple[Shape, ...]


Shape = Words | Stretch | Sequence | Either

DIGITS = string.digits
CAPITALS = string.ascii_uppercase


def literal(text: str) -> Words:
    """A shape that is just ``text``."""
    return Words((text,))


def sequence(*parts: Shape) -> Sequence:
    """Parts one after the other, all needed."""
    return Sequence(parts)


def optional(*parts: Shape) -> Sequence:
    """Parts one after the other, all there or all missing."""
    return Sequence(parts, optional=True)


def expression(shape: Shape) -> str:
    """A regular expression (Python's ``re``) for the whole shape, fields as named groups, longest words first."""
    match shape:
        case Words(words):
            return "(?:" + "|".join(re.escape(w) for w in sorted(words, key=lambda w: (-len(w), w))) + ")"
        case Stretch(chars, least, most):
            return f"[{re.escape(chars)}]{{{least},{most}}}"
        case Either(shapes):
            return "(?:" + "|".join(expression(s) for s in shapes) + ")"
        case Sequence(parts, is_optional, name):
            inner = "".join(expression(p) for p in parts)
            head = f"(?P<{name}>" if name else "(?:"
            return f"{head}{inner})" + ("?" if is_optional else "")


# -- the pattern language ---------------------------------------------------------------------------------------------

FieldShape = Callable[[str], Shape | None]
"""Gives the shape of a field by its name, None for a name it does not know."""

_FIELD = re.compile(
    r"(?P<before>[^A-Za-z0-9_:?{}]*)(?P<name>[a-z][a-z0-9_]*)"
    r"(?::(?P<spec>[^?]+?)(?P<closing>[)\]>]*)|(?P<after>[^A-Za-z0-9_:?{}]*))(?P<optional>\?)?",
)
_AMOUNT = re.compile(r"(?P<least>\d+)(?:\s*-\s*(?P<most>\d+))?\s+(?P<what>digits?|letters?)")


@dataclass(frozen=True, slots=True)
class Piece:
    """One piece of a typed pattern: a literal (``name`` None, text in ``before``) or a field."""

    before: str
    name: str | None = None
    after: str = ""
    spec: str | None = None
    optional: bool = False


def pieces_of(pattern: str) -> tuple[Piece, ...]:
    """Take a typed pattern apart. Raises ValueError that names every fault, with its column (from 1)."""
    faults: list[str] = []
    pieces: list[Piece] = []
    seen: set[str] = set()
    at = 0
    while at < len(pattern):
        if pattern[at] == "}":
            faults.append(f"column {at + 1}: a '}}' without its '{{'")
            at += 1
        elif pattern[at] != "{":
            stop = min((p for p in (pattern.find("{", at), pattern.find("}", at)) if p >= 0), default=len(pattern))
            pieces.append(Piece(pattern[at:stop]))
            at = stop
        else:
            close = pattern.find("}", at)
            if close < 0:
                faults.append(f"column {at + 1}: a '{{' without its '}}'")
                break
            inside = pattern[at + 1 : close]
            found = _FIELD.fullmatch(inside)
            if found is None:
                faults.append(f"column {at + 1}: {{{inside}}} is no field; write {{name}}, {{name?}} or {{/name?}}")
            else:
                if found["name"] in seen:
                    faults.append(f"column {at + 1}: the field {found['name']} stands twice")
                seen.add(found["name"])
                pieces.append(
                    Piece(
                        found["before"],
                        found["name"],
                        found["after"] or found["closing"] or "",
                        found["spec"],
                        found["optional"] is not None,
                    ),
                )
            at = close + 1
    if not faults and not seen:
        faults.append("it holds no field in braces")
    if faults:
        raise ValueError("; ".join(faults))
    return tuple(pieces)


def spec_shape(spec: str) -> Shape:
    """The shape that ``1-4 digits``, ``1 letters`` or ``N|A|B`` stands for. Raises ValueError when it is neither."""
    amount = _AMOUNT.fullmatch(spec.strip())
    if amount is not None:
        least, most = int(amount["least"]), int(amount["most"] or amount["least"])
        if not 1 <= least <= most <= 12:
            raise ValueError(f"'{spec}' must count up, between 1 and 12")
        return Stretch(DIGITS if amount["what"].startswith("digit") else CAPITALS, least, most)
    words = [w.strip() for w in spec.split("|")]
    if not all(words) or re.match(r"\d+(\s*-\s*\d+)?\s+\w", spec):
        raise ValueError(f"'{spec}' is neither like '1-4 digits' or '1 letters' nor words like 'N|A|B'")
    return Words(tuple(words))


def pattern_shape(pattern: str, fields: FieldShape) -> Sequence:
    """The shape of a typed pattern; ``fields`` gives the shapes of names without a spec.

    Raises ValueError that names every fault.
    """
    parts: list[Shape] = []
    faults: list[str] = []
    for piece in pieces_of(pattern):
        if piece.name is None:
            parts.append(literal(piece.before))
            continue
        shape: Shape | None = None
        try:
            shape = spec_shape(piece.spec) if piece.spec is not None else fields(piece.name)
        except ValueError as fault:
            faults.append(f"{{{piece.name}}}: {fault}")
            continue
        if shape is None:
            faults.append(f"{{{piece.name}}} is not a known field; say what it is made of: {{{piece.name}:1 letters}}")
            continue
        inner = [Sequence((shape,), name=piece.name)]
        parts.append(Sequence((*_lit(piece.before), *inner, *_lit(piece.after)), optional=piece.optional))
    if faults:
        raise ValueError("; ".join(faults))
    return Sequence(tuple(parts))


def _lit(text: str) -> tuple[Words, ...]:
    return (literal(text),) if text else ()


def words_shape(words: Iterable[str], otherwise: Shape) -> Shape:
    """One of ``words``; ``otherwise`` when there are none."""
    listed = tuple(sorted(set(words)))
    return Words(listed) if listed else otherwise
