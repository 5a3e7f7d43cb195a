"""The whole harness as JSON, and back: nothing is left out. The schema is published beside this module.

``harness.schema.json`` is JSON Schema 2020-12, made from the model itself; ``python -m digitize.export.whole`` writes it
anew, and a test holds that it is up to date.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from importlib import resources
from pathlib import Path
from typing import Any, Literal

from pydantic import TypeAdapter, ValidationError

from digitize import __version__
from digitize.errors import ManualWrong
from digitize.harness.model import Harness

FORMAT: Literal["digitize-harness"] = "digitize-harness"
SCHEMA_FILE = "harness.schema.json"


@dataclass(frozen=True, slots=True)
class HarnessFile:
    """What the file holds. ``rights`` stands first, so that nobody overlooks it; lengths are sheet mm, y downwards."""

    format: Literal["digitize-harness"]
    version: Literal[1]
    made_by: str
    rights: str
    harness: Harness


_ADAPTER: TypeAdapter[HarnessFile] = TypeAdapter(HarnessFile)


def as_json(harness: Harness) -> bytes:
    """The JSON file, UTF-8, indented by one space so that versions can be compared line by line."""
    file = HarnessFile(FORMAT, 1, f"digitize {__version__}", harness.rights, harness)
    return _ADAPTER.dump_json(file, indent=1) + b"\n"


def from_json(content: bytes, name: str = "the file") -> Harness:
    """The harness of a JSON export. Raises ManualWrong when it is none, with the first fault and its place."""
    try:
        return _ADAPTER.validate_json(content).harness
    except ValidationError as fault:
        first = fault.errors()[0]
        where = ".".join(str(part) for part in first["loc"]) or "the top"
        raise ManualWrong(f"{name} is no harness export: {first['msg']} at {where}.", "Export it again.") from fault


def schema() -> dict[str, Any]:
    """The JSON Schema of the file, from the model."""
    made = _ADAPTER.json_schema(mode="serialization")
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", "title": "Harness read by digitize", **made}


def published_schema() -> dict[str, Any]:
    """The schema that is published with the program."""
    text = resources.files("digitize.export").joinpath(SCHEMA_FILE).read_text(encoding="utf-8")
    return dict(json.loads(text))


if __name__ == "__main__":
    Path(__file__).with_name(SCHEMA_FILE).write_text(json.dumps(schema(), indent=1) + "\n", encoding="utf-8")
