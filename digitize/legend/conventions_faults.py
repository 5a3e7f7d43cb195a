"""Faults of a conventions file in words: each with its line, its table and what would have been right."""

from __future__ import annotations

import re
from typing import get_args

from pydantic import BaseModel

Place = tuple[int | str, ...]
"""Where a fault is: keys and places in lists, from the outside in, as pydantic gives them."""

_SIMPLER = {
    "extra_forbidden": "no such key here",
    "missing": "is missing",
    "string_pattern_mismatch": "is not written as it should be (short, no spaces at its ends)",
}


def told(loc: Place, message: str, kind: str, text: str, form: type[BaseModel]) -> str:
    """One fault as ``line 12, [zones] across: …``.

    ``loc``, ``message``, ``kind``: as pydantic tells them; ``text``: the file; ``form``: the whole that was to be filled.
    """
    keys = [str(k) for k in loc if k != "[key]"]
    line = _line_of(text, loc)
    message = _SIMPLER.get(kind, message.removeprefix("Value error, "))
    if kind == "extra_forbidden":
        known = _keys_beside(loc, form)
        message += f"; known: {', '.join(known)}" if known else ""
    where = f"[{'.'.join(keys[:-1])}] {keys[-1]}" if len(keys) > 1 else (keys[0] if keys else "the file")
    return f"line {line}, {where}: {message}" if line else f"{where}: {message}"


def _keys_beside(loc: Place, form: type[BaseModel]) -> list[str]:
    """The keys that would have been right where an unknown one stands."""
    model = form
    for key in loc[:-1]:
        field = model.model_fields.get(str(key))
        # a place in a list, or a key that the user named, stands between a field and what it holds
        if field is not None:
            held = _held(field.annotation)
            if held is None:
                return []
            model = held
    return sorted(model.model_fields)


def _held(annotation: object) -> type[BaseModel] | None:
    """The model that a field is or holds many of."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    return next((m for m in map(_held, get_args(annotation)) if m is not None), None)


_HEADER = re.compile(r"^\s*(\[\[?)\s*([^\[\]]+?)\s*\]\]?\s*(?:#.*)?$")


def _line_of(text: str, loc: Place) -> int | None:
    """The line (from 1) of the key at ``loc``: the deepest part of it that has a line of its own."""
    keys = [k for k in loc if k != "[key]"]
    best: tuple[int, int] | None = None
    table: list[int | str] = []
    counts: dict[str, int] = {}
    for number, line in enumerate(text.splitlines(), start=1):
        header = _HEADER.match(line)
        if header is not None:
            name = header[2].replace('"', "")
            table = [*name.split(".")]
            if header[1] == "[[":
                table.append(counts.get(name, 0))
                counts[name] = counts.get(name, 0) + 1
            here = table
        elif "=" in line and not line.lstrip().startswith("#"):
            here = [*table, *line.split("=", 1)[0].strip().replace('"', "").split(".")]
        else:
            continue
        if [str(k) for k in keys[: len(here)]] == [str(k) for k in here] and (best is None or len(here) > best[0]):
            best = (len(here), number)
    return best[1] if best else None
