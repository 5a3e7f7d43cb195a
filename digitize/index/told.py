"""What was found, for people and for programs."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from digitize.harness.model import Harness
from digitize.index.search import Found

FORMAT = "digitize-find-1"


def found_as_json(harness: Harness, asked: str, found: Sequence[Found]) -> dict[str, Any]:
    """A plain structure for ``json.dumps``; README.md explains its fields. Boxes in sheet mm [x0, y0, x1, y1]."""
    notes = {s.id: s for s in harness.sheets}
    listed = []
    for f in found:
        e, note = f.entry, notes.get(f.entry.sheet)
        listed.append(
            {
                "kind": e.kind,
                "id": e.id or None,
                "text": e.text or None,
                "sheet": e.sheet or None,
                "page": None if note is None else note.number,
                "label": None if note is None else note.label,
                "zone": e.zone or None,
                "zone_nominal": e.nominal,
                "box": None if e.box is None else [round(v, 2) for v in (e.box.x0, e.box.y0, e.box.x1, e.box.y1)],
                "probability": round(e.probability, 4),
                "how": f.how,
                "likeness": round(f.likeness, 3),
                "about": e.about or None,
            }
        )
    return {"format": FORMAT, "rights": harness.rights, "asked": asked, "found": listed}


def found_as_text(harness: Harness, found: Sequence[Found]) -> str:
    """A line for each thing: what it is, its name, where, how sure; doubtful readings carry a mark."""
    notes = {s.id: s for s in harness.sheets}
    rows = []
    for f in found:
        e, note = f.entry, notes.get(f.entry.sheet)
        nowhere = "in the chart" if e.kind == "cavity" else "drawn nowhere"
        page = nowhere if note is None else f"page {printable(note.label) if note.label else note.number}"
        where = page if not e.zone else f"{page}, zone {printable(e.zone)}{' (no grid printed)' if e.nominal else ''}"
        said = printable(e.text or e.id) or "(unnamed)"
        sure = f"{e.probability:.0%}" + (", check on the page" if e.probability < 0.9 else "")
        rows.append((e.kind, said, where, sure, _why(f)))
    wide = [min(40, max((len(r[i]) for r in rows), default=0)) for i in range(4)]
    return "\n".join("  ".join((*(c.ljust(w) for c, w in zip(r[:4], wide, strict=True)), r[4])).rstrip() for r in rows)


def _why(f: Found) -> str:
    why = {"look-alike": "looks like it", "about": "", "alike": f"spelled alike ({f.likeness:.0%})"}.get(f.how, "")
    return "; ".join(w for w in (why, printable(f.entry.about)) if w)


def printable(text: str) -> str:
    """``text`` fit for a terminal: everything that is not printed (control characters, line ends) becomes a space."""
    return " ".join("".join(c if c.isprintable() else " " for c in text).split())
