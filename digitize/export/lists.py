"""The wire list and the zone index as CSV (RFC 4180, UTF-8, a header line)."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence

from digitize.export.flat import FlatNode, cavity_of, flat_nodes
from digitize.harness.model import Harness, WireEnd

WIRE_COLUMNS = (
    "wire", "code", "code_probability", "circuit", "number", "segment", "gauge", "colour", "tracer",
    "from_kind", "from_name", "from_terminal", "from_cavity", "from_sheet", "from_zone",
    "to_kind", "to_name", "to_terminal", "to_cavity", "to_sheet", "to_zone",
    "sheets", "grommets", "probability", "rights",
)  # fmt: skip
"""Columns of the wire list, in order; README says what each holds."""

ZONE_COLUMNS = ("name", "kind", "zone", "nominal", "sheet", "page", "title", "location", "probability", "rights")
"""Columns of the zone index, in order."""


def wire_list(harness: Harness) -> bytes:
    """One line for each wire, sorted by code, then id."""
    nodes = flat_nodes(harness)
    grommets = {q.id: m.label.value or q.id for m in harness.grommets for q in m.places}
    rows = []
    for w in sorted(harness.wires, key=lambda w: (w.code.value is None, w.code.value or "", w.id)):
        p = w.parsed
        fields = (p.circuit, p.number, p.segment, p.gauge, p.colour, p.tracer) if p else (None,) * 6
        rows.append(
            (
                w.id,
                w.code.value or "",
                f"{w.code.probability:.3f}",
                *(f or "" for f in fields),
                *_end(harness, w.ends[0], nodes),
                *_end(harness, w.ends[1], nodes),
                " ".join(dict.fromkeys(path.sheet for path in w.paths)),
                " ".join(grommets.get(g, g) for g in w.grommets),
                f"{w.probability:.3f}",
                harness.rights,
            )
        )
    return _csv(WIRE_COLUMNS, rows, harness)


def zone_index(harness: Harness) -> bytes:
    """One line for each drawing of a named part, connector, grommet or ground: where to find it, sorted by name."""
    page = {s.id: s for s in harness.sheets}
    rows = []
    for n in sorted(
        flat_nodes(harness).values(), key=lambda n: (n.name == "", n.name, n.place.sheet, n.place.zone or "", n.id)
    ):
        if not n.name:
            continue
        note = page.get(n.place.sheet)
        rows.append(
            (
                n.name,
                n.kind,
                n.place.zone or "",
                "yes" if n.place.zone_nominal else "no",
                n.place.sheet,
                str(note.number) if note else "",
                (note.title or "") if note else "",
                n.location,
                f"{n.probability:.3f}",
                harness.rights,
            )
        )
    return _csv(ZONE_COLUMNS, rows, harness)


def _end(harness: Harness, end: WireEnd, nodes: dict[str, FlatNode]) -> tuple[str, str, str, str, str, str]:
    node = nodes.get(end.node) if end.node else None
    if node is None:
        return ("open", "", "", "", end.sheet, "")
    return (node.kind, node.name, end.terminal or "", cavity_of(harness, end), end.sheet, node.place.zone or "")


def _csv(columns: tuple[str, ...], rows: Sequence[tuple[str, ...]], harness: Harness) -> bytes:
    """A list without a line still carries the rights note: in a line with nothing else on it."""
    rows = rows or [(*("" for _ in columns[1:]), harness.rights)]
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(columns)
    writer.writerows(tuple(_harmless(v) for v in row) for row in rows)
    return out.getvalue().encode("utf-8")


def _harmless(value: str) -> str:
    """A text that no spreadsheet takes for a formula: page text may start with ``=``, ``+``, ``-`` or ``@``.

    Common practice (OWASP "CSV injection"): an apostrophe in front. Plain numbers stay as they are.
    """
    if (
        value[:1] in ("=", "+", "-", "@", "\t", "\r")
        and not value.lstrip("+-").replace(".", "", 1).isdigit()
        and len(value) > 1
    ):
        return "'" + value
    return value
