"""Conventions as a TOML file that a person can read, check and correct; every line may carry a remark."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from typing import Any

from digitize.legend.conventions import Conventions

_BARE = re.compile(r"[A-Za-z0-9_-]+")


def conventions_text(conventions: Conventions, remarks: Mapping[str, str] | None = None) -> str:
    """TOML that ``load_conventions`` reads back to the same conventions; what is not stated is left out.

    ``remarks``: key path (``code.pattern``, ``colours.RD``) → a remark, printed behind its line; a table's own path puts it
    under the table's heading.
    """
    said = conventions.model_dump(exclude_defaults=True, exclude_none=True)
    remarks = remarks or {}
    lines = [_line(key, value, remarks.get(key)) for key, value in said.items() if not _is_table(value)]
    for key, value in said.items():
        if _is_table(value):
            lines += _table(key, value, remarks)
    return "\n".join(lines).strip() + "\n"


def _is_table(value: object) -> bool:
    return isinstance(value, dict) or (isinstance(value, list | tuple) and bool(value) and isinstance(value[0], dict))


def _table(path: str, table: Any, remarks: Mapping[str, str]) -> list[str]:
    if not isinstance(table, dict):
        out = []
        for k, entry in enumerate(table):
            out += ["", f"[[{path}]]"]
            out += [_line(key, value, remarks.get(f"{path}.{k}.{key}")) for key, value in entry.items()]
        return out
    plain = {k: v for k, v in table.items() if not _is_table(v)}
    out = ["", f"[{path}]"] if plain else []
    if plain and path in remarks:
        out.append(f"# {_one_line(remarks[path])}")
    out += [_line(key, value, remarks.get(f"{path}.{key}")) for key, value in plain.items()]
    for key, value in table.items():
        if _is_table(value):
            out += _table(f"{path}.{_key(key)}", value, remarks)
    return out


def _line(key: str, value: object, remark: str | None) -> str:
    return f"{_key(key)} = {_value(value)}" + (f"  # {_one_line(remark)}" if remark else "")


def _key(key: str) -> str:
    return key if _BARE.fullmatch(key) else _value(key)


def _value(value: object) -> str:
    if isinstance(value, list | tuple):
        return "[" + ", ".join(_value(v) for v in value) + "]"
    # JSON writes strings, numbers and truth as TOML does; DEL is the one sign that TOML wants escaped and JSON does not
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")


def _one_line(text: str) -> str:
    return " ".join(text.split())
