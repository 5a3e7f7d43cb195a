"""The export forms by name, and the one way to write a file: whole or not at all."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Mapping
from pathlib import Path

from digitize.errors import CalledWrongly, NotFound
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


KEPT = (
    (b"SQLite format 3\0", "a manual"), (b"\x89PNG\r\n", "a scan"), (b"\xff\xd8\xff", "a scan"),
    (b"II*\0", "a scan"), (b"MM\0*", "a scan"),
)  # fmt: skip
"""How files begin that hold what a person cannot make again, and what they are."""


OUR_PDF = b"/Author (digitize)"
"""What stands in every sheet that this program printed as PDF."""


def _kept(to: Path) -> str:
    """What the file ``to`` is when no output may take its place, else nothing."""
    if not to.is_file():
        return ""
    try:
        with to.open("rb") as there:
            begin = there.read(16)
            if begin.startswith(b"%PDF") and OUR_PDF not in there.read():
                return "a PDF of somebody else's"
    except OSError:
        return ""  # the writing itself then says why
    return next((what for begins, what in KEPT if begin.startswith(begins)), "")


def write(harness: Harness, form: str, to: Path) -> None:
    """Write ``harness`` in ``form`` to a file (``-``: standard output).

    Raises:
        NotFound: there is no such form.
        CalledWrongly: the file cannot be written.
    """
    if form not in FORMS:
        raise NotFound(f"There is no export form {form!r}.", f"Choose one of: {', '.join(FORMS)}.")
    content = FORMS[form](harness)
    if str(to) == "-":
        sys.stdout.buffer.write(content)
        sys.stdout.buffer.flush()
        return
    write_whole(content, to)


def write_whole(content: bytes, to: Path) -> None:
    """Write a file whole or not at all: made beside its place and moved there, so that a full disk leaves the old one.

    A device or a pipe is written to as it is. A manual or a scan that is there already is left alone.

    Raises:
        CalledWrongly: nothing can be written there, or what is there was not written by this program for others.
    """
    kind = _kept(to)
    if kind:
        raise CalledWrongly(f"{to} is {kind} and was left as it is.", "Choose another name.")
    part = to.with_name(f".{to.name}.{os.getpid()}.part")
    try:
        if to.exists() and not to.is_file():
            to.write_bytes(content)
            return
        try:
            with part.open("xb") as out:
                out.write(content)
            part.replace(to)
        except BaseException:
            part.unlink(missing_ok=True)
            raise
    except OSError as fault:
        why = fault.strerror or str(fault)
        raise CalledWrongly(f"{to} cannot be written: {why}.", "Choose another place, or make room.") from fault
