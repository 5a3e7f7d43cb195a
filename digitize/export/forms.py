"""The export forms by name, and the one way to write a file: whole or not at all."""

from __future__ import annotations

import os
import sys
import tempfile
from collections.abc import Callable, Mapping
from pathlib import Path

from digitize.errors import ManualWrong, NotFound
from digitize.export.graphml import as_graphml
from digitize.export.lists import wire_list, zone_index
from digitize.export.whole import as_json
from digitize.harness.model import Harness

FORMS: Mapping[str, Callable[[Harness], bytes]] = {
    "graphml": as_graphml,
    "json": as_json,
    "wires": wire_list,
    "zones": zone_index,
}
"""Form → what makes its bytes. A new format is one module and one line here."""


def write(harness: Harness, form: str, to: Path) -> None:
    """Write ``harness`` in ``form`` to a file (``-``: standard output).

    The file is made beside its place and moved there when complete, so that a full disk leaves the old one alone.

    Raises:
        NotFound: there is no such form.
        ManualWrong: the file cannot be written.
    """
    if form not in FORMS:
        raise NotFound(f"There is no export form {form!r}.", f"Choose one of: {', '.join(FORMS)}.")
    content = FORMS[form](harness)
    if str(to) == "-":
        sys.stdout.buffer.write(content)
        sys.stdout.buffer.flush()
        return
    try:
        handle, part = tempfile.mkstemp(prefix=f".{to.name}.", dir=to.parent)
        try:
            with os.fdopen(handle, "wb") as out:
                out.write(content)
            Path(part).replace(to)
        except BaseException:
            Path(part).unlink(missing_ok=True)
            raise
    except OSError as fault:
        raise ManualWrong(
            f"{to} cannot be written: {fault.strerror}.", "Choose another place, or make room."
        ) from fault
